"""Demand against what the vessels can give, day by day: the first day short, and by how much.

A vessel gives its steady share at its own growth (h needs r ≥ −ln(1−h)), never more than 45 %,
and once, at the next days' cost, down to half of the most that stood in it; then no more than it
bears until it has grown again. Seed comes out of the same half. Between harvests it grows to its
ceiling. A crashed vessel, one that nobody counted and cool stock give nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from hatchery_app.domain.live_food.food_demand import DayDemand
from hatchery_app.domain.live_food.live_food import (
    ML_PER_L,
    days_to_reach,
    paste_ml_per_day,
    sustained_share,
    vessel_l,
)
from hatchery_app.domain.live_food.supply import KEPT_IN_A_VESSEL
from hatchery_app.domain.live_food.vessel import (
    GROWTH_PER_DAY,
    MOST_SHARE_PER_DAY,
    PASTE_DRY_FRACTION,
    RECOVERY,
    USUAL_PER_ML,
    Band,
    Cultured,
    VesselNow,
    days_between,
)

SURVIVORS = 0.05  # of a lost culture, from which it is rebuilt; assumed
GROWN_AT = 0.8  # of its ceiling: from there on a young culture is sieved; assumed
YOUNG_DAYS = 10.0  # a culture that was never sieved by then is not young any more; assumed
NEVER_DAYS = 365.0  # growth that takes longer is none
NOT_COUNTED_BAND = (0.5, 1.5)  # of what a seeded vessel is expected to hold; assumed
NOTHING = 1.0  # animals; less than one is none


@dataclass(frozen=True)
class VesselAhead:
    """A vessel as the days ahead are worked out from: what stands there this morning and grows.

    `animals` is after what was sieved today; `stood` the most that was there in the week before.
    `first_day` is what it still bears today, None where that is by its share as on any day. From
    tomorrow on it is left alone before day `rests_until`.
    """

    tank_id: int
    label: str
    litres: float
    animals: float
    rate_per_day: float
    ceiling: float
    first_day: float | None = None
    rests_until: int = 0
    psu: float | None = None
    stood: float = 0.0

    @property
    def seed_spare(self) -> float:
        """The animals that may be poured off today as seed, beside all that it bears."""
        taken = self.share * self.animals if self.first_day is None else self.first_day / RECOVERY
        kept = KEPT_IN_A_VESSEL * max(self.stood, self.animals)
        return max(0.0, self.animals - kept - taken)

    @property
    def share(self) -> float:
        """The share it bears each day."""
        return min(sustained_share(self.rate_per_day), MOST_SHARE_PER_DAY)


@dataclass(frozen=True)
class Seeding:
    """Culture poured from one vessel into another on a day ahead; a `from_id` that is not among
    those sieved is a cool stock."""

    day: int
    from_id: int
    to_id: int
    animals: float


class Given(NamedTuple):
    """What one vessel does on a day: animals standing, what it bears, what is taken of it."""

    tank_id: int
    label: str
    animals: float
    per_ml: float
    bears: float
    reach: float
    taken: float
    feed_ml: float


@dataclass(frozen=True)
class DaySupply:
    """One day of a food: the need, what the vessels bear, and what they reach at tomorrow's cost.

    `short` is what lacks of the need over what they bear, as Today says it; `lacking` over
    all they reach.
    """

    on: date
    need: float
    bears: float
    reach: float
    given: tuple[Given, ...]

    @property
    def short(self) -> float:
        """The animals that the vessels do not bear."""
        return max(0.0, self.need - self.bears)

    @property
    def lacking(self) -> float:
        """The animals that are not to be had at all."""
        return max(0.0, self.need - self.reach)


Course = tuple[DaySupply, ...]


def vessels_ahead(
    vessels: Sequence[VesselNow],
    food: Cultured,
    salinity: dict[int, float] | None = None,
    expected: Mapping[int, float] | None = None,
) -> tuple[VesselAhead, ...]:
    """The vessels of a food that give anything, the one that bears most today first.

    `expected` are the animals in those just seeded and not counted yet, by tank: they are left to
    grow first.
    """
    found = [
        VesselAhead(
            one.vessel.tank_id, one.vessel.label, one.vessel.litres, one.standing.best,
            one.growth.mean, ceiling_of(one), one.gives_today.best if one.gives_today else 0.0,
            psu=(salinity or {}).get(one.vessel.tank_id), stood=one.vessel.stood,
        )
        for one in vessels
        if one.vessel.food is food and one.produces and not one.why_none
        and one.standing is not None and one.growth is not None
    ]  # fmt: skip
    found += [
        _growing(one, expected[one.vessel.tank_id])
        for one in vessels
        if expected and one.vessel.food is food and one.vessel.tank_id in expected
    ]
    return tuple(sorted(found, key=lambda one: -(one.first_day or 0.0)))


def _growing(one: VesselNow, animals: float) -> VesselAhead:
    ceiling = USUAL_PER_ML * one.vessel.litres * ML_PER_L
    days = days_of_growth(animals, GROWN_AT * ceiling, GROWTH_PER_DAY)
    return VesselAhead(
        one.vessel.tank_id, one.vessel.label, one.vessel.litres, animals, GROWTH_PER_DAY, ceiling,
        rests_until=max(1, days or 0),
    )  # fmt: skip


def bears_band(day: DaySupply, vessels: Sequence[VesselNow]) -> Band:
    """What the vessels bear on a day, with the band of their counts and of their growth.

    The likely days are what they are; their counts and r say how far off each may be.
    """
    low = high = day.bears - sum(one.bears for one in day.given)
    for given in day.given:
        least, most = _off_by(given.tank_id, vessels)
        low, high = low + given.bears * least, high + given.bears * most
    return Band(day.bears, min(low, day.bears), max(high, day.bears))


def _off_by(tank_id: int, vessels: Sequence[VesselNow]) -> tuple[float, float]:
    now = next((one for one in vessels if one.vessel.tank_id == tank_id), None)
    if now is None or now.standing is None or now.growth is None or now.standing.best <= 0:
        return NOT_COUNTED_BAND  # one still to be started, or just seeded
    usual = sustained_share(now.growth.mean)
    if usual <= 0:
        return 0.0, 1.0
    shares = [
        min(sustained_share(now.growth.mean + by), MOST_SHARE_PER_DAY)
        / min(usual, MOST_SHARE_PER_DAY)
        for by in (-now.growth.sd, now.growth.sd)
    ]
    counts = now.standing.low / now.standing.best, now.standing.high / now.standing.best
    return counts[0] * shares[0], counts[1] * shares[1]


def ceiling_of(one: VesselNow) -> float:
    """The animals a vessel grows to: 300 per mL, or the thickest it was counted at."""
    counted = [c.density.per_ml for c in one.vessel.counts if not c.is_look]
    return max([USUAL_PER_ML, *counted]) * one.vessel.litres * ML_PER_L


def is_young(one: VesselNow) -> bool:
    """Whether it was begun lately, was never sieved, and has not grown thick yet."""
    began = one.vessel.began_at
    if began is None or one.vessel.last is None or one.vessel.harvests or one.standing is None:
        return False
    age = days_between(began, one.vessel.last.at)
    return age < YOUNG_DAYS and one.standing.best < GROWN_AT * ceiling_of(one)


# --- Day by day ---------------------------------------------------------------------------


NOTHING_BORNE = (0.0, 0.0)


class DayFigures(NamedTuple):
    """One day in figures: the need, what is there already, and by vessel what stands, what it
    bears and reaches, what is taken."""

    need: float
    ready: float
    standing: list[float]
    given: list[tuple[float, float]]
    taken: list[float]

    @property
    def bears(self) -> float:
        """What all of them bear."""
        return self.ready + sum([bears for bears, _ in self.given])

    @property
    def reach(self) -> float:
        """What all of them reach at tomorrow's cost."""
        return self.ready + sum([reach for _, reach in self.given])

    @property
    def lacking(self) -> float:
        """What is not to be had of the need."""
        return max(0.0, self.need - self.reach)


