"""Food for three weeks ahead: demand of all larvae and eggs, what the room's cultures can give.

Everything comes from the day's facts; what the room learned of eating and its brine shrimp are
asked for beside them. Today's own figures are the plan's first day.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.hatch_forecast import HatchForecast
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.larval_tank.food_change import FoodChange, food_changes
from hatchery_app.domain.larval_tank.grazing import Grazing
from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.live_food.food_action import Place
from hatchery_app.domain.live_food.food_demand import (
    DAYS_AHEAD,
    HATCH_SHARES,
    LARVAE_PER_L,
    BatchAhead,
    ClutchAhead,
    Course,
    Courses,
    DayDemand,
    demand_ahead,
)
from hatchery_app.domain.live_food.food_eaters import Eater, eaters_on
from hatchery_app.domain.live_food.food_outlook import Outlook, outlook
from hatchery_app.domain.live_food.live_food import ML_PER_L
from hatchery_app.domain.live_food.shrimp_ahead import ShrimpDay, shrimp_ahead, start_task
from hatchery_app.domain.live_food.vessel import COUNT_HOLDS, GROWTH_PER_DAY, Cultured
from hatchery_app.domain.live_food.vessel_signs import signs_of
from hatchery_app.domain.today.schedule import Round, Task, round_starts, turn_at
from hatchery_app.services.larval_tank.larval_day import LarvalPlan
from hatchery_app.services.live_food.live_food_eaten import learned
from hatchery_app.services.live_food.live_food_facts import Cultures
from hatchery_app.services.live_food.live_food_hatching import Hatching, hatching
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.services.today.today_food import FoodNeed, FoodToday
from hatchery_app.services.today.today_tasks import FoodWork, usual_litres
from hatchery_app.services.today.tonight import NightWatch, first_fill

CULTURED = (Cultured.ROTIFERS, Cultured.COPEPODS)
SHRIMP = (Food.SHRIMP_INSTAR_I, Food.SHRIMP_ENRICHED)
PASSED = timedelta(hours=1)  # a feeding an hour ago was given, or will be late anyway


@dataclass(frozen=True)
class ShrimpOutlook:
    """One of the two brine-shrimp foods ahead: feeding by feeding, and what it is hatched from."""

    food: Food
    days: tuple[ShrimpDay, ...]
    hatching: Hatching
    now: datetime


@dataclass(frozen=True)
class BatchChanges:
    """A batch with its changes of food ahead."""

    label: str
    holding_id: int
    dph: int
    changes: tuple[FoodChange, ...]


@dataclass(frozen=True)
class FoodAhead:
    """The days from today, food by food.

    `demand` has all foods, those without a vessel too. `assumed` are the tanks whose number of
    larvae nobody said; `grazing` says what the eating rests on. `lack_today` are the tanks that
    a food still goes into today, by Today.
    """

    today: date
    demand: Mapping[str, tuple[DayDemand, ...]]
    outlooks: tuple[Outlook, ...]
    shrimp: tuple[ShrimpOutlook, ...]
    batches: tuple[BatchChanges, ...]
    clutches: tuple[ClutchAhead, ...]
    assumed: tuple[str, ...]
    grazing: Grazing
    room: RoomNow
    eaters: tuple[BatchAhead, ...] = ()
    lack_today: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def wanted_by(self, food: str, on: date) -> tuple[Eater, ...]:
        """Who wants a food on a day: where it is short, first feeders first."""
        eaters = self.eaters
        if on == self.today:
            lack = self.lack_today.get(food, frozenset())
            eaters = tuple(one for one in eaters if one.label in lack)
        return eaters_on(food, on, self.today, eaters, self.clutches)

    def outlook(self, food: str) -> Outlook | None:
        """A cultured food ahead; None where it is neither kept nor wanted."""
        return next((one for one in self.outlooks if one.food.value == food), None)


def food_ahead(session: Session, facts: DayFacts, now_eaten: FoodToday) -> FoodAhead:
    """Food ahead from the day's facts. One statement more, and the brine shrimp's six."""
    grazing = learned(session, facts)
    courses = Courses()
    batches = {
        plan.holding.id: (plan, batch)
        for plan in facts.larvae
        if (batch := batch_ahead(facts, plan, grazing)) is not None
    }
    clutches = clutches_ahead(facts, grazing)
    today = facts.turn.day
    planned = demand_ahead(
        today, [batch for _, batch in batches.values()], clutches, DAYS_AHEAD, courses
    )
    demand = _with_today(planned, now_eaten, today)
    return FoodAhead(
        today=today,
        demand=demand,
        outlooks=tuple(_outlooks(facts, demand, now_eaten, batches.values(), courses)),
        shrimp=_shrimp(session, facts, demand),
        batches=tuple(
            BatchChanges(batch.label, key, batch.dph, _changes(batch, today, courses))
            for key, (_, batch) in batches.items()
        ),
        clutches=clutches,
        assumed=tuple(batch.label for _, batch in batches.values() if batch.number_assumed),
        grazing=grazing,
        room=facts.room,
        eaters=tuple(batch for _, batch in batches.values()),
        lack_today={
            need.food: frozenset(one.label for one in need.wanted if one.animals > 0)
            for need in now_eaten.needs
        },
    )


def _changes(batch: BatchAhead, today: date, courses: Courses) -> tuple[FoodChange, ...]:
    return food_changes(batch.course, batch.dph, today, courses=courses)


# --- Who eats -----------------------------------------------------------------------------


def batch_ahead(facts: DayFacts, plan: LarvalPlan, grazing: Grazing) -> BatchAhead | None:
    """A batch as the plan takes it; None where its age or its species' plan is not known."""
    if plan.age is None or plan.course is None:
        return None
    number = facts.larval_stock.balance(plan.holding.id).now
    larvae, assumed = _how_many(number, plan.litres)
    course = replace(plan.course, grazing=grazing)
    return BatchAhead(plan.holding.place.label, plan.age.oldest, larvae, course, assumed)


