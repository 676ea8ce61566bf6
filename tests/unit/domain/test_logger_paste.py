"""A logger's column: dates told apart by the whole of it, every bad line named, nothing guessed."""

from datetime import UTC, datetime

import pytest

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.logger_paste import LoggerColumn, RowsAsked, read_logger
from hatchery_app.domain.when import RoomTime

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
LISBON = RoomTime("Europe/Lisbon")
BERLIN = RoomTime("Europe/Berlin")


def read(
    text: str,
    *,
    room_time: RoomTime = LISBON,
    now: datetime = NOW,
    fahrenheit: bool = False,
    answers: dict[str, str] | None = None,
) -> LoggerColumn:
    return read_logger(
        text, room_time=room_time, now=now, fahrenheit=fahrenheit, answers=answers or {}
    )


def values(column: LoggerColumn) -> list[tuple[str, float]]:
    return [(f"{r.at:%Y-%m-%d %H:%M}", round(r.temperature_c, 2)) for r in column.readings]


@pytest.mark.parametrize(
    "text",
    [
        "2026-11-20 10:00,26.5\n2026-11-20 10:10,26.6",
        "time,temperature\n2026-11-20 10:00,26.5\n2026-11-20 10:10,26.6",
        "time;temperature\n2026-11-20 10:00;26,5\n2026-11-20 10:10;26,6",
        "2026-11-20T10:00\t26,5\n2026-11-20T10:10\t26,6",
        "2026-11-20 10:00,26,5\n2026-11-20 10:10,26,6",
        "date,time,temperature\n20/11/2026,10:00,26.5\n20/11/2026,10:10,26.6",
        "no,time,temp (°C),battery\n1,20/11/2026 10:00:00,26.5,3.6\n2,20/11/2026 10:10:00,26.6,3.6",
        "20.11.2026 10:00;26,5 °C\n20.11.26 10:10;26,6 °C",
        '"2026-11-20T10:00:00Z","26.5"\n"2026-11-20T10:10:00Z","26.6"',
        "2026-11-20 11:00+01:00,26.5\n2026-11-20 11:10+01:00,26.6",
        "11/20/2026 10:00 AM,26.5\n11/20/2026 10:10 am,26.6",
        "2026-11-20 10:00 26.5\n2026-11-20 10:10   26.6",
        "20/11/2026 10:00 AM 26.5 C\n20/11/2026 10:10 AM 26.6 C",
        "# our own logger\n\n2026-11-20 10:10,26.6\n2026-11-20 10:00,26.5\n",
    ],
)
def test_the_ways_a_logger_writes_a_column_read_alike(text):
    assert values(read(text)) == [("2026-11-20 10:00", 26.5), ("2026-11-20 10:10", 26.6)]


def test_a_time_without_a_zone_is_the_rooms_own_clock():
    assert values(read("2026-11-20 10:00,26.5", room_time=BERLIN)) == [("2026-11-20 09:00", 26.5)]


def test_one_day_above_twelve_settles_the_order_of_the_whole_column():
    column = read("09/11/2026 10:00,26.5\n13/11/2026 10:00,26.6")
    assert values(column) == [("2026-11-09 10:00", 26.5), ("2026-11-13 10:00", 26.6)]


def test_an_order_that_would_lie_ahead_of_now_is_not_the_order():
    column = read("11/05/2026 10:00,26.5\n11/12/2026 10:00,26.6")
    assert values(column) == [("2026-11-05 10:00", 26.5), ("2026-11-12 10:00", 26.6)]


def test_a_column_that_fits_both_orders_is_asked_about():
    text = "03/04/2026 10:00,26.5\n04/04/2026 10:00,26.6"
    with pytest.raises(Asked) as asked:
        read(text)
    assert asked.value.question == "dates"
    assert asked.value.answers[0][1] == "day first: Fri 3 Apr 2026 to Sat 4 Apr 2026"
    assert values(read(text, answers={"dates": "day"}))[0][0] == "2026-04-03 09:00"
    assert values(read(text, answers={"dates": "month"}))[0][0] == "2026-03-04 10:00"


def test_a_column_that_fits_neither_order_is_not_said_to_fit():
    with pytest.raises(Asked, match="No one order fits"):
        read("13/03/2026 10:00,26.5\n03/14/2026 10:00,26.6")


