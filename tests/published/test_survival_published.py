"""Intervals of shares and ratios against published tables; each row names its source."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from hatchery_app.domain.stock_book.counting import Interval
from hatchery_app.domain.stock_book.survival import (
    clopper_pearson,
    fieller_ratio,
    log_normal_ratio,
    newcombe_difference,
    wilson,
)

TABLE = Path(__file__).with_name("survival.csv")
ROWS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))

METHODS: dict[str, Callable[..., Interval | None]] = {
    "wilson": wilson,
    "clopper_pearson": clopper_pearson,
    "newcombe_difference": newcombe_difference,
    "log_normal_ratio": log_normal_ratio,
    "fieller_ratio": fieller_ratio,
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['quantity']} of {row['inputs']}")
def test_the_interval_agrees_with_the_table(row: dict[str, str]) -> None:
    worked = METHODS[row["quantity"]](*(int(part) for part in row["inputs"].split()))
    assert worked is not None
    tolerance = float(row["tolerance"]) + 1e-9
    assert worked.low == pytest.approx(float(row["low"]), abs=tolerance)
    assert worked.high == pytest.approx(float(row["high"]), abs=tolerance)
