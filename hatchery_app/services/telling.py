"""One thing told by two people: asked about, so that no fish dies twice."""

from datetime import timedelta
from typing import TypeVar

from sqlalchemy import select

from hatchery_app.domain.errors import Asked
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.when import When, say_when
from hatchery_app.models.account import Account
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.sale import ArrivalReport
from hatchery_app.models.stock_book import Moved
from hatchery_app.services.recording import Book
from hatchery_app.services.records.room import room_now

TOLD_TWICE, SAME, MORE = "told_twice", "same", "more"
Told = TypeVar("Told", bound=Entry)
A_DAY = timedelta(days=1)
TOLD_BY_TWO = frozenset({Door.DIED, Door.MISSING, Door.PUT_DOWN})


def leaving_told(
    book: Book, holding_id: int, door: Door, number: HowMany, when: When
) -> Moved | None:
    """The same number that another account said left that batch by that door within a day.

    None where nobody did, or where these are others. Raises Asked under "told_twice".
    """
    if door not in TOLD_BY_TWO or number.best is None:
        return None
    rows = book.session.scalars(
        select(Moved)
        .where(
            known(), Moved.out_of_id == holding_id, Moved.door == door,
            Moved.number_best == number.best, Moved.by_id.is_distinct_from(book.posting.by_id),
        )
        .order_by(Moved.seq.desc())
    )  # fmt: skip
    near = (row for row in rows if _is_near(row, when))
    return _asked(book, next(near, None), f"{number.said()} {door}", f"{number.best} more {door}")


def arrival_told(book: Book, sale_id: int, dead: int, when: When) -> ArrivalReport | None:
    """The same number dead on arrival told of that sale within a day, whoever told it.

    None where nobody did, or where these are others. Raises Asked under "told_twice".
    """
    rows = book.session.scalars(
        select(ArrivalReport)
        .where(known(), ArrivalReport.sale_id == sale_id, ArrivalReport.dead == dead)
        .order_by(ArrivalReport.seq.desc())
    )
    near = (row for row in rows if _is_near(row, when))
    words = f"{dead} dead on arrival"
    return _asked(book, next(near, None), words, f"{dead} more were dead")


def _is_near(row: Entry, when: When) -> bool:
    return abs(row.when.middle - when.middle) <= A_DAY


def _asked(book: Book, row: Told | None, words: str, more: str) -> Told | None:
    answer = book.answers.get(TOLD_TWICE)
    if row is None or answer == MORE:
        return None
    if answer == SAME:
        return row
    who = book.session.scalar(select(Account.name).where(Account.id == row.by_id)) or "Somebody"
    at = say_when(row.when, room_now(book.session).room_time)
    raise Asked(
        f"{who} said {words}, {at}. Are these the same ones?",
        TOLD_TWICE,
        ((SAME, "Yes, the same: keep one"), (MORE, f"No, {more}")),
        field="number",
    )
