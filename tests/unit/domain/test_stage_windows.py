"""A batch's coming stages: by the plan at its warmth, by the room's batches, by what was seen."""

import pytest

from hatchery_app.domain.larval_tank.larval_protocol import Food, for_day, settlement_at
from hatchery_app.domain.larval_tank.learned_stages import (
    Stage,
    StageTold,
    learned_stages,
    planned_dph,
)
from hatchery_app.domain.larval_tank.stage_windows import BatchStages, StageWindow, batch_stages
from hatchery_app.services.species.library import library

PLAN = library()["amphiprion_ocellaris"].larval
AT_PLAN_C = PLAN.settlement.at_c


def told(stage: Stage, low: int, high: int | None = None) -> StageTold:
    return StageTold(stage, low, low if high is None else high)


def window(stages: BatchStages, name: str) -> StageWindow:
    return next(each for each in stages.windows if each.name == name)


def test_at_the_plans_own_warmth_its_days_stand():
    stages = batch_stages(PLAN, AT_PLAN_C)
    assert window(stages, "first settled").best_dph == pytest.approx(8)
    assert window(stages, "last settled").best_dph == pytest.approx(PLAN.settlement.last_dph)
    assert window(stages, "rotifers").from_dph == 1
    assert window(stages, "rotifers").to_dph == 10
    assert window(stages, "weaning").why.startswith("dry food beside live food")
    assert (window(stages, "weaning").from_dph, window(stages, "weaning").to_dph) == (5, 25)
    assert stages.protocol == PLAN


def test_cooler_water_makes_every_stage_later_by_its_warmth():
    warm, cool = batch_stages(PLAN, AT_PLAN_C), batch_stages(PLAN, 25.0)
    late = window(cool, "first settled").best_dph / window(warm, "first settled").best_dph
    assert late == pytest.approx((AT_PLAN_C - 16.8) / (25.0 - 16.8))
    assert window(cool, "rotifers").to_dph > window(warm, "rotifers").to_dph
    assert "at 25.0 °C" in window(cool, "first settled").why


def test_hotter_than_the_flat_is_no_sooner_and_says_so():
    flat, hot = batch_stages(PLAN, 29.5), batch_stages(PLAN, 31.0)
    assert window(hot, "last settled").best_dph == window(flat, "last settled").best_dph
    assert "no sooner above" in window(hot, "last settled").why
    assert any("hotter is not faster" in said for said in for_day(PLAN, 5, 31.0).cautions)


def test_five_batches_of_the_room_outweigh_the_plan():
    learned = learned_stages([told(Stage.FIRST_SETTLED, 11)] * 5, PLAN)
    found = window(batch_stages(PLAN, AT_PLAN_C, learned), "first settled")
    assert found.best_dph == pytest.approx((8 / 4 + 5 * 11) / 5.25)
    assert "this room: 5 batches, 11" in found.why
    alone = window(batch_stages(PLAN, AT_PLAN_C), "first settled")
    assert found.to_dph - found.from_dph < alone.to_dph - alone.from_dph


def test_the_first_settled_seen_late_moves_half_and_last_and_the_move():
    plain = batch_stages(PLAN, AT_PLAN_C)
    moved = batch_stages(PLAN, AT_PLAN_C, (), [told(Stage.FIRST_SETTLED, 11)])
    for name in ("half settled", "last settled"):
        assert window(moved, name).best_dph == pytest.approx(window(plain, name).best_dph + 3)
        assert window(moved, name).why.startswith("3 days later: first settled seen 11 dph")
    grown = window(moved, "move to grow-out")
    assert grown.from_dph == window(plain, "move to grow-out").from_dph + 3
    # What Today asks for follows: the settlement window of the day's plan.
    assert for_day(moved.protocol, 9, AT_PLAN_C).settlement.first_dph == pytest.approx(11)
    assert settlement_at(moved.protocol.settlement, 25.0).first_dph > 11


def test_a_look_that_found_none_puts_the_stage_after_it():
    not_by = {Stage.FIRST_SETTLED: 10, Stage.LAST_SETTLED: 10}
    stages = batch_stages(PLAN, AT_PLAN_C, (), (), not_by)
    first = window(stages, "first settled")
    assert first.best_dph == 11
    assert "none settled on 10 dph" in first.why
    assert window(stages, "last settled").best_dph >= window(stages, "half settled").best_dph >= 11


def test_a_look_that_found_none_before_its_day_changes_nothing():
    plain = batch_stages(PLAN, AT_PLAN_C)
    assert batch_stages(PLAN, AT_PLAN_C, (), (), {Stage.FIRST_SETTLED: 4}).windows == plain.windows


def test_brine_shrimp_given_late_reads_the_feeding_later_but_no_settlement():
    planned = planned_dph(PLAN, Stage.FIRST_SHRIMP)
    late = batch_stages(PLAN, AT_PLAN_C, (), [told(Stage.FIRST_SHRIMP, int(planned) + 2)])
    assert late.protocol.behind_days == 2
    assert for_day(late.protocol, 12, AT_PLAN_C).plan_day == 10
    assert window(late, "rotifers").to_dph == 12
    assert "2 days later: first brine shrimp seen 7 dph, planned for 5" in late.moved
    assert window(late, "first settled").best_dph == pytest.approx(8)


def test_brine_shrimp_very_late_moves_the_feeding_by_three_days_at_most():
    late = batch_stages(PLAN, AT_PLAN_C, (), [told(Stage.FIRST_SHRIMP, 12)])
    assert late.protocol.behind_days == 3


def test_a_first_trace_of_shrimp_on_its_day_is_not_early_and_before_it_is():
    traced = batch_stages(PLAN, AT_PLAN_C, (), [told(Stage.FIRST_SHRIMP, 3)])
    assert traced.protocol.behind_days == 0
    early = batch_stages(PLAN, AT_PLAN_C, (), [told(Stage.FIRST_SHRIMP, 2)])
    assert early.protocol.behind_days == -1


def test_the_first_food_on_the_first_day_moves_nothing_and_a_gap_of_two_days_does():
    on_time = batch_stages(PLAN, AT_PLAN_C, (), [told(Stage.FIRST_FOOD, 1)])
    assert on_time.protocol.behind_days == 0
    assert on_time.moved == ""
    unfed = batch_stages(PLAN, AT_PLAN_C, (), [told(Stage.FIRST_FOOD, 3)])
    assert unfed.protocol.behind_days == 2
    assert for_day(unfed.protocol, 5, AT_PLAN_C).plan_day == 3


def test_a_batch_of_two_nights_is_seen_to_settle_between_two_days():
    seen = told(Stage.FIRST_SETTLED, 9, 10)
    found = window(batch_stages(PLAN, AT_PLAN_C, (), [seen]), "first settled")
    assert (found.from_dph, found.to_dph, found.best_dph) == (9, 10, 9.5)


def test_without_a_settlement_in_the_plan_there_is_no_move_to_promise():
    plan = type(PLAN)(PLAN.stages, None, PLAN.change_percent, PLAN.greenwater, PLAN.light)
    names = {each.name for each in batch_stages(plan, None).windows}
    assert str(Food.ROTIFERS) in names
    assert "move to grow-out" not in names
    assert "first settled" not in names
