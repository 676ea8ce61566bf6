"""The nights that a hatch found late may have been on."""

from datetime import date, datetime, time

import pytest

from hatchery_app.domain.clutch.night_span import (
    NightSpan,
    nights_found,
    nights_left,
    refuse_nights_outside,
)
from hatchery_app.domain.clutch.thermal_time import Stay
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import Lights, Night, RoomTime, When

ROOM = RoomTime("Europe/Lisbon")
LIGHTS = Lights(time(8), time(20))
UNDER_A_LAMP = (Stay(ROOM.planned(date(2026, 11, 1), time(8)), None, (), 27.0, LIGHTS, "B1"),)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """An instant of November 2026; the 23rd is a Monday."""
    return ROOM.planned(date(2026, 11, day), time(hour, minute))


def night(day: int) -> Night:
    return Night(date(2026, 11, day))


LAID = When.exactly(at(15, 12))


def found(earliest: datetime, latest: datetime) -> NightSpan:
    return nights_found(When.between(earliest, latest), UNDER_A_LAMP, ROOM, LAID)


def left(span: NightSpan, *looked: datetime, lit: tuple[Night, ...] = ()) -> NightSpan:
    return nights_left(
        span, looked=looked, lit=lit, stays=UNDER_A_LAMP, room_time=ROOM, hatch_hours=3
    )


@pytest.mark.parametrize(
    ("earliest", "latest", "nights"),
    [
        (at(23, 21), at(25, 8), (23, 24)),  # seen in the dark of one night, found two days later
        (at(23, 10), at(25, 10), (23, 24)),  # by day before lights-off: the night to come
        (at(23, 21), at(24, 8), (23, 23)),
        (at(23, 16), at(23, 21), (23, 23)),  # between a look by day and one in the dark
        (at(23, 10), at(23, 16), (22, 22)),  # both by day: the night just past
        (at(23, 21), at(24, 20, 30), (23, 24)),  # the next night has just begun
        (at(24, 2), at(25, 2), (23, 24)),  # after midnight is still the evening before's
        (at(23, 0), at(24, 0), (22, 23)),  # "Monday", no more: either night it touches
        (at(23, 20, 40), at(23, 20, 40), (23, 23)),
        (at(24, 11), at(24, 11), (23, 23)),  # seen by day
    ],
)
def test_what_two_looks_leave_open(
    earliest: datetime, latest: datetime, nights: tuple[int, int]
) -> None:
    assert found(earliest, latest) == NightSpan(*(night(day) for day in nights))


def test_a_night_passes_with_its_hatch_hours_and_not_before() -> None:
    span = NightSpan(night(23), night(24))
    assert left(span, at(23, 22)) == span  # lights went off at 20:00, hatch hours end at 23:00
    assert left(span, at(23, 23)) == NightSpan.sure(night(24))
    assert left(span, at(24, 5)) == NightSpan.sure(night(24))
    assert left(span, at(25, 5)) == NightSpan.sure(night(24))  # it did hatch


def test_a_night_with_a_lamp_on_is_none_of_them() -> None:
    span = NightSpan(night(22), night(24))
    assert left(span, lit=(night(22),)) == NightSpan(night(23), night(24))
    assert left(span, lit=(night(24),)) == NightSpan(night(22), night(23))


def test_the_nights_in_words() -> None:
    span = NightSpan(night(23), night(24))
    assert span.said() == "Mon 23 – Tue 24 Nov"
    assert span.said(night(16)) == "Mon 23 – Tue 24 Nov, night 7–8"
    assert span.of_night == "one of the nights Mon 23 – Tue 24 Nov"
    assert NightSpan.sure(night(23)).of_night == "the night of Mon 23 Nov"
    turn = NightSpan(night(30), Night(date(2026, 12, 1)))
    assert turn.said() == "Mon 30 Nov – Tue 1 Dec"
    assert night(24) in span
    assert night(25) not in span
    assert span.meets(NightSpan(night(24), night(26)))
    assert not span.meets(NightSpan.sure(night(25)))


def test_a_span_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(RuleBroken):
        NightSpan(night(24), night(23))


def test_no_night_of_a_hatch_lies_before_its_laying() -> None:
    assert found(at(9, 9), at(24, 8)) == NightSpan(night(15), night(23))
    with pytest.raises(RuleBroken, match="before the eggs were laid"):
        found(at(9, 9), at(15, 13))


@pytest.mark.parametrize(
    ("first", "last", "field"),
    [(15, 24, ""), (24, 24, ""), (14, 24, "night_on"), (23, 25, "last_night_on"),
     (25, 25, "night_on")],
)  # fmt: skip
def test_nights_said_by_their_dates_lie_between_the_laying_and_the_look(
    first: int, last: int, field: str
) -> None:
    span, seen = NightSpan(night(first), night(last)), When.exactly(at(25, 6))
    if not field:
        refuse_nights_outside(span, seen, UNDER_A_LAMP, ROOM, LAID)
        return
    with pytest.raises(RuleBroken) as refused:
        refuse_nights_outside(span, seen, UNDER_A_LAMP, ROOM, LAID)
    assert refused.value.field == field
