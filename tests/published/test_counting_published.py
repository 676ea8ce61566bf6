"""Counting against published tables; each row names its source and its standing."""

import csv
from collections.abc import Callable
from math import sqrt
from pathlib import Path
from statistics import fmean, stdev

import pytest

from hatchery_app.domain.live_food.slide_count import Chamber, cells_per_ml, prey_per_ml
from hatchery_app.domain.stock_book.counting import (
    Dispersion,
    animals_to_count,
    count_error_percent,
    dispersion,
    poisson_interval,
)

TABLE = Path(__file__).with_name("counting.csv")
ROWS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))
FIELD_FACTOR = 1.6e5  # the thread's own factor from a field's count to the whole


def numbers(text: str) -> list[int]:
    return [int(part) for part in text.split()]


WORKED: dict[str, Callable[[list[int]], float]] = {
    "garwood_low": lambda k: poisson_interval(k[0]).low,
    "garwood_high": lambda k: poisson_interval(k[0]).high,
    "garwood_90_low": lambda k: poisson_interval(k[0], 0.90).low,
    "garwood_90_high": lambda k: poisson_interval(k[0], 0.90).high,
    "garwood_99_low": lambda k: poisson_interval(k[0], 0.99).low,
    "garwood_99_high": lambda k: poisson_interval(k[0], 0.99).high,
    "haemocytometer_large": lambda c: cells_per_ml(c, square=Chamber.LARGE_SQUARE).per_ml,
    "haemocytometer_small": lambda c: cells_per_ml(c, square=Chamber.SMALL_SQUARE).per_ml,
    "count_error_by_2": lambda n: count_error_percent(n[0], 2),
    "count_error": lambda n: count_error_percent(n[0]),
    "animals_to_count": lambda p: animals_to_count(p[0]),
    # The spread comes back out of the program's own index of dispersion, variance over mean.
    "clumped_mean": lambda c: prey_per_ml(c, sample_ml=1).per_ml,
    "clumped_sd": lambda c: sqrt(index_of(c) * fmean(c)),
    "clumped_cv_percent": lambda c: 100 * sqrt(index_of(c) / fmean(c)),
    "clumped_total": lambda c: prey_per_ml(c, sample_ml=1 / FIELD_FACTOR).per_ml,
    "clumped_total_sd": lambda c: sqrt(index_of(c) * fmean(c)) * FIELD_FACTOR,
}


def spread_of_even_fields() -> Dispersion:
    spread = dispersion(numbers("41 43 42 44 43 45 42 46 40 44"))
    assert spread is not None
    return spread


def index_of(counts: list[int]) -> float:
    spread = dispersion(counts)
    assert spread is not None
    return spread.index


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['quantity']} of {row['inputs']}")
def test_counting_agrees_with_the_table(row: dict[str, str]) -> None:
    worked = WORKED[row["quantity"]](numbers(row["inputs"]))
    assert worked == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]) + 1e-6)


def test_ten_fields_with_one_full_of_cells_are_found_clumped() -> None:
    counts = numbers("35 41 37 47 43 45 70 46 40 29")
    spread = dispersion(counts)
    assert spread is not None
    assert spread.clumped
    assert spread.index == pytest.approx(stdev(counts) ** 2 / fmean(counts))
    assert not spread_of_even_fields().clumped
