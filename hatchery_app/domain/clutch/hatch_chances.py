"""From readiness and thermal time to a chance for each night.

Whatever is uncertain beside R (the hour of laying, a temperature nobody read) is laid out as a
few weighted scenarios; in each, thermal time at every window's end is a number, and what was
seen weighs scenario and R together.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import accumulate, pairwise
from math import sqrt

from hatchery_app.domain.clutch.hatch_evidence import (
    MOVED_LATE_SPREADS,
    REST_FOLLOWS,
    Evidence,
    HatchWindow,
    MovedLate,
    PartHatched,
    SignSeen,
    lamp_nights,
    sign_likelihood,
    sign_shows_at,
    still_possible,
)
from hatchery_app.domain.clutch.learned_readiness import Readiness
from hatchery_app.domain.clutch.thermal_time import TemperatureCourse
from hatchery_app.domain.species.species import Incubation
from hatchery_app.domain.when import Night, When

LAYING_POINTS = 11  # an uncertain laying stands for so many equal parts of its interval
LAYING_POINTS_SHORT = 5  # for an interval of up to three hours
NEGLIGIBLE_ERROR_DD = 0.05
R_CELLS = 36
R_REACH_SPREADS = 6.0
# Gauss–Hermite nodes and weights for a standard normal, three points (exact).
NORMAL_POINTS = ((-sqrt(3), 1 / 6), (0.0, 2 / 3), (sqrt(3), 1 / 6))


@dataclass(frozen=True)
class Scenario:
    """One weighted way things may have been: thermal time at window ends and at signs seen."""

    weight: float
    ends_dd: tuple[float, ...]
    signs_dd: tuple[float, ...]


@dataclass(frozen=True)
class Chances:
    """Chances by night, `seen` with what was observed and `unseen` without; beyond the last."""

    seen: tuple[float, ...]
    unseen: tuple[float, ...]
    beyond: float
    nothing_left: bool = False  # what was seen rules out every night


def chances_of_windows(ready: Readiness, ends_dd: Sequence[float]) -> tuple[float, ...]:
    """The chance of each window, given thermal time at each window's end, in rising order.

    A clutch hatches in the first window that ends after it is ready; the first holds all that
    is ready before. What is missing to 1 lies beyond the last.
    """
    below = [0.0, *(ready.below(end) for end in ends_dd)]
    return tuple(max(after - before, 0.0) for before, after in pairwise(below))


def scenarios_of(
    laid: When,
    course: TemperatureCourse,
    windows: Sequence[HatchWindow],
    evidence: Sequence[Evidence],
) -> tuple[Scenario, ...]:
    """Laying integrated over its interval, unread temperatures over their standard error."""
    layings = [course.thermal_and_error_at(at) for at in _laying_moments(laid)]
    ends = [course.thermal_and_error_at(window.watch_until) for window in windows]
    signs = [course.thermal_and_error_at(s.at) for s in evidence if isinstance(s, SignSeen)]
    certain = ends[-1][1] - layings[0][1] < NEGLIGIBLE_ERROR_DD
    errors = ((0.0, 1.0),) if certain else NORMAL_POINTS
    return tuple(
        Scenario(
            weight / len(layings),
            tuple((end - at) + z * (end_error - at_error) for end, end_error in ends),
            tuple((sign - at) + z * (sign_error - at_error) for sign, sign_error in signs),
        )
        for at, at_error in layings
        for z, weight in errors
    )


def _laying_moments(laid: When) -> list[datetime]:
    if laid.is_exact:
        return [laid.earliest]
    points = LAYING_POINTS if laid.span > timedelta(hours=3) else LAYING_POINTS_SHORT
    return [laid.earliest + laid.span * ((index + 0.5) / points) for index in range(points)]


class _WeighedReadiness:
    """R in cells, each weighed by how well it fits the signs seen."""

    def __init__(self, ready: Readiness, species: Incubation, signs: Sequence[SignSeen]) -> None:
        self._ready = ready
        step = 2 * R_REACH_SPREADS * ready.sd_dd / R_CELLS
        start = ready.mean_dd - R_REACH_SPREADS * ready.sd_dd
        self._edges = [start + step * index for index in range(R_CELLS + 1)]
        self._below = [ready.below(edge) for edge in self._edges]
        middle_c = (species.fitted_from_c + species.fitted_to_c) / 2
        wait_dd = 0.5 * (middle_c - species.t0_c)  # from ready to hatch, half a day
        self._hatch_dd = [max(edge + step / 2 + wait_dd, step) for edge in self._edges[:-1]]
        self._signs = [(sign.seen, sign_shows_at(species, sign.sign)) for sign in signs]

    def masses(self, scenario: Scenario, open_ends: Sequence[float]) -> tuple[list[float], float]:
        """The mass of each window that can hatch, and all of it, under one scenario."""
        if not self._signs:
            return list(chances_of_windows(self._ready, open_ends)), 1.0
        weights = [
            self._fit(hatch_dd, scenario.signs_dd) if hatch_dd > 0 else 0.0
            for hatch_dd in self._hatch_dd
        ]
        cells = [
            weight * (after - before)
            for weight, (before, after) in zip(weights, pairwise(self._below), strict=True)
        ]
        sums = [0.0, *accumulate(cells)]
        below = [0.0, *(self._upto(end, weights, sums) for end in open_ends)]
        return [max(after - before, 0.0) for before, after in pairwise(below)], sums[-1]

    def _fit(self, hatch_dd: float, signs_dd: Sequence[float]) -> float:
        fit = 1.0
        for (seen, shows_at), thermal_dd in zip(self._signs, signs_dd, strict=True):
            fit *= sign_likelihood(seen, thermal_dd / hatch_dd, shows_at)
        return fit

    def _upto(self, thermal_dd: float, weights: list[float], sums: list[float]) -> float:
        index = bisect_right(self._edges, thermal_dd) - 1
        if index < 0:
            return 0.0
        if index >= len(weights):
            return sums[-1]
        return sums[index] + weights[index] * (self._ready.below(thermal_dd) - self._below[index])


def night_chances(
    ready: Readiness,
    species: Incubation,
    windows: Sequence[HatchWindow],
    scenarios: Sequence[Scenario],
    evidence: Sequence[Evidence],
    now: datetime,
) -> Chances:
    """The chance of each night; of the rest of the clutch where a part has hatched."""
    parts = [seen for seen in evidence if isinstance(seen, PartHatched)]
    if parts:
        return _of_the_rest(max(part.night for part in parts), windows, evidence, now)
    signs = [seen for seen in evidence if isinstance(seen, SignSeen)]
    barred = lamp_nights(evidence)
    can_hatch = [i for i, window in enumerate(windows) if window.night not in barred]
    weighed = _WeighedReadiness(ready, species, signs)
    plain = _WeighedReadiness(ready, species, ()) if signs else weighed
    mass, mass_unseen = [0.0] * len(windows), [0.0] * len(windows)
    whole = 0.0
    for scenario in scenarios:
        open_ends = [scenario.ends_dd[index] for index in can_hatch]
        seen, total = weighed.masses(scenario, open_ends)
        unseen = plain.masses(scenario, open_ends)[0] if signs else seen
        whole += scenario.weight * total
        for index, with_signs, without in zip(can_hatch, seen, unseen, strict=True):
            mass[index] += scenario.weight * with_signs
            mass_unseen[index] += scenario.weight * without
    beyond = max(whole - sum(mass), 0.0)
    spread = _moved_late(mass, windows, can_hatch, evidence)
    left = [m * still_possible(w, evidence) for m, w in zip(spread, windows, strict=True)]
    return _normalised(left, _moved_late(mass_unseen, windows, can_hatch, evidence), beyond)


def _normalised(left: Sequence[float], unseen: Sequence[float], beyond: float) -> Chances:
    total = sum(left) + beyond
    if total < 1e-12:
        return Chances(tuple(0.0 for _ in left), tuple(unseen), 0.0, nothing_left=True)
    return Chances(tuple(mass / total for mass in left), tuple(unseen), beyond / total)


def _moved_late(
    mass: Sequence[float],
    windows: Sequence[HatchWindow],
    can_hatch: Sequence[int],
    evidence: Sequence[Evidence],
) -> list[float]:
    """Each night after a late move shared with the nights that follow it."""
    moves = [seen.at for seen in evidence if isinstance(seen, MovedLate)]
    if not moves:
        return list(mass)
    spread = [0.0] * len(mass)
    for place, index in enumerate(can_hatch):
        if windows[index].watch_until <= min(moves):
            spread[index] += mass[index]
            continue
        for lag, share in enumerate(MOVED_LATE_SPREADS):
            target = can_hatch[min(place + lag, len(can_hatch) - 1)]
            spread[target] += mass[index] * share
    return spread


def _of_the_rest(
    part: Night, windows: Sequence[HatchWindow], evidence: Sequence[Evidence], now: datetime
) -> Chances:
    """What is left of a clutch partly hatched: most of it each following night."""
    barred = lamp_nights(evidence)
    share, left = 1.0, []
    for window in windows:
        follows = window.night > part or (window.night == part and window.watch_until > now)
        if not follows or window.night in barred:
            left.append(0.0)
            continue
        left.append(share * REST_FOLLOWS * still_possible(window, evidence))
        share *= 1 - REST_FOLLOWS
    return _normalised(left, tuple(left), share)
