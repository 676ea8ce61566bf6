"""The broodstock's feeding rota: dry food always, frozen and fresh in turn.

No pair lives on one food: eggs are made of what the parents ate.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.today.schedule import Round, Task, Turn, repeating

MEAL_ROUNDS = (Round.MORNING, Round.MIDDAY, Round.BEFORE_LIGHTS_OFF)


class FoodForm(StrEnum):
    """How a food comes."""

    DRY = "dry"
    FROZEN = "frozen"
    FRESH = "fresh"


@dataclass(frozen=True)
class Meal:
    """One meal of a pair: in which round, what, and how it comes."""

    round: Round
    food: str
    form: FoodForm


@dataclass(frozen=True)
class Rota:
    """The foods in the house by form, from a first day, with two or three meals a day.

    Raises RuleBroken for a rota of a single food, without dry food, or of dry food alone.
    """

    from_on: date
    dry: tuple[str, ...]
    frozen: tuple[str, ...] = ()
    fresh: tuple[str, ...] = ()
    meals_a_day: int = 2

    def __post_init__(self) -> None:
        foods = (*self.dry, *self.frozen, *self.fresh)
        if not all(food.strip() for food in foods):
            raise RuleBroken("Every food of the rota needs its name.", field="foods")
        if len({food.strip().lower() for food in foods}) < 2:
            raise RuleBroken(
                "A rota of a single food is none: name a dry food and a frozen or fresh one.",
                field="foods",
            )
        if not self.dry:
            raise RuleBroken("Dry food is always among it: name one.", field="dry")
        if not self.frozen and not self.fresh:
            raise RuleBroken("Beside dry food, name a frozen or a fresh one.", field="frozen")
        if self.meals_a_day not in (2, 3):
            raise RuleBroken("Breeding pairs are fed two or three times a day.", field="meals")

    def meals(self, pair_id: int, day: date) -> tuple[Meal, ...]:
        """What a pair is fed on a day: the same whenever it is asked, another for its neighbour.

        Dry at midday (of two meals: in the morning), the rest frozen and fresh in turn.
        """
        step = (day - self.from_on).days + pair_id
        rounds = MEAL_ROUNDS if self.meals_a_day == 3 else (MEAL_ROUNDS[0], MEAL_ROUNDS[2])
        dry_round = Round.MIDDAY if self.meals_a_day == 3 else Round.MORNING
        others = len(rounds) - 1
        served, meals = step * others, []
        for meal_round in rounds:
            if meal_round is dry_round:
                meals.append(Meal(meal_round, self.dry[step % len(self.dry)], FoodForm.DRY))
            else:
                meals.append(self._wet(meal_round, served))
                served += 1
        return tuple(meals)

    def _wet(self, meal_round: Round, served: int) -> Meal:
        forms = [
            (form, foods)
            for form, foods in ((FoodForm.FROZEN, self.frozen), (FoodForm.FRESH, self.fresh))
            if foods
        ]
        form, foods = forms[served % len(forms)]
        return Meal(meal_round, foods[served // len(forms) % len(foods)], form)


def feeding_tasks(
    rota: Rota, pairs: Iterable[tuple[int, int | None]], day: date
) -> tuple[Task, ...]:
    """The day's feeding of the pairs, given as (pair, place); none before the rota's first day."""
    if day < rota.from_on:
        return ()
    return tuple(
        repeating(
            "feed_pair", pair_id, Turn(day, meal.round), place_id,
            f"Feed {meal.food}", why=f"{meal.form}, by the rota",
        )
        for pair_id, place_id in pairs
        for meal in rota.meals(pair_id, day)
    )  # fmt: skip
