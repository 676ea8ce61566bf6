"""One batch's coming stages: the plan at its warmth, the room's own batches, and what was seen.

A plan's day gives way to what this room's batches showed, and both to the batch itself: once a
stage was seen, those that follow move by as many days, and a look that found none puts the stage
after it. What a keeper feeds moves the feeding and hurries no settlement. Days are dph.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from hatchery_app.domain.larval_tank.larval_protocol import (
    Food,
    LarvalProtocol,
    Settlement,
    pace,
    plan_day_of,
)
from hatchery_app.domain.larval_tank.learned_stages import (
    SHRIMP,
    LearnedStage,
    Stage,
    StageTold,
    days_of_room,
    earlier_than_usual,
    next_spread_days,
    planned_dph,
)

FEEDING = (Stage.FIRST_FOOD, Stage.FIRST_SHRIMP)
SETTLING = (Stage.FIRST_SETTLED, Stage.HALF_SETTLED, Stage.LAST_SETTLED)
LIVE_FOODS = (Food.ROTIFERS, Food.COPEPODS, Food.SHRIMP_INSTAR_I, Food.SHRIMP_ENRICHED)
# A mark moves the feeding by no more: a first pinch given for trial must not empty a plan. Assumed.
MOST_SHIFT_DAYS = 3
LONGEST_DPH = 120
MOVED_FROM_DAYS = 0.5  # a shorter shift is not worth a word


@dataclass(frozen=True)
class StageWindow:
    """A stage of one batch, in dph: `from_dph`–`to_dph`, likeliest `best_dph`; None: to the end.

    `seen` once it was; `why` says what the days rest on and what moved them.
    """

    name: str
    from_dph: int
    to_dph: int | None
    why: str
    best_dph: float | None = None
    seen: StageTold | None = None


@dataclass(frozen=True)
class BatchStages:
    """A batch's stages in their order, and the plan that its days are read by from now on."""

    windows: tuple[StageWindow, ...]
    protocol: LarvalProtocol
    moved: str = ""  # why the feeding is read on another day than by age alone


@dataclass(frozen=True)
class _Expected:
    stage: Stage
    best: float
    spread: float
    why: str
    seen: StageTold | None


def batch_stages(
    protocol: LarvalProtocol,
    mean_c: float | None,
    learned: Sequence[LearnedStage] = (),
    seen: Sequence[StageTold] = (),
    not_by: Mapping[Stage, int] | None = None,
    there_by: Mapping[Stage, int] | None = None,
) -> BatchStages:
    """Every stage that its plan knows. `not_by`: the last look that did not find a stage yet;
    `there_by`: the first look of all, where it found the stage there already."""
    told = {each.stage: each for each in sorted(seen, key=lambda one: -one.middle_dph)}
    of_room = {each.stage: each for each in learned}
    shifted, moved = _feeding_moved(protocol, mean_c, told)
    settling = _settling(protocol, mean_c, of_room, told, not_by or {}, there_by or {})
    if settling and protocol.settlement is not None:
        settles = _settlement_of(protocol.settlement, settling, mean_c)
        shifted = replace(shifted, settlement=settles)
    windows = [*_food_windows(shifted, mean_c, of_room, told), *map(_window, settling)]
    if settling:
        windows.append(_to_grow_out(settling))
    return BatchStages(tuple(windows), shifted, moved)


# --- Feeding ------------------------------------------------------------------------------


def _feeding_moved(
    protocol: LarvalProtocol, mean_c: float | None, told: Mapping[Stage, StageTold]
) -> tuple[LarvalProtocol, str]:
    """The plan read earlier or later, as the last feeding stage that was seen says."""
    for stage in reversed(FEEDING):
        one = told.get(stage)
        planned = _planned(protocol, mean_c, stage)
        if one is None or planned is None:
            continue
        days = round(one.middle_dph - planned)
        if stage is Stage.FIRST_SHRIMP and days < 0:
            # Within the days of a first trace nothing is early.
            trace = min(each.from_dph for each in protocol.stages if each.food in SHRIMP)
            planned = trace / _rate(protocol.settlement, mean_c)
            days = min(0, round(one.middle_dph - planned))
        days = max(-MOST_SHIFT_DAYS, min(MOST_SHIFT_DAYS, days))
        if days == 0:
            return protocol, ""
        return replace(protocol, behind_days=days), (
            f"{_days(days)}: {stage} seen {_run(one)} dph, planned for {planned:.0f}"
        )
    return protocol, ""


