"""How much larvae eat: a planning curve, which the room's own residual counts replace.

Prey an animal takes in a day, by days post hatch; nothing on the hatch night, for larvae feed by
sight. What a room learns is one factor on the curve, from tanks that were topped up, left, and
counted again: a factor of 1 is the curve itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from hatchery_app.domain.live_food.live_food import (
    GRAZING_LAST_DPH,
    ML_PER_L,
    eaten_per_larva,
    planning_grazing,
)
from hatchery_app.domain.shrinkage import shrunk
from hatchery_app.domain.when import Lights, RoomTime

# The curve is assumed; similar marine larvae took a third of it to about the same (yellowtail
# kingfish at 7 dph 170–260, Ma et al. 2013, against 675). Spreads of the logarithm, assumed.
SPREAD_OF_ROOMS = 0.5
SPREAD_OF_ONE_LOOK = 0.5  # two counts of ±20 %, the number of larvae, and the day
LEAST_LIT_H, LONGEST_H = 4.0, 36.0  # shorter says little, longer mixes too much; assumed

# Nauplii a larva takes in a day; assumed but for 20 dph, read of kingfish (Ma et al. 2013).
NAUPLII_A_DAY = ((8, 100.0), (10, 200.0), (14, 400.0), (20, 550.0))


@dataclass(frozen=True)
class Residual:
    """A tank filled to `after_per_ml` and looked at again: what larvae of `dph` left of it.

    `lit_hours` of the `hours` between had light, `light_hours_a_day` is a whole day's.
    `change_percent` of the water was changed meanwhile.
    """

    tank_id: int
    at: datetime
    dph: int
    after_per_ml: float
    residual_per_ml: float
    litres: float
    larvae: float
    lit_hours: float
    light_hours_a_day: float
    change_percent: float = 0.0

    @property
    def washed_out(self) -> float:
        """What the water change took, at the middle of the two densities."""
        middle = (self.after_per_ml + self.residual_per_ml) / 2
        return self.change_percent / 100 * middle * self.litres * ML_PER_L

    @property
    def eaten_each(self) -> float | None:
        """Prey each larva took meanwhile; None where the figures give less than nothing."""
        return eaten_per_larva(
            self.after_per_ml, self.residual_per_ml, self.litres, self.larvae, self.washed_out
        )

    @property
    def factor(self) -> float | None:
        """What was eaten against the planning curve, for the hours that had light."""
        eaten, usual = self.eaten_each, grazing_on(self.dph)
        if not eaten or not usual or self.lit_hours < LEAST_LIT_H or self.light_hours_a_day <= 0:
            return None
        return eaten / (usual * self.lit_hours / self.light_hours_a_day)


@dataclass(frozen=True)
class Grazing:
    """The curve as this room's looks make it: `factor` on it, from `looks`, likely within
    `low`–`high`."""

    factor: float = 1.0
    low: float = math.exp(-SPREAD_OF_ROOMS)
    high: float = math.exp(SPREAD_OF_ROOMS)
    looks: int = 0

    def on(self, dph: int) -> float | None:
        """Rotifers a larva takes on a day; None before the hatch."""
        usual = grazing_on(dph)
        return None if usual is None else usual * self.factor

    def said(self) -> str:
        """What the eating rests on, in a sentence."""
        if not self.looks:
            return (
                "Eating by the planning curve, 150 + 75 × dph a larva a day (assumed): count what"
                " is left before you top up, and the room's own figures replace it."
            )
        many = "1 look" if self.looks == 1 else f"{self.looks} looks"
        return (
            f"Eating by {many} of this room at what was left: {self.factor:.2f} of the planning"
            " curve of 150 + 75 × dph a larva a day."
        )


def grazing_on(dph: int) -> float | None:
    """The planning curve; past its last day its last value, as long as a plan asks for the food."""
    return None if dph < 0 else planning_grazing(min(dph, GRAZING_LAST_DPH))


def learned_grazing(looks: Sequence[Residual]) -> Grazing:
    """The room's own factor: the mean of the logarithms, drawn to 1 by how few they are."""
    own = [math.log(factor) for look in looks if (factor := look.factor)]
    if not own:
        return Grazing()
    found = shrunk(0.0, SPREAD_OF_ROOMS, own, SPREAD_OF_ONE_LOOK)
    return Grazing(
        math.exp(found.mean), math.exp(found.mean - found.sd), math.exp(found.mean + found.sd),
        len(own),
    )  # fmt: skip


def nauplii_on(dph: int) -> float | None:
    """Brine shrimp a larva takes in a day from 8 dph on; None before. Straight between values."""
    if dph < NAUPLII_A_DAY[0][0]:
        return None
    for (from_dph, least), (to_dph, most) in pairwise(NAUPLII_A_DAY):
        if dph <= to_dph:
            return least + (most - least) * (dph - from_dph) / (to_dph - from_dph)
    return NAUPLII_A_DAY[-1][1]


def lit_hours(
    begin: datetime, end: datetime, lights_at: Callable[[datetime], Lights], room_time: RoomTime
) -> float:
    """The hours between two moments in which the lamp was on."""
    day, last = room_time.local(begin).date() - timedelta(days=1), room_time.local(end).date()
    total = timedelta()
    while day <= last:
        lights = lights_at(begin)
        on = room_time.planned(day, lights.on)
        off = room_time.planned(
            day + timedelta(days=1) if lights.off_after_midnight else day, lights.off
        )
        total += max(timedelta(), min(end, off) - max(begin, on))
        day += timedelta(days=1)
    return total / timedelta(hours=1)
