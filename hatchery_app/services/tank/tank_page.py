"""One tank's page: how it stands, its water beside what lives there needs, and its history."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.species.species import Species, WaterRange
from hatchery_app.domain.tank.seawater import NH3_PER_NH3_N, UnIonised
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.tank.water_reading import Quantity, beside_range, un_ionised_beside
from hatchery_app.domain.when import When
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank, TankStateSeen
from hatchery_app.services.records.room import room_now
from hatchery_app.services.tank import readings, tank, treatment
from hatchery_app.services.tank.readings import Measured
from hatchery_app.services.tank.tank import TankFacts
from hatchery_app.services.tank.tank_lives import Stayed, who_stayed_where
from hatchery_app.services.tank.tank_walk import TankStanding, lives_of, standing_with
from hatchery_app.services.tank.treatment import TreatmentLine

SHOWN = timedelta(days=14)  # so far back the curve of temperatures goes
LONGEST_HISTORY = 30

# The ranges of a species file, by the quantity that is read.
RANGES_OF = {
    Quantity.TEMPERATURE: ("temperature", "temperature_usual", "temperature_target"),
    Quantity.SALINITY: ("salinity",),
    Quantity.PH: ("ph",),
    Quantity.TOTAL_AMMONIA: ("total_ammonia",),
    Quantity.NITRITE: ("nitrite",),
    Quantity.NITRATE: ("nitrate",),
}


@dataclass(frozen=True)
class Needed:
    """A range that a species needs at a life stage, and whether the water lies in it.

    `inside` is None where nothing fresh was read, or the figure is a target and no range.
    """

    species_name: str
    stage: str
    range: WaterRange
    inside: bool | None


@dataclass(frozen=True)
class WaterLine:
    """One quantity: what was read last (None: never), and what lives there needs."""

    quantity: Quantity
    measured: Measured | None
    needed: tuple[Needed, ...]


@dataclass(frozen=True)
class AmmoniaBeside:
    """The un-ionised part of the last total ammonia with its ±0.1 pH band, or what is missing."""

    total: Measured
    found: UnIonised | None
    missing: str
    needed: tuple[Needed, ...]


@dataclass(frozen=True)
class StateLine:
    """How the tank stood from then on, as somebody said."""

    fact_id: int
    state: TankState
    reason: str
    when: When


@dataclass(frozen=True)
class CalledBefore:
    """What was said of the tank before it was said anew."""

    label: str
    litres: float
    role: str
    until: When


@dataclass(frozen=True)
class TankPage:
    """Everything one tank's page shows."""

    facts: TankFacts
    volume_typed: str
    standing: TankStanding
    water: tuple[WaterLine, ...]
    ammonia: AmmoniaBeside | None
    lived_before: tuple[Stayed, ...]
    states: tuple[StateLine, ...]
    called_before: tuple[CalledBefore, ...]
    acts: tuple[readings.Act, ...]
    treatments: tuple[TreatmentLine, ...]


def tank_page(
    session: Session, *, tank_id: int, now: datetime, library: Mapping[str, Species] | None = None
) -> TankPage:
    """One tank. Raises NotKnown. A fixed number of statements.

    `library` names the species whose ranges stand beside the water; without it none do.
    """
    facts = tank.tank_facts(session, (tank_id,), now, since=now - SHOWN).get(tank_id)
    if facts is None:
        raise NotKnown(tank.NOT_HERE)
    stays = who_stayed_where(session, now)
    standing = next(
        one
        for one in standing_with(session, lives_of(stays, now), now)
        if one.tank_id == tank_id
    )
    measured = readings.last_measured(session, tank_id, now)
    needs = _needs(standing, library or {})
    said = _said_of(session, tank_id)
    return TankPage(
        facts=facts,
        volume_typed=said[-1].volume_typed,
        standing=standing,
        water=tuple(_line(quantity, measured, needs, now) for quantity in Quantity),
        ammonia=_ammonia(measured, needs, now),
        lived_before=_before(stays, tank_id, now),
        states=_states(session, tank_id),
        called_before=_called_before(said),
        acts=readings.acts_of(session, tank_id),
        treatments=treatment.with_doses(
            session, room_now(session), treatment.treatments_of(session, (tank_id,))[tank_id]
        ),
    )


