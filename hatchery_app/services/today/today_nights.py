"""The next fourteen nights of the room: every clutch's chances, and the tanks they will take."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from hatchery_app.domain.clutch.hatch_forecast import NIGHTS_AHEAD
from hatchery_app.domain.clutch.nights_ahead import NightsAhead, nights_ahead
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.when import Night
from hatchery_app.services.larval_tank.larval_day import LarvalPlan
from hatchery_app.services.tank.tank_walk import TankStanding
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.services.today.today_tanks import TanksToday, needs_a_tank
from hatchery_app.services.today.tonight import NightWatch


@dataclass(frozen=True)
class TankAhead:
    """A larval tank that is not ready: the first night it could be, None where nobody can say."""

    label: str
    from_night: Night | None
    why: str


@dataclass(frozen=True)
class NightsToday:
    """The nights ahead of the room: `clutches` with a forecast in the order of their likeliest
    night, the sum of those that need a larval tank, and what becomes of the tanks."""

    nights: tuple[Night, ...]
    clutches: tuple[NightWatch, ...]
    sum: NightsAhead
    tanks: tuple[TankAhead, ...]


def nights_today(facts: DayFacts, tanks: TanksToday) -> NightsToday:
    """The nights from tonight on. Asks the records nothing."""
    tonight = facts.tonight.night
    nights = tuple(tonight.plus(number) for number in range(NIGHTS_AHEAD))
    forecast = [
        watch for watch in (*facts.tonight.watches, *facts.tonight.others)
        if watch.seen.forecast is not None
    ]  # fmt: skip
    shown = [watch for watch in forecast if _chances(watch, nights) is not None]
    needing = [chances for watch in shown if needs_a_tank(watch)
               if (chances := _chances(watch, nights)) is not None]  # fmt: skip
    ahead = _tanks_ahead(facts, tanks)
    could_be = [tank.from_night for tank in ahead if tank.from_night is not None]
    return NightsToday(
        nights,
        tuple(sorted(shown, key=_likeliest)),
        nights_ahead(
            nights, needing, len(tanks.answer.ready), could_be, len(forecast) - len(shown)
        ),
        ahead,
    )


def _chances(watch: NightWatch, nights: tuple[Night, ...]) -> tuple[float, ...] | None:
    forecast = watch.seen.forecast
    if forecast is None or forecast.unknown is not None:
        return None
    of_night = {each.night: each.chance for each in forecast.nights}
    return tuple(of_night.get(night, 0.0) for night in nights)


def _likeliest(watch: NightWatch) -> tuple[Night, int]:
    forecast = watch.seen.forecast
    night = forecast.likeliest if forecast is not None else None
    return night or watch.seen.tonight.plus(NIGHTS_AHEAD), watch.clutch_id


def _tanks_ahead(facts: DayFacts, tanks: TanksToday) -> tuple[TankAhead, ...]:
    """Every larval tank that does not stand ready, and from when it could."""
    plans: dict[int, list[LarvalPlan]] = defaultdict(list)
    for plan in facts.larvae:
        plans[plan.holding.place.tank_id].append(plan)
    tonight = {way.label: ", ".join(way.steps) for way in tanks.answer.ready_if}
    return tuple(
        _tank_ahead(stop, plans[stop.tank_id], facts.tonight.night, tonight)
        for stop in facts.walk.larval
        if stop.state is not TankState.READY
    )


def _tank_ahead(
    stop: TankStanding, plans: Sequence[LarvalPlan], night: Night, tonight: dict[str, str]
) -> TankAhead:
    if stop.label in tonight:
        return TankAhead(stop.label, night, tonight[stop.label])
    if stop.state is TankState.BARRED:
        return TankAhead(stop.label, None, f"barred: {stop.reason}" if stop.reason else "barred")
    if stop.state in (TankState.DIRTY, TankState.CLEANING, TankState.APART):
        return TankAhead(stop.label, night.plus(1), stop.steps_to_ready)
    settled = [settled_by(plan) for plan in plans]
    known = [by for by in settled if by is not None]
    if not known or len(known) < len(settled):
        return TankAhead(stop.label, None, "holds fish that have nowhere to go yet")
    by = max(*known, night.plus(1))
    return TankAhead(stop.label, by, "once the larvae have settled and moved to grow-out")


def settled_by(plan: LarvalPlan) -> Night | None:
    """The night by which the last of a batch should have settled; None where they have."""
    if plan.plan is None or plan.plan.settlement is None:
        return None
    if plan.holding.hatched is None or (plan.split is not None and plan.split.swimming == 0):
        return None
    return plan.holding.hatched[-1].plus(ceil(plan.plan.settlement.last_dph))
