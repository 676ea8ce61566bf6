"""The clocks' change and the light timers that know nothing of it."""

from datetime import UTC, datetime, time, timedelta

from hatchery_app.domain.tank.clock_change import last_clock_change, timer_task
from hatchery_app.domain.today.schedule import Round
from hatchery_app.domain.when import Lights, RoomTime

BERLIN = RoomTime("Europe/Berlin")
LIGHTS = Lights(on=time(9), off=time(23))
AUTUMN = datetime(2026, 10, 25, 1, 0, tzinfo=UTC)
SPRING = datetime(2026, 3, 29, 1, 0, tzinfo=UTC)


def test_the_change_is_found_to_the_minute_and_with_its_way():
    autumn = last_clock_change(BERLIN, AUTUMN + timedelta(days=3, minutes=17))
    assert autumn is not None
    assert abs(autumn.at - AUTUMN) <= timedelta(minutes=1)
    assert autumn.went_back
    spring = last_clock_change(BERLIN, SPRING + timedelta(hours=5))
    assert spring is not None
    assert not spring.went_back


def test_before_a_change_and_long_after_it_there_is_none():
    assert last_clock_change(BERLIN, AUTUMN - timedelta(hours=1)) is None
    assert last_clock_change(BERLIN, AUTUMN + timedelta(days=11)) is None


def test_a_room_without_summer_time_is_never_asked():
    assert last_clock_change(RoomTime("Asia/Kolkata"), AUTUMN + timedelta(days=1)) is None


def test_the_timers_are_asked_about_once_with_the_hour_that_stands_here():
    change = last_clock_change(BERLIN, AUTUMN + timedelta(days=1))
    (task,) = timer_task(change, LIGHTS, BERLIN, told_since=False)
    assert "the clocks went back on Sun 25 Oct" in task.why
    assert "off at 23:00" in task.why
    assert task.round is Round.BEFORE_LIGHTS_OFF
    assert not task.repeats
    # The same name from day to day, so that one answer is enough.
    later = last_clock_change(BERLIN, AUTUMN + timedelta(days=4))
    assert timer_task(later, LIGHTS, BERLIN, told_since=False)[0].name == task.name


def test_lamp_hours_entered_since_answer_it():
    change = last_clock_change(BERLIN, AUTUMN + timedelta(days=1))
    assert timer_task(change, LIGHTS, BERLIN, told_since=True) == ()
