"""Prey, doses and supply: what is added, what is refused, what is only known about."""

from datetime import UTC, date, datetime

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.brine_shrimp import (
    CystLot,
    Enrichment,
    cysts_to_start,
    hatch_hours,
)
from hatchery_app.domain.live_food.live_food import (
    HeldFill,
    Look,
    PreyDensity,
    TankPlan,
    days_to_reach,
    density_from_count,
    density_from_look,
    eaten_per_larva,
    greenwater_dose_ml,
    held_on,
    need_on_day,
    planning_grazing,
    salinity_gap,
    sustained_share,
    top_up,
    two_figures,
    two_figures_said,
)


@pytest.mark.parametrize(
    ("amount", "shown"),
    [(0, "0"), (0.375, "0.38"), (1.349, "1.3"), (9.96, "10"), (101.3, "100"), (0.285, "0.29"),
     (152_000, "150,000"), (2_190_000, "2,200,000"), (99.6, "100")],
)  # fmt: skip
def test_amounts_are_shown_to_two_figures(amount: float, shown: str) -> None:
    assert two_figures_said(amount) == shown
    assert two_figures(-amount) == -two_figures(amount)


def test_a_count_gives_a_density_with_the_error_of_what_was_counted() -> None:
    seen = density_from_count([28, 31, 34], sample_ml=1, dilution=10)
    assert seen.per_ml == pytest.approx(310)
    assert seen.low_per_ml < 310 * 0.83
    assert seen.high_per_ml > 310 * 1.17
    assert seen.method == "93 counted in 3 × 1 mL, diluted 1:10"
    assert not seen.mix_again


def test_a_count_of_none_does_not_prove_there_are_none() -> None:
    seen = density_from_count([0, 0], sample_ml=1)
    assert (seen.per_ml, seen.low_per_ml) == (0, 0)
    assert seen.high_per_ml > 1.5


@pytest.mark.parametrize(("look", "adds"), [(Look.NONE, 400_000), (Look.THIN, 240_000),
                                            (Look.RIGHT, 0), (Look.THICK, 0)])  # fmt: skip
def test_a_look_is_a_count_too(look: Look, adds: float) -> None:
    needed = top_up(10, density_from_look(look, 10), 40)
    assert needed.animals == pytest.approx(adds)
    assert needed.low <= needed.animals <= needed.high
    assert needed.flush_old is (look is Look.THICK)


def test_above_the_target_nothing_is_fed_and_the_old_prey_is_flushed() -> None:
    needed = top_up(10, PreyDensity(12, 11, 13, "counted"), 40)
    assert (needed.animals, needed.low, needed.high) == (0, 0, 0)
    assert needed.flush_old


def test_green_water_is_refused_where_no_volume_would_do_it() -> None:
    with pytest.raises(RuleBroken, match="thicker stock"):
        greenwater_dose_ml(40, 300_000, 50_000, 300_000)
    with pytest.raises(RuleBroken, match="nothing to add"):
        greenwater_dose_ml(40, 300_000, 300_000, 20e6)


def test_the_dose_brings_the_tank_exactly_to_its_target_its_own_volume_counted() -> None:
    dose_l = greenwater_dose_ml(40, 300_000, 50_000, 20e6) / 1000
    reached = (40 * 50_000 + dose_l * 20e6) / (40 + dose_l)
    assert reached == pytest.approx(300_000)


@pytest.mark.parametrize(("vessel", "tank", "warned"), [(20, 25, False), (15, 30, True),
                                                        (35, 29.9, True)])  # fmt: skip
def test_a_salinity_gap_over_5_is_warned_of(vessel: float, tank: float, warned: bool) -> None:
    assert (salinity_gap(vessel, tank) is not None) is warned


def test_larvae_eat_nothing_on_the_hatch_night_and_the_curve_is_not_carried_past_its_end() -> None:
    assert planning_grazing(0) == 0
    assert planning_grazing(9) is None
    assert planning_grazing(-1) is None
    assert need_on_day(TankPlan(425, 40, 10), 9, 25) is None


def test_the_rooms_own_residual_counts_can_replace_the_planning_curve() -> None:
    plan = TankPlan(425, 40, 10, grazing=lambda dph: 100.0)
    need = need_on_day(plan, 12, 0)
    assert need is not None
    assert need.eaten == pytest.approx(425 * 0.97**12 * 100)


def test_one_fill_is_held_for_a_clutch_whatever_its_nights_and_until_it_has_hatched() -> None:
    nights = [
        HeldFill(7, date(2026, 11, 24), None, 400_000),
        HeldFill(7, date(2026, 11, 25), None, 400_000),
        HeldFill(9, date(2026, 11, 26), date(2026, 11, 27), 300_000),
    ]
    held = [held_on(date(2026, 11, day), nights) for day in range(23, 29)]
    assert held == [0, 400_000, 400_000, 700_000, 700_000, 400_000]


def test_what_larvae_ate_is_unknown_where_more_was_left_than_given() -> None:
    assert eaten_per_larva(10, 11, 40, 425) is None
    assert eaten_per_larva(10, 6, 40, 0) is None


def test_a_vessel_that_shrinks_bears_no_harvest_and_reaches_nothing() -> None:
    assert sustained_share(-0.2) == 0
    assert sustained_share(0.357) == pytest.approx(0.30, abs=0.001)
    assert days_to_reach(50, 300, -0.1) is None
    assert days_to_reach(300, 50, -0.1) == 0


# --- C36: a crash on day 3 ----------------------------------------------------------------


def test_two_tanks_of_19_litres_at_15_need_up_to_570_000_however_few_the_larvae() -> None:
    empty = PreyDensity(0, 0, 0.5, "counted")
    assert 2 * top_up(15, empty, 19).animals == pytest.approx(570_000)


# --- Brine shrimp -------------------------------------------------------------------------


def test_cysts_for_eight_in_the_morning_of_day_10_are_wetted_at_six_on_day_8() -> None:
    start = cysts_to_start(60_000, CystLot(230_000), 24, Enrichment())
    fed_at = datetime(2026, 12, 10, 8, tzinfo=UTC)
    assert start.start_at(fed_at) == datetime(2026, 12, 8, 6, tzinfo=UTC)
    assert start.alive_at_feeding == pytest.approx(66_000)
    assert not start.is_hard_to_weigh


def test_a_pinch_of_cysts_is_said_to_be_hard_to_weigh() -> None:
    assert cysts_to_start(10_000, CystLot(230_000), 24).is_hard_to_weigh


@pytest.mark.parametrize(("temperature_c", "hours"), [(21, 38), (26.5, 26), (30, 18), (20, None),
                                                      (31, None)])  # fmt: skip
def test_hours_to_hatch_are_given_only_between_21_and_30_degrees(
    temperature_c: float, hours: float | None
) -> None:
    assert hatch_hours(temperature_c) == hours
