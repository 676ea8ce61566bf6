"""The day-book as it is read: line by line, and one entry with all that was ever said of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, and_, false, or_, select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.when import RoomTime, When
from hatchery_app.models.account import Account
from hatchery_app.models.entry import Entry, Withdrawal
from hatchery_app.services.records.record_kinds import ROOMS_OF_KINDS, kind_named, kinds_of
from hatchery_app.services.records.record_names import Names, load_names
from hatchery_app.services.records.record_references import whole_entries
from hatchery_app.services.records.record_typed import PartNow, parts_now
from hatchery_app.services.records.record_words import said
from hatchery_app.services.records.room import room_now

LINES_A_PAGE = 50


@dataclass(frozen=True)
class Line:
    """One entry in words: what it said, of when, by whom and when it was written.

    `is_replaced` says that it stands no more; `takes_back` is a withdrawal, in the words of what
    it withdrew; `is_correction` that it was not the first entry of its fact.
    """

    seq: int
    fact_id: int
    words: str
    when: When
    received_at: datetime
    by: str
    note: str
    is_replaced: bool
    is_correction: bool
    takes_back: bool


@dataclass(frozen=True)
class DayBook:
    """A page of lines, newest first, and where more are."""

    lines: tuple[Line, ...]
    number: int
    has_more: bool
    rooms: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class EntryPage:
    """One fact: what it says now, every version of it newest first, what can be said anew."""

    fact_id: int
    word: str
    now: Line
    versions: tuple[Line, ...]
    parts: tuple[PartNow, ...]
    is_dated: bool
    is_withdrawn: bool


def day_book(
    session: Session, *, number: int = 1, room_word: str = "", day: date | None = None
) -> DayBook:
    """Page `number` of the day-book, of one room or of what happened on one day where asked.

    The statements do not grow with the entries.
    """
    room_time = room_now(session).room_time
    rows = list(
        session.scalars(
            select(Entry)
            .options(whole_entries())
            .where(*_only(room_word, day, room_time))
            .order_by(Entry.seq.desc())
            .offset((max(number, 1) - 1) * LINES_A_PAGE)
            .limit(LINES_A_PAGE + 1)
        )
    )
    shown = rows[:LINES_A_PAGE]
    return DayBook(
        lines=_lines(session, shown, room_time),
        number=max(number, 1),
        has_more=len(rows) > LINES_A_PAGE,
        rooms=tuple((one.word, one.label) for one in ROOMS_OF_KINDS),
    )


def entry_page(session: Session, *, fact_id: int) -> EntryPage:
    """One fact with all its versions. Raises NotKnown."""
    room_time = room_now(session).room_time
    rows = list(
        session.scalars(
            select(Entry)
            .options(whole_entries())
            .where(Entry.fact_id == fact_id)
            .order_by(Entry.seq.desc())
        )
    )
    if not rows:
        raise NotKnown("That entry does not stand in this room's records.")
    lines = _lines(session, rows, room_time)
    last = next(row for row in rows if not isinstance(row, Withdrawal))
    kind = kind_named(last.kind)
    return EntryPage(
        fact_id=fact_id,
        word=kind.word,
        now=lines[0],
        versions=lines,
        parts=parts_now(session, kind, last, room_time),
        is_dated=kind.is_dated,
        is_withdrawn=isinstance(rows[0], Withdrawal),
    )


def _only(room_word: str, day: date | None, room_time: RoomTime) -> tuple[ColumnElement[bool], ...]:
    asked: list[ColumnElement[bool]] = []
    if room_word:
        kinds = kinds_of(room_word)
        first = select(Entry.seq).where(Entry.kind.in_(kinds))
        taken_back = and_(Entry.kind == "withdrawal", Entry.fact_id.in_(first))
        asked.append(or_(Entry.kind.in_(kinds), taken_back) if kinds else false())
    if day is not None:
        whole = room_time.whole_days(day)
        asked.append(Entry.happened_latest >= whole.earliest)
        asked.append(Entry.happened_earliest < whole.latest)
    return tuple(asked)


def _lines(session: Session, rows: Sequence[Entry], room_time: RoomTime) -> tuple[Line, ...]:
    before = _withdrawn(session, rows)
    names = load_names(session, [*before.values(), *rows], room_time)
    written = {row.by_id for row in rows if row.by_id is not None}
    by = select(Account.id, Account.name).where(Account.id.in_(sorted(written)))
    people = {row.id: row.name for row in session.execute(by)}
    return tuple(_line(row, before.get(row.fact, row), names, people) for row in rows)


def _withdrawn(session: Session, rows: Sequence[Entry]) -> dict[int, Entry]:
    """What the withdrawals among these took back, as it last stood before."""
    taken = [row for row in rows if isinstance(row, Withdrawal)]
    if not taken:
        return {}
    last = session.scalars(
        select(Entry)
        .options(whole_entries())
        .where(Entry.fact_id.in_(sorted({row.fact for row in taken})), Entry.kind != "withdrawal")
        .order_by(Entry.seq)
    )
    return {row.fact: row for row in last}


def _line(row: Entry, told: Entry, names: Names, people: dict[int, str]) -> Line:
    takes_back = isinstance(row, Withdrawal)
    return Line(
        seq=row.seq,
        fact_id=row.fact,
        words=said(told if takes_back else row, names),
        when=row.when,
        received_at=row.received_at,
        by=people.get(row.by_id or 0, ""),
        note=row.note,
        is_replaced=row.superseded_seq is not None,
        is_correction=row.seq != row.fact,
        takes_back=takes_back,
    )
