"""The tanks that larvae and settled fish can be put into, with what lives in each now."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.models.clutch import Hatch
from hatchery_app.models.entry import known
from hatchery_app.services.recording import LARGEST_WHOLE_NUMBER
from hatchery_app.services.records.room import room_now
from hatchery_app.services.stock_book.holding_facts import load_stock
from hatchery_app.services.tank.tank_walk import TankStanding, tanks_standing


@dataclass(frozen=True)
class TankOffered:
    """A tank as it stands; `has_siblings`: larvae of the clutch that is placed swim in it."""

    standing: TankStanding
    has_siblings: bool

    @property
    def said(self) -> str:
        """ "L2 · 40 L · with its siblings, larvae 2 dph", "L3 · 40 L · filled and matched"."""
        tank = self.standing
        lives = tank.living.words if tank.state is TankState.IN_USE else tank.state_said
        beside = "with its siblings, " if self.has_siblings else ""
        return f"{tank.label} · {tank.litres:g} L · {beside}{lives}"


def tanks_for_fish(
    session: Session, *, first: TankRole, hatch_id: int = 0, now: datetime
) -> tuple[TankOffered, ...]:
    """Every tank that can take fish: that of siblings, then those kept for it, the soonest first.

    A vessel of live food and a tank taken apart hold no fish. Each group is in walking order.
    """
    siblings = _tanks_of_siblings(session, hatch_id)
    offered = [
        TankOffered(one, one.tank_id in siblings)
        for one in tanks_standing(session, now)
        if one.role is not TankRole.CULTURE and one.state is not TankState.APART
    ]
    return tuple(sorted(offered, key=lambda one: _rank(one, first)))


SOONEST = (
    TankState.READY, TankState.CLEANING, TankState.DIRTY, TankState.IN_USE, TankState.BARRED,
)  # fmt: skip
"""How near a tank is to taking fish that have no siblings in it."""


def _rank(one: TankOffered, first: TankRole) -> tuple[bool, bool, int]:
    tank = one.standing
    return (not one.has_siblings, tank.role is not first, SOONEST.index(tank.state))


def _tanks_of_siblings(session: Session, hatch_id: int) -> set[int]:
    """Where larvae of this hatch's clutch are now, of this night or another."""
    if not 0 < hatch_id <= LARGEST_WHOLE_NUMBER:
        return set()
    clutch_id = session.scalar(select(Hatch.clutch_id).where(known(), Hatch.fact_id == hatch_id))
    if clutch_id is None:
        return set()
    stock = load_stock(session, room_now(session), clutch_ids=(clutch_id,))
    return {
        held.place.tank_id
        for held in stock.holdings.values()
        if held.stage is Stage.LARVAE and stock.emptied_at(held.id) is None
    }
