"""A brood a parent carries, in the mouth or a pouch: how long, when young may leave, how many.

It has no hatch night and no larvae. The days come from the species' published ones and give way
to this father's own broods; the number of young from his own births alone, never from a mean of
the species: of one seahorse the sixth birth held 5.5 times the first (Lin et al. 2008).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import sqrt
from statistics import NormalDist

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.shrinkage import shrunk
from hatchery_app.domain.species.species import Brood, BroodMode
from hatchery_app.domain.today.schedule import Round, Task, Turn, one_off, repeating
from hatchery_app.domain.when import Lights, Night, RoomTime, When, night_just_past, night_of

A_DAY = timedelta(days=1)
ASSUMED_SPREAD_SHARE = 0.1
"""Spread of a brood's days where none is published, as a share of them: assumed."""
SHARE_BETWEEN_FATHERS = 0.5
"""Of the spread's variance; the rest is from brood to brood of one father: assumed."""
WINDOW_HOLDS = 0.9
HARDLY_EVER = 0.005
"""Young seen before a night with so little chance are asked about."""
STEPS_OF_START = 9
LAST_BIRTHS = 3
CAUTION_NEW_MATE = "with a new mate: about half as many in one keeper's account (from memory)"


@dataclass(frozen=True)
class BroodWords:
    """What a keeper says of such a brood: he holds it, the young are released or born."""

    holding: str
    out: str
    coming: str
    lost: str


WORDS = {
    BroodMode.MOUTH: BroodWords("holding", "released", "release", "spat out or swallowed"),
    BroodMode.POUCH: BroodWords("pregnant", "born", "birth", "lost"),
}


def words_of(mode: BroodMode) -> BroodWords:
    """The words of a mode. Raises RuleBroken for one in which nobody carries the brood."""
    if mode not in WORDS:
        raise RuleBroken(f"Nobody carries the brood here: {mode}.")
    return WORDS[mode]


@dataclass(frozen=True)
class EarlierBrood:
    """A finished brood of one father: taken up when, first young out when (None: lost), how many.

    `mother_id` is the fish that laid it, where one is known.
    """

    taken: When
    first_out: When | None
    young: HowMany
    mother_id: int | None = None

    @property
    def days(self) -> tuple[float, float] | None:
        """Shortest and longest time he carried it until the first young; None where none came."""
        if self.first_out is None:
            return None
        shortest, longest = self.taken.until(self.first_out)
        return shortest / A_DAY, longest / A_DAY


@dataclass(frozen=True)
class DaysCarried:
    """Days from taking up to the first young: mean and spread of the next brood, and from what."""

    mean: float
    sd: float
    own_broods: int
    said: str


def days_carried(brood: Brood, earlier: Sequence[EarlierBrood]) -> DaysCarried:
    """The species' days, drawn to this father's own by shrinkage from his first brood on.

    A brood whose start is vague counts for less: the variance of its interval is added.
    """
    spread = brood.spread_days or ASSUMED_SPREAD_SHARE * brood.release_days
    between = spread * sqrt(SHARE_BETWEEN_FATHERS)
    of_one = spread * sqrt(1 - SHARE_BETWEEN_FATHERS)
    mean, sd, own = brood.release_days, between, 0
    for days in (each.days for each in earlier):
        if days is None:
            continue
        blurred = sqrt(of_one**2 + (days[1] - days[0]) ** 2 / 12)  # an interval: width²/12
        drawn = shrunk(mean, sd, [sum(days) / 2], blurred)
        mean, sd, own = drawn.mean, drawn.sd, own + 1
    source = "from the species" + ("" if brood.spread_days else ", its spread assumed")
    if own:
        broods = f"{own} broods" if own > 1 else "brood"
        source = f"from his own {broods} and the species"
    return DaysCarried(mean, sqrt(sd**2 + of_one**2), own, source)


@dataclass(frozen=True)
class NumberAhead:
    """How many young, from the father's own births: `low` to `high`, or None and the reason."""

    rank: int
    low: int | None
    high: int | None
    said: str


