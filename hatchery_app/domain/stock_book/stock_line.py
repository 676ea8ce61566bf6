"""One holding's line through the stock book: what each entry does to what is there.

A count stands for what is there. What it finds gone is a gap between two looks, what it finds
more raises what came in; neither is entered as if it had been seen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from hatchery_app.domain.how_many import FIRMNESS, Basis, HowMany
from hatchery_app.domain.stock_book.stock_entry import LOSSES, Count, Movement
from hatchery_app.domain.when import When

NOTHING = HowMany.counted(0)


@dataclass(frozen=True)
class Gap:
    """Fish a count no longer found, lost at some moment between two looks; no body was seen."""

    number: HowMany
    when: When


@dataclass(frozen=True)
class Row:
    """One line of a holding's book: the entry, what stood before, what stands after.

    `gap` is what a count found missing, `raised` by how many it (or an exit above the best
    estimate) raises what came in. `returned` are those coming in who had been here before.
    `impossible` marks more leaving than can have been there.
    """

    entry: Movement | Count
    before: HowMany
    after: HowMany
    gap: Gap | None = None
    raised: int = 0
    returned: int = 0
    impossible: bool = False

    @property
    def change(self) -> int | None:
        """By how many the balance changed, None where either side is not known."""
        if self.before.best is None or self.after.best is None:
            return None
        return self.after.best - self.before.best


def holds_the_book(row: Row) -> bool:
    """Whether a count's own range holds what the book had: then it shows no loss by itself."""
    number, before = row.entry.number, row.before.best
    if number.basis is not Basis.ESTIMATED or before is None:
        return False
    return number.least <= before <= (number.most or 0)


class RunningLine:
    """One holding's running figures while its entries are written in order.

    Moves to and from the holdings `inside` are neither a leaving nor a start. `are_own(other, at)`
    says whether all fish that another holding had until then came out of this one.
    """

    def __init__(
        self, inside: frozenset[int], are_own: Callable[[int, datetime], bool]
    ) -> None:
        self.inside, self.are_own = inside, are_own
        self.now = self.start = self.lost = self.left_alive = self.unexplained = NOTHING
        self.moved_inside = self.came_inside = NOTHING
        self.last_look: When | None = None
        self.lent: dict[int, int] = {}  # counted fish moved to each other holding, not yet back

    def write(self, entry: Movement | Count, holding: int) -> Row:
        """The entry's row; the figures then stand after it."""
        if isinstance(entry, Count):
            return self._look(entry)
        if entry.into == holding:
            return self._come_in(entry)
        return self._leave(entry)

    def _come_in(self, entry: Movement) -> Row:
        before = self.now
        if self.last_look is None or before.best == 0:
            self.last_look = entry.when
        self.now = before + entry.number
        returned = 0
        if entry.out_of in self.inside:
            self.came_inside += entry.number
        elif returned := self._returned(entry):
            self.left_alive = _less(self.left_alive, HowMany.counted(returned))
            self.start += entry.number - HowMany.counted(returned)
        else:
            self.start += entry.number
        return Row(entry, before, self.now, returned=returned)

    def _returned(self, entry: Movement) -> int:
        """How many were here before: fish split off and put back are no new start. Out of a tank
        with others among them nobody can say who came back."""
        source = entry.out_of
        if source is None or not _is_counted(entry.number):
            return 0
        if not self.lent.get(source) or not self.are_own(source, entry.moment):
            return 0
        returned = min(entry.number.least, self.lent[source])
        self.lent[source] -= returned
        return returned

    def _leave(self, entry: Movement) -> Row:
        before = self.now
        impossible = is_more_than_there(entry.number, before)
        raised = 0
        if entry.number.best is not None and before.best is not None:
            raised = max(0, entry.number.best - before.best)
        if raised:
            self._raise(raised, entry.number)
        self.now = _less(self.now, entry.number)
        if entry.into is not None and entry.into in self.inside:
            self.moved_inside += entry.number
        elif entry.door in LOSSES:
            self.lost += entry.number
        else:
            self.left_alive += entry.number
            if entry.into is not None and _is_counted(entry.number):
                self.lent[entry.into] = self.lent.get(entry.into, 0) + entry.number.least
        return Row(entry, before, self.now, raised=raised, impossible=impossible)

    def _look(self, entry: Count) -> Row:
        before = self.now
        settled = _settled_number(before, entry.number)
        if settled is None:
            return Row(entry, before, before)
        gap, raised = None, rise_above(before, settled)
        if raised:
            self._raise(raised, settled)
        else:
            gap = self._missing(before, settled, entry.when)
        if entry.is_start:
            self._take_as_start(settled)
        if self.start.basis is Basis.AT_LEAST:
            self.start = HowMany.at_least(max(self.start.least, self._accounted(settled.least)))
        self.now = settled
        if entry.is_full:
            self.last_look = entry.when
        return Row(entry, before, settled, gap=gap, raised=raised)

    def _take_as_start(self, here: HowMany) -> None:
        """So many were put in: those here, with what has gone by its doors since.

        Left as it is where the start is known, is surely more, or came partly from batches that
        are counted together with this one.
        """
        if self.start.best is not None or self.came_inside != NOTHING:
            return
        gone = self.lost + self.left_alive + self.moved_inside + self.unexplained
        put_in = here + gone
        if put_in.best is not None and put_in.best >= self.start.least:
            self.start = put_in

    def _missing(self, before: HowMany, number: HowMany, when: When) -> Gap | None:
        if number.best is None:
            return None
        gone: HowMany | None = None
        if before.best is not None and before.best > number.best:
            gone = before - number
        elif before.best is None and number.most is not None and before.least > number.most:
            gone = HowMany.at_least(before.least - number.most)
        if gone is None:
            return None
        self.unexplained += gone
        since = self.last_look.earliest if self.last_look else when.earliest
        return Gap(gone, When.between(min(since, when.latest), when.latest))

    def _raise(self, by: int, number: HowMany) -> None:
        """More were there than the book had: what came in is raised, and so is what is there."""
        floor = self._accounted(number.least)
        self.start = _raised(self.start, by, number, self.now, floor)
        self.now = _raised(self.now, by, number, self.now, number.least)

    def _accounted(self, here: int) -> int:
        """The fewest that can have come in from outside, with so many here now."""
        went = self.lost.least + self.left_alive.least + self.moved_inside.least
        if self.came_inside.most is None:
            return 0
        return max(0, here + went - self.came_inside.most)


