"""The tasks of a day from the room's facts, and those that a fact has answered already."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from statistics import median

from hatchery_app.domain.broodstock.rota import feeding_tasks
from hatchery_app.domain.clutch.carried_brood import BroodDay, brood_tasks
from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.clutch.floating_eggs import HatchHours
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.live_food.made_up import MadeUp
from hatchery_app.domain.live_food.supply import Sieve
from hatchery_app.domain.live_food.vessel import VesselNow
from hatchery_app.domain.live_food.vessel_tasks import vessel_tasks
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.tank.clock_change import last_clock_change, timer_task
from hatchery_app.domain.tank.residents import Kind
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.tank.treatment import treatment_tasks
from hatchery_app.domain.today.chores import chore_tasks
from hatchery_app.domain.today.day_work import (
    ClutchDay,
    TankWanted,
    clutch_tasks,
    cohort_tasks,
    larval_tasks,
    tank_tasks,
)
from hatchery_app.domain.today.schedule import (
    Done,
    Outcome,
    Round,
    Task,
    TaskName,
    Turn,
    one_off,
    turn_at,
)
from hatchery_app.domain.when import Night, When, night_just_past, say_when
from hatchery_app.services.clutch.clutch_page import ClutchSeen
from hatchery_app.services.larval_tank.larval_day import LarvalPlan
from hatchery_app.services.live_food.live_food_facts import vessels_say
from hatchery_app.services.tank.tank_walk import TankStanding, Walk
from hatchery_app.services.tank.treatment import first_turn
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.services.today.tonight import NightWatch, first_fill

FOOD_UNKNOWN = "culture density unknown"


@dataclass(frozen=True)
class FoodWork:
    """What feeding asks of the day's lists: what is to be taken of the culture vessels, what
    each food is made up to, and the cysts to start."""

    sieves: tuple[Sieve, ...] = ()
    made: Mapping[str, MadeUp] = field(default_factory=dict)
    starts: tuple[Task, ...] = ()


def tasks_of(facts: DayFacts, day: date, food: FoodWork | None = None) -> list[Task]:
    """Every task of a day, with the one-off ones that stand. Repeated names are one task."""
    food = food or FoodWork()
    found = [
        *(task for plan in facts.larvae for task in _larval_tasks(plan, day, food)),
        *(task for watch in _met(facts) for task in _clutch_tasks(facts, watch, day)),
        *(task for cohort in facts.cohorts for task in cohort_tasks(cohort, day)),
        *_feeding(facts, day),
        *_morning_questions(facts),
        *(task for wanted in tanks_wanted(facts) for task in tank_tasks(wanted)),
        *(task for one in facts.cultures.vessels for task in _vessel_tasks(one, day, food)),
        *(task for task in food.starts if task.due_on <= day),
        *chore_tasks(facts.chores, day),
        *_treatments(facts, day),
        *_timers(facts),
    ]
    return list({task.name: task for task in found}.values())


def _treatments(facts: DayFacts, day: date) -> Iterator[Task]:
    for one in facts.treatments:
        yield from treatment_tasks(one, first_turn(facts.room, one), day)


def _timers(facts: DayFacts) -> tuple[Task, ...]:
    """After the clocks' change: do the light timers keep the hour that is entered here?"""
    room, now = facts.room, facts.now
    change = last_clock_change(room.room_time, now)
    if change is None:
        return ()
    told_since = any(hours.since >= change.at for hours in room.lamps.hours)
    return timer_task(change, room.lights(now), room.room_time, told_since=told_since)


def _vessel_tasks(one: VesselNow, day: date, food: FoodWork) -> tuple[Task, ...]:
    kept = one.vessel.food
    return vessel_tasks(one, food.sieves, day, food.made.get(kept.value) if kept else None)


