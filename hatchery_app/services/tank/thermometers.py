"""The thermometers of the room, read on one walk and written down together."""

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.tank.thermometer import Thermometer
from hatchery_app.domain.tank.water_reading import Quantity, WaterReading
from hatchery_app.domain.when import When
from hatchery_app.models.tank import Tank
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.tank import tank
from hatchery_app.services.tank.readings import enter_reading
from hatchery_app.services.tank.tank_walk import tanks_standing

LAST_DAYS = 3  # an older reading says nothing of today's water
FIELD = "tank-"
WITHOUT_WATER = (TankState.DIRTY, TankState.CLEANING, TankState.APART)


def thermometers(
    session: Session, now: datetime, read: Collection[int] = ()
) -> tuple[Thermometer, ...]:
    """Every tank with water in it, in walking order, with its last reading and its setting.

    One that was `read` is among them, emptied since or not.
    """
    standing = tanks_standing(session, now)
    wet = [one for one in standing if one.state not in WITHOUT_WATER or one.tank_id in read]
    ids = [stop.tank_id for stop in wet]
    read = tank.temperatures_of(session, ids, now - timedelta(days=LAST_DAYS), now)
    settings = tank.set_points_of(session, ids, now)
    return tuple(
        Thermometer(
            stop.tank_id, stop.label, stop.living.words or str(stop.state),
            read[stop.tank_id][-1] if stop.tank_id in read else None,
            settings[stop.tank_id][-1][1] if stop.tank_id in settings else None,
        )
        for stop in wet
    )  # fmt: skip


def field_of(tank_id: int) -> str:
    """The field a tank's thermometer is typed into; refusals and questions stand beside it."""
    return f"{FIELD}{tank_id}"


@use_case
def record_thermometers(book: Book, *, read: Mapping[int, str], when: When) -> int:
    """What the thermometers of some tanks read, as typed, by tank. All or none.

    Asks about a likely slip (265, 79.7 in °C) tank by tank. Returns how many were written down.
    """
    typed = {tank_id: said for tank_id, said in read.items() if said.strip()}
    if not typed:
        raise RuleBroken("Nothing was filled in: read at least one thermometer.")
    for tank_id, said in typed.items():
        label = book.find(Tank, tank_id, tank.NOT_HERE).label
        enter_reading(book, tank_id, _temperature(book, tank_id, label, said), when)
    return len(typed)


def _temperature(book: Book, tank_id: int, label: str, said: str) -> WaterReading:
    try:
        amount = tank.read_temperature(book, said, field_of(tank_id))
    except Asked as asked:
        # Among thirty thermometers a question must say which one it is about.
        raise Asked(
            f"{label}: {asked.sentence}", asked.question, asked.answers, asked.field
        ) from asked
    return WaterReading(Quantity.TEMPERATURE, float(amount.canonical), amount.typed)
