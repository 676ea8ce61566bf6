"""What another plan would change for a batch, from its age on."""

from dataclasses import replace

from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.larval_tank.learned_stages import Stage, StageTold
from hatchery_app.domain.larval_tank.plan_changes import PlanChange, what_changes
from hatchery_app.domain.larval_tank.stage_windows import batch_stages
from hatchery_app.services.species.library import library

PLAN = library()["amphiprion_ocellaris"].larval
WARM = PLAN.settlement.at_c


def with_rotifers(low: float, high: float):
    """The plan with other rotifers on 5–7 dph."""
    stages = tuple(
        replace(stage, low=low, high=high)
        if stage.food is Food.ROTIFERS and stage.from_dph == 5 else stage
        for stage in PLAN.stages
    )  # fmt: skip
    return replace(PLAN, stages=stages)


def changes(after, dph: int, seen: tuple[StageTold, ...] = ()) -> tuple[PlanChange, ...]:
    return what_changes(
        batch_stages(PLAN, WARM, (), seen), batch_stages(after, WARM, (), seen), dph, WARM
    )


def test_the_same_plan_changes_nothing():
    assert changes(PLAN, 0) == ()


def test_days_that_change_alike_stand_in_one_line():
    assert changes(with_rotifers(4, 6), 4) == (
        PlanChange("rotifers", "5–7 dph", "10 per mL", "4–6 per mL"),
    )


def test_days_gone_by_are_left_out():
    (change,) = changes(with_rotifers(4, 6), 7)
    assert change.days == "7 dph"
    assert changes(with_rotifers(4, 6), 8) == ()


def test_a_later_settlement_moves_its_windows_unless_they_were_seen():
    later = replace(PLAN, settlement=replace(PLAN.settlement, first_dph=10, half_dph=12))
    ahead = {change.what for change in changes(later, 4)}
    assert {"first settled", "half settled", "move to grow-out"} <= ahead
    seen = (StageTold(Stage.FIRST_SETTLED, 8, 8),)
    assert "first settled" not in {change.what for change in changes(later, 9, seen)}


def test_a_food_left_out_is_said_to_be_none():
    dry = replace(PLAN, stages=tuple(s for s in PLAN.stages if s.food is not Food.MICRODIET))
    lines = [change for change in changes(dry, 24) if change.what == "microdiet"]
    assert lines[0].after == "none"
    assert all(change.after == "none" for change in lines)
