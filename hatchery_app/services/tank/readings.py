"""Readings of a tank's water: one by one, a whole water test, or a logger's column in one paste.

Readings stay with the tank. Fish and eggs that move take none of them along.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import insert, select, union_all
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.tank.logger_paste import LoggerColumn, read_logger
from hatchery_app.domain.tank.seawater import Instrument
from hatchery_app.domain.tank.water_reading import Quantity, WaterReading, read_salinity, read_test
from hatchery_app.domain.when import When
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Reading, Readings, Tank
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records import room
from hatchery_app.services.tank import tank

FRESH_FOR = timedelta(days=7)  # an older test is shown with its date, and not held to a range
SAME_WATER = timedelta(days=1)  # so long a reading stands for the water of another reading


@dataclass(frozen=True)
class Test:
    """One figure of a water test as typed, in the unit the test reads in."""

    __test__ = False  # the name is the trade's, and no test of ours

    quantity: Quantity
    figure: str
    unit: str = ""


@dataclass(frozen=True)
class SalinityTest:
    """A salinity as it stands on its instrument. Temperatures as typed in the room's unit.

    An empty `sample` is the tank's own last temperature; `marked_at` is what the hydrometer is
    made for, `offset` what the instrument reads too high on a known standard, in psu.
    """

    figure: str
    instrument: Instrument
    sample: str = ""
    marked_at: str = ""
    offset: str = ""


@use_case
def record_temperature(book: Book, *, tank_id: int, temperature: str, when: When) -> int:
    """One temperature, as typed in °C or °F. Asks about a likely slip: 265, 79.7 in °C."""
    book.find(Tank, tank_id, tank.NOT_HERE)
    amount = tank.read_temperature(book, temperature)
    reading = WaterReading(Quantity.TEMPERATURE, float(amount.canonical), amount.typed)
    return enter_reading(book, tank_id, reading, when)


@use_case
def record_water_test(
    book: Book,
    *,
    tank_id: int,
    tests: Iterable[Test] = (),
    salinity: SalinityTest | None = None,
    when: When,
) -> int:
    """What a water test said, one reading a quantity. Returns the first of them."""
    book.find(Tank, tank_id, tank.NOT_HERE)
    water = water_at(book.session, tank_id, when.middle)
    read: list[WaterReading] = []
    if salinity is not None:
        read.append(_salinity(book, salinity, water.get(Quantity.TEMPERATURE)))
        water[Quantity.SALINITY] = read[0].value
    read += [
        read_test(
            test.quantity, test.figure, test.unit, answers=book.answers,
            salinity_psu=water.get(Quantity.SALINITY),
            temperature_c=water.get(Quantity.TEMPERATURE),
        )
        for test in tests
    ]  # fmt: skip
    if not read:
        raise RuleBroken("Nothing was filled in: give at least one figure.")
    entered = [enter_reading(book, tank_id, reading, when) for reading in read]
    return entered[0]


def _salinity(book: Book, said: SalinityTest, tank_c: float | None) -> WaterReading:
    sample_c = tank_c
    if said.sample.strip():
        sample_c = float(tank.read_temperature(book, said.sample, "sample").canonical)
    marked_at_c = None
    if said.marked_at.strip():
        marked_at_c = float(tank.read_temperature(book, said.marked_at, "marked_at").canonical)
    return read_salinity(
        said.figure, said.instrument, sample_c=sample_c, marked_at_c=marked_at_c,
        offset_psu=_offset(said.offset), answers=book.answers,
    )  # fmt: skip


def _offset(typed: str) -> float:
    try:
        return float(typed.replace(",", ".").replace("−", "-")) if typed.strip() else 0.0
    except ValueError as reason:
        raise RuleBroken(f"“{typed}” is not a figure.", field="offset") from reason


@use_case
def paste_temperatures(book: Book, *, tank_id: int, text: str) -> int:
    """A logger's column (time, temperature) for one tank, stored as one act or not at all.

    What stands there already is left out and counted in the act's note. Raises RuleBroken where
    nothing new is in it, Asked for what the text leaves open.
    """
    book.find(Tank, tank_id, tank.NOT_HERE)
    here = room.room_now(book.session)
    column = read_logger(
        text, room_time=here.room_time, now=book.now,
        fahrenheit=here.temperature_unit == "F", answers=book.answers,
    )  # fmt: skip
    first, last = column.readings[0].at, column.readings[-1].at
    there = _instants_there(book.session, tank_id, first, last)
    fresh = [reading for reading in column.readings if reading.at not in there]
    skipped = len(column.readings) - len(fresh)
    if not fresh:
        raise RuleBroken(
            f"All {skipped} readings stand in this tank's records already; nothing was added.",
            field="text",
        )
    act = book.enter(
        Readings(tank_id=tank_id, quantity=tank.TEMPERATURE, how_many=len(fresh)),
        when=When.between(fresh[0].at, fresh[-1].at, said="logger"),
        note=_said_of(column, len(fresh), skipped),
    )
    book.session.execute(
        insert(Reading),
        [
            {
                "readings_seq": act.seq, "tank_id": tank_id, "quantity": tank.TEMPERATURE,
                "at": reading.at, "value": reading.temperature_c, "typed": reading.typed,
            }
            for reading in fresh
        ],
    )  # fmt: skip
    return act.fact


def _said_of(column: LoggerColumn, fresh: int, skipped: int) -> str:
    said = [f"{_so_many(fresh, 'reading')} pasted, read as {', '.join(column.read_as)}"]
    if skipped:
        said.append(f"{skipped} stood there already")
    if column.repeated:
        said.append(f"{_so_many(column.repeated, 'line')} written twice, stored once")
    if column.left_out:
        said.append(f"{_so_many(column.left_out, 'line')} left out")
    return "; ".join(said)


def _so_many(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _instants_there(
    session: Session, tank_id: int, first: datetime, last: datetime
) -> set[datetime]:
    rows = session.scalars(
        select(Reading.at)
        .join(Readings, Readings.seq == Reading.readings_seq)
        .where(
            known(), Reading.tank_id == tank_id, Reading.quantity == tank.TEMPERATURE,
            Reading.at >= first, Reading.at <= last,
        )
    )  # fmt: skip
    return set(rows)


def enter_reading(book: Book, tank_id: int, reading: WaterReading, when: When) -> int:
    """Write one reading into an open book, as an act of its own. Returns the act's fact."""
    act = book.enter(Readings(tank_id=tank_id, quantity=reading.quantity.value), when=when)
    book.session.add(
        Reading(
            readings_seq=act.seq, tank_id=tank_id, quantity=reading.quantity.value,
            at=when.middle, value=reading.value, typed=reading.typed,
        )
    )  # fmt: skip
    return act.fact


