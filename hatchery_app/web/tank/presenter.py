"""The tanks in words: the walk's stops, one tank's water and history, its forms."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from flask import url_for
from markupsafe import Markup
from werkzeug.routing import BuildError

from hatchery_app.domain.since import LONGEST_YEARS
from hatchery_app.domain.tank.residents import Kind, Resident
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.tank.water_reading import CALLED, KEPT_IN
from hatchery_app.domain.when import MONTHS, RoomTime, When, say_date, say_when
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.tank.readings import Act
from hatchery_app.services.tank.tank import TankFacts
from hatchery_app.services.tank.tank_lives import Stayed
from hatchery_app.services.tank.tank_page import TankPage
from hatchery_app.services.tank.tank_walk import TankStanding, Walk
from hatchery_app.web.drawing import curve, walk
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.tank import treatment_presenter
from hatchery_app.web.tank.treatment_presenter import TreatmentPart
from hatchery_app.web.tank.water_presenter import (
    WaterRow,
    chart_of,
    figure_words,
    needs_of,
    water_rows,
)

A_YEAR = timedelta(days=365)
SHAPES = {
    TankState.READY: walk.Lives.READY,
    TankState.DIRTY: walk.Lives.DIRTY,
    TankState.CLEANING: walk.Lives.DIRTY,
    TankState.BARRED: walk.Lives.BARRED,
    TankState.APART: walk.Lives.EMPTY,
    TankState.IN_USE: walk.Lives.EMPTY,
}
LIVES = (
    (Kind.LARVAE, walk.Lives.LARVAE), (Kind.EGGS, walk.Lives.EGGS),
    (Kind.SETTLED, walk.Lives.SETTLED), (Kind.PAIR, walk.Lives.PAIR),
    (Kind.FISH, walk.Lives.PAIR), (Kind.GROUP, walk.Lives.PAIR),
)  # fmt: skip
# Where each kind of life has its own page, and how that page is asked for.
PAGES = {
    Kind.PAIR: ("broodstock.pair", "pair_id"),
    Kind.FISH: ("broodstock.fish", "fish_id"),
    Kind.GROUP: ("broodstock.group", "group_id"),
    Kind.EGGS: ("clutch.show", "clutch_id"),
    Kind.LARVAE: ("larval_tank.show", "holding_id"),
    Kind.SETTLED: ("cohort.show", "holding_id"),
}
NEXT_STATE = {
    TankState.DIRTY: TankState.CLEANING,
    TankState.CLEANING: TankState.READY,
    TankState.READY: TankState.DIRTY,
    TankState.APART: TankState.CLEANING,
}


@dataclass(frozen=True)
class StopLine:
    """One tank on the walk, in one line."""

    label: str
    url: str
    litres: str
    words: str
    is_ready: bool


@dataclass(frozen=True)
class ListPage:
    """The walk, with the tanks that are or could be ready first."""

    heading: str
    ready: str
    barred: tuple[str, ...]
    drawing: Markup
    numbers: Numbers | None
    stops: tuple[StopLine, ...]


@dataclass(frozen=True)
class AddPage:
    """The form that enters tanks, in this room's units."""

    heading: str
    form: Any
    temperature_unit: str


@dataclass(frozen=True)
class FormPage:
    """A form about the tanks as a whole."""

    heading: str
    form: Any


@dataclass(frozen=True)
class TankFormPage:
    """A form about one tank; `rows` are a logger's lines that cannot be stored."""

    heading: str
    id: int
    label: str
    form: Any
    part: str
    temperature_unit: str
    rows: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class HereLine:
    """What lives here, and its page ("" where it has none)."""

    words: str
    url: str
    since: str


@dataclass(frozen=True)
class StateTap:
    """A state the tank can be said to be in with one tap."""

    state: str
    label: str
    is_main: bool
    url: str


@dataclass(frozen=True)
class CameLine:
    """One thing that was written down of the tank."""

    when: str
    what: str
    note: str
    url: str


