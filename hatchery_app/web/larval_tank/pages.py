"""The larval tanks as a walk, one batch in full, and what is seen and counted there."""

from collections.abc import Callable
from typing import Any

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank import larval_day, larval_tank_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.stock_book import counting, counts, stock_book
from hatchery_app.web import count_fields
from hatchery_app.web.addresses import back_or
from hatchery_app.web.count_fields import read_amount
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.larval_tank import presenter
from hatchery_app.web.larval_tank.forms import (
    ConcentrateForm,
    CountForm,
    FoundForm,
    LeftForm,
    LengthsForm,
    MarkForm,
    PreyForm,
    SettledForm,
    read_counts,
    read_whole,
)
from hatchery_app.web.when_fields import default_days

Answer = Response | str | tuple[str, int]


def walk() -> str:
    """Every batch of larvae, in walking order."""
    everything = request.args.get("ended") == "all"
    listed = larval_tank_page.larval_tank_list(records, now=g.now, everything=everything)
    page = presenter.walk(listed, g.room.room_time, everything)
    return render_template("larval_tank/list.html", page=page)


def show(holding_id: int) -> str:
    """One batch."""
    found = larval_tank_page.larval_tank_page(records, holding_id=holding_id, now=g.now)
    page = presenter.show(found, g.room.room_time, g.now)
    return render_template("larval_tank/show.html", page=page)


def answer(
    form: EntryForm, holding_id: int, part: str, heading: str, said: str,
    record: Callable[[Posting], int], **more: Any,
) -> Answer:  # fmt: skip
    """Show or record one form about a batch, and go back to the batch."""
    batch = larval_tank_page.batch_named(records, holding_id)
    if hasattr(form, "when_how"):
        default_days(form, g.now)
    page = presenter.form(form, batch, part, heading, **more)
    return take(
        form,
        record=record,
        then=lambda _fact_id: back_or(url_for("larval_tank.show", holding_id=holding_id)),
        show=lambda: render_template("larval_tank/form.html", page=page),
        said=said,
    )


def count(holding_id: int) -> Answer:
    """How many are there."""
    form = CountForm()
    form.offer(
        count_fields.OF_LARVAE,
        counting.ground_of_batch(
            records, holding_id=holding_id, now=g.now, photo_id=count_fields.picture_asked_for()
        ),
    )
    return answer(
        form, holding_id, "count", "Count", "The count is written down.",
        lambda posting: counts.record_count(
            records, posting=posting, holding_id=holding_id, number=form.read_number(),
            bodies=form.read_bodies(), when=form.read_when(), note=form.note.data or "",
        ),
    )  # fmt: skip


def left(holding_id: int) -> Answer:
    """Died, missing, eaten, put down, sampled, given away."""
    form = LeftForm()
    return answer(
        form, holding_id, "left", "Gone from the tank", "Written down.",
        lambda posting: stock_book.record_leaving(
            records, posting=posting, holding_id=holding_id, door=Door(form.door.data),
            number=form.read_number(), when=form.read_when(), reason=form.reason.data or "",
            note=form.note.data or "",
        ),
    )  # fmt: skip


def found(holding_id: int) -> Answer:
    """More than came in."""
    form = FoundForm()
    return answer(
        form, holding_id, "found", "Found more", "Written down.",
        lambda posting: stock_book.record_coming(
            records, posting=posting, holding_id=holding_id, door=Door.FOUND,
            number=presenter.number_or_unknown(form.number.data), when=form.read_when(),
            reason=form.reason.data or "", note=form.note.data or "",
        ),
    )  # fmt: skip


def prey(holding_id: int) -> Answer:
    """How thick a food stands: one tap, or samples counted."""
    form = PreyForm()
    if request.method == "GET" and request.args.get("food"):
        form.food.data = request.args["food"]
    batch = larval_tank_page.batch_named(records, holding_id)

    def record(posting: Posting) -> int:
        topped = (form.topped_up_to.data or "").strip()
        return counts.record_prey(
            records, posting=posting, tank_id=batch.place.tank_id, food=form.food.data or "",
            look=form.read_look(), when=form.read_when(),
            counts=read_counts(form.counts.data, "counts") if form.counts.data else (),
            sample_ml=read_amount(form.sample_ml.data or "1", "sample_ml"),
            topped_up_to_per_ml=read_amount(topped, "topped_up_to") if topped else None,
            note=form.note.data or "",
        )  # fmt: skip

    return answer(form, holding_id, "prey", "Food in the tank", "The look is written down.", record)


def lengths(holding_id: int) -> Answer:
    """Some were measured."""
    form = LengthsForm()
    return answer(
        form, holding_id, "lengths", "Lengths", "Brine shrimp and grain go by their length now.",
        lambda posting: counts.record_lengths(
            records, posting=posting, holding_id=holding_id, lengths=form.lengths.data or "",
            when=form.read_when(), by_eye=bool(form.by_eye.data), note=form.note.data or "",
        ),
    )  # fmt: skip


def settled(holding_id: int) -> Answer:
    """A look at who has settled and who still swims."""
    form = SettledForm()
    return answer(
        form, holding_id, "settled", "Settled and swimming", "The look is written down.",
        lambda posting: counts.record_settlement(
            records, posting=posting, holding_id=holding_id, settled=form.read_settled(),
            swimming=read_whole(form.swimming.data, "swimming"), when=form.read_when(),
            counted=form.how.data != "eye", note=form.note.data or "",
        ),
    )  # fmt: skip


def mark(holding_id: int) -> Answer:
    """Something for the first time."""
    form = MarkForm()
    return answer(
        form, holding_id, "mark", "For the first time", "Written down.",
        lambda posting: counts.record_mark(
            records, posting=posting, holding_id=holding_id, mark=form.mark.data or "",
            when=form.read_when(), note=form.note.data or "",
        ),
    )  # fmt: skip


def concentrates() -> Answer:
    """How thick the foods stand that the tanks are topped up from."""
    form = ConcentrateForm()
    if request.method == "GET" and request.args.get("food"):
        form.food.data = request.args["food"]
    page = presenter.concentrates(form, larval_day.concentrates(records, g.now))
    return take(
        form,
        record=lambda posting: counts.set_concentrate(
            records, posting=posting, food=form.food.data or "",
            per_ml=read_amount(form.per_ml.data, "per_ml"), typed=form.per_ml.data or "",
            when=When.exactly(g.now),
        ),
        then=lambda _fact_id: url_for("larval_tank.concentrates"),
        show=lambda: render_template("larval_tank/concentrate_form.html", page=page),
        said="The room remembers it.",
    )  # fmt: skip