def _food_windows(
    protocol: LarvalProtocol,
    mean_c: float | None,
    of_room: Mapping[Stage, LearnedStage],
    told: Mapping[Stage, StageTold],
) -> list[StageWindow]:
    """Each food from its first to its last day, and the days of weaning between them."""
    days: dict[Food, list[int]] = {}
    for dph in range(1, LONGEST_DPH):
        for fed in protocol.foods_on(plan_day_of(protocol, dph, mean_c)):
            days.setdefault(fed.food, []).append(dph)
    seen_of = {Food.ROTIFERS: Stage.FIRST_FOOD, Food.SHRIMP_INSTAR_I: Stage.FIRST_SHRIMP}
    warmth = _warmth(protocol.settlement, mean_c)
    windows = []
    for food, on in days.items():
        stage = seen_of.get(food)
        moved = _days(protocol.behind_days) if protocol.behind_days else ""
        why = [each for each in (moved, warmth) if each] or ["the plan's days"]
        if stage is not None and stage in of_room:
            why.append(of_room[stage].said())
        if stage is not None and stage in told:
            why.append(earlier_than_usual(told[stage], of_room.get(stage)))
        why = [each for each in why if each]
        windows.append(
            StageWindow(str(food), on[0], on[-1], "; ".join(why),
                        seen=told.get(stage) if stage is not None else None)
        )  # fmt: skip
    live = [on[-1] for food, on in days.items() if food in LIVE_FOODS]
    if Food.MICRODIET in days and live and max(live) >= days[Food.MICRODIET][0]:
        windows.append(
            StageWindow(
                "weaning", days[Food.MICRODIET][0], max(live),
                "dry food beside live food, until the last live food",
            )
        )  # fmt: skip
    return windows


# --- Settlement ---------------------------------------------------------------------------


def _settling(
    protocol: LarvalProtocol,
    mean_c: float | None,
    of_room: Mapping[Stage, LearnedStage],
    told: Mapping[Stage, StageTold],
    not_by: Mapping[Stage, int],
    there_by: Mapping[Stage, int],
) -> list[_Expected]:
    """First, half and last, each moved by what was seen of those before it."""
    found: list[_Expected] = []
    shift, because = 0.0, ""
    for stage in SETTLING:
        base = _base(protocol, mean_c, stage, of_room)
        if base is None:
            return []
        expected, spread, why = base
        one = told.get(stage)
        if one is not None:
            shift = one.middle_dph - expected
            because = f"{stage} seen {_run(one)} dph, {expected:.0f} was expected"
            found.append(_Expected(stage, one.middle_dph, 0.0, why, one))
            continue
        best = expected + shift
        by = there_by.get(stage)
        if by is not None:
            if best > by:
                shift, because = by - expected, f"{stage} there by {by} dph"
                best = float(by)
            seen = StageTold(stage, min(math.floor(best), by), by)
            found.append(_Expected(stage, best, 0.0, f"there by {by} dph, not looked at before",
                                   seen))  # fmt: skip
            continue
        looked = not_by.get(stage)
        if looked is not None and best <= looked:
            shift += looked + 1 - best
            best = looked + 1.0
            because = f"{_not_yet(stage)} on {looked} dph"
        if found:
            best = max(best, found[-1].best)
        if abs(shift) >= MOVED_FROM_DAYS and because:
            why = f"{_days(shift)}: {because}; {why}"
        found.append(_Expected(stage, best, spread, why, None))
    return found


