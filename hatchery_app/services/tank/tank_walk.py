"""The walk: every tank in walking order, how it stands and what lives there.

Every page that names a tank asks `what_lives_where`, in a fixed number of statements.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.tank.residents import NOBODY, Kind, Living, Resident
from hatchery_app.domain.tank.tank import STEPS_TO_READY, TankRole, TankState, state_now
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank, TankStateSeen
from hatchery_app.services.tank.tank_lives import Stayed, who_stayed_where

IN_ORDER = {kind: place for place, kind in enumerate(Kind)}


def what_lives_where(session: Session, now: datetime) -> dict[int, Living]:
    """What lives in each tank now, by tank; where nothing ever lived is left out.

    A fixed number of statements, however many tanks, fish and batches there are.
    """
    return lives_of(who_stayed_where(session, now), now)


def lives_of(stays: tuple[Stayed, ...], now: datetime) -> dict[int, Living]:
    """The same, from stays that were loaded already."""
    there: dict[int, list[Resident]] = defaultdict(list)
    left: dict[int, datetime] = {}
    for stayed in stays:
        if stayed.lasts(now):
            there[stayed.tank_id].append(stayed.resident)
        elif stayed.until is not None:
            left[stayed.tank_id] = max(left.get(stayed.tank_id, stayed.until), stayed.until)
    return {
        tank_id: Living(
            tuple(sorted(there[tank_id], key=lambda one: (IN_ORDER[one.kind], one.since))),
            left.get(tank_id),
        )
        for tank_id in set(there) | set(left)
    }


@dataclass(frozen=True)
class StateSaid:
    """What somebody last said of how a tank stands."""

    state: TankState
    reason: str
    since: datetime


@dataclass(frozen=True)
class TankStanding:
    """A tank on the walk: what it is, how it stands now, what lives there.

    `reason` is that of a bar, or whatever was said with the state that still holds.
    """

    tank_id: int
    label: str
    litres: float
    role: TankRole
    rack: str
    system: str
    state: TankState
    reason: str
    since: datetime | None
    living: Living

    @property
    def state_said(self) -> str:
        """How it stands. Of a tank new to the book nobody said that it is dirty, nor that not."""
        unsaid = self.since is None and self.living.last_left_at is None
        return "nothing in it yet" if unsaid and self.state is TankState.DIRTY else str(self.state)

    @property
    def steps_to_ready(self) -> str:
        """What still stands between it and larvae, "" where nothing does."""
        return STEPS_TO_READY.get(self.state, "")


def tanks_standing(session: Session, now: datetime) -> tuple[TankStanding, ...]:
    """Every tank in walking order with how it stands and what lives there."""
    return standing_with(session, what_lives_where(session, now), now)


def standing_with(
    session: Session, living: dict[int, Living], now: datetime
) -> tuple[TankStanding, ...]:
    """The same, where what lives where is known already. Two statements."""
    said = _states_said(session, now)
    rows = session.scalars(select(Tank).where(known()).order_by(Tank.walk_order, Tank.label))
    return tuple(_standing(row, said.get(row.fact), living.get(row.fact, NOBODY)) for row in rows)


def _standing(row: Tank, said: StateSaid | None, living: Living) -> TankStanding:
    state = state_now(
        said.state if said else None,
        said.since if said else None,
        lived_in=bool(living.residents),
        last_left_at=living.last_left_at,
    )
    holds = said is not None and said.state is state
    return TankStanding(
        row.fact, row.label, row.volume_l, row.role, row.rack, row.system, state,
        said.reason if said and holds else "", said.since if said and holds else None, living,
    )  # fmt: skip


def _states_said(session: Session, now: datetime) -> dict[int, StateSaid]:
    rows = session.execute(
        select(
            TankStateSeen.tank_id, TankStateSeen.state, TankStateSeen.reason,
            TankStateSeen.happened_latest,
        )
        .where(known(), TankStateSeen.happened_latest <= now)
        .order_by(TankStateSeen.happened_latest, TankStateSeen.seq)
    )  # fmt: skip
    return {row.tank_id: StateSaid(row.state, row.reason, row.happened_latest) for row in rows}


@dataclass(frozen=True)
class Walk:
    """The whole walk, and the larval tanks that are or could be ready for a hatch."""

    stops: tuple[TankStanding, ...]

    @property
    def larval(self) -> tuple[TankStanding, ...]:
        """The tanks larvae go into; one taken apart is none until it stands again."""
        return tuple(
            stop for stop in self.stops
            if stop.role is TankRole.LARVAL and stop.state is not TankState.APART
        )  # fmt: skip

    @property
    def ready(self) -> tuple[TankStanding, ...]:
        """Larval tanks filled and matched, with nothing in them."""
        return tuple(stop for stop in self.larval if stop.state is TankState.READY)

    @property
    def could_be(self) -> tuple[TankStanding, ...]:
        """Larval tanks that stand empty and need work first."""
        return tuple(
            stop for stop in self.larval if stop.state in (TankState.DIRTY, TankState.CLEANING)
        )

    @property
    def barred(self) -> tuple[TankStanding, ...]:
        """Tanks that must not be used, whatever they are for."""
        return tuple(stop for stop in self.stops if stop.state is TankState.BARRED)


def walk(session: Session, now: datetime) -> Walk:
    """The walk through the room now."""
    return Walk(tanks_standing(session, now))
