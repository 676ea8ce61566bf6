"""Brine shrimp and the shelf as their pages answer: lots, hatches, items, and what was written."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.live_food.shelf import Outlook, ShelfItem, StockKind, outlook
from hatchery_app.domain.live_food.shelf_plan import Planned
from hatchery_app.domain.live_food.shrimp_hatch import LotKept, ShrimpHatch
from hatchery_app.domain.when import When
from hatchery_app.models.brine_shrimp import (
    CystLot,
    CystsStarted,
    HatchOver,
    ShrimpEnriched,
    ShrimpFed,
    ShrimpHarvested,
)
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.shelf import ShelfChanged
from hatchery_app.models.shelf import ShelfItem as ItemRow
from hatchery_app.services.larval_tank.larval_day import larval_plans
from hatchery_app.services.live_food.live_food_ahead import food_ahead
from hatchery_app.services.live_food.live_food_facts import Cultures
from hatchery_app.services.live_food.live_food_shelf import NOT_HERE
from hatchery_app.services.live_food.live_food_shelf_facts import planned_of_paste, shelf_items
from hatchery_app.services.live_food.live_food_shelf_plan import in_unit_of, planned_of_shelf
from hatchery_app.services.live_food.live_food_shrimp import NO_HATCH, NO_LOT
from hatchery_app.services.live_food.live_food_shrimp_facts import Shrimp, shrimp_now
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.services.today.today_food import food_today

FED_FROM = (StockKind.PASTE, StockKind.DRY_FOOD)
LAST_ENTRIES = 30


@dataclass(frozen=True)
class Written:
    """One thing written down."""

    fact_id: int
    when: When
    what: str
    note: str


@dataclass(frozen=True)
class OnShelf:
    """An item with how long it lasts, and the lot of cysts it is, if it is one."""

    item: ShelfItem
    outlook: Outlook
    lot_id: int | None
    planned_by: str = ""


@dataclass(frozen=True)
class ShrimpList:
    """The brine shrimp of the room, and the shelf."""

    shrimp: Shrimp
    shelf: tuple[OnShelf, ...]

    def tin_of(self, lot: LotKept) -> OnShelf | None:
        """What is left of a lot; None once its tin is off the shelf."""
        return next((one for one in self.shelf if one.item.id == lot.shelf_id), None)

    @property
    def lots(self) -> tuple[LotKept, ...]:
        """The lots that hatches can be started of: their tins are not empty."""
        kept = {one.item.id for one in self.shelf if not one.item.is_finished}
        return tuple(lot for lot in self.shrimp.lots if lot.shelf_id in kept)

    @property
    def fed_from(self) -> tuple[ShelfItem, ...]:
        """What cultures are fed from."""
        return tuple(
            one.item for one in self.shelf
            if one.item.kind in FED_FROM and not one.item.is_finished
        )  # fmt: skip


def shrimp_list(
    session: Session, room: RoomNow, now: datetime, facts: DayFacts | None = None
) -> ShrimpList:
    """All of it in a fixed number of statements. With the day's `facts` the shelf is set against
    what the days ahead take of it, and what feeding the cultures takes of the paste."""
    shrimp = shrimp_now(session, now)
    items = shelf_items(session, now)
    lot_of = {lot.shelf_id: lot.id for lot in shrimp.lots}
    today = room.room_time.local(now).date()
    fed, planned = {}, {}
    if facts is not None and items:
        fed = planned_of_paste(items, _fed_ml(facts.cultures))
        ahead = food_ahead(session, facts, food_today(facts))
        tins = {lot.id: lot.shelf_id for lot in shrimp.lots}
        planned = planned_of_shelf(facts, ahead, items, tins)
    return ShrimpList(shrimp, tuple(
        _on_shelf(item, fed.get(item.id), planned.get(item.id), lot_of.get(item.id), now, today)
        for item in items
    ))  # fmt: skip


def _on_shelf(
    item: ShelfItem, fed: float | None, planned: Planned | None, lot_id: int | None,
    now: datetime, today: date,
) -> OnShelf:  # fmt: skip
    rests_on = "the vessels as they are counted now" if fed is not None else ""
    per_day = fed
    if planned is not None:
        per_day, rests_on = in_unit_of(item, planned), planned.rests_on
    found = outlook(item, now=now, today=today, planned_per_day=per_day)
    return OnShelf(item, found, lot_id, rests_on)


def _fed_ml(cultures: Cultures) -> float:
    return sum(
        one.feed_ml or 0.0 for one in cultures.vessels if one.vessel.lives and not one.is_crashed
    )


@dataclass(frozen=True)
class HatchPage:
    """One hatch, and what was written down of it."""

    hatch: ShrimpHatch
    entries: tuple[Written, ...]


def hatch_page(session: Session, now: datetime, start_id: int) -> HatchPage:
    """One hatch. Raises NotKnown where there is none."""
    hatch = shrimp_now(session, now).hatch(start_id)
    if hatch is None:
        raise NotKnown(NO_HATCH)
    found = list(_written(session, CystsStarted, CystsStarted.fact_id == start_id))
    for kind in (ShrimpHarvested, ShrimpEnriched, ShrimpFed, HatchOver):
        found += _written(session, kind, kind.start_id == start_id)
    return HatchPage(hatch, _newest_first(found))


def larvae_here(
    session: Session, room: RoomNow, now: datetime
) -> tuple[tuple[int, str], ...]:
    """The batches of larvae that can be fed now, as (batch, "L3 · Batch 12"), in walking order."""
    return tuple(
        (plan.holding.id, f"{plan.holding.place.label} · {plan.holding.name}")
        for plan in larval_plans(session, room, now)
    )


@dataclass(frozen=True)
class LotPage:
    """One lot, its tin, its hatches, and what was written down of it."""

    lot: LotKept
    tin: OnShelf | None
    hatches: tuple[ShrimpHatch, ...]
    entries: tuple[Written, ...]


def lot_page(session: Session, facts: DayFacts, lot_id: int) -> LotPage:
    """One lot. Raises NotKnown where there is none."""
    found = shrimp_list(session, facts.room, facts.now, facts)
    lot = found.shrimp.lot(lot_id)
    if lot is None:
        raise NotKnown(NO_LOT)
    hatches = tuple(one for one in found.shrimp.hatches if one.lot.id == lot_id)
    entries = list(_written(session, CystLot, CystLot.fact_id == lot_id))
    return LotPage(lot, found.tin_of(lot), hatches, tuple(entries))


@dataclass(frozen=True)
class ItemPage:
    """One item of the shelf, and what was written down of it."""

    on_shelf: OnShelf
    entries: tuple[Written, ...]


def item_page(session: Session, facts: DayFacts, shelf_id: int) -> ItemPage:
    """One item. Raises NotKnown where there is none, or it has been empty for long."""
    shelf = shrimp_list(session, facts.room, facts.now, facts).shelf
    found = next((one for one in shelf if one.item.id == shelf_id), None)
    if found is None:
        raise NotKnown(NOT_HERE)
    entries = [
        *_written(session, ItemRow, ItemRow.fact_id == shelf_id),
        *_written(session, ShelfChanged, ShelfChanged.shelf_id == shelf_id),
    ]
    return ItemPage(found, _newest_first(entries))


def _newest_first(found: Sequence[Written]) -> tuple[Written, ...]:
    ordered = sorted(found, key=lambda one: (one.when.latest, one.fact_id), reverse=True)
    return tuple(ordered[:LAST_ENTRIES])


def _written(
    session: Session, kind: type[Entry], of: ColumnElement[bool]
) -> Iterator[Written]:
    rows = session.scalars(
        select(kind)
        .where(known(), of)
        .order_by(kind.happened_latest.desc(), kind.seq.desc())
        .limit(LAST_ENTRIES)
    )
    for row in rows:
        yield Written(row.fact, row.when, _said(row), row.note)


def _said(row: object) -> str:
    match row:
        case CystLot():
            parts = [row.grade]
            parts += [f"{row.hatch_percent:g} % said"] if row.hatch_percent else []
            parts += [f"{row.nauplii_per_g:,.0f} per g said"] if row.nauplii_per_g else []
            return "lot entered" + (f": {', '.join(p for p in parts if p)}" if any(parts) else "")
        case CystsStarted():
            salt = f", {row.salinity_psu:g} psu" if row.salinity_psu is not None else ""
            return f"{row.grams:g} g in {row.litres:g} L at {row.temperature_c:g} °C{salt}"
        case ShrimpHarvested():
            return _harvest(row)
        case ShrimpEnriched():
            what = f" with {row.what}" if row.what else ""
            litres = f" in {row.litres:g} L" if row.litres else ""
            return f"enriched{what} for {row.hours:g} h{litres}"
        case ShrimpFed():
            many = f"{row.animals:,.0f}" if row.animals is not None else "not counted"
            rinsed = "" if row.rinsed else ", not rinsed"
            return f"fed {many}" + (f" into {row.into}" if row.into else "") + rinsed
        case HatchOver():
            return f"{row.ended_as}" + (f": {row.reason}" if row.reason else "")
        case ItemRow():
            return f"on the shelf: {row.stock.said(row.unit)}"
        case ShelfChanged():
            return f"{row.change}: {row.stock.said('')}".rstrip() + (
                f", {row.what_for}" if row.what_for else ""
            )
    return ""


def _harvest(row: ShrimpHarvested) -> str:
    many = f"{row.animals:,.0f} harvested" if row.animals is not None else "harvested, not counted"
    shells = ""
    if row.umbrellas is not None:
        shells = f", {row.umbrellas} umbrellas and {row.embryos or 0} embryos beside {row.nauplii}"
    counted = f" ({row.counted})" if row.counted else ""
    return f"{many}{counted}{shells}, {row.ripe}" + ("" if row.rinsed else ", not rinsed")