def water_at(session: Session, tank_id: int, at: datetime) -> dict[Quantity, float]:
    """Each quantity's reading nearest to a moment, no further than a day from it."""
    rows = session.execute(
        select(Reading.quantity, Reading.at, Reading.value)
        .join(Readings, Readings.seq == Reading.readings_seq)
        .where(
            known(), Reading.tank_id == tank_id, Reading.quantity.in_(list(Quantity)),
            Reading.at >= at - SAME_WATER, Reading.at <= at + SAME_WATER,
        )
    ).all()  # fmt: skip
    nearest_last = sorted(rows, key=lambda row: abs(row.at - at), reverse=True)
    return {Quantity(row.quantity): row.value for row in nearest_last}


@dataclass(frozen=True)
class Measured:
    """The last reading of one quantity."""

    quantity: Quantity
    value: float
    typed: str
    at: datetime

    def is_fresh(self, now: datetime) -> bool:
        """Whether it still speaks for the water."""
        return now - self.at <= FRESH_FOR


def last_measured(session: Session, tank_id: int, now: datetime) -> dict[Quantity, Measured]:
    """The last reading of each quantity by then. One statement.

    Each quantity is looked for from its newest reading on: a logger leaves hundreds of thousands
    behind, and they are not read through.
    """
    newest = [
        select(Reading.quantity, Reading.at, Reading.value, Reading.typed)
        .join(Readings, Readings.seq == Reading.readings_seq)
        .where(
            known(), Reading.tank_id == tank_id, Reading.quantity == quantity.value,
            Reading.at <= now,
        )
        .order_by(Reading.at.desc(), Reading.id.desc())
        .limit(1)
        .subquery()
        for quantity in Quantity
    ]  # fmt: skip
    rows = session.execute(union_all(*(select(one) for one in newest)))
    return {
        Quantity(row.quantity): Measured(Quantity(row.quantity), row.value, row.typed, row.at)
        for row in rows
    }


def act_in_words(session: Session, *, act_id: int) -> str:
    """What one act of writing readings down came to: the paste's own words, "" for a single one."""
    said = session.scalar(select(Readings.note).where(known(), Readings.fact_id == act_id))
    return said or ""


@dataclass(frozen=True)
class Act:
    """One act of writing readings down, as the tank's page lists it."""

    fact_id: int
    quantity: Quantity
    when: When
    how_many: int
    value: float | None
    typed: str
    note: str


def acts_of(session: Session, tank_id: int, *, most: int = 12) -> tuple[Act, ...]:
    """The last acts of a tank, newest first; a single reading with its value. Two statements."""
    acts = session.scalars(
        select(Readings)
        .where(known(), Readings.tank_id == tank_id)
        .order_by(Readings.happened_latest.desc(), Readings.seq.desc())
        .limit(most)
    ).all()
    single = [act.seq for act in acts if act.how_many == 1]
    values = {
        row.readings_seq: row
        for row in session.execute(
            select(Reading.readings_seq, Reading.value, Reading.typed).where(
                Reading.readings_seq.in_(single)
            )
        )
    }
    return tuple(
        Act(
            act.fact, Quantity(act.quantity), act.when, act.how_many,
            values[act.seq].value if act.seq in values else None,
            values[act.seq].typed if act.seq in values else "",
            act.note,
        )
        for act in acts
    )  # fmt: skip
