"""Tonight: one clutch a screen, its four answers, and the last one taken back."""

from collections.abc import Callable

from flask import flash, g, render_template, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.services.recording import Posting
from hatchery_app.services.species.library import library
from hatchery_app.services.today import tonight
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.today import tonight_presenter as presenter
from hatchery_app.web.today.forms import GoneForm, PulledForm, TapForm, UndoForm

Answered = Response | tuple[str, int] | str


def show_first() -> str:
    """The clutch to look at first, or that no clutch's night it may be."""
    found = _tonight()
    if not found.watches:
        return render_template("today/tonight_list.html", page=presenter.quiet(found, g.room))
    return shown(found, found.watches[0].clutch_id)


def show(clutch_id: int) -> str:
    """One clutch."""
    return shown(_tonight(), clutch_id)


def shown(found: tonight.Tonight, clutch_id: int, refused: str = "") -> str:
    """One clutch's screen; `refused` says why an answer could not be saved."""
    page = presenter.clutch(found, found.watch_of(clutch_id), g.room, refused)
    return render_template("today/tonight_show.html", page=page)


def nothing_yet(clutch_id: int) -> Answered:
    """Watched until now, none hatched."""
    return _tap(clutch_id, lambda posting: tonight.say_nothing_yet(
        records, posting=posting, clutch_id=clutch_id))  # fmt: skip


def hatching(clutch_id: int) -> Answered:
    """Larvae are seen; the screen stays with the clutch."""
    return _tap(clutch_id, lambda posting: tonight.say_hatching(
        records, posting=posting, clutch_id=clutch_id, library=library()), stays=True)  # fmt: skip


def all_hatched(clutch_id: int) -> Answered:
    """No eggs are left on the tile."""
    return _tap(clutch_id, lambda posting: tonight.say_all_hatched(
        records, posting=posting, clutch_id=clutch_id))  # fmt: skip


def pulled(clutch_id: int) -> Answered:
    """Second tap: into which tank."""
    form = PulledForm()
    found = _tonight()
    page = presenter.pulled(found, found.watch_of(clutch_id), form)
    return take(
        form,
        record=lambda posting: tonight.say_pulled(
            records, posting=posting, clutch_id=clutch_id, tank_id=form.tank_id.data or 0),
        then=lambda _fact: url_for("today.tonight_clutch", clutch_id=clutch_id),
        show=lambda: render_template("today/pulled_form.html", page=page),
    )  # fmt: skip


def gone(clutch_id: int) -> Answered:
    """Second tap: how the eggs went."""
    form = GoneForm()
    found = _tonight()
    page = presenter.gone(found.watch_of(clutch_id), form)
    return take(
        form,
        record=lambda posting: tonight.say_gone(
            records, posting=posting, clutch_id=clutch_id,
            outcome=ClutchOutcome(form.outcome.data or "")),
        then=lambda _fact: _next_after(found, clutch_id),
        show=lambda: render_template("today/gone_form.html", page=page),
    )  # fmt: skip


def undo() -> Answered:
    """The last answer taken back."""
    form = UndoForm()
    return take(
        form,
        record=lambda posting: tonight.take_back(
            records, posting=posting, fact_id=form.fact_id.data or 0),
        then=lambda clutch_id: url_for("today.tonight_clutch", clutch_id=clutch_id),
        show=lambda: _refused(form),
        said="Taken back.",
    )  # fmt: skip


def _tap(
    clutch_id: int, record: Callable[[Posting], int], *, stays: bool = False
) -> Answered:
    form = TapForm()
    here = url_for("today.tonight_clutch", clutch_id=clutch_id)
    return take(
        form,
        record=record,
        then=lambda _fact: here if stays else _next_after(_tonight(), clutch_id),
        show=lambda: shown(_tonight(), clutch_id, presenter.refused_said(form)),
    )


def _next_after(found: tonight.Tonight, clutch_id: int) -> str:
    """The next clutch to look at, in the order shown; round again at the end."""
    ids = [each.clutch_id for each in found.watches]
    if clutch_id in ids:
        after = ids[(ids.index(clutch_id) + 1) % len(ids)]
    else:
        after = ids[0] if ids else clutch_id
    if after == clutch_id and clutch_id not in ids:
        return url_for("today.tonight")
    return url_for("today.tonight_clutch", clutch_id=after)


def _refused(form: EntryForm) -> str:
    flash(presenter.refused_said(form))
    return show_first()


def _tonight() -> tonight.Tonight:
    return tonight.tonight(records, library(), room=g.room, now=g.now)
