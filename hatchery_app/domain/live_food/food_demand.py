"""What the larvae will need, day by day: each batch by its plan, each clutch by its nights.

Everything is summed on the calendar: what is eaten, what the water change washes out, what a
rising target asks for, and one first fill *held* for each clutch that may hatch. Numbers are
animals, for green water cells, for dry food grams.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import NamedTuple

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.grazing import Grazing, nauplii_on
from hatchery_app.domain.larval_tank.larval_protocol import (
    Food,
    LarvalProtocol,
    for_day,
    plan_day_of,
)
from hatchery_app.domain.live_food.live_food import (
    ML_PER_L,
    HeldFill,
    TankPlan,
    held_on,
    need_on_day,
)

DAYS_AHEAD = 21
SAFETY = 1.5  # on eating and washout, never on a fill; assumed
SURVIVAL_PER_DAY = 0.97  # planning value; assumed
HATCH_SHARES = (0.5, 0.85, 1.0)  # of the eggs that become larvae: low, likely, high; assumed
LARVAE_PER_L = (2.0, 10.0, 25.0)  # where nobody said how many; assumed
HELD_WHILE = 0.05  # a fill is held while the clutch is at least so likely still to hatch; assumed
POSSIBLE = 0.005  # a night with less is left out of the band
SHRIMP_FROM_MM = 6.0  # total length at which brine shrimp began in Divya et al. 2011
GREENWATER = "green water"
GRAZED = (Food.ROTIFERS, Food.COPEPODS)
SHRIMP = (Food.SHRIMP_INSTAR_I, Food.SHRIMP_ENRICHED)


class Amounts(NamedTuple):
    """One day's need of one food: low, likely, likely with the safety, high."""

    low: float
    likely: float
    planned: float
    high: float


