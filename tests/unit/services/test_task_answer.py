"""Answers to lines of work: what they ask for, what replaces what, what is taken back."""

from datetime import UTC, date, datetime

import pytest

from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.today.schedule import Outcome, Round, TaskName, Turn
from hatchery_app.services.recording import Posting
from hatchery_app.services.tank.tank import one_tank
from hatchery_app.services.today import task_answer
from tests.builders import make_tank

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
FEED = "feed_pair:7:2026-11-24.morning"


def answer(session, task=FEED, outcome=Outcome.DONE, **said):
    key = said.pop("key", None)
    return task_answer.answer_task(
        session, posting=Posting(now=NOW, key=key), task=task, outcome=outcome, **said
    )


def standing(session, *tasks):
    return task_answer.answers_to(session, tasks or (FEED,))


def test_an_answer_hangs_on_the_tasks_name(session, gannet_stair):
    answer(session)
    (found,) = standing(session)
    assert found.done.name == TaskName.parse(FEED)
    assert (found.done.outcome, found.done.at) == (Outcome.DONE, NOW)


@pytest.mark.parametrize(
    ("outcome", "field"),
    [(Outcome.SKIPPED, "reason"), (Outcome.DIFFERENTLY, "really"), (Outcome.PUT_OFF, "until")],
)
def test_an_answer_that_says_too_little_is_refused_beside_its_field(
    session, gannet_stair, outcome, field
):
    with pytest.raises(RuleBroken) as refused:
        answer(session, outcome=outcome)
    assert refused.value.field == field
    assert standing(session) == []


def test_a_second_answer_replaces_the_first(session, gannet_stair):
    first = answer(session, outcome=Outcome.SKIPPED, reason="no time")
    second = answer(session)
    assert first == second
    (found,) = standing(session)
    assert found.done.outcome is Outcome.DONE


def test_put_off_keeps_the_round_it_waits_for(session, gannet_stair):
    later = Turn(date(2026, 11, 25), Round.MORNING)
    answer(session, outcome=Outcome.PUT_OFF, until=later)
    (found,) = standing(session)
    assert found.done.put_off_until == later


def test_an_answer_taken_back_leaves_the_line_open(session, gannet_stair):
    fact_id = answer(session)
    task_answer.take_answer_back(session, posting=Posting(now=NOW), fact_id=fact_id)
    assert standing(session) == []
    with pytest.raises(NotKnown, match="taken back already"):
        task_answer.take_answer_back(session, posting=Posting(now=NOW), fact_id=fact_id)


def test_a_tap_sent_twice_is_one_answer(session, gannet_stair):
    assert answer(session, key="k") == answer(session, key="k")
    assert len(standing(session)) == 1


def test_a_matched_tank_stands_ready_until_the_answer_is_taken_back(session, gannet_stair):
    tank_id = make_tank(session, "L5", state=TankState.DIRTY)
    fact_id = answer(session, task=f"match_water:{tank_id}:clutch-9", key="m")
    assert one_tank(session, tank_id, NOW).state_said is TankState.READY
    task_answer.take_answer_back(session, posting=Posting(now=NOW), fact_id=fact_id)
    assert one_tank(session, tank_id, NOW).state_said is TankState.DIRTY


def test_a_cleaned_tank_is_not_ready_yet(session, gannet_stair):
    tank_id = make_tank(session, "L5", state=TankState.DIRTY)
    answer(session, task=f"clean_tank:{tank_id}:clutch-9")
    assert one_tank(session, tank_id, NOW).state_said is TankState.CLEANING


@pytest.mark.parametrize("said", ["feed everybody", f"chore:{'9' * 20}:once"])
def test_a_text_that_names_no_task_is_refused(session, gannet_stair, said):
    with pytest.raises(RuleBroken, match="no name of a task"):
        answer(session, task=said)


def test_letting_go_skips_every_line_with_the_same_word(session, gannet_stair):
    tasks = [FEED, "siphon:9:2026-11-24.morning"]
    assert task_answer.let_go_of(session, posting=Posting(now=NOW), tasks=tasks) == 2
    found = standing(session, *tasks)
    assert {each.done.outcome for each in found} == {Outcome.SKIPPED}
    assert {each.done.reason for each in found} == {task_answer.LET_GO}


def test_several_lines_are_done_in_one_tap(session, gannet_stair):
    tasks = [FEED, "siphon:9:2026-11-24.morning"]
    task_answer.answer_done(session, posting=Posting(now=NOW), tasks=tasks)
    assert [each.done.outcome for each in standing(session, *tasks)] == [Outcome.DONE] * 2