def _base(
    protocol: LarvalProtocol,
    mean_c: float | None,
    stage: Stage,
    of_room: Mapping[Stage, LearnedStage],
) -> tuple[float, float, str] | None:
    """What to expect before anything was seen: day, spread of one batch, what it rests on."""
    planned = _planned(protocol, mean_c, stage)
    of_it = of_room.get(stage)
    if of_it is not None:
        said = f"this room: {_batches(of_it.batches)}, {_of_room_run(of_it)}"
        if planned is not None:
            said += f"; the plan says {planned:.0f}"
        return days_of_room(of_it, planned), next_spread_days(of_it.batches), said
    if planned is None:
        return None
    warmth = _warmth(protocol.settlement, mean_c)
    return planned, next_spread_days(0), warmth or "the plan's days"


def _planned(protocol: LarvalProtocol, mean_c: float | None, stage: Stage) -> float | None:
    """The plan's day of a stage at this warmth."""
    day = planned_dph(protocol, stage)
    if day is None:
        return None
    rate = _rate(protocol.settlement, mean_c)
    return day if day <= 1 else day / rate


def _rate(settlement: Settlement | None, mean_c: float | None) -> float:
    if settlement is None or mean_c is None:
        return 1.0
    return pace(settlement, mean_c) or 1.0


def _settlement_of(
    plan: Settlement, settling: Sequence[_Expected], mean_c: float | None
) -> Settlement:
    """The plan's settlement with days that fall, at this warmth, on those expected."""
    rate = _rate(plan, mean_c)
    first, half, last = (max(each.best, 0.5) * rate for each in settling)
    half = max(first, half)
    return replace(plan, first_dph=first, half_dph=half, last_dph=max(half, last))


def _window(one: _Expected) -> StageWindow:
    if one.seen is not None:
        return StageWindow(
            str(one.stage), one.seen.low_dph, one.seen.high_dph, one.why, one.best, one.seen
        )
    low = max(math.floor(one.best - one.spread + 0.5), 1)
    return StageWindow(
        str(one.stage), low, math.floor(one.best + one.spread + 0.5), one.why, one.best
    )


def _to_grow_out(settling: Sequence[_Expected]) -> StageWindow:
    _first, half, last = settling
    return StageWindow(
        "move to grow-out", math.floor(half.best + 0.5), math.ceil(last.best),
        "from when half have settled; late ones stay larvae",
    )  # fmt: skip


# --- Words --------------------------------------------------------------------------------


def _warmth(settlement: Settlement | None, mean_c: float | None) -> str:
    """ "the plan's days, made for 27.5 °C, at 26.4 °C"; "" where they stand as they are."""
    if settlement is None or mean_c is None or abs(_rate(settlement, mean_c) - 1) < 0.01:
        return ""
    if pace(settlement, mean_c) is None:
        return f"the plan's days for {settlement.at_c:g} °C; not known at {mean_c:.1f} °C"
    held = ", no sooner above" if mean_c > settlement.flat_above_c else ""
    at_c = min(mean_c, settlement.flat_above_c)
    return f"the plan's days for {settlement.at_c:g} °C, at {at_c:.1f} °C{held}"


def _days(shift: float) -> str:
    way = "later" if shift > 0 else "earlier"
    days = f"{abs(shift):.0f}"
    return f"{days} {'day' if days == '1' else 'days'} {way}"


def _run(one: StageTold) -> str:
    return str(one.low_dph) if one.low_dph == one.high_dph else f"{one.low_dph}–{one.high_dph}"


def _of_room_run(one: LearnedStage) -> str:
    return str(one.low_dph) if one.low_dph == one.high_dph else f"{one.low_dph}–{one.high_dph}"


def _batches(number: int) -> str:
    return "1 batch" if number == 1 else f"{number} batches"


def _not_yet(stage: Stage) -> str:
    return {
        Stage.FIRST_SETTLED: "none settled", Stage.HALF_SETTLED: "less than half settled",
    }.get(stage, "some still swam")  # fmt: skip
