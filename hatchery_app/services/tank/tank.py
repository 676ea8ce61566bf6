"""Tanks: entering them, changing what they are called and hold, and how they stand.

A tank is a fact of its own; its label, volume and place are what is said of it, and can change.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.thermal_time import Reading
from hatchery_app.domain.errors import Asked, NotKnown, RuleBroken
from hatchery_app.domain.tank.lamps import Lamps
from hatchery_app.domain.tank.tank import (
    TankRole,
    TankState,
    ask_of_capitals,
    labels_in,
    rows_of_tanks,
)
from hatchery_app.domain.typed_amounts import (
    Amount,
    is_range,
    parse_between,
    parse_temperature,
    parse_volume,
)
from hatchery_app.domain.units import CELSIUS, FAHRENHEIT, IMPERIAL_GALLON, LITRE, US_GALLON
from hatchery_app.domain.when import Lights, When
from hatchery_app.models.entry import known
from hatchery_app.models.room import RoomFacts
from hatchery_app.models.tank import Reading as ReadingRow
from hatchery_app.models.tank import Readings, SetPoint, Tank, TankStateSeen
from hatchery_app.services.recording import Book, said_anew, use_case
from hatchery_app.services.records import room

NOT_HERE = "There is no such tank in this room."
TEMPERATURE = "temperature_c"
GALLONS = {"us": US_GALLON, "imperial": IMPERIAL_GALLON}


@use_case
def add_tanks(
    book: Book,
    *,
    labels: str,
    volume: str = "",
    role: TankRole = TankRole.LARVAL,
    system: str = "",
    rack: str = "",
    state: TankState | None = None,
    set_point: str = "",
    when: When,
) -> int:
    """Enter one tank or rows of them ("L1–L6 40 L, G1–G4 200 L"), at the end of the walk.

    The volume stands behind the labels or in `volume`. Returns the first tank. Raises RuleBroken
    for a label that stands in the room already, Asked for which gallon, for a label that looks
    like several, and for one that differs from another in capitals only.
    """
    rows = rows_of_tanks(labels, book.answers)
    amounts = [
        (label, amount)
        for named, behind in rows
        for amount in (read_volume(book, behind or volume),)
        for label in named
    ]
    _refuse_taken(book, tuple(label for label, _ in amounts))
    last = book.session.scalar(select(func.max(Tank.walk_order)).where(known())) or 0
    first_id = 0
    for place, (label, amount) in enumerate(amounts, start=last + 1):
        tank = book.enter(
            Tank(
                label=label, volume_l=float(amount.canonical), volume_typed=amount.typed,
                role=role, system=system.strip(), rack=rack.strip(), walk_order=place,
            ),
            when=when,
        )  # fmt: skip
        first_id = first_id or tank.fact
        if state is not None:
            book.enter(TankStateSeen(tank_id=tank.fact, state=state), when=when)
        if set_point.strip():
            _enter_set_point(book, tank.fact, set_point, when)
    return first_id


@use_case
def change_tank(
    book: Book,
    *,
    tank_id: int,
    label: str,
    volume: str,
    role: TankRole,
    system: str = "",
    rack: str = "",
    when: When,
) -> int:
    """Say anew what a tank is called, holds and is for; what was said before stays readable."""
    old = book.find(Tank, tank_id, NOT_HERE)
    if not label.strip():
        raise RuleBroken("The tank needs a label.", field="label")
    if label.strip() != old.label:
        _refuse_taken(book, (label.strip(),), field="label", but=old.label)
    amount = read_volume(book, volume)
    changed = Tank(
        label=label.strip(), volume_l=float(amount.canonical), volume_typed=amount.typed,
        role=role, system=system.strip(), rack=rack.strip(), walk_order=old.walk_order,
    )  # fmt: skip
    return book.correct(old, changed, when=when).fact


@use_case
def set_walk(book: Book, *, order: str) -> int:
    """Put the tanks in the order of the walk: their labels, one after the other.

    Tanks left out follow behind in the order they had. Returns the first tank of the walk.
    """
    tanks = list(book.session.scalars(select(Tank).where(known()).order_by(Tank.walk_order)))
    by_label = {tank.label: tank for tank in tanks}
    named = labels_in(order, "order")
    unknown = [label for label in named if label not in by_label]
    if unknown:
        raise RuleBroken(f"No tank is labelled {', '.join(unknown)}.", field="order")
    walk = [by_label[label] for label in named]
    walk += [tank for tank in tanks if tank not in walk]
    for place, old in enumerate(walk, start=1):
        if old.walk_order != place:
            book.correct(old, said_anew(old, walk_order=place), when=old.when, note=old.note)
    return walk[0].fact


@use_case
def set_state(
    book: Book, *, tank_id: int, state: TankState, when: When, reason: str = ""
) -> int:
    """Say how a tank stands from then on. Raises RuleBroken for a bar without its reason."""
    book.find(Tank, tank_id, NOT_HERE)
    if state is TankState.BARRED and not reason.strip():
        raise RuleBroken("Say why the tank is barred; whoever works here next needs it.",
                         field="reason")  # fmt: skip
    seen = TankStateSeen(tank_id=tank_id, state=state, reason=reason.strip())
    return book.enter(seen, when=when).fact


@use_case
def set_set_point(book: Book, *, tank_id: int, temperature: str, when: When) -> int:
    """What the tank's heater is set to from then on, as typed in °C or °F."""
    book.find(Tank, tank_id, NOT_HERE)
    return _enter_set_point(book, tank_id, temperature, when)


