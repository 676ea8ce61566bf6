"""The pages of the tanks: the walk, one tank, and what is written down of it."""

from collections.abc import Callable

from flask import flash, g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import room
from hatchery_app.services.species import species
from hatchery_app.services.tank import readings, tank, tank_page, tank_walk
from hatchery_app.web import door
from hatchery_app.web.addresses import address_of
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.tank import presenter
from hatchery_app.web.tank.forms import (
    ROLES,
    AddForm,
    ChangeForm,
    LightsForm,
    LoggerForm,
    SetPointForm,
    StateForm,
    TemperatureForm,
    WalkForm,
    WaterTestForm,
)
from hatchery_app.web.when_fields import default_days, read_time

Answer = Response | str | tuple[str, int]


def show_list() -> str:
    """The walk through the room."""
    answer = tank_walk.walk(records, g.now)
    return render_template("tank/list.html", page=presenter.listed(answer))


def show(tank_id: int) -> str:
    """One tank."""
    library = species.library(door.settings().folder).species
    answer = tank_page.tank_page(records, tank_id=tank_id, now=g.now, library=library)
    return render_template("tank/show.html", page=presenter.shown(answer, g.room, g.now))


def add() -> Answer:
    """Enter one tank or a row of them."""
    form = AddForm()
    if request.method == "GET" and request.args.get("role") in ROLES:
        form.role.data = request.args["role"]
    return take(
        form,
        record=lambda posting: tank.add_tanks(
            records, posting=posting, labels=form.labels.data or "", volume=form.volume.data or "",
            role=TankRole(form.role.data), rack=form.rack.data or "",
            system=form.system.data or "", set_point=form.set_point.data or "",
            state=form.read_state(), when=When.exactly(g.now)),
        then=lambda _tank_id: _walk_of(TankRole(form.role.data)),
        show=lambda: render_template("tank/add_form.html", page=presenter.adding(form, g.room)),
    )  # fmt: skip


def _walk_of(role: TankRole) -> str:
    """Where what was entered is looked at next: culture vessels in live food."""
    food = address_of("live_food.list") if role is TankRole.CULTURE else ""
    return food or url_for("tank.list")


def walk() -> Answer:
    """Put the tanks in walking order."""
    form = WalkForm()
    if request.method == "GET":
        form.order.data = ", ".join(one.label for one in tank.tank_choices(records))
    return take(
        form,
        record=lambda posting: tank.set_walk(
            records, posting=posting, order=form.order.data or ""),
        then=lambda _tank_id: url_for("tank.list"),
        show=lambda: render_template("tank/walk_form.html", page=presenter.ordering(form)),
    )  # fmt: skip


def state(tank_id: int) -> Answer:
    """How the tank stands from now on, or from then on."""
    form = StateForm()
    if request.method == "GET":
        form.state.data = request.args.get("to", "")
    return _taken(form, tank_id, "How it stands", "state", lambda posting: tank.set_state(
        records, posting=posting, tank_id=tank_id, state=TankState(form.state.data),
        reason=form.reason.data or "", when=form.read_when()))  # fmt: skip


def temperature(tank_id: int) -> Answer:
    """One temperature."""
    form = TemperatureForm()
    return _taken(form, tank_id, "Temperature", "temperature",
                  lambda posting: readings.record_temperature(
        records, posting=posting, tank_id=tank_id, temperature=form.temperature.data or "",
        when=form.read_when()))  # fmt: skip


def water_test(tank_id: int) -> Answer:
    """What a water test said."""
    form = WaterTestForm()
    return _taken(form, tank_id, "Water test", "water_test",
                  lambda posting: readings.record_water_test(
        records, posting=posting, tank_id=tank_id, tests=form.read_tests(),
        salinity=form.read_salinity(), when=form.read_when()))  # fmt: skip


def logger(tank_id: int) -> Answer:
    """A logger's column, whole or not at all."""
    form = LoggerForm()
    _take_in_file(form)
    tank.one_tank(records, tank_id, g.now)
    return take(
        form,
        record=lambda posting: readings.paste_temperatures(
            records, posting=posting, tank_id=tank_id, text=form.text.data or ""),
        then=lambda act_id: _back_with_words(tank_id, act_id),
        show=lambda: _form_page(form, tank_id, "Readings of a logger", "logger"),
    )  # fmt: skip


def _back_with_words(tank_id: int, act_id: int) -> str:
    flash(readings.act_in_words(records, act_id=act_id) + ".")
    return url_for("tank.show", tank_id=tank_id)


def _take_in_file(form: LoggerForm) -> None:
    """Put a chosen file's text where a pasted one stands, so that it can be mended there."""
    sent = request.files.get(form.file.name)
    if sent is None or not sent.filename:
        return
    form.text.data = sent.read().decode("utf-8-sig", errors="replace")


def set_point(tank_id: int) -> Answer:
    """What the heater is set to."""
    form = SetPointForm()
    return _taken(form, tank_id, "Heater", "set_point", lambda posting: tank.set_set_point(
        records, posting=posting, tank_id=tank_id, temperature=form.set_point.data or "",
        when=form.read_when()))  # fmt: skip


def lights(tank_id: int) -> Answer:
    """When the lamp over the tank or its rack is lit."""
    form = LightsForm()
    here = tank.one_tank(records, tank_id, g.now)
    if here.rack:
        form.whose.choices = {"tank": f"{here.label} alone", "rack": f"all of rack {here.rack}"}
    if request.method == "GET":
        form.lights_on.data = f"{here.lights.on:%H:%M}"
        form.lights_off.data = f"{here.lights.off:%H:%M}"
    return _taken(form, tank_id, "Lamp", "lights",
                  lambda posting: _set_lights(form, here, posting))  # fmt: skip


def _set_lights(form: LightsForm, here: tank.TankFacts, posting: Posting) -> int:
    lights_on = read_time(form.lights_on.data, "lights_on")
    lights_off = read_time(form.lights_off.data, "lights_off")
    if lights_on is None or lights_off is None:
        raise RuleBroken("Say when the lights go on and off.", field="lights_on")
    of_rack = form.whose.data == "rack" and bool(here.rack)
    return room.set_lights(
        records, posting=posting, lights_on=lights_on, lights_off=lights_off,
        when=form.read_when(), rack=here.rack if of_rack else "",
        tank_id=None if of_rack else here.tank_id,
    )  # fmt: skip


def change(tank_id: int) -> Answer:
    """What the tank is called, holds and is for."""
    form = ChangeForm()
    if request.method == "GET":
        presenter.fill_change(form, tank.one_tank(records, tank_id, g.now))
    return _taken(form, tank_id, "Label, water, use", "change", lambda posting: tank.change_tank(
        records, posting=posting, tank_id=tank_id, label=form.label.data or "",
        volume=form.volume.data or "", role=TankRole(form.role.data),
        rack=form.rack.data or "", system=form.system.data or "",
        when=form.read_when()))  # fmt: skip


def _taken(
    form: EntryForm, tank_id: int, heading: str, part: str, record: Callable[[Posting], int]
) -> Answer:
    default_days(form, g.now)
    return take(
        form,
        record=record,
        then=lambda _fact: url_for("tank.show", tank_id=tank_id),
        show=lambda: _form_page(form, tank_id, heading, part),
    )


def _form_page(form: EntryForm, tank_id: int, heading: str, part: str) -> str:
    here = tank.one_tank(records, tank_id, g.now)
    page = presenter.form_of(form, here, heading, part, g.room)
    return render_template("tank/form.html", page=page)
