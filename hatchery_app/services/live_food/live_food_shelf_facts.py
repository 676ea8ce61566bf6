"""The shelf as it stands: items with what was weighed, fed, hatched and taken. Six statements."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from hatchery_app.domain.live_food.shelf import (
    Change,
    HowGot,
    ShelfChange,
    ShelfItem,
    Stock,
    StockKind,
)
from hatchery_app.models import shelf as rows
from hatchery_app.models.brine_shrimp import CystLot, CystsStarted, ShrimpEnriched
from hatchery_app.models.entry import known
from hatchery_app.models.live_food import CultureFed

# What one unit of the item holds of another; a mL of paste or enrichment weighs about 1 g.
PER_UNIT = {"g": 1.0, "mL": 1.0, "kg": 1000.0, "L": 1000.0}
SHOWN_AFTER_FINISHED = timedelta(days=60)  # then an empty tin is off the shelf

Drawn = tuple[int, ShelfChange]


def shelf_items(session: Session, now: datetime) -> tuple[ShelfItem, ...]:
    """Every item that came by now, in the order of kinds and names, empty ones last."""
    items = session.scalars(
        select(rows.ShelfItem).where(known(), rows.ShelfItem.happened_latest <= now)
    ).all()
    if not items:
        return ()
    units = {row.fact: row.unit for row in items}
    changes: dict[int, list[ShelfChange]] = defaultdict(list)
    for shelf_id, change in (
        *_said(session, now), *_fed(session, now, units), *_hatched(session, now, units),
        *_enriched(session, now, units),
    ):  # fmt: skip
        changes[shelf_id].append(change)
    found = [_item(row, changes[row.fact]) for row in items]
    order = list(type(found[0].kind))
    found.sort(key=lambda one: (one.is_finished, order.index(one.kind), one.name.casefold()))
    return tuple(one for one in found if not _long_gone(one, now))


def open_paste(items: Iterable[ShelfItem]) -> ShelfItem | None:
    """The paste that cultures are fed from: of those opened the last that came, else any."""
    pastes = [one for one in items if one.kind is StockKind.PASTE and not one.is_finished]
    pastes.sort(key=lambda one: (one.opened_on is not None, one.came_at))
    return pastes[-1] if pastes else None


def planned_of_paste(items: Iterable[ShelfItem], feeds_ml: float) -> dict[int, float]:
    """What feeding all cultures asks of the open paste a day, in its own unit, by item."""
    paste = open_paste(items)
    if paste is None or feeds_ml <= 0:
        return {}
    return {paste.id: feeds_ml * PER_UNIT["mL"] / PER_UNIT[paste.unit]}


def _item(row: rows.ShelfItem, changes: list[ShelfChange]) -> ShelfItem:
    grain = None
    if row.particle_from_um is not None:
        grain = (row.particle_from_um, row.particle_to_um or row.particle_from_um)
    return ShelfItem(
        row.fact, row.stock_kind, row.name, row.unit, row.happened_latest, row.stock,
        row.opened_on, row.best_before_on, row.delivery_days, row.dry_fraction,
        row.cells_per_ml, grain, tuple(sorted(changes, key=lambda one: one.at)),
    )  # fmt: skip


def _long_gone(item: ShelfItem, now: datetime) -> bool:
    if not item.is_finished:
        return False
    last = item.changes[-1].at if item.changes else item.came_at
    return now - last > SHOWN_AFTER_FINISHED


def _used(amount: float | None, unit: str, of_item: str) -> Stock:
    """So much of one unit, as taken out of an item that is kept in another."""
    if amount is None:
        return Stock.unknown()
    taken = amount * PER_UNIT[unit] / PER_UNIT[of_item]
    return Stock(taken, taken, taken, HowGot.WEIGHED)


def _said(session: Session, now: datetime) -> Iterator[Drawn]:
    for row in session.scalars(
        select(rows.ShelfChanged).where(known(), rows.ShelfChanged.happened_latest <= now)
    ):
        yield row.shelf_id, ShelfChange(row.happened_latest, row.change, row.stock, row.what_for)


def _fed(session: Session, now: datetime, units: dict[int, str]) -> Iterator[Drawn]:
    fed = aliased(CultureFed, flat=True)
    for shelf_id, row in session.execute(
        select(rows.CultureFoodTaken.shelf_id, fed)
        .join(fed, fed.fact_id == rows.CultureFoodTaken.fed_id)
        .where(known(of=rows.CultureFoodTaken), known(of=fed), fed.happened_latest <= now)
    ):
        if shelf_id in units:
            stock = _used(row.amount, row.unit, units[shelf_id])
            yield shelf_id, ShelfChange(row.happened_latest, Change.USED, stock, "cultures")


def _hatched(session: Session, now: datetime, units: dict[int, str]) -> Iterator[Drawn]:
    started = aliased(CystsStarted, flat=True)
    for shelf_id, row in session.execute(
        select(CystLot.shelf_id, started)
        .join(started, started.lot_id == CystLot.fact_id)
        .where(known(of=CystLot), known(of=started), started.happened_latest <= now)
    ):
        if shelf_id in units:
            stock = _used(row.grams, "g", units[shelf_id])
            yield shelf_id, ShelfChange(row.happened_latest, Change.USED, stock, "hatches")


def _enriched(session: Session, now: datetime, units: dict[int, str]) -> Iterator[Drawn]:
    for row in session.scalars(
        select(ShrimpEnriched).where(
            known(), ShrimpEnriched.shelf_id.is_not(None), ShrimpEnriched.happened_latest <= now
        )
    ):
        if row.shelf_id in units:
            unit = units[row.shelf_id]
            stock = Stock.unknown() if row.amount is None else _used(row.amount, unit, unit)
            yield row.shelf_id, ShelfChange(row.happened_latest, Change.USED, stock, "enrichment")
