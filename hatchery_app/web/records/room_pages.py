"""The room: its name, clock, units and lamps, who keeps it, where the tablet finds it."""

from collections.abc import Callable

from flask import abort, flash, g, redirect, render_template, request, session, url_for
from werkzeug.security import check_password_hash, generate_password_hash
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import account, records_copies
from hatchery_app.services.records import room as the_room
from hatchery_app.web import door
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.records import room_presenter
from hatchery_app.web.records.room_forms import KeeperForm, LampsForm, PasswordForm, RoomForm
from hatchery_app.web.when_fields import default_days, read_time

Answer = Response | str | tuple[str, int]


def room() -> str:
    """What the room is."""
    settings = door.settings()
    page = room_presenter.shown(
        g.room, the_room.lamps_said(records), account.keepers(records), door.keeper(),
        settings, records_copies.copies_in(settings.folder),
    )  # fmt: skip
    return render_template("records/room_show.html", page=page)


def change_room() -> Answer:
    """Call, clock or measure the room otherwise from then on."""
    _owner_only()
    form = RoomForm()
    form.offer_zones()
    if request.method == "GET":
        form.fill(g.room)
    return _taken(form, "The room", "room", lambda posting: the_room.change_room(
        records, posting=posting, name=form.name.data or "", zone_name=form.zone_name.data,
        temperature_unit=form.temperature_unit.data, volume_unit=form.volume_unit.data,
        gallon=form.gallon.data or "", when=form.read_when()))  # fmt: skip


def lamps() -> Answer:
    """Say when the lamps of the room or of a rack are lit, from then on."""
    _owner_only()
    form = LampsForm()
    if request.method == "GET":
        form.fill(g.room.lights(g.now))
    return _taken(form, "Lamps", "lamps", lambda posting: _set_lamps(form, posting))


def _set_lamps(form: LampsForm, posting: Posting) -> int:
    lights_on = read_time(form.lights_on.data, "lights_on")
    lights_off = read_time(form.lights_off.data, "lights_off")
    if lights_on is None or lights_off is None:
        raise RuleBroken("Say when the lights go on and off.", field="lights_on")
    return the_room.set_lights(
        records, posting=posting, lights_on=lights_on, lights_off=lights_off,
        rack=form.rack.data or "", when=form.read_when(),
    )  # fmt: skip


def add_keeper() -> Answer:
    """Give somebody an account."""
    _owner_only()
    form = KeeperForm()
    return _taken(form, "Somebody who works here", "keeper", lambda _posting: account.add_keeper(
        records, name=form.keeper_name.data or "", role=form.role.data,
        password_hash=generate_password_hash(form.password.data or ""), now=g.now).id)  # fmt: skip


def change_password() -> Answer:
    """Change one's own password."""
    if door.settings().demo:
        abort(403, "The demo is open; it has no password to change.")
    form = PasswordForm()
    return _taken(form, "Your password", "password", lambda _posting: _set_password(form))


def _set_password(form: PasswordForm) -> int:
    me = door.keeper()
    address = request.remote_addr or ""
    account.check_throttle(records, name=me.name, address=address, now=g.now)
    found = account.password_hash_of(records, name=me.name)
    right = found is not None and check_password_hash(found[1], form.present.data or "")
    account.note_attempt(records, name=me.name, address=address, succeeded=right, now=g.now)
    if not right:
        raise RuleBroken("That is not your present password.", field="present")
    door.open_session(
        account.change_password(
            records, account_id=me.id,
            password_hash=generate_password_hash(form.password.data or ""),
        )
    )  # fmt: skip
    return me.id


def sign_out_everywhere() -> Answer:
    """End every session of one's account, this one too."""
    form = EntryForm()
    if not form.validate():
        flash("This page was open for very long. Nothing was done: send it once more.")
        return redirect(url_for("records.room"), 303)
    account.sign_out_everywhere(records, account_id=door.keeper().id)
    session.clear()
    return redirect(url_for("records.sign_in"), 303)


def _owner_only() -> None:
    if door.keeper().role != "owner":
        abort(403, "Only the room's owner changes the room and gives accounts.")


def _taken(form: EntryForm, heading: str, part: str, record: Callable[[Posting], int]) -> Answer:
    if hasattr(form, "when_how"):
        default_days(form, g.now)
    return take(
        form,
        record=record,
        then=lambda _id: url_for("records.room"),
        show=lambda: render_template(
            "records/room_form.html", page=room_presenter.RoomFormPage(heading, form, part)
        ),
    )
