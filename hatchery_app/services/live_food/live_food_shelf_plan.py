"""The shelf against the plan: what the days ahead take of each item, by the food that is ahead."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import ceil

from hatchery_app.domain.cohort.growth import OCELLARIS_WEIGHT_MM, day_ration
from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.larval_tank.microdiet import grain_for
from hatchery_app.domain.live_food.food_demand import DAYS_AHEAD, SURVIVAL_PER_DAY, Course, Courses
from hatchery_app.domain.live_food.live_food import ML_PER_L
from hatchery_app.domain.live_food.shelf import ShelfItem, StockKind
from hatchery_app.domain.live_food.shelf_plan import (
    Eaten,
    Planned,
    cysts_planned,
    dry_planned,
    larvae_eat_g,
    salt_planned,
)
from hatchery_app.domain.live_food.vessel import RECOVERY
from hatchery_app.domain.species.species import LengthWeight, Species
from hatchery_app.services.live_food.live_food_ahead import FoodAhead
from hatchery_app.services.live_food.live_food_shelf_facts import PER_UNIT
from hatchery_app.services.species.library import library
from hatchery_app.services.today.today_facts import DayFacts

USUAL_PSU = 30.0  # of larval tanks nobody measured; assumed
LARVAE_UNTIL_DPH = 16  # where a species' settlement is not known; assumed


def planned_of_shelf(
    facts: DayFacts, ahead: FoodAhead, items: Sequence[ShelfItem], lots: Mapping[int, int]
) -> dict[int, Planned]:
    """By item what the plan takes of it a day; asks the records nothing. `lots`: lot to its tin."""
    found = _cysts(ahead, lots)
    open_now = [one for one in items if not one.is_finished]
    salt = salt_planned(_new_water(facts, ahead))
    bag = next((one for one in open_now if one.kind is StockKind.SALT), None)
    if salt is not None and bag is not None:
        found[bag.id] = salt
    grains = {
        one.id: one.particle_um
        for one in open_now
        if one.kind is StockKind.DRY_FOOD and one.particle_um is not None
    }
    return found | dry_planned(_dry_food(facts, ahead), grains, DAYS_AHEAD)


def in_unit_of(item: ShelfItem, planned: Planned) -> float:
    """A plan's grams a day in the unit that an item is kept in."""
    return planned.per_day_g / PER_UNIT[item.unit]


def _cysts(ahead: FoodAhead, lots: Mapping[int, int]) -> dict[int, Planned]:
    starts: dict[int, list[float]] = {}
    for one in ahead.shrimp:
        tin = lots.get(one.hatching.lot_id or 0)
        if tin is not None:
            starts.setdefault(tin, []).extend(
                day.start.grams for day in one.days if day.start is not None and not day.is_late
            )
    planned = {tin: cysts_planned(grams, DAYS_AHEAD) for tin, grams in starts.items()}
    return {tin: one for tin, one in planned.items() if one is not None}


def _new_water(facts: DayFacts, ahead: FoodAhead) -> Iterator[tuple[float, float]]:
    """Litres a day with their salinity: what tanks change and what sieved vessels are given."""
    courses, salinity = Courses(), facts.cultures.salinity_psu
    tanks = {plan.holding.place.label: plan.holding.place.tank_id for plan in facts.larvae}
    for batch in ahead.eaters:
        settled = batch.course.protocol.settlement
        last = ceil(settled.last_dph) if settled is not None else LARVAE_UNTIL_DPH
        percents = [
            courses.day(batch.course, batch.dph + day).change_percent
            for day in range(DAYS_AHEAD)
            if batch.dph + day <= last  # then they join a system, whose water is another's
        ]
        psu = salinity.get(tanks.get(batch.label, 0), USUAL_PSU)
        yield batch.course.litres * sum(percents) / 100 / DAYS_AHEAD, psu
    for one in ahead.outlooks:
        for day in one.likely:
            for given in day.given:
                if given.per_ml > 0:
                    litres = given.taken / RECOVERY / given.per_ml / ML_PER_L
                    yield litres / DAYS_AHEAD, salinity.get(given.tank_id, USUAL_PSU)


def _dry_food(facts: DayFacts, ahead: FoodAhead) -> Iterator[Eaten]:
    courses, usual = Courses(), _usual()
    species = {plan.holding.place.label: plan.species for plan in facts.larvae}
    for batch in ahead.eaters:
        law = _law(species.get(batch.label)) or _law(usual)
        course = batch.course
        if course.length_on(0) is None and usual is not None:
            course = _as_usual(course, usual)
        for day in range(DAYS_AHEAD):
            dph = batch.dph + day
            plan, length = courses.day(course, dph), course.length_on(dph)
            if law is None or length is None or Food.MICRODIET not in plan.named:
                continue
            grain = grain_for(length) if course.length_mm is not None else None
            wanted = (grain.from_um, grain.to_um) if grain is not None else plan.grain_um
            if wanted is not None:
                alive = batch.larvae[1] * SURVIVAL_PER_DAY**day
                yield Eaten(wanted, larvae_eat_g(alive, law.weight_g(length)))
    yield from _grown(facts)


def _grown(facts: DayFacts) -> Iterator[Eaten]:
    """Growing fish by their published ration, on the grain for the length of their weight."""
    for cohort in facts.cohorts:
        if not cohort.fish or cohort.mean_weight_g is None:
            continue
        ration = day_ration(cohort.mean_weight_g)
        length = (cohort.mean_weight_g / OCELLARIS_WEIGHT_MM.a) ** (1 / OCELLARIS_WEIGHT_MM.b)
        grain = grain_for(length)
        if ration is not None and grain is not None:
            grams = cohort.fish * ration.feed_mg / 1000
            yield Eaten((grain.from_um, grain.to_um), grams * DAYS_AHEAD)


def _usual() -> Species | None:
    """The species whose length and weight stand for those of which neither is known."""
    return library().get("amphiprion_ocellaris")


def _law(species: Species | None) -> LengthWeight | None:
    growth = species.growth if species is not None else None
    return growth.length_weight if growth is not None else None


def _as_usual(course: Course, usual: Species) -> Course:
    fit = usual.growth.length_fit if usual.growth is not None else None
    if fit is None:
        return course
    return replace(course, hatched_mm=fit.start_mm, growth_mm_per_day=fit.per_day_mm)
