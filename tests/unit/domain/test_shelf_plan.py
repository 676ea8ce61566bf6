"""What the plan takes off the shelf a day."""

import pytest

from hatchery_app.domain.live_food.shelf_plan import (
    Eaten,
    best_item,
    cysts_planned,
    dry_planned,
    larvae_eat_g,
    salt_planned,
)


def test_starts_of_cysts_are_spread_over_the_days() -> None:
    assert cysts_planned([0.39, 1.3, 0.4], 21).per_day_g == pytest.approx(2.09 / 21)
    assert cysts_planned([], 21) is None


def test_salt_goes_by_the_new_water_and_how_salty_it_is() -> None:
    planned = salt_planned([(4, 30), (10, 20), (0, 35)])
    assert planned.per_day_g == pytest.approx(1.1 * (120 + 200))
    assert planned.rests_on.startswith("about 14 L of new water a day")
    assert salt_planned([(0, 30)]) is None


def test_every_meal_comes_from_the_dry_food_whose_grain_fits_best() -> None:
    items = {1: (150.0, 250.0), 2: (250.0, 400.0), 3: (100.0, 900.0)}
    assert best_item((150, 250), items) == 1
    assert best_item((260, 390), items) == 2
    assert best_item((1200, 1500), items) is None
    found = dry_planned(
        [Eaten((150, 250), 3.0), Eaten((150, 250), 1.2), Eaten((250, 400), 21.0)], items, 21
    )
    assert {item: one.per_day_g for item, one in found.items()} == pytest.approx({1: 0.2, 2: 1.0})
    assert larvae_eat_g(300, 0.0133) == pytest.approx(0.4, abs=0.01)