NONE = Amounts(0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class DayDemand:
    """One food on one day, over all tanks and clutches.

    `low`–`high` bound what is used up, `planned` is the likely use with its safety. `held` must
    stand ready that evening and is not used up by standing; `poured` of it likely goes in that
    night.
    """

    on: date
    low: float
    likely: float
    planned: float
    high: float
    held: float = 0.0
    poured: float = 0.0

    @property
    def need(self) -> float:
        """What should stand ready that day: the likely use and what is held."""
        return self.likely + self.held

    @property
    def careful(self) -> float:
        """The same with the safety on eating and washout."""
        return self.planned + self.held

    @property
    def most(self) -> float:
        """The most it may be."""
        return max(self.high, self.planned) + self.held


@dataclass(frozen=True)
class Course:
    """How one tank of larvae is fed from its hatch night on, whatever their number.

    `length_mm` on `length_dph` is a measured mean; it moves the first day of both brine-shrimp
    foods. `hatched_mm` and `growth_mm_per_day` are the species' own line of length by age.
    """

    protocol: LarvalProtocol
    litres: float
    mean_c: float | None = None
    grazing: Grazing = field(default_factory=Grazing)
    length_mm: float | None = None
    length_dph: int | None = None
    growth_mm_per_day: float | None = None
    hatched_mm: float | None = None

    def takes(self, food: Food, dph: int) -> bool:
        """Whether larvae of a day are large enough for a food of their plan, where measured."""
        from_dph = self.first_dph_by_size(food)
        return from_dph is None or dph >= from_dph

    def length_on(self, dph: int) -> float | None:
        """The mean length on a day: from what was measured, else by the species' line."""
        grown = self.growth_mm_per_day or 0.0
        if self.length_mm is not None and self.length_dph is not None:
            return self.length_mm + grown * (dph - self.length_dph)
        return self.hatched_mm + grown * dph if self.hatched_mm is not None else None

    def length_for(self, food: Food) -> float | None:
        """From which length larvae take a brine-shrimp food; None where that is not known.

        Instar I from 6 mm (Divya et al. 2011). Enriched ones are twice as long (FAO 428, ch. 6):
        from the length at which the plan begins them, by the species' line.
        """
        if food is Food.SHRIMP_INSTAR_I:
            return SHRIMP_FROM_MM
        if food is not Food.SHRIMP_ENRICHED or self.hatched_mm is None:
            return None
        first = [one.from_dph for one in self.protocol.stages if one.food is food]
        if not first or not self.growth_mm_per_day:
            return None
        return self.hatched_mm + self.growth_mm_per_day * min(first)

    def first_dph_by_size(self, food: Food) -> int | None:
        """The day the larvae reach the length a food is for; None where they were not measured."""
        if self.length_mm is None or self.length_dph is None:
            return None
        wanted = self.length_for(food)
        if wanted is None:
            return None
        lacking = wanted - self.length_mm
        if lacking <= 0:
            return 0
        if not self.growth_mm_per_day:
            return self.length_dph + 1
        return self.length_dph + math.ceil(round(lacking / self.growth_mm_per_day, 6))


@dataclass(frozen=True)
class PerTank:
    """The parts of one food's need on a day of life: of each larva, and of the water alone."""

    each: float = 0.0  # eaten by one larva alive that day
    each_low: float = 0.0
    each_high: float = 0.0
    washed: float = 0.0
    fill: float = 0.0  # the first fill, or what a rising target asks for; a falling one is below 0

    def of(self, larvae: tuple[float, float, float], *, with_fill: bool = True) -> Amounts:
        """The need of so many larvae (low, best, high). The safety is on eating and washout."""
        low, best, high = larvae
        fill = self.fill if with_fill else 0.0
        used = best * self.each + self.washed
        return Amounts(
            max(0.0, low * self.each_low + self.washed + fill),
            max(0.0, used + fill),
            max(0.0, SAFETY * used + fill),
            max(0.0, max(SAFETY * used, high * self.each_high + self.washed) + fill),
        )


@dataclass(frozen=True)
class PlanDay:
    """One day of a plan in figures: targets per mL, how far a tapering food is down from its
    full band, water change in %, green water in cells per mL, grain of dry food in µm."""

    targets: Mapping[Food, float]
    shares: Mapping[Food, float]
    change_percent: float
    green_per_ml: float
    grain_um: tuple[float, float] | None
    named: tuple[Food, ...]


def plan_day(protocol: LarvalProtocol, day: int) -> PlanDay:
    """One day of the plan itself, at the plan's own temperature, whoever is behind it."""
    plan = for_day(replace(protocol, behind_days=0), day, None)
    change, green, dry = plan.water_change, plan.greenwater, plan.microdiet
    shares = {
        stage.food: full / middle
        for stage in protocol.foods_on(day)
        if stage.tapers and (full := _middle(*stage.band_on(day)))
        and (middle := _middle(stage.low, stage.high))
    }  # fmt: skip
    return PlanDay(
        {fed.food: fed.target for fed in plan.foods if fed.target},
        shares,
        min(100.0, _middle(change.low, change.high) or 0.0) if change is not None else 0.0,
        (green.low + green.high) / 2 if green is not None else 0.0,
        (dry.low, dry.high) if dry and dry.low is not None and dry.high is not None else None,
        tuple(dict.fromkeys(fed.food for fed in plan.foods)),
    )


def _middle(low: float | None, high: float | None) -> float | None:
    return None if low is None or high is None else (low + high) / 2


class Courses:
    """Needs per tank, each course and day worked out once: clutches of a species share them,
    tanks on one plan share its days."""

    def __init__(self) -> None:
        self._needs: dict[tuple[int, int], Mapping[str, PerTank]] = {}
        self._days: dict[tuple[int, int, int, int], PlanDay] = {}
        # What is kept keeps its number: as long as one stands here, it is not another's.
        self._kept: list[object] = []

    def on(self, course: Course, dph: int) -> Mapping[str, PerTank]:
        """What a tank on this course needs on that day of life."""
        key = id(course), dph
        if key not in self._needs:
            self._kept.append(course)
            self._needs[key] = self._per_tank(course, dph)
        return self._needs[key]

    def day(self, course: Course, dph: int) -> PlanDay:
        """The day of the plan that a day of life is read as at the tank's temperature."""
        plan = course.protocol
        number = plan_day_of(plan, dph, course.mean_c)
        # A batch that is behind has a plan of its own, with the same days.
        key = id(plan.stages), id(plan.change_percent), id(plan.greenwater), number
        if key not in self._days:
            self._kept.append(plan)
            self._days[key] = plan_day(plan, number)
        return self._days[key]

    def _per_tank(self, course: Course, dph: int) -> Mapping[str, PerTank]:
        day = self.day(course, dph)
        found: dict[str, PerTank] = {}
        for food, target in day.targets.items():
            if food in GRAZED:
                found[food] = self._grazed(course, food, dph, target, day.change_percent)
            elif food in SHRIMP and course.takes(food, dph):
                found[food] = _shrimp(course, dph, target, day.shares.get(food, 1.0))
        if day.green_per_ml > 0:
            full = day.green_per_ml * course.litres * ML_PER_L
            washed = full * day.change_percent / 100
            found[GREENWATER] = PerTank(fill=full) if dph == 0 else PerTank(washed=washed)
        return found

    def _grazed(
        self, course: Course, food: Food, dph: int, target: float, percent: float
    ) -> PerTank:
        tomorrow = self.day(course, 1).targets.get(food) if dph == 0 else None
        plan = TankPlan(1.0, course.litres, tomorrow or target, grazing=course.grazing.on)
        need = need_on_day(plan, dph, percent)
        if need is None:
            return PerTank()
        fill = need.fill
        if dph > 1:
            before = self.day(course, dph - 1).targets.get(food)
            fill = (target - before) * course.litres * ML_PER_L if before else 0.0
        grazing, each = course.grazing, need.eaten_each
        return PerTank(
            each, each * grazing.low / grazing.factor, each * grazing.high / grazing.factor,
            need.washed_out, fill,
        )  # fmt: skip


def _shrimp(course: Course, dph: int, target: float, share: float) -> PerTank:
    """Nauplii, given new each day: by what larvae take from 8 dph, before by the density."""
    each = nauplii_on(dph)
    if each is None:
        return PerTank(fill=target * course.litres * ML_PER_L)
    return PerTank(each * share, each * share / SAFETY, each * share * SAFETY)


# --- Batches and clutches -----------------------------------------------------------------


@dataclass(frozen=True)
class BatchAhead:
    """Larvae in a tank: how old today (dph), how many now (low, best, high)."""

    label: str
    dph: int
    larvae: tuple[float, float, float]
    course: Course
    number_assumed: bool = False

    def __post_init__(self) -> None:
        if self.dph < 0 or not 0 <= self.larvae[0] <= self.larvae[1] <= self.larvae[2]:
            raise RuleBroken("Larvae ahead have an age, and a number between its bounds.")


@dataclass(frozen=True)
class ClutchAhead:
    """Eggs that may hatch. `chances` are by evening, today's first; what is left of 1 is later.

    `held_from` is the evening its first fill is to stand ready from. `larvae` low, best, high.
    """

    clutch_id: int
    name: str
    food: str
    fill: float
    held_from: date
    larvae: tuple[float, float, float]
    course: Course
    chances: tuple[float, ...] = ()
    has_figure: bool = True


def demand_ahead(
    first_day: date,
    batches: Iterable[BatchAhead],
    clutches: Iterable[ClutchAhead],
    days: int = DAYS_AHEAD,
    courses: Courses | None = None,
) -> Mapping[str, tuple[DayDemand, ...]]:
    """Every food's demand over the days from `first_day`, in the order of the plan's foods."""
    courses = courses or Courses()
    sums: defaultdict[str, _Sums] = defaultdict(lambda: _Sums(days))
    for batch in batches:
        for day in range(days):
            alive = SURVIVAL_PER_DAY**day
            low, best, high = batch.larvae
            larvae = low * alive, best * alive, high * alive
            for food, need in courses.on(batch.course, batch.dph + day).items():
                sums[food].add(day, need.of(larvae))
    clutches = tuple(clutches)
    lives: dict[tuple[int, tuple[float, float, float]], Mapping[str, _Life]] = {}
    for clutch in clutches:
        key = id(clutch.course), clutch.larvae  # many a clutch is planned by its species' number
        if key not in lives:
            lives[key] = _life(clutch, days, courses)
        _add_clutch(clutch, days, lives[key], sums)
    held = _held(first_day, clutches, days)
    foods = [food for food in (*(f.value for f in Food), GREENWATER) if food in {*sums, *held}]
    none = [0.0] * days
    return {
        food: tuple(
            sums[food].on(first_day + timedelta(days=day), day, held.get(food, none)[day])
            for day in range(days)
        )
        for food in foods
    }


class _Sums:
    """One food summed over all, each part of its need a list by day."""

    def __init__(self, days: int) -> None:
        self.low = [0.0] * days
        self.likely = [0.0] * days
        self.planned = [0.0] * days
        self.high = [0.0] * days
        self.poured = [0.0] * days

    def add(self, day: int, need: Amounts) -> None:
        """The need of a batch on a day."""
        self.low[day] += need.low
        self.likely[day] += need.likely
        self.planned[day] += need.planned
        self.high[day] += need.high

    def on(self, date_of_day: date, day: int, held: float) -> DayDemand:
        """A day with what is held on it."""
        # A clutch nearly sure to hatch is whole at the low end, and by its chance in the middle.
        low, likely = self.low[day], self.likely[day]
        return DayDemand(
            date_of_day, min(low, likely), likely, self.planned[day], self.high[day], held,
            self.poured[day],
        )  # fmt: skip


class _Life(NamedTuple):
    """One clutch's need of a food by days of life, from the first, `begins`, to the last of any."""

    begins: int
    low: Sequence[float]
    likely: Sequence[float]
    planned: Sequence[float]
    high: Sequence[float]


def _add_clutch(
    clutch: ClutchAhead, days: int, life: Mapping[str, _Life], sums: Mapping[str, _Sums]
) -> None:
    """A clutch by its nights: weighted for the likely need, its least and most night for the
    band. The first fill is held, not added on each night; `poured` has it by its chance."""
    chances = clutch.chances[:days]
    nights = [night for night, chance in enumerate(chances) if chance > POSSIBLE]
    surely = sum(chances) >= 1 - HELD_WHILE
    for food, need in life.items() if nights else ():
        total, most = sums[food], [0.0] * days
        begins = [night + need.begins for night in nights]
        for night, first in zip(nights, begins, strict=True):
            chance = chances[night]
            fed = zip(range(first, days), need.likely, need.planned, need.high, strict=False)
            for day, likely, planned, high in fed:
                total.likely[day] += chance * likely
                total.planned[day] += chance * planned
                if high > most[day]:
                    most[day] = high
        total.high = [high + more for high, more in zip(total.high, most, strict=True)]
        fed_until = begins[0] + len(need.low)
        for day in range(begins[-1], min(days, fed_until)) if surely else ():
            total.low[day] += min([need.low[day - first] for first in begins])
    if clutch.fill:
        for night in nights:
            sums[clutch.food].poured[night] += chances[night] * clutch.fill


def _life(clutch: ClutchAhead, days: int, courses: Courses) -> Mapping[str, _Life]:
    """One clutch's need of each food from its hatch night on."""
    by_day = [_of_life(clutch, dph, courses) for dph in range(days)]
    found = {}
    for food in dict.fromkeys(food for needs in by_day for food in needs):
        fed = [dph for dph, needs in enumerate(by_day) if food in needs]
        needs = [by_day[dph].get(food, NONE) for dph in range(fed[0], fed[-1] + 1)]
        found[food] = _Life(fed[0], *zip(*needs, strict=True))
    return found


def _of_life(clutch: ClutchAhead, dph: int, courses: Courses) -> Mapping[str, Amounts]:
    """One clutch's need on a day of life; on the hatch night the held fill is all of it."""
    alive = SURVIVAL_PER_DAY**dph
    low, best, high = (one * alive for one in clutch.larvae)
    return {
        food: need.of((low, best, high), with_fill=dph > 0 or food != clutch.food)
        for food, need in courses.on(clutch.course, dph).items()
    }


def fills_held(clutch: ClutchAhead, first_day: date) -> HeldFill:
    """The clutch's one first fill, held until it is hardly likely still to hatch."""
    until, left = None, 1.0
    if clutch.has_figure:
        for night, chance in enumerate(clutch.chances):
            if left < HELD_WHILE:
                break
            until, left = first_day + timedelta(days=night), left - chance
    return HeldFill(clutch.clutch_id, clutch.held_from, until, clutch.fill)


def _held(
    first_day: date, clutches: Sequence[ClutchAhead], days: int
) -> Mapping[str, list[float]]:
    by_food: dict[str, list[HeldFill]] = {}
    for clutch in clutches:
        if clutch.fill:
            by_food.setdefault(clutch.food, []).append(fills_held(clutch, first_day))
    return {
        food: [held_on(first_day + timedelta(days=day), fills) for day in range(days)]
        for food, fills in by_food.items()
    }