def _larval_tasks(plan: LarvalPlan, day: date, food: FoodWork) -> tuple[Task, ...]:
    """A tank's lines, topped up in mL of what is sieved today where no stock is stated."""
    if plan.day is None:
        return ()
    foods = {prey.key: prey.food.food.value for prey in plan.prey}
    prey = tuple(
        replace(wanted, concentrate_per_ml=made.per_ml)
        if wanted.concentrate_per_ml is None and (made := food.made.get(foods[wanted.key]))
        else wanted
        for wanted in plan.day.prey
    )
    return larval_tasks(replace(plan.day, prey=prey), day)


def _met(facts: DayFacts) -> tuple[NightWatch, ...]:
    return (*facts.tonight.watches, *facts.tonight.others)


# --- Eggs ---------------------------------------------------------------------------------


def _clutch_tasks(facts: DayFacts, watch: NightWatch, day: date) -> tuple[Task, ...]:
    brood = brood_day_of(watch)
    if brood is not None:
        return brood_tasks(brood, day)
    clutch_day = clutch_day_of(facts, watch)
    return clutch_tasks(clutch_day, day)


def brood_day_of(watch: NightWatch) -> BroodDay | None:
    """A clutch that a parent carries, as its day's work is worked out from; None for eggs."""
    seen, brood = watch.seen, watch.seen.brood
    if brood is None or brood.forecast is None or seen.species is None:
        return None
    first, last = (max(night, seen.laid_night) for night in brood.forecast.window)
    return BroodDay(
        clutch_id=watch.clutch_id,
        place_id=seen.clutch.place.tank_id,
        mode=seen.species.brood_mode,
        taken_on=seen.laid_night.evening,
        window_on=(first.evening, last.evening),
        foods=", ".join(dict.fromkeys(str(stage.food) for stage in brood.brood.first_foods)),
        out_since_on=brood.out[0].nights.first.evening if brood.out else None,
    )


def clutch_day_of(facts: DayFacts, watch: NightWatch) -> ClutchDay:
    """A clutch as its day's work is worked out from."""
    forecast = watch.seen.forecast
    laid = watch.seen.laid_night
    species = watch.seen.species
    watched: tuple[tuple[date, str], ...] = ()
    if watch.may_hatch and watch.hatched is None:
        watched = ((watch.seen.tonight.evening, _hours(facts, watch)),)
    prepare = forecast.prepare_from if forecast is not None else None
    window = forecast.window if forecast is not None else None
    if watch.seen.hours is not None:
        prepare, window, watched = _of_floating_eggs(facts, watch.seen, watch.seen.hours)
    fill = first_fill(species, usual_litres(facts.walk))
    return ClutchDay(
        clutch_id=watch.clutch_id,
        place_id=watch.seen.clutch.place.tank_id,
        laid_on=laid.evening,
        prepare_from_on=max(prepare, laid).evening if prepare is not None else None,
        window_on=_evenings(window, laid),
        watch_nights=watched,
        first_fill=fill[1] if fill else None,
        food_words=fill[0] if fill else "first food",
        food_standing=food_standing(facts, watch, fill[0] if fill else ""),
        has_larvae_stage=_has_larvae(species),
    )


def _of_floating_eggs(
    facts: DayFacts, seen: ClutchSeen, hours: HatchHours
) -> tuple[Night | None, tuple[Night, Night] | None, tuple[tuple[date, str], ...]]:
    """Prepare from, window and watch of eggs that hatch within hours.

    What hatches by day belongs to the evening before it, so that it is seen coming.
    """
    if hours.first is None or hours.last is None:
        return None, None, ()
    lights, room_time = seen.clutch.stays[-1].lights, facts.room.room_time
    first, last = (
        max(night_just_past(at, lights, room_time), seen.laid_night)
        for at in (hours.first, hours.last)
    )
    begins, ends = (room_time.local(at) for at in (hours.first, hours.last))
    said = f"{begins:%a %H:%M} to {ends:%a %H:%M}"
    return first, (first, last), ((first.evening, said),)


