"""A day's foods by how long the larvae are, where somebody measured some; else by their age.

Brine shrimp wait for the length they are for, dry food follows it in its grain. A food the plan
names later is never brought forward: that stays the keeper's own choice.
"""

from __future__ import annotations

from dataclasses import replace

from hatchery_app.domain.larval_tank.larval_protocol import DayPlan, Food, FoodToday
from hatchery_app.domain.larval_tank.microdiet import grain_for
from hatchery_app.domain.live_food.food_demand import SHRIMP, Course

BY_AGE = "Brine shrimp and grain go by age here: measure some larvae, and they follow the length."


def by_size(plan: DayPlan, course: Course) -> tuple[DayPlan, tuple[str, ...]]:
    """The day's plan with its foods by size, and in words what it rests on."""
    length, measured = course.length_on(plan.dph), course.length_mm
    if measured is None or length is None:
        sized = any(fed.food in (*SHRIMP, Food.MICRODIET) for fed in plan.foods)
        return plan, (BY_AGE,) if sized else ()
    said = [f"By length: {measured:.2g} mm measured on {course.length_dph} dph"]
    if round(length, 1) != round(measured, 1):
        said[0] += f", about {length:.2g} mm now"
    foods = []
    for fed in plan.foods:
        if not course.takes(fed.food, plan.dph):
            said.append(_waits(fed.food, course))
            continue
        foods.append(_grain(fed, length) if fed.food is Food.MICRODIET else fed)
    return replace(plan, foods=tuple(foods)), tuple(said)


def _waits(food: Food, course: Course) -> str:
    wanted, day = course.length_for(food), course.first_dph_by_size(food)
    return f"{food} waits for {wanted:.2g} mm, about {day} dph; by age it would be now"


def _grain(fed: FoodToday, length_mm: float) -> FoodToday:
    row = grain_for(length_mm)
    if row is None:
        return fed
    return replace(
        fed, low=row.from_um, high=row.to_um, meals_low=row.meals[0], meals_high=row.meals[1],
        note=f"by length, {row.from_mm:g}–{row.to_mm:g} mm",
    )  # fmt: skip
