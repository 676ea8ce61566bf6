"""Small builders of a room for tests, sorted by room: each records through the services.

They take the records' session first and give back the name (fact id) of what they made.
"""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy.orm import Session

from hatchery_app.domain.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.services import fish, pair, readings, tank
from hatchery_app.services.recording import Posting

LONG_AGO = datetime(2026, 1, 2, 9, 0, tzinfo=UTC)

# --- broodstock -----------------------------------------------------------------------------


def make_fish(
    session: Session,
    name: str,
    *,
    species_key: str = "amphiprion_ocellaris",
    tank_id: int | None = None,
    at: datetime = LONG_AGO,
    **facts: Any,
) -> int:
    """One breeding fish that came into the room at `at`; more of what `enter_fish` takes."""
    return fish.enter_fish(
        session, posting=Posting(now=at), name=name, species_key=species_key, tank_id=tank_id,
        when=When.exactly(at), **facts,
    )  # fmt: skip


def make_pair(
    session: Session,
    female_name: str,
    male_name: str,
    *,
    tank_id: int | None = None,
    at: datetime = LONG_AGO,
    species_key: str = "amphiprion_ocellaris",
) -> int:
    """Two new fish, together in a tank from `at` on."""
    female_id, male_id = (
        make_fish(session, name, tank_id=tank_id, at=at, species_key=species_key)
        for name in (female_name, male_name)
    )
    return pair.enter_pair(
        session, posting=Posting(now=at), female_id=female_id, male_id=male_id,
        when=When.exactly(at),
    )  # fmt: skip


# --- tank -----------------------------------------------------------------------------------


def make_tank(
    session: Session,
    label: str,
    *,
    litres: float = 40,
    role: TankRole = TankRole.LARVAL,
    rack: str = "",
    system: str = "",
    state: TankState | None = None,
    at: datetime = LONG_AGO,
) -> int:
    """One tank that stood in the room from `at` on."""
    return tank.add_tanks(
        session, posting=Posting(now=at), labels=label, volume=f"{litres:g} L", role=role,
        rack=rack, system=system, state=state, when=When.exactly(at),
    )  # fmt: skip


def set_state(
    session: Session, tank_id: int, state: TankState, *, at: datetime, reason: str = ""
) -> int:
    """How a tank stands from `at` on."""
    return tank.set_state(
        session, posting=Posting(now=at), tank_id=tank_id, state=state, reason=reason,
        when=When.exactly(at),
    )  # fmt: skip


def set_set_point(session: Session, tank_id: int, temperature: str, *, at: datetime) -> int:
    """What a tank's heater is set to from `at` on."""
    return tank.set_set_point(
        session, posting=Posting(now=at), tank_id=tank_id, temperature=temperature,
        when=When.exactly(at),
    )  # fmt: skip


def read_temperature(session: Session, tank_id: int, temperature: str, *, at: datetime) -> int:
    """One temperature read then, as typed ("26.5", "79.7 F")."""
    return readings.record_temperature(
        session, posting=Posting(now=at), tank_id=tank_id, temperature=temperature,
        when=When.exactly(at),
    )  # fmt: skip
