"""The broodstock's feeding rota: no pair lives on one food."""

from datetime import date, timedelta
from itertools import pairwise

import pytest

from hatchery_app.domain.broodstock.rota import FoodForm, Rota, feeding_tasks
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.today.schedule import Round

FIRST = date(2026, 11, 1)
ROTA = Rota(FIRST, ("pellets", "flakes"), ("mysis", "brine shrimp"), ("chopped prawn",))


def fed(rota: Rota, pair_id: int, days: int) -> list[list[tuple[FoodForm, str]]]:
    return [
        [(meal.form, meal.food) for meal in rota.meals(pair_id, FIRST + timedelta(days=day))]
        for day in range(days)
    ]


@pytest.mark.parametrize("meals", [2, 3])
@pytest.mark.parametrize("pair_id", [1, 2, 7])
def test_dry_food_is_among_every_days_meals_and_frozen_and_fresh_take_turns(
    meals: int, pair_id: int
) -> None:
    rota = Rota(FIRST, ROTA.dry, ROTA.frozen, ROTA.fresh, meals)
    days = fed(rota, pair_id, 8)
    assert all(FoodForm.DRY in {form for form, _ in day} for day in days)
    wet = [form for day in days for form, _ in day if form is not FoodForm.DRY]
    assert all(one is not other for one, other in pairwise(wet))


def test_over_four_days_a_pair_has_had_every_food_of_the_house() -> None:
    eaten = {food for day in fed(ROTA, 3, 4) for _, food in day}
    assert eaten == {*ROTA.dry, *ROTA.frozen, *ROTA.fresh}


def test_a_pair_is_fed_the_same_whenever_it_is_asked_and_not_like_its_neighbour() -> None:
    assert ROTA.meals(3, FIRST) == ROTA.meals(3, FIRST)
    assert ROTA.meals(3, FIRST) != ROTA.meals(4, FIRST)


@pytest.mark.parametrize(
    ("dry", "frozen"), [(("flakes",), ()), ((), ("mysis",)), (("Flakes", "flakes "), ()),
                        (("flakes", "pellets"), ()), ((), ("mysis", "brine shrimp"))],
)  # fmt: skip
def test_a_rota_of_a_single_food_or_without_dry_or_wet_food_is_refused(
    dry: tuple[str, ...], frozen: tuple[str, ...]
) -> None:
    with pytest.raises(RuleBroken):
        Rota(FIRST, dry, frozen)


def test_feeding_stands_in_its_rounds_for_every_pair_and_not_before_the_rota_begins() -> None:
    tasks = feeding_tasks(ROTA, [(3, 10), (4, None)], FIRST)
    assert [task.round for task in tasks] == [Round.MORNING, Round.BEFORE_LIGHTS_OFF] * 2
    assert str(tasks[0].name) == "feed_pair:3:2026-11-01.morning"
    assert feeding_tasks(ROTA, [(3, 10)], FIRST - timedelta(days=1)) == ()
