"""How long young take in this room: first food, first brine shrimp, settlement, from its marks.

The species' plan gives way to what the room's own batches showed, batch by batch, by the same
shrinkage as its hatches. Days are days post hatch, in the room's own water.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import sqrt

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.larval_protocol import Food, LarvalProtocol
from hatchery_app.domain.shrinkage import shrunk

SHRIMP = (Food.SHRIMP_INSTAR_I, Food.SHRIMP_ENRICHED)
# How far rooms stray from the plan, and batches of one room from each other. Settlement of
# A. melanopus ran from 9.0 d at 28 °C to 12.3 d at 25 °C (Green & Fisher 2004); the spreads
# themselves are assumed.
SPREAD_BETWEEN_ROOMS_DAYS = 2.0
SPREAD_BATCH_TO_BATCH_DAYS = 1.0


class Stage(StrEnum):
    """What a keeper marks of a batch, in the order in which it comes."""

    FIRST_FOOD = "first food"
    FIRST_SHRIMP = "first brine shrimp"
    FIRST_SETTLED = "first settled"
    HALF_SETTLED = "half settled"
    LAST_SETTLED = "last settled"


@dataclass(frozen=True)
class StageTold:
    """When one batch reached a stage, in dph; two figures where it hatched over two nights.

    Raises RuleBroken for a day before the hatch.
    """

    stage: Stage
    low_dph: int
    high_dph: int

    def __post_init__(self) -> None:
        if not 0 <= self.low_dph <= self.high_dph:
            raise RuleBroken("A batch reaches its stages after it hatched.")

    @property
    def middle_dph(self) -> float:
        """The age taken for a batch of two nights."""
        return (self.low_dph + self.high_dph) / 2


@dataclass(frozen=True)
class LearnedStage:
    """A stage in this room: what to expect, and what that rests on.

    `expected_dph` lies between the plan and the room's own, `plan_dph` is None where the
    species' plan does not say. `low_dph`/`high_dph`: the range the room's batches showed.
    """

    stage: Stage
    batches: int
    expected_dph: float
    low_dph: int
    high_dph: int
    plan_dph: float | None
    mean_dph: float = 0.0  # of the room's batches alone

    def said(self) -> str:
        """ "first settled: 9.2 dph (this room: 5 batches, 8–11; the plan says 8)"."""
        run = str(self.low_dph) if self.low_dph == self.high_dph else (
            f"{self.low_dph}–{self.high_dph}"
        )  # fmt: skip
        batches = "1 batch" if self.batches == 1 else f"{self.batches} batches"
        plan = "" if self.plan_dph is None else f"; the plan says {self.plan_dph:g}"
        return f"{self.stage}: {self.expected_dph:.1f} dph (this room: {batches}, {run}{plan})"


def planned_dph(plan: LarvalProtocol | None, stage: Stage) -> float | None:
    """The day the species' plan gives a stage; None where it gives none."""
    if plan is None:
        return None
    settles = plan.settlement
    match stage:
        case Stage.FIRST_FOOD:  # larvae see to eat from 1 dph on, whenever it was put in
            days = [each.from_dph for each in plan.stages]
            return max(float(min(days)), 1.0) if days else None
        case Stage.FIRST_SHRIMP:  # a trace before is a trial, the first amount is the stage
            of_shrimp = [each for each in plan.stages if each.food in SHRIMP]
            days = [each.from_dph for each in of_shrimp if each.low is not None]
            return float(min(days or [each.from_dph for each in of_shrimp], default=0)) or None
        case Stage.FIRST_SETTLED:
            return None if settles is None else settles.first_dph
        case Stage.HALF_SETTLED:
            return None if settles is None else settles.half_dph
        case Stage.LAST_SETTLED:
            return None if settles is None else settles.last_dph


def learned_stages(
    told: Sequence[StageTold], plan: LarvalProtocol | None
) -> tuple[LearnedStage, ...]:
    """Every stage that some batch of the room showed, in their order."""
    found = []
    for stage in Stage:
        own = [each for each in told if each.stage is stage]
        if own:
            found.append(_learned(stage, own, planned_dph(plan, stage)))
    return tuple(found)


def _learned(stage: Stage, own: Sequence[StageTold], plan_dph: float | None) -> LearnedStage:
    days = [each.middle_dph for each in own]
    expected = sum(days) / len(days)
    if plan_dph is not None:
        expected = shrunk(
            plan_dph, SPREAD_BETWEEN_ROOMS_DAYS, days, SPREAD_BATCH_TO_BATCH_DAYS
        ).mean
    low, high = min(each.low_dph for each in own), max(each.high_dph for each in own)
    mean = sum(days) / len(days)
    return LearnedStage(stage, len(own), expected, low, high, plan_dph, mean)


def days_of_room(learned: LearnedStage, plan_dph: float | None) -> float:
    """The day to expect of a batch whose plan, at its warmth, says `plan_dph`."""
    if plan_dph is None:
        return learned.mean_dph
    prior = (SPREAD_BATCH_TO_BATCH_DAYS / SPREAD_BETWEEN_ROOMS_DAYS) ** 2
    return (prior * plan_dph + learned.batches * learned.mean_dph) / (prior + learned.batches)


def next_spread_days(batches: int) -> float:
    """How far the next batch may lie from what so many of the room let expect: a standard error."""
    of_mean = 1 / (1 / SPREAD_BETWEEN_ROOMS_DAYS**2 + batches / SPREAD_BATCH_TO_BATCH_DAYS**2)
    return sqrt(of_mean + SPREAD_BATCH_TO_BATCH_DAYS**2)


FEWEST_FOR_A_USUAL_DAY = 3  # batches, below which a room has no usual day; assumed
EARLY_BY_DAYS = 1.0  # assumed: a day either way is the keeper's rounds


def earlier_than_usual(own: StageTold, room: LearnedStage | None) -> str:
    """A quiet note where brine shrimp was begun before the room's own usual day; "" elsewhere.

    It compares own batches only. What a trial saw of shrimp alone from the first day is said
    beside it, and is no judgement of this batch.
    """
    if own.stage is not Stage.FIRST_SHRIMP or room is None:
        return ""
    days = room.mean_dph - own.middle_dph
    if room.batches < FEWEST_FOR_A_USUAL_DAY or days < EARLY_BY_DAYS:
        return ""
    early = f"{round(days, 1):g} day{'' if round(days, 1) == 1 else 's'}"
    return (
        f"begun {early} before this room's usual"
        f" {round(room.mean_dph, 1):g} dph ({room.batches} batches); in one trial to day 35"
        " shrimp alone kept 24 %, rotifers before them 68 % (Divya et al. 2011)"
    )
