"""A treatment's repeats come on the days the keeper said, and never twice for one missed."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.tank.treatment import Treatment, treatment_tasks
from hatchery_app.domain.today.schedule import Round, State, Turn, settle
from hatchery_app.domain.when import When

BEGAN = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)
FIRST = Turn(date(2026, 11, 20), Round.MORNING)
POWDER = Treatment(
    7, 3, "blue tub", When.exactly(BEGAN), "one scoop", "scratching", "carbon", every_days=2,
    repeats=3,
)  # fmt: skip


def due(day: int, treatment: Treatment = POWDER) -> list[tuple[str, int, bool]]:
    tasks = treatment_tasks(treatment, FIRST, date(2026, 11, day))
    return [(str(task.name), task.due_on.day, task.repeats) for task in tasks]


def test_each_repeat_stands_until_the_next_and_the_last_until_it_is_answered() -> None:
    assert due(20) == due(21) == []
    assert due(22) == due(23) == [("treat:7:dose-2", 22, True)]
    assert due(25) == [("treat:7:dose-3", 24, True)]
    assert due(26) == due(30) == [("treat:7:dose-4", 26, False)]


def test_a_missed_repeat_lapses_when_the_next_one_comes() -> None:
    (missed,) = treatment_tasks(POWDER, FIRST, date(2026, 11, 22))
    later = Turn(date(2026, 11, 24), Round.MORNING)
    assert [one.state for one in settle([missed], [], later)] == [State.LAPSED]


def test_a_repeat_says_the_keepers_own_words_and_no_others() -> None:
    (task,) = treatment_tasks(POWDER, FIRST, date(2026, 11, 22))
    assert (task.what, task.quantity, task.place_id) == ("Treatment again: blue tub", None, 3)
    assert task.why == (
        "2 of 4; you wrote one scoop; for scratching; meanwhile no: carbon; "
        "read the label again first"
    )


def test_nothing_comes_again_once_it_is_over_or_was_given_once() -> None:
    over = When.exactly(BEGAN + timedelta(days=1))
    assert due(24, replace(POWDER, ended=over)) == []
    assert due(24, replace(POWDER, every_days=None, repeats=None)) == []


def test_it_goes_on_from_the_earliest_it_began_to_the_latest_it_was_over() -> None:
    vague = Treatment(
        7, 3, "salt", When.between(BEGAN, BEGAN + timedelta(hours=6)),
        ended=When.between(BEGAN + timedelta(hours=3), BEGAN + timedelta(hours=9)),
    )  # fmt: skip
    hours = {hour: vague.goes_on(BEGAN + timedelta(hours=hour)) for hour in (-1, 0, 8, 9)}
    assert hours == {-1: False, 0: True, 8: True, 9: False}
    assert vague.touches(BEGAN + timedelta(hours=9), BEGAN + timedelta(hours=20))
    assert not vague.touches(BEGAN + timedelta(hours=10), BEGAN + timedelta(hours=20))


def test_it_reaches_its_tank_and_the_water_it_was_said_to_share() -> None:
    of_loop = replace(POWDER, system="grow-out loop")
    assert POWDER.reaches(3, "grow-out loop")
    assert not POWDER.reaches(4, "grow-out loop")
    assert of_loop.reaches(4, "grow-out loop")
    assert not of_loop.reaches(5, "main loop")
    assert not POWDER.reaches(4, "")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"what": "  "}, "what"),
        ({"repeats": None}, "repeats"),
        ({"every_days": None}, "every_days"),
        ({"every_days": 0}, "every_days"),
        ({"repeats": 61}, "repeats"),
        ({"ended": When.exactly(BEGAN - timedelta(minutes=1))}, "over_on"),
    ],
)
def test_nonsense_is_refused_beside_its_field(change: dict[str, object], field: str) -> None:
    with pytest.raises(RuleBroken) as refused:
        replace(POWDER, **change)  # type: ignore[arg-type]
    assert refused.value.field == field