def _enter_set_point(book: Book, tank_id: int, typed: str, when: When) -> int:
    amount = read_temperature(book, typed, field="set_point")
    row = SetPoint(tank_id=tank_id, temperature_c=float(amount.canonical), typed=amount.typed)
    return book.enter(row, when=when).fact


def read_temperature(book: Book, typed: str, field: str = "temperature") -> Amount:
    """A temperature as typed in this room, with the answers given so far.

    Of a range ("80–82 F") the middle; the range stays in what was typed.
    """
    fahrenheit = room.room_now(book.session).temperature_unit == "F"
    unit = FAHRENHEIT if fahrenheit else CELSIUS
    if not is_range(typed):
        return parse_temperature(typed, unit, field, answers=book.answers, question=field)
    try:
        low, high = parse_between(typed, lambda one: parse_temperature(one, unit, field), field)
    except Asked as unusual:  # which end is meant cannot be answered in one tap
        raise RuleBroken(
            f"“{typed.strip()}” is unusual for a tank. Write the unit, as in 80–82 F, or one "
            "figure.",
            field=field,
        ) from unusual
    return Amount((low.figure + high.figure) / 2, low.unit, typed.strip())


def read_volume(book: Book, typed: str, field: str = "volume") -> Amount:
    """A volume as typed in this room. Which gallon is asked once, and the room remembers it."""
    here = room.room_now(book.session)
    gallon = GALLONS.get(here.gallon)
    unit = gallon if here.volume_unit == "gal" and gallon is not None else LITRE
    if not typed.strip():
        raise RuleBroken("Say how much water the tank holds.", field=field)
    amount = parse_volume(typed, gallon, unit, field, answers=book.answers)
    if gallon is None and book.answers.get("gallon") in GALLONS:
        _remember_gallon(book, book.answers["gallon"])
    return amount


def _remember_gallon(book: Book, gallon: str) -> None:
    here = room.room_now(book.session)
    facts = RoomFacts(
        name=here.name, zone_name=here.room_time.zone_name,
        temperature_unit=here.temperature_unit, volume_unit=here.volume_unit, gallon=gallon,
        length_unit=here.length_unit,
    )  # fmt: skip
    book.enter(facts, when=When.exactly(book.now))


def _refuse_taken(
    book: Book, labels: tuple[str, ...], field: str = "labels", but: str = ""
) -> None:
    standing = set(book.session.scalars(select(Tank.label).where(known()))) - {but}
    taken = sorted(standing.intersection(labels))
    if taken:
        raise RuleBroken(
            f"{', '.join(taken)} stands in the room already: two tanks of one label get mixed up."
            " Rename the old one first.",
            field=field,
        )
    ask_of_capitals(labels, sorted(standing), book.answers, field)


@dataclass(frozen=True)
class TankFacts:
    """A tank as forecasts and other rooms need it.

    `state_said` is the last state anybody said (who lives there may say otherwise:
    `tank_walk.tanks_standing`). `set_points` are (moment, °C), oldest first; `lights` the hours
    over this tank at the moment asked for, `lamps` those of any moment. `readings` are water
    temperatures in order of time.
    """

    tank_id: int
    label: str
    litres: float
    role: TankRole
    system: str
    rack: str
    walk_order: int
    state_said: TankState | None
    set_points: tuple[tuple[datetime, float], ...]
    lights: Lights
    lamps: Lamps
    readings: tuple[Reading, ...]

    @property
    def set_point_c(self) -> float | None:
        """What the heater is set to as last said."""
        return self.set_points[-1][1] if self.set_points else None

    def set_point_at(self, at: datetime) -> float | None:
        """What the heater was set to then; before the first entry, that one."""
        begun = [c for since, c in self.set_points if since <= at]
        return begun[-1] if begun else next((c for _, c in self.set_points), None)

    def lights_at(self, at: datetime) -> Lights:
        """The lamp hours over this tank then."""
        return self.lamps.over(at, tank_id=self.tank_id, rack=self.rack)