def _how_many(number: HowMany, litres: float) -> tuple[tuple[float, float, float], bool]:
    """How many larvae: as said, with a quarter either way where it was by eye; else by litres."""
    best = number.best if number.best is not None else number.low
    if best is None:
        low, likely, high = (each * litres for each in LARVAE_PER_L)
        return (low, likely, high), True
    low = number.low if number.low is not None else 0.75 * best
    high = number.high if number.high is not None else 1.25 * best
    return (min(low, best), float(best), max(high, best)), False


def clutches_ahead(facts: DayFacts, grazing: Grazing) -> tuple[ClutchAhead, ...]:
    """The clutches that may hatch, as the plan takes them."""
    litres = usual_litres(facts.walk)
    courses: dict[str, Course] = {}
    found = []
    for watch in (*facts.tonight.watches, *facts.tonight.others):
        species, forecast = watch.seen.species, watch.seen.forecast
        fill = first_fill(species, litres)
        prepare = forecast.prepare_from if forecast is not None else None
        if fill is None or species is None or species.larval is None:
            continue
        if prepare is None or litres <= 0 or watch.seen.brood is not None:
            continue
        course = courses.setdefault(species.key, Course(species.larval, litres, None, grazing))
        chances = _chances(forecast, facts.turn.day)
        found.append(
            ClutchAhead(
                watch.clutch_id, watch.name, fill[0], fill[1],
                max(prepare, watch.seen.laid_night).evening, _eggs(watch), course, chances,
                bool(chances),
            )
        )  # fmt: skip
    return tuple(found)


def _chances(forecast: HatchForecast | None, today: date) -> tuple[float, ...]:
    """The chance of each evening from today on; what may have passed unseen counts as today's."""
    if forecast is None or forecast.unknown is not None:
        return ()
    chances = [0.0] * DAYS_AHEAD
    chances[0] = forecast.chance_already
    for night in forecast.ahead:
        place = max(0, (night.night.evening - today).days)
        if place < DAYS_AHEAD:
            chances[place] += night.chance
    return tuple(chances)


