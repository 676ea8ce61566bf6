"""How many there are from a part of them: aliquots, squares, weights, slides."""

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import Basis
from hatchery_app.domain.live_food.slide_count import Chamber, cells_per_ml, prey_per_ml
from hatchery_app.domain.stock_book.counting import (
    by_aliquots,
    by_weighed_subsamples,
    count_error_percent,
    mean_count,
    poisson_interval,
    replicates_needed,
)
from hatchery_app.domain.stock_book.egg_area import Patch, by_squares


def test_five_even_aliquots_give_the_poisson_interval_the_wider_one() -> None:
    estimate = by_aliquots([12, 15, 9, 14, 11], aliquot_ml=10, total_ml=20_000)
    poisson, spread = estimate.mean.poisson.times(2000), estimate.mean.spread
    assert estimate.number.best == 24_400
    assert (round(poisson.low), round(poisson.high)) == (18_664, 31_343)
    assert spread is not None
    assert (round(spread.low * 2000), round(spread.high * 2000)) == (18_471, 30_329)
    assert estimate.mean.taken == estimate.mean.poisson
    assert estimate.mean.dispersion is not None
    assert estimate.mean.dispersion.index == pytest.approx(0.467, abs=5e-4)
    assert not estimate.mean.dispersion.clumped
    assert estimate.advice == ""


def test_clumped_aliquots_take_the_spread_and_say_mix_again() -> None:
    estimate = by_aliquots([22, 7, 31, 14, 18, 40], aliquot_ml=10, total_ml=20_000)
    poisson, spread = estimate.mean.poisson.times(2000), estimate.mean.spread
    assert estimate.number.best == 44_000
    assert (round(poisson.low), round(poisson.high)) == (36_814, 52_178)
    assert spread is not None
    assert (round(spread.low * 2000), round(spread.high * 2000)) == (18_989, 69_011)
    assert estimate.mean.taken == spread
    assert estimate.mean.dispersion is not None
    assert estimate.mean.dispersion.index == pytest.approx(6.45, abs=5e-3)
    assert estimate.mean.dispersion.p == pytest.approx(5e-6, abs=5e-7)
    assert "mix again" in estimate.advice
    assert estimate.mean.rests_on == "spread between the samples"


def test_five_litres_of_forty_give_424_larvae_and_narrow_by_an_eighth() -> None:
    estimate = by_aliquots([9, 12, 10, 13, 9], aliquot_ml=1000, total_ml=40_000)
    uncorrected = poisson_interval(53).times(8)
    assert estimate.number.best == 424
    assert estimate.number.basis is Basis.ESTIMATED
    assert estimate.number.raw == (9, 12, 10, 13, 9)
    assert estimate.number.method == "5 aliquots of 1000 mL from 40000 mL"
    assert (estimate.number.high or 0) - 424 == pytest.approx(
        (uncorrected.high - 424) * 0.935, abs=1
    )
    assert estimate.mean.dispersion is not None
    assert estimate.mean.dispersion.index == pytest.approx(0.31, abs=5e-3)


def test_aliquots_that_are_the_whole_leave_no_doubt() -> None:
    number = by_aliquots([9, 11], aliquot_ml=500, total_ml=1000).number
    assert (number.best, number.low, number.high) == (20, 20, 20)


def test_none_in_the_samples_is_consistent_with_a_few_a_sample() -> None:
    number = by_aliquots([0], aliquot_ml=10, total_ml=100_000).number
    assert (number.best, number.low) == (0, 0)
    assert number.high == pytest.approx(36_889, abs=5)


def test_the_rooms_own_recovery_raises_the_estimate() -> None:
    plain = by_aliquots([12, 15, 9, 14, 11], aliquot_ml=10, total_ml=20_000).number
    raised = by_aliquots([12, 15, 9, 14, 11], aliquot_ml=10, total_ml=20_000, recovery=0.8).number
    assert raised.best == 30_500
    assert (raised.high or 0) > (plain.high or 0)


@pytest.mark.parametrize(
    ("counts", "aliquot_ml", "total_ml", "recovery"),
    [
        ([], 10, 100, 1),
        ([3, -1], 10, 100, 1),
        ([3], 0, 100, 1),
        ([3, 4], 60, 100, 1),
        ([3], 10, 100, 0),
        ([3], 10, 100, 1.2),
    ],
)
def test_aliquots_that_cannot_be_are_refused(
    counts: list[int], aliquot_ml: float, total_ml: float, recovery: float
) -> None:
    with pytest.raises(RuleBroken):
        by_aliquots(counts, aliquot_ml=aliquot_ml, total_ml=total_ml, recovery=recovery)


