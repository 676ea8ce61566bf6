"""What another plan would change for one batch of larvae, from its age on: nothing behind it."""

from collections.abc import Callable
from dataclasses import dataclass

from hatchery_app.domain.larval_tank.larval_protocol import (
    DayPlan,
    Food,
    FoodToday,
    LarvalProtocol,
    for_day,
)
from hatchery_app.domain.larval_tank.stage_windows import LONGEST_DPH, BatchStages, StageWindow

NOT_FED = "none"
Said = Callable[[DayPlan], str]


@dataclass(frozen=True)
class PlanChange:
    """One thing that changes: on which days of life, what stands before and what after."""

    what: str
    days: str
    before: str
    after: str


def what_changes(
    before: BatchStages, after: BatchStages, dph: int, mean_c: float | None
) -> tuple[PlanChange, ...]:
    """Every stage and every day's amount still to come on which the two plans differ."""
    changes = list(_stages(before, after, dph))
    for what, said in _sayings(before.protocol, after.protocol):
        changes += _runs(what, said, before.protocol, after.protocol, dph, mean_c)
    return tuple(changes)


def _stages(before: BatchStages, after: BatchStages, dph: int) -> list[PlanChange]:
    ahead = {each.name: each for each in before.windows if _is_ahead(each, dph)}
    then = {each.name: each for each in after.windows if _is_ahead(each, dph)}
    names = [*ahead, *(name for name in then if name not in ahead)]
    found = []
    for name in names:
        old, new = _run(ahead.get(name)), _run(then.get(name))
        if old != new:
            found.append(PlanChange(name, "stage", old, new))
    return found


def _is_ahead(each: StageWindow, dph: int) -> bool:
    return each.seen is None and (each.to_dph is None or each.to_dph >= dph)


def _run(each: StageWindow | None) -> str:
    if each is None:
        return NOT_FED
    return f"{each.from_dph}–{each.to_dph} dph"


def _sayings(before: LarvalProtocol, after: LarvalProtocol) -> list[tuple[str, Said]]:
    """What is compared day by day: each food of either plan, water, green water, light."""
    foods = dict.fromkeys(stage.food for stage in (*before.stages, *after.stages))
    sayings: list[tuple[str, Said]] = [(str(food), _of_food(food)) for food in foods]
    return [*sayings, ("green water", _green), ("water change", _change), ("light", _light)]


def _of_food(food: Food) -> Said:
    def said(day: DayPlan) -> str:
        return _band(day.food(food))

    return said


def _band(food: FoodToday | None) -> str:
    if food is None:
        return NOT_FED
    if food.low is None or food.high is None:
        return food.note or "a trace"
    band = f"{food.low:.2g}" if food.low == food.high else f"{food.low:.3g}–{food.high:.3g}"
    meals = f", {food.meals_low}–{food.meals_high} meals" if food.meals_low else ""
    return f"{band} {food.unit}{meals}"


def _green(day: DayPlan) -> str:
    band = day.greenwater
    return NOT_FED if band is None else f"{band.low:g}–{band.high:g} {band.unit}"


def _change(day: DayPlan) -> str:
    band = day.water_change
    return NOT_FED if band is None else f"{band.low:g}–{band.high:g} {band.unit}"


def _light(day: DayPlan) -> str:
    return day.light_words or NOT_FED


def _runs(
    what: str, said: Said, before: LarvalProtocol, after: LarvalProtocol, dph: int,
    mean_c: float | None,
) -> list[PlanChange]:  # fmt: skip
    """Runs of days on which the two differ in the same way."""
    runs: list[tuple[int, int, str, str]] = []
    for day in range(dph, LONGEST_DPH):
        old, new = (said(for_day(plan, day, mean_c)) for plan in (before, after))
        if old == new:
            continue
        if runs and runs[-1][1] == day - 1 and runs[-1][2:] == (old, new):
            runs[-1] = (runs[-1][0], day, old, new)
        else:
            runs.append((day, day, old, new))
    return [
        PlanChange(what, f"{first} dph" if first == last else f"{first}–{last} dph", old, new)
        for first, last, old, new in runs
    ]
