"""Treatments in words: those that go on with each time they are given, and those that are over."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from hatchery_app.domain.tank.treatment import Treatment
from hatchery_app.domain.today.schedule import Outcome
from hatchery_app.domain.when import RoomTime, say_date, say_when
from hatchery_app.services.tank.tank import TankFacts
from hatchery_app.services.tank.treatment import Dose, TreatmentLine
from hatchery_app.web.addresses import address_of


@dataclass(frozen=True)
class TreatedLine:
    """A treatment that goes on, in one line, with what is barred, and the tank's page."""

    words: str
    meanwhile: str
    url: str


@dataclass(frozen=True)
class TreatmentPart:
    """A treatment that goes on, on its tank's page."""

    words: str
    why: str
    meanwhile: str
    doses: tuple[tuple[str, str], ...]
    over_url: str
    entry_url: str


@dataclass(frozen=True)
class TreatmentFormPage:
    """A form about a treatment."""

    heading: str
    form: Any
    tank_id: int
    label: str
    part: str
    shares_water: bool


def form_of(form: Any, here: TankFacts, heading: str, part: str) -> TreatmentFormPage:
    """The form of a treatment of this tank."""
    return TreatmentFormPage(
        f"{here.label} · {heading}", form, here.tank_id, here.label, part, bool(here.system)
    )


def parts(
    lines: Iterable[TreatmentLine], room_time: RoomTime, now: datetime
) -> tuple[TreatmentPart, ...]:
    """Those that go on now."""
    return tuple(
        _part(line, room_time, now) for line in lines if line.treatment.goes_on(now)
    )


def _part(line: TreatmentLine, room_time: RoomTime, now: datetime) -> TreatmentPart:
    one = line.treatment
    today = room_time.local(now).date()
    return TreatmentPart(
        _words(one, room_time),
        one.reason,
        _meanwhile(one),
        tuple(_dose(dose, today, room_time) for dose in line.doses) if one.doses > 1 else (),
        address_of("tank.treatment_over", treatment_id=one.treatment_id),
        address_of("records.entry", fact_id=one.treatment_id),
    )


def _words(one: Treatment, room_time: RoomTime) -> str:
    where = f", all tanks of {one.system}" if one.system else ""
    return f"{one.said()}{where}, since {say_when(one.began, room_time)}"


def _meanwhile(one: Treatment) -> str:
    return f"Meanwhile no: {one.barred}" if one.barred else ""


def _dose(dose: Dose, today: Any, room_time: RoomTime) -> tuple[str, str]:
    """ "2nd time, Sat 21 Nov morning" and what came of it."""
    word = f"{dose.number}. {say_date(dose.turn.day)}, {dose.turn.round.label.lower()}"
    if dose.number == 1:
        return word, "given"
    if dose.answer is None:
        return word, "to come" if dose.turn.day >= today else "not answered"
    answered = f"{room_time.local(dose.answer.at):%H:%M}"
    return word, {
        Outcome.DONE: f"given, answered {answered}",
        Outcome.DIFFERENTLY: dose.answer.really,
        Outcome.SKIPPED: f"skipped: {dose.answer.reason}",
        Outcome.PUT_OFF: "put off",
    }[dose.answer.outcome]


def came(one: Treatment, room_time: RoomTime) -> tuple[str, str, str]:
    """When, what and why, for what was written down of a tank."""
    until = "goes on" if one.ended is None else f"over {say_when(one.ended, room_time)}"
    if one.ended == one.began:
        until = "given once"
    why = "; ".join(part for part in (until, one.reason, _meanwhile(one).lower()) if part)
    where = f", all tanks of {one.system}" if one.system else ""
    return say_when(one.began, room_time), f"Treated: {one.said()}{where}", why


def going_on(
    treatments: Iterable[Treatment], room_time: RoomTime, now: datetime
) -> tuple[TreatedLine, ...]:
    """Those that go on where a batch lives now, for the batch's page."""
    return tuple(
        TreatedLine(
            _words(one, room_time), _meanwhile(one), address_of("tank.show", tank_id=one.tank_id)
        )
        for one in treatments
        if one.goes_on(now)
    )


def over_said(treatments: Iterable[Treatment], room_time: RoomTime, now: datetime) -> str:
    """Those that are over, in one line: "copper, 5 mL, Thu 5 to Sat 7 Nov"."""
    said = []
    for one in treatments:
        if one.goes_on(now) or one.ended is None:
            continue
        first, last = (say_date(room_time.local(at).date())
                       for at in (one.began.latest, one.ended.latest))  # fmt: skip
        said.append(f"{one.said()}, {first if first == last else f'{first} to {last}'}")
    return "; ".join(said)
