"""The keeper's own chores: the list, a new one, one stopped."""

from flask import g, render_template, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.today.schedule import Round
from hatchery_app.services.tank import tank
from hatchery_app.services.today import chore
from hatchery_app.web.entry_form import take
from hatchery_app.web.today import chore_presenter as presenter
from hatchery_app.web.today.forms import ChoreForm, TapForm
from hatchery_app.web.when_fields import read_day

Answered = Response | tuple[str, int] | str


def show_list() -> str:
    """The chores that stand, and those that were stopped."""
    return _listed()


def add() -> Answered:
    """A new chore."""
    form = ChoreForm()
    if not form.first_on.data:
        form.first_on.data = g.room.room_time.local(g.now).date().isoformat()
    page = presenter.form(form, tank.tank_choices(records))
    return take(
        form,
        record=lambda posting: chore.add_chore(
            records, posting=posting, what=form.what.data or "", rhythm=form.rhythm(),
            in_round=Round(form.in_round.data or ""), tank_id=form.tank_id.data or None,
            first_on=read_day(form.first_on.data, "first_on")),
        then=lambda _fact: url_for("today.chores"),
        show=lambda: render_template("today/chore_form.html", page=page),
        said="The chore stands in the list.",
    )  # fmt: skip


def stop(chore_id: int) -> Answered:
    """From tomorrow on it comes no more."""
    form = TapForm()
    return take(
        form,
        record=lambda posting: chore.stop_chore(records, posting=posting, chore_id=chore_id),
        then=lambda _fact: url_for("today.chores"),
        show=lambda: _listed(form.sentence),
        said="The chore is stopped; what was answered stays.",
    )


def _listed(refused: str = "") -> str:
    page = presenter.listed(chore.load_chores(records, open_since=g.now), refused)
    return render_template("today/chore_list.html", page=page)
