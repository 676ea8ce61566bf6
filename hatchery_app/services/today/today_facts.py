"""All that Today's work comes from, loaded in a fixed number of statements."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.rota import Rota
from hatchery_app.domain.how_many import Basis
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.tank.treatment import Treatment
from hatchery_app.domain.today.chores import Chore
from hatchery_app.domain.today.day_work import CohortDay
from hatchery_app.domain.today.schedule import Turn, turn_at
from hatchery_app.models.clutch import Clutch, EggsMoved, Hatch, Laying
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import PreySeen
from hatchery_app.models.stock_book import Moved
from hatchery_app.services.broodstock.feeding_rota import rota_now
from hatchery_app.services.cohort.cohort_day import cohort_day
from hatchery_app.services.larval_tank.larval_day import (
    LarvalPlan,
    concentrates,
    larval_plans,
    larval_stock,
)
from hatchery_app.services.live_food.live_food_facts import Cultures
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book.holding_facts import Stock
from hatchery_app.services.tank.tank_walk import Walk
from hatchery_app.services.tank.tank_walk import walk as the_walk
from hatchery_app.services.tank.treatment import treatments_going_on
from hatchery_app.services.today import tonight as night_service
from hatchery_app.services.today.chore import load_chores
from hatchery_app.services.today.tonight import Tonight

ASKED_FOR = timedelta(days=14)  # so long the morning asks how many of a hatch there were
ANSWER_SHOWN = timedelta(days=1)  # so long work that comes once stands there as done


@dataclass(frozen=True)
class HatchToTell:
    """A hatch whose number and tank nobody said yet, and the tank its eggs were in.

    `carried`: young that a parent released or bore, not larvae.
    """

    hatch_id: int
    clutch_id: int
    number: int
    tank_id: int | None
    at: datetime
    carried: bool = False


@dataclass(frozen=True)
class PreyLooked:
    """A look at a food in a tank, and whether the tank was topped up then."""

    tank_id: int
    food: str
    at: datetime
    topped_up: bool


@dataclass(frozen=True)
class DayFacts:
    """What the room's work of a day is worked out from."""

    room: RoomNow
    now: datetime
    turn: Turn
    tonight: Tonight
    walk: Walk
    larvae: tuple[LarvalPlan, ...]
    larval_stock: Stock
    cohorts: tuple[CohortDay, ...]
    chores: tuple[Chore, ...]
    treatments: tuple[Treatment, ...]
    rota: Rota | None
    to_tell: tuple[HatchToTell, ...]
    prey_looked: tuple[PreyLooked, ...]
    stock_per_ml: Mapping[str, float]

    @property
    def cultures(self) -> Cultures:
        """The culture vessels, as they stand now."""
        return self.tonight.cultures


def load_day(
    session: Session, library: Mapping[str, Species], *, room: RoomNow, now: datetime
) -> DayFacts:
    """The facts of the day it is now."""
    walk = the_walk(session, now)
    stock = larval_stock(session, room, now)
    return DayFacts(
        room=room,
        now=now,
        turn=turn_at(now, room.lights(now), room.room_time),
        tonight=night_service.tonight(session, library, room=room, now=now, walk=walk),
        walk=walk,
        larvae=larval_plans(session, room, now, stock=stock),
        larval_stock=stock,
        cohorts=cohort_day(session, room, now),
        chores=tuple(each.chore for each in load_chores(session, open_since=now - ANSWER_SHOWN)),
        treatments=treatments_going_on(session, now),
        rota=rota_now(session, room, now),
        to_tell=_hatches_to_tell(session, library, now),
        prey_looked=_prey_looked(session, now),
        stock_per_ml=concentrates(session, now),
    )


def _hatches_to_tell(
    session: Session, library: Mapping[str, Species], now: datetime
) -> tuple[HatchToTell, ...]:
    placed = select(Moved.hatch_id).where(known(), Moved.hatch_id.is_not(None))
    rows = session.scalars(
        select(Hatch)
        .where(
            known(), Hatch.number_basis == Basis.UNKNOWN.value,
            Hatch.happened_latest >= now - ASKED_FOR, Hatch.fact_id.not_in(placed),
        )
        .order_by(Hatch.happened_latest)
    ).all()  # fmt: skip
    where = session.scalars(
        select(EggsMoved)
        .where(known(), EggsMoved.clutch_id.in_([row.clutch_id for row in rows]))
        .order_by(EggsMoved.happened_latest, EggsMoved.seq)
    )
    tanks = {move.clutch_id: move.tank_id for move in where}
    clutches = session.scalars(
        select(Clutch).where(known(), Clutch.fact_id.in_([row.clutch_id for row in rows]))
    ).all()
    carried = _carried(session, library, clutches)
    numbers = {clutch.fact: clutch.number for clutch in clutches}
    return tuple(
        HatchToTell(
            row.fact, row.clutch_id, numbers.get(row.clutch_id, 0), tanks.get(row.clutch_id),
            row.happened_latest, row.clutch_id in carried,
        )
        for row in rows
    )  # fmt: skip


def _carried(
    session: Session, library: Mapping[str, Species], clutches: Sequence[Clutch]
) -> set[int]:
    """Those of the clutches that a parent carries. One statement."""
    keys = [key for key, species in library.items() if species.brood_mode.is_carried]
    laid = [clutch.laying_id for clutch in clutches]
    layings = session.scalars(
        select(Laying.fact_id).where(
            known(), Laying.fact_id.in_(laid), Laying.species_key.in_(keys)
        )
    ).all()
    return {clutch.fact for clutch in clutches if clutch.laying_id in layings}


def _prey_looked(session: Session, now: datetime) -> tuple[PreyLooked, ...]:
    rows = session.scalars(
        select(PreySeen)
        .where(known(), PreySeen.happened_latest >= now - timedelta(days=2))
        .order_by(PreySeen.happened_latest)
    )
    return tuple(
        PreyLooked(
            row.tank_id, row.food, row.happened_latest, row.topped_up_to_per_ml is not None
        )
        for row in rows
    )