def run(
    demand: Sequence[DayDemand],
    vessels: Sequence[VesselAhead],
    *,
    careful: bool = False,
    in_hand: float = 0.0,
    used_first_day: float | None = None,
    seedings: Sequence[Seeding] = (),
) -> Course:
    """The days in order: what is needed, what each vessel bears, what is taken, how it grows on.

    Vessels are sieved in the order given. Today `in_hand` is there already, and only
    `used_first_day` of the need goes into the tanks (None: all that is likely). A day's `seedings`
    pass culture from one vessel to another, unsieved, out of what is over what that one bears.
    """
    days = days_in_figures(
        demand, vessels, careful=careful, in_hand=in_hand, used_first_day=used_first_day,
        seedings=seedings,
    )  # fmt: skip
    return tuple(
        _shown(wanted.on, vessels, day) for wanted, day in zip(demand, days, strict=True)
    )


def days_in_figures(
    demand: Sequence[DayDemand],
    vessels: Sequence[VesselAhead],
    *,
    careful: bool = False,
    in_hand: float = 0.0,
    used_first_day: float | None = None,
    seedings: Sequence[Seeding] = (),
) -> Iterator[DayFigures]:
    """The days of `run` without what is only shown, each worked out when it is asked for: of a
    hundred ways tried one is shown, and most are seen to be the worse after a few days."""
    standing = [one.animals for one in vessels]
    stood = [max(one.stood, one.animals) for one in vessels]
    places = {one.tank_id: place for place, one in enumerate(vessels)}
    grows = [(one.share, math.exp(one.rate_per_day), one.ceiling) for one in vessels]
    rests = [one.rests_until for one in vessels]
    for day, wanted in enumerate(demand):
        given = [
            _bears(animals, most, share) if day >= until else NOTHING_BORNE
            for animals, most, until, (share, _, _) in zip(
                standing, stood, rests, grows, strict=True
            )
        ]
        need = wanted.careful if careful else wanted.need
        used = (wanted.planned if careful else wanted.likely) + wanted.poured
        ready = 0.0
        if day == 0:
            ready = in_hand
            given = [_today(one, as_ever) for one, as_ever in zip(vessels, given, strict=True)]
            if used_first_day is not None:
                used = used_first_day + wanted.poured
        seeds = [seed for seed in seedings if seed.day == day]
        passed = _pass_on(seeds, places, given) if seeds else []
        taken = _taken(max(0.0, used - ready), given)
        yield DayFigures(need, ready, standing, given, taken)
        left = [animals - got / RECOVERY for animals, got in zip(standing, taken, strict=True)]
        for place, animals in passed:
            left[place] = max(0.0, left[place]) + animals
        standing = [
            _grown(animals, times, ceiling)
            for animals, (_, times, ceiling) in zip(left, grows, strict=True)
        ]
        stood = list(map(max, stood, standing))


