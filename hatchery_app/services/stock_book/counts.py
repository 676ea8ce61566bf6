"""What is counted and seen of a batch: numbers, bodies found, settled and swimming, prey left."""

from collections.abc import Sequence

from sqlalchemy import select

from hatchery_app.domain.broodstock.body_length import LengthKind
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.larval_tank.larval_protocol import FOODS_IN_WATER
from hatchery_app.domain.larval_tank.settlement_split import SettlementSplit
from hatchery_app.domain.live_food.live_food import Look, density_from_count
from hatchery_app.domain.stock_book.stock_book import Count, Door, Stage
from hatchery_app.domain.stock_book.stock_checks import recount, uncounted_start
from hatchery_app.domain.stock_book.stock_line import holds_the_book
from hatchery_app.domain.when import When, say_when
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import Concentrate, PreySeen, StageMark, StageSeen
from hatchery_app.models.stock_book import Holding
from hatchery_app.models.tank import Tank
from hatchery_app.services.cohort import cohort
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.stock_book import photo_count, stock_book
from hatchery_app.services.stock_book.holding_facts import Stock

FEWER, NONE_SEEN = "fewer", "none_seen"
PUT_IN, IS_IT, NOT_IT = "put_in", "is_it", "not_it"
MARKS = tuple(mark.value for mark in StageMark)


@use_case
def record_count(
    book: Book,
    *,
    holding_id: int,
    number: HowMany,
    when: When,
    bodies: int | None = 0,
    note: str = "",
) -> int:
    """How many were there, with the bodies found since the last count. Returns the count.

    The bodies died between the two counts; what the count then still lacks is missing between
    them, and is not entered as seen. A count above the book is asked about, and so is one below
    it where nothing was said of bodies (`bodies` None), and the first of a batch of which nobody
    counted what was put in.
    """
    stock = stock_book.stock_of(book, (holding_id,))
    stock.holding(holding_id)
    counted = Count(stock_book.UNWRITTEN, when, number, holding_id)
    if bodies is None:
        _ask_what_was_seen_dead(book, stock, counted)
    is_start = _ask_if_put_in(book, stock, counted)
    if bodies:
        found = recount(stock.book, counted, bodies=bodies, died_seq=stock_book.UNWRITTEN - 1)
        if found.died is not None:
            stock_book.enter_movement(
                book, out_of=holding_id, into=None, number=found.died.number, door=Door.DIED,
                when=found.died.when, reason=found.died.reason,
            )  # fmt: skip
    row = stock_book.enter_count(
        book, holding_id=holding_id, number=number, when=when, is_start=is_start, note=note
    )
    photo_count.keep_marks(book, row.fact, number, when)
    return row.fact


def _ask_if_put_in(book: Book, stock: Stock, count: Count) -> bool:
    """Whether a count is also the number that was put in, which nobody had counted."""
    put_in = uncounted_start(stock.book, count)
    if put_in is None:
        return False
    answer = book.answers.get(PUT_IN)
    if answer in (IS_IT, NOT_IT):
        return answer == IS_IT
    since = say_when(put_in, stock.book.room_time)
    raise Asked(
        f"{stock.holding(count.holding).name} was put in uncounted ({since}). "
        "Is this the number that was put in?",
        PUT_IN,
        (
            (IS_IT, "Yes: this is its start, and what is gone by then counts with it"),
            (NOT_IT, "No: how many were put in stays unknown"),
        ),
        field="number",
    )


def _ask_what_was_seen_dead(book: Book, stock: Stock, count: Count) -> None:
    """Fewer than the book had: bodies were found, or the fish are missing since the last look."""
    rows = stock.book.with_entry(count).rows(count.holding)
    row = next(row for row in rows if row.entry.seq == count.seq)
    if row.gap is None or holds_the_book(row) or book.answers.get(FEWER) == NONE_SEEN:
        return
    gone, since = row.gap.number, say_when(row.gap.when, stock.book.room_time)
    fewer = f"{gone.best}" if gone.best is not None else gone.said()
    raise Asked(
        f"{stock.holding(count.holding).name} had {row.before.said()} by the book: {fewer} fewer. "
        "Were any seen dead? Write how many bodies were found; the others are then missing "
        f"({since}).",
        FEWER,
        ((NONE_SEEN, "None were seen: they are missing"),),
        field="bodies",
    )


