"""What to do about a food that will fall short, and by when: sieve deeper once, let a young
culture grow, start a further one from seed, count what nobody counted.

Each way is tried on the days ahead themselves; the one kept is that with which the food lasts
longest, and its `by` is the last day on which it still does.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from hatchery_app.domain.live_food.food_ahead import (
    GROWN_AT,
    NOTHING,
    Course,
    DaySupply,
    Seeding,
    VesselAhead,
    days_in_figures,
    days_of_growth,
    first_short,
    run,
)
from hatchery_app.domain.live_food.food_demand import DayDemand
from hatchery_app.domain.live_food.live_food import ML_PER_L, sieved_l
from hatchery_app.domain.live_food.vessel import GROWTH_PER_DAY, RECOVERY, USUAL_PER_ML

SEED_PER_ML = (50.0, 100.0, 150.0)  # inoculum of algae-fed batches, a course unit after FAO 361
SEED_LEAST_PER_ML = 10.0  # thinner seed takes over a week to grow thick; assumed
SEED_SHARE_MOST = 0.4  # of what stands in the vessel it comes from, at the most; assumed
MOST_STARTS = 3
NEVER = 10_000  # days: a seed that does not grow
NEW_LITRES = (10.0, 20.0, 50.0, 100.0)  # sizes a further vessel comes in; assumed
NEW_TANK = -1  # stands for a vessel that is not in the room yet, and one lower for each more


class Do(StrEnum):
    """What is to be done."""

    COUNT = "count"
    SIEVE_DEEPER = "sieve deeper"
    LET_GROW = "let grow"
    START = "start"
    GET_CULTURE = "get a culture"


@dataclass(frozen=True)
class Step:
    """One thing to do, from `on`, at the latest `by`.

    START: `litres` of vessel, `seed_l` of `from_label` at `from_per_ml`, grown by `helps_on`.
    SIEVE_DEEPER: `litres` and `animals` beyond what it bears, on that day. LET_GROW: not sieved
    until `helps_on`. A vessel that is not in the room yet has a `tank_id` below 0.
    """

    do: Do
    tank_id: int
    label: str
    on: date
    by: date
    litres: float = 0.0
    animals: float = 0.0
    from_id: int = 0
    from_label: str = ""
    from_per_ml: float = 0.0
    seed_l: float = 0.0
    seed_per_ml: float = 0.0
    helps_on: date | None = None
    is_spare: bool = False


@dataclass(frozen=True)
class Place:
    """A vessel in which nothing lives, that a culture can be started in."""

    tank_id: int
    label: str
    litres: float


@dataclass(frozen=True)
class Seed:
    """Where a culture can be started from: a vessel that is sieved, or cool stock.

    `spare` are the animals that can be poured off it; the advice works it out.
    """

    tank_id: int
    label: str
    animals: float
    per_ml: float
    rate_per_day: float = GROWTH_PER_DAY
    spare: float = 0.0


@dataclass(frozen=True)
class Advice:
    """What to do, the vessels and the days ahead if it is done, both with the safety.

    `base` and `without` are the vessels and the careful days if nothing is done beyond letting
    young cultures grow; `after` are the careful days with every step taken.
    """

    steps: tuple[Step, ...]
    base: tuple[VesselAhead, ...]
    without: Course
    after: Course


class _Worth(NamedTuple):
    """How good the days ahead are: that nothing lacks for longest first, then that least lacks,
    to a whole animal."""

    days_held: int
    less_lacking: int


WORST = _Worth(-1, 0)  # below any


@dataclass(frozen=True)
class _Try:
    """Vessels and what is poured between them, and how good the days with them are."""

    vessels: tuple[VesselAhead, ...]
    seedings: tuple[Seeding, ...]
    worth: _Worth


@dataclass(frozen=True)
class _Days:
    """The days that every way is tried on: the need with its safety, and today's food in hand."""

    demand: Sequence[DayDemand]
    in_hand: float
    used_first_day: float | None

    def course(self, vessels: Sequence[VesselAhead], seedings: Sequence[Seeding] = ()) -> Course:
        """The days with these vessels, as they are shown."""
        return run(
            self.demand, vessels, careful=True, in_hand=self.in_hand,
            used_first_day=self.used_first_day, seedings=seedings,
        )  # fmt: skip

    def tried(
        self, vessels: Sequence[VesselAhead], seedings: Sequence[Seeding] = (),
        least: _Worth = WORST,
    ) -> _Try:  # fmt: skip
        """How good the days with these vessels are. Below `least` only that they are below: what
        lacks so far never becomes less, so the days after it need not be known."""
        figures = days_in_figures(
            self.demand, vessels, careful=True, in_hand=self.in_hand,
            used_first_day=self.used_first_day, seedings=seedings,
        )  # fmt: skip
        held, lacking = len(self.demand), 0.0
        worth = _Worth(held, 0)
        for place, day in enumerate(figures):
            short = day.lacking
            lacking += short
            if short >= NOTHING:
                held = min(held, place)
            worth = _Worth(held, -math.floor(lacking))
            if worth < least:
                break
        return _Try(tuple(vessels), tuple(seedings), worth)


