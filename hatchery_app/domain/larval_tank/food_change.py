"""When a batch changes food: each food's first and last day ahead, and dry food by grain."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.larval_tank.microdiet import grain_for
from hatchery_app.domain.live_food.food_demand import DAYS_AHEAD, Course, Courses, PlanDay


@dataclass(frozen=True)
class FoodChange:
    """A food, or another grain of dry food, that begins or ends with a batch.

    `begins_on` None: it is fed already. `ends_on` is its last day, None past the days ahead.
    `grain_um` is set for dry food.
    """

    food: Food
    begins_on: date | None
    ends_on: date | None
    grain_um: tuple[float, float] | None = None


def food_changes(
    course: Course, dph: int, today: date, days: int = DAYS_AHEAD, courses: Courses | None = None
) -> tuple[FoodChange, ...]:
    """Every food of the days ahead with its first and its last day, the first to change first."""
    courses = courses or Courses()
    fed: dict[tuple[Food, tuple[float, float] | None], list[int]] = {}
    for day in range(days):
        plan = courses.day(course, dph + day)
        for food in plan.named:
            if course.takes(food, dph + day):
                grain = _grain(course, dph + day, plan) if food is Food.MICRODIET else None
                fed.setdefault((food, grain), []).append(day)
    changes = [
        FoodChange(
            food,
            today + timedelta(days=at[0]) if at[0] > 0 else None,
            today + timedelta(days=at[-1]) if at[-1] < days - 1 else None,
            grain,
        )
        for (food, grain), at in fed.items()
    ]
    return tuple(sorted(changes, key=lambda one: (one.begins_on or today, one.ends_on or today)))


def _grain(course: Course, dph: int, plan: PlanDay) -> tuple[float, float] | None:
    """By the length of larvae that were measured, else as the plan has it for their age."""
    length = course.length_on(dph) if course.length_mm is not None else None
    row = grain_for(length) if length is not None else None
    return (row.from_um, row.to_um) if row is not None else plan.grain_um
