"""What is sieved, rinsed and made up again, and how many mL of it go into which tank."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.live_food import two_figures

MADE_UP_PER_ML = 1500.0  # as rotifers are held for enrichment; Anderson, Weirich & Cavalin 2009
SMALLEST_ML = 10.0  # a beaker's mark


@dataclass(frozen=True)
class Wanted:
    """A tank and the animals it is to be given."""

    tank_id: int
    label: str
    animals: float


@dataclass(frozen=True)
class Pour:
    """So many mL of it into one tank."""

    tank_id: int
    label: str
    ml: float
    animals: float


@dataclass(frozen=True)
class MadeUp:
    """Animals in so many mL of clean water, and what goes where. `per_ml` is how thick it is."""

    ml: float
    per_ml: float
    pours: tuple[Pour, ...]

    @property
    def held_ml(self) -> float:
        """What is not poured: held for a first fill, or to spare."""
        return max(0.0, self.ml - sum(pour.ml for pour in self.pours))


def made_up(
    animals: float, wanted: Sequence[Wanted], per_ml: float = MADE_UP_PER_ML
) -> MadeUp | None:
    """The animals in a round number of mL about so thick, shared by what the tanks want.

    Where there are too few each tank gets its share of them. None for no animals. Raises
    RuleBroken for a thickness that is not above 0.
    """
    if per_ml <= 0:
        raise RuleBroken("A concentrate holds more than none per mL.", field="per_ml")
    if animals <= 0:
        return None
    ml = max(SMALLEST_ML, two_figures(animals / per_ml))
    thick = animals / ml
    total = sum(one.animals for one in wanted)
    share = min(1.0, animals / total) if total > 0 else 0.0
    pours = [
        Pour(one.tank_id, one.label, two_figures(one.animals * share / thick), one.animals * share)
        for one in wanted
        if one.animals > 0
    ]
    over = sum(pour.ml for pour in pours) - ml
    if over > 0 and pours:  # two figures each may come to a little more than there is
        largest = max(range(len(pours)), key=lambda place: pours[place].ml)
        pour = pours[largest]
        left = max(0.0, pour.ml - math.ceil(over))
        pours[largest] = Pour(pour.tank_id, pour.label, left, pour.animals)
    return MadeUp(ml, thick, tuple(pours))
