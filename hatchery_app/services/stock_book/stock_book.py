"""The stock book: fish through a named door, and new batches. What cannot be is refused here.

`enter_movement`, `enter_count` and `begin_holding` are for use inside other use cases: every
room that moves fish enters them through these, so that the books balance at every moment.
"""

from collections.abc import Iterable

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Count, Door, Movement, Rise, Stage
from hatchery_app.domain.stock_book.stock_checks import COUNT_ABOVE, check_count, check_movement
from hatchery_app.domain.when import Night, When
from hatchery_app.models.columns import number_columns
from hatchery_app.models.stock_book import Holding, HoldingPlaced, Moved, StockCount
from hatchery_app.services import telling
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import room_now
from hatchery_app.services.stock_book.holding_facts import Stock, load_stock

UNWRITTEN = 2**62  # stands behind everything entered so far, until it has its own number
LEAVING = frozenset(
    {
        Door.DIED, Door.MISSING, Door.PUT_DOWN, Door.SAMPLED, Door.EATEN, Door.SOLD,
        Door.REPLACED, Door.GIVEN_AWAY, Door.KEPT,
    }
)  # fmt: skip
COMING = frozenset({Door.FOUND, Door.ARRIVED})


@use_case
def record_leaving(
    book: Book,
    *,
    holding_id: int,
    door: Door,
    when: When,
    number: HowMany | None = None,
    reason: str = "",
    note: str = "",
) -> int:
    """Fish left by a named door; `number` None means all that are there. Returns the entry."""
    return leave(
        book, holding_id=holding_id, door=door, when=when, number=number, reason=reason, note=note
    )


@use_case
def record_coming(
    book: Book,
    *,
    holding_id: int,
    door: Door,
    number: HowMany,
    when: When,
    reason: str = "",
    note: str = "",
) -> int:
    """Fish were found or arrived. Returns the entry."""
    if door not in COMING:
        raise RuleBroken("Fish come in found, or arrived.", field="door")
    return enter_movement(
        book, out_of=None, into=holding_id, number=number, door=door, when=when, reason=reason,
        note=note,
    ).fact  # fmt: skip


def leave(
    book: Book,
    *,
    holding_id: int,
    door: Door,
    when: When,
    number: HowMany | None,
    reason: str = "",
    note: str = "",
) -> int:
    """What `record_leaving` does, inside another use case."""
    if door not in LEAVING:
        raise RuleBroken("Say by which door they left.", field="door")
    if door is Door.PUT_DOWN and not reason.strip():
        raise RuleBroken("Say why they were put down; the record is read later.", field="reason")
    everyone = number is None
    if number is None:
        number = stock_of(book, (holding_id,)).balance(holding_id).now
        if number.best == 0:
            raise RuleBroken("None are left in it by the book.", field="number")
    elif (told := telling.leaving_told(book, holding_id, door, number, when)) is not None:
        return told.fact
    moved = enter_movement(
        book, out_of=holding_id, into=None, number=number, door=door, when=when, reason=reason,
        note=note,
    )  # fmt: skip
    if everyone:
        none_left(book, holding_id, when)
    return moved.fact


def none_left(book: Book, holding_id: int, when: When) -> None:
    """See to it that a batch all of whose fish have gone reads 0, whatever was known of it."""
    if not stock_of(book, (holding_id,)).is_empty(holding_id):
        book.enter(
            StockCount(
                holding_id=holding_id, rise=Rise.MISSED_EARLIER,
                **number_columns(HowMany.counted(0, written="all have left")),
            ),
            when=when,
        )  # fmt: skip


def stock_of(book: Book, holding_ids: Iterable[int]) -> Stock:
    """The book of some holdings as it stands inside this use case."""
    return load_stock(book.session, room_now(book.session), holding_ids=holding_ids)


def enter_movement(
    book: Book,
    *,
    out_of: int | None,
    into: int | None,
    number: HowMany,
    door: Door,
    when: When,
    reason: str = "",
    note: str = "",
    clutch_id: int | None = None,
    hatch_id: int | None = None,
) -> Moved:
    """Write fish through a door, once the book allows it.

    Raises RuleBroken for more than can be there and for what later entries do not bear, Asked
    for more than the best estimate.
    """
    ends = tuple(end for end in (out_of, into) if end is not None)
    stock = stock_of(book, ends)
    for end in ends:
        stock.holding(end)
    movement = Movement(UNWRITTEN, when, number, out_of, into, door, reason)
    check_movement(stock.book, movement, answers=book.answers)
    return book.enter(
        Moved(
            out_of_id=out_of, into_id=into, door=door, reason=reason.strip()[:200],
            clutch_id=clutch_id, hatch_id=hatch_id, **number_columns(number),
        ),
        when=when,
        note=note,
    )  # fmt: skip


def enter_count(
    book: Book,
    *,
    holding_id: int,
    number: HowMany,
    when: When,
    settled: int | None = None,
    swimming: int | None = None,
    is_start: bool = False,
    note: str = "",
) -> StockCount:
    """Write what was there. Raises Asked for more than the book has: missed, or new?

    A new arrival is entered as found, so that the start of the batch stays what it was counted
    and the newcomers have a line of their own.
    """
    stock = stock_of(book, (holding_id,))
    stock.holding(holding_id)
    count = Count(UNWRITTEN, when, number, holding_id, is_start=is_start)
    check_count(stock.book, count, answers=book.answers)
    if book.answers.get(COUNT_ABOVE) == Rise.NEW_ARRIVAL:
        _enter_arrivals(book, stock, count)
    rise = Rise(book.answers.get(COUNT_ABOVE, Rise.MISSED_EARLIER))
    row = StockCount(
        holding_id=holding_id, rise=rise, settled=settled, swimming=swimming, is_start=is_start,
        **number_columns(number),
    )  # fmt: skip
    return book.enter(row, when=when, note=note)


def _enter_arrivals(book: Book, stock: Stock, count: Count) -> None:
    rows = stock.book.with_entry(count).rows(count.holding)
    raised = next(row.raised for row in rows if row.entry.seq == count.seq)
    if raised:
        new = HowMany.counted(raised)
        book.enter(
            Moved(
                out_of_id=None, into_id=count.holding, door=Door.FOUND,
                reason="a new arrival, by the count", **number_columns(new),
            ),
            when=count.when,
        )  # fmt: skip


def begin_holding(
    book: Book,
    *,
    stage: Stage,
    tank_id: int,
    species_key: str,
    clutch_ids: Iterable[int],
    hatched: tuple[Night, Night] | None,
    protocol: str,
    when: When,
    name: str = "",
    note: str = "",
) -> Holding:
    """A new batch in a tank, with no fish in it yet."""
    first, last = hatched if hatched is not None else (None, None)
    holding = book.enter(
        Holding(
            stage=stage, number=next_number(book.session, stage), name=name.strip(),
            species_key=species_key,
            clutch_ids=",".join(str(one) for one in sorted(set(clutch_ids))),
            hatched_first_on=first.evening if first is not None else None,
            hatched_last_on=last.evening if last is not None else None,
            protocol=protocol,
        ),
        when=when,
        note=note,
    )  # fmt: skip
    book.enter(HoldingPlaced(holding_id=holding.fact, tank_id=tank_id), when=when)
    return holding


def next_number(session: Session, stage: Stage) -> int:
    """The next batch's or cohort's number; a withdrawn one keeps its own."""
    highest = session.scalar(select(func.max(Holding.number)).where(Holding.stage == stage))
    return (highest or 0) + 1
