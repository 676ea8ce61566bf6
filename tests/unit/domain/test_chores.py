"""The keeper's own chores and how often they come."""

from datetime import date, timedelta

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.today.chores import Chore, Rhythm, chore_tasks
from hatchery_app.domain.today.schedule import Round, State, Turn, settle

MONDAY = date(2026, 11, 23)


def chore(rhythm: Rhythm, from_on: date = MONDAY, until_on: date | None = None) -> Chore:
    return Chore(4, "Restart vessel R2", 30, rhythm, Round.MORNING, from_on, until_on)


def days_of(kept: Chore, year: int, month: int) -> list[int]:
    last = 28 if month == 2 else 30
    return [day for day in range(1, last + 1) if kept.falls_on(date(year, month, day))]


def test_every_third_day_is_counted_from_the_first() -> None:
    assert days_of(chore(Rhythm(every_days=3)), 2026, 11) == [23, 26, 29]


def test_a_chore_on_weekdays_keeps_to_them() -> None:
    assert days_of(chore(Rhythm(weekdays=(0, 3))), 2026, 11) == [23, 26, 30]


def test_a_monthly_chore_of_the_31st_falls_on_the_last_day_of_a_shorter_month() -> None:
    monthly = chore(Rhythm(day_of_month=31), date(2026, 1, 1))
    assert days_of(monthly, 2026, 2) == [28]
    assert monthly.next_after(date(2026, 2, 28)) == date(2026, 3, 31)


def test_a_weekly_chore_missed_on_monday_still_stands_on_thursday_and_lapses_next_monday() -> None:
    weekly = chore(Rhythm(every_days=7))
    tasks = chore_tasks([weekly], date(2026, 11, 26))
    assert str(tasks[0].name) == "chore:4:2026-11-23.morning"
    thursday, next_monday = (Turn(date(2026, 11, day), Round.MORNING) for day in (26, 30))
    assert settle(tasks, [], thursday)[0].state is State.OVERDUE
    assert settle(tasks, [], next_monday)[0].state is State.LAPSED


def test_a_chore_stands_on_no_day_before_its_first_and_ends_with_its_last() -> None:
    kept = chore(Rhythm(every_days=1), until_on=date(2026, 11, 24))
    assert chore_tasks([kept], date(2026, 11, 22)) == ()
    assert kept.next_after(date(2026, 11, 24)) is None
    ended = chore_tasks([kept], date(2026, 11, 27))
    assert settle(ended, [], Turn(date(2026, 11, 27), Round.MORNING))[0].state is State.LAPSED


def test_work_that_comes_once_stays_until_it_is_answered_or_stopped() -> None:
    once = chore(Rhythm(once=True))
    (task,) = chore_tasks([once], date(2027, 11, 23))
    assert settle([task], [], Turn(date(2027, 11, 23), Round.MORNING))[0].state is State.OVERDUE
    assert str(task.name) == "chore:4:once"
    assert chore_tasks([once], MONDAY - timedelta(days=1)) == ()
    assert chore_tasks([chore(Rhythm(once=True), until_on=MONDAY)], MONDAY) == ()
    assert (once.next_after(MONDAY - timedelta(days=3)), once.next_after(MONDAY)) == (MONDAY, None)


@pytest.mark.parametrize(
    "given",
    [{}, {"every_days": 0}, {"every_days": 2, "weekdays": (1,)}, {"weekdays": (7,)},
     {"day_of_month": 32}],
)  # fmt: skip
def test_a_rhythm_that_says_nothing_or_two_things_is_refused(given: dict[str, object]) -> None:
    with pytest.raises(RuleBroken):
        Rhythm(**given)  # type: ignore[arg-type]
