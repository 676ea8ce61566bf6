"""Growth against published figures; each row names where it is from and how it stands."""

from collections.abc import Callable

import pytest

from hatchery_app.domain.cohort import growth
from tests.published.published_rows import PublishedRow, read_rows

ROWS = read_rows("growth.csv")
HAKE_AGES = (1, 2, *(3.3 + year for year in range(11)))
HAKE_CM = (
    15.40, 28.03, 41.18, 46.20, 48.23, 50.26, 51.82, 54.27, 56.98, 58.93, 59.00, 60.91, 61.83,
)  # fmt: skip
MELANOPUS = growth.length_line((0, 7, 30, 70), (4.6, 7.5, 18.8, 37.9))
SAMPLED = growth.length_line((10, 17, 24, 31, 38, 45), (6.1, 8.0, 9.9, 12.4, 14.1, 16.6))
TEN_FISH = growth.size_spread((22, 25, 19, 30, 27, 24, 21, 33, 26, 23))
LAW = growth.weight_law((20, 25, 30, 35, 40, 50), (0.15, 0.30, 0.55, 0.84, 1.30, 2.45))
SEAHORSE = growth.WeightLaw(0.0034, 2.5535, 1.0, 15.0, "Lin 2008")
assert MELANOPUS
assert SAMPLED
assert TEN_FISH
assert LAW


def boxbod() -> growth.GrowthCurve:
    found = growth.growth_curve(
        (1, 2, 3, 5, 7, 10), (109, 149, 149, 191, 213, 224), through_zero=True
    )
    assert found
    return found


def hake() -> growth.GrowthCurve:
    found = growth.growth_curve(HAKE_AGES, HAKE_CM)
    assert found
    return found


def ration(weight: float) -> growth.DayRation:
    found = growth.day_ration(weight)
    assert found
    return found


def sampled_age(mm: float, sample: float = 1) -> growth.SaleSizeAge:
    found = growth.age_at_length(SAMPLED, mm, one_sample=bool(sample))
    assert found
    return found


def melanopus_day(mm: float) -> float:
    found = growth.age_at_length(MELANOPUS, mm)
    assert found
    return found.age


WORKED: dict[str, Callable[..., float | None]] = {
    "gain_mg": lambda weight: ration(weight).gain_mg,
    "feed_mg": lambda weight: ration(weight).feed_mg,
    "protein_mg": lambda weight: ration(weight).protein_mg,
    "feed_percent": lambda weight: ration(weight).percent_of_weight,
    "feed_per_gain": lambda weight: ration(weight).feed_per_gain,
    "days_to_weight": lambda start, end: growth.days_to_weight(start, end),
    "sgr": lambda start, end, days: growth.specific_growth_rate(start, end, days),
    "daily_percent": lambda sgr: growth.daily_percent(sgr),
    "tgc": lambda start, end, celsius, days: growth.thermal_growth_coefficient(
        start, end, celsius, days
    ),
    "feed_kg": lambda fish, weight, percent: (
        growth.feed_of_stock_g(int(fish), weight, percent) / 1000
    ),
    "boxbod_limit": lambda: boxbod().l_infinity,
    "boxbod_k": lambda: boxbod().k,
    "boxbod_rss": lambda: boxbod().residual_sum_of_squares,
    "hake_limit": lambda: hake().l_infinity,
    "hake_k": lambda: hake().k,
    "hake_t0": lambda: hake().t0,
    "hake_rss": lambda: hake().residual_sum_of_squares,
    "melanopus_length": lambda days: MELANOPUS.length_mm(days),
    "melanopus_day": melanopus_day,
    "cv": lambda mean, sd, n: growth.SizeSpread(int(n), mean, sd).cv_percent,
    "line_age": lambda mm: sampled_age(mm).age,
    "line_low": lambda mm, sample: sampled_age(mm, sample).low,
    "line_high": lambda mm, sample: sampled_age(mm, sample).high,
    "sample_cv": lambda: TEN_FISH.cv_percent,
    "sample_cv_small": lambda: TEN_FISH.cv_percent_small_sample,
    "law_a": lambda: LAW.a,
    "law_b": lambda: LAW.b,
    "share_above": lambda mean, sd, size: growth.SizeSpread(10, mean, sd).share_above(size),
    "seahorse_weight": lambda cm: SEAHORSE.weight_g(cm),
    "ocellaris_weight": lambda mm: growth.OCELLARIS_WEIGHT_MM.weight_g(mm),
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_growth_agrees_with_the_table(row: PublishedRow) -> None:
    worked = WORKED[row.quantity](**row.inputs)
    assert row.agrees(worked), f"{worked} for {row.expected} ± {row.tolerance}, {row.source}"


def test_the_growth_fit_does_not_end_where_a_careless_start_takes_it() -> None:
    assert boxbod().l_infinity != pytest.approx(172.5, abs=10)
    assert boxbod().k != pytest.approx(110.9, abs=100)
