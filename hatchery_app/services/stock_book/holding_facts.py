"""Everything the stock book says of some holdings, loaded in a fixed number of statements.

The larval tanks, the cohorts, the stock book's own page and Today all ask this one loader.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, Select, and_, false, or_, select
from sqlalchemy.orm import Session, aliased, defer

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.stock_book.stock_book import (
    Balance,
    Count,
    Holding,
    Movement,
    Row,
    Stage,
    StockBook,
)
from hatchery_app.domain.when import Night, When
from hatchery_app.models import stock_book as tables
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank
from hatchery_app.services.records.room import RoomNow

TANK = aliased(Tank, flat=True)
WITHDRAWN = "a tank withdrawn since"
NOT_HERE = "That batch does not stand in this room's records."


@dataclass(frozen=True)
class Place:
    """The tank a holding was in from then on."""

    since: When
    tank_id: int
    label: str
    walk_order: int
    fact_id: int = 0


@dataclass(frozen=True)
class HoldingFacts:
    """A batch of fish in a tank: what it is called, where it comes from, where it was.

    `clutch_ids` has several for a mixed batch. `hatched` are its first and last hatch night.
    """

    id: int
    stage: Stage
    number: int
    named: str
    species_key: str
    clutch_ids: tuple[int, ...]
    hatched: tuple[Night, Night] | None
    began: When
    places: tuple[Place, ...]
    note: str = ""

    @property
    def name(self) -> str:
        """What the keeper calls it."""
        word = {Stage.LARVAE: "Batch", Stage.COHORT: "Cohort"}.get(self.stage, "Holding")
        return self.named or f"{word} {self.number}"

    @property
    def full_name(self) -> str:
        """Its name with the tank it is in: "Batch 7 in L3"."""
        return f"{self.name} in {self.place.label}" if self.places else self.name

    @property
    def place(self) -> Place:
        """Where it is, or last was."""
        return self.places[-1]

    @property
    def is_mixed(self) -> bool:
        """Whether its fish may come from more than one clutch."""
        return len(self.clutch_ids) > 1


@dataclass(frozen=True)
class Told:
    """What an entry of the book says beside its number, by fact."""

    fact_id: int
    note: str
    clutch_id: int | None = None
    hatch_id: int | None = None
    settled: int | None = None
    swimming: int | None = None


@dataclass(frozen=True)
class Stock:
    """Some holdings with their book."""

    holdings: Mapping[int, HoldingFacts]
    book: StockBook
    told: Mapping[int, Told]

    def holding(self, holding_id: int) -> HoldingFacts:
        """One holding. Raises NotKnown."""
        if holding_id not in self.holdings:
            raise NotKnown(NOT_HERE)
        return self.holdings[holding_id]

    def balance(self, holding_id: int, as_of: datetime | None = None) -> Balance:
        """One holding's balance."""
        return self.book.balance(holding_id, as_of)

    def rows(self, holding_id: int) -> tuple[Row, ...]:
        """One holding's entries in order, each with the balance before and after."""
        return self.book.rows(holding_id)

    def is_empty(self, holding_id: int) -> bool:
        """Whether none are left. A batch of unknown number is not empty."""
        return self.balance(holding_id).best == 0

    def living_in(self, tank_id: int) -> tuple[HoldingFacts, ...]:
        """The holdings in a tank that are not empty, oldest first."""
        return tuple(
            holding
            for holding in self.holdings.values()
            if holding.places and holding.place.tank_id == tank_id
            and not self.is_empty(holding.id)
        )  # fmt: skip

    def open(self) -> tuple[HoldingFacts, ...]:
        """The holdings that are not empty, in walking order."""
        left = [one for one in self.holdings.values() if not self.is_empty(one.id)]
        return tuple(sorted(left, key=walking_order))

    def emptied_at(self, holding_id: int) -> datetime | None:
        """When the last fish left it; None while some are there."""
        rows = self.rows(holding_id)
        return rows[-1].entry.when.latest if rows and rows[-1].after.best == 0 else None

    def last_left(self, tank_id: int) -> datetime | None:
        """When the last batch that lived in a tank left it, moved on or with none left."""
        left = [
            moment
            for holding in self.holdings.values()
            if (moment := self._left(holding, tank_id)) is not None
        ]
        return max(left, default=None)

    def _left(self, holding: HoldingFacts, tank_id: int) -> datetime | None:
        stays = [place.tank_id == tank_id for place in holding.places]
        if True not in stays:
            return None
        if stays[-1]:
            return self.emptied_at(holding.id)
        last_stay = len(stays) - 1 - stays[::-1].index(True)
        return holding.places[last_stay + 1].since.latest


def walking_order(holding: HoldingFacts) -> tuple[int, int]:
    """Where a holding stands on the walk through the room."""
    return (holding.place.walk_order if holding.places else 0), holding.number


