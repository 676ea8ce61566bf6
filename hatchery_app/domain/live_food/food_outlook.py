"""One food over the days ahead, put together: demand, supply, the first day short, what to do."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from hatchery_app.domain.live_food.food_action import (
    Advice,
    Place,
    Seed,
    Step,
    advise,
    count_first,
    get_culture,
    spare,
)
from hatchery_app.domain.live_food.food_ahead import (
    NOTHING,
    Course,
    DaySupply,
    IfLost,
    bears_band,
    first_lacking,
    first_short,
    if_lost,
    is_young,
    run,
    vessel_for_peak,
    vessels_ahead,
)
from hatchery_app.domain.live_food.food_demand import DayDemand
from hatchery_app.domain.live_food.live_food import ML_PER_L
from hatchery_app.domain.live_food.supply import NOT_COUNTED
from hatchery_app.domain.live_food.vessel import Band, Cultured, KeptAs, VesselNow


@dataclass(frozen=True)
class Outlook:
    """A cultured food ahead. `likely` and `careful` are the days as they come: with the likely
    need, and with its safety. `bears` is what the vessels bear, with its band. `after` are the
    careful days if every step is taken.

    `is_known` is False where no vessel of the food was counted lately or none has a published
    growth: then nothing is said of enough. `left_out` are vessels that count as nothing, and why.
    `expected` are those just seeded, taken to hold what went in and has grown.
    """

    food: Cultured
    demand: tuple[DayDemand, ...]
    likely: Course
    careful: Course
    bears: tuple[Band, ...]
    after: Course
    steps: tuple[Step, ...]
    lost: tuple[IfLost, ...]
    left_out: tuple[tuple[str, str], ...]
    peak_l: float
    is_known: bool
    expected: frozenset[int] = frozenset()

    @property
    def short(self) -> DaySupply | None:
        """The first day that the vessels do not bear the likely need; as Today says it."""
        return first_short(self.likely)

    @property
    def lacking(self) -> DaySupply | None:
        """The first day on which the likely need is not to be had, whatever is sieved."""
        return first_lacking(self.likely)

    @property
    def careful_lacking(self) -> DaySupply | None:
        """The same with the safety of half on eating and washout."""
        return first_lacking(self.careful)

    @property
    def still_lacking(self) -> DaySupply | None:
        """What lacks even if every step is taken."""
        return first_lacking(self.after)

    @property
    def is_needed(self) -> bool:
        """Whether anything of it is wanted in these days."""
        return any(day.careful >= NOTHING for day in self.demand)


def outlook(
    food: Cultured,
    demand: Sequence[DayDemand],
    cultures: Sequence[VesselNow],
    places: Sequence[Place] = (),
    *,
    in_hand: float = 0.0,
    used_first_day: float | None = None,
    salinity: Mapping[int, float] | None = None,
    expected: Mapping[int, float] | None = None,
    warned: Collection[int] = (),
) -> Outlook:
    """One food over its days. `places` are the room's vessels in which nothing lives.

    `expected` are the animals in the vessels just seeded and not counted yet, `warned` the
    vessels of which an alarm stands: no seed is taken of them.
    """
    kept = [one for one in cultures if one.vessel.food is food]
    vessels = vessels_ahead(kept, food, dict(salinity or {}), expected)
    young = [one.vessel.tank_id for one in kept if is_young(one)]
    seeds = _seeds([one for one in kept if one.vessel.tank_id not in warned])
    advice = advise(
        demand, vessels, young=young, places=places, seeds=seeds, in_hand=in_hand,
        used_first_day=used_first_day,
    )  # fmt: skip
    base = advice.base

    likely = run(demand, base, in_hand=in_hand, used_first_day=used_first_day)
    unknown = [one for one in kept if one.vessel.tank_id not in (expected or {})]
    left_out = tuple((one.vessel.label, one.why_none) for one in unknown if one.why_none)
    uncounted = any(one.why_none.startswith(NOT_COUNTED) for one in unknown)
    return Outlook(
        food=food,
        demand=tuple(demand),
        likely=likely,
        careful=advice.without,
        bears=tuple(bears_band(day, kept) for day in likely),
        after=advice.after,
        steps=_steps(food, demand, unknown, advice, places, seeds),
        lost=if_lost(demand, base, in_hand),
        left_out=left_out,
        peak_l=vessel_for_peak(demand),
        is_known=food is Cultured.ROTIFERS and bool(kept) and (bool(base) or not uncounted),
        expected=frozenset(expected or {}) & {one.vessel.tank_id for one in kept},
    )


def _steps(
    food: Cultured, demand: Sequence[DayDemand], kept: Sequence[VesselNow], advice: Advice,
    places: Sequence[Place], seeds: Sequence[Seed],
) -> tuple[Step, ...]:  # fmt: skip
    today = demand[0].on
    first = next((day.on for day in demand if day.careful >= NOTHING), None)
    steps = [
        count_first(one.vessel.tank_id, one.vessel.label, today)
        for one in kept
        if one.why_none.startswith(NOT_COUNTED)
    ]
    stands = seeds or advice.base or any(one.produces for one in kept)
    if food is Cultured.ROTIFERS and first is not None and not stands:
        steps.append(get_culture(food.value, first, today))
    steps += advice.steps
    second = None
    if not any(step.tank_id != 0 and step.seed_l for step in advice.steps):
        second = spare(demand, advice.base, places, seeds, advice.steps)
    return (*steps, second) if second is not None else tuple(steps)


def _seeds(kept: Sequence[VesselNow]) -> tuple[Seed, ...]:
    """Living, counted cultures: those that are sieved first, then cool stock."""
    found = []
    for one in kept:
        usable = one.produces or (one.vessel.kept_as is KeptAs.COOL_STOCK and one.vessel.lives)
        if not usable or one.is_crashed or one.standing is None or one.standing.best < NOTHING:
            continue
        per_ml = one.standing.best / (one.vessel.litres * ML_PER_L)
        rate = one.growth.mean if one.growth is not None else 0.0
        found.append(
            Seed(one.vessel.tank_id, one.vessel.label, one.standing.best, per_ml, rate)
        )
    return tuple(sorted(found, key=lambda seed: -seed.animals))
