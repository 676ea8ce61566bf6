"""The pages of sales: holds and sales of the room, one sale, and where its fish come from."""

from collections.abc import Callable

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.services.cohort import cohort_page
from hatchery_app.services.cohort.cohort_page import CohortPage
from hatchery_app.services.recording import Posting
from hatchery_app.services.sale import sale, sale_origin, sale_page
from hatchery_app.web import whole_numbers
from hatchery_app.web.cohort.forms import whole
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.sale import presenter
from hatchery_app.web.sale.forms import ArrivalForm, HoldForm, ReleaseForm, SellForm
from hatchery_app.web.when_fields import default_days

Answer = Response | str | tuple[str, int]


def show_list() -> str:
    """Holds, what is free, and sales."""
    everything = request.args.get("all") == "1"
    answer = sale_page.sale_list(records, now=g.now, everything=everything)
    page = presenter.listed(answer, g.room.room_time, everything=everything)
    return render_template("sale/list.html", page=page)


def show(sale_id: int) -> str:
    """One sale and what arrived."""
    answer = sale_page.sale_page(records, sale_id=sale_id)
    return render_template("sale/show.html", page=presenter.shown(answer, g.room.room_time))


def origin(sale_id: int) -> str:
    """The line of origin, on one page to print."""
    answer = sale_origin.origin_page(records, sale_id=sale_id)
    page = presenter.origin(answer, g.room.name, g.room.room_time)
    return render_template("sale/origin_show.html", page=page)


def arrival(sale_id: int) -> Answer:
    """What the buyer found."""
    form = ArrivalForm()
    answer = sale_page.sale_page(records, sale_id=sale_id)
    page = presenter.arrival(answer, form, g.room.room_time)
    return _taken(form, page, url_for("sale.show", sale_id=sale_id), lambda posting: (
        sale.report_arrival(
            records, posting=posting, sale_id=sale_id, dead=form.read_dead(),
            replaced=whole(form.replaced.data, "replaced") or 0, when=form.read_when(),
            note=form.note.data or "")))  # fmt: skip


def sell(cohort_id: int) -> Answer:
    """Fish are sold."""
    form, cohort = SellForm(), _cohort(cohort_id)
    form.out_of.choices = presenter.out_of_choices(cohort)
    if request.method == "GET":
        form.out_of.data = whole_numbers.asked_for("held_id", 0)
        form.number.data = presenter.number_held(cohort, form.out_of.data)
    page = presenter.form(cohort, form, "A sale")
    return _taken(form, page, url_for("cohort.show", cohort_id=cohort_id), lambda posting: (
        sale.record_sale(
            records, posting=posting, holding_id=cohort_id, number=form.read_number(),
            for_whom=form.for_whom.data or "", held_id=form.out_of.data or None,
            when=form.read_when(), note=form.note.data or "")), show_sale=True)  # fmt: skip


def hold(cohort_id: int) -> Answer:
    """Fish are promised to somebody."""
    form, cohort = HoldForm(), _cohort(cohort_id)
    page = presenter.form(cohort, form, "Hold")
    return _taken(form, page, url_for("cohort.show", cohort_id=cohort_id), lambda posting: (
        sale.place_hold(
            records, posting=posting, holding_id=cohort_id, number=form.read_number(),
            for_whom=form.for_whom.data or "", until_on=form.read_until(),
            when=form.read_when(), note=form.note.data or "")))  # fmt: skip


def release(held_id: int) -> Answer:
    """Held fish are free again."""
    form = ReleaseForm()
    line = sale_page.hold_page(records, held_id=held_id, now=g.now)
    page = presenter.release(line, form)
    return _taken(form, page, url_for("cohort.show", cohort_id=line.cohort.id), lambda posting: (
        sale.release_hold(
            records, posting=posting, held_id=held_id, when=form.read_when(),
            number=whole(form.number.data, "number"), note=form.note.data or "")))  # fmt: skip


def _taken(
    form: EntryForm,
    page: presenter.FormPage,
    then: str,
    record: Callable[[Posting], int],
    *,
    show_sale: bool = False,
) -> Answer:
    default_days(form, g.now)
    return take(
        form,
        record=record,
        then=lambda fact_id: url_for("sale.show", sale_id=fact_id) if show_sale else then,
        show=lambda: render_template("sale/form.html", page=page),
        said=f"{page.heading}: written down.",
    )


def _cohort(cohort_id: int) -> CohortPage:
    return cohort_page.cohort_page(records, holding_id=cohort_id, now=g.now)