_Way = tuple[Place, Seed, float]


def advise(
    demand: Sequence[DayDemand],
    vessels: Sequence[VesselAhead],
    *,
    young: Iterable[int] = (),
    places: Sequence[Place] = (),
    seeds: Sequence[Seed] = (),
    in_hand: float = 0.0,
    used_first_day: float | None = None,
) -> Advice:
    """What to do about one food. `young` are the vessels that may be left alone to grow."""
    days = _Days(demand, in_hand, used_first_day)
    now = days.tried(vessels)
    steps: list[Step] = []
    rested = [_rested(one) if one.tank_id in set(young) else one for one in vessels]
    if rested != list(vessels) and (alone := days.tried(rested)).worth > now.worth:
        now = alone
        steps += [_let_grow(one, demand) for one in rested if one.rests_until]
    without, free = now, [*places, *_new_places(demand, places)]
    while now.worth.days_held < len(demand) and len(now.seedings) < MOST_STARTS and free:
        ways = [
            (place, seed, per_ml) for place in _fitting(free) for seed in seeds
            for per_ml in _densities(place, _spared(seed, now))
        ]  # fmt: skip
        found = _best(days, now, ways)
        if found is None:
            break
        way, best = found
        steps.append(_start(demand, *way, best.vessels[-1], _last_day(days, now, way, best)))
        free = [place for place in free if place.tank_id != way[0].tank_id]
        now = best
    after = days.course(now.vessels, now.seedings)
    resting = {one.tank_id for one in now.vessels if one.rests_until}
    steps += [step for step in _deeper(after) if step.tank_id not in resting]
    return Advice(tuple(steps), without.vessels, days.course(without.vessels), after)


def get_culture(food: str, first_need: date, today: date) -> Step:
    """Where no culture of a food lives in the room: one is wanted, grown by the first need."""
    return Step(Do.GET_CULTURE, 0, food, today, max(today, first_need))


def count_first(tank_id: int, label: str, today: date) -> Step:
    """A vessel that nobody counted gives nothing until it is counted."""
    return Step(Do.COUNT, tank_id, label, today, today)


def spare(
    demand: Sequence[DayDemand],
    vessels: Sequence[VesselAhead],
    places: Sequence[Place],
    seeds: Sequence[Seed],
    others: Iterable[Step] = (),
) -> Step | None:
    """A second culture where only one stands: grown by the first day of need, said before.

    `others` are the steps beside it: what is sieved deeper today is no seed.
    """
    first = next((day for day in demand if day.careful >= NOTHING), None)
    if len(vessels) != 1 or first is None or not seeds:
        return None
    place = places[0] if places else Place(NEW_TANK, "a second vessel", vessels[0].litres)
    seed = _spared(seeds[0], _Try(tuple(vessels), (), WORST))
    sieved = sum(
        step.animals / RECOVERY for step in others
        if step.do is Do.SIEVE_DEEPER and step.tank_id == seed.tank_id
        and step.on == demand[0].on
    )  # fmt: skip
    densities = _densities(place, replace(seed, spare=max(0.0, seed.spare - sieved)))
    if not densities:
        return None
    begun = _begun(place, seeds[0], densities[0])
    grown = begun.rests_until
    by = max(0, (first.on - demand[0].on).days - grown)
    return replace(_start(demand, place, seeds[0], densities[0], begun, by), is_spare=True)


# --- The ways -----------------------------------------------------------------------------


def _rested(one: VesselAhead) -> VesselAhead:
    days = days_of_growth(one.animals, GROWN_AT * one.ceiling, one.rate_per_day)
    return replace(one, rests_until=days or 0)


def _let_grow(one: VesselAhead, demand: Sequence[DayDemand]) -> Step:
    until = demand[min(one.rests_until, len(demand) - 1)].on
    return Step(Do.LET_GROW, one.tank_id, one.label, demand[0].on, demand[0].on, helps_on=until)


def _new_places(demand: Sequence[DayDemand], places: Sequence[Place]) -> list[Place]:
    """Further vessels, where the empty ones of the room are used up: of each size up to what the
    peak asks for, since little seed starts a small one."""
    most = max((day.planned for day in demand), default=0.0)
    wanted = most / (0.3 * USUAL_PER_ML * RECOVERY * ML_PER_L)
    largest = next((size for size in NEW_LITRES if size >= wanted), NEW_LITRES[-1])
    return [
        Place(NEW_TANK - number, "a further vessel", litres)
        for number in range(max(0, MOST_STARTS - len(places)))
        for litres in NEW_LITRES
        if litres <= largest
    ]


