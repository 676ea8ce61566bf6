"""Moments, nights and the room's clock."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.when import (
    Lights,
    Night,
    RoomTime,
    When,
    dark_window,
    dph,
    happened,
    is_dark,
    night_just_past,
    night_of,
    nights_between,
    nights_of,
    say_when,
)

BERLIN = RoomTime("Europe/Berlin")
NEW_YORK = RoomTime("America/New_York")
TEN_TO_TEN = Lights(on=time(10), off=time(22))


def berlin(day: date, clock: str) -> datetime:
    return BERLIN.at(day, time.fromisoformat(clock), fold=0)


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc]


# Nights


def test_half_past_midnight_belongs_to_the_night_of_the_day_before() -> None:
    at = berlin(date(2026, 11, 20), "00:30")
    assert night_of(at, TEN_TO_TEN, BERLIN) == Night(date(2026, 11, 19))


def test_the_day_turns_at_lights_on_and_not_a_minute_before() -> None:
    day = date(2026, 11, 20)
    assert night_of(berlin(day, "09:59"), TEN_TO_TEN, BERLIN) == Night(date(2026, 11, 19))
    assert night_of(berlin(day, "10:00"), TEN_TO_TEN, BERLIN) == Night(day)


def test_eggs_laid_in_the_dark_have_that_same_night_as_night_0() -> None:
    in_the_dark = berlin(date(2026, 11, 20), "23:10")
    by_day = berlin(date(2026, 11, 20), "14:00")
    assert night_of(in_the_dark, TEN_TO_TEN, BERLIN) == night_of(by_day, TEN_TO_TEN, BERLIN)


def test_a_hatch_found_by_day_counts_to_the_night_just_past() -> None:
    # C05: pulled at 05:00 on Thu 5 Dec, a third found hatched later that day.
    laid = night_of(NEW_YORK.planned(date(2013, 11, 28), time(11)), TEN_TO_TEN, NEW_YORK)
    found = NEW_YORK.planned(date(2013, 12, 5), time(13))
    hatch = night_just_past(found, TEN_TO_TEN, NEW_YORK)
    assert hatch.said(laid) == "Wed 4 Dec, night 6"
    assert night_of(found, TEN_TO_TEN, NEW_YORK).said(laid) == "Thu 5 Dec, night 7"


def test_a_hatch_seen_in_the_dark_counts_to_the_night_going_on() -> None:
    at = berlin(date(2026, 11, 20), "02:00")
    assert night_just_past(at, TEN_TO_TEN, BERLIN) == Night(date(2026, 11, 19))


def test_c01_a_quarter_past_midnight_on_the_20th_is_still_night_5() -> None:
    laid = night_of(NEW_YORK.planned(date(2013, 12, 14), time(12)), TEN_TO_TEN, NEW_YORK)
    now = NEW_YORK.planned(date(2013, 12, 20), time(0, 15))
    tonight = night_of(now, TEN_TO_TEN, NEW_YORK)
    assert tonight.said(laid) == "Thu 19 Dec, night 5"
    assert tonight.plus(1).number(laid) == 6


def test_a_late_rack_goes_dark_after_midnight_and_keeps_its_evening() -> None:
    late = Lights(on=time(12), off=time(0, 30))
    off, on = dark_window(Night(date(2026, 11, 19)), late, BERLIN)
    assert BERLIN.local(off) == BERLIN.local(berlin(date(2026, 11, 20), "00:30"))
    assert on == berlin(date(2026, 11, 20), "12:00")
    assert night_of(berlin(date(2026, 11, 20), "00:10"), late, BERLIN) == Night(date(2026, 11, 19))
    assert not is_dark(berlin(date(2026, 11, 20), "00:10"), late, BERLIN)
    assert is_dark(berlin(date(2026, 11, 20), "00:30"), late, BERLIN)


def test_the_hatch_night_is_0_dph_until_lights_on_then_1() -> None:
    hatch = Night(date(2026, 11, 19))
    ages = {
        "22:30": (date(2026, 11, 19), 0),
        "09:59": (date(2026, 11, 20), 0),
        "10:00": (date(2026, 11, 20), 1),
        "23:59": (date(2026, 11, 20), 1),
        "10:01": (date(2026, 11, 29), 10),
    }
    for clock, (day, age) in ages.items():
        assert dph(hatch, berlin(day, clock), TEN_TO_TEN, BERLIN) == age


def test_larvae_have_no_age_before_the_day_of_their_hatch() -> None:
    with pytest.raises(RuleBroken, match="Nothing has hatched yet"):
        dph(Night(date(2026, 11, 19)), berlin(date(2026, 11, 18), "23:00"), TEN_TO_TEN, BERLIN)


def test_the_dark_is_an_hour_longer_on_the_night_the_clocks_go_back() -> None:
    ordinary = dark_window(Night(date(2013, 10, 25)), TEN_TO_TEN, BERLIN)
    autumn = dark_window(Night(date(2013, 10, 26)), TEN_TO_TEN, BERLIN)
    spring = dark_window(Night(date(2013, 3, 30)), TEN_TO_TEN, BERLIN)
    hours = [(on - off) / timedelta(hours=1) for off, on in (ordinary, autumn, spring)]
    assert hours == [12, 13, 11]


def test_a_lamp_set_to_an_hour_that_never_comes_goes_on_after_the_change() -> None:
    early = Lights(on=time(2, 30), off=time(16))
    _, on = dark_window(Night(date(2026, 3, 7)), early, NEW_YORK)
    assert NEW_YORK.local(on).time() == time(3, 30)


def test_a_dark_that_the_clock_change_swallows_is_empty() -> None:
    # Off 02:45 and on 03:15: on 8 March both fall in or behind the hour that never came.
    short = Lights(on=time(3, 15), off=time(2, 45))
    off, on = dark_window(Night(date(2026, 3, 7)), short, NEW_YORK)
    assert off == on


def test_lights_that_never_change_are_refused() -> None:
    with pytest.raises(RuleBroken, match="must differ") as refused:
        Lights(on=time(9), off=time(9))
    assert refused.value.field == "lights_off"


def test_nights_are_listed_with_both_ends() -> None:
    first = Night(date(2026, 11, 29))
    labels = [night.label for night in nights_between(first, first.plus(2))]
    assert labels == ["Sun 29 Nov", "Mon 30 Nov", "Tue 1 Dec"]
    assert nights_between(first.plus(1), first) == ()


def test_tuesday_or_wednesday_is_two_nights() -> None:
    # C03: last looked Mon 21:00, found Wed 11:00 (lights from 10:00).
    when = When.between(berlin(date(2026, 11, 23), "21:00"), berlin(date(2026, 11, 25), "09:00"))
    labels = [night.label for night in nights_of(when, TEN_TO_TEN, BERLIN)]
    assert labels == ["Mon 23 Nov", "Tue 24 Nov"]


# The room's clock


def test_c08_elapsed_time_counts_the_hour_the_clocks_gave_back() -> None:
    laid = When.exactly(berlin(date(2013, 10, 19), "18:00"))
    hatched = When.exactly(berlin(date(2013, 10, 29), "23:00"))
    assert laid.until(hatched) == (timedelta(days=10, hours=6),) * 2
    night_0 = night_of(laid.earliest, TEN_TO_TEN, BERLIN)
    half_past_midnight = berlin(date(2013, 10, 30), "00:30")
    assert night_of(half_past_midnight, TEN_TO_TEN, BERLIN).said(night_0) == "Tue 29 Oct, night 10"


def test_c09_an_hour_that_comes_twice_is_asked_about_and_the_answer_settles_it() -> None:
    day, clock = date(2026, 11, 1), time(1, 30)
    with pytest.raises(Asked, match="came twice") as asked:
        NEW_YORK.at(day, clock, field="first_larva")
    assert asked.value.question == "fold"
    assert asked.value.field == "first_larva"
    assert asked.value.answers == (
        ("0", "the first, 01:30 EDT (UTC-04:00)"),
        ("1", "the second, 01:30 EST (UTC-05:00)"),
    )
    assert NEW_YORK.at(day, clock, fold=0) == utc(2026, 11, 1, 5, 30)
    assert NEW_YORK.at(day, clock, fold=1) == utc(2026, 11, 1, 6, 30)


def test_c09_an_hour_that_never_came_is_asked_about_with_its_two_neighbours() -> None:
    day, clock = date(2026, 3, 8), time(2, 30)
    with pytest.raises(Asked, match="never came") as asked:
        NEW_YORK.at(day, clock)
    assert asked.value.answers == (
        ("1", "01:30 EST (UTC-05:00)"),
        ("0", "03:30 EDT (UTC-04:00)"),
    )
    for value, label in asked.value.answers:
        settled = NEW_YORK.at(day, clock, fold=int(value))
        assert f"{NEW_YORK.local(settled):%H:%M %Z}" in label


def test_c09_first_at_0150_and_second_at_0110_are_twenty_minutes_apart() -> None:
    day = date(2026, 11, 1)
    first = When.exactly(NEW_YORK.at(day, time(1, 50), fold=0))
    second = When.exactly(NEW_YORK.at(day, time(1, 10), fold=1))
    assert first.until(second) == (timedelta(minutes=20),) * 2
    assert say_when(first.hull(second), NEW_YORK) == "Sun 1 Nov between 01:50 EDT and 01:10 EST"


def test_a_zone_that_does_not_exist_is_refused_in_a_sentence() -> None:
    for name in ("Mars/Olympus", "", "../etc", "Europe"):
        with pytest.raises(RuleBroken, match="There is no time zone") as refused:
            RoomTime(name)
        assert refused.value.field == "time_zone"


# Vague moments


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        When.exactly(datetime(2026, 11, 19, 12))


def test_a_moment_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(RuleBroken, match="before the earliest"):
        When.between(utc(2026, 11, 20), utc(2026, 11, 19))


def test_moments_are_kept_in_utc() -> None:
    when = When.exactly(BERLIN.local(utc(2026, 11, 19, 12)))
    assert when.earliest.tzinfo is UTC


def test_c14_two_statements_that_disagree_are_kept_as_one_interval() -> None:
    first = When.exactly(utc(2008, 1, 5), said="around the first Saturday of the month")
    second = When.exactly(utc(2008, 1, 11), said="at least 29 days")
    took_eggs = first.hull(second)
    released = When.between(utc(2008, 2, 11), utc(2008, 2, 13))
    assert took_eggs.said == "around the first Saturday of the month; at least 29 days"
    assert took_eggs.until(released) == (timedelta(days=31), timedelta(days=39))


def test_an_end_wholly_before_its_beginning_has_no_duration() -> None:
    with pytest.raises(RuleBroken, match="before the beginning"):
        When.exactly(utc(2026, 11, 20)).until(When.exactly(utc(2026, 11, 19)))


def test_overlap_shift_and_middle_of_vague_moments() -> None:
    monday = When.between(utc(2026, 11, 23), utc(2026, 11, 24))
    tuesday = monday.shift(timedelta(days=1))
    assert monday.overlaps(tuesday)
    assert not monday.overlaps(tuesday.shift(timedelta(seconds=1)))
    assert monday.middle == utc(2026, 11, 23, 12)
    assert monday.span == timedelta(days=1)


# Words


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        ("2026-11-24 17:52", "2026-11-24 17:52", "Tue 24 Nov 17:52"),
        ("2026-10-24 14:10", "2026-10-24 16:00", "Sat 24 Oct between 14:10 and 16:00"),
        ("2026-11-20 00:00", "2026-11-23 00:00", "between Fri 20 and Sun 22 Nov"),
        ("2026-11-30 00:00", "2026-12-03 00:00", "between Mon 30 Nov and Wed 2 Dec"),
        ("2026-11-20 00:00", "2026-11-21 00:00", "Fri 20 Nov"),
        ("2026-11-20 00:00", "2026-11-20 17:52", "Fri 20 Nov before 17:52"),
        ("2026-11-20 15:00", "2026-11-21 00:00", "Fri 20 Nov between 15:00 and 24:00"),
        (
            "2026-11-23 21:00",
            "2026-11-25 11:00",
            "between Mon 23 Nov 21:00 and Wed 25 Nov 11:00",
        ),
        (
            "2025-12-31 21:00",
            "2026-01-01 11:00",
            "between Wed 31 Dec 2025 21:00 and Thu 1 Jan 2026 11:00",
        ),
    ],
)
def test_a_moment_is_said_in_room_time(first: str, last: str, words: str) -> None:
    ends = [datetime.fromisoformat(text) for text in (first, last)]
    earliest, latest = (BERLIN.at(wall.date(), wall.time()) for wall in ends)
    assert say_when(When.between(earliest, latest), BERLIN) == words


def test_the_year_and_the_memory_are_said_where_they_matter() -> None:
    when = BERLIN.whole_days(date(2024, 1, 16), from_memory=True)
    assert say_when(when, BERLIN) == "Tue 16 Jan, from memory"
    assert say_when(when, BERLIN, year=True) == "Tue 16 Jan 2024, from memory"


# Facts do not lie ahead


NOW = BERLIN.planned(date(2026, 11, 24), time(23, 50))


def test_five_minutes_ahead_counts_as_now() -> None:
    ahead = When.exactly(NOW + timedelta(minutes=5))
    assert happened(ahead, NOW, BERLIN) == When.exactly(NOW)


def test_today_without_an_hour_ends_now() -> None:
    today = BERLIN.whole_days(date(2026, 11, 24))
    assert happened(today, NOW, BERLIN).latest == NOW


def test_c79_tomorrow_typed_tonight_is_offered_as_tonight() -> None:
    typed = When.exactly(BERLIN.planned(date(2026, 11, 25), time(22, 40)), said="hatched")
    with pytest.raises(Asked, match="Do you mean Tue 24 Nov 22:40") as asked:
        happened(typed, NOW, BERLIN, field="hatched")
    assert asked.value.question == "tonight"
    assert asked.value.answers == (("tonight", "Tue 24 Nov 22:40"),)
    settled = happened(typed, NOW, BERLIN, answers={"tonight": "tonight"})
    assert settled == When.exactly(BERLIN.planned(date(2026, 11, 24), time(22, 40)), "hatched")


def test_six_minutes_ahead_and_the_day_after_tomorrow_are_refused() -> None:
    later = When.exactly(BERLIN.planned(date(2026, 11, 26), time(22)))
    with pytest.raises(RuleBroken, match="Thu 26 Nov 22:00 has not come yet") as refused:
        happened(later, NOW, BERLIN, answers={"tonight": "tonight"})
    assert not isinstance(refused.value, Asked)
    with pytest.raises(RuleBroken):
        happened(When.exactly(NOW + timedelta(minutes=6)), NOW, BERLIN)


@pytest.mark.parametrize(("zone", "days"), [("Europe/Berlin", 7), ("Asia/Kolkata", -3)])
def test_days_are_shifted_by_the_clock_on_the_wall(zone: str, days: int) -> None:
    """Berlin's clocks go back on 25 October 2026: a week there has an hour more."""
    room_time = RoomTime(zone)
    evening = When.exactly(room_time.at(date(2026, 10, 20), time(17)))
    moved = evening.shift_days(days, room_time)
    assert room_time.local(moved.earliest).replace(tzinfo=None) == datetime(2026, 10, 20 + days, 17)
    assert moved.shift_days(-days, room_time) == evening
