"""How many are left of how many, and what the numbers allow to say."""

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.survival import (
    NotComputable,
    Survival,
    fieller_ratio,
    log_normal_ratio,
    newcombe_difference,
    survival,
    wilson,
)

counted, about, at_least = HowMany.counted, HowMany.about, HowMany.at_least


def share_of(start: HowMany, now: HowMany, **facts: int) -> Survival:
    answer = survival(start, now, **facts)  # type: ignore[arg-type]
    assert isinstance(answer, Survival)
    return answer


def test_counted_of_counted_has_wilsons_interval_and_both_numbers() -> None:
    answer = share_of(counted(40), counted(23))
    assert answer.best == pytest.approx(0.575)
    assert answer.interval_by == "Wilson"
    assert (answer.low, answer.high) == (wilson(23, 40).low, wilson(23, 40).high)
    assert answer.said() == "58 % alive (23 counted of 40 counted; 42–71 %)"


def test_one_of_three_tanks_doing_badly_stays_visible_c28() -> None:
    assert share_of(counted(160), counted(143)).best == pytest.approx(0.89, abs=0.005)
    assert share_of(counted(40), counted(23)).said().startswith("58 % alive")
    assert share_of(counted(60), counted(60)).best == 1.0


def test_eggs_left_after_ten_days_are_eggs_left_and_no_hatch_rate_c16() -> None:
    answer = survival(about(200), about(30), named="eggs left")
    assert answer.said() == "about 15 % eggs left (about 30 of about 200)"
    assert isinstance(answer, Survival)
    assert answer.low is None


def test_an_unknown_start_is_not_computable_c29() -> None:
    answer = survival(HowMany.unknown("several thousand"), counted(3))
    assert isinstance(answer, NotComputable)
    assert answer.said() == "Not computable: how many there were at the start is not known."


def test_a_start_of_at_least_a_thousand_gives_only_a_bound_c29() -> None:
    answer = share_of(at_least(1000), counted(3))
    assert answer.best is None
    assert answer.said() == "under 0.3 % alive (3 counted of at least 1000)"


def test_more_alive_than_the_least_that_were_said_is_no_error_c29() -> None:
    answer = survival(at_least(300), counted(340))
    assert isinstance(answer, NotComputable)
    assert "at least 300" in answer.sentence


def test_one_more_found_raises_the_start_and_never_passes_100_percent_c30() -> None:
    answer = share_of(counted(7), counted(7), seen_dead=1)
    assert answer.start == counted(8)
    assert answer.best == pytest.approx(7 / 8)
    assert answer.start_error == (
        "The start was 7 counted, but 8 have been seen since: the start was too low "
        "and is taken as 8."
    )


def test_more_alive_than_estimated_raises_the_estimate() -> None:
    answer = share_of(HowMany.estimated(424, 310, 538), counted(450))
    assert (answer.start.best, answer.start.low, answer.start.high) == (450, 450, 538)
    assert answer.best == 1.0
    assert answer.start_error


def test_an_estimate_above_a_counted_start_that_it_fits_is_no_error() -> None:
    answer = share_of(counted(500), HowMany.estimated(510, 400, 640))
    assert answer.start_error == ""
    assert answer.best == 1.0
    assert answer.high == 1.0
    assert answer.low is not None
    assert answer.low < 1.0


def test_an_estimate_wholly_above_a_counted_start_raises_it() -> None:
    answer = share_of(counted(300), HowMany.estimated(510, 400, 640))
    assert answer.start.best == 510
    assert answer.start_error


def test_the_start_estimates_own_error_widens_the_interval() -> None:
    exact = share_of(counted(2440), counted(640))
    estimated = share_of(HowMany.estimated(2440, 1950, 2930), counted(640))
    assert estimated.interval_by == "log-normal ratio"
    assert estimated.low is not None
    assert estimated.high is not None
    assert exact.low is not None
    assert exact.high is not None
    assert estimated.high - estimated.low > 2 * (exact.high - exact.low)


def test_the_shown_ratio_lies_close_to_fiellers() -> None:
    shown, reference = log_normal_ratio(640, 45, 2440, 250), fieller_ratio(640, 45, 2440, 250)
    assert reference is not None
    assert shown.low == pytest.approx(reference.low, abs=0.006)
    assert shown.high == pytest.approx(reference.high, abs=0.006)


def test_a_start_too_uncertain_has_no_bounded_interval_by_fieller() -> None:
    assert fieller_ratio(640, 45, 2440, 1300) is None


def test_those_sold_alive_count_with_the_living() -> None:
    answer = share_of(counted(84), counted(59), removed=21)
    assert answer.best == pytest.approx(80 / 84)


def test_none_left_of_an_estimated_start_keeps_an_upper_bound() -> None:
    answer = share_of(HowMany.estimated(424, 310, 538), counted(0))
    assert (answer.best, answer.low) == (0, 0)
    assert answer.high == pytest.approx(wilson(0, 310).high)


def test_none_left_of_an_estimate_that_may_have_been_none_has_no_interval() -> None:
    answer = share_of(HowMany.estimated(4, 0, 9), counted(0))
    assert answer.best == 0
    assert answer.high is None


def test_two_failed_batches_show_none_left_without_dividing_by_none_c32() -> None:
    assert share_of(about(200), counted(0)).best == 0
    assert isinstance(survival(counted(0), counted(0)), NotComputable)


def test_an_uncounted_number_alive_is_not_computable() -> None:
    answer = survival(counted(84), HowMany.unknown("a few"))
    assert answer.said() == "Not computable: how many are left is not known."


def test_a_share_beyond_its_whole_is_refused() -> None:
    for found, of in ((8, 7), (-1, 7), (0, 0)):
        with pytest.raises(RuleBroken):
            wilson(found, of)


def test_a_difference_that_holds_none_is_no_difference() -> None:
    interval = newcombe_difference(5, 56, 0, 29)
    assert interval.low < 0 < interval.high