def _fitting(free: Sequence[Place]) -> list[Place]:
    """The room's empty vessels of each size; one that must be got only where none is empty."""
    here = [place for place in free if place.tank_id > 0]
    nearest = max(place.tank_id for place in free)
    next_one = [place for place in free if place.tank_id == nearest]
    by_size = {place.litres: place for place in reversed(here or next_one)}
    return list(by_size.values())


def _densities(place: Place, seed: Seed) -> list[float]:
    """How thick the seed can be: as far as a part of where it comes from reaches."""
    most = seed.spare / (place.litres * ML_PER_L)
    within = [per_ml for per_ml in SEED_PER_ML if per_ml <= most]
    return within or ([most] if most >= SEED_LEAST_PER_ML else [])


def _spared(seed: Seed, now: _Try) -> Seed:
    """What may be poured off: never of the half that stays in a vessel, nor of what it bears,
    nor what another start has of it already."""
    gone = sum(one.animals for one in now.seedings if one.from_id == seed.tank_id)
    spare = SEED_SHARE_MOST * seed.animals - gone
    for one in now.vessels:
        if one.tank_id == seed.tank_id:
            spare = min(spare, one.seed_spare - gone)
    return replace(seed, spare=max(0.0, spare))


def _begun(place: Place, seed: Seed, per_ml: float, day: int = 0) -> VesselAhead:
    days = days_of_growth(per_ml, GROWN_AT * USUAL_PER_ML, seed.rate_per_day)
    ceiling = USUAL_PER_ML * place.litres * ML_PER_L
    return VesselAhead(
        place.tank_id, place.label, place.litres, 0.0, seed.rate_per_day, ceiling,
        rests_until=day + max(1, days) if days is not None else NEVER,
    )  # fmt: skip


def _started(
    now: _Try, place: Place, seed: Seed, per_ml: float, *, day: int
) -> tuple[tuple[VesselAhead, ...], tuple[Seeding, ...]]:
    begun = _begun(place, seed, per_ml, day)
    animals = per_ml * place.litres * ML_PER_L
    seeding = Seeding(day, seed.tank_id, place.tank_id, animals)
    return (*now.vessels, begun), (*now.seedings, seeding)


def _best(days: _Days, now: _Try, ways: Iterable[_Way]) -> tuple[_Way, _Try] | None:
    """The start with which the days go best: of two as good the smaller vessel, then the thinner
    seed. None where none is better than to start nothing."""
    best: tuple[_Way, _Try] | None = None
    for way in ways:
        least = now.worth if best is None else best[1].worth
        one = days.tried(*_started(now, *way, day=0), least)
        if one.worth > now.worth and (best is None or _rank(way, one) > _rank(*best)):
            best = way, one
    return best


def _rank(way: _Way, found: _Try) -> tuple[_Worth, float, float]:
    place, _, per_ml = way
    return found.worth, -place.litres, -per_ml


def _last_day(days: _Days, now: _Try, way: _Way, best: _Try) -> int:
    """The last day on which a start is as good as today."""
    last = 0
    for day in range(1, len(days.demand)):
        if days.tried(*_started(now, *way, day=day), best.worth).worth < best.worth:
            break
        last = day
    return last


def _start(
    demand: Sequence[DayDemand], place: Place, seed: Seed, per_ml: float, begun: VesselAhead,
    last: int,
) -> Step:  # fmt: skip
    animals = per_ml * place.litres * ML_PER_L
    helps = min(begun.rests_until, len(demand) - 1)
    return Step(
        Do.START, place.tank_id, place.label, demand[0].on, demand[last].on, place.litres, animals,
        seed.tank_id, seed.label, seed.per_ml, animals / (seed.per_ml * ML_PER_L), per_ml,
        demand[helps].on,
    )  # fmt: skip


def _deeper(course: Course) -> list[Step]:
    """On the first day that the vessels do not bear but reach: how much more of which."""
    day = first_short(course)
    if day is None:
        return []
    return _deeper_on(day)


def _deeper_on(day: DaySupply) -> list[Step]:
    found, short = [], day.short
    for one in day.given:
        animals = min(short, one.reach - one.bears)
        if animals >= NOTHING:
            litres = sieved_l(animals, one.per_ml, RECOVERY)
            found.append(
                Step(Do.SIEVE_DEEPER, one.tank_id, one.label, day.on, day.on, litres, animals)
            )
            short -= animals
    return found
