"""The first page of a new room, signing in and out."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from flask import g, redirect, render_template, request, session, url_for
from werkzeug.security import check_password_hash, generate_password_hash
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import account, room
from hatchery_app.web import door
from hatchery_app.web.entry_form import take
from hatchery_app.web.records.forms import FirstPageForm, SignInForm
from hatchery_app.web.when_fields import read_time


@cache
def _nobody() -> str:
    """Checked where a name is not known, so that a wrong name takes as long as a wrong password."""
    return generate_password_hash("nobody has this password")


@dataclass(frozen=True)
class FormPage:
    """A heading and its form."""

    heading: str
    form: Any
    demo: bool = False


def first_page() -> Response | str | tuple[str, int]:
    """Set the owner's password and say what the room is; once."""
    if account.find_owner(records) is not None and g.room is not None:
        return redirect(url_for("today.show"))
    form = FirstPageForm()
    form.offer_zones(likely="Europe/Lisbon")
    page = FormPage("A new room", form)
    return take(
        form,
        record=lambda posting: _set_up(form, posting),
        then=lambda _room_id: url_for("records.moving_in"),
        show=lambda: render_template("records/first_form.html", page=page),
    )


def _set_up(form: FirstPageForm, posting: Posting) -> int:
    lights_on = read_time(form.lights_on.data, "lights_on")
    lights_off = read_time(form.lights_off.data, "lights_off")
    if lights_on is None or lights_off is None:
        raise RuleBroken("Say when the lights go on and off.", field="lights_on")
    if not form.name.data or not form.name.data.strip():
        raise RuleBroken("The room needs a name.", field="name")
    made = room.set_up_room(
        records,
        posting=posting,
        name=form.name.data,
        zone_name=form.zone_name.data,
        lights_on=lights_on,
        lights_off=lights_off,
        temperature_unit=form.temperature_unit.data,
        volume_unit=form.volume_unit.data,
        gallon=form.gallon.data if form.volume_unit.data == "gal" else "",
        owner=(form.owner_name.data or "", generate_password_hash(form.password.data or "")),
    )
    owner = account.find_owner(records)
    assert owner is not None
    door.open_session(owner)
    return made


def sign_in() -> Response | str | tuple[str, int]:
    """Ask who is there."""
    form = SignInForm()
    if request.method == "POST" and form.validate():
        try:
            door.open_session(_check(form.name.data or "", form.password.data or ""))
        except RuleBroken as refused:
            form.sentence = refused.sentence
        else:
            return redirect(door.within(request.args.get("then", "/")), 303)
    shown = render_template("records/sign_in_form.html", page=FormPage("Sign in", form))
    return (shown, 422) if request.method == "POST" else shown


def _check(name: str, password: str) -> account.Keeper:
    address = request.remote_addr or ""
    account.check_throttle(records, name=name, address=address, now=g.now)
    found = account.password_hash_of(records, name=name)
    right = check_password_hash(found[1] if found else _nobody(), password) and found is not None
    account.note_attempt(records, name=name, address=address, succeeded=right, now=g.now)
    who = account.find_keeper(records, found[0]) if found and right else None
    if who is None:
        raise RuleBroken("Name and password do not belong together.")
    return who


def sign_out() -> Response:
    """Leave the room on this device."""
    session.clear()
    return redirect(url_for("records.sign_in"), 303)


def health() -> tuple[str, int]:
    """Says that the program answers; asks the records nothing."""
    return "ok", 200