@dataclass(frozen=True)
class ShowPage:
    """One tank."""

    heading: str
    id: int
    beside: str
    state: str
    state_note: str
    bar_url: str
    here: tuple[HereLine, ...]
    treatments: tuple[TreatmentPart, ...]
    taps: tuple[StateTap, ...]
    drawing: Markup
    numbers: Numbers | None
    water: tuple[WaterRow, ...]
    water_note: str
    facts: tuple[tuple[str, str], ...]
    before: tuple[HereLine, ...]
    came: tuple[CameLine, ...]


# --- The walk -----------------------------------------------------------------------------


def listed(answer: Walk) -> ListPage:
    """The walk's words and its drawing."""
    stops = tuple(_stop_line(stop) for stop in answer.stops)
    drawn = [
        walk.Stop(line.label, stop.litres, line.words, shape_of(stop), line.url)
        for stop, line in zip(answer.stops, stops, strict=True)
    ]
    return ListPage(
        "Tanks and water",
        _ready_words(answer),
        tuple(
            f"{stop.label} is barred" + (f": {stop.reason}" if stop.reason else "")
            for stop in answer.barred
        ),
        walk.walk(drawn) if drawn else Markup(""),
        walk.numbers(drawn) if drawn else None,
        stops,
    )


def shape_of(stop: TankStanding) -> walk.Lives:
    """The shape of a tank's stop: by what lives there, else by how it stands."""
    if stop.state is TankState.BARRED:
        return walk.Lives.BARRED
    for kind, shape in LIVES:
        if kind in stop.living.kinds:
            return shape
    if stop.role is TankRole.CULTURE and stop.state is TankState.IN_USE:
        return walk.Lives.LIVE_FOOD
    return SHAPES[stop.state]


def stop_words(stop: TankStanding) -> str:
    """ "larvae 4 dph", "empty and dirty", "barred, Rusk and Tansy"."""
    lives = stop.living.words
    if stop.state is TankState.IN_USE:
        return lives or ("live food" if stop.role is TankRole.CULTURE else "in use")
    if stop.state is TankState.READY:
        return "ready, filled and matched"
    return f"{stop.state}, {lives}" if lives else stop.state_said


def _stop_line(stop: TankStanding) -> StopLine:
    return StopLine(
        stop.label,
        url_for("tank.show", tank_id=stop.tank_id),
        litres(stop.litres),
        stop_words(stop),
        stop.state is TankState.READY,
    )


def _ready_words(answer: Walk) -> str:
    """ "2 ready · 1 could be, needs scrub, rinse, fill, match", of the larval tanks."""
    if not answer.larval:
        return "No tank is kept for larvae yet."
    ready = f"{len(answer.ready)} ready" if answer.ready else "none ready"
    if answer.ready:
        ready += ": " + ", ".join(stop.label for stop in answer.ready)
    by_steps: dict[str, list[str]] = {}
    for stop in answer.could_be:
        by_steps.setdefault(stop.steps_to_ready, []).append(stop.label)
    could = [
        f"{len(labels)} could be, needs {steps}: {', '.join(labels)}"
        for steps, labels in by_steps.items()
    ]
    return " · ".join([ready, *could])


def litres(volume_l: float) -> str:
    """ "40 L", "37.9 L": whole litres above 100."""
    return f"{volume_l:.0f} L" if volume_l >= 100 else f"{round(volume_l, 1):g} L"


# --- Forms --------------------------------------------------------------------------------


def adding(form: Any, room: RoomNow) -> AddPage:
    """The form that enters tanks."""
    return AddPage("Tanks come into the room", form, f"°{room.temperature_unit}")


def ordering(form: Any) -> FormPage:
    """The form of the walk's order."""
    return FormPage("The order of the walk", form)


def form_of(
    form: Any, here: TankFacts, heading: str, part: str, room: RoomNow
) -> TankFormPage:
    """A form about one tank."""
    rows = getattr(form.asked, "rows", ())
    return TankFormPage(
        f"{here.label} · {heading}", here.tank_id, here.label, form, part,
        f"°{room.temperature_unit}",
        tuple((str(row.line), row.reason, row.text[:80]) for row in rows[:100]),
    )  # fmt: skip


