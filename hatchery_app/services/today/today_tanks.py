"""Is a tank ready for tonight, and what must move first: the walk against the clutches due."""

from dataclasses import dataclass
from datetime import datetime

from hatchery_app.domain.clutch.clutch import EggMove
from hatchery_app.domain.tank.residents import Kind
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.today.tanks_tonight import (
    Standing,
    TanksTonight,
    TankTonight,
    tanks_tonight,
)
from hatchery_app.domain.when import dark_window
from hatchery_app.services.tank.tank_walk import TankStanding
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.services.today.tonight import NightWatch

SHIPS_FROM_DPH = 60  # sale size in 2–4 months (common practice); unknown ages are shown too
FREE_OF_FISH = {
    TankState.READY: Standing.READY, TankState.BARRED: Standing.BARRED,
    TankState.DIRTY: Standing.DIRTY, TankState.CLEANING: Standing.DIRTY,
    TankState.APART: Standing.DIRTY,
}  # fmt: skip
EASIEST_FIRST = (Standing.READY, Standing.HOLDS_FISH, Standing.DIRTY, Standing.BARRED)


@dataclass(frozen=True)
class TanksToday:
    """Clutches due against tanks, and the clutches that could stay with their parents tonight."""

    answer: TanksTonight
    may_stay: tuple[NightWatch, ...]


def tanks_today(facts: DayFacts) -> TanksToday:
    """Tonight's tanks. Asks the records nothing."""
    due = [watch for watch in facts.tonight.watches if needs_a_tank(watch)]
    grow_out = [_standing(stop) for stop in facts.walk.stops if stop.role is TankRole.GROW_OUT]
    outlets = tuple(
        tank.label for tank in sorted(grow_out, key=lambda t: EASIEST_FIRST.index(t.standing))
    )
    settled = _settled(facts)
    larval = [
        _standing(stop, outlets=outlets, fish_ready=_only_settled(stop, settled))
        for stop in facts.walk.larval
    ]
    floating = [
        watch for watch in facts.tonight.others
        if watch.seen.hours is not None and watch.seen.hours.is_soon(facts.now)
    ]  # fmt: skip
    answer = tanks_tonight(
        len(due) + len(floating), larval, grow_out, _hours_left(facts, [*due, *floating])
    )
    with_parents = [w for w in due if w.seen.clutch.place.why in (EggMove.LAID, EggMove.GIVEN)]
    # The least likely of tonight's clutches loses least by one more night with its parents.
    least_likely = with_parents[::-1][: answer.short]
    return TanksToday(answer, tuple(least_likely))


def needs_a_tank(watch: NightWatch) -> bool:
    """Whether its young are larvae; where the species is not known they may be."""
    species = watch.seen.species
    return species is None or species.larval is not None


def _settled(facts: DayFacts) -> set[int]:
    """The batches of larvae of which the last look found none swimming."""
    return {
        plan.holding.id
        for plan in facts.larvae
        if plan.split is not None and plan.split.swimming == 0
    }


def _only_settled(stop: TankStanding, settled: set[int]) -> bool:
    """Whether all that lives there may move to grow-out."""
    return bool(stop.living.residents) and all(
        one.kind is Kind.SETTLED or one.fact_id in settled for one in stop.living.residents
    )


def _standing(
    stop: TankStanding, *, outlets: tuple[str, ...] = (), fish_ready: bool | None = None
) -> TankTonight:
    standing = FREE_OF_FISH.get(stop.state, Standing.HOLDS_FISH)
    ready = _may_ship(stop) if fish_ready is None else fish_ready
    holds = standing is Standing.HOLDS_FISH
    return TankTonight(stop.label, standing, holds and ready, outlets, stop.reason)


def _may_ship(stop: TankStanding) -> bool:
    return all(
        one.kind is Kind.SETTLED and (one.dph is None or one.dph >= SHIPS_FROM_DPH)
        for one in stop.living.residents
    )


def _hours_left(facts: DayFacts, due: list[NightWatch]) -> float:
    """Until the first clutch is watched, else until the room's lights go off."""
    nights = [watch.night.watch_from for watch in due if watch.night is not None]
    nights += [
        hours.first for w in due if (hours := w.seen.hours) is not None and hours.first is not None
    ]
    lights = facts.room.lights(facts.now)
    off, _on = dark_window(facts.tonight.night, lights, facts.room.room_time)
    return _hours_between(facts.now, min(nights, default=off))


def _hours_between(now: datetime, then: datetime) -> float:
    return max(0.0, (then - now).total_seconds() / 3600)
