"""What a batch of larvae was given day by day, what was left of it, and where it had a gap.

A day is a day of age: from lights-on of one day to lights-on of the next. What nobody wrote down
is "not written" and never "not fed".

A day is a *food gap* where somebody marked one, where it was said that the batch was not fed, or
where its rotifers or copepods were found gone with no other live food seen that day. Gone is a
look "none", or a count below a tenth of what the plan wants: what such a look stands for
(assumed); red drum are refilled below 3 per mL, far above it (Treece & Davis 2000, SRAC 701).
Brine shrimp are given by the meal, so that none of them left is no gap. Nothing is eaten on the
hatch night, so that it has none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from hatchery_app.domain.larval_tank.larval_protocol import Food, LarvalProtocol, for_day
from hatchery_app.domain.live_food.live_food import LOOK_SHARES, Look, PreyDensity
from hatchery_app.domain.stock_book.reared import Going

STANDING = (Food.ROTIFERS, Food.COPEPODS)  # they stand in the water from one meal to the next
LIVE = tuple(food for food in Food if food is not Food.MICRODIET)
GONE_SHARE = LOOK_SHARES[Look.NONE][2]
SEEN_AFTER_DAYS = 3  # losses so long after a gap are read beside it: case C36, practice
RULE = (
    "A food gap is a day on which one was marked, on which it was written that the batch was not"
    " fed, or on which its rotifers or copepods were found gone: a look “none”, or under a tenth"
    " of what the plan wants (assumed; SRAC 701 refills red drum below 3 per mL), with no other"
    " live food seen. Brine shrimp are given by the meal and may be eaten up. A day without an"
    " entry is not written: it is no gap."
)


@dataclass(frozen=True)
class FoodSeen:
    """A look at a food in the tank, and where it was then brought to, both per mL.

    `seen` None: only the top-up was written.
    """

    at: datetime
    dph: int
    food: str
    seen: PreyDensity | None
    target_per_ml: float | None
    topped_up_to_per_ml: float | None = None
    is_look: bool = False

    @property
    def share(self) -> tuple[float, float, float] | None:
        """(low, best, high) of what the plan wants that day; None where either is not known."""
        if self.seen is None or not self.target_per_ml:
            return None
        seen, target = self.seen, self.target_per_ml
        return seen.low_per_ml / target, seen.per_ml / target, seen.high_per_ml / target

    @property
    def is_gone(self) -> bool:
        """Whether about nothing of it was left."""
        if self.seen is None:
            return False
        share = self.share
        return self.seen.per_ml == 0 if share is None else share[1] < GONE_SHARE

    @property
    def added_per_ml(self) -> float | None:
        """What a top-up brought per mL; None where it was not said, or not what was left."""
        if self.seen is None or self.topped_up_to_per_ml is None:
            return None
        return max(0.0, self.topped_up_to_per_ml - self.seen.per_ml)


@dataclass(frozen=True)
class FoodSaid:
    """A feeding as it was answered: given in words, or said not to have been (`why_not`)."""

    at: datetime
    dph: int
    food: str
    given: str = ""
    why_not: str = ""


@dataclass(frozen=True)
class GapMarked:
    """A food gap as somebody marked it, with what they wrote."""

    at: datetime
    dph: int
    words: str


@dataclass(frozen=True)
class FoodDay:
    """One day of a batch: what was seen and given, and why it is a gap ("" for none).

    `is_asked` where the plan names a food and the day is over, so that no entry means that
    nobody wrote.
    """

    dph: int
    on: date
    seen: tuple[FoodSeen, ...]
    said: tuple[FoodSaid, ...]
    gap: str
    is_asked: bool

    @property
    def is_written(self) -> bool:
        """Whether anything of its food was written down."""
        return bool(self.seen or self.said or self.gap)

    @property
    def is_unwritten(self) -> bool:
        """Whether food was due and nobody wrote anything of it."""
        return self.is_asked and not self.is_written


@dataclass(frozen=True)
class Span:
    """Days on end, first and last dph, and in words what was so on the first of them."""

    from_dph: int
    until_dph: int
    words: str

    @property
    def dph(self) -> str:
        """ "3 dph" or "3–4 dph"."""
        if self.from_dph == self.until_dph:
            return f"{self.from_dph} dph"
        return f"{self.from_dph}–{self.until_dph} dph"


@dataclass(frozen=True)
class LossAfter:
    """A gap with the losses of its days and the three after: the fewest and the most."""

    gap: Span
    low: int
    high: int


def food_days(
    hatched_on: date,
    until_dph: int,
    protocol: LarvalProtocol | None,
    mean_c: float | None,
    seen: Iterable[FoodSeen],
    said: Iterable[FoodSaid],
    marked: Iterable[GapMarked],
    *,
    from_dph: int = 0,
    over_until_dph: int | None = None,
) -> tuple[FoodDay, ...]:
    """Each day of a batch from the day it came to the last it was there.

    `over_until_dph` is the last day that is over (today is not); None: all are.
    """
    seen, said, marked = tuple(seen), tuple(said), tuple(marked)
    over = until_dph if over_until_dph is None else over_until_dph
    days = []
    for dph in range(max(0, from_dph), until_dph + 1):
        looks = tuple(one for one in seen if one.dph == dph)
        told = tuple(one for one in said if one.dph == dph)
        marks = [one for one in marked if one.dph == dph]
        asked = protocol is not None and bool(for_day(protocol, dph, mean_c).foods)
        days.append(
            FoodDay(
                dph, hatched_on + timedelta(days=dph), looks, told,
                _gap(dph, looks, told, marks), asked and 1 <= dph <= over,
            )
        )  # fmt: skip
    return tuple(days)


def _gap(
    dph: int, seen: Sequence[FoodSeen], said: Sequence[FoodSaid], marked: Sequence[GapMarked]
) -> str:
    if marked:
        return marked[0].words
    if dph == 0:
        return ""
    gone = [one for one in seen if one.is_gone and one.food in STANDING]
    other = {one.food for one in seen if one.seen is not None and not one.is_gone}
    if gone and not other & (set(LIVE) - {gone[0].food}):
        return f"{gone[0].food}: {_left(gone[0])}"
    not_fed = [one for one in said if one.why_not]
    fed = any(one.given for one in said) or any(one.topped_up_to_per_ml for one in seen)
    if not_fed and not fed:
        return f"{not_fed[0].food} not fed: {not_fed[0].why_not}"
    return ""


def _left(one: FoodSeen) -> str:
    if one.is_look or one.seen is None:
        return "none left at a look"
    wanted = f" of {one.target_per_ml:.2g} wanted" if one.target_per_ml else ""
    return f"{one.seen.per_ml:.2g} per mL left{wanted}"


def gaps(days: Sequence[FoodDay]) -> tuple[Span, ...]:
    """The food gaps, days on end together."""
    return _spans(days, lambda day: day.gap)


def unwritten(days: Sequence[FoodDay]) -> tuple[Span, ...]:
    """The days of which nobody wrote anything, days on end together."""
    return _spans(days, lambda day: "not written" if day.is_unwritten else "")


def _spans(days: Sequence[FoodDay], words_of: Callable[[FoodDay], str]) -> tuple[Span, ...]:
    found: list[Span] = []
    for day in days:
        words = words_of(day)
        if not words:
            continue
        if found and found[-1].until_dph == day.dph - 1:
            found[-1] = Span(found[-1].from_dph, day.dph, found[-1].words)
        else:
            found.append(Span(day.dph, day.dph, words))
    return tuple(found)


def losses_after(gap: Span, goings: Iterable[Going]) -> LossAfter:
    """What was lost on a gap's days and the three after; a loss between two looks counts as all
    or nothing of it where it reaches outside. Beside the gap, never because of it."""
    first, last = gap.from_dph, gap.until_dph + SEEN_AFTER_DAYS
    low = high = 0
    for one in goings:
        if not one.is_loss or one.until_dph < first or one.from_dph > last:
            continue
        high += one.number
        if first <= one.from_dph and one.until_dph <= last:
            low += one.number
    return LossAfter(gap, low, high)
