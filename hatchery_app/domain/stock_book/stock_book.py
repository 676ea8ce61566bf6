"""The stock book: every fish accounted for, from the door it came in by to the one it left by.

Movements take whole numbers (`best`) between holdings, or in and out by a named door; the bounds
travel beside them. A count says what is there: what the book then cannot account for is worked
out, shown as unexplained, and never entered as if it had been seen. A holding of unknown number
has bounds and no balance.

What happened at a vague moment is put where it makes the fewest false contradictions: fish come
into a holding at the earliest it can have been and leave it at the latest, a loss whose band ends
with a count lies before that count, and exact entries of one instant stand as they were entered.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.stock_book.stock_entry import (
    BETWEEN,
    ENTRANCES,
    LOSSES,
    Count,
    Door,
    Holding,
    Movement,
    Rise,
    Stage,
)
from hatchery_app.domain.stock_book.stock_line import NOTHING, Gap, Row, RunningLine
from hatchery_app.domain.when import RoomTime

__all__ = [
    "BETWEEN",
    "ENTRANCES",
    "LOSSES",
    "Balance",
    "Count",
    "Door",
    "Gap",
    "Holding",
    "Movement",
    "Rise",
    "Row",
    "Stage",
    "StockBook",
    "balance",
    "balance_together",
    "rows",
]

CLOCK_OF_NO_ROOM = RoomTime("UTC")


@dataclass(frozen=True)
class Balance:
    """A holding, or several together, at a moment.

    Where the start is known: start = now + lost + left alive + unexplained, in whole fish.
    `start` is all that came in, raised by those missed earlier; `lost` went by the doors died,
    missing, put down and eaten; `left_alive` by moved, kept, sold, replaced, given away and
    sampled; `unexplained` is what counts found gone, in `gaps`.
    """

    now: HowMany
    start: HowMany
    lost: HowMany
    left_alive: HowMany
    unexplained: HowMany
    gaps: tuple[Gap, ...] = ()

    @property
    def best(self) -> int | None:
        """The whole number the book moves; None when there is no balance."""
        return self.now.best

    @property
    def low(self) -> int | None:
        """The fewest there can be."""
        return self.now.low

    @property
    def high(self) -> int | None:
        """The most there can be."""
        return self.now.high

    @property
    def basis(self) -> Basis:
        """How the number was got."""
        return self.now.basis


@dataclass(frozen=True)
class StockBook:
    """All that is entered about some holdings, and the room's clock for the sentences."""

    holdings: tuple[Holding, ...]
    movements: tuple[Movement, ...] = ()
    counts: tuple[Count, ...] = ()
    room_time: RoomTime = CLOCK_OF_NO_ROOM

    def holding(self, holding_id: int) -> Holding:
        """The holding of this id. Raises NotKnown."""
        found = self._by_id.get(holding_id)
        if found is None:
            raise NotKnown("This holding does not stand in the stock book.")
        return found

    def balance(self, holding_id: int, as_of: datetime | None = None) -> Balance:
        """One holding at a moment, or after all that is entered."""
        return self._entries.balance((self.holding(holding_id).id,), as_of)

    def rows(self, holding_id: int, as_of: datetime | None = None) -> tuple[Row, ...]:
        """One holding's book in order, with the running balance."""
        return self._entries.rows(self.holding(holding_id).id, as_of)

    def together(self, holding_ids: Iterable[int], as_of: datetime | None = None) -> Balance:
        """Several holdings as one: a clutch over its tanks, a pair, a species, the room."""
        return self._entries.balance(tuple(self.holding(one).id for one in holding_ids), as_of)

    # Looked up, not searched: a page asks after every holding of years.
    @cached_property
    def _by_id(self) -> dict[int, Holding]:
        return {holding.id: holding for holding in reversed(self.holdings)}

    @cached_property
    def _entries(self) -> _Entries:
        return _Entries(self.movements, self.counts)

    def with_entry(self, entry: Movement | Count) -> StockBook:
        """The book with one more entry."""
        if isinstance(entry, Count):
            return replace(self, counts=(*self.counts, entry))
        return replace(self, movements=(*self.movements, entry))

    def without(self, seq: int) -> StockBook:
        """The book with one entry withdrawn."""
        return replace(
            self,
            movements=tuple(entry for entry in self.movements if entry.seq != seq),
            counts=tuple(entry for entry in self.counts if entry.seq != seq),
        )


