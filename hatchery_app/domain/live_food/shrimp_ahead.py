"""Brine shrimp ahead: which feeding is covered by what hatches already, and when to wet the rest.

Fresh nauplii (instar I) and enriched ones are two foods. Each feeding day has its own start,
backwards from the hour of feeding; what cannot be ready any more is said with the first hour
that can.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.live_food.brine_shrimp import (
    CystLot,
    CystStart,
    Enrichment,
    cysts_to_start,
    hatch_hours,
)
from hatchery_app.domain.live_food.food_demand import DayDemand
from hatchery_app.domain.live_food.live_food import ML_PER_L, two_figures_said
from hatchery_app.domain.live_food.supply import litres_said
from hatchery_app.domain.today.schedule import Quantity, Task, Turn, one_off
from hatchery_app.domain.when import say_date

NAUPLII_PER_G = 230_000.0  # planning value; high-quality lots give 200,000–300,000 (SRAC 702)
HATCHED_AT_C = 28.0  # assumed where nobody said how warm the cones stand
STILL_HELPS = timedelta(hours=6)  # a start so late feeds by the next meal; assumed
FRESH_KEEP = timedelta(hours=24)  # a day's nauplii are the day's food; assumed
NOTHING = 1.0


@dataclass(frozen=True)
class HatchAhead:
    """A hatch in progress: which food it becomes, from when, and about how many."""

    food: Food
    ready_at: datetime
    animals: float
    label: str = ""


@dataclass(frozen=True)
class ShrimpDay:
    """One feeding day: what is wanted, what is on its way, and what is still to be started.

    `start` is None where nothing lacks. `is_late`: over six hours late for that feeding, and
    `ready_at` is when it is food if it is wetted now, None where that is before the hour.
    """

    on: date
    feed_at: datetime
    need: float
    on_its_way: float
    start: CystStart | None
    start_at: datetime | None
    is_late: bool = False
    ready_at: datetime | None = None

    @property
    def lacking(self) -> float:
        """What will not be there at the hour."""
        return max(0.0, self.need - self.on_its_way) if self.is_late else 0.0


@dataclass(frozen=True)
class Cysts:
    """What is hatched from: the lot, its hours to a harvest, and whether both are assumed."""

    lot: CystLot
    hours: float
    label: str = ""
    assumed: bool = False
    enrichment: Enrichment = field(default_factory=Enrichment)


def usual_cysts() -> Cysts:
    """A good lot at 28 °C, where the room has none written down."""
    return Cysts(CystLot(NAUPLII_PER_G), hatch_hours(HATCHED_AT_C) or 24.0, assumed=True)


def shrimp_ahead(
    food: Food,
    demand: Sequence[DayDemand],
    feed_at: Sequence[datetime],
    cysts: Cysts,
    now: datetime,
    hatches: Iterable[HatchAhead] = (),
) -> tuple[ShrimpDay, ...]:
    """Each feeding day with what is to be started for it. `feed_at` is the hour on each day.

    What hatches in the day before the hour is fed at it; where that is too little, what hatches
    within six hours after it is fed by the next meal, and is gone for the day after.
    """
    coming = [one for one in hatches if one.food is food]
    left = [one.animals for one in coming]
    days = []
    for wanted, hour in zip(demand, feed_at, strict=True):
        there = sum(
            many for one, many in zip(coming, left, strict=True)
            if hour - FRESH_KEEP < one.ready_at <= hour
        )  # fmt: skip
        for place, one in enumerate(coming):
            if hour < one.ready_at <= hour + STILL_HELPS:
                fed = min(left[place], max(0.0, wanted.need - there))
                left[place], there = left[place] - fed, there + fed
        days.append(_day(food, wanted, hour, there, cysts, now))
    return tuple(days)


def _day(
    food: Food, wanted: DayDemand, hour: datetime, there: float, cysts: Cysts, now: datetime
) -> ShrimpDay:
    lacking = wanted.need - there
    if lacking < NOTHING:
        return ShrimpDay(wanted.on, hour, wanted.need, there, None, None)
    enrichment = cysts.enrichment if food is Food.SHRIMP_ENRICHED else None
    start = cysts_to_start(lacking, cysts.lot, cysts.hours, enrichment)
    at = start.start_at(hour)
    late = at + STILL_HELPS < now
    ready_at = now + timedelta(hours=start.lead_hours) if at < now else None
    return ShrimpDay(wanted.on, hour, wanted.need, there, start, at, late, ready_at)


def next_start(days: Iterable[ShrimpDay]) -> ShrimpDay | None:
    """The next start that can still be ready at its hour."""
    return next((day for day in days if day.start is not None and not day.is_late), None)


def first_late(days: Iterable[ShrimpDay]) -> ShrimpDay | None:
    """The first feeding for which it is too late to hatch anything."""
    return next((day for day in days if day.is_late), None)


START_KINDS = {
    Food.SHRIMP_INSTAR_I: "start_cysts_fresh", Food.SHRIMP_ENRICHED: "start_cysts_enriched",
}  # fmt: skip


def start_task(
    food: Food, day: ShrimpDay, turn: Turn, clock_said: str, lot_id: int = 0
) -> Task | None:
    """The line that asks for a start on the day it is due; None where nothing is to be started."""
    if day.start is None:
        return None
    water = litres_said(day.start.vessel_l)
    why = f"in {water}, for {two_figures_said(day.need)} on {say_date(day.on)}"
    if food is Food.SHRIMP_ENRICHED:
        why += f", then enriched in {litres_said(day.start.enrichment_ml / ML_PER_L)}"
    if day.start.is_hard_to_weigh:
        why += "; so little is hard to weigh, round up"
    return one_off(
        START_KINDS[food], lot_id, turn, None, f"Start cysts at {clock_said}", why=why,
        quantity=Quantity(day.start.grams, "g"), milestone=f"for-{day.on.isoformat()}",
    )  # fmt: skip