def number_ahead(
    earlier: Sequence[EarlierBrood], mode: BroodMode, mother_id: int | None = None
) -> NumberAhead:
    """The range of his last births, for the birth that comes next in rank; never a species mean.

    A range of what was, and said as such: the numbers rise over a father's first births. Births
    that nobody counted leave it unknown.
    """
    out = [each for each in earlier if each.first_out is not None]
    rank = len(out) + 1
    counted = [each.young.best for each in out if each.young.best is not None]
    ordinal = f"his {_ordinal(rank)} in this room"
    if not counted:
        what = words_of(mode).coming
        return NumberAhead(rank, None, None, f"not known: {ordinal}, no counted {what} of his own")
    last = counted[-LAST_BIRTHS:]
    low, high = min(last), max(last)
    said = f"{low} young" if low == high else f"{low}–{high} young"
    said = f"{said} in his last {len(last)}" if len(last) > 1 else f"{said} in his last"
    last_mother = out[-1].mother_id
    if mother_id is not None and last_mother is not None and mother_id != last_mother:
        said += f"; {CAUTION_NEW_MATE}"
    return NumberAhead(rank, low, high, f"{said}; this is {ordinal}")


def _ordinal(rank: int) -> str:
    named = ("first", "second", "third", "fourth", "fifth", "sixth")
    return named[rank - 1] if rank <= len(named) else f"{rank}th"


def first_seen_holding(seen: When, brood: Brood) -> When:
    """When he took a brood up that was first seen in him: any day that its length allows."""
    spread = brood.spread_days or ASSUMED_SPREAD_SHARE * brood.release_days
    longest = timedelta(days=brood.release_days + 2 * spread)
    return When(
        seen.earliest - longest, seen.latest, "first seen holding; start not known",
        seen.from_memory,
    )  # fmt: skip


def lost_between(taken: When, seen_holding: Sequence[When], feeding: When) -> When:
    """When a brood was lost: after he was last seen holding it, before he was seen feeding.

    Raises RuleBroken where he was seen holding only after the feeding.
    """
    # Found holding between two looks, he surely held at the later one.
    held = taken.latest if taken.latest <= feeding.earliest else taken.earliest
    last = max([held, *(seen.earliest for seen in seen_holding)])
    if last > feeding.latest:
        raise RuleBroken(
            "He was seen holding after that: correct one of the two.", field="at_on"
        )
    said = "between last seen holding and feeding"
    return When(last, feeding.latest, said, feeding.from_memory)


@dataclass(frozen=True)
class BroodForecast:
    """When the young of a brood may leave, as of a moment.

    `day` is the whole days it has been carried, from the latest to the earliest start. `window`
    holds 90 % of what is left, `likeliest` its middle. `hatch_days` are the days on which eggs
    hatch inside, where known. `overdue`: 95 % of such broods would be out.
    """

    tonight: Night
    day: tuple[int, int]
    carried: DaysCarried
    hatch_days: float | None
    window: tuple[Night, Night]
    likeliest: Night
    earliest_believed: Night
    overdue: bool
    is_start_known: bool

    @property
    def look_now(self) -> bool:
        """Whether young may be out from tonight's day on."""
        return self.window[0] <= self.tonight

    @property
    def window_said(self) -> str:
        """ "Thu 25 Jun to Sat 4 Jul, most likely Tue 30 Jun"; the likeliest only while ahead."""
        first, last = self.window
        said = f"{first.said()} to {last.said()}"
        ahead = self.likeliest >= self.tonight
        return f"{said}, most likely {self.likeliest.said()}" if ahead else said

    @property
    def day_said(self) -> str:
        """ "day 12", or "day 12–19" where the start is not known."""
        first, last = self.day
        return f"day {first}" if first == last else f"day {first}–{last}"


def brood_forecast(
    *,
    taken: When,
    brood: Brood,
    earlier: Sequence[EarlierBrood] = (),
    held_at: datetime | None = None,
    lights: Lights,
    room_time: RoomTime,
    now: datetime,
) -> BroodForecast:
    """The window of release or birth. Days are Normal, the start evenly anywhere in its interval.

    `held_at` is when he was last seen holding: young that have not left by then leave later.
    """
    carried = days_carried(brood, earlier)
    chances = _Chances(taken, NormalDist(carried.mean, carried.sd))
    so_far = max(taken.latest, held_at or taken.latest)
    tail = (1 - WINDOW_HOLDS) / 2
    nights = [
        night_of(chances.moment(share, so_far), lights, room_time)
        for share in (tail, 0.5, 1 - tail)
    ]
    return BroodForecast(
        tonight=night_of(now, lights, room_time),
        day=(_days(taken.latest, now, lights, room_time),
             _days(taken.earliest, now, lights, room_time)),
        carried=carried,
        hatch_days=brood.hatch_days,
        window=(nights[0], nights[2]),
        likeliest=nights[1],
        earliest_believed=night_of(
            chances.moment(HARDLY_EVER, taken.earliest), lights, room_time),
        overdue=chances.out_by(now) >= 1 - tail,
        is_start_known=taken.span <= 2 * A_DAY,
    )  # fmt: skip


