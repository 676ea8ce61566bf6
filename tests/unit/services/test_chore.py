"""The keeper's own chores: kept as said, stopped from tomorrow, refused where they say nothing."""

from datetime import UTC, date, datetime, timedelta

import pytest

from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.today.chores import Rhythm
from hatchery_app.domain.today.schedule import Outcome, Round
from hatchery_app.services.recording import Posting
from hatchery_app.services.today import chore, task_answer
from tests.builders import make_tank

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def add(session, what="Mix salt water", rhythm=None, **said):
    return chore.add_chore(
        session, posting=Posting(now=NOW), what=what, rhythm=rhythm or Rhythm(every_days=7),
        in_round=said.pop("in_round", Round.MIDDAY), **said,
    )  # fmt: skip


@pytest.mark.parametrize(
    "rhythm",
    [Rhythm(every_days=1), Rhythm(every_days=40), Rhythm(weekdays=(0, 3)), Rhythm(day_of_month=31),
     Rhythm(once=True)],
)  # fmt: skip
def test_a_rhythm_is_kept_as_it_was_said(session, gannet_stair, rhythm):
    add(session, rhythm=rhythm)
    (found,) = chore.load_chores(session, open_since=NOW)
    assert found.chore.rhythm == rhythm
    assert chore.read_rhythm(chore.written(rhythm)) == rhythm


def test_a_chore_stands_from_today_at_its_place(session, gannet_stair):
    tank_id = make_tank(session, "R1")
    add(session, tank_id=tank_id)
    (found,) = chore.load_chores(session, open_since=NOW)
    assert (found.place, found.chore.place_id) == ("R1", tank_id)
    assert found.chore.from_on == date(2026, 11, 24)
    assert not found.is_over


def test_a_chore_in_no_tank_of_the_room_is_refused(session, gannet_stair):
    with pytest.raises(NotKnown):
        add(session, tank_id=4711)


def test_a_chore_that_says_nothing_is_refused(session, gannet_stair):
    with pytest.raises(RuleBroken, match="Say what the chore is"):
        add(session, what="  ")


def test_a_stopped_chore_comes_today_for_the_last_time(session, gannet_stair):
    chore_id = add(session, rhythm=Rhythm(every_days=1))
    chore.stop_chore(session, posting=Posting(now=NOW), chore_id=chore_id)
    (found,) = chore.load_chores(session, open_since=NOW)
    assert found.is_over
    assert found.chore.falls_on(date(2026, 11, 24))
    assert not found.chore.falls_on(date(2026, 11, 25))
    with pytest.raises(RuleBroken, match="stopped already"):
        chore.stop_chore(session, posting=Posting(now=NOW), chore_id=chore_id)


def test_work_that_comes_once_is_left_out_a_while_after_it_was_answered(session, gannet_stair):
    kept = add(session, what="Buy salt", rhythm=Rhythm(once=True), first_on=date(2026, 11, 22))
    task_answer.answer_task(
        session, posting=Posting(now=NOW), task=f"chore:{kept}:once", outcome=Outcome.DONE
    )
    assert len(chore.load_chores(session, open_since=NOW)) == 1  # still to be seen as done
    assert chore.load_chores(session, open_since=NOW + timedelta(minutes=1)) == ()
