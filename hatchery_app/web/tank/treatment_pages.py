"""A treatment of a tank: written down, and over."""

from flask import g, render_template, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.services.recording import Posting
from hatchery_app.services.tank import tank, treatment
from hatchery_app.web.entry_form import take
from hatchery_app.web.tank import treatment_presenter as presenter
from hatchery_app.web.tank.treatment_forms import SYSTEM, OverForm, TreatmentForm, offer_system
from hatchery_app.web.when_fields import default_days

Answer = Response | str | tuple[str, int]


def add(tank_id: int) -> Answer:
    """What was given to the tank."""
    form = TreatmentForm()
    here = tank.one_tank(records, tank_id, g.now)
    default_days(form, g.now)
    offer_system(form, here.label, here.system)
    page = presenter.form_of(form, here, "Treatment", "treatment")
    return take(
        form,
        record=lambda posting: _record(form, tank_id, posting),
        then=lambda _fact: url_for("tank.show", tank_id=tank_id),
        show=lambda: render_template("tank/treatment_form.html", page=page),
        said="The treatment is written down.",
    )


def _record(form: TreatmentForm, tank_id: int, posting: Posting) -> int:
    when = form.read_when()
    every_days, repeats = form.repeats_said()
    return treatment.record_treatment(
        records, posting=posting, tank_id=tank_id, what=form.what.data or "", when=when,
        amount=form.amount.data or "", reason=form.reason.data or "",
        barred=form.barred.data or "", whole_system=form.whose.data == SYSTEM,
        every_days=every_days, repeats=repeats, over=form.read_over(when),
    )  # fmt: skip


def over(treatment_id: int) -> Answer:
    """The treatment is over: nothing comes again, nothing is barred."""
    form = OverForm()
    one = treatment.one_treatment(records, treatment_id)
    here = tank.one_tank(records, one.tank_id, g.now)
    default_days(form, g.now)
    page = presenter.form_of(form, here, f"{one.what} is over", "over")
    return take(
        form,
        record=lambda posting: treatment.end_treatment(
            records, posting=posting, treatment_id=treatment_id, how=form.how.data or "",
            when=form.read_when()),
        then=lambda _fact: url_for("tank.show", tank_id=one.tank_id),
        show=lambda: render_template("tank/treatment_form.html", page=page),
        said="The treatment is over.",
    )  # fmt: skip
