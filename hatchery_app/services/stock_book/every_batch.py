"""Every batch there ever was, with the day its last fish left it: the tanks ask on every page.

A batch is worked out from all its entries, and after ten years nearly all of them are long empty.
Those are kept in the process and read again only where something was written about them since.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from threading import Lock

from sqlalchemy import select, union_all
from sqlalchemy.orm import Session

from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.when import Night
from hatchery_app.models.entry import Entry
from hatchery_app.models.stock_book import Holding, HoldingPlaced, Moved, StockCount
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.remembering import is_writing, newest_entry
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, load_stock

# Each column in which an entry names a batch.
NAMES_A_BATCH = (
    (Moved, Moved.out_of_id), (Moved, Moved.into_id), (StockCount, StockCount.holding_id),
    (HoldingPlaced, HoldingPlaced.holding_id), (Holding, Holding.fact_id),
)  # fmt: skip


@dataclass(frozen=True)
class Batch:
    """A batch, its tanks (which, from when on), and when it was empty (None: it is not)."""

    id: int
    stage: Stage
    name: str
    species_key: str
    hatched: tuple[Night, Night] | None
    places: tuple[tuple[int, datetime], ...]
    emptied_at: datetime | None


@dataclass(frozen=True)
class _Kept:
    """What was worked out of entries up to the newest: the empty ones, and which were not."""

    newest: int
    empty: dict[int, Batch]
    open_ids: frozenset[int]


_kept: dict[str, _Kept] = {}
_lock = Lock()


def every_batch(session: Session, room: RoomNow) -> tuple[Batch, ...]:
    """All batches in the order they were entered. Four statements, five where something was
    written since they were last asked for."""
    url, newest = str(session.get_bind().engine.url), newest_entry(session)
    kept = _kept.get(url)
    if kept is None or kept.newest > newest:  # an older copy was put back
        kept = _Kept(0, {}, frozenset())
        found = _read(session, room, None)
    else:
        changed = _written_about(session, kept.newest) if kept.newest < newest else set()
        found = _read(session, room, kept.open_ids | changed)
        kept = _Kept(0, {k: v for k, v in kept.empty.items() if k not in changed}, frozenset())
    empty = kept.empty | {one.id: one for one in found if one.emptied_at is not None}
    living = [one for one in found if one.emptied_at is None]
    if not is_writing(session):  # what is not committed yet may come to nothing
        with _lock:
            _kept[url] = _Kept(newest, empty, frozenset(one.id for one in living))
    return tuple(sorted((*empty.values(), *living), key=lambda one: one.id))


def batches_held(
    session: Session, room: RoomNow, stage: Stage | None = None, *, since: datetime | None = None
) -> set[int]:
    """The batches, of one stage where said, that are not empty; those emptied since too."""
    return {
        one.id
        for one in every_batch(session, room)
        if (stage is None or one.stage is stage)
        and (one.emptied_at is None or (since is not None and one.emptied_at >= since))
    }


def forget() -> None:
    """Forget everything: the records were put back, or emptied."""
    with _lock:
        _kept.clear()


def _read(session: Session, room: RoomNow, ids: Iterable[int] | None) -> list[Batch]:
    stock = load_stock(session, room, holding_ids=ids)
    return [_batch(held, stock.emptied_at(held.id)) for held in stock.holdings.values()]


def _batch(held: HoldingFacts, emptied_at: datetime | None) -> Batch:
    places = tuple((place.tank_id, place.since.earliest) for place in held.places)
    return Batch(
        held.id, held.stage, held.name, held.species_key, held.hatched, places, emptied_at
    )


def _written_about(session: Session, since: int) -> set[int]:
    """The batches of which something was entered, corrected or taken back after that entry."""
    taken_back = select(Entry.fact_id).where(Entry.seq > since, Entry.kind == "withdrawal")
    named = [select(column).where(model.seq > since) for model, column in NAMES_A_BATCH]
    named += [
        select(column).where(model.fact_id.in_(taken_back)) for model, column in NAMES_A_BATCH
    ]
    return {one for one in session.scalars(union_all(*named)) if one is not None}