def _is_counted(number: HowMany) -> bool:
    return number.basis is Basis.COUNTED


def is_more_than_there(number: HowMany, there: HowMany) -> bool:
    """Whether more would leave than a counted balance or an estimate's upper bound allows."""
    fewest_leaving = number.least if number.best is None else number.best
    return there.most is not None and fewest_leaving > there.most


def rise_above(before: HowMany, number: HowMany) -> int:
    """By how many a number that stands is above the book; 0 where the book has no limit."""
    limit = before.best if before.best is not None else before.most
    if number.best is None or limit is None:
        return 0
    return max(0, number.best - limit)


def _settled_number(before: HowMany, seen: HowMany) -> HowMany | None:
    """The balance after a look; None where the look does not change what the book has.

    A count stands. An estimate stands too, unless it lies above a counted number that fits it.
    "About" gives way to a count or estimate. "At least" only lifts the lower bound.
    """
    firm = before.basis in (Basis.COUNTED, Basis.ESTIMATED)
    if seen.basis is Basis.COUNTED:
        return seen
    if seen.basis is Basis.ESTIMATED:
        counted_fits = before.basis is Basis.COUNTED and (
            seen.least <= (before.best or 0) <= (seen.best or 0)
        )
        return None if counted_fits else seen
    if seen.basis is Basis.ABOUT:
        return None if firm else seen
    if seen.basis is Basis.AT_LEAST:
        return _lifted(before, seen.least)
    return None


def _lifted(before: HowMany, least: int) -> HowMany | None:
    """The balance when at least so many were seen."""
    if least <= before.least:
        return None
    if before.best is not None and least > before.best:
        return HowMany(least, least, None, Basis.ABOUT)
    if before.best is not None:
        return replace(before, low=least)
    most = before.most if before.most is None or before.most >= least else None
    return HowMany(None, least, most, Basis.AT_LEAST)


def _less(there: HowMany, number: HowMany) -> HowMany:
    """What is left; where more leave than can be there, none."""
    if there.most is not None and number.least > there.most:
        return NOTHING
    return there - number


def _raised(start: HowMany, by: int, number: HowMany, before: HowMany, floor: int) -> HowMany:
    """A start that turned out too low: raised, with the bounds that still can be said."""
    if start.best is None:
        if start.basis is Basis.UNKNOWN:
            return HowMany.unknown()
        return HowMany.at_least(max(start.least, floor))
    best = start.best + by
    bases = (start.basis, number.basis, before.basis)
    if all(basis is Basis.COUNTED for basis in bases):
        return HowMany.counted(best)
    low = min(best, max(start.least, floor))
    if start.most is None or number.most is None or before.most is None:
        return HowMany(best, low or None, None, Basis.ABOUT)
    most = max(best, start.most + max(0, number.most - before.most))
    basis = max(bases, key=FIRMNESS.index)
    return HowMany(best, low, most, Basis.ABOUT if basis is Basis.ABOUT else Basis.ESTIMATED)