def fill_change(form: Any, here: TankFacts) -> None:
    """Put what is so now in the fields."""
    form.label.data = here.label
    form.volume.data = f"{round(here.litres, 2):g} L"
    form.role.data = here.role.value
    form.rack.data, form.system.data = here.rack, here.system


# --- One tank -----------------------------------------------------------------------------


def shown(answer: TankPage, room: RoomNow, now: datetime) -> ShowPage:
    """One tank's page."""
    facts, standing = answer.facts, answer.standing
    chart = chart_of(answer, room.room_time)
    return ShowPage(
        heading=f"Tank {facts.label}",
        id=facts.tank_id,
        beside=" · ".join(
            word
            for word in (
                litres(facts.litres), facts.role.value,
                f"rack {facts.rack}" if facts.rack else "",
                f"system {facts.system}" if facts.system else "",
            )
            if word
        ),
        state="" if _is_lived_in(standing) else standing.state_said,
        state_note=_state_note(standing, room.room_time),
        here=tuple(_here(one, room.room_time, now) for one in standing.living.residents),
        treatments=treatment_presenter.parts(answer.treatments, room.room_time, now),
        taps=_taps(standing),
        bar_url=""
        if standing.state is TankState.BARRED
        else url_for("tank.state", tank_id=facts.tank_id, to=TankState.BARRED.value),
        drawing=curve.curve(chart) if chart.points else Markup(""),
        numbers=curve.numbers(chart) if chart.points else None,
        water=water_rows(answer, room, now),
        water_note=needs_of(answer),
        facts=_facts(answer, room),
        before=tuple(_before(one, room.room_time, now) for one in answer.lived_before),
        came=_came(answer, room),
    )  # fmt: skip


def _state_note(standing: TankStanding, room_time: RoomTime) -> str:
    said = [standing.reason] if standing.reason else []
    if standing.since is not None:
        said.append(f"since {say_when(When.exactly(standing.since), room_time)}")
    if standing.steps_to_ready and not standing.living.residents:
        said.append(f"needs {standing.steps_to_ready}")
    return " · ".join(said)


def _is_lived_in(standing: TankStanding) -> bool:
    """Whether its line is what lives there, and "in use" would say nothing more."""
    return standing.state is TankState.IN_USE and bool(standing.living.residents)


def _here(one: Resident, room_time: RoomTime, now: datetime) -> HereLine:
    since, today = (room_time.local(at).date() for at in (one.since, now))
    # Longer ago than a year it was said about so: its day would be made up.
    day = say_date(since)
    if today.year - since.year >= LONGEST_YEARS:
        return HereLine(_here_words(one), resident_url(one), "here since nobody knows when")
    if today - since > A_YEAR:
        day = f"{MONTHS[since.month - 1]} {since.year}"
    return HereLine(_here_words(one), resident_url(one), f"here since {day}")


def _here_words(one: Resident) -> str:
    named = one.kind in (Kind.EGGS, Kind.LARVAE, Kind.SETTLED)
    return f"{one.words}, {one.name}" if named else one.words


def resident_url(one: Resident) -> str:
    """The page of what lives in a tank, "" while its room has none."""
    endpoint, key = PAGES[one.kind]
    values: dict[str, Any] = {key: one.fact_id}
    try:
        return url_for(endpoint, **values)
    except BuildError:
        return ""


def _before(stayed: Stayed, room_time: RoomTime, now: datetime) -> HereLine:
    """Who lived here, with the year where it is not this one."""
    one, this_year = stayed.resident, room_time.local(now).year

    def said(at: datetime) -> str:
        day = room_time.local(at).date()
        return say_date(day, year=day.year != this_year)

    first, last = said(one.since), said(stayed.until) if stayed.until else "now"
    word = one.name if one.kind in (Kind.PAIR, Kind.FISH, Kind.GROUP) else f"{one.kind}, {one.name}"
    return HereLine(word, resident_url(one), f"{first} to {last}")


