"""Lines that are done in one tap with what was really done: sieved, fed, topped up, started.

The tap writes the fact itself; the fact answers the line. What was done otherwise is written on
the page the line leads to, which opens with the same figures.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass

from hatchery_app.domain.live_food.live_food import two_figures
from hatchery_app.domain.live_food.shrimp_ahead import START_KINDS
from hatchery_app.domain.live_food.vessel_tasks import FEED, SIEVE
from hatchery_app.domain.today.schedule import Task, TaskState
from hatchery_app.services.today.today import TodayPage

Fields = tuple[tuple[str, str], ...]
NOW = ("when_how", "now")


@dataclass(frozen=True)
class JobTap:
    """A post that says all: its endpoint, what that needs, its fields and its word."""

    endpoint: str
    facts: dict[str, int]
    fields: Fields
    label: str = "Done"


def tap_of(page: TodayPage, line: TaskState, known: Collection[str]) -> JobTap | None:
    """The one tap of an open line; None where there is none, or its pages are not there."""
    made = next((make for kinds, make in TAPS if line.task.kind.startswith(kinds)), None)
    tap = made(page, line.task) if made is not None and line.is_open else None
    return tap if tap is not None and tap.endpoint in known else None


def figure(amount: float) -> str:
    """An amount to two figures as a field takes it: "1300", "0.38"."""
    return f"{two_figures(amount):g}"


def _sieve(page: TodayPage, task: Task) -> JobTap | None:
    if task.quantity is None:
        return None
    made = [one for need in page.food.needs if (one := need.made_up) and need.supply
            and any(sieve.tank_id == task.fact_id for sieve in need.supply.sieves)]  # fmt: skip
    into = ", ".join(pour.label for pour in made[0].pours) if made else ""
    fields = (("litres", figure(task.quantity.amount)), ("into", into[:120]), NOW)
    return JobTap("live_food.harvest", {"tank_id": task.fact_id}, fields)


def _feed(_page: TodayPage, task: Task) -> JobTap | None:
    if task.quantity is None:
        return None
    fields = (
        ("what", "paste"), ("amount", figure(task.quantity.amount)), ("unit", "mL"),
        ("from_open", "yes"), NOW,
    )  # fmt: skip
    return JobTap("live_food.feed", {"tank_id": task.fact_id}, fields)


def _top_up(page: TodayPage, task: Task) -> JobTap | None:
    """A tank topped up to its target; a line that says nothing is to be added has no tap."""
    key = task.kind.removeprefix("top_up_").removeprefix("count_")
    for plan in page.facts.larvae:
        if plan.holding.id != task.fact_id:
            continue
        for prey in plan.prey:
            nothing = prey.add is not None and prey.add.animals == 0
            if prey.key == key and prey.food.target and not nothing:
                fields = (
                    ("food", prey.food.food.value), ("topped_up_to", f"{prey.food.target:g}"), NOW,
                )  # fmt: skip
                return JobTap("larval_tank.prey", {"holding_id": task.fact_id}, fields, "Topped up")
    return None


def _start(page: TodayPage, task: Task) -> JobTap | None:
    for one in page.ahead.shrimp:
        lot_id = one.hatching.lot_id
        if START_KINDS[one.food] != task.kind or lot_id is None:
            continue
        for day in one.days:
            if day.start is not None and task.name.turn == f"for-{day.on.isoformat()}":
                fields = (
                    ("lot_id", str(lot_id)), ("grams", figure(day.start.grams)),
                    ("litres", figure(day.start.vessel_l)),
                    ("temperature", f"{one.hatching.temperature_c:g}"), NOW,
                )  # fmt: skip
                return JobTap("live_food.start_shrimp", {}, fields, "Started")
    return None


TAPS: tuple[tuple[str, Callable[[TodayPage, Task], JobTap | None]], ...] = (
    (SIEVE, _sieve), (FEED, _feed), ("top_up_", _top_up), ("start_cysts_", _start),
)  # fmt: skip