def food_standing(facts: DayFacts, watch: NightWatch, food: str) -> str:
    """How the first food of a clutch stands, as far as anybody said."""
    if watch.food_held_since is not None:
        return "a first fill is held"
    said = vessels_say(facts.cultures, food)
    if said:
        return said
    per_ml = facts.stock_per_ml.get(food)
    if per_ml is None:
        return FOOD_UNKNOWN
    return f"stock of {two_figures_said(per_ml)} per mL stated; how much of it is not recorded"


def _evenings(window: tuple[Night, Night] | None, laid: Night) -> tuple[date, date] | None:
    if window is None:
        return None
    first, last = (max(night, laid) for night in window)
    return first.evening, last.evening


def _hours(facts: DayFacts, watch: NightWatch) -> str:
    if watch.night is None:
        return ""
    begins, ends = (
        facts.room.room_time.local(at) for at in (watch.night.watch_from, watch.night.watch_until)
    )
    return f"{begins:%H:%M}–{ends:%H:%M}"


def _has_larvae(species: Species | None) -> bool:
    return species is None or species.larval is not None


def usual_litres(walk: Walk) -> float:
    """The litres of a larval tank of this room: of the ready ones, else of all; 0 without any."""
    tanks = walk.ready or walk.larval
    return median([stop.litres for stop in tanks]) if tanks else 0.0


def _morning_questions(facts: DayFacts) -> Iterator[Task]:
    """What the night left open: how many hatched, and whether anything came where nobody looked."""
    for hatch in facts.to_tell:
        turn = _morning_after(facts, hatch.at)
        kind, what, seen = (
            ("say_young", "Say how many young there are, and which tank they are in", "young")
            if hatch.carried
            else ("say_hatched", "Say how many hatched, and which tank they are in", "hatching")
        )
        yield one_off(
            kind, hatch.hatch_id, turn, hatch.tank_id, what,
            why=f"clutch {hatch.number}, {seen} seen "
            f"{say_when(When.exactly(hatch.at), facts.room.room_time)}",
            milestone="once",
        )  # fmt: skip
    for watch in _met(facts):
        if _nobody_looked(facts, watch):
            past = watch.seen.tonight.plus(-1)
            yield one_off(
                "say_night", watch.clutch_id, Turn(watch.seen.tonight.evening, Round.MORNING),
                watch.seen.clutch.place.tank_id, "Look whether it hatched last night",
                why=f"nothing is written of the night of {past.label}",
                milestone=f"night-{past.evening.isoformat()}",
            )  # fmt: skip


def _morning_after(facts: DayFacts, at: datetime) -> Turn:
    seen = turn_at(at, facts.room.lights(at), facts.room.room_time)
    if seen.round >= Round.TONIGHT:
        return Turn(seen.plus(1).day, Round.MORNING)
    return Turn(seen.day, max(seen.round, Round.MORNING))


def _nobody_looked(facts: DayFacts, watch: NightWatch) -> bool:
    forecast, past = watch.seen.forecast, watch.seen.tonight.plus(-1)
    if forecast is None or forecast.prepare_from is None or forecast.prepare_from > past:
        return False
    night = forecast.on(past)
    if night is None or any(past in part.nights for part in watch.seen.clutch.hatches):
        return False
    return not any(c.when.latest >= night.dark_from for c in watch.seen.clutch.checks)


# --- Broodstock and tanks -----------------------------------------------------------------


def _feeding(facts: DayFacts, day: date) -> tuple[Task, ...]:
    if facts.rota is None:
        return ()
    pairs = [
        (resident.fact_id, stop.tank_id)
        for stop in facts.walk.stops
        for resident in stop.living.residents
        if resident.kind is Kind.PAIR
        and facts.room.room_time.local(resident.since).date() <= day
    ]
    return feeding_tasks(facts.rota, pairs, day)