def rows(
    holding: int,
    movements: Iterable[Movement],
    counts: Iterable[Count],
    as_of: datetime | None = None,
) -> tuple[Row, ...]:
    """A holding's entries in order, each with the balance before and after it.

    The order: by the earliest moment for fish coming in, by the latest for those leaving and for
    counts; at one instant vague exits, then exact entries by `seq`, then vague entrances.
    """
    return _Entries(movements, counts).rows(holding, as_of)


def balance(
    holding: int,
    movements: Iterable[Movement],
    counts: Iterable[Count],
    as_of: datetime | None = None,
) -> Balance:
    """What one holding holds at a moment (`as_of`, UTC), or after every entry.

    An entry of a vague moment stands from the earliest if fish went into a holding, else from
    the latest; a move stands in both its holdings from the same moment.
    """
    return balance_together((holding,), movements, counts, as_of)


def balance_together(
    holdings: Sequence[int],
    movements: Iterable[Movement],
    counts: Iterable[Count],
    as_of: datetime | None = None,
) -> Balance:
    """Several holdings as one: moves between them are neither a start nor a leaving."""
    return _Entries(movements, counts).balance(holdings, as_of)


class _Entries:
    """The entries of a book by the holdings they touch."""

    def __init__(self, movements: Iterable[Movement], counts: Iterable[Count]) -> None:
        self._touching: dict[int, list[Movement | Count]] = defaultdict(list)
        for movement in movements:
            for end in {movement.out_of, movement.into}:
                if end is not None:
                    self._touching[end].append(movement)
        for count in counts:
            self._touching[count.holding].append(count)

    def of(self, holding: int, as_of: datetime | None) -> list[Movement | Count]:
        """A holding's entries in the order of its book."""
        mine = self._touching.get(holding, [])
        stood = [entry for entry in mine if as_of is None or entry.moment <= as_of]
        return sorted(stood, key=lambda entry: _place(entry, holding))

    def _line(self, holding: int, inside: frozenset[int] = frozenset()) -> RunningLine:
        return RunningLine(inside, lambda other, at: self._are_all_of(holding, other, at))

    def _are_all_of(self, holding: int, other: int, at: datetime) -> bool:
        return all(
            entry.out_of == holding
            for entry in self._touching.get(other, ())
            if isinstance(entry, Movement) and entry.into == other and entry.moment <= at
        )

    def rows(self, holding: int, as_of: datetime | None) -> tuple[Row, ...]:
        line = self._line(holding)
        return tuple(line.write(entry, holding) for entry in self.of(holding, as_of))

    def balance(self, holdings: Sequence[int], as_of: datetime | None) -> Balance:
        inside = frozenset(holdings)
        now = start = lost = left_alive = unexplained = NOTHING
        gaps: list[Gap] = []
        for holding in holdings:
            line = self._line(holding, inside)
            for entry in self.of(holding, as_of):
                row = line.write(entry, holding)
                gaps += [row.gap] if row.gap else []
            now, start, lost = now + line.now, start + line.start, lost + line.lost
            left_alive, unexplained = left_alive + line.left_alive, unexplained + line.unexplained
        gaps.sort(key=lambda gap: gap.when.latest)
        return Balance(now, start, lost, left_alive, unexplained, tuple(gaps))


def _place(entry: Movement | Count, holding: int) -> tuple[datetime, int, int]:
    """Where an entry stands in a holding's book; see `rows`."""
    comes_in = isinstance(entry, Movement) and entry.into == holding
    if comes_in:
        return entry.when.earliest, 1 if entry.when.is_exact else 2, entry.seq
    vague_exit = isinstance(entry, Movement) and not entry.when.is_exact
    return entry.when.latest, 0 if vague_exit else 1, entry.seq
