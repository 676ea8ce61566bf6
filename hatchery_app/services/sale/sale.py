"""Fish promised and fish sold: holds, sales in parts, what arrived."""

from datetime import date

from sqlalchemy import select

from hatchery_app.domain.cohort.cohort import Hold, check_may_be_held, check_may_be_sold
from hatchery_app.domain.cohort.free_to_sell import FreeToSell
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.sale.sale import ArrivalLoss
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.when import When, say_when
from hatchery_app.models.cohort import Held, HoldReleased
from hatchery_app.models.entry import known
from hatchery_app.models.sale import ArrivalReport, Sale
from hatchery_app.services import telling
from hatchery_app.services.cohort import cohort_facts
from hatchery_app.services.cohort.cohort import find_cohort
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import room_now
from hatchery_app.services.sale.sale_size import of_sale_size
from hatchery_app.services.stock_book import stock_book

NO_HOLD = "That hold does not stand any more."
NO_SALE = "That sale does not stand in this room's records."


@use_case
def place_hold(
    book: Book,
    *,
    holding_id: int,
    number: int,
    when: When,
    for_whom: str = "",
    until_on: date | None = None,
    note: str = "",
) -> int:
    """Fish are promised to somebody until a day. Returns the hold.

    Raises RuleBroken for more than are free, with the sum.
    """
    cohort = find_cohort(book, holding_id)
    if when.latest < cohort.happened_earliest:
        began = say_when(cohort.when, room_now(book.session).room_time)
        raise RuleBroken(
            f"They cannot be held before they were a cohort ({began}).", field="at_on"
        )
    check_may_be_held(_free(book, holding_id), number, book.answers)
    row = Held(
        holding_id=holding_id, number=number, for_whom=for_whom.strip()[:120], until_on=until_on
    )
    return book.enter(row, when=when, note=note).fact


@use_case
def release_hold(
    book: Book, *, held_id: int, when: When, number: int | None = None, note: str = ""
) -> int:
    """Held fish are free again, all that are left of the hold or some. Returns the holding."""
    row = book.find(Held, held_id, NO_HOLD)
    left = _left_of(book, row)
    number = left.number if number is None else number
    if not 1 <= number <= left.number:
        raise RuleBroken(f"{left.number} are held; {number} cannot be released.", field="number")
    book.enter(HoldReleased(held_id=held_id, number=number), when=when, note=note)
    return row.holding_id


@use_case
def record_sale(
    book: Book,
    *,
    holding_id: int,
    number: int,
    when: When,
    for_whom: str = "",
    held_id: int | None = None,
    note: str = "",
) -> int:
    """Fish are sold, out of a hold or of those free. Returns the sale.

    Raises RuleBroken for more than are free, saying the sum; for any of a barred batch.
    """
    find_cohort(book, holding_id)
    free = _free(book, holding_id)
    if held_id is None or free.barred_because:
        check_may_be_sold(free, number, book.answers)
    else:
        held = book.find(Held, held_id, NO_HOLD)
        if held.holding_id != holding_id:
            raise RuleBroken("Those are held of another cohort; sell them there.", field="out_of")
        _check_out_of_hold(_left_of(book, held), number)
        for_whom = for_whom.strip() or held.for_whom
    moved = stock_book.enter_movement(
        book, out_of=holding_id, into=None, number=HowMany.counted(number), door=Door.SOLD,
        when=when, reason=f"to {for_whom.strip()}" if for_whom.strip() else "", note=note,
    )  # fmt: skip
    row = Sale(
        holding_id=holding_id, moved_id=moved.fact, for_whom=for_whom.strip()[:120],
        held_id=held_id,
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


def _free(book: Book, holding_id: int) -> FreeToSell:
    stock = stock_book.stock_of(book, (holding_id,))
    promises = cohort_facts.load_promises(book.session, (holding_id,))
    samples = cohort_facts.samples_of(book.session, (holding_id,))
    sizes = of_sale_size(
        book.session, room_now(book.session), (stock.holding(holding_id),), samples, book.now
    )
    return promises.free(holding_id, stock.balance(holding_id).now, sizes.get(holding_id))


def _left_of(book: Book, held: Held) -> Hold:
    lines = cohort_facts.load_promises(book.session, (held.holding_id,)).holds_of(held.holding_id)
    for line in lines:
        if line.held_id == held.fact:
            return line.hold
    raise RuleBroken(NO_HOLD, field="out_of")


def _check_out_of_hold(hold: Hold, number: int) -> None:
    if number < 1:
        raise RuleBroken("At least one fish is sold.", field="number")
    if number > hold.number:
        whom = f" for {hold.for_whom}" if hold.for_whom else ""
        raise RuleBroken(
            f"{hold.number} are held{whom}; {number} cannot be sold out of that. Sell the rest "
            "out of those that are free.",
            field="number",
        )


@use_case
def report_arrival(
    book: Book, *, sale_id: int, dead: int, when: When, replaced: int = 0, note: str = ""
) -> int:
    """What the buyer found. Replacements leave the cohort as such, and nobody died in the room.

    Several reports of one sale add up; the same number told again is asked about. Returns the
    report.
    """
    sale = book.find(Sale, sale_id, NO_SALE)
    if when.latest < sale.happened_earliest:
        raise RuleBroken("They cannot arrive before they were sold.", field="at_on")
    told = telling.arrival_told(book, sale_id, dead, when)
    if told is not None:
        return told.fact
    sent, dead_before, replaced_before = _arrived(book, sale)
    ArrivalLoss(sent, dead_before + dead, replaced_before + replaced)
    if dead < 0:
        raise RuleBroken("A number of fish cannot be below 0.", field="dead")
    moved_id = None
    if replaced:
        check_may_be_sold(_free(book, sale.holding_id), replaced, book.answers)
        moved_id = stock_book.enter_movement(
            book, out_of=sale.holding_id, into=None, number=HowMany.counted(replaced),
            door=Door.REPLACED, when=when, reason="dead on arrival", note=note,
        ).fact  # fmt: skip
    row = ArrivalReport(sale_id=sale_id, dead=dead, moved_id=moved_id)
    return book.enter(row, when=when, note=note).fact


def _arrived(book: Book, sale: Sale) -> tuple[int, int, int]:
    """Fish sent, reported dead and replaced so far."""
    reports = book.session.scalars(
        select(ArrivalReport).where(known(), ArrivalReport.sale_id == sale.fact)
    ).all()
    moved = [row.moved_id for row in reports if row.moved_id is not None]
    numbers = cohort_facts.moved_numbers(book.session, [sale.moved_id, *moved])
    if sale.moved_id not in numbers:
        raise RuleBroken("That sale was taken back.")
    replaced = sum(numbers.get(one, 0) for one in moved)
    return numbers[sale.moved_id], sum(row.dead for row in reports), replaced
