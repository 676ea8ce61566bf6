"""Foods by measured length: instar I and enriched are two foods with two first days."""

from dataclasses import replace

import pytest

from hatchery_app.domain.larval_tank.food_by_size import BY_AGE, by_size
from hatchery_app.domain.larval_tank.food_change import food_changes
from hatchery_app.domain.larval_tank.larval_protocol import Food, for_day
from hatchery_app.domain.live_food.food_demand import Course
from hatchery_app.services.species.library import library
from tests.unit.domain.test_food_history import HATCHED_ON, PLAN

FIT = library()["amphiprion_ocellaris"].growth.length_fit
BY_AGE_ALONE = Course(PLAN, 40, growth_mm_per_day=FIT.per_day_mm, hatched_mm=FIT.start_mm)
SMALL = replace(BY_AGE_ALONE, length_mm=5.0, length_dph=6)  # those of hatch night, by the line


def foods(course: Course, dph: int) -> set[Food]:
    return {fed.food for fed in by_size(for_day(PLAN, dph, None), course)[0].foods}


def test_each_brine_shrimp_food_waits_for_its_own_length() -> None:
    # 1 mm to 6 mm at 0.347 a day; the plan begins enriched ones at 11 dph, 8.8 mm by the line.
    assert SMALL.length_for(Food.SHRIMP_ENRICHED) == pytest.approx(5.0 + 0.347 * 11)
    assert SMALL.first_dph_by_size(Food.SHRIMP_INSTAR_I) == 6 + 3
    assert SMALL.first_dph_by_size(Food.SHRIMP_ENRICHED) == 6 + 11
    assert Food.SHRIMP_INSTAR_I not in foods(SMALL, 8)
    assert Food.SHRIMP_INSTAR_I in foods(SMALL, 9)
    assert Food.SHRIMP_ENRICHED not in foods(SMALL, 16)
    assert Food.SHRIMP_ENRICHED in foods(SMALL, 17)


def test_the_grain_of_dry_food_follows_the_length_that_was_measured() -> None:
    dry = by_size(for_day(PLAN, 12, None), SMALL)[0].microdiet  # 7.1 mm by then
    assert (dry.low, dry.high, dry.meals_low) == (150, 250, 6)
    assert for_day(PLAN, 12, None).microdiet.low == 250  # by age alone
    grains = {one.grain_um for one in food_changes(SMALL, 12, HATCHED_ON) if one.grain_um}
    assert (150, 250) in grains


def test_what_it_rests_on_is_said() -> None:
    said = by_size(for_day(PLAN, 8, None), SMALL)[1]
    assert said[0] == "By length: 5 mm measured on 6 dph, about 5.7 mm now"
    assert "brine shrimp, instar I waits for 6 mm, about 9 dph" in said[1]
    assert by_size(for_day(PLAN, 8, None), BY_AGE_ALONE)[1] == (BY_AGE,)
    assert by_size(for_day(PLAN, 1, None), BY_AGE_ALONE)[1] == ()