def _pass_on(
    seedings: Sequence[Seeding], places: Mapping[int, int], given: list[tuple[float, float]]
) -> list[tuple[int, float]]:
    """What a day's seed adds to each vessel, or takes of it; less can then be sieved of that one.

    No seed is poured of what its vessel bears, nor of the half that stays.
    """
    passed = []
    for seed in seedings:
        animals, place = seed.animals, places.get(seed.from_id)
        if place is not None:
            bears, reach = given[place]
            animals = min(animals, (reach - bears) / RECOVERY)
            given[place] = bears, max(bears, reach - animals * RECOVERY)
            passed.append((place, -animals))
        passed.append((places[seed.to_id], animals))
    return passed


def _bears(animals: float, stood: float, share: float) -> tuple[float, float]:
    """What a vessel bears on a day, and what it reaches at the next days' cost."""
    bears = animals * share * RECOVERY
    reach = (animals - KEPT_IN_A_VESSEL * stood) * RECOVERY
    return bears, reach if reach > bears else bears


def _today(one: VesselAhead, as_ever: tuple[float, float]) -> tuple[float, float]:
    """The same today, where it is known what it still bears."""
    if one.first_day is None:
        return as_ever
    reach = (one.animals - KEPT_IN_A_VESSEL * max(one.stood, one.animals)) * RECOVERY
    return one.first_day, max(one.first_day, reach)


