"""Treatments of tanks: written down, over, and read for the tank, its batches and Today."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session, aliased

from hatchery_app.domain.errors import Asked, NotKnown, RuleBroken
from hatchery_app.domain.tank import treatment
from hatchery_app.domain.today.schedule import Done, TaskName, Turn, turn_at
from hatchery_app.domain.when import When, say_when
from hatchery_app.models import treatment as tables
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.stock_book.holding_facts import Place
from hatchery_app.services.today.task_answer import answers_to

ENDED = aliased(tables.TreatmentEnded, flat=True)
NOT_HERE = "That treatment does not stand in this room's records."
NO_TANK = "There is no such tank in this room."
TWO_AT_ONCE = "two_treatments"
SOME_TIME = When.exactly(datetime(2000, 1, 1, tzinfo=UTC))  # where no time is looked at
BOTH, FIRST_OVER = "both", "over"


@use_case
def record_treatment(
    book: Book,
    *,
    tank_id: int,
    what: str,
    when: When,
    amount: str = "",
    reason: str = "",
    barred: str = "",
    whole_system: bool = False,
    every_days: int | None = None,
    repeats: int | None = None,
    over: When | None = None,
) -> int:
    """What was given to a tank, in the keeper's own words; `over` where it was over already.

    Asks ("two_treatments") where another one goes on in the same water. Returns its fact.
    """
    tank = book.find(Tank, tank_id, NO_TANK)
    row = tables.Treatment(
        tank_id=tank_id, system=tank.system if whole_system else "", what=what.strip(),
        amount=amount.strip(), reason=reason.strip(), barred=barred.strip(),
        every_days=every_days, repeats=repeats,
    )  # fmt: skip
    _value(row, when, over)
    if over is not None and repeats is not None:
        raise RuleBroken("What is over does not come again: leave the repeats out.",
                         field="every_days")  # fmt: skip
    _ask_of_others(book, tank, row, when)
    made = book.enter(row, when=when)
    if over is not None:
        book.enter(tables.TreatmentEnded(treatment_id=made.fact), when=over)
    return made.fact


@use_case
def end_treatment(book: Book, *, treatment_id: int, when: When, how: str = "") -> int:
    """It is over: nothing comes again, nothing is barred. Returns the treatment."""
    row = book.find(tables.Treatment, treatment_id, NOT_HERE)
    standing = select(tables.TreatmentEnded).where(
        known(), tables.TreatmentEnded.treatment_id == treatment_id
    )
    if book.session.scalars(standing).first() is not None:
        raise RuleBroken("It was said to be over already; correct that entry.", field="at_on")
    if when.latest < row.happened_earliest:
        raise RuleBroken("It cannot be over before it began.", field="at_on")
    ended = tables.TreatmentEnded(treatment_id=treatment_id, how=how.strip())
    book.enter(ended, when=when)
    return treatment_id


def _ask_of_others(book: Book, tank: Tank, row: tables.Treatment, when: When) -> None:
    """Another one in the same water is asked about: two at once can kill."""
    reached = [tank.fact]
    if row.system:
        same = select(Tank.fact_id).where(known(), Tank.system == row.system)
        reached = [one for one in book.session.scalars(same) if one is not None]
    others = {
        one.treatment_id: one
        for found in treatments_of(book.session, reached).values()
        for one in found
        if one.goes_on(when.latest)
    }
    answer = book.answers.get(TWO_AT_ONCE)
    if not others or answer == BOTH:
        return
    if answer == FIRST_OVER:
        for one in others.values():
            _end_by(book, one, max(one.began, when, key=lambda said: said.latest))
        return
    clock = room_now(book.session).room_time
    listed = "; ".join(
        f"{one.said()}, since {say_when(one.began, clock)}" for one in others.values()
    )
    raise Asked(
        f"In this water goes on: {listed}. Two at once can kill. Is the first one over?",
        TWO_AT_ONCE,
        ((FIRST_OVER, "Yes, it is over"), (BOTH, "No, both: label or vet say they may")),
        field="what",
    )


def _end_by(book: Book, one: treatment.Treatment, when: When) -> None:
    """It was over by then; where it was said to be over later, that is said anew: it ends once."""
    if not one.ended_id:
        book.enter(tables.TreatmentEnded(treatment_id=one.treatment_id), when=when)
        return
    later = book.find(tables.TreatmentEnded, one.ended_id)
    again = tables.TreatmentEnded(treatment_id=one.treatment_id, how=later.how)
    book.correct(later, again, when=when, note=later.note)


# --- Read ---------------------------------------------------------------------------------


def treatments_of(
    session: Session, tank_ids: Iterable[int]
) -> dict[int, tuple[treatment.Treatment, ...]]:
    """Every treatment that reached each of these tanks, by the tank itself or by the water it
    shares, oldest first. Two statements."""
    ids = sorted(set(tank_ids))
    placed = session.execute(
        select(Tank.fact_id, Tank.system).where(known(), Tank.fact_id.in_(ids))
    )
    systems = {tank_id: system for tank_id, system in placed if tank_id is not None}
    found = _load(session, ids, sorted({one for one in systems.values() if one}))
    return {
        tank_id: tuple(one for one in found if one.reaches(tank_id, systems.get(tank_id, "")))
        for tank_id in ids
    }


def treatments_of_stays(
    session: Session, places: Sequence[Place], until: datetime
) -> tuple[treatment.Treatment, ...]:
    """Those that a batch was in the water of, over its stays up to then. Two statements."""
    by_tank = treatments_of(session, {place.tank_id for place in places})
    ends = [*(place.since.latest for place in places[1:]), until]
    found = {
        one.treatment_id: one
        for place, ends_at in zip(places, ends, strict=False)
        for one in by_tank[place.tank_id]
        if one.touches(place.since.earliest, ends_at)
    }
    return tuple(sorted(found.values(), key=lambda one: one.began.earliest))


def one_treatment(session: Session, treatment_id: int) -> treatment.Treatment:
    """One treatment. Raises NotKnown."""
    row = session.scalars(
        select(tables.Treatment).where(known(), tables.Treatment.fact_id == treatment_id)
    ).one_or_none()
    if row is None:
        raise NotKnown(NOT_HERE)
    return _value(row, row.when)


def treatments_going_on(session: Session, now: datetime) -> tuple[treatment.Treatment, ...]:
    """Those of the whole room that go on now, oldest first. One statement."""
    return treatment.going_on(_load(session, None, ()), now)


def _load(
    session: Session, tank_ids: list[int] | None, systems: Iterable[str]
) -> list[treatment.Treatment]:
    query = (
        select(tables.Treatment, ENDED)
        .outerjoin(ENDED, and_(ENDED.treatment_id == tables.Treatment.fact_id, known(of=ENDED)))
        .where(known())
        .order_by(tables.Treatment.happened_earliest, tables.Treatment.fact_id)
    )
    if tank_ids is None:
        query = query.where(ENDED.seq.is_(None))
    else:
        query = query.where(
            or_(tables.Treatment.tank_id.in_(tank_ids), tables.Treatment.system.in_(systems))
        )
    return [
        _value(row, row.when, ended.when if ended is not None else None,
               ended.fact if ended is not None else 0)
        for row, ended in session.execute(query)
    ]  # fmt: skip


def _value(
    row: tables.Treatment, when: When, ended: When | None = None, ended_id: int = 0
) -> treatment.Treatment:
    return treatment.Treatment(
        row.fact_id or 0, row.tank_id, row.what, when, row.amount or "", row.reason or "",
        row.barred or "", row.system or "", row.every_days, row.repeats, ended, ended_id,
    )  # fmt: skip


def check_sound(row: tables.Treatment) -> None:
    """Raises RuleBroken for what no treatment can be: repeats by half, or without a day between."""
    _value(row, SOME_TIME)


def first_turn(room: RoomNow, one: treatment.Treatment) -> Turn:
    """The round in which the first was given: its repeats come in the same one."""
    at = one.began.latest
    return turn_at(at, room.lights(at), room.room_time)


@dataclass(frozen=True)
class Dose:
    """One time it was to be given, and what was answered; the first has its entry."""

    number: int
    turn: Turn
    answer: Done | None


@dataclass(frozen=True)
class TreatmentLine:
    """One treatment with each time it was to be given."""

    treatment: treatment.Treatment
    doses: tuple[Dose, ...]


def with_doses(
    session: Session, room: RoomNow, treatments: Iterable[treatment.Treatment]
) -> tuple[TreatmentLine, ...]:
    """Treatments with the answers to their repeats. One statement."""
    listed = tuple(treatments)
    names = [str(one.name_of(dose)) for one in listed for dose in range(2, one.doses + 1)]
    answers = {each.done.name: each.done for each in answers_to(session, names)}
    return tuple(TreatmentLine(one, _doses(room, one, answers)) for one in listed)


def _doses(
    room: RoomNow, one: treatment.Treatment, answers: Mapping[TaskName, Done]
) -> tuple[Dose, ...]:
    first = first_turn(room, one)
    return tuple(
        Dose(dose, one.turn_of(dose, first), answers.get(one.name_of(dose)))
        for dose in range(1, one.doses + 1)
    )
