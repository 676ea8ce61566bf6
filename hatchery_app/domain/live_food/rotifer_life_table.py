"""What a rotifer can do at the very most: the ceiling that its own life table sets to growth.

A vessel whose counts say more was miscounted. Real cultures run far below it: animals die.
"""

import math
from dataclasses import dataclass

HOURS_PER_DAY = 24.0


@dataclass(frozen=True)
class LifeTable:
    """A female's life: hours from birth to the first egg, between eggs and in the egg, and eggs.

    `life_d` is how long she lives, in days.
    """

    maturity_h: float
    interval_h: float
    eggs: float
    life_d: float
    egg_h: float

    @property
    def slots(self) -> float:
        """Eggs there is time for between maturity and death; the number laid stays below it."""
        return (self.life_d * HOURS_PER_DAY - self.maturity_h) / self.interval_h

    def ceiling_per_day(self) -> float:
        """r if none died before her last egg: Σ exp(−r·(maturity + egg + k·interval)) = 1.

        Euler–Lotka over the whole eggs of a life, solved by halving.
        """
        days = [
            (self.maturity_h + self.egg_h + k * self.interval_h) / HOURS_PER_DAY
            for k in range(int(self.eggs))
        ]
        low, high = 0.0, 6.0
        for _ in range(60):
            rate = (low + high) / 2
            if sum(math.exp(-rate * day) for day in days) > 1:
                low = rate
            else:
                high = rate
        return (low + high) / 2


# B. rotundiformis of Khánh Hòa, 27–28 °C, 1998–99 (abstract): maturity 18.13 ± 1.76 h, interval
# 3.93 ± 0.53 h, 18.1 ± 2.04 eggs, life 4.47 ± 0.71 d. Hours in the egg: 0.6 d at 25 °C, from
# memory of the older table.
S_TYPE = LifeTable(maturity_h=18.13, interval_h=3.93, eggs=18.1, life_d=4.47, egg_h=14.4)
FASTEST_PER_DAY = S_TYPE.ceiling_per_day()
