"""Survival curves against published data; each row names its source and its standing."""

import csv
from pathlib import Path

import pytest

from hatchery_app.domain.stock_book.survival_curve import (
    Span,
    kaplan_meier,
    life_table,
    log_rank,
    median_day,
)

TABLE = Path(__file__).with_name("survival_curve.csv")
ROWS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))

# Freireich et al. 1963, weeks of remission; + is still in remission when last seen.
SIX_MP = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"
# Parker et al. 1946, men with angina: died/withdrawn in each year.
ANGINA = (
    "456/0 226/39 152/22 171/23 135/24 125/107 83/133 74/102 51/68 42/64 43/45 34/53 "
    "18/33 9/27 6/23 0/30"
)
CUTLER = "47/19 5/17 2/15 2/9 0/6"


def weeks(text: str) -> list[Span]:
    seen = [(float(one.rstrip("+")), one.endswith("+")) for one in text.split()]
    spans, entering = [], len(seen)
    for day in sorted({day for day, _ in seen}):
        died, left = seen.count((day, False)), seen.count((day, True))
        spans.append(Span(day, day, entering, died, left))
        entering -= died + left
    return spans


def years(text: str, entering: int) -> list[Span]:
    spans = []
    for year, pair in enumerate(text.split()):
        died, left = (int(part) for part in pair.split("/"))
        spans.append(Span(year, year + 1, entering, died, left))
        entering -= died + left
    return spans


CURVES = {
    "6-MP": kaplan_meier(weeks(SIX_MP)),
    "placebo": kaplan_meier(weeks(PLACEBO)),
    "angina": life_table(years(ANGINA, 2418)),
    "cutler": life_table(years(CUTLER, 126)),
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['group']} at {row['day']}")
def test_the_curve_agrees_with_the_table(row: dict[str, str]) -> None:
    point = next(point for point in CURVES[row["group"]] if point.day == float(row["day"]))
    tolerance = float(row["tolerance"]) + 1e-9
    assert point.survival == pytest.approx(float(row["survival"]), abs=tolerance)
    assert point.standard_error == pytest.approx(float(row["standard_error"]), abs=tolerance)


def test_the_medians_are_23_and_8_weeks() -> None:
    assert median_day(CURVES["6-MP"]) == 23
    assert median_day(CURVES["placebo"]) == 8


def test_the_log_rank_of_the_two_groups_is_16_793() -> None:
    groups = log_rank(weeks(SIX_MP), weeks(PLACEBO))
    assert groups is not None
    assert groups.chi_square == pytest.approx(16.793, abs=5e-4)
    assert groups.p == pytest.approx(4.17e-5, abs=5e-8)
    assert (groups.observed, groups.expected) == (9, pytest.approx(19.2505, abs=5e-5))
    assert groups.variance == pytest.approx(6.25696, abs=5e-6)


def test_the_log_log_interval_at_ten_weeks() -> None:
    at_ten = next(point for point in CURVES["6-MP"] if point.day == 10)
    assert at_ten.interval is not None
    assert at_ten.interval.low == pytest.approx(0.5032, abs=5e-5)
    assert at_ten.interval.high == pytest.approx(0.8894, abs=5e-5)


def test_the_effective_numbers_of_the_angina_table() -> None:
    effective = {point.day: point.at_risk for point in CURVES["angina"]}
    assert (effective[1], effective[2], effective[6], effective[16]) == (2418, 1942.5, 1116.5, 15)


# A worked example of a batch with fish sold on, reckoned from the formulas (standing: recomputed):
# days, alive, died, left alive; survival at the end of each span by the life table.
HATCHERY = (
    (0, 1, 412, 60, 0, 0.8544), (1, 3, 352, 85, 0, 0.6481), (3, 7, 267, 40, 0, 0.5510),
    (7, 14, 227, 15, 50, 0.5101), (14, 30, 162, 6, 100, 0.4827), (30, 60, 56, 2, 54, 0.4494),
)  # fmt: skip


def test_a_batch_of_which_most_were_sold_is_not_a_batch_that_died() -> None:
    spans = [Span(*row[:5]) for row in HATCHERY]
    points = life_table(spans)
    assert [point.survival for point in points] == pytest.approx(
        [row[5] for row in HATCHERY], abs=5e-5
    )
    interval = points[-1].interval
    assert interval is not None
    assert (interval.low, interval.high) == pytest.approx((0.3836, 0.5130), abs=5e-5)
    assert kaplan_meier(spans)[-1].survival == pytest.approx(0.4778, abs=5e-5)
