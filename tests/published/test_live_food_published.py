"""Live food against published figures and worked examples; each row names where it is from."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from hatchery_app.domain.larval_tank.larval_protocol import (
    DayBand,
    FeedingStage,
    Food,
    LarvalProtocol,
)
from hatchery_app.domain.live_food import brine_shrimp as shrimp
from hatchery_app.domain.live_food import live_food as food
from hatchery_app.domain.live_food.food_ahead import VesselAhead, if_lost, run, vessel_for_peak
from hatchery_app.domain.live_food.food_demand import BatchAhead, Course, DayDemand, demand_ahead
from hatchery_app.domain.live_food.rotifer_life_table import S_TYPE, LifeTable
from hatchery_app.domain.live_food.shrimp_ahead import Cysts, shrimp_ahead
from hatchery_app.domain.live_food.slide_count import Chamber, cells_per_ml
from tests.published.published_rows import PublishedRow, read_rows

ROWS = read_rows("live_food.csv")


def cysts(nauplii: float, per_g: float, enriched: float) -> shrimp.CystStart:
    enrichment = shrimp.Enrichment() if enriched else None
    return shrimp.cysts_to_start(nauplii, shrimp.CystLot(per_g), 24.0, enrichment)


def top_up(litres: float, target: float, residual: float) -> float:
    seen = food.PreyDensity(residual, residual, residual, "counted")
    return food.top_up(target, seen, litres).animals


def life(maturity: float, interval: float, eggs: float, life: float) -> LifeTable:
    return LifeTable(maturity, interval, eggs, life, S_TYPE.egg_h)


WORKED: dict[str, Callable[..., float | str | None]] = {
    "harvest_rate": lambda share: food.harvest_balance(share).growth_needed_per_day,
    "harvest_growth_percent": lambda share: food.harvest_balance(share).growth_percent_per_day,
    "harvest_growth_percent_per_hour": lambda share: (
        food.harvest_balance(share).growth_percent_per_hour
    ),
    "harvest_median_age": lambda share: food.harvest_balance(share).median_age_h,
    "harvest_mean_age": lambda share: food.harvest_balance(share).mean_age_h,
    "egg_state": lambda ratio: food.egg_state(ratio).value,
    "offered_over_days": lambda eaten, days, factor: food.offered_over_days(eaten, days, factor),
    "nauplius_weight": lambda output, per_g: shrimp.nauplius_dry_weight_ug(output, per_g),
    "full_cysts": lambda per_g, percent: shrimp.full_cysts_per_gram(per_g, percent),
    "hatched": lambda grams, per_g: shrimp.CystLot(per_g).hatched(grams),
    "hatched_per_ml": lambda grams, per_g, litres: (
        shrimp.CystLot(per_g).hatched(grams) / (litres * food.ML_PER_L)
    ),
    "hatching_percent": lambda n, u, e: shrimp.hatching_percent(n, u, e),
    "hatching_efficiency": lambda mean, sample_ml, water_ml, grams: shrimp.nauplii_per_gram(
        mean, sample_ml, water_ml, grams
    ),
    "cyst_grams": lambda **given: cysts(**given).grams,
    "cyst_hatched": lambda **given: cysts(**given).hatched,
    "cyst_harvested": lambda **given: cysts(**given).harvested,
    "cyst_enrichment_ml": lambda **given: cysts(**given).enrichment_ml,
    "cyst_lead_hours": lambda **given: cysts(**given).lead_hours,
    "greenwater": lambda litres, target, residual, stock: food.greenwater_dose_ml(
        litres, target, residual, stock
    ),
    "top_up": top_up,
    "concentrate": lambda animals, per_ml: food.concentrate_ml(animals, per_ml),
    "eaten_each": lambda after, residual, litres, larvae: food.eaten_per_larva(
        after, residual, litres, larvae
    ),
    "paste": lambda rotifers, dry: food.paste_ml_per_day(rotifers, dry),
    "vessel": lambda animals, share, per_ml, recovery: food.vessel_l(
        animals, share, per_ml, recovery
    ),
    "sieved": lambda animals, per_ml, recovery: food.sieved_l(animals, per_ml, recovery),
    "loading": lambda grams, litres: shrimp.loading_g_per_l(grams, litres),
    "cells_in": lambda mean, millilitres: (
        cells_per_ml([int(mean)] * 10, square=Chamber.SMALL_SQUARE).per_ml * millilitres
    ),
    "life_slots": lambda **given: life(**given).slots,
    "life_laid_share": lambda **given: given["eggs"] / life(**given).slots,
    "life_ceiling": lambda **given: life(**given).ceiling_per_day(),
    "life_ceiling_25": lambda first, egg, interval, eggs: (
        LifeTable(24 * first, interval, eggs, 7, 24 * egg).ceiling_per_day()
    ),
    "days_to_reach": lambda start, wanted, rate: food.days_to_reach(start, wanted, rate),
    "growth_rate": lambda before, after, days: food.growth_rate_per_day(before, after, days),
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_live_food_agrees_with_the_table(row: PublishedRow) -> None:
    worked = WORKED[row.quantity](**row.inputs)
    assert row.agrees(worked), f"{worked} for {row.expected} ± {row.tolerance}, {row.source}"


# The worked example of one hatch: 500 eggs, 85 % hatch, 40 L, 10 per mL, 0.97 a day, safety 1.5.
CHANGES = (0, 0, 5, 10, 10, 15, 15, 15, 25)
NINE_ROWS = (  # dph, larvae, eaten each, eaten, washed, fill, total, planned
    (0, 425, 0, 0, 0, 400_000, 400_000, 400_000),
    (1, 412, 225, 92_756, 0, 0, 92_756, 139_134),
    (2, 400, 300, 119_965, 20_000, 0, 139_965, 209_947),
    (3, 388, 375, 145_457, 40_000, 0, 185_457, 278_186),
    (4, 376, 450, 169_312, 40_000, 0, 209_312, 313_968),
    (5, 365, 525, 191_605, 60_000, 0, 251_605, 377_408),
    (6, 354, 600, 212_408, 60_000, 0, 272_408, 408_612),
    (7, 343, 675, 231_790, 60_000, 0, 291_790, 437_685),
    (8, 333, 750, 249_818, 100_000, 0, 349_818, 524_727),
)


@pytest.mark.parametrize("row", NINE_ROWS, ids=lambda row: f"{row[0]} dph")
def test_a_hatch_of_425_in_40_litres_needs_what_the_worked_table_says(
    row: tuple[int, ...],
) -> None:
    plan = food.TankPlan(larvae=500 * 0.85, volume_l=40, target_per_ml=10)
    need = food.need_on_day(plan, row[0], CHANGES[row[0]])
    assert need is not None
    worked = (
        need.dph, need.larvae, need.eaten_each, need.eaten, need.washed_out, need.fill,
        need.total, need.planned,
    )  # fmt: skip
    assert tuple(int(figure + 0.5) for figure in worked) == row


def test_the_worked_hatch_needs_2_19_million_in_all() -> None:
    plan = food.TankPlan(larvae=425, volume_l=40, target_per_ml=10)
    days = [food.need_on_day(plan, dph, change) for dph, change in enumerate(CHANGES)]
    assert sum(day.total for day in days if day) == pytest.approx(2.19e6, abs=0.005e6)


# The same example out of the planner: one batch on its hatch night, its plan's own water change.
ONE_HATCH = LarvalProtocol(
    stages=(FeedingStage(Food.ROTIFERS, 0, 8, 10, 10, "per mL"),),
    settlement=None,
    change_percent=tuple(DayBand(dph, dph, pc, pc, "%") for dph, pc in enumerate(CHANGES)),
    greenwater=(),
    light=(),
)


def planned_days() -> tuple[DayDemand, ...]:
    batch = BatchAhead("L1", 0, (425, 425, 425), Course(ONE_HATCH, 40))
    return demand_ahead(date(2026, 11, 24), [batch], [], days=9)["rotifers"]


@pytest.mark.parametrize("row", NINE_ROWS, ids=lambda row: f"{row[0]} dph")
def test_the_planner_comes_to_the_worked_table(row: tuple[int, ...]) -> None:
    plan = food.TankPlan(larvae=500 * 0.85, volume_l=40, target_per_ml=10)
    day, need = planned_days()[row[0]], food.need_on_day(plan, row[0], CHANGES[row[0]])
    assert need is not None
    assert day.likely == pytest.approx(need.total, rel=1e-12)
    assert day.planned == pytest.approx(need.planned, rel=1e-12)
    assert (int(day.likely + 0.5), int(day.planned + 0.5)) == row[6:]
    assert food.two_figures_said(day.planned) == food.two_figures_said(row[7])


def test_the_planner_sizes_the_vessel_by_the_last_days_and_not_by_the_fill() -> None:
    litres = vessel_for_peak(planned_days(), share_per_day=0.30, per_ml=300)
    assert litres == pytest.approx(6.478, abs=0.0005)
    assert food.two_figures_said(litres) == "6.5"
    gives = 0.30 * 300 * 0.90 * 7 * food.ML_PER_L
    assert gives == pytest.approx(567_000)


def a_vessel_of(litres: float, per_ml: float, rate: float) -> VesselAhead:
    whole = litres * food.ML_PER_L
    return VesselAhead(1, "R1", litres, per_ml * whole, rate, 10 * per_ml * whole)


@pytest.mark.parametrize(("rate", "stands_at"), [(0.40, 313), (0.34, 295)])
def test_thirty_percent_a_day_rises_at_0_40_and_sinks_at_0_34(
    rate: float, stands_at: float
) -> None:
    vessel = a_vessel_of(7, 300, rate)
    taken = 0.30 * vessel.animals * 0.90
    days = [DayDemand(date(2026, 11, 24 + day), taken, taken, taken, taken) for day in range(2)]
    after = run(days, [vessel])[1].given[0]
    assert after.per_ml == pytest.approx(stands_at, abs=0.5)


def test_a_start_from_50_per_ml_grows_as_the_worked_days_say() -> None:
    days = [DayDemand(date(2026, 11, 24 + day), 0, 0, 0, 0) for day in range(6)]
    grown = [day.given[0].per_ml for day in run(days, [a_vessel_of(7, 50, 0.40)])]
    assert grown == pytest.approx([50, 75, 111, 166, 248, 369], abs=0.6)


def test_a_lost_vessel_helps_again_after_seven_and_a_half_days() -> None:
    (lost,) = if_lost(planned_days(), [a_vessel_of(7, 300, 0.40)])
    assert lost.rebuilt_days == pytest.approx(7.5, abs=0.05)
    assert lost.rebuilt_on == date(2026, 12, 2)


def test_the_feed_of_a_full_vessel_is_three_and_a_half_millilitres() -> None:
    day = run(planned_days(), [a_vessel_of(7, 300, 0.40)])[0]
    assert day.given[0].feed_ml == pytest.approx(3.5, abs=0.005)


def test_60_000_enriched_shrimp_at_eight_are_started_two_days_before_at_six() -> None:
    at = datetime(2026, 11, 26, 8, 0, tzinfo=UTC)
    wanted = DayDemand(at.date(), 60_000, 60_000, 60_000, 60_000)
    cysts_here = Cysts(shrimp.CystLot(230_000), 24.0)
    (day,) = shrimp_ahead(
        Food.SHRIMP_ENRICHED, [wanted], [at], cysts_here, at - timedelta(days=3)
    )
    assert day.start is not None
    assert day.start.grams == pytest.approx(0.375, abs=0.0005)
    assert day.start_at == datetime(2026, 11, 24, 6, 0, tzinfo=UTC)
