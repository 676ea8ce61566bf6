"""One batch's book: its newest fifty entries with the running balance, now or as once known."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.stock_book.stock_book import Balance
from hatchery_app.services.records.room import room_now
from hatchery_app.services.remembering import Remembered, known_at
from hatchery_app.services.stock_book.holding_facts import (
    NOT_HERE,
    HoldingFacts,
    load_stock,
    named_holdings,
)
from hatchery_app.services.stock_book.stock_book_page import A_PAGE, StockLine, line_of, other_ends


@dataclass(frozen=True, eq=False)  # told apart by itself: its words are worked out once
class BatchBook:
    """One page of a batch's book, newest first. `known` is the moment it was asked as known at.

    `then` is its balance as it was known, None where nothing of it was written down by then;
    `now_known` what stands in the records today, the same unless asked as known earlier.
    """

    holding: HoldingFacts
    then: Balance | None
    now_known: Balance
    lines: tuple[StockLine, ...]
    page: int
    entries: int
    has_older: bool
    known: datetime | None


remembered: Remembered[BatchBook] = Remembered()


def batch_book(
    session: Session, *, holding_id: int, page: int = 1, known: datetime | None = None
) -> BatchBook:
    """A batch's book. Raises NotKnown. One statement where it was asked since the last entry."""
    asked = (holding_id, page, known)
    return remembered.answer(session, asked, lambda: _work(session, holding_id, page, known))


def _work(session: Session, holding_id: int, page: int, known: datetime | None) -> BatchBook:
    room = room_now(session)
    stock = load_stock(session, room, holding_ids=(holding_id,))
    if holding_id not in stock.holdings:
        raise NotKnown(NOT_HERE)
    held, now_known = stock.holding(holding_id), stock.balance(holding_id)
    if known is not None:
        at_seq = known_at(session, known)
        stock = load_stock(session, room, holding_ids=(holding_id,), at_seq=at_seq)
        if holding_id not in stock.holdings:
            return BatchBook(held, None, now_known, (), page, 0, False, known)
        held = stock.holding(holding_id)
    rows = stock.rows(holding_id)[::-1]
    page = max(1, page)
    shown = rows[(page - 1) * A_PAGE : page * A_PAGE]
    ends = other_ends((row.entry for row in shown), holding_id)
    named = {holding_id: held} | named_holdings(session, ends)
    lines = tuple(line_of(stock.told, named, [(held, row)]) for row in shown)
    return BatchBook(
        held, stock.balance(holding_id), now_known, lines, page, len(rows),
        len(rows) > page * A_PAGE, known,
    )  # fmt: skip
