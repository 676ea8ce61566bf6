"""A pair's rhythm: the gaps between its spawns, and the window in which the next may come.

A gap counts from the day the nest became empty (hatched, pulled, eaten, dropped); where a pair
laid beside old eggs it counts from laying to laying, and the two are never averaged together.
The pair's own gaps and the species' default are blended by shrinkage, and what has passed
without a laying is taken in, so that no answer lies in the past.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from math import sqrt
from statistics import NormalDist, median

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.shrinkage import shrunk
from hatchery_app.domain.spawn.pooled_rhythm import AcrossPairs
from hatchery_app.domain.species.species import Spawning
from hatchery_app.domain.when import When

A_DAY = timedelta(days=1)
WITHIN_PAIR_SD_DAYS = 2.0
"""Gap to gap of one pair: about ±4 days (review of published intervals; from memory)."""
FIRST_COUNTED_CLUTCH = 3
"""First clutches are small, poorly fertilised, often eaten: statistics begin with the third
(common practice)."""
MISSED_FACTOR = 1.7
"""A gap over this many medians may hide a clutch nobody saw: asked, never dropped."""
OWN_MEDIAN_FROM_GAPS = 3
WINDOW_HOLDS = 0.9
SHORTEST_GAP_DAYS = 1.0
LEAST_SD_DAYS = 0.5  # entries are made by the day at best


class NestEmptied(StrEnum):
    """How a nest became empty."""

    HATCHED = "hatched"
    PULLED = "pulled"
    EATEN = "eaten"
    DROPPED = "dropped"


class CountedFrom(StrEnum):
    """Where a gap begins."""

    NEST_EMPTY = "from the day the nest became empty"
    LAYING = "from laying to laying"


@dataclass(frozen=True)
class Spawn:
    """One laying of one pair, and when and how its nest became empty (None: not yet known)."""

    clutch_id: int
    pair_id: int
    laid: When
    emptied: When | None = None
    how: NestEmptied | None = None
    eggs: int | None = None

    def __post_init__(self) -> None:
        if self.emptied is not None and self.emptied.latest < self.laid.earliest:
            raise RuleBroken("A nest cannot be empty before it was laid in.", field="emptied")


@dataclass(frozen=True)
class Gap:
    """The days between two spawns of one pair. `number` is that of the later clutch (1 = first).

    `laying_days` is always from laying to laying. `counts` is False for the first clutches;
    `perhaps_missed` asks whether a clutch in between was not seen.
    """

    after_clutch_id: int
    before_clutch_id: int
    number: int
    days: float
    low_days: float
    high_days: float
    counted_from: CountedFrom
    laying_days: float
    counts: bool
    note: str = ""
    perhaps_missed: bool = False


def intervals_days(moments: Sequence[datetime]) -> tuple[float, ...]:
    """Days between successive moments, in any order given: n moments give n − 1."""
    ordered = sorted(moments)
    return tuple(_days(b - a) for a, b in pairwise(ordered))


def mean_interval_days(first: datetime, last: datetime, events: int) -> float:
    """Mean days between events of which the first and last are dated: span / (events − 1)."""
    if events < 2 or last < first:
        raise RuleBroken("A mean interval needs two events or more, the first one first.")
    return _days(last - first) / (events - 1)


def gaps(
    spawns: Iterable[Spawn],
    *,
    earlier_clutches: int = 0,
    first_counted: int = FIRST_COUNTED_CLUTCH,
) -> tuple[Gap, ...]:
    """The gaps within one pair, in order. Refused for spawns of two pairs: see `across_mates`.

    `earlier_clutches` are those a pair had before the records began, so that an old pair's
    first recorded clutch is not taken for its first ever.
    """
    ordered = sorted(spawns, key=lambda s: s.laid.middle)
    if len({s.pair_id for s in ordered}) > 1:
        raise RuleBroken("Gaps are counted within one pair; these clutches are of several.")
    found = [
        _gap(before, after, earlier_clutches + place, first_counted)
        for place, (before, after) in enumerate(pairwise(ordered), start=2)
    ]
    return tuple(_mark_missed(gap, found) for gap in found)


def _gap(before: Spawn, after: Spawn, number: int, first_counted: int) -> Gap:
    laying_days = max(0.0, _days(after.laid.middle - before.laid.middle))
    start, counted_from, note = before.laid, CountedFrom.LAYING, ""
    if before.emptied is None:
        note = "when the nest became empty is not known"
    elif before.emptied.middle > after.laid.middle:
        note = "laid beside old eggs"
    else:
        start, counted_from = before.emptied, CountedFrom.NEST_EMPTY
        note = f"nest {before.how}" if before.how else ""
    low, high = after.laid.earliest - start.latest, after.laid.latest - start.earliest
    return Gap(
        before.clutch_id,
        after.clutch_id,
        number,
        max(0.0, _days(after.laid.middle - start.middle)),
        max(0.0, _days(low)),
        _days(high),
        counted_from,
        laying_days,
        counts=number - 1 >= first_counted,
        note=note,
    )


def _mark_missed(gap: Gap, found: Sequence[Gap]) -> Gap:
    own = [g.laying_days for g in found if g.counts]
    if len(own) < OWN_MEDIAN_FROM_GAPS or gap.laying_days <= MISSED_FACTOR * median(own):
        return gap
    return replace(gap, perhaps_missed=True)


@dataclass(frozen=True)
class LayingOfFemale:
    """One laying of a female with whichever mate, and the days since her laying before.

    `new_mate` marks a gap that runs across two mates: it says nothing of either pair's rhythm.
    """

    clutch_id: int
    pair_id: int
    number_in_pair: int
    days_since_last: float | None
    new_mate: bool


def across_mates(
    spawns: Iterable[Spawn], earlier: Mapping[int, int] | None = None
) -> tuple[LayingOfFemale, ...]:
    """A female's layings in order, whoever the mate: each numbered within its own pair, after
    the clutches (`earlier`, by pair) that it laid before the records began."""
    ordered = sorted(spawns, key=lambda s: s.laid.middle)
    seen: dict[int, int] = dict(earlier or {})
    rows = []
    for place, spawn in enumerate(ordered):
        seen[spawn.pair_id] = seen.get(spawn.pair_id, 0) + 1
        last = ordered[place - 1] if place else None
        rows.append(
            LayingOfFemale(
                spawn.clutch_id,
                spawn.pair_id,
                seen[spawn.pair_id],
                _days(spawn.laid.middle - last.laid.middle) if last else None,
                new_mate=last is not None and last.pair_id != spawn.pair_id,
            )
        )
    return tuple(rows)


@dataclass(frozen=True)
class Rhythm:
    """A gap to be expected, in days: Normal(mean, sd), `weight` the share of the pair's own.

    `own_gaps` is how many of the pair's gaps it rests on, `median_days` the median that
    overdue and stopped are measured by, `own_median` whether that is the pair's own.
    """

    counted_from: CountedFrom
    mean_days: float
    sd_days: float
    weight: float
    own_gaps: int
    median_days: float
    own_median: bool

    def window_days(self, holding: float = WINDOW_HOLDS) -> tuple[float, float]:
        """Least and most days of the central window that holds this share of the chance."""
        half = NormalDist().inv_cdf((1 + holding) / 2) * self.sd_days
        return self.mean_days - half, self.mean_days + half


def rhythm(
    own: Iterable[Gap],
    counted_from: CountedFrom,
    spawning: Spawning,
    *,
    nest_days: float | None = None,
    room: AcrossPairs | None = None,
) -> Rhythm:
    """A pair's rhythm: its own counted gaps of this kind, blended with what came before.

    Before stands the room's record of the species (`room`, pooled over gaps of the same kind),
    else the species' window, which runs from laying to laying and is taken as ±2 sd about its
    median. For gaps from the empty nest `nest_days` (usual days from laying to the empty nest)
    is taken off it; refused where neither it nor the room's record is known.
    """
    before, before_sd = _species_gap(counted_from, spawning, nest_days if room is None else 0.0)
    within_sd = WITHIN_PAIR_SD_DAYS
    if room is not None:
        before, before_sd = room.mean, max(sqrt(room.between_variance), LEAST_SD_DAYS)
        within_sd = max(sqrt(room.within_variance), LEAST_SD_DAYS)
    days = gap_days(own, counted_from)
    blend = shrunk(before, before_sd, days, within_sd)
    own_median = len(days) >= OWN_MEDIAN_FROM_GAPS
    middle = median(days) if own_median else before
    return Rhythm(
        counted_from, blend.mean, blend.next_sd, blend.weight, len(days), middle, own_median
    )


def gap_days(own: Iterable[Gap], counted_from: CountedFrom) -> list[float]:
    """The days of the counted gaps of one kind; every counted gap has one laying to laying."""
    if counted_from is CountedFrom.LAYING:
        return [g.laying_days for g in own if g.counts]
    return [g.days for g in own if g.counts and g.counted_from is counted_from]


def _species_gap(
    counted_from: CountedFrom, spawning: Spawning, nest_days: float | None
) -> tuple[float, float]:
    low, high = spawning.interval_low_days, spawning.interval_high_days
    typical = spawning.interval_median_days or (low + high) / 2
    if counted_from is CountedFrom.NEST_EMPTY:
        if nest_days is None:
            raise RuleBroken("How long the eggs usually stay in the nest is not known.")
        typical = max(SHORTEST_GAP_DAYS, typical - nest_days)
    return typical, max((high - low) / 4, LEAST_SD_DAYS)


def _days(span: timedelta) -> float:
    return span / A_DAY
