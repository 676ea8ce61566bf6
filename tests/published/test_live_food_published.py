"""Live food against published figures and worked examples; each row names where it is from."""

from collections.abc import Callable

import pytest

from hatchery_app.domain import brine_shrimp as shrimp
from hatchery_app.domain import live_food as food
from tests.published.published_rows import PublishedRow, read_rows

ROWS = read_rows("live_food.csv")


def cysts(nauplii: float, per_g: float, enriched: float) -> shrimp.CystStart:
    enrichment = shrimp.Enrichment() if enriched else None
    return shrimp.cysts_to_start(nauplii, shrimp.CystLot(per_g), 24.0, enrichment)


def top_up(litres: float, target: float, residual: float) -> float:
    seen = food.PreyDensity(residual, residual, residual, "counted")
    return food.top_up(target, seen, litres).animals


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
