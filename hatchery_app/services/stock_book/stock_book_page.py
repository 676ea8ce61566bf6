"""The stock book as a page: what is held, what moved last, and what no count explains."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Balance, Count, Gap, Movement, Row
from hatchery_app.domain.when import When
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Moved, StockCount
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.remembering import Remembered
from hatchery_app.services.stock_book.every_batch import batches_held
from hatchery_app.services.stock_book.held_beside import HeldBeside, held_beside
from hatchery_app.services.stock_book.holding_facts import (
    HoldingFacts,
    Stock,
    Told,
    load_stock,
)

A_PAGE = 50


@dataclass(frozen=True)
class Held:
    """A holding that is not empty, with its balance."""

    holding: HoldingFacts
    balance: Balance


@dataclass(frozen=True)
class After:
    """What a holding held after a line: its running balance, and what a count found gone."""

    holding: HoldingFacts
    number: HowMany
    gap: Gap | None
    raised: int


@dataclass(frozen=True)
class StockLine:
    """One line of the book: fish through a door, or a count. `door` is "" for a count."""

    fact_id: int
    when: When
    door: str
    number: HowMany
    out_of: HoldingFacts | None
    into: HoldingFacts | None
    reason: str
    note: str
    after: tuple[After, ...]


@dataclass(frozen=True, eq=False)  # told apart by itself: its words are worked out once
class StockBookPage:
    """Balances, fifty lines of the book newest first, and the gaps of what is held. `beside` are
    eggs and breeding fish; None on an older page."""

    held: tuple[Held, ...]
    beside: HeldBeside | None
    lines: tuple[StockLine, ...]
    page: int
    has_older: bool


remembered: Remembered[StockBookPage] = Remembered()


def stock_book_page(session: Session, *, now: datetime, page: int = 1) -> StockBookPage:
    """One page of the book. A fixed number of statements, however long the book is; one where it
    was asked since the last entry."""
    page = max(1, page)
    return remembered.answer(session, (page, now.date()), lambda: _work(session, now, page))


def _work(session: Session, now: datetime, page: int) -> StockBookPage:
    room = room_now(session)
    entries = list(
        session.execute(
            select(Entry.fact_id, Entry.kind)
            .where(known(), Entry.kind.in_(("moved", "stock_count")))
            .order_by(Entry.happened_latest.desc(), Entry.fact_id.desc())
            .limit(A_PAGE + 1)
            .offset((page - 1) * A_PAGE)
        )
    )
    shown = [fact_id for fact_id, _kind in entries[:A_PAGE] if fact_id is not None]
    named = load_stock(session, room, holding_ids=_holdings_of(session, shown))
    return StockBookPage(
        _held(session, room) if page == 1 else (),
        held_beside(session) if page == 1 else None,
        _lines(named, shown),
        page,
        len(entries) > A_PAGE,
    )


def _held(session: Session, room: RoomNow) -> tuple[Held, ...]:
    """What is not empty, in walking order."""
    stock = load_stock(session, room, holding_ids=batches_held(session, room))
    return tuple(Held(one, stock.balance(one.id)) for one in stock.open())


def _holdings_of(session: Session, fact_ids: Iterable[int]) -> set[int]:
    ids = list(fact_ids)
    ends = session.execute(
        select(Moved.out_of_id, Moved.into_id).where(known(), Moved.fact_id.in_(ids))
    )
    found = {one for pair in ends for one in pair if one is not None}
    counted = session.scalars(
        select(StockCount.holding_id).where(known(), StockCount.fact_id.in_(ids))
    )
    return found | set(counted)


def _lines(stock: Stock, fact_ids: list[int]) -> tuple[StockLine, ...]:
    rows: dict[int, list[tuple[HoldingFacts, Row]]] = {}
    for holding in stock.holdings.values():
        for row in stock.rows(holding.id):
            rows.setdefault(row.entry.seq, []).append((holding, row))
    return tuple(
        line_of(stock.told, stock.holdings, rows[fact_id])
        for fact_id in fact_ids
        if fact_id in rows
    )


def line_of(
    told: Mapping[int, Told],
    named: Mapping[int, HoldingFacts],
    rows: Sequence[tuple[HoldingFacts, Row]],
) -> StockLine:
    """One entry as a line, from its rows in the books of the holdings it touches."""
    entry = rows[0][1].entry
    said = told.get(entry.seq)
    moved = entry if isinstance(entry, Movement) else None
    return StockLine(
        fact_id=entry.seq,
        when=entry.when,
        door=moved.door.value if moved is not None else "",
        number=entry.number,
        out_of=named.get(moved.out_of or 0) if moved is not None else None,
        into=named.get(moved.into or 0) if moved is not None else None,
        reason=moved.reason if moved is not None else "",
        note=said.note if said is not None else "",
        after=tuple(After(holding, row.after, row.gap, row.raised) for holding, row in rows),
    )


def other_ends(entries: Iterable[Movement | Count], holding_id: int) -> set[int]:
    """The holdings at the other ends of a holding's movements."""
    ends = {end for one in entries if isinstance(one, Movement) for end in (one.out_of, one.into)}
    return {end for end in ends if end is not None and end != holding_id}