def _eggs(watch: NightWatch) -> tuple[float, float, float]:
    """The larvae that a clutch may give, from its eggs, else from what its species lays."""
    eggs, species = watch.seen.clutch.eggs, watch.seen.species
    best = eggs.best if eggs.best is not None else eggs.low
    spawning = species.spawning if species is not None else None
    low, high = eggs.low or best, eggs.high or best
    if best is None and spawning is not None and spawning.clutch_low and spawning.clutch_high:
        low, high = spawning.clutch_low, spawning.clutch_high
        best = (low + high) // 2
    if best is None or low is None or high is None:
        return 0.0, 0.0, 0.0
    shares = HATCH_SHARES
    return shares[0] * low, shares[1] * best, shares[2] * high


# --- Today is the first day ---------------------------------------------------------------


def _with_today(
    planned: Mapping[str, tuple[DayDemand, ...]], eaten: FoodToday, today: date
) -> dict[str, tuple[DayDemand, ...]]:
    """The plan with Today's own figures as its first day, in the plan's order of foods."""
    needs = {need.food: need for need in eaten.needs}
    found = {
        food: (_today(days[0], needs.get(food)), *days[1:]) if food in _LIVE else days
        for food, days in planned.items()
    }
    for food, need in needs.items():
        if food not in found:
            none = [DayDemand(today + timedelta(days=n), 0, 0, 0, 0) for n in range(DAYS_AHEAD)]
            found[food] = (_today(none[0], need), *none[1:])
    return found


_LIVE = {food.value for food in Food}


def _today(day: DayDemand, need: FoodNeed | None) -> DayDemand:
    if need is None:
        return replace(day, low=0.0, likely=0.0, planned=0.0, high=0.0, held=0.0)
    return replace(
        day, low=need.low, likely=need.best, planned=need.best, high=need.high, held=need.held
    )


# --- What there is ------------------------------------------------------------------------


def _outlooks(
    facts: DayFacts,
    demand: Mapping[str, tuple[DayDemand, ...]],
    eaten: FoodToday,
    batches: Iterable[tuple[LarvalPlan, BatchAhead]],
    courses: Courses,
) -> Iterable[Outlook]:
    batches = tuple(batches)
    cultures = facts.cultures
    places = tuple(
        Place(one.vessel.tank_id, one.vessel.label, one.vessel.litres)
        for one in cultures.vessels
        if one.vessel.food is None or one.is_crashed
    )
    for food in CULTURED:
        kept = any(one.vessel.food is food for one in cultures.vessels)
        if food.value not in demand and not kept:
            continue
        none = tuple(
            DayDemand(facts.turn.day + timedelta(days=n), 0, 0, 0, 0) for n in range(DAYS_AHEAD)
        )
        supply = next((need.supply for need in eaten.needs if need.food == food.value), None)
        yield outlook(
            food, demand.get(food.value, none), cultures.vessels, places,
            in_hand=supply.in_hand if supply is not None else 0.0,
            used_first_day=_poured_today(facts, food.value, batches, courses),
            salinity=cultures.salinity_psu,
            expected=just_seeded(cultures, facts.now),
            warned=_warned(facts),
        )  # fmt: skip


def just_seeded(cultures: Cultures, now: datetime) -> dict[int, float]:
    """The animals expected in each vessel seeded within two days and not counted yet: the litres
    poured × the density of where they came from, grown at the usual rate."""
    by_tank = {one.vessel.tank_id: one.vessel for one in cultures.vessels}
    found = {}
    for tank_id, said in cultures.started.items():
        vessel, donor = by_tank.get(tank_id), by_tank.get(said.from_tank_id or 0)
        if vessel is None or donor is None or not vessel.lives or vessel.last is not None:
            continue
        before = [one for one in donor.counts if one.at <= said.at]
        litres = sum(
            one.litres or 0.0 for one in donor.harvests if one.as_seed and one.at == said.at
        )
        age = now - said.at
        if before and litres and vessel.food is Cultured.ROTIFERS and age <= COUNT_HOLDS:
            grown = math.exp(GROWTH_PER_DAY * (age / timedelta(days=1)))
            found[tank_id] = litres * ML_PER_L * before[-1].density.per_ml * grown
    return found


