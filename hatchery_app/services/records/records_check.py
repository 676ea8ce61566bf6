"""Whether the books are sound: every entry has its fact, every fact one current entry, every
reference something that stands, every holding no fewer fish than none."""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, exists, func, select
from sqlalchemy.orm import Session, aliased

from hatchery_app.models.clutch import Hatch
from hatchery_app.models.entry import Entry, known
from hatchery_app.services.records.record_order import RULES, clashes
from hatchery_app.services.records.record_references import pointers
from hatchery_app.services.records.room import find_room
from hatchery_app.services.stock_book.holding_facts import load_stock

NAMED = 5


@dataclass(frozen=True)
class Checked:
    """How much was looked at, and what is wrong; nothing where the books are sound."""

    entries: int
    facts: int
    wrong: tuple[str, ...]


def check_books(session: Session) -> Checked:
    """Look through all entries. Reads the whole book."""
    entries = session.scalar(select(func.count()).select_from(Entry)) or 0
    facts = session.scalar(select(func.count(Entry.fact_id.distinct()))) or 0
    wrong = [
        *_entries_that_hang_loose(session),
        *_rows_without_their_kind(session),
        *_references_to_nothing(session),
        *_wrong_order(session),
        *_nights_the_wrong_way(session),
        *_stock_below_nothing(session),
    ]
    return Checked(entries, facts, tuple(wrong))


def _told(session: Session, query: Select[Any], what: str) -> list[str]:
    found = list(session.scalars(query))
    if not found:
        return []
    named = ", ".join(str(one) for one in found[:NAMED])
    return [f"{what}: {named}" + (f" and {len(found) - NAMED} more" if found[NAMED:] else "")]


def _entries_that_hang_loose(session: Session) -> list[str]:
    later = aliased(Entry)
    replaced_by_another = (
        select(Entry.seq)
        .join(later, later.seq == Entry.superseded_seq)
        .where((later.fact_id != Entry.fact_id) | (later.seq <= Entry.seq))
    )
    current = aliased(Entry)
    nothing_current = (
        select(Entry.fact_id)
        .where(
            Entry.fact_id.is_not(None),
            ~exists().where(current.fact_id == Entry.fact_id, known(of=current)),
        )
        .distinct()
    )
    two_current = (
        select(Entry.fact_id)
        .where(Entry.fact_id.is_not(None), known())
        .group_by(Entry.fact_id)
        .having(func.count() > 1)
    )
    return [
        *_told(session, select(Entry.seq).where(Entry.fact_id.is_(None)), "entries without a fact"),
        *_told(session, nothing_current, "facts without a current entry"),
        *_told(session, two_current, "facts with two current entries"),
        *_told(session, replaced_by_another, "entries replaced by what is not their correction"),
    ]


def _rows_without_their_kind(session: Session) -> list[str]:
    wrong: list[str] = []
    for mapper in Entry.__mapper__.self_and_descendants:
        table = mapper.local_table
        if table is Entry.__table__:
            continue
        missing: Select[Any] = select(Entry.seq).where(
            Entry.kind == mapper.polymorphic_identity,
            ~exists().where(table.c.seq == Entry.seq),
        )
        wrong += _told(session, missing, f"entries without their {mapper.polymorphic_identity}")
    return wrong


def _references_to_nothing(session: Session) -> list[str]:
    wrong: list[str] = []
    target = aliased(Entry)
    for pointer in pointers():
        if pointer.is_list:
            continue
        table = pointer.model.__table__
        column: ColumnElement[int] = table.c[pointer.column]
        stands = and_(target.fact_id == column, known(of=target), target.kind != "withdrawal")
        lost = (
            select(table.c.seq)
            .join(Entry, Entry.seq == table.c.seq)
            .where(known(), column.is_not(None), ~exists().where(stands))
        )
        wrong += _told(session, lost, f"{pointer.named} of what does not stand")
    return wrong


def _wrong_order(session: Session) -> list[str]:
    kinds = {rule.earlier for rule in RULES}
    found = sorted(clashes(session, kinds))
    named = ", ".join(f"{later} before {earlier}" for earlier, later in found[:NAMED])
    return [f"entries in an order that cannot be: {named}"] if found else []


def _nights_the_wrong_way(session: Session) -> list[str]:
    turned = select(Hatch.seq).where(Hatch.last_night_on < Hatch.night_on)
    return _told(session, turned, "hatches whose last night lies before their first")


def _stock_below_nothing(session: Session) -> list[str]:
    room = find_room(session)
    if room is None:
        return []
    stock = load_stock(session, room)
    below = [
        holding.name
        for holding in stock.holdings.values()
        if any(row.impossible for row in stock.rows(holding.id))
    ]
    return [f"more fish left than were there: {', '.join(below[:NAMED])}"] if below else []
