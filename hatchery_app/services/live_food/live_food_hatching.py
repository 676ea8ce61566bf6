"""The brine shrimp on their way: what each hatch becomes and when, and the lot to start from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.live_food.brine_shrimp import RINSE_H, Enrichment
from hatchery_app.domain.live_food.food_demand import DayDemand
from hatchery_app.domain.live_food.shrimp_ahead import (
    HATCHED_AT_C,
    Cysts,
    HatchAhead,
    usual_cysts,
)
from hatchery_app.domain.live_food.shrimp_hatch import HatchState, ShrimpHatch
from hatchery_app.services.live_food.live_food_shrimp_facts import Shrimp, shrimp_now

KEEPS = timedelta(hours=24)


@dataclass(frozen=True)
class Hatching:
    """What cysts are started from next, and what is hatching. `lot_id` None: no lot is kept."""

    cysts: Cysts
    coming: tuple[HatchAhead, ...]
    lot_id: int | None = None
    temperature_c: float = HATCHED_AT_C

    @property
    def is_unrecorded(self) -> bool:
        """Whether nobody keeps brine shrimp in the records: then nothing is said to lack."""
        return self.lot_id is None and not self.coming


def hatching(
    session: Session,
    demand: Mapping[Food, Sequence[DayDemand]],
    hours: Sequence[datetime],
    now: datetime,
) -> Hatching:
    """The room's brine shrimp as the plan takes it: six statements, two where there is no lot."""
    shrimp = shrimp_now(session, now)
    coming = tuple(
        found
        for one in shrimp.standing
        if (found := _coming(one, demand, hours, now)) is not None
    )
    cysts, lot_id, temperature = _cysts(shrimp)
    return Hatching(cysts, coming, lot_id, temperature)


def _cysts(shrimp: Shrimp) -> tuple[Cysts, int | None, float]:
    """The lot last hatched from, else the newest, at the warmth of its last hatch."""
    if not shrimp.lots:
        return usual_cysts(), None, HATCHED_AT_C
    last = shrimp.hatches[0] if shrimp.hatches else None
    lot = last.lot if last is not None else shrimp.lots[-1]
    warm = last.temperature_c if last is not None else HATCHED_AT_C
    band = lot.hours.at(warm)
    if band is None:
        warm, band = HATCHED_AT_C, lot.hours.at(HATCHED_AT_C)
    hours = band.best if band is not None else usual_cysts().hours
    return Cysts(lot.planned(), hours, lot.name), lot.id, warm


def _coming(
    one: ShrimpHatch, demand: Mapping[Food, Sequence[DayDemand]], hours: Sequence[datetime],
    now: datetime,
) -> HatchAhead | None:  # fmt: skip
    """A hatch as food: fresh where fresh ones are wanted when it is ready, else enriched."""
    state, enrichment = one.state(now), Enrichment()
    if state in (HatchState.ENRICHING, HatchState.ENRICHED) and one.enriching is not None:
        many = one.in_hand if one.in_hand is not None else one.expected[1]
        return HatchAhead(
            Food.SHRIMP_ENRICHED, _kept(one.enriching.done_at, now), many, one.lot.name
        )
    ready = one.harvested_at
    many = one.in_hand if one.in_hand is not None else one.expected[1]
    if ready is None:
        if one.ready is None:
            return None
        ready = max(one.ready[1], now) + timedelta(hours=RINSE_H)
    if _is_wanted(demand.get(Food.SHRIMP_INSTAR_I, ()), hours, ready):
        return HatchAhead(Food.SHRIMP_INSTAR_I, _kept(ready, now), many, one.lot.name)
    if Food.SHRIMP_ENRICHED in demand:
        done = max(ready, now) + timedelta(hours=enrichment.hours)
        many *= enrichment.surviving_share
        return HatchAhead(Food.SHRIMP_ENRICHED, done, many, one.lot.name)
    return HatchAhead(Food.SHRIMP_INSTAR_I, _kept(ready, now), many, one.lot.name)


def _kept(ready: datetime, now: datetime) -> datetime:
    """What was ready within the last day stands cold and is fed from now on."""
    return now if now - KEEPS <= ready < now else ready


def _is_wanted(
    days: Sequence[DayDemand], hours: Sequence[datetime], ready: datetime
) -> bool:
    return any(
        day.need > 0 and hour - KEEPS < ready <= hour
        for day, hour in zip(days, hours, strict=False)
    )