@dataclass(frozen=True)
class _Chances:
    """The share of such broods that is out by a moment, over every start the record allows."""

    taken: When
    days: NormalDist

    def out_by(self, at: datetime) -> float:
        step = self.taken.span / (STEPS_OF_START - 1)
        starts = [self.taken.earliest + step * place for place in range(STEPS_OF_START)]
        return sum(self.days.cdf((at - start) / A_DAY) for start in starts) / len(starts)

    def moment(self, share: float, after: datetime) -> datetime:
        """When so much of what is left after `after` is out; by halving, to the minute."""
        gone = self.out_by(after)
        wanted = gone + share * (1 - gone)
        low, high = after, max(after, self.taken.latest) + timedelta(days=2 * self.days.mean)
        while high - low > timedelta(minutes=1):
            middle = low + (high - low) / 2
            low, high = (middle, high) if self.out_by(middle) < wanted else (low, middle)
        return high


def _days(start: datetime, now: datetime, lights: Lights, room_time: RoomTime) -> int:
    begun, tonight = (night_of(at, lights, room_time) for at in (start, now))
    return max(tonight.number(begun), 0)


def days_between(
    taken: When, out: Sequence[When], room_time: RoomTime
) -> tuple[int, int] | None:
    """Whole days a brood was carried, by the room's calendar: from the latest start to the first
    young, and from the earliest start to the last. None where no young came."""
    if not out:
        return None
    begun, begun_latest = (room_time.local(at).date() for at in (taken.earliest, _last_of(taken)))
    first = min(room_time.local(when.earliest).date() for when in out)
    last = max(room_time.local(_last_of(when)).date() for when in out)
    return max((first - begun_latest).days, 0), max((last - begun).days, 0)


def _last_of(when: When) -> datetime:
    """The last instant inside an interval: a whole day ends before the midnight that ends it."""
    return when.latest if when.is_exact else when.latest - timedelta(microseconds=1)


def night_of_release(seen: datetime, lights: Lights, room_time: RoomTime) -> Night:
    """The night young count to that were found then: in the dark this one, by day the last."""
    return night_just_past(seen, lights, room_time)


# --- The day's work -----------------------------------------------------------------------


@dataclass(frozen=True)
class BroodDay:
    """A carried brood as its day's work is worked out from. `foods` are the first foods in words.

    All evenings: when it was taken up, the window of release, the first release if any.
    """

    clutch_id: int
    place_id: int
    mode: BroodMode
    taken_on: date
    window_on: tuple[date, date]
    foods: str = ""
    out_since_on: date | None = None


def brood_tasks(brood: BroodDay, day: date) -> tuple[Task, ...]:
    """The work a carried brood asks for on a day: nothing to watch at night, no rotifers.

    Once, by the day before the window: a tank and first food for the young. Every morning from
    the window's first night on, and after any release: look for young.
    """
    if day < brood.taken_on:
        return ()
    words = words_of(brood.mode)
    first, last = brood.window_on
    ready_on = max(first - A_DAY, brood.taken_on)
    food = f": {brood.foods}" if brood.foods else ""
    ready = one_off(
        "ready_for_young", brood.clutch_id, Turn(ready_on, Round.MIDDAY), brood.place_id,
        f"Have a tank and first food for the young{food}",
        why=f"{words.coming} may come from the night of {Night(first).label}", milestone="once",
    )  # fmt: skip
    if day <= (brood.out_since_on or first):
        return (ready,)
    why = (
        "some are out, more may follow" if brood.out_since_on
        else f"{words.coming} about {Night(first).label} to {Night(last).label}"
    )  # fmt: skip
    return (
        ready,
        repeating(
            "look_for_young", brood.clutch_id, Turn(day, Round.MORNING), brood.place_id,
            "Look for young, and whether he still carries", why=why,
        ),
    )  # fmt: skip
