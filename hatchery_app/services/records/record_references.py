"""Which entries point to which: read off the tables themselves, so that none can be forgotten."""

import functools
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Select,
    String,
    bindparam,
    literal,
    or_,
    select,
    union_all,
)
from sqlalchemy.orm import Session, selectin_polymorphic
from sqlalchemy.sql.base import ExecutableOption

from hatchery_app.models.entry import Entry, known
from hatchery_app.services.records.record_kinds import kind_named

FACTS_ASKED_AT_ONCE = 100
OF_THE_ENTRY = frozenset({"seq", "fact_id", "superseded_seq"})


@dataclass(frozen=True)
class Pointer:
    """A column of a kind that holds the name of another fact, or (`is_list`) several in a text."""

    model: type[Entry]
    column: str
    is_list: bool = False

    @property
    def named(self) -> str:
        """The column as a complaint names it."""
        return f"{self.column} in {self.model.__tablename__}"


@dataclass(frozen=True)
class Reference:
    """A current entry that points to a fact."""

    seq: int
    fact_id: int
    kind: str
    column: str


@functools.cache
def pointers() -> tuple[Pointer, ...]:
    """Every column that points to a fact."""
    found = []
    for mapper in Entry.__mapper__.self_and_descendants:
        if mapper.local_table is Entry.__table__:
            continue
        for column in mapper.local_table.columns:
            points = any(key.column is Entry.__table__.c.seq for key in column.foreign_keys)
            if points and column.name not in OF_THE_ENTRY:
                found.append(Pointer(mapper.class_, column.name))
            elif column.name.endswith("_ids") and isinstance(column.type, String):
                found.append(Pointer(mapper.class_, column.name, is_list=True))
    return tuple(found)


def facts_named_by(row: Entry) -> tuple[int, ...]:
    """Every fact an entry points to."""
    named: list[int] = []
    for pointer in pointers():
        if not isinstance(row, pointer.model):
            continue
        value = getattr(row, pointer.column)
        if pointer.is_list:
            named += [int(one) for one in (value or "").split(",") if one]
        elif value is not None:
            named.append(value)
    return tuple(dict.fromkeys(named))


def references_to(session: Session, fact_ids: Collection[int]) -> tuple[Reference, ...]:
    """The current entries that point to any of these facts. One statement for each hundred: a
    statement holds so many figures and no more, and each is asked of every column."""
    found: dict[tuple[int, str], Reference] = {}
    wanted = sorted(fact_ids)
    for first in range(0, len(wanted), FACTS_ASKED_AT_ONCE):
        some = wanted[first : first + FACTS_ASKED_AT_ONCE]
        in_lists = (_pointing(one, _in_list(one, some)) for one in pointers() if one.is_list)
        for row in session.execute(union_all(*_by_number(), *in_lists), {"named": some}):
            found[row.seq, row.column] = Reference(row.seq, row.fact_id, row.kind, row.column)
    return tuple(sorted(found.values(), key=lambda one: one.seq))


Pointing = Select[tuple[int, int, str, str]]


@functools.cache
def _by_number() -> tuple[Pointing, ...]:
    """The entries that point to one fact, among those handed in as `named`: made once, as there
    are eighty such columns."""
    named: BindParameter[int] = bindparam("named", expanding=True)
    return tuple(
        _pointing(one, one.model.__table__.c[one.column].in_(named))
        for one in pointers()
        if not one.is_list
    )


def _in_list(pointer: Pointer, fact_ids: Collection[int]) -> ColumnElement[bool]:
    listed = literal(",") + pointer.model.__table__.c[pointer.column] + literal(",")
    return or_(*(listed.contains(f",{fact_id},") for fact_id in sorted(fact_ids)))


def _pointing(pointer: Pointer, hit: ColumnElement[bool]) -> Pointing:
    table = pointer.model.__table__
    return (
        select(table.c.seq, Entry.fact_id, Entry.kind, literal(pointer.column).label("column"))
        .join(Entry, Entry.seq == table.c.seq)
        .where(known(), hit)
    )


def hanging_on(session: Session, facts: Iterable[int]) -> dict[int, Entry]:
    """Every current entry that is about these facts, or about what is about them, by fact."""
    found: dict[int, Entry] = {}
    newest = set(facts)
    seen = set(newest)
    while newest:
        hanging = {
            one.fact_id
            for one in references_to(session, newest)
            if one.column in kind_named(one.kind).about and one.fact_id not in seen
        }
        found |= {row.fact: row for row in current_rows(session, hanging)}
        seen |= hanging
        newest = hanging
    return found


def current_rows(session: Session, fact_ids: Iterable[int]) -> list[Entry]:
    """The current entries of some facts, in the order they were written."""
    wanted = sorted(set(fact_ids))
    return list(
        session.scalars(
            select(Entry)
            .options(whole_entries())
            .where(Entry.fact_id.in_(wanted), known())
            .order_by(Entry.seq)
        )
    )


def whole_entries() -> ExecutableOption:
    """Load entries with the columns of their own kind: one statement a kind, not one a row."""
    models = [
        mapper.class_
        for mapper in Entry.__mapper__.self_and_descendants
        if mapper.local_table is not Entry.__table__
    ]
    return selectin_polymorphic(Entry, models)
