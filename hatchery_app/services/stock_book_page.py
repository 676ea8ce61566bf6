"""The stock book as a page: what is held, what moved last, and what no count explains."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book import Balance, Gap, Movement, Row
from hatchery_app.domain.when import When
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Moved, StockCount
from hatchery_app.services.holding_facts import HoldingFacts, Stock, load_stock
from hatchery_app.services.room import room_now

A_PAGE = 50
STILL_HELD = timedelta(days=3 * 366)  # no batch or cohort is kept as one for longer


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


@dataclass(frozen=True)
class StockBookPage:
    """Balances, fifty lines of the book newest first, and the gaps of what is held."""

    held: tuple[Held, ...]
    lines: tuple[StockLine, ...]
    page: int
    has_older: bool


def stock_book_page(session: Session, *, now: datetime, page: int = 1) -> StockBookPage:
    """One page of the book. A fixed number of statements, however long the book is."""
    room = room_now(session)
    page = max(1, page)
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
    all_held = load_stock(session, room, began_since=now - STILL_HELD)
    return StockBookPage(
        tuple(Held(one, all_held.balance(one.id)) for one in all_held.open()),
        _lines(named, shown),
        page,
        len(entries) > A_PAGE,
    )


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
    return tuple(_line(stock, rows[fact_id]) for fact_id in fact_ids if fact_id in rows)


def _line(stock: Stock, rows: list[tuple[HoldingFacts, Row]]) -> StockLine:
    entry = rows[0][1].entry
    told = stock.told.get(entry.seq)
    return StockLine(
        fact_id=entry.seq,
        when=entry.when,
        door=entry.door.value if isinstance(entry, Movement) else "",
        number=entry.number,
        out_of=_named(stock, entry.out_of) if isinstance(entry, Movement) else None,
        into=_named(stock, entry.into) if isinstance(entry, Movement) else None,
        reason=entry.reason if isinstance(entry, Movement) else "",
        note=told.note if told is not None else "",
        after=tuple(
            After(holding, row.after, row.gap, row.raised)
            for holding, row in rows
        ),
    )


def _named(stock: Stock, holding_id: int | None) -> HoldingFacts | None:
    return stock.holdings.get(holding_id) if holding_id is not None else None
