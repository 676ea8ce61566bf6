"""The shelf: every tin and bottle, what is left of it, and what is written down of it."""

from collections.abc import Callable

from flask import g, render_template, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.live_food.shelf import Change, StockKind
from hatchery_app.services.live_food import live_food_shelf, live_food_shrimp_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.species.library import library
from hatchery_app.services.today import today_facts
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.live_food import shelf_presenter as presenter
from hatchery_app.web.live_food.forms import read_many
from hatchery_app.web.live_food.shelf_forms import ChangeForm, ItemForm
from hatchery_app.web.when_fields import default_days

Answer = Response | str | tuple[str, int]


def _facts() -> DayFacts:
    return today_facts.load_day(records, library(), room=g.room, now=g.now)


def show_shelf() -> str:
    """Everything on the shelf."""
    found = live_food_shrimp_page.shrimp_list(records, g.room, g.now, _facts())
    return render_template("live_food/shelf_list.html", page=presenter.listed(found, g.room, g.now))


def show_item(shelf_id: int) -> str:
    """One item."""
    found = live_food_shrimp_page.item_page(records, _facts(), shelf_id)
    return render_template("live_food/shelf_show.html", page=presenter.shown(found, g.room, g.now))


def add_item() -> Answer:
    """A tin, bag or bottle."""
    form = ItemForm()
    return _taken(form, "On the shelf", "item", lambda posting: live_food_shelf.put_on_shelf(
        records, posting=posting, kind=StockKind(form.kind.data), name=form.name.data or "",
        unit=form.unit.data or "", came=form.read_came(), when=form.read_when(),
        opened_on=form.read_opened(), best_before_on=form.read_best_before(),
        delivery_days=form.read_delivery_days(), dry_fraction=form.read_dry_fraction(),
        cells_per_ml=read_many(form.cells_per_ml.data, "cells_per_ml"),
        particle_um=form.read_particles(), note=form.note.data or ""),
        lambda shelf_id: url_for("live_food.show_item", shelf_id=shelf_id),
        url_for("live_food.show_shelf"))  # fmt: skip


def change(shelf_id: int) -> Answer:
    """It was weighed, some was taken, or more came."""
    form = ChangeForm()
    item = live_food_shrimp_page.item_page(records, _facts(), shelf_id).on_shelf.item
    here = url_for("live_food.show_item", shelf_id=shelf_id)
    heading = f"{item.name}, in {item.unit}"
    return _taken(form, heading, "change", lambda posting: live_food_shelf.change_stock(
        records, posting=posting, shelf_id=shelf_id, change=Change(form.change.data),
        stock=form.read_stock(), what_for=form.what_for.data or "", when=form.read_when(),
        note=form.note.data or ""), lambda _fact: here, here)  # fmt: skip


def _taken(
    form: EntryForm,
    heading: str,
    part: str,
    record: Callable[[Posting], int],
    then: Callable[[int], str],
    back: str,
) -> Answer:
    default_days(form, g.now)
    return take(
        form,
        record=record,
        then=then,
        show=lambda: render_template(
            "live_food/shelf_form.html", page=presenter.form_of(form, heading, part, back)
        ),
        said="Written down.",
    )