def _warned(facts: DayFacts) -> frozenset[int]:
    """The vessels of which an alarm stands."""
    water = facts.cultures.water
    return frozenset(
        one.vessel.tank_id
        for one in facts.cultures.vessels
        if any(
            sign.is_alarm
            for sign in signs_of(one, now=facts.now, water=water.get(one.vessel.tank_id))
        )
    )


def _poured_today(
    facts: DayFacts, food: str, batches: Sequence[tuple[LarvalPlan, BatchAhead]], courses: Courses
) -> float:
    """What still goes into the tanks today: what a look says lacks; where nobody looked, what is
    likely eaten and not a whole fill; where it was topped up today, nothing more."""
    began_at = facts.room.room_time.whole_days(facts.turn.day).earliest
    topped = {
        look.tank_id
        for look in facts.prey_looked
        if look.food == food and look.topped_up and look.at >= began_at
    }
    total = 0.0
    for plan, batch in batches:
        for prey in plan.prey:
            if prey.food.food.value != food or prey.whole_fill is None:
                continue
            if prey.add is not None:
                total += prey.add.animals
            elif plan.holding.place.tank_id not in topped:
                need = courses.on(batch.course, batch.dph).get(food)
                likely = need.of(batch.larvae).likely if need is not None else 0.0
                total += min(prey.whole_fill, likely)
    return total


def _shrimp(
    session: Session, facts: DayFacts, demand: Mapping[str, tuple[DayDemand, ...]]
) -> tuple[ShrimpOutlook, ...]:
    wanted = [food for food in SHRIMP if food.value in demand]
    hours = _feeding_hours(facts)
    if not wanted:
        return ()
    here = hatching(session, {food: demand[food.value] for food in wanted}, hours, facts.now)
    skipped = 1 if hours[0] < facts.now - PASSED else 0
    return tuple(
        ShrimpOutlook(
            food,
            shrimp_ahead(
                food, demand[food.value][skipped:], hours[skipped:], here.cysts, facts.now,
                here.coming,
            ),
            here,
            facts.now,
        )
        for food in wanted
    )  # fmt: skip


def _feeding_hours(facts: DayFacts) -> list[datetime]:
    """When the morning round begins on each day: shrimp are fed then."""
    room = facts.room
    return [
        round_starts(day, room.lights(facts.now), room.room_time)[Round.MORNING]
        for day in (facts.turn.day + timedelta(days=n) for n in range(DAYS_AHEAD))
    ]




# --- What it asks of the day --------------------------------------------------------------


def food_work(facts: DayFacts, eaten: FoodToday, ahead: FoodAhead) -> FoodWork:
    """What feeding asks of the day's lists: sieves with what they are made up to, and cysts."""
    return FoodWork(
        tuple(sieve for need in eaten.needs if need.supply for sieve in need.supply.sieves),
        {need.food: made for need in eaten.needs if (made := need.made_up) is not None},
        tuple(_starts(facts, ahead)),
    )


def _starts(facts: DayFacts, ahead: FoodAhead) -> Iterator[Task]:
    """The cysts to be wetted on this day of the room, late ones that still help among them."""
    room = facts.room
    for one in ahead.shrimp:
        for day in one.days:
            if day.start_at is None or day.is_late:
                continue
            at = max(day.start_at, facts.now)
            turn = turn_at(at, room.lights(at), room.room_time)
            if turn.day != facts.turn.day:
                break
            said = f"{room.room_time.local(day.start_at):%H:%M}" if at == day.start_at else "once"
            task = start_task(one.food, day, turn, said, one.hatching.lot_id or 0)
            if task is not None:
                yield task