def _grown(animals: float, times: float, ceiling: float) -> float:
    """What is there the next morning of what was left."""
    grown = animals * times
    if grown >= ceiling:
        return ceiling
    return grown if grown > 0 else 0.0


def _taken(used: float, given: Sequence[tuple[float, float]]) -> list[float]:
    """Of each vessel: first what it bears, in their order; then what more they reach."""
    taken = []
    for bears, _ in given:
        got = bears if bears < used else used
        taken.append(got)
        used -= got
    if used > 0:
        for place, (bears, reach) in enumerate(given):
            more = min(reach - bears, used)
            taken[place] += more
            used -= more
    return taken


def _shown(on: date, vessels: Sequence[VesselAhead], day: DayFigures) -> DaySupply:
    given = tuple(map(_given, vessels, day.standing, day.given, day.taken))
    return DaySupply(on, day.need, day.bears, day.reach, given)


def _given(
    one: VesselAhead, animals: float, bears: tuple[float, float], taken: float
) -> Given:
    return Given(
        one.tank_id, one.label, animals, animals / (one.litres * ML_PER_L), *bears, taken,
        paste_ml_per_day(animals, PASTE_DRY_FRACTION),
    )  # fmt: skip


# --- What it says -------------------------------------------------------------------------


def first_short(course: Course) -> DaySupply | None:
    """The first day that the vessels do not bear."""
    return next((day for day in course if day.short >= NOTHING), None)


def first_lacking(course: Course) -> DaySupply | None:
    """The first day on which food is not to be had, whatever is sieved."""
    return next((day for day in course if day.lacking >= NOTHING), None)


def days_held(course: Course) -> int:
    """How many days from today nothing lacks; all of them where nothing ever does."""
    for place, day in enumerate(course):
        if day.lacking >= NOTHING:
            return place
    return len(course)


def total_lacking(course: Course) -> float:
    """All that lacks over the days."""
    return sum(day.lacking for day in course)


def days_of_growth(start: float, wanted: float, rate_per_day: float) -> int | None:
    """Whole days until so many have grown to those wanted; None where they do not in a year."""
    days = days_to_reach(start, wanted, rate_per_day)
    return math.ceil(days) if days is not None and days <= NEVER_DAYS else None


@dataclass(frozen=True)
class IfLost:
    """One vessel lost today: what lacks then, and when a rebuilt one helps again.

    `rebuilt_days` is ln 20 ÷ r from a twentieth left; None where it does not grow.
    """

    tank_id: int
    label: str
    lacking: DaySupply | None
    most_lacking: float
    rebuilt_days: float | None
    rebuilt_on: date | None
    is_only: bool


def if_lost(
    demand: Sequence[DayDemand], vessels: Sequence[VesselAhead], in_hand: float = 0.0
) -> tuple[IfLost, ...]:
    """For each vessel the days without it, need with its safety."""
    found = []
    for lost in vessels:
        rest = [one for one in vessels if one is not lost]
        course = tuple(days_in_figures(demand, rest, careful=True, in_hand=in_hand))
        lacking = [day.lacking for day in course]
        first = next((n for n, animals in enumerate(lacking) if animals >= NOTHING), None)
        days = days_to_reach(SURVIVORS, 1.0, lost.rate_per_day)
        rebuilt_on = None
        if days is not None and days > NEVER_DAYS:
            days = None
        if days is not None:
            rebuilt_on = demand[0].on + timedelta(days=math.ceil(days))
        found.append(
            IfLost(
                lost.tank_id, lost.label,
                _shown(demand[first].on, rest, course[first]) if first is not None else None,
                max(lacking, default=0.0), days, rebuilt_on, not rest,
            )
        )  # fmt: skip
    return tuple(found)


def vessel_for_peak(
    demand: Sequence[DayDemand], share_per_day: float = 0.30, per_ml: float = USUAL_PER_ML
) -> float:
    """The litres of one vessel that bear the most a day of these takes, fills left out.

    A fill is one harvest: no vessel is sized by one night.
    """
    most = max((day.planned for day in demand), default=0.0)
    return vessel_l(most, share_per_day, per_ml, RECOVERY) if most > 0 else 0.0