@pytest.mark.parametrize(
    "line",
    ["2026-11-20T10:00:00+99:99,26", "0001-01-01 10:00+14:00,26", "2026-11-20 10:00+14:60,26"],
)
def test_a_moment_no_clock_shows_is_a_bad_line(line):
    with pytest.raises(RowsAsked) as asked:
        read(f"2026-11-20 10:00,26.5\n{line}")
    assert [row.line for row in asked.value.rows] == [2]


def test_bad_lines_are_named_and_nothing_is_read_until_they_are_settled():
    text = "2026-11-20 10:00,26.5\n2026-11-20 25:00,26.5\n2026-11-20 10:20,wet\nnonsense 7,3"
    with pytest.raises(RowsAsked) as asked:
        read(text)
    assert [row.line for row in asked.value.rows] == [2, 3, 4]
    assert asked.value.sentence.startswith("Lines 2, 3, 4 cannot be stored")
    left = read(text, answers={"bad_rows": "leave out"})
    assert (values(left), left.left_out) == ([("2026-11-20 10:00", 26.5)], 3)


def test_a_bad_first_line_is_not_taken_for_a_heading():
    with pytest.raises(RowsAsked) as asked:
        read("yesterday,26.5\n2026-11-20 10:00,26.5")
    assert [row.line for row in asked.value.rows] == [1]


def test_a_dropped_comma_is_a_bad_line_and_is_never_corrected_by_itself():
    with pytest.raises(RowsAsked, match="265 cannot be the water of a tank"):
        read("2026-11-20 10:00,26.5\n2026-11-20 10:10,265")


def test_the_same_instant_twice_counts_once_and_contradictions_are_named():
    same = read("2026-11-20 10:00,26.5\n2026-11-20 10:00,26.5")
    assert (len(same.readings), same.repeated) == (1, 1)
    with pytest.raises(RowsAsked, match=r"Line 2 .* line 1 reads 26\.5 C at the same time"):
        read("2026-11-20 10:00,26.5\n2026-11-20 10:00,27.5")


def test_a_column_of_fahrenheit_in_a_room_of_celsius_is_asked_about():
    text = "2026-11-20 10:00,79.7\n2026-11-20 10:10,79.9"
    with pytest.raises(Asked) as asked:
        read(text)
    assert asked.value.question == "unit"
    assert values(read(text, answers={"unit": "F"}))[0][1] == 26.5
    assert values(read("time,temp °F\n" + text))[0][1] == 26.5
    assert values(read(text, fahrenheit=True))[0][1] == 26.5


def test_an_unusual_night_is_asked_about_and_may_stand():
    text = "2026-11-20 10:00,26.5\n2026-11-20 10:10,9.4"
    with pytest.raises(RowsAsked) as asked:
        read(text)
    assert asked.value.question == "unusual_rows"
    assert len(read(text, answers={"unusual_rows": "as typed"}).readings) == 2
    assert len(read(text, answers={"unusual_rows": "leave out"}).readings) == 1


def test_the_hour_that_came_twice_is_told_apart_by_the_step_back_in_the_column():
    text = "\n".join(
        f"2026-10-25 {clock},26.5" for clock in ("00:30", "01:00", "01:30", "01:00", "01:30")
    )
    assert [at for at, _ in values(read(text))] == [
        "2026-10-24 23:30", "2026-10-25 00:00", "2026-10-25 00:30", "2026-10-25 01:00",
        "2026-10-25 01:30",
    ]  # fmt: skip


def test_a_time_that_came_twice_is_asked_about_where_the_column_does_not_tell():
    with pytest.raises(Asked) as asked:
        read("2026-10-25 01:30,26.5")
    assert asked.value.question == "twice"
    assert values(read("2026-10-25 01:30,26.5", answers={"twice": "1"}))[0][0].endswith("01:30")


def test_a_time_that_never_came_is_asked_about():
    with pytest.raises(Asked) as asked:
        read("2026-03-29 01:30,26.5")
    assert asked.value.question == "never"


def test_a_line_from_tomorrow_cannot_be_stored():
    with pytest.raises(RowsAsked, match="has not come yet"):
        read("2026-11-24 08:00,26.5\n2026-11-25 08:00,26.5")


def test_a_text_without_any_reading_says_what_a_line_looks_like():
    with pytest.raises(RuleBroken, match="No line holds a time and a temperature"):
        read("hello\nworld")


def test_five_thousand_lines_are_read():
    text = "\n".join(
        f"2026-09-{day:02d} {minute // 60:02d}:{minute % 60:02d},26.{minute % 10}"
        for day in range(1, 19)
        for minute in range(0, 24 * 60, 5)
    )
    assert len(read(text).readings) == 18 * 24 * 12
