"""Thermal time over what a thermometer said, and what is assumed where nobody read it."""

from datetime import UTC, datetime, time, timedelta

import pytest

from hatchery_app.domain.clutch.temperature_course import gaps, hours, hours_outside, stretches_of
from hatchery_app.domain.clutch.thermal_time import (
    Basis,
    Reading,
    Stay,
    TemperatureCourse,
    constants_of_rate,
    constants_of_two,
    degree_days_between,
    k_of_durations,
)
from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.when import Lights

LIGHTS = Lights(time(8), time(20))
START = datetime(2026, 11, 2, 11, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def stay(*readings, set_point_c=None, from_at=START, until_at=None, name="L3"):
    return Stay(
        from_at,
        until_at,
        tuple(Reading(START + days * DAY, temperature_c) for days, temperature_c in readings),
        set_point_c,
        LIGHTS,
        name,
    )


def course(*stays, days=10, now_day=10, **limits):
    end = START + days * DAY
    stretches = stretches_of(stays, START, end, START + now_day * DAY)
    return TemperatureCourse(stretches, 16.0, **limits)


def total(*stays, days=10, now_day=10):
    return course(*stays, days=days, now_day=now_day).between(START, START + days * DAY)


def test_water_that_warms_through_the_threshold_counts_only_the_triangle_above_it():
    assert degree_days_between(1, 8, 12, 10) == 0.5
    assert degree_days_between(1, 12, 8, 10) == 0.5
    assert degree_days_between(1, 8, 10, 10) == 0


def test_steady_water_sums_its_degrees_above_the_threshold_each_day():
    assert total(stay((0, 27), (0.9, 27), (1.8, 27), (2, 27)), days=2, now_day=2) == pytest.approx(
        22
    )


def test_readings_are_joined_by_straight_lines():
    assert total(stay((0, 26), (1, 28)), days=1, now_day=1) == pytest.approx(11)


def test_a_day_without_a_reading_is_no_gap_but_a_longer_time_is_marked_assumed():
    plain = course(stay((0, 27), (1, 27), (2, 27)), days=2, now_day=2)
    assert gaps(plain.stretches, START + 2 * DAY) == ()
    holed = course(stay((0, 27), (1.5, 26)), days=1.5, now_day=1.5)
    (gap,) = gaps(holed.stretches, START + 2 * DAY)
    assert hours([gap]) == 36
    assert gap.basis is Basis.GAP


def test_a_gap_makes_the_sum_uncertain_and_a_read_day_does_not():
    read = course(stay((0, 27), (1, 27)), days=1, now_day=1)
    gap = course(stay((0, 27), (1.5, 27)), days=1.5, now_day=1.5)
    assert read.thermal_and_error_at(START + DAY)[1] == 0
    assert gap.thermal_and_error_at(START + 1.5 * DAY)[1] > 0.5


def test_ahead_of_now_the_mean_of_the_last_three_days_is_held():
    tank = stay((0, 30), (4, 26), (5, 27), (6, 28), set_point_c=25)
    ahead = course(tank, days=8, now_day=6.5).stretches[-1]
    assert ahead.basis is Basis.AHEAD
    assert ahead.from_c == ahead.until_c == pytest.approx(27)


def test_with_no_reading_in_three_days_the_set_point_is_held():
    tank = stay((0, 27), set_point_c=25)
    ahead = course(tank, days=8, now_day=5).stretches[-1]
    assert (ahead.basis, ahead.from_c) == (Basis.SET_POINT, 25)


def test_a_tank_without_a_set_point_holds_its_old_readings_and_says_so():
    ahead = course(stay((0, 27)), days=8, now_day=5).stretches[-1]
    assert (ahead.basis, ahead.from_c) == (Basis.OLD_MEAN, 27)


def test_a_tank_nobody_read_stands_at_its_set_point():
    assert total(stay(set_point_c=26), days=3, now_day=3) == pytest.approx(30)


def test_a_tank_without_reading_or_set_point_has_no_thermal_time():
    with pytest.raises(NotKnown, match="L3 has no temperature reading and no set point"):
        total(stay())


def test_readings_taken_after_now_are_not_known_yet():
    tank = stay((0, 26), (1, 26), (2, 30))
    assert total(tank, days=2, now_day=1) == pytest.approx(20)
    assert total(tank, days=2, now_day=2) == pytest.approx(22)


def test_a_moved_tile_counts_each_tank_for_its_own_time():
    tank = stay((0, 26), (1, 26), (2, 26), (3, 30))
    vessel = stay((0, 20), (2, 28), (3, 28), from_at=START + 2 * DAY, name="vessel")
    assert total(tank, vessel, days=3, now_day=3) == pytest.approx(2 * 10 + 12)


def test_a_tank_read_before_the_eggs_came_gives_its_temperature_at_their_coming():
    tank = stay((-0.5, 24), (0.5, 28))
    assert total(tank, days=0.5, now_day=0.5) == pytest.approx(0.5 * 11)


def test_two_readings_at_one_instant_count_once_the_later_written():
    assert total(stay((0, 20), (0, 27), (1, 27)), days=1, now_day=1) == pytest.approx(11)


def test_hours_outside_a_range_are_cut_exactly_where_the_water_crosses_it():
    cold = course(stay((0, 25), (1, 23), (2, 25)), days=2, now_day=2)
    ((down, up),) = hours_outside(cold.stretches, 24, 30)
    assert hours([down, up]) == pytest.approx(24)


def test_a_chill_and_a_heat_are_two_runs():
    swings = course(stay((0, 22), (1, 32)), days=1, now_day=1)
    assert len(hours_outside(swings.stretches, 24, 30)) == 2


def test_water_beyond_the_published_range_makes_the_sum_uncertain():
    inside = course(stay((0, 25), (1, 25)), days=1, now_day=1, widen_below_c=24)
    outside = course(stay((0, 23), (1, 23)), days=1, now_day=1, widen_below_c=24)
    assert inside.thermal_and_error_at(START + DAY)[1] == 0
    assert outside.thermal_and_error_at(START + DAY)[1] > 0


def test_a_temperature_no_tank_has_is_refused():
    with pytest.raises(RuleBroken, match="265"):
        Reading(START, 265)


def test_a_stay_cannot_end_before_it_begins():
    with pytest.raises(RuleBroken, match="L3"):
        stay(until_at=START - HOUR)


def test_eggs_in_no_tank_are_asked_for():
    with pytest.raises(RuleBroken, match="which tank"):
        total()


def test_constants_need_durations_that_differ_and_grow_faster_in_the_warm():
    with pytest.raises(RuleBroken):
        constants_of_two(8, 26, 8, 28)
    with pytest.raises(RuleBroken):
        constants_of_rate(0.1, -0.1)
    with pytest.raises(RuleBroken):
        k_of_durations([(15, 8)], 16)


def test_readings_that_stopped_are_held_for_three_days_then_the_tank_is_taken_at_its_set_point():
    tank = stay((0, 27), set_point_c=25)
    assert total(tank, days=5, now_day=5) == pytest.approx(3 * 11 + 2 * 9)


def test_what_is_held_does_not_depend_on_how_far_ahead_is_asked():
    tank = stay((0, 27), (1, 28), set_point_c=25)
    short, long = course(tank, days=3, now_day=8), course(tank, days=9, now_day=8)
    end = START + 3 * DAY
    assert short.thermal_and_error_at(end) == long.thermal_and_error_at(end)


def ahead_of(*readings, now_day=6.5, usual_c=(24, 30)):
    """The stretch held for the days ahead, where the usual range is known."""
    end = START + 8 * DAY
    return stretches_of([stay(*readings)], START, end, START + now_day * DAY, usual_c)[-1]


def test_once_the_heater_is_mended_its_hole_says_nothing_of_the_days_ahead():
    mended = ahead_of((4, 27), (5, 23.5), (6, 27))
    assert mended.basis is Basis.MENDED
    assert mended.from_c == pytest.approx(27)
    plain = ahead_of((4, 27), (5, 23.5), (6, 27), usual_c=None)
    assert plain.from_c == pytest.approx((27 + 23.5 + 27) / 3)


def test_while_the_water_is_still_cold_the_plain_mean_is_held():
    cold = ahead_of((4, 27), (5, 27), (6, 23.5))
    assert cold.basis is Basis.AHEAD
    assert cold.from_c == pytest.approx((27 + 27 + 23.5) / 3)


def test_a_hole_longer_than_three_days_ago_is_no_hole():
    assert ahead_of((2, 23.5), (5, 27), (6, 26)).basis is Basis.AHEAD


def test_what_failed_once_is_held_with_a_wider_error():
    tank = [stay((4, 27), (5, 23.5), (6, 27))]
    errors = []
    for usual_c in (None, (24, 30)):
        end, now = START + 9 * DAY, START + 6.5 * DAY
        of_it = TemperatureCourse(stretches_of(tank, START, end, now, usual_c), 16.0)
        errors.append(of_it.thermal_and_error_at(end)[1] - of_it.thermal_and_error_at(now)[1])
    assert errors[1] > errors[0]
