"""The room's sum: clutches that may hatch each night against the tanks that stand ready."""

from datetime import date

import pytest

from hatchery_app.domain.clutch.nights_ahead import NightAhead, nights_ahead
from hatchery_app.domain.when import Night

TONIGHT = Night(date(2026, 11, 24))
THREE = [TONIGHT.plus(n) for n in range(3)]


def test_two_clutches_with_an_even_chance_each_are_none_one_or_two() -> None:
    ahead = nights_ahead(THREE, [(0.5, 0.5, 0.0), (0.5, 0.5, 0.0)], 0, [])
    first, second, third = ahead.nights
    assert first.expected == pytest.approx(1.0)
    assert first.may_come == (0, 2)
    assert second.come_by == third.come_by == (2, 2)
    assert third.may_come == (0, 0)


def test_a_tank_taken_on_one_night_is_missing_on_the_next() -> None:
    # One clutch surely tonight, one surely tomorrow: one tank a night is not enough.
    ahead = nights_ahead(THREE, [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0)], 1, [])
    assert [night.chance_short for night in ahead.nights] == pytest.approx([0.0, 1.0, 1.0])
    assert ahead.short_from is not None
    assert ahead.short_from.night == TONIGHT.plus(1)


def test_a_tank_that_could_be_ready_counts_from_its_night_on() -> None:
    ahead = nights_ahead(THREE, [(0.0, 1.0, 0.0), (0.0, 0.0, 1.0)], 1, [TONIGHT.plus(2)])
    assert [night.tanks for night in ahead.nights] == [1, 1, 2]
    assert ahead.short_from is None


def test_short_is_first_said_of_the_night_by_which_it_is_likely() -> None:
    ahead = nights_ahead(THREE, [(0.2, 0.4, 0.4)], 0, [])
    assert [night.may_be_short for night in ahead.nights] == [True, True, True]
    assert [night.likely_short for night in ahead.nights] == [False, True, True]
    assert ahead.short_from is ahead.nights[1]
    only_perhaps = nights_ahead(THREE, [(0.0, 0.2, 0.1)], 0, [])
    assert only_perhaps.short_from is only_perhaps.nights[1]


def test_what_is_under_one_in_twenty_is_left_out_of_a_range() -> None:
    ahead = nights_ahead([TONIGHT], [(0.04,)], 0, [])
    assert ahead.nights[0].may_come == (0, 0)
    assert nights_ahead([TONIGHT], [(0.06,)], 0, []).nights[0].may_come == (0, 1)
    assert nights_ahead([TONIGHT], [(0.96,)], 0, []).nights[0].may_come == (1, 1)


def test_the_fullest_night_is_the_one_on_which_most_are_expected() -> None:
    ahead = nights_ahead(THREE, [(0.1, 0.6, 0.3), (0.2, 0.5, 0.3)], 2, [])
    assert isinstance(ahead.fullest, NightAhead)
    assert ahead.fullest.night == TONIGHT.plus(1)


def test_a_room_without_eggs_has_nights_with_nothing_in_them() -> None:
    ahead = nights_ahead(THREE, [], 1, [], without_figure=2)
    assert [night.may_come for night in ahead.nights] == [(0, 0)] * 3
    assert ahead.fullest is None
    assert ahead.short_from is None
    assert (ahead.clutches, ahead.without_figure) == (0, 2)


def test_chances_that_round_past_one_make_no_more_than_one_clutch() -> None:
    ahead = nights_ahead(THREE, [(0.5, 0.5 + 1e-12, 0.0)], 0, [])
    assert ahead.nights[2].come_by == (1, 1)
