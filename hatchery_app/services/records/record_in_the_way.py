"""What stands in the way of a change: entries it would make impossible, named in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.stock_book.stock_checks import check_change
from hatchery_app.domain.when import say_when
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import HoldingPlaced, Moved, StockCount
from hatchery_app.services.recording import Book
from hatchery_app.services.records.record_names import load_names
from hatchery_app.services.records.record_words import said
from hatchery_app.services.records.room import room_now
from hatchery_app.services.stock_book.holding_facts import load_stock

TOGETHER = "together"
LINES_NAMED = 6  # a sentence that names more is not read; the page lists them all


@dataclass(frozen=True)
class InTheWay:
    """An entry that a change would make impossible, in words."""

    fact_id: int
    words: str


class LaterEntries(RuleBroken):
    """A change that other entries do not bear: they are named, and nothing was changed."""

    def __init__(self, sentence: str, entries: tuple[InTheWay, ...], field: str = "") -> None:
        super().__init__(f"{sentence} {listed(entries)}", field)
        self.entries = entries


class LaterEntriesAsked(Asked):
    """The same, where they can be taken along in the one step."""

    def __init__(
        self, sentence: str, entries: tuple[InTheWay, ...], answer: str, label: str
    ) -> None:
        super().__init__(f"{sentence} {listed(entries)}", TOGETHER, ((answer, label),))
        self.entries = entries


def listed(entries: Sequence[InTheWay]) -> str:
    """Some entries in a sentence, the first of many by name."""
    more = len(entries) - LINES_NAMED
    told = "; ".join(one.words for one in entries[:LINES_NAMED])
    return f"{told}; and {more} more." if more > 0 else f"{told}."


def in_words(book: Book, rows: Sequence[Entry]) -> tuple[InTheWay, ...]:
    """Some entries as the page lists them."""
    room_time = room_now(book.session).room_time
    names = load_names(book.session, rows, room_time)
    return tuple(
        InTheWay(row.fact, f"{said(row, names)} ({say_when(row.when, room_time)})") for row in rows
    )


def refuse_stock_without(book: Book, rows: Sequence[Entry]) -> None:
    """Ask the stock book whether what is entered later bears these rows taken out of it.

    Nothing is changed by it. Raises as `stock_checks` does.
    """
    moving = [row for row in rows if isinstance(row, Moved | StockCount)]
    if not moving:
        return
    holdings = {end for row in moving for end in _holdings(row)}
    before = load_stock(book.session, room_now(book.session), holding_ids=holdings).book
    after = before
    for row in moving:
        after = after.without(row.fact)
    check_change(before, after, touched=moving[0].fact, answers=book.answers)


def refuse_without_a_place(book: Book, rows: Sequence[Entry]) -> None:
    """A batch that stays stands in some tank: its only place is said anew, not taken back.

    Raises RuleBroken.
    """
    gone = {row.fact for row in rows}
    left = {row.holding_id for row in rows if isinstance(row, HoldingPlaced)} - gone
    if not left:
        return
    others = select(HoldingPlaced.holding_id).where(
        known(), HoldingPlaced.holding_id.in_(left), HoldingPlaced.fact_id.not_in(gone)
    )
    if left - set(book.session.scalars(others)):
        raise RuleBroken(
            "It would stand in no tank then: correct which tank it is, or withdraw the batch."
        )


def refuse_stock_since(book: Book, at_seq: int, rows: Sequence[Entry], touched: int) -> None:
    """Ask the stock book what a change has made of it since entry `at_seq`.

    `rows` are all that were changed, those that went along among them; `touched` is the fact in
    hand. Raises as `stock_checks` does.
    """
    holdings = {
        end for row in rows if isinstance(row, Moved | StockCount) for end in _holdings(row)
    }
    if not holdings:
        return
    room = room_now(book.session)
    before = load_stock(book.session, room, holding_ids=holdings, at_seq=at_seq).book
    after = load_stock(book.session, room, holding_ids=holdings).book
    check_change(before, after, touched=touched, answers=book.answers)


def _holdings(row: Moved | StockCount) -> tuple[int, ...]:
    if isinstance(row, StockCount):
        return (row.holding_id,)
    return tuple(end for end in (row.out_of_id, row.into_id) if end is not None)
