"""How facts get into the day-book: one use case, one transaction, one receipt.

    @use_case
    def record_laying(book: Book, *, pair_id: int, when: When) -> int: ...

    clutch_id = record_laying(session, posting=posting, pair_id=3, when=when)

The function is handed a Book to write in and returns the name (fact id) of what it recorded.
A post that arrives twice under the same key is answered from its receipt.
"""

import functools
import hashlib
import json
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from sqlalchemy import CheckConstraint, Column, String, Table, bindparam, insert, select, update
from sqlalchemy.exc import IntegrityError, OperationalError
from sqlalchemy.orm import Session, make_transient_to_detached
from sqlalchemy.orm.attributes import set_committed_value
from sqlalchemy.sql.schema import ScalarElementColumnDefault

from hatchery_app.database import transaction
from hatchery_app.domain.errors import NotKept, NotKnown, RuleBroken
from hatchery_app.domain.when import COUNTS_AS_NOW, When
from hatchery_app.models.entry import Entry, Receipt, Withdrawal, known
from hatchery_app.services.records.record_order import refuse_what_cannot_be
from hatchery_app.services.remembering import note_written

Facts = ParamSpec("Facts")
Kind = TypeVar("Kind", bound=Entry)


LARGEST_WHOLE_NUMBER = 2**31 - 1  # what an integer column of PostgreSQL holds


class KeyUsedAgain(RuleBroken):
    """The same key came with other contents: what was saved stands, a second entry is offered."""

    def __init__(self, answer: int | None) -> None:
        super().__init__(
            "This form was saved already with other contents. What was saved stands; "
            "send it again to make a second entry."
        )
        self.answer = answer


@dataclass(frozen=True)
class Posting:
    """Who says it, when it reached us, under which key, and what was answered when asked.

    `now` is the moment of receipt (aware); `noted_at` the device's clock, for people only.
    `body` is what was typed, without token and device time: it tells a repeat from a new fact.
    """

    now: datetime
    by_id: int | None = None
    key: str | None = None
    body: Mapping[str, str] = field(default_factory=dict)
    noted_at: datetime | None = None
    answers: Mapping[str, str] = field(default_factory=dict)

    @property
    def body_hash(self) -> str:
        written = json.dumps(dict(self.body), sort_keys=True, ensure_ascii=False)
        return hashlib.sha256(written.encode()).hexdigest()


class Book:
    """The open day-book inside one use case: what can be written, and as whom."""

    def __init__(self, session: Session, posting: Posting, receipt: Receipt | None = None) -> None:
        self.session = session
        self.posting = posting
        self.receipt = receipt
        self.entered: list[Entry] = []

    @property
    def now(self) -> datetime:
        return self.posting.now

    @property
    def answers(self) -> Mapping[str, str]:
        return self.posting.answers

    def enter(self, row: Kind, *, when: When, note: str = "") -> Kind:
        """Write a new fact. Returns the row with its `seq` and `fact_id` set.

        Raises RuleBroken where it lies ahead: the pages ask first, with the room's clock; this
        holds for whatever else writes. A correction may keep what a wrong clock once let in.
        """
        if when.earliest > self.now + COUNTS_AS_NOW:
            raise RuleBroken("That has not come yet; only plans lie ahead.", field="at_on")
        self._stamp(row, when, note)
        _insert(self.session, row)
        _name(self.session, row, row.seq)
        self.entered.append(row)
        return row

    def correct(self, old: Entry, new: Kind, *, when: When, note: str = "") -> Kind:
        """Put `new` in the place of `old`, which stays readable under the same fact."""
        self._stamp(new, when, note)
        _insert(self.session, new)
        old.superseded_seq = new.seq  # first, or the fact had two current entries
        self.session.flush()
        _name(self.session, new, old.fact)
        return new

    def withdraw(self, old: Entry, *, note: str = "") -> Withdrawal:
        """Take a fact back: nothing current is left of it, everything stays readable."""
        return self.correct(old, Withdrawal(), when=old.when, note=note)

    def find(self, kind: type[Kind], fact_id: int, sentence: str = "") -> Kind:
        """The current entry of a fact of this kind. Raises NotKnown with the sentence."""
        row = None
        if 0 < fact_id <= LARGEST_WHOLE_NUMBER:
            row = self.session.scalars(
                select(kind).where(kind.fact_id == fact_id, known())
            ).one_or_none()
        if row is None:
            raise NotKnown(sentence or "That entry does not stand in this room's records.")
        return row

    def _stamp(self, row: Entry, when: When, note: str) -> None:
        check_fits(row, note)
        row.happened_earliest, row.happened_latest = when.earliest, when.latest
        row.said, row.from_memory = when.said, when.from_memory
        row.received_at, row.noted_at = self.posting.now, self.posting.noted_at
        row.by_id, row.note = self.posting.by_id, note
        row.receipt_id = self.receipt.id if self.receipt is not None else None


def said_anew(old: Kind, **changed: Any) -> Kind:
    """A row of the same columns, some of them changed, for a correction to put in its place."""
    columns = [column.name for column in type(old).__table__.columns if column.name != "seq"]
    return type(old)(**({name: getattr(old, name) for name in columns} | changed))


Columns = tuple[tuple[str, str, Any], ...]