@use_case
def record_settlement(
    book: Book,
    *,
    holding_id: int,
    settled: int,
    swimming: int | None,
    when: When,
    counted: bool = True,
    note: str = "",
) -> int:
    """A look at who has settled and who still swims; both remain the one batch. Returns the look.

    `swimming` None: not counted, so nothing is said of how many there are. `counted` False: both
    by eye.
    """
    number = HowMany.at_least(settled) if settled else HowMany.unknown()
    if swimming is not None:
        alive = SettlementSplit(when, settled, swimming).alive
        number = HowMany.counted(alive) if counted else HowMany.about(alive)
    row = stock_book.enter_count(
        book, holding_id=holding_id, number=number, when=when, settled=settled,
        swimming=swimming, note=note,
    )  # fmt: skip
    return row.fact


@use_case
def record_mark(book: Book, *, holding_id: int, mark: str, when: When, note: str = "") -> int:
    """A mark of development (one of MARKS) seen or done for the first time. Returns the entry.

    Said again it replaces what was said before.
    """
    if mark not in MARKS:
        raise RuleBroken("Say what was seen.", field="mark")
    book.find(Holding, holding_id, "That batch does not stand in this room's records.")
    earlier = book.session.scalars(
        select(StageSeen).where(
            known(), StageSeen.holding_id == holding_id, StageSeen.mark == StageMark(mark)
        )
    ).first()
    row = StageSeen(holding_id=holding_id, mark=StageMark(mark))
    if earlier is not None and earlier.mark is not StageMark.FOOD_GAP:  # a gap may come again
        return book.correct(earlier, row, when=when, note=note).fact
    return book.enter(row, when=when, note=note).fact


@use_case
def record_food_gap(book: Book, *, holding_ids: Sequence[int], food: str, when: When) -> int:
    """A food was short for these batches then. Each keeps its own mark; returns how many.

    A gap may come again: an earlier one stays as it is. Losses of the days after are read
    beside it.
    """
    if not holding_ids:
        raise RuleBroken("No batch of larvae wants that food today.")
    for holding_id in holding_ids:
        book.find(Holding, holding_id, "That batch does not stand in this room's records.")
        row = StageSeen(holding_id=holding_id, mark=StageMark.FOOD_GAP)
        book.enter(row, when=when, note=f"short of {food}")
    return len(holding_ids)


@use_case
def record_lengths(
    book: Book, *, holding_id: int, lengths: str, when: When, by_eye: bool = False, note: str = ""
) -> int:
    """Total lengths of some larvae, as pasted. Brine shrimp and grain go by them from then on."""
    found = book.find(Holding, holding_id, "That batch does not stand in this room's records.")
    if found.stage is not Stage.LARVAE:
        raise RuleBroken("These have settled: their lengths are entered with the cohort.")
    return cohort.enter_lengths(
        book, holding_id, lengths, when, LengthKind.TOTAL, by_eye=by_eye, note=note
    )


@use_case
def record_prey(
    book: Book,
    *,
    tank_id: int,
    food: str,
    when: When,
    look: Look | None = None,
    counts: Sequence[int] = (),
    sample_ml: float = 1.0,
    topped_up_to_per_ml: float | None = None,
    note: str = "",
) -> int:
    """How thick a food still stands in a tank: a look in a word, or samples counted.

    `topped_up_to_per_ml` is where it was then brought to; what was seen holds no more after
    that. Returns the entry.
    """
    book.find(Tank, tank_id, "That tank does not stand in this room's records.")
    if food not in FOODS_IN_WATER:
        raise RuleBroken("Say which food was looked at.", field="food")
    if look is None and not counts and topped_up_to_per_ml is None:
        raise RuleBroken("Say what was seen, or what was counted.", field="look")
    if topped_up_to_per_ml is not None and topped_up_to_per_ml <= 0:
        raise RuleBroken("A tank is topped up to more than none.", field="topped_up_to")
    per_ml, counted = None, ""
    if counts:
        per_ml = density_from_count(counts, sample_ml).per_ml
        counted = " ".join(str(one) for one in counts) + f" in {sample_ml:g} mL"
    row = PreySeen(
        tank_id=tank_id, food=food, per_ml=per_ml, look="" if look is None else look.value,
        counted=counted, topped_up_to_per_ml=topped_up_to_per_ml,
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


@use_case
def set_concentrate(book: Book, *, food: str, per_ml: float, when: When, typed: str = "") -> int:
    """How thick a food stands that the tanks are topped up from, for the whole room."""
    if food not in FOODS_IN_WATER:
        raise RuleBroken("Say which food it is.", field="food")
    if per_ml <= 0:
        raise RuleBroken("A concentrate holds more than none per mL.", field="per_ml")
    row = Concentrate(food=food, per_ml=per_ml, typed=typed.strip()[:120])
    return book.enter(row, when=when).fact
