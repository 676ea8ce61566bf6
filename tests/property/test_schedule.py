"""The schedule follows its causes: never before them, moved with them, named alike at any hour."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from hatchery_app.domain.broodstock.rota import Rota, feeding_tasks
from hatchery_app.domain.today.chores import Chore, Rhythm, chore_tasks
from hatchery_app.domain.today.day_work import (
    ClutchDay,
    CohortDay,
    LarvalDay,
    PreyWanted,
    TankWanted,
    clutch_tasks,
    cohort_tasks,
    larval_tasks,
    tank_tasks,
)
from hatchery_app.domain.today.schedule import Done, Outcome, Round, Task, Turn, settle, turn_at
from hatchery_app.domain.when import Lights, RoomTime

IN_TIME = settings(max_examples=150, deadline=None)
DAY_ONE = date(2026, 3, 1)
DAYS = st.integers(0, 60)
SHIFTS = st.integers(-400, 400)
A_DAY = timedelta(days=1)
ROTIFERS = PreyWanted("rotifers", "rotifers", 10)


def on(day: int) -> date:
    return DAY_ONE + timedelta(days=day)


def work_of_the_room(
    laid: int, waits: int, hatched: int, began: int, rhythm: int, day: int, moved: int = 0
) -> list[tuple[date, Task]]:
    """Every stage's tasks with the day of their cause; `moved` shifts every date that goes in."""
    at = [on(number + moved) for number in (laid, laid + waits, hatched, began, day)]
    laid_on, prepare_on, hatched_on, began_on, today = at
    clutch = ClutchDay(
        7, 10, laid_on, prepare_on, (prepare_on, prepare_on + A_DAY), ((prepare_on, "20:15"),), 4e5
    )
    larvae = LarvalDay(
        31, 12, hatched_on, 40, (ROTIFERS,), change_percent=10, settles_from_dph=8,
        count_due_on=hatched_on + 10 * A_DAY, count_milestone="dph-10",
    )  # fmt: skip
    cohort = CohortDay(5, 20, began_on, 120, 0.5, grade_every_days=14)
    rota = Rota(began_on, ("flakes",), ("mysis", "krill"), ("prawn",))
    chore = Chore(4, "Mix salt", None, Rhythm(every_days=rhythm), Round.MIDDAY, began_on)
    tank = TankWanted(12, 7, laid_on, prepare_on, to_empty=True, to_clean=True, to_fill=True)
    return [
        (cause, task)
        for cause, tasks in (
            (laid_on, clutch_tasks(clutch, today)),
            (hatched_on, larval_tasks(larvae, today)),
            (began_on, cohort_tasks(cohort, today)),
            (began_on, feeding_tasks(rota, [(3, 10)], today)),
            (began_on, chore_tasks([chore], today)),
            (laid_on, tank_tasks(tank)),
        )
        for task in tasks
    ]


Facts = tuple[int, int, int, int, int, int]
ROOMS = st.tuples(DAYS, st.integers(0, 9), DAYS, DAYS, st.integers(1, 30), DAYS)


@IN_TIME
@given(ROOMS)
def test_no_task_stands_before_its_cause(facts: Facts) -> None:
    for cause, task in work_of_the_room(*facts):
        assert task.due_on >= cause, str(task.name)


@IN_TIME
@given(ROOMS, SHIFTS)
def test_shifting_every_date_by_n_days_shifts_every_task_by_n(facts: Facts, shift: int) -> None:
    before = [task for _, task in work_of_the_room(*facts)]
    after = [task for _, task in work_of_the_room(*facts, moved=shift)]
    assert [moved_by(task, shift) for task in before] == after


def moved_by(task: Task, days: int) -> Task:
    turn = task.turn.plus(days)
    named_by_turn = task.name.turn == str(task.turn)
    name = replace(task.name, turn=str(turn)) if named_by_turn else task.name
    next_turn = task.next_turn.plus(days) if task.next_turn else None
    return replace(task, name=name, turn=turn, next_turn=next_turn)


@IN_TIME
@given(st.integers(0, 365), st.integers(0, 24 * 60 - 1), st.integers(0, 24 * 60 - 1))
def test_a_task_has_the_same_name_whatever_the_hour_it_is_worked_out(
    day: int, one_minute: int, other_minute: int
) -> None:
    """Two moments of one day of the room, from before lights on to before the next."""
    room, lights = RoomTime("Europe/Berlin"), Lights(time(8), time(20))
    opens = room.planned(on(day), time(6))
    closes = room.planned(on(day + 1), time(6))
    names = []
    for minute in (one_minute, other_minute):
        turn = turn_at(opens + (closes - opens) * minute / (24 * 60), lights, room)
        chore = Chore(4, "Mix salt", None, Rhythm(every_days=3), Round.NIGHT, DAY_ONE)
        larvae = LarvalDay(31, 12, on(0), 40, (ROTIFERS,), change_percent=10)
        tasks = (*chore_tasks([chore], turn.day), *larval_tasks(larvae, turn.day))
        names.append([task.name for task in tasks])
    assert names[0] == names[1]


@IN_TIME
@given(ROOMS)
def test_no_two_lines_of_a_day_share_a_name(facts: Facts) -> None:
    names = [task.name for _, task in work_of_the_room(*facts)]
    assert len(set(names)) == len(names)


@IN_TIME
@given(ROOMS, st.integers(0, 70), st.sampled_from(list(Round)))
def test_once_done_work_stays_done_at_every_later_moment(
    facts: Facts, later: int, in_round: Round
) -> None:
    tasks = [task for _, task in work_of_the_room(*facts)]
    answers = [Done(t.name, Outcome.DONE, datetime(2026, 3, 1, tzinfo=UTC)) for t in tasks]
    states = settle(tasks, answers, Turn(on(later), in_round))
    assert all(not state.is_open and state.answer for state in states)