# --- What lives there needs -----------------------------------------------------------------


def _needs(
    standing: TankStanding, library: Mapping[str, Species]
) -> tuple[tuple[Species, str], ...]:
    """The species and life stages that live in the tank, each once."""
    return tuple(
        (library[key], stage) for key, stage in standing.living.needs if key in library
    )


def _line(
    quantity: Quantity,
    measured: Mapping[Quantity, Measured],
    needs: tuple[tuple[Species, str], ...],
    now: datetime,
) -> WaterLine:
    last = measured.get(quantity)
    value = last.value if last is not None and last.is_fresh(now) else None
    return WaterLine(quantity, last, _needed(RANGES_OF.get(quantity, ()), value, needs))


def _needed(
    names: tuple[str, ...], value: float | None, needs: tuple[tuple[Species, str], ...]
) -> tuple[Needed, ...]:
    found = []
    for species, stage in needs:
        for name in names:
            span = species.water.of(stage, name)
            if span is not None:
                inside = None
                if value is not None and span.low != span.high:
                    inside = beside_range(value, span) == "within"
                found.append(Needed(species.common_name, stage, span, inside))
    return tuple(found)


def _ammonia(
    measured: Mapping[Quantity, Measured],
    needs: tuple[tuple[Species, str], ...],
    now: datetime,
) -> AmmoniaBeside | None:
    total = measured.get(Quantity.TOTAL_AMMONIA)
    if total is None:
        return None
    beside = {
        quantity: one.value
        for quantity, one in measured.items()
        if abs(one.at - total.at) <= readings.SAME_WATER
    }
    found, missing = un_ionised_beside(
        total.value,
        beside.get(Quantity.PH),
        beside.get(Quantity.TEMPERATURE),
        beside.get(Quantity.SALINITY),
    )
    worst = found.high_mg_l / NH3_PER_NH3_N if found is not None and total.is_fresh(now) else None
    needed = _needed(("ammonia", "ammonia_alarm"), worst, needs)
    return AmmoniaBeside(total, found, missing, needed)


# --- What was before ------------------------------------------------------------------------


def _before(stays: tuple[Stayed, ...], tank_id: int, now: datetime) -> tuple[Stayed, ...]:
    gone = [one for one in stays if one.tank_id == tank_id and not one.lasts(now)]
    gone.sort(key=lambda one: one.until or now, reverse=True)
    return tuple(gone[:LONGEST_HISTORY])


def _states(session: Session, tank_id: int) -> tuple[StateLine, ...]:
    rows = session.scalars(
        select(TankStateSeen)
        .where(known(), TankStateSeen.tank_id == tank_id)
        .order_by(TankStateSeen.happened_latest.desc(), TankStateSeen.seq.desc())
        .limit(LONGEST_HISTORY)
    )
    return tuple(StateLine(row.fact, row.state, row.reason, row.when) for row in rows)


def _said_of(session: Session, tank_id: int) -> list[Tank]:
    """Everything ever said of what the tank is, oldest first; the last is so now."""
    return list(session.scalars(select(Tank).where(Tank.fact_id == tank_id).order_by(Tank.seq)))


def _called_before(said: list[Tank]) -> tuple[CalledBefore, ...]:
    """What it was called, held and was for, where that changed. Its place on the walk is none."""
    return tuple(
        CalledBefore(old.label, old.volume_l, old.role, new.when)
        for old, new in pairwise(said)
        if (old.label, old.volume_l, old.role) != (new.label, new.volume_l, new.role)
    )
