"""Survival by age, with fish that left alive."""

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.stock_book.survival_curve import (
    Span,
    kaplan_meier,
    life_table,
    log_rank,
    median_day,
)

# A made-up batch: (from day, until day, alive, died, sold or moved alive).
BATCH = [
    Span(0, 1, 412, 60),
    Span(1, 3, 352, 85),
    Span(3, 7, 267, 40),
    Span(7, 14, 227, 15, 50),
    Span(14, 30, 162, 6, 100),
    Span(30, 60, 56, 2, 54),
]


def test_a_batch_sold_off_alive_has_not_died() -> None:
    shares = [point.survival for point in life_table(BATCH)]
    assert shares == pytest.approx([0.8544, 0.6481, 0.5510, 0.5101, 0.4827, 0.4494], abs=5e-5)
    last = life_table(BATCH)[-1].interval
    assert last is not None
    assert (last.low, last.high) == pytest.approx((0.3836, 0.5130), abs=5e-5)


def test_leavers_counted_at_the_end_of_each_span_give_a_little_more() -> None:
    assert kaplan_meier(BATCH)[-1].survival == pytest.approx(0.4778, abs=5e-5)


def test_a_batch_without_a_death_has_no_interval_to_show() -> None:
    point = kaplan_meier([Span(0, 7, 40, 0, 12)])[0]
    assert (point.survival, point.interval) == (1.0, None)
    assert median_day([point]) is None


def test_all_dead_is_no_survival_and_no_interval() -> None:
    point = kaplan_meier([Span(0, 1, 5, 5)])[0]
    assert (point.survival, point.standard_error, point.interval) == (0.0, 0.0, None)


def test_groups_without_a_death_are_not_compared() -> None:
    assert log_rank([Span(1, 1, 5, 0)], [Span(1, 1, 5, 0)]) is None


def test_spans_that_cannot_be_are_refused() -> None:
    with pytest.raises(RuleBroken, match="cannot be"):
        Span(0, 1, 5, 4, 2)
    with pytest.raises(RuleBroken, match="ends before"):
        Span(3, 1, 5, 1)
    with pytest.raises(RuleBroken, match="only 4 were left"):
        kaplan_meier([Span(0, 1, 5, 1), Span(1, 2, 5, 0)])
    with pytest.raises(RuleBroken, match="follow each other"):
        kaplan_meier([Span(0, 3, 5, 1), Span(1, 2, 4, 0)])
