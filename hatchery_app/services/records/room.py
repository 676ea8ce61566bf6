"""The room as a whole: setting it up, and what every page needs to know of it."""

from dataclasses import dataclass
from datetime import datetime, time

from sqlalchemy import and_, select
from sqlalchemy.orm import Session, aliased

from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.tank.lamps import LampHours, Lamps
from hatchery_app.domain.when import Lights, RoomTime, When
from hatchery_app.models.entry import Withdrawal, known
from hatchery_app.models.room import LightHours, RoomFacts
from hatchery_app.models.tank import Tank
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.account import enter_owner
from hatchery_app.services.remembering import Remembered, remember


@dataclass(frozen=True)
class RoomNow:
    """What is so in the room now. `lights` are the room's own; racks and tanks may differ."""

    name: str
    room_time: RoomTime
    lamps: Lamps
    temperature_unit: str
    volume_unit: str
    gallon: str
    length_unit: str

    def lights(self, at: datetime) -> Lights:
        """The room's own lamp hours at a moment."""
        return self.lamps.over(at)


# A use case asks for the room in every function that speaks of a night or a day: it is asked of
# the records once a transaction.
ROOM = remember("room", until=(RoomFacts, LightHours, Withdrawal))
remembered: Remembered[RoomNow | None] = Remembered(most=4)


def find_room(session: Session) -> RoomNow | None:
    """The room, None before it was set up. Two statements, once a transaction; one where nothing
    at all was written since it was last asked for."""
    if ROOM not in session.info:
        found = remembered.answer(session, (), lambda: _find_room(session))
        if found is None:
            return None
        session.info[ROOM] = found
    room: RoomNow = session.info[ROOM]
    return room


def _find_room(session: Session) -> RoomNow | None:
    facts = session.scalars(
        select(RoomFacts)
        .where(known())
        .order_by(RoomFacts.happened_latest.desc(), RoomFacts.seq.desc())
        .limit(1)
    ).first()
    if facts is None:
        return None
    return RoomNow(
        name=facts.name,
        room_time=facts.room_time,
        lamps=_lamps(session),
        temperature_unit=facts.temperature_unit,
        volume_unit=facts.volume_unit,
        gallon=facts.gallon,
        length_unit=facts.length_unit,
    )


def room_now(session: Session) -> RoomNow:
    """The room. Raises NotKnown before it was set up."""
    room = find_room(session)
    if room is None:
        raise NotKnown("The room is not set up yet.")
    return room


def _lamps(session: Session) -> Lamps:
    rows = session.scalars(select(LightHours).where(known()))
    return Lamps(
        tuple(LampHours(row.happened_latest, row.lights, row.tank_id, row.rack) for row in rows)
    )


@use_case
def set_up_room(
    book: Book,
    *,
    name: str,
    zone_name: str,
    lights_on: time,
    lights_off: time,
    temperature_unit: str = "C",
    volume_unit: str = "L",
    gallon: str = "",
    length_unit: str = "mm",
    owner: tuple[str, str] | None = None,
) -> int:
    """Write down what the room is. Raises RuleBroken beside its field.

    `owner` is a name and a password's hash: the account is made with the room or not at all, as
    a room half made would let the next who asks be its owner.
    """
    if not name.strip():
        raise RuleBroken("The room needs a name.", field="name")
    if temperature_unit not in ("C", "F"):
        raise RuleBroken("Temperatures are in °C or °F.", field="temperature_unit")
    RoomTime(zone_name)
    _check_lamp(lights_on, lights_off)
    if owner is not None:
        if find_room(book.session) is not None:
            raise RuleBroken("This room is set up already; sign in instead.")
        enter_owner(book.session, name=owner[0], password_hash=owner[1], now=book.now)
    now = When.exactly(book.now)
    room = book.enter(
        RoomFacts(
            name=name.strip(), zone_name=zone_name, temperature_unit=temperature_unit,
            volume_unit=volume_unit, gallon=gallon, length_unit=length_unit,
        ),
        when=now,
    )  # fmt: skip
    book.enter(LightHours(on_at=lights_on, off_at=lights_off), when=now)
    return room.fact


@use_case
def change_room(
    book: Book,
    *,
    name: str,
    zone_name: str,
    temperature_unit: str,
    volume_unit: str,
    gallon: str,
    when: When,
) -> int:
    """Say from when on the room is called, clocked and measured otherwise. Lengths stay as said."""
    if not name.strip():
        raise RuleBroken("The room needs a name.", field="name")
    if temperature_unit not in ("C", "F"):
        raise RuleBroken("Temperatures are in °C or °F.", field="temperature_unit")
    RoomTime(zone_name)
    facts = RoomFacts(
        name=name.strip(), zone_name=zone_name, temperature_unit=temperature_unit,
        volume_unit=volume_unit, gallon=gallon, length_unit=room_now(book.session).length_unit,
    )  # fmt: skip
    return book.enter(facts, when=when).fact


@dataclass(frozen=True)
class LampsSaid:
    """Lamp hours somebody said: whose (of the room, a rack, a tank), from when on, when lit."""

    fact_id: int
    since: When
    lights: Lights
    rack: str
    tank_label: str


def lamps_said(session: Session) -> tuple[LampsSaid, ...]:
    """All lamp hours that stand, the newest first. One statement."""
    over = aliased(Tank, flat=True)
    rows = session.execute(
        select(LightHours, over.label)
        .outerjoin(over, and_(over.fact_id == LightHours.tank_id, known(of=over)))
        .where(known(of=LightHours))
        .order_by(LightHours.happened_latest.desc(), LightHours.seq.desc())
    )
    return tuple(
        LampsSaid(row.fact, row.when, row.lights, row.rack, label or "") for row, label in rows
    )


@use_case
def set_lights(
    book: Book,
    *,
    lights_on: time,
    lights_off: time,
    when: When,
    rack: str = "",
    tank_id: int | None = None,
) -> int:
    """From when on these lamps are lit: of a tank, of a rack, or of the room."""
    _check_lamp(lights_on, lights_off)
    hours = LightHours(on_at=lights_on, off_at=lights_off, rack=rack.strip(), tank_id=tank_id)
    return book.enter(hours, when=when).fact


def _check_lamp(lights_on: time, lights_off: time) -> None:
    if lights_on == lights_off:
        raise RuleBroken(
            "Lights on and off at the same time leave no night, and eggs need dark to hatch.",
            field="lights_off",
        )
    Lights(on=lights_on, off=lights_off)