def test_three_squares_on_an_oval_patch_give_745_eggs_by_the_spread_c25() -> None:
    patch = Patch(length_cm=5.2, width_cm=4.8)
    estimate = by_squares([38, 41, 35], patch=patch)
    assert patch.area_cm2 == pytest.approx(19.6, abs=0.01)
    assert estimate.mean.mean == 38.0
    assert (estimate.number.best, estimate.number.low, estimate.number.high) == (745, 599, 891)
    assert estimate.mean.rests_on == "spread between the samples"
    assert estimate.number.basis is Basis.ESTIMATED
    assert estimate.number.raw == (38, 41, 35)
    assert "more squares" in estimate.advice


def test_six_even_squares_give_435_eggs_and_the_poisson_interval_stands() -> None:
    estimate = by_squares([22, 25, 19, 24, 20, 23], patch=Patch(5.2, 4.8))
    assert estimate.number.best == 435
    assert estimate.mean.mean == pytest.approx(22.17, abs=5e-3)
    assert estimate.mean.spread is not None
    assert estimate.mean.spread.high - estimate.mean.mean == pytest.approx(2.43, abs=5e-3)
    assert estimate.mean.rests_on == "animals counted"
    assert estimate.advice == ""


def test_more_squares_than_the_patch_holds_are_refused() -> None:
    with pytest.raises(RuleBroken, match="do not fit"):
        by_squares([20, 22, 21], patch=Patch(1.5, 1.5))


def test_weighed_subsamples_take_the_ratio_of_sums_and_say_the_other() -> None:
    weighed = by_weighed_subsamples([(1.5, 36), (1.6, 35), (1.9, 41)], total_g=316.8, loose=True)
    assert weighed.number.best == 7096
    assert weighed.mean_of_ratios_says == 7123
    assert weighed.eggs_per_g == pytest.approx(22.4)
    assert weighed.number.low == pytest.approx(6100, abs=5)
    assert weighed.number.high == pytest.approx(8093, abs=5)


def test_glued_eggs_are_never_weighed() -> None:
    with pytest.raises(RuleBroken, match="Eggs glued to a tile"):
        by_weighed_subsamples([(1.5, 36), (1.6, 35)], total_g=316.8, loose=False)


@pytest.mark.parametrize(
    ("subsamples", "total_g"),
    [
        ([(1.5, 36)], 316.8),
        ([(0, 36), (1.6, 35)], 316.8),
        ([(1.5, 36), (1.6, 35)], 3),
        ([(1.5, 0), (1.6, 0)], 316.8),
    ],
)
def test_weights_that_cannot_be_are_refused(
    subsamples: list[tuple[float, int]], total_g: float
) -> None:
    with pytest.raises(RuleBroken):
        by_weighed_subsamples(subsamples, total_g=total_g, loose=True)


def test_rotifers_in_three_diluted_millilitres_are_310_a_millilitre() -> None:
    density = prey_per_ml([28, 31, 34], sample_ml=1, dilution=10)
    assert density.per_ml == pytest.approx(310)
    assert count_error_percent(93) == pytest.approx(20, abs=0.5)
    assert density.low_per_ml == pytest.approx(310 - 74.5, abs=0.1)  # t on three, the wider
    assert density.raw == (28, 31, 34)
    assert not density.mix_again
    assert density.in_volume(2000).best == 620_000


def test_a_thin_tank_keeps_its_part_of_a_rotifer_per_millilitre() -> None:
    assert prey_per_ml([9, 7], sample_ml=5).per_ml == pytest.approx(1.6)


def test_algae_in_five_small_squares_diluted_tenfold() -> None:
    density = cells_per_ml([42, 37, 45, 40, 36], square=Chamber.SMALL_SQUARE, dilution=10)
    assert density.per_ml == pytest.approx(1.0e8)
    assert "diluted 1:10" in density.method


def test_a_dilution_below_one_is_refused() -> None:
    with pytest.raises(RuleBroken, match="dilution"):
        prey_per_ml([28], sample_ml=1, dilution=0.1)


def test_the_error_of_a_count_uses_the_multiplier_it_is_told() -> None:
    assert count_error_percent(100, 2) == pytest.approx(20.0)
    assert count_error_percent(100) == pytest.approx(19.6)
    with pytest.raises(RuleBroken):
        count_error_percent(0)


def test_a_pilot_with_a_quarter_spread_needs_25_samples_for_a_tenth() -> None:
    assert replicates_needed(25, 10) == 25


def test_a_count_interval_never_passes_below_none() -> None:
    assert mean_count([0, 1, 9]).taken.low == 0