def tank_facts(
    session: Session,
    tank_ids: Iterable[int],
    now: datetime,
    *,
    since: datetime | None = None,
) -> dict[int, TankFacts]:
    """Facts of some tanks by id, readings from `since` on (None: no readings at all).

    Six statements, however many tanks.
    """
    ids = sorted(set(tank_ids))
    lamps = room.room_now(session).lamps
    rows = session.scalars(select(Tank).where(known(), Tank.fact_id.in_(ids)))
    states = _latest_states(session, ids, now)
    set_points = set_points_of(session, ids, now)
    readings = {} if since is None else temperatures_of(session, ids, since, now)
    return {
        row.fact: TankFacts(
            row.fact, row.label, row.volume_l, row.role, row.system, row.rack, row.walk_order,
            states.get(row.fact), set_points.get(row.fact, ()),
            lamps.over(now, tank_id=row.fact, rack=row.rack), lamps,
            readings.get(row.fact, ()),
        )
        for row in rows
    }  # fmt: skip


def one_tank(session: Session, tank_id: int, now: datetime) -> TankFacts:
    """One tank without its readings. Raises NotKnown."""
    found = tank_facts(session, (tank_id,), now)
    if tank_id not in found:
        raise NotKnown(NOT_HERE)
    return found[tank_id]


@dataclass(frozen=True)
class TankChoice:
    """A tank to be picked in a form, in walking order."""

    tank_id: int
    label: str
    litres: float
    role: TankRole


def tank_choices(session: Session, *, role: TankRole | None = None) -> tuple[TankChoice, ...]:
    """Every tank in walking order, or those of one role. One statement."""
    query = select(Tank).where(known()).order_by(Tank.walk_order, Tank.label)
    if role is not None:
        query = query.where(Tank.role == role)
    return tuple(
        TankChoice(row.fact, row.label, row.volume_l, row.role) for row in session.scalars(query)
    )


def _latest_states(
    session: Session, ids: list[int], now: datetime
) -> dict[int, TankState]:
    rows = session.scalars(
        select(TankStateSeen)
        .where(known(), TankStateSeen.tank_id.in_(ids), TankStateSeen.happened_latest <= now)
        .order_by(TankStateSeen.happened_latest, TankStateSeen.seq)
    )
    return {row.tank_id: row.state for row in rows}


def set_points_of(
    session: Session, ids: list[int], now: datetime
) -> dict[int, tuple[tuple[datetime, float], ...]]:
    """Set points of some tanks, oldest first, as (moment, °C). One statement."""
    rows = session.execute(
        select(SetPoint.tank_id, SetPoint.happened_latest, SetPoint.temperature_c)
        .where(known(), SetPoint.tank_id.in_(ids), SetPoint.happened_latest <= now)
        .order_by(SetPoint.happened_latest, SetPoint.seq)
    )
    found: dict[int, list[tuple[datetime, float]]] = {}
    for tank_id, at, temperature_c in rows:
        found.setdefault(tank_id, []).append((at, temperature_c))
    return {tank_id: tuple(listed) for tank_id, listed in found.items()}


def temperatures_of(
    session: Session,
    ids: list[int],
    since: datetime,
    until: datetime,
) -> dict[int, tuple[Reading, ...]]:
    """Water temperatures of some tanks in order of time. One statement."""
    rows = session.execute(
        select(ReadingRow.tank_id, ReadingRow.at, ReadingRow.value)
        .join(Readings, Readings.seq == ReadingRow.readings_seq)
        .where(
            known(), ReadingRow.tank_id.in_(ids), ReadingRow.quantity == TEMPERATURE,
            ReadingRow.at >= since, ReadingRow.at <= until,
        )
        .order_by(ReadingRow.at, ReadingRow.id)
    )  # fmt: skip
    found: dict[int, list[Reading]] = {}
    for tank_id, at, value in rows:
        found.setdefault(tank_id, []).append(Reading(at, value))
    return {tank_id: tuple(listed) for tank_id, listed in found.items()}
