"""A laying told by the day its eggs are in."""

from datetime import date, datetime, timedelta

import pytest

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.spawn.day_count import laid_by_day_count
from hatchery_app.domain.when import RoomTime

BERLIN = RoomTime("Europe/Berlin")
TUESDAY = date(2013, 10, 29)


def days(when) -> tuple[datetime, datetime]:
    return tuple(BERLIN.local(at).replace(tzinfo=None) for at in (when.earliest, when.latest))


def test_a_number_alone_is_asked_about_with_both_days_named():
    with pytest.raises(Asked) as asked:
        laid_by_day_count(10, TUESDAY, BERLIN)
    assert asked.value.sentence == "Day 10 on Tue 29 Oct: is the day of the laying day 0 or day 1?"
    assert [label for _value, label in asked.value.answers] == [
        "Day 0: laid Sat 19 Oct", "Day 1: laid Sun 20 Oct", "I do not know: one of the two",
    ]  # fmt: skip
    assert asked.value.field == "day_number"


@pytest.mark.parametrize(("counted_from", "day"), [("0", 19), ("1", 20)])
def test_the_answer_gives_the_day(counted_from, day):
    when = laid_by_day_count(10, TUESDAY, BERLIN, counted_from)
    assert days(when) == (datetime(2013, 10, day), datetime(2013, 10, day + 1))
    assert "day 10 on Tue 29 Oct" in when.said


def test_who_does_not_know_says_both_days():
    when = laid_by_day_count(10, TUESDAY, BERLIN, "either")
    assert days(when) == (datetime(2013, 10, 19), datetime(2013, 10, 21))
    # Through the end of summer time a day has 25 hours, and two days before it have 48.
    assert when.span == timedelta(hours=48)
    long_one = laid_by_day_count(3, date(2013, 10, 30), BERLIN, "0")
    assert long_one.span == timedelta(hours=25)


def test_day_0_can_only_be_counted_from_0():
    assert days(laid_by_day_count(0, TUESDAY, BERLIN))[0] == datetime(2013, 10, 29)


@pytest.mark.parametrize("number", [-1, 61])
def test_a_day_that_no_eggs_reach_is_refused(number):
    with pytest.raises(RuleBroken, match="Eggs are counted from 0 to 60 days"):
        laid_by_day_count(number, TUESDAY, BERLIN)
