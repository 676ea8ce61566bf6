"""A batch from its hatch on: what came in, what became of it by age, and how it survived.

Ages are days post hatch. A loss known to lie between two looks stands as a band of days and is
never put on the day of the count: a batch's own curve steps only at ages that no such band
straddles, and the curve of several batches is worked out with every loss at its earliest and at
its latest day, between which the truth lies.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from hatchery_app.domain.stock_book.stock_book import Balance, StockBook
from hatchery_app.domain.stock_book.stock_entry import LOSSES, Count, Door, Movement
from hatchery_app.domain.stock_book.stock_line import Row
from hatchery_app.domain.stock_book.survival_curve import CurvePoint, Span, life_table
from hatchery_app.domain.when import When

FEWEST_BATCHES = 5  # below that a curve says more of one bad night than of the species


class Fate(StrEnum):
    """What became of fish that are no longer there."""

    DIED = "died"
    MISSING = "missing"
    PUT_DOWN = "put down"
    LEFT = "left alive"


class Placed(StrEnum):
    """On which day of its band a loss is put, for a curve that must put it somewhere."""

    EARLIEST = "earliest"
    EVENLY = "evenly"
    LATEST = "latest"


@dataclass(frozen=True)
class Going:
    """So many fish that went on one of these days, first and last included, in dph."""

    from_dph: int
    until_dph: int
    number: int
    fate: Fate

    @property
    def is_loss(self) -> bool:
        """Whether they are dead or gone; those put down are."""
        return self.fate is not Fate.LEFT


@dataclass(frozen=True)
class Reared:
    """One batch with every tank its fish alone went on to. `number` came in, in all.

    `from_dph` is its age when the first came in, `until_dph` the age it was last seen at: of
    those still there nothing later is known. `key` is the holding it began in.
    """

    key: int
    number: int
    goings: tuple[Going, ...]
    from_dph: int
    until_dph: int

    @property
    def left_over(self) -> int:
        """Those alive when it was last seen."""
        return self.number - sum(going.number for going in self.goings)

    @property
    def all_dead(self) -> bool:
        """Whether none are left and none left alive: then every later age is known too."""
        lost = sum(going.number for going in self.goings if going.is_loss)
        return self.number > 0 and lost == self.number

    def is_followed_at(self, dph: int) -> bool:
        """Whether it is known how many of it lived at this age."""
        return self.all_dead or dph <= self.until_dph

    def here_at(self, dph: int) -> tuple[int, int]:
        """The fewest and the most still here and alive at the end of a day of age."""
        left = sum(one.number for one in self.goings if not one.is_loss and one.until_dph <= dph)
        losses = [one for one in self.goings if one.is_loss]
        surely = sum(one.number for one in losses if one.until_dph <= dph)
        perhaps = sum(one.number for one in losses if one.from_dph <= dph < one.until_dph)
        most = self.number - left - surely
        return most - perhaps, most

    def left_alive(self, after_dph: int, until_dph: int) -> int:
        """Those that left alive after one age and up to another."""
        return sum(
            one.number
            for one in self.goings
            if not one.is_loss and after_dph < one.until_dph <= until_dph
        )

    def alive_before(self, going: Going) -> int:
        """The most that can have been there as a loss began."""
        gone = sum(one.number for one in self.goings if one.until_dph < going.from_dph)
        return self.number - gone


def descents(holdings: Iterable[int], movements: Iterable[Movement]) -> dict[int, tuple[int, ...]]:
    """Each batch's first holding with all the holdings that only its own fish went on to.

    A holding that took in fish of two batches belongs to neither and begins a line of its own.
    """
    known = list(holdings)
    sources: dict[int, set[int | None]] = {one: set() for one in known}
    for move in movements:
        if move.into in sources:
            sources[move.into].add(move.out_of if move.out_of in sources else None)
    through = _through(known, sources)
    lines: dict[int, list[int]] = defaultdict(list)
    for one in known:
        lines[min(through[one], key=lambda other: len(through[other]))].append(one)
    return {
        first: tuple(sorted(line, key=lambda one: one != first)) for first, line in lines.items()
    }


def _through(
    known: Sequence[int], sources: Mapping[int, set[int | None]]
) -> dict[int, frozenset[int]]:
    """The holdings that all fish of each one were in at some time, itself among them.

    Fish may go round in a ring that none came into from outside, as where only a count shows that
    there were any: it begins with the first of its holdings.
    """
    begun = [one for one in known if not sources[one] or None in sources[one]]
    found = {one: frozenset((one,)) for one in begun}
    waiting = [one for one in known if one not in found]
    while True:
        changed = False
        for one in waiting:
            came = [found[source] for source in sources[one] if source in found]
            through = frozenset.intersection(*came) | {one} if came else None
            if through is not None and found.get(one) != through:
                found[one], changed = through, True
        if changed:
            continue
        ring = next((one for one in waiting if one not in found), None)
        if ring is None:
            return found
        found[ring] = frozenset((ring,))
        waiting.remove(ring)


def reared(
    book: StockBook, holdings: Sequence[int], dph_at: Callable[[datetime], int]
) -> Reared | None:
    """A line of descent by age; None where a number of it is not known.

    `dph_at` gives the age in days at a moment, which may come out below 0 and counts as 0 then.
    """
    balance = book.together(holdings)
    if not _is_whole(balance):
        return None
    rows = [row for holding in holdings for row in book.rows(holding)]
    seen = [row.entry.when.latest for row in rows]
    inside = frozenset(holdings)
    came = [
        row.entry.when.earliest
        for row in rows
        if isinstance(row.entry, Movement)
        and row.entry.into in inside and row.entry.out_of not in inside
    ]  # fmt: skip
    ordered = goings(book, holdings, dph_at)
    first = max(0, dph_at(min(came or seen)))  # fish that only a count shows came before it
    last = max(first, dph_at(max(seen)), *(going.until_dph for going in ordered))
    # By age those who came back have left and come anew: each time they are under risk once.
    anew = sum(
        row.returned for row in rows
        if isinstance(row.entry, Movement) and row.entry.out_of not in inside
    )  # fmt: skip
    return Reared(holdings[0], (balance.start.best or 0) + anew, ordered, first, last)


def goings(
    book: StockBook, holdings: Sequence[int], dph_at: Callable[[datetime], int]
) -> tuple[Going, ...]:
    """What went of a line of descent, by age, whatever its number was; those of which nobody
    knows how many are left out."""
    inside = frozenset(holdings)
    found: list[Going] = []
    for holding in holdings:
        rows = book.rows(holding)
        ages = _Ages(dph_at, frozenset(row.entry.when.earliest for row in rows if _is_count(row)))
        for row in rows:
            entry = row.entry
            is_out = isinstance(entry, Movement) and entry.into not in inside
            if isinstance(entry, Movement) and is_out and entry.number.best:
                found.append(Going(*ages.of(entry.when), entry.number.best, _fate(entry)))
            if row.gap is not None and row.gap.number.best:
                number = row.gap.number.best
                found.append(Going(*ages.of(row.gap.when), number, Fate.MISSING))
    return tuple(sorted(found, key=lambda one: (one.until_dph, one.from_dph, one.fate)))


def _is_whole(balance: Balance) -> bool:
    parts = (balance.now, balance.start, balance.lost, balance.left_alive, balance.unexplained)
    return all(part.best is not None for part in parts) and bool(balance.start.best)


def _is_count(row: Row) -> bool:
    return isinstance(row.entry, Count) and row.entry.is_full


def _fate(entry: Movement) -> Fate:
    if entry.door in (Door.PUT_DOWN, Door.MISSING):
        return Fate.PUT_DOWN if entry.door is Door.PUT_DOWN else Fate.MISSING
    return Fate.DIED if entry.door in LOSSES else Fate.LEFT


@dataclass(frozen=True)
class _Ages:
    """First and last age of what lies between two moments. A count closes its day: what was lost
    since then counts from the day after, so that survival is known at every count."""

    dph_at: Callable[[datetime], int]
    counted_at: frozenset[datetime]

    def of(self, when: When) -> tuple[int, int]:
        first, last = max(0, self.dph_at(when.earliest)), max(0, self.dph_at(when.latest))
        if when.earliest in self.counted_at and last > first:
            first += 1
        return first, max(first, last)


# --- One batch ----------------------------------------------------------------------------


def spans_between_looks(batch: Reared, *, culls_died: bool = True) -> tuple[Span, ...]:
    """The stretches of days of one batch that no loss or leaving straddles, for a life table.

    Those put down are deaths, as they were not taken at random, unless `culls_died` is False.
    """
    steps = set(range(batch.until_dph + 1))
    for going in batch.goings:
        steps -= set(range(going.from_dph, going.until_dph))
    entering, since = batch.number, -1
    spans = []
    for step in sorted(steps):
        here = [one for one in batch.goings if since < one.until_dph <= step]
        died = sum(one.number for one in here if _counts_dead(one, culls_died))
        left = sum(one.number for one in here) - died
        spans.append(Span(max(0, since), step, entering, died, left))
        entering -= died + left
        since = step
    return tuple(spans)


def batch_curve(batch: Reared, *, culls_died: bool = True) -> tuple[CurvePoint, ...]:
    """Survival of one batch at the ages at which it is known, by the actuarial life table."""
    return life_table(spans_between_looks(batch, culls_died=culls_died))


def share_alive_at(batch: Reared, dph: int) -> tuple[float, float] | None:
    """The least and the greatest share alive at an age; None where it was not followed so far.

    The two differ where the losses of a gap may have come before or after that age.
    """
    if not batch.is_followed_at(dph):
        return None
    points = batch_curve(batch)
    before = [point.survival for point in points if point.day <= dph]
    after = [point.survival for point in points if point.day >= dph]
    high = before[-1] if before else 1.0
    return (after[0] if after else high), high


# --- Several batches ----------------------------------------------------------------------


@dataclass(frozen=True)
class BandPoint:
    """Survival of several batches up to an age, 0 to 1.

    `low` and `high` hold 95 % for chance (Greenwood, log-log) with every loss at its earliest and
    at its latest day. `batches` are those still followed, `entering` the fish that could die that
    day, `died` and `left` those who did and who left alive, losses spread over their band.
    """

    dph: int
    batches: int
    entering: float
    died: float
    left: float
    best: float
    low: float
    high: float


def pooled_curve(batches: Sequence[Reared], *, culls_died: bool = True) -> tuple[BandPoint, ...]:
    """Survival by the day over all fish of these batches, as far as five are still followed.

    Empty for fewer than five. Leavers are censored. Fish of one tank die together, so the band is
    too narrow: compare tanks.
    """
    followed = [
        dph
        for dph in range(max((one.until_dph for one in batches), default=-1) + 1)
        if sum(one.is_followed_at(dph) for one in batches) >= FEWEST_BATCHES
    ]
    if not followed:
        return ()
    last = followed[-1]
    spans = {how: _daily(batches, how, last, culls_died) for how in Placed}
    curves = {how: life_table(found) for how, found in spans.items()}
    points = []
    for dph, span in enumerate(spans[Placed.EVENLY]):
        best = curves[Placed.EVENLY][dph].survival
        early, late = curves[Placed.EARLIEST][dph], curves[Placed.LATEST][dph]
        low = early.interval.low if early.interval else early.survival
        high = late.interval.high if late.interval else late.survival
        points.append(
            BandPoint(
                dph, sum(one.is_followed_at(dph) for one in batches), span.entering, span.died,
                span.left_alive, best, min(low, best), max(high, best),
            )
        )  # fmt: skip
    return tuple(points)


def _daily(
    batches: Sequence[Reared], placed: Placed, last: int, culls_died: bool
) -> tuple[Span, ...]:
    died: dict[int, float] = defaultdict(float)
    left: dict[int, float] = defaultdict(float)
    for batch in batches:
        for going in batch.goings:
            dead = _counts_dead(going, culls_died)
            for dph, number in _days(going, placed if dead else Placed.LATEST):
                (died if dead else left)[dph] += number
        left[batch.until_dph] += batch.left_over
    entering = float(sum(batch.number for batch in batches))
    spans = []
    for dph in range(last + 1):
        gone, away = min(died[dph], entering), left[dph]
        away = min(away, entering - gone)
        spans.append(Span(max(0, dph - 1), dph, entering, gone, away))
        entering = max(0.0, entering - gone - away)
    return tuple(spans)


def _days(going: Going, placed: Placed) -> Iterable[tuple[int, float]]:
    if placed is Placed.EARLIEST:
        return ((going.from_dph, going.number),)
    if placed is Placed.LATEST:
        return ((going.until_dph, going.number),)
    days = range(going.from_dph, going.until_dph + 1)
    return tuple((dph, going.number / len(days)) for dph in days)


def _counts_dead(going: Going, culls_died: bool) -> bool:
    return going.is_loss and (culls_died or going.fate is not Fate.PUT_DOWN)
