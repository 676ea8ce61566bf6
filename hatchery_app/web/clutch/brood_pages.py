"""The pages of a brood that a parent carries."""

from collections.abc import Callable

from flask import flash, g, redirect, render_template, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch_brood, clutch_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.species.library import library
from hatchery_app.services.tank import tank
from hatchery_app.web.clutch import brood_presenter as presenter
from hatchery_app.web.clutch.brood_forms import BroodEndForm, HoldingForm, ReleaseForm
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.when_fields import default_days

Answered = Response | str | tuple[str, int]


def start() -> Answered:
    """A father was seen with a brood."""
    form = HoldingForm()
    default_days(form, g.now)
    choices = clutch_brood.carrier_choices(records, library())
    form.carrier_id.choices = {str(c.fish_id): f"{c.name}, {c.species_name}" for c in choices}
    form.tank_id.choices = {"0": "where he is"} | _tanks()
    return take(
        form,
        record=lambda posting: clutch_brood.record_holding(
            records, posting=posting, carrier_id=form.carrier_id.data or 0,
            when=form.read_when(), tank_id=form.tank_id.data or None,
            start_known=form.start_known, note=form.note.data or ""),
        then=lambda clutch_id: url_for("clutch.show", clutch_id=clutch_id),
        show=lambda: render_template(
            "clutch/brood_start_form.html", page=presenter.starting(form, bool(choices))),
        said="The brood is written down.",
    )  # fmt: skip


def holding(clutch_id: int) -> Answered:
    """One tap: he still carries it, seen now."""
    form = EntryForm()
    answer = take(
        form,
        record=lambda posting: clutch_brood.see_holding(
            records, posting=posting, clutch_id=clutch_id, when=When.exactly(g.now)),
        then=lambda _fact: url_for("clutch.show", clutch_id=clutch_id),
        show=lambda: "",
        said="Seen now: he still carries it.",
    )  # fmt: skip
    if isinstance(answer, Response):
        return answer
    flash(form.sentence or "That could not be written down.")
    return redirect(url_for("clutch.show", clutch_id=clutch_id), 303)


def release(clutch_id: int) -> Answered:
    """Young came out, and may go into a tank at once."""
    form = ReleaseForm()
    form.tank_id.choices = {"0": "no tank yet"} | _tanks()
    return _taken(form, clutch_id, "release", lambda posting: clutch_brood.record_release(
        records, posting=posting, clutch_id=clutch_id, when=form.read_when(),
        number=form.read_number(), all_out=bool(form.all_out.data),
        tank_id=form.tank_id.data or None, note=form.note.data or ""))  # fmt: skip


def all_out(clutch_id: int) -> Answered:
    """He carries nothing more, and its young are written down."""
    form = BroodEndForm()
    return _taken(form, clutch_id, "all out", lambda posting: clutch_brood.record_all_out(
        records, posting=posting, clutch_id=clutch_id, when=form.read_when(),
        note=form.note.data or ""))  # fmt: skip


def lost(clutch_id: int) -> Answered:
    """He was seen feeding, or empty, without any young."""
    form = BroodEndForm()
    return _taken(form, clutch_id, "lost", lambda posting: clutch_brood.record_brood_lost(
        records, posting=posting, clutch_id=clutch_id, feeding=form.read_when(),
        note=form.note.data or ""))  # fmt: skip


def _taken(
    form: EntryForm, clutch_id: int, part: str, record: Callable[[Posting], int]
) -> Answered:
    default_days(form, g.now)
    page = clutch_page.clutch_page(
        records, library(), room=g.room, clutch_id=clutch_id, now=g.now
    )
    shown = presenter.form(page.seen, form, part)
    return take(
        form,
        record=record,
        then=lambda _fact: url_for("clutch.show", clutch_id=clutch_id),
        show=lambda: render_template("clutch/brood_form.html", page=shown),
    )


def _tanks() -> dict[str, str]:
    return {str(each.tank_id): each.label for each in tank.tank_choices(records)}
