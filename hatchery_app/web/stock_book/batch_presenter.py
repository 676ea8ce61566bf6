"""The book of one batch in words: newest first, the running balance beside each entry."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from flask import render_template
from markupsafe import Markup

from hatchery_app.domain.when import RoomTime, When, say_when
from hatchery_app.services.stock_book.stock_batch_page import BatchBook
from hatchery_app.services.stock_book.stock_book_page import A_PAGE
from hatchery_app.web.addresses import address_of
from hatchery_app.web.stock_book.presenter import (
    MoveLine,
    holding_url,
    move_line,
    unexplained_said,
    where_all_went,
)


@dataclass(frozen=True)
class BatchPage:
    """One page of a batch's book. `was` says what was known then, "" for what is known now.

    `lines` are its entries as they stand on the page, so that fifty of them are written once.
    """

    heading: str
    here: str
    batch_url: str
    now: str
    went: str
    unexplained: str
    was: str
    lines: Markup
    entries: str
    newer: str
    older: str


# The answer is the same object until something is written: so are its words and their lines.
@lru_cache(maxsize=32)
def show(book: BatchBook, room_time: RoomTime) -> BatchPage:
    """A batch's book."""
    held, then = book.holding, book.then
    return BatchPage(
        heading=f"Book of {held.full_name}",
        here=address_of("stock_book.batch", holding_id=held.id),
        batch_url=holding_url(held),
        now=then.now.said() if then is not None else "nothing of it was written down by then",
        went=where_all_went(then) if then is not None else "",
        unexplained=unexplained_said(then, room_time) if then is not None else "",
        was=_was(book, room_time),
        lines=_lines(move_line(line, room_time, name_batch=False) for line in book.lines),
        entries=_entries(book),
        newer=_address(book, book.page - 1, room_time) if book.page > 1 else "",
        older=_address(book, book.page + 1, room_time) if book.has_older else "",
    )


def _lines(lines: Iterable[MoveLine]) -> Markup:
    listed = tuple(lines)
    shown = render_template("stock_book/_lines_part.html", lines=listed) if listed else ""
    return Markup(shown)  # our own template's, which escapes what was typed


def _address(book: BatchBook, page: int, room_time: RoomTime) -> str:
    asked: dict[str, int | str] = {"page": page} if page > 1 else {}
    if book.known is not None:
        local = room_time.local(book.known)
        asked |= {"known_on": f"{local:%Y-%m-%d}", "known_time": f"{local:%H:%M}"}
    return address_of("stock_book.batch", holding_id=book.holding.id, **asked)


def _was(book: BatchBook, room_time: RoomTime) -> str:
    if book.known is None:
        return ""
    then = say_when(When.exactly(book.known), room_time, year=True)
    return f"As known {then}. Today the records say {book.now_known.now.said()}."


def _entries(book: BatchBook) -> str:
    if book.entries <= len(book.lines):
        return "newest first"
    first = (book.page - 1) * A_PAGE + 1
    return f"newest first, {first}–{first - 1 + len(book.lines)} of {book.entries}"
