"""What the room's own looks say larvae eat: a tank topped up, left, and counted again."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from hatchery_app.domain.larval_tank.grazing import (
    LONGEST_H,
    Grazing,
    Residual,
    learned_grazing,
    lit_hours,
)
from hatchery_app.domain.larval_tank.larval_protocol import Food, LarvalProtocol
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import PreySeen
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book.holding_facts import HoldingFacts
from hatchery_app.services.today.today_facts import DayFacts

LEARNED_OVER = timedelta(days=45)  # larvae of seasons ago had other food; assumed
LIGHT_HOURS = 14.0  # a usual day of larvae, where the room's lamps say nothing; assumed


@dataclass(frozen=True)
class _Look:
    tank_id: int
    at: datetime
    per_ml: float | None
    topped_up_to: float | None


def learned(session: Session, facts: DayFacts) -> Grazing:
    """The room's own eating of rotifers against the planning curve. One statement."""
    return learned_grazing(residuals(session, facts))


def residuals(session: Session, facts: DayFacts) -> list[Residual]:
    """Every interval from a filled tank to the next count of it, with the larvae that ate."""
    rows = session.execute(
        select(
            PreySeen.tank_id, PreySeen.happened_latest, PreySeen.per_ml,
            PreySeen.topped_up_to_per_ml,
        )
        .where(
            known(), PreySeen.food == Food.ROTIFERS.value,
            PreySeen.happened_latest >= facts.now - LEARNED_OVER,
            PreySeen.happened_latest <= facts.now,
            or_(PreySeen.per_ml.is_not(None), PreySeen.topped_up_to_per_ml.is_not(None)),
        )
        .order_by(PreySeen.happened_latest, PreySeen.seq)
    )  # fmt: skip
    by_tank: dict[int, list[_Look]] = defaultdict(list)
    for row in rows:
        by_tank[row.tank_id].append(_Look(*row))
    found = [
        _residual(facts, before, after)
        for looks in by_tank.values()
        for before, after in pairwise(looks)
    ]
    return [one for one in found if one is not None]


def _residual(facts: DayFacts, before: _Look, after: _Look) -> Residual | None:
    filled_to = before.topped_up_to if before.topped_up_to is not None else before.per_ml
    hours = (after.at - before.at) / timedelta(hours=1)
    if filled_to is None or after.per_ml is None or hours > LONGEST_H:
        return None
    holding = _living_there(facts, before.tank_id, after.at)
    if holding is None or holding.hatched is None:
        return None
    larvae = facts.larval_stock.balance(holding.id, before.at).now
    many = larvae.best if larvae.best is not None else larvae.low
    litres = next(
        (stop.litres for stop in facts.walk.stops if stop.tank_id == before.tank_id), None
    )
    if not many or litres is None:
        return None
    room = facts.room
    day = room.room_time.local(before.at).date()
    dph = max(0, (day - holding.hatched[0].evening).days)
    lit = lit_hours(before.at, after.at, room.lights, room.room_time)
    a_day = lit_hours(
        before.at, before.at + timedelta(hours=24), room.lights, room.room_time
    )
    return Residual(
        before.tank_id, after.at, dph, filled_to, after.per_ml, litres, float(many), lit,
        a_day or LIGHT_HOURS, _change_percent(holding, dph) * hours / 24,
    )  # fmt: skip


def _living_there(facts: DayFacts, tank_id: int, at: datetime) -> HoldingFacts | None:
    """The one batch that lived in a tank then; None where there was none, or more than one."""
    found = []
    for holding in facts.larval_stock.holdings.values():
        places = [place for place in holding.places if place.since.latest <= at]
        if not places or places[-1].tank_id != tank_id:
            continue
        ended = facts.larval_stock.emptied_at(holding.id)
        if ended is None or ended > at:
            found.append(holding)
    return found[0] if len(found) == 1 else None


def _change_percent(holding: HoldingFacts, dph: int) -> float:
    """The water change of that day of life by the plan of its species, 0 where it has none."""
    species = library().get(holding.species_key)
    protocol: LarvalProtocol | None = species.larval if species is not None else None
    bands = protocol.change_percent if protocol is not None else ()
    band = next((one for one in bands if one.covers(dph)), None)
    return min(100.0, (band.low + band.high) / 2) if band is not None else 0.0