def _taps(standing: TankStanding) -> tuple[StateTap, ...]:
    """The states that can follow with one tap. Where something lives a bar can only be lifted.

    A bar wants its reason, so it is no tap but a form of its own.
    """
    here = standing.state
    if standing.living.residents:
        offered = [TankState.IN_USE] if here is TankState.BARRED else []
    else:
        none = (here, TankState.IN_USE, TankState.BARRED)
        offered = [state for state in TankState if state not in none]
        if standing.role is TankRole.CULTURE and here is not TankState.IN_USE:
            offered = [TankState.IN_USE, *offered]
    first = NEXT_STATE.get(here)
    ordered = sorted(offered, key=lambda state: state is not first)
    return tuple(_tap(state, here, state is first, standing.tank_id) for state in ordered)


def _tap(state: TankState, here: TankState, is_main: bool, tank_id: int) -> StateTap:
    lifted = state is TankState.IN_USE and here is TankState.BARRED
    label = "lift the bar" if lifted else str(state)
    return StateTap(state.value, label, is_main, url_for("tank.state", tank_id=tank_id))


# --- Facts and history --------------------------------------------------------------------


def _facts(answer: TankPage, room: RoomNow) -> tuple[tuple[str, str], ...]:
    facts = answer.facts
    lamp = f"{facts.lights.on:%H:%M} to {facts.lights.off:%H:%M}"
    heater = "" if facts.set_point_c is None else f"{facts.set_point_c:.1f} °C"
    typed = answer.volume_typed
    water = litres(facts.litres)
    if typed and typed.replace(" ", "") != water.replace(" ", ""):
        water = f"{water}, typed {typed}"
    before = "; ".join(
        f"{old.label}, {litres(old.litres)}, {old.role} until {say_when(old.until, room.room_time)}"
        for old in answer.called_before
    )
    return (("Water", water), ("Heater set to", heater), ("Lamp", lamp), ("Before", before))


def _came(answer: TankPage, room: RoomNow) -> tuple[CameLine, ...]:
    """States, readings, heater and lamp as they were written down, newest first."""
    lines = [
        (state.when.latest, CameLine(
            say_when(state.when, room.room_time), str(state.state), state.reason,
            _entry_url(state.fact_id)))
        for state in answer.states
    ]  # fmt: skip
    lines += [(act.when.latest, _act_line(act, room.room_time)) for act in answer.acts]
    for each in answer.treatments:
        when, what, why = treatment_presenter.came(each.treatment, room.room_time)
        url = _entry_url(each.treatment.treatment_id)
        lines.append((each.treatment.began.latest, CameLine(when, what, why, url)))
    lines += [
        (since, CameLine(_moment(since, room), f"Heater set to {temperature_c:.1f} °C", "", ""))
        for since, temperature_c in answer.facts.set_points
    ]
    lines += [
        (hours.since, CameLine(
            _moment(hours.since, room),
            f"Lamp {hours.lights.on:%H:%M} to {hours.lights.off:%H:%M}",
            "" if hours.tank_id else f"rack {hours.rack}", ""))
        for hours in answer.facts.lamps.hours
        if hours.tank_id == answer.facts.tank_id
        or (hours.tank_id is None and hours.rack and hours.rack == answer.facts.rack)
    ]  # fmt: skip
    lines.sort(key=lambda pair: pair[0], reverse=True)
    return tuple(line for _, line in lines)


def _moment(at: datetime, room: RoomNow) -> str:
    return say_when(When.exactly(at), room.room_time)


def _act_line(act: Act, room_time: RoomTime) -> CameLine:
    name = CALLED[act.quantity]
    if act.value is None:
        first, last = (say_date(room_time.local(at).date())
                       for at in (act.when.earliest, act.when.latest))  # fmt: skip
        what = f"{name}: {act.how_many} readings"
        return CameLine(f"{first} to {last}", what, act.note, _entry_url(act.fact_id))
    what = f"{name} {figure_words(act.quantity, act.value)} {KEPT_IN[act.quantity]}".rstrip()
    return CameLine(say_when(act.when, room_time), what, act.note, _entry_url(act.fact_id))


def _entry_url(fact_id: int) -> str:
    try:
        return url_for("records.entry", fact_id=fact_id)
    except BuildError:
        return ""
