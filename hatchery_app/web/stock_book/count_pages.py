"""How a number was counted, and the trials that say how many a way of counting finds."""

from flask import g, render_template, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.stock_book.worked_count import Sampled, read_samples
from hatchery_app.services.stock_book import counting
from hatchery_app.web import whole_numbers
from hatchery_app.web.entry_form import take
from hatchery_app.web.stock_book import count_presenter
from hatchery_app.web.stock_book.forms import TrialForm
from hatchery_app.web.when_fields import default_days

Answer = Response | str | tuple[str, int]


def count(fact_id: int) -> str:
    """One count with its raw figures, and its picture where it has one."""
    found = counting.count_shown(records, fact_id=fact_id)
    page = count_presenter.show(found, g.room.room_time)
    return render_template("stock_book/count_show.html", page=page)


def trials() -> Answer:
    """The room's trials, and a new one."""
    form = TrialForm()
    default_days(form, g.now)
    page = count_presenter.trials(form, counting.trials(records), g.room.room_time)
    return take(
        form,
        record=lambda posting: counting.record_trial(
            records, posting=posting, sampled=Sampled(form.sampled.data),
            known_number=whole_numbers.read((form.known_number.data or "").strip()) or 0,
            counts=read_samples(form.counts.data or ""), aliquot_ml=form.read_ml("aliquot_ml"),
            total_ml=form.read_ml("total_ml"), when=form.read_when(), note=form.note.data or "",
        ),
        then=lambda _fact_id: url_for("stock_book.trials"),
        show=lambda: render_template("stock_book/trial_form.html", page=page),
        said="The trial is written down; counts of such samples are corrected by it.",
    )  # fmt: skip