def load_stock(
    session: Session,
    room: RoomNow,
    *,
    holding_ids: Iterable[int] | None = None,
    clutch_ids: Iterable[int] | None = None,
    tank_ids: Iterable[int] | None = None,
    stage: Stage | None = None,
    species_key: str | None = None,
    began_since: datetime | None = None,
    written_since: datetime | None = None,
    at_seq: int | None = None,
) -> Stock:
    """The holdings asked for (every condition given), with all their entries. Four statements.

    `written_since`: those that began then or later, and those of which something was moved or
    counted since: fish that are kept for many years stay in the book.
    """
    query = select(tables.Holding).where(known(at_seq)).options(defer(tables.Holding.protocol))
    query = _only(query, holding_ids, clutch_ids, tank_ids, at_seq)
    if stage is not None:
        query = query.where(tables.Holding.stage == stage)
    if species_key is not None:
        query = query.where(tables.Holding.species_key == species_key)
    if began_since is not None:
        query = query.where(tables.Holding.happened_latest >= began_since)
    if written_since is not None:
        query = query.where(_written_since(written_since, at_seq))
    rows = list(session.scalars(query.order_by(tables.Holding.fact_id)))
    ids = [row.fact for row in rows]
    places = _places(session, ids, at_seq)
    holdings = {row.fact: _facts(row, places.get(row.fact, ())) for row in rows}
    moved = session.scalars(
        select(tables.Moved)
        .where(known(at_seq), tables.Moved.out_of_id.in_(ids) | tables.Moved.into_id.in_(ids))
        .order_by(tables.Moved.fact_id)
    ).all()
    counts = session.scalars(
        select(tables.StockCount)
        .where(known(at_seq), tables.StockCount.holding_id.in_(ids))
        .order_by(tables.StockCount.fact_id)
    ).all()
    told = {row.fact: Told(row.fact, row.note, row.clutch_id, row.hatch_id) for row in moved}
    told |= {
        row.fact: Told(row.fact, row.note, settled=row.settled, swimming=row.swimming)
        for row in counts
    }
    book = StockBook(
        tuple(Holding(one.id, one.full_name, one.stage) for one in holdings.values()),
        tuple(movement_of(row) for row in moved),
        tuple(count_of(row) for row in counts),
        room.room_time,
    )
    return Stock(holdings, book, told)


def named_holdings(session: Session, holding_ids: Iterable[int]) -> dict[int, HoldingFacts]:
    """Some holdings without their book, for lines that name them. Three statements."""
    query = select(tables.Holding).where(known()).options(defer(tables.Holding.protocol))
    rows = list(session.scalars(_only(query, holding_ids, None, None, None)))
    places = _places(session, [row.fact for row in rows], None)
    return {row.fact: _facts(row, places.get(row.fact, ())) for row in rows}


def _only(
    query: Select[tables.Holding],
    holding_ids: Iterable[int] | None,
    clutch_ids: Iterable[int] | None,
    tank_ids: Iterable[int] | None,
    at_seq: int | None,
) -> Select[tables.Holding]:
    if holding_ids is not None:
        query = query.where(tables.Holding.fact_id.in_(sorted(set(holding_ids))))
    if clutch_ids is not None:
        listed = "," + tables.Holding.clutch_ids + ","
        query = query.where(
            or_(false(), *(listed.contains(f",{one},") for one in sorted(set(clutch_ids))))
        )
    if tank_ids is not None:
        there = select(tables.HoldingPlaced.holding_id).where(
            known(at_seq), tables.HoldingPlaced.tank_id.in_(sorted(set(tank_ids)))
        )
        query = query.where(tables.Holding.fact_id.in_(there))
    return query


def _written_since(since: datetime, at_seq: int | None) -> ColumnElement[bool]:
    moved, counted = tables.Moved, tables.StockCount
    ends = (moved.out_of_id, moved.into_id)
    # Their kind is said too: an index leads by it to the newest of a kind.
    late = (known(at_seq), moved.kind == "moved", moved.happened_latest >= since)
    looks = select(counted.holding_id).where(
        known(at_seq), counted.kind == "stock_count", counted.happened_latest >= since
    )
    return or_(
        tables.Holding.happened_latest >= since,
        *(tables.Holding.fact_id.in_(select(end).where(*late, end.is_not(None))) for end in ends),
        tables.Holding.fact_id.in_(looks),
    )


def movement_of(row: tables.Moved) -> Movement:
    """A movement as the domain holds it. It is ordered by its fact, which a correction keeps."""
    return Movement(
        row.fact, row.when, row.how_many, row.out_of_id, row.into_id, row.door, row.reason
    )


def count_of(row: tables.StockCount) -> Count:
    """A count as the domain holds it."""
    return Count(row.fact, row.when, row.how_many, row.holding_id, row.rise, row.is_start)


def _places(
    session: Session, ids: list[int], at_seq: int | None
) -> dict[int, tuple[Place, ...]]:
    placed = session.execute(
        select(tables.HoldingPlaced, TANK.label, TANK.walk_order)
        .outerjoin(
            TANK, and_(TANK.fact_id == tables.HoldingPlaced.tank_id, known(at_seq, of=TANK))
        )
        .where(
            known(at_seq, of=tables.HoldingPlaced), tables.HoldingPlaced.holding_id.in_(ids)
        )
        .order_by(tables.HoldingPlaced.happened_latest, tables.HoldingPlaced.seq)
    )
    found: dict[int, list[Place]] = defaultdict(list)
    for row, label, order in placed:
        place = Place(row.when, row.tank_id, label or WITHDRAWN, order or 0, row.fact)
        found[row.holding_id].append(place)
    return {holding_id: tuple(listed) for holding_id, listed in found.items()}


def _facts(row: tables.Holding, places: tuple[Place, ...]) -> HoldingFacts:
    return HoldingFacts(
        row.fact, row.stage, row.number, row.name, row.species_key, row.clutches, row.hatched,
        row.when, places, row.note,
    )  # fmt: skip
