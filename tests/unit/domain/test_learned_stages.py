"""Stages learned from a room's own batches."""

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.learned_stages import (
    Stage,
    StageTold,
    learned_stages,
    planned_dph,
)
from hatchery_app.models.larval_tank import StageMark
from hatchery_app.services.species.library import library

PLAN = library()["amphiprion_ocellaris"].larval


def told(*days: int, stage: Stage = Stage.FIRST_SETTLED) -> list[StageTold]:
    return [StageTold(stage, day, day) for day in days]


def test_every_mark_of_development_a_keeper_can_make_is_a_stage():
    marks = [mark.value for mark in StageMark if mark is not StageMark.FOOD_GAP]
    assert marks == [stage.value for stage in Stage]


def test_the_plan_gives_way_to_the_room_batch_by_batch():
    (one,) = learned_stages(told(11), PLAN)
    (five,) = learned_stages(told(11, 11, 11, 11, 11), PLAN)
    assert one.plan_dph == planned_dph(PLAN, Stage.FIRST_SETTLED) == 8
    # 1/4 of prior weight against n: (8/4 + 11n)/(1/4 + n)
    assert one.expected_dph == pytest.approx((8 / 4 + 11) / 1.25)
    assert five.expected_dph == pytest.approx((8 / 4 + 55) / 5.25)


def test_what_it_rests_on_is_said():
    (found,) = learned_stages(told(9, 11, 10, 9, 10), PLAN)
    assert "this room: 5 batches, 9–11; the plan says 8" in found.said()


def test_without_a_plan_the_rooms_own_mean_stands():
    (found,) = learned_stages(told(9, 11), None)
    assert found.expected_dph == 10
    assert "the plan" not in found.said()


def test_a_batch_of_two_nights_teaches_the_middle():
    (found,) = learned_stages([StageTold(Stage.HALF_SETTLED, 10, 11)], None)
    assert found.expected_dph == 10.5
    assert (found.low_dph, found.high_dph) == (10, 11)


def test_stages_no_batch_showed_are_left_out():
    assert learned_stages([], PLAN) == ()


def test_a_stage_before_the_hatch_is_refused():
    with pytest.raises(RuleBroken):
        StageTold(Stage.FIRST_FOOD, -1, 0)
