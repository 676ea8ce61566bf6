"""Forecasts held against what came."""

from math import log

import pytest

from hatchery_app.domain.clutch.hatch_score import (
    LEAST_CHANCE_SCORED,
    ForecastSaid,
    Scored,
    Timing,
    mean_log_score,
    plain_chance,
    plain_spread_nights,
    tenths_kept,
    verdict,
)
from hatchery_app.domain.errors import RuleBroken

SAID = ForecastSaid(
    tonight=6, first=5, chances=(0.0, 0.1, 0.6, 0.3), window=(7, 8), window_chance=0.9, likeliest=7
)


def test_a_hatch_on_an_edge_of_the_window_is_inside():
    assert [Scored(SAID, came).is_inside for came in (6, 7, 8, 9)] == [False, True, True, False]


def test_late_is_a_likeliest_night_after_the_hatch():
    assert [Scored(SAID, came).timing for came in (6, 7, 8)] == [
        Timing.LATE, Timing.RIGHT, Timing.EARLY,
    ]  # fmt: skip


def test_the_verdict_holds_the_share_beside_what_the_windows_stated():
    found = verdict([Scored(SAID, came) for came in (6, 7, 7, 8)])
    assert found is not None
    assert (found.hatches, found.inside, found.stated_chance) == (4, 3, pytest.approx(0.9))
    assert (found.early, found.right, found.late) == (1, 2, 1)
    assert found.log_score == pytest.approx(-(log(0.1) + 2 * log(0.6) + log(0.3)) / 4)
    assert not found.can_judge
    assert verdict([]) is None


def test_a_hatch_found_late_counts_by_the_chance_of_all_its_nights():
    found = verdict([Scored(SAID, 6, 7), Scored(SAID, 8)])
    assert found is not None
    assert found.log_score == pytest.approx(-(log(0.1 + 0.6) + log(0.3)) / 2)
    assert (found.inside, found.found_late) == (2, 1)
    plain = plain_chance(Scored(SAID, 6, 7), 1.0)
    assert plain == pytest.approx(sum(plain_chance(Scored(SAID, one), 1.0) for one in (6, 7)))
    with pytest.raises(RuleBroken):
        Scored(SAID, 7, 6)


def test_early_and_late_are_said_only_where_every_night_says_so():
    spans = ((5, 6), (6, 7), (7, 9), (8, 9))
    assert [Scored(SAID, *span).timing for span in spans] == [
        Timing.LATE, Timing.NOT_SURE, Timing.NOT_SURE, Timing.EARLY,
    ]  # fmt: skip
    assert [Scored(SAID, *span).is_inside for span in spans] == [False, True, True, True]


def test_which_tenth_came_is_not_told_by_a_hatch_found_late():
    assert tenths_kept([Scored(SAID, 7, 8)]) == ()


def test_five_hatches_are_enough_to_judge():
    found = verdict([Scored(SAID, 7)] * 5)
    assert found is not None
    assert found.can_judge


def test_a_night_given_no_chance_costs_no_more_than_the_floor():
    assert mean_log_score([0.0]) == pytest.approx(-log(LEAST_CHANCE_SCORED))
    with pytest.raises(RuleBroken):
        mean_log_score([])


def test_the_plain_rule_spreads_as_the_rooms_hatches_do_about_night_eight():
    assert plain_spread_nights([7, 9]) == 1.0
    assert plain_spread_nights([8, 8, 8]) == 0.5


def test_the_plain_rule_is_told_which_nights_passed_in_vain_too():
    wide = ForecastSaid(6, 0, (0.0,) * 6 + (0.2, 0.3, 0.3, 0.2), (6, 9), 1.0, 7)
    held = sum(plain_chance(Scored(wide, came), 1.0) for came in range(6, 10))
    assert held == pytest.approx(1)
    assert plain_chance(Scored(wide, 5), 1.0) == 0
    assert plain_chance(Scored(wide, 8), 1.0) > plain_chance(Scored(wide, 7), 1.0)


def test_chances_by_tenth_count_nights_and_those_that_came():
    tenths = {t.low: t for t in tenths_kept([Scored(SAID, 7), Scored(SAID, 8)])}
    assert set(tenths) == {0.1, 0.3, 0.6}
    assert (tenths[0.6].nights, tenths[0.6].came) == (2, 1)
    assert tenths[0.6].mean_said == pytest.approx(0.6)
    assert (tenths[0.1].nights, tenths[0.1].came) == (2, 0)
    assert not tenths[0.6].can_judge


def test_an_evening_counts_given_that_the_eggs_were_still_there():
    passed = ForecastSaid(7, 5, (0.2, 0.3, 0.25, 0.25), (5, 8), 1.0, 6)
    (tenth,) = tenths_kept([Scored(passed, 7)])
    assert tenth.mean_said == pytest.approx(0.5)
    assert (tenth.nights, tenth.came) == (2, 1)
    assert tenths_kept([Scored(passed, 6)]) == ()


def test_a_chance_above_one_or_a_window_turned_round_is_refused():
    with pytest.raises(RuleBroken):
        ForecastSaid(6, 5, (1.2,), (5, 5), 0.9, 5)
    with pytest.raises(RuleBroken):
        ForecastSaid(6, 5, (0.9,), (6, 5), 0.9, 5)
