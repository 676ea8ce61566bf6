"""The taps that record a laying."""

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.spawn.parents import Parent, Parents
from hatchery_app.services.clutch import clutch_page
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import species_names
from hatchery_app.services.tank import tank
from hatchery_app.web.entry_form import take
from hatchery_app.web.spawn import presenter
from hatchery_app.web.spawn.forms import FOUND, LAID, OtherSpawnForm, SpawnForm
from hatchery_app.web.when_fields import default_days


def choose() -> str:
    """Second tap: which pair laid."""
    pairs = clutch_page.pairs_that_may_lay(records)
    return render_template("spawn/list.html", page=presenter.choose(pairs, g.room.room_time))


def record(pair_id: int) -> Response | str | tuple[str, int]:
    """Third tap: just now, eggs unknown; or more of it."""
    spawn.pair_must_stand(records, pair_id)
    form = SpawnForm()
    _offer_tanks(form, "where the pair is")
    _default_days(form)
    name = clutch_page.pair_names(records, [pair_id])[pair_id]
    look = _last_look(form, pair_id)
    return take(
        form,
        record=lambda posting: spawn.record_laying(
            records, posting=posting, pair_id=pair_id, when=form.read_when(),
            eggs=form.read_eggs(), surface=form.surface.data or "",
            tank_id=form.tank_id.data or None, note=form.note.data or "",
        ),
        then=lambda clutch_id: url_for("clutch.show", clutch_id=clutch_id),
        show=lambda: render_template(
            "spawn/form.html", page=presenter.laying(form, name, look, g.room.room_time)),
        said=f"{name}: the laying is written down.",
    )  # fmt: skip


def other() -> Response | str | tuple[str, int]:
    """Eggs without a pair: of parents not known, wild, or bought."""
    form = OtherSpawnForm()
    _offer_tanks(form, "")
    form.species_key.choices = {"": "choose"} | species_names()
    _default_days(form)
    del form.last_looked
    form.when_how.choices = {how: label for how, label in LAID.items() if how != FOUND}
    parent = _parent_of(form)
    return take(
        form,
        record=lambda posting: spawn.record_laying_without_pair(
            records, posting=posting, tank_id=form.tank_id.data or 0,
            species_key=form.species_key.data or "", when=form.read_when(),
            parents=Parents(parent, parent), eggs=form.read_eggs(),
            surface=form.surface.data or "", note=form.note.data or "",
        ),
        then=lambda clutch_id: url_for("clutch.show", clutch_id=clutch_id),
        show=lambda: render_template("spawn/other_form.html", page=presenter.other(form)),
        said="The laying is written down.",
    )  # fmt: skip


def _last_look(form: SpawnForm, pair_id: int) -> spawn.LastLook:
    look = spawn.last_look(records, pair_id, room=g.room, now=g.now)
    if request.method == "GET":
        form.when_how.data = None  # eggs that were found were not laid just now
    form.last_looked.data = form.last_looked.data or look.at.isoformat()
    return look


def _parent_of(form: OtherSpawnForm) -> Parent:
    claim = form.claim.data or ""
    said = {"wild": Parent.wild(claim), "bought": Parent.bought(claim)}
    return said.get(form.parents_said.data or "", Parent.unknown())


def _offer_tanks(form: SpawnForm, blank: str) -> None:
    listed = tank.tank_choices(records)
    form.tank_id.choices = {"0": blank or "choose"} | {str(t.tank_id): t.label for t in listed}


def _default_days(form: SpawnForm) -> None:
    default_days(form, g.now)
    if not form.day_on.data:
        form.day_on.data = g.room.room_time.local(g.now).date().isoformat()
