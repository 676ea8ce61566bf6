"""The day-book, and each entry in it: read, said anew, taken back, put back."""

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.services.records import correction
from hatchery_app.services.records import records as book
from hatchery_app.web import whole_numbers
from hatchery_app.web.entry_form import take
from hatchery_app.web.records import presenter
from hatchery_app.web.records.entry_forms import (
    RecordForm,
    WithdrawForm,
    correction_form,
    typed_parts,
    when_said_anew,
)
from hatchery_app.web.when_fields import read_day

Answer = Response | str | tuple[str, int]


def day_book() -> Answer:
    """The newest lines, of one room or day where asked."""
    typed, room_word = request.args.get("day", ""), request.args.get("room", "")
    number = whole_numbers.asked_for("page", 1)
    try:
        day, refused = read_day(typed, "day"), ""
    except RuleBroken as no_day:
        day, refused = None, no_day.sentence
    answer = book.day_book(records, number=number, room_word=room_word, day=day)
    page = presenter.day_book(
        answer, g.room.room_time, room_word=room_word, day=day, typed=typed, refused=refused
    )
    return render_template("records/list.html", page=page)


def entry(fact_id: int) -> str:
    """What an entry says now, and all that it said before."""
    return _shown(fact_id, RecordForm())


def _shown(fact_id: int, form: RecordForm) -> str:
    answer = book.entry_page(records, fact_id=fact_id)
    page = presenter.entry(answer, g.room.room_time, form)
    return render_template("records/show.html", page=page)


def correct(fact_id: int) -> Answer:
    """Say an entry anew."""
    stands = book.entry_page(records, fact_id=fact_id)
    form = correction_form(stands)
    return take(
        form,
        record=lambda posting: correction.correct_entry(
            records, posting=posting, fact_id=fact_id, typed=typed_parts(form, stands),
            when=when_said_anew(form, stands), note=form.note.data or ""),
        then=_to_entry,
        show=lambda: render_template(
            "records/entry_form.html", page=presenter.correcting(stands, form)),
        said="Corrected. What it said before stays readable here.",
    )  # fmt: skip


def withdraw(fact_id: int) -> Answer:
    """Take an entry back, once the keeper has seen what goes with it."""
    stands = book.entry_page(records, fact_id=fact_id)
    form = WithdrawForm()
    return take(
        form,
        record=lambda posting: correction.withdraw_entry(
            records, posting=posting, fact_id=fact_id, note=form.note.data or ""),
        then=_to_entry,
        show=lambda: render_template(
            "records/confirm.html", page=presenter.withdrawing(stands, form)),
        said="Withdrawn. It stays readable, and can be restored here.",
    )  # fmt: skip


def restore(fact_id: int) -> Answer:
    """Put a withdrawn entry back as it stood."""
    form = RecordForm()
    return take(
        form,
        record=lambda posting: correction.restore_entry(records, posting=posting, fact_id=fact_id),
        then=_to_entry,
        show=lambda: _shown(fact_id, form),
        said="Restored.",
    )


def _to_entry(fact_id: int) -> str:
    return url_for("records.entry", fact_id=fact_id)
