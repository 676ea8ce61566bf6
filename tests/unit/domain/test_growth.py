"""Growth: intervals, shares, and what is not known said as such."""

import pytest

from hatchery_app.domain.cohort.growth import (
    OCELLARIS_WEIGHT_MM,
    age_at_length,
    day_ration,
    days_to_weight,
    feed_conversion,
    growth_curve,
    length_line,
    size_spread,
    specific_growth_rate,
    weight_law,
)
from hatchery_app.domain.errors import RuleBroken

AGES = (10, 17, 24, 31, 38, 45)
LENGTHS = (6.1, 8.0, 9.9, 12.4, 14.1, 16.6)


def test_nine_in_ten_of_sale_size_come_later_than_half_and_by_the_spread() -> None:
    line = length_line(AGES, LENGTHS)
    assert line is not None
    half = age_at_length(line, 25, spread_sd_mm=3)
    most = age_at_length(line, 25, share=0.9, spread_sd_mm=3)
    assert half is not None
    assert most is not None
    assert most.age - half.age == pytest.approx(1.2816 * 3 / line.mm_per_day, abs=0.01)


def test_a_sale_day_says_how_far_past_the_last_measuring_it_lies() -> None:
    line = length_line(AGES, LENGTHS)
    assert line is not None
    ahead, within = age_at_length(line, 25), age_at_length(line, 12)
    assert ahead is not None
    assert within is not None
    assert ahead.carried_days == pytest.approx(28.68, abs=0.01)
    assert within.carried_days == 0


def test_the_interval_widens_the_further_the_line_is_carried() -> None:
    line = length_line(AGES, LENGTHS)
    assert line is not None
    near, far = age_at_length(line, 18), age_at_length(line, 35)
    assert near and near.high and near.low  # noqa: PT018
    assert far and far.high and far.low  # noqa: PT018
    assert far.high - far.low > near.high - near.low


def test_fish_that_do_not_grow_have_no_sale_day_and_doubtful_growth_no_bounds() -> None:
    shrinking = length_line((1, 2, 3), (5, 4.5, 4))
    doubtful = length_line((1, 2, 3, 4), (5, 9, 4, 8))
    assert shrinking is not None
    assert doubtful is not None
    assert age_at_length(shrinking, 25) is None
    found = age_at_length(doubtful, 25)
    assert found is not None
    assert (found.low, found.high) == (None, None)


def test_two_samples_make_no_line_and_one_fish_no_spread() -> None:
    assert length_line((1, 2), (4, 5)) is None
    assert length_line((3, 3, 3), (4, 5, 6)) is None
    assert size_spread([25]) is None
    assert growth_curve((1, 2), (4, 5)) is None


def test_young_fish_that_grow_in_a_straight_line_have_no_growth_curve() -> None:
    assert growth_curve((0, 10, 20, 30, 40), (4, 8, 12, 16, 20)) is None


@pytest.mark.parametrize("weight_g", [0.0, 0.1, 0.19, 3.1, 5])
def test_no_ration_is_given_outside_the_weights_that_were_tried(weight_g: float) -> None:
    assert day_ration(weight_g) is None
    assert days_to_weight(weight_g, 6) is None


@pytest.mark.parametrize("length_mm", [15.9, 43.1])
def test_no_weight_is_given_outside_the_lengths_that_were_weighed(length_mm: float) -> None:
    assert OCELLARIS_WEIGHT_MM.weight_g(length_mm) is None


def test_the_rooms_own_weight_law_holds_between_its_smallest_and_largest_fish() -> None:
    law = weight_law((20, 30, 40), (0.2, 0.6, 1.4))
    assert law is not None
    assert law.weight_g(19) is None
    assert law.weight_g(30) == pytest.approx(0.6, abs=0.05)


def test_rates_without_time_or_gain_are_unknown() -> None:
    assert specific_growth_rate(1, 2, 0) is None
    assert feed_conversion(10, 0) is None


def test_a_fish_without_length_is_refused() -> None:
    with pytest.raises(RuleBroken):
        size_spread([25, 0])
    with pytest.raises(RuleBroken):
        weight_law((20, 30, 40), (0.2, 0.6, 0))
