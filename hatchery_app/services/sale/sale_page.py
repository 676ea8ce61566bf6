"""What the pages of sales show: holds and sales of the room, and one sale with what arrived."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.cohort.free_to_sell import FreeToSell
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.sale.sale import ArrivalLoss
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.when import When
from hatchery_app.models.cohort import Held
from hatchery_app.models.entry import known
from hatchery_app.models.sale import ArrivalReport, Sale
from hatchery_app.services.cohort import cohort_facts
from hatchery_app.services.cohort.cohort_facts import HoldLine
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.sale.sale import NO_HOLD, NO_SALE
from hatchery_app.services.sale.sale_size import of_sale_size
from hatchery_app.services.stock_book.every_batch import batches_held
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, load_stock

RECENT = timedelta(days=180)  # how far back the list of sales goes unless asked


@dataclass(frozen=True)
class Arrival:
    """One report of what a buyer found."""

    report_id: int
    when: When
    dead: int
    replaced: int
    note: str


@dataclass(frozen=True)
class SaleLine:
    """One sale. `moved_id` is the movement that says how many; corrected there."""

    sale_id: int
    moved_id: int
    holding_id: int
    cohort: str
    number: int
    for_whom: str
    out_of_hold: bool
    when: When
    note: str
    arrivals: tuple[Arrival, ...]

    @property
    def loss(self) -> ArrivalLoss | None:
        """What arrived dead, None while nobody said."""
        if not self.arrivals:
            return None
        dead = min(self.number, sum(one.dead for one in self.arrivals))
        return ArrivalLoss(
            self.number, dead, min(dead, sum(one.replaced for one in self.arrivals))
        )


@dataclass(frozen=True)
class HeldLine:
    """A hold with the cohort it is on."""

    line: HoldLine
    cohort: HoldingFacts
    is_past: bool


@dataclass(frozen=True)
class ForSale:
    """A cohort that has fish, and what of it is free."""

    cohort: HoldingFacts
    free: FreeToSell


@dataclass(frozen=True)
class SaleList:
    """Holds, those past their end first; what is free; sales, newest first."""

    holds: tuple[HeldLine, ...]
    for_sale: tuple[ForSale, ...]
    sales: tuple[SaleLine, ...]


def sale_list(session: Session, *, now: datetime, everything: bool = False) -> SaleList:
    """The room's holds, what is free to sell, and the sales of half a year or all.

    A fixed number of statements, however many cohorts and sales there are.
    """
    room = room_now(session)
    today = room.room_time.local(now).date()
    since = None if everything else now - RECENT
    ids = None if since is None else _spoken_of(session, room, since)
    stock = load_stock(session, room, stage=Stage.COHORT, holding_ids=ids)
    promises = cohort_facts.load_promises(session, stock.holdings)
    held = [
        HeldLine(line, stock.holdings[holding_id], line.hold.is_past(today))
        for holding_id, lines in promises.holds.items()
        for line in lines
        if holding_id in stock.holdings
    ]
    held.sort(key=lambda one: (not one.is_past, one.line.hold.until_on or today))
    samples = cohort_facts.samples_of(session, stock.holdings)
    sizes = of_sale_size(session, room, stock.open(), samples, now)
    for_sale = tuple(
        ForSale(one, promises.free(one.id, stock.balance(one.id).now, sizes.get(one.id)))
        for one in stock.open()
    )
    names = {one.id: one.full_name for one in stock.holdings.values()}
    return SaleList(tuple(held), for_sale, sales_of(session, names, since=since))


def _spoken_of(session: Session, room: RoomNow, since: datetime) -> set[int]:
    """The cohorts that have fish, or of which fish were sold or promised since."""
    ids = batches_held(session, room, Stage.COHORT, since=since)
    for kind in (Sale, Held):
        recent = select(kind.holding_id).where(known(), kind.happened_latest >= since)
        ids |= set(session.scalars(recent))
    return ids


def sale_page(session: Session, *, sale_id: int) -> SaleLine:
    """One sale. Raises NotKnown, also for one that was taken back."""
    row = session.scalars(select(Sale).where(known(), Sale.fact_id == sale_id)).one_or_none()
    if row is None:
        raise NotKnown(NO_SALE)
    stock = load_stock(session, room_now(session), holding_ids=(row.holding_id,))
    names = {one.id: one.full_name for one in stock.holdings.values()}
    found = [one for one in sales_of(session, names, sale_id=sale_id) if one.sale_id == sale_id]
    if not found:
        raise NotKnown(NO_SALE)
    return found[0]


def sales_of(
    session: Session,
    names: dict[int, str],
    *,
    since: datetime | None = None,
    sale_id: int | None = None,
) -> tuple[SaleLine, ...]:
    """The sales out of some cohorts (`names` by id), newest first. Three statements."""
    query = select(Sale).where(known(), Sale.holding_id.in_(sorted(names)))
    if since is not None:
        query = query.where(Sale.happened_latest >= since)
    if sale_id is not None:
        query = query.where(Sale.fact_id == sale_id)
    rows = session.scalars(query.order_by(Sale.happened_latest.desc(), Sale.seq.desc())).all()
    reports = session.scalars(
        select(ArrivalReport)
        .where(known(), ArrivalReport.sale_id.in_([row.fact for row in rows]))
        .order_by(ArrivalReport.happened_latest, ArrivalReport.seq)
    ).all()
    replacing = [one.moved_id for one in reports if one.moved_id is not None]
    numbers = cohort_facts.moved_numbers(session, [*(row.moved_id for row in rows), *replacing])
    arrivals = _arrivals(reports, numbers)
    return tuple(
        SaleLine(
            row.fact, row.moved_id, row.holding_id, names[row.holding_id], numbers[row.moved_id],
            row.for_whom, row.held_id is not None, row.when, row.note,
            tuple(arrivals.get(row.fact, ())),
        )
        for row in rows
        if numbers.get(row.moved_id)
    )  # fmt: skip


def _arrivals(
    reports: Iterable[ArrivalReport], numbers: dict[int, int]
) -> dict[int, list[Arrival]]:
    found: dict[int, list[Arrival]] = defaultdict(list)
    for row in reports:
        replaced = numbers.get(row.moved_id, 0) if row.moved_id is not None else 0
        found[row.sale_id].append(Arrival(row.fact, row.when, row.dead, replaced, row.note))
    return found


def hold_page(session: Session, *, held_id: int, now: datetime) -> HeldLine:
    """One open hold with its cohort. Raises NotKnown once nothing is left of it."""
    row = session.scalars(select(Held).where(known(), Held.fact_id == held_id)).one_or_none()
    if row is None:
        raise NotKnown(NO_HOLD)
    room = room_now(session)
    stock = load_stock(session, room, holding_ids=(row.holding_id,))
    for line in cohort_facts.load_promises(session, (row.holding_id,)).holds_of(row.holding_id):
        if line.held_id == held_id:
            today = room.room_time.local(now).date()
            return HeldLine(line, stock.holding(row.holding_id), line.hold.is_past(today))
    raise NotKnown(NO_HOLD)