@functools.cache
def _columns_of(kind: type[Entry]) -> tuple[tuple[Table, Columns], ...]:
    """The tables of a kind of entry, the common one first: each column, its attribute, default."""
    mapper = kind.__mapper__
    tables = [table for table in mapper.tables if isinstance(table, Table)]
    return tuple(
        (table, tuple((column.name, mapper.get_property_by_column(column).key, _default(column))
                      for column in table.columns))
        for table in tables
    )  # fmt: skip


def _default(column: Column[Any]) -> Any:
    default = column.default
    if default is None:
        return None
    if not isinstance(default, ScalarElementColumnDefault):
        raise TypeError(f"{column} is filled in by more than a value; entries are written as said.")
    return default.arg


def _insert(session: Session, row: Entry) -> None:
    """Write a new entry into the common table and its own. Sets its `seq`.

    The session's own way asks each of the seventy tables that share `entry` whether the row is
    theirs too, which takes twice as long as the rest of the writing.
    """
    session.flush()  # what waits to be written comes before it
    for table, columns in _columns_of(type(row)):
        values = {}
        for name, attribute, default in columns:
            if row.__dict__.get(attribute) is None:
                set_committed_value(row, attribute, default)
            values[name] = row.__dict__[attribute]
        if table is Entry.__table__:
            del values["seq"]
            made = session.connection().execute(insert(table).returning(Entry.seq), values)
            set_committed_value(row, "seq", made.scalar_one())
        else:
            with _checked_or_said(table):
                session.connection().execute(insert(table), values)
    make_transient_to_detached(row)
    session.add(row)  # its own from here on: what is changed of it later is written
    note_written(session, row)


@contextmanager
def _checked_or_said(table: Table) -> Iterator[None]:
    """Turns a figure that the table's own checks refuse into a sentence beside its field: a page
    asks earlier and says more, but not every page asks of every figure. Raises RuleBroken."""
    try:
        yield
    except IntegrityError as reason:
        said = str(reason.orig)
        for one in table.constraints:
            if isinstance(one, CheckConstraint) and str(one.name) in said:
                named = re.findall(r"[a-z_]+", str(one.sqltext))
                column = next((word for word in named if word in table.c), "")
                raise RuleBroken("That cannot be so; look at the figure.", column) from reason
        raise


_ENTRIES = cast(Table, Entry.__table__)
_NAMED = (
    update(_ENTRIES).where(_ENTRIES.c.seq == bindparam("of")).values(fact_id=bindparam("fact"))
)


def _name(session: Session, row: Entry, fact_id: int) -> None:
    session.connection().execute(_NAMED, {"of": row.seq, "fact": fact_id})
    set_committed_value(row, "fact_id", fact_id)


def check_fits(row: Entry, note: str = "") -> None:
    """Refuse what a column cannot hold: one engine would break off, the other keep it in silence.

    Raises RuleBroken beside the field that is named like the column.
    """
    _check_fits("note", Entry.note.type, note)
    for column in type(row).__mapper__.columns:
        _check_fits(column.key, column.type, getattr(row, column.key, None))


def _check_fits(name: str, kind: object, value: object) -> None:
    if isinstance(value, str) and isinstance(kind, String):
        if kind.length is not None and len(value) > kind.length:
            raise RuleBroken(
                f"That is too long: {len(value):,} letters, and {kind.length} can be kept.",
                field=name,
            )
        if "\0" in value:
            raise RuleBroken("There is a sign in it that cannot be kept.", field=name)
    elif isinstance(value, int) and abs(value) > LARGEST_WHOLE_NUMBER:
        raise RuleBroken(f"More than {LARGEST_WHOLE_NUMBER:,} cannot be kept.", field=name)


def use_case(
    function: Callable[Concatenate[Book, Facts], int],
) -> Callable[..., int]:
    """Wrap a function that writes in a Book into one transaction with one receipt."""

    @functools.wraps(function)
    def run(session: Session, *, posting: Posting, **facts: Any) -> int:
        with _kept_or_said(), transaction(session):
            receipt = None
            if posting.key is not None:
                earlier = session.scalars(
                    select(Receipt).where(Receipt.key == posting.key)
                ).one_or_none()
                if earlier is not None:
                    return _same_answer(earlier, posting)
                receipt = Receipt(
                    key=posting.key, body_hash=posting.body_hash, received_at=posting.now
                )
                session.add(receipt)
                session.flush()
            book = Book(session, posting, receipt)
            answer = function(book, **facts)  # type: ignore[call-arg]
            refuse_what_cannot_be(session, book.entered)
            if receipt is not None:
                receipt.answer = answer
            return answer

    return run


# What SQLite says where the fault is the machine's and not the program's, and what a keeper can do.
CANNOT_KEEP = {
    "disk is full": "The disk of the machine that keeps the records is full: make room on it",
    "database is locked": "Another program is holding the records: wait until it has finished",
    "readonly database": "The records cannot be written to: look at the folder's permissions",
    "disk I/O error": "The disk that keeps the records fails: make a copy elsewhere and change it",
}


@contextmanager
def _kept_or_said() -> Iterator[None]:
    """Turns a full, locked or failing disk into a sentence. Raises NotKept."""
    try:
        yield
    except OperationalError as reason:
        for said, sentence in CANNOT_KEEP.items():
            if said in str(reason.orig):
                raise NotKept(f"Nothing was stored. {sentence}, then send this again.") from reason
        raise


def _same_answer(earlier: Receipt, posting: Posting) -> int:
    if earlier.body_hash != posting.body_hash or earlier.answer is None:
        raise KeyUsedAgain(earlier.answer)
    return earlier.answer