def tanks_wanted(facts: DayFacts) -> tuple[TankWanted, ...]:
    """The empty larval tanks that clutches due soon still lack, each with its steps.

    Ready tanks go to the clutches that come first; of the rest each takes the next tank that
    stands empty. Fish are not moved by a task: which ones, the keeper decides.
    """
    coming = sorted(

            (max(forecast.prepare_from, forecast.tonight), watch.clutch_id)
            for watch in _met(facts)
            if (forecast := watch.seen.forecast) is not None
            and forecast.prepare_from is not None
            and _has_larvae(watch.seen.species)
            and watch.hatched is None
            and forecast.prepare_from <= forecast.tonight.plus(1)

    )
    lacking = coming[len(facts.walk.ready) :]
    return tuple(
        TankWanted(
            tank_id=stop.tank_id,
            clutch_id=clutch_id,
            decided_on=facts.turn.day,
            needed_on=max(night.evening, facts.turn.day),
            to_clean=stop.state is TankState.DIRTY,
            to_fill=True,
        )
        for (night, clutch_id), stop in zip(lacking, _empty(facts.walk), strict=False)
    )


def _empty(walk: Walk) -> Sequence[TankStanding]:
    return walk.could_be


# --- Answered by a fact -------------------------------------------------------------------


def answered_by_facts(facts: DayFacts) -> list[Done]:
    """The tasks that something written down has answered: a look, a hatch, a count of prey."""
    return [
        *(done for watch in _met(facts) for done in _by_checks(facts, watch)),
        *_by_prey(facts),
        *_by_ready_tanks(facts),
        *_by_vessel_acts(facts),
    ]


def _by_checks(facts: DayFacts, watch: NightWatch) -> Iterator[Done]:
    for check in watch.seen.clutch.checks:
        if check.kind is CheckKind.WATCHED_NONE and check.night is not None:
            turn = Turn(check.night.evening, Round.TONIGHT)
            yield _done("hatch_watch", watch.clutch_id, turn, check.when, "none by then")
        elif check.kind is not CheckKind.LAMP_ON:
            at = check.when.latest
            seen = turn_at(at, facts.room.lights(at), facts.room.room_time)
            turn = Turn(seen.day, Round.MORNING)
            seen_said = f"{check.sign} seen" if check.sign and check.seen else str(check.kind)
            asked = "look_at_eggs" if watch.seen.brood is None else "look_for_young"
            yield _done(asked, watch.clutch_id, turn, check.when, seen_said)


def _done(kind: str, fact_id: int, turn: Turn, when: When, really: str) -> Done:
    return Done(TaskName(kind, fact_id, str(turn)), Outcome.DONE, when.latest, really=really)


def _by_prey(facts: DayFacts) -> Iterator[Done]:
    for plan in facts.larvae:
        for look in facts.prey_looked:
            if look.tank_id != plan.holding.place.tank_id:
                continue
            turn = turn_at(look.at, facts.room.lights(look.at), facts.room.room_time)
            late = turn.round >= Round.BEFORE_LIGHTS_OFF
            turn = Turn(turn.day, Round.BEFORE_LIGHTS_OFF if late else Round.MORNING)
            for prey in plan.prey:
                if prey.food.food.value != look.food:
                    continue
                for kind in ("count", "top_up") if look.topped_up else ("count",):
                    name = TaskName(f"{kind}_{prey.key}", plan.holding.id, str(turn))
                    yield Done(name, Outcome.DONE, look.at)


def _by_vessel_acts(facts: DayFacts) -> Iterator[Done]:
    """Counts, feeds and harvests that were written down answer that morning's lines."""
    for act in facts.cultures.acts:
        day = turn_at(act.at, facts.room.lights(act.at), facts.room.room_time).day
        name = TaskName(act.kind, act.tank_id, str(Turn(day, Round.MORNING)))
        yield Done(name, Outcome.DONE, act.at, really=act.really)


def _by_ready_tanks(facts: DayFacts) -> Iterator[Done]:
    """A tank that stands filled and matched answers the clutch that comes first, and so on."""
    coming = [watch for watch in _met(facts) if watch.may_hatch]
    for watch, stop in zip(coming, facts.walk.ready, strict=False):
        name = TaskName("prepare_tank", watch.clutch_id, "once")
        yield Done(name, Outcome.DONE, stop.since or facts.now, really=f"{stop.label} is ready")
