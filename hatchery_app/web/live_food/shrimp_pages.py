"""Brine shrimp: lots, hatches, and what is written down of them."""

from collections.abc import Callable

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.shrimp_hatch import EndedAs, Ripe, ShrimpHatch
from hatchery_app.services.live_food import live_food_shrimp, live_food_shrimp_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.species.library import library
from hatchery_app.services.today import today_facts
from hatchery_app.web.addresses import back_or
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.live_food import shrimp_presenter as presenter
from hatchery_app.web.live_food.forms import read_counts, read_figure, read_many, read_whole
from hatchery_app.web.live_food.shrimp_forms import (
    EnrichForm,
    FedForm,
    HarvestForm,
    LotForm,
    OverForm,
    StartForm,
)
from hatchery_app.web.when_fields import default_days

Answer = Response | str | tuple[str, int]


def show(start_id: int) -> str:
    """One hatch."""
    found = live_food_shrimp_page.hatch_page(records, g.now, start_id)
    page = presenter.hatch_shown(found, g.room, g.now)
    return render_template("live_food/shrimp_show.html", page=page)


def show_lot(lot_id: int) -> str:
    """One lot of cysts."""
    facts = today_facts.load_day(records, library(), room=g.room, now=g.now)
    found = live_food_shrimp_page.lot_page(records, facts, lot_id)
    page = presenter.lot_shown(found, g.room, g.now)
    return render_template("live_food/lot_show.html", page=page)


def add_lot() -> Answer:
    """A lot of cysts with its tin."""
    form = LotForm()
    return _taken(form, presenter.ADD_LOT, lambda posting: live_food_shrimp.enter_lot(
        records, posting=posting, name=form.name.data or "", when=form.read_when(),
        came=form.read_came(), unit=form.unit.data or "g", grade=form.grade.data or "",
        hatch_percent=read_figure(form.hatch_percent.data, "hatch_percent"),
        nauplii_per_g=read_many(form.nauplii_per_g.data, "nauplii_per_g"),
        opened_on=form.read_opened(), best_before_on=form.read_best_before(),
        delivery_days=form.read_delivery_days(), note=form.note.data or ""),
        lambda lot_id: url_for("live_food.show_lot", lot_id=lot_id))  # fmt: skip


def start() -> Answer:
    """Cysts put into water, begun with what the last hatch was started with."""
    form = StartForm()
    found = live_food_shrimp_page.shrimp_list(records, g.room, g.now)
    form.lot_id.choices = [(lot.id, lot.name) for lot in found.lots]
    if request.method == "GET":
        presenter.fill_start(form, found, request.args.get("lot", type=int))
    return _taken(form, presenter.START, lambda posting: live_food_shrimp.start_cysts(
        records, posting=posting, lot_id=form.lot_id.data or 0,
        grams=_needed(form.grams.data, "grams"), litres=_needed(form.litres.data, "litres"),
        temperature_c=_needed(form.temperature.data, "temperature"),
        salinity_psu=read_figure(form.salinity.data, "salinity"), vessel=form.vessel.data or "",
        when=form.read_when(), note=form.note.data or ""), _to_hatch)  # fmt: skip


def harvest(start_id: int) -> Answer:
    """It was harvested, or what is in hand was counted again."""
    form = HarvestForm()
    return _of(form, start_id, presenter.HARVEST, lambda posting: live_food_shrimp.harvest_shrimp(
        records, posting=posting, start_id=start_id,
        animals=read_many(form.animals.data, "animals"), counts=read_counts(form.counts.data),
        sample_ml=read_figure(form.sample_ml.data, "sample_ml") or 1.0,
        dilution=read_figure(form.dilution.data, "dilution") or 1.0,
        water_l=read_figure(form.water_l.data, "water_l"),
        umbrellas=read_whole(form.umbrellas.data, "umbrellas"),
        embryos=read_whole(form.embryos.data, "embryos"), ripe=Ripe(form.ripe.data),
        rinsed=bool(form.rinsed.data), when=form.read_when(),
        note=form.note.data or ""))  # fmt: skip


def enrich(start_id: int) -> Answer:
    """They go into enrichment."""
    form = EnrichForm()
    shelf = live_food_shrimp_page.shrimp_list(records, g.room, g.now).shelf
    form.shelf_id.choices = presenter.enriched_with(shelf)
    return _of(form, start_id, presenter.ENRICH, lambda posting: live_food_shrimp.enrich_shrimp(
        records, posting=posting, start_id=start_id, shelf_id=form.shelf_id.data or None,
        what=form.what.data or "", amount=read_figure(form.amount.data, "amount"),
        hours=_needed(form.hours.data, "hours"),
        litres=read_figure(form.litres.data, "litres"), when=form.read_when(),
        note=form.note.data or ""))  # fmt: skip


def fed(start_id: int) -> Answer:
    """They were fed out or moved."""
    form = FedForm()
    larvae = dict(live_food_shrimp_page.larvae_here(records, g.room, g.now))
    form.holding_id.choices = [*larvae.items(), (0, "not to larvae")]
    if request.method == "GET":
        form.holding_id.data = next(iter(larvae), 0)
    return _of(form, start_id, presenter.FED, lambda posting: live_food_shrimp.feed_shrimp(
        records, posting=posting, start_id=start_id,
        animals=read_many(form.animals.data, "animals"),
        into=form.into.data or larvae.get(form.holding_id.data or 0, ""),
        holding_id=form.holding_id.data or None, rinsed=bool(form.rinsed.data),
        last_of_it=bool(form.last_of_it.data),
        when=form.read_when(), note=form.note.data or ""))  # fmt: skip


def over(start_id: int) -> Answer:
    """It is over."""
    form = OverForm()
    return _of(form, start_id, presenter.OVER, lambda posting: live_food_shrimp.end_hatch(
        records, posting=posting, start_id=start_id, ended_as=EndedAs(form.ended_as.data),
        reason=form.reason.data or "", when=form.read_when(),
        note=form.note.data or ""))  # fmt: skip


def _needed(text: str | None, field: str) -> float:
    figure = read_figure(text, field)
    if figure is None:
        raise RuleBroken("Write a figure here.", field=field)
    return figure


def _to_hatch(start_id: int) -> str:
    return back_or(url_for("live_food.show_hatch", start_id=start_id))


def _of(
    form: EntryForm, start_id: int, act: presenter.Act, record: Callable[[Posting], int]
) -> Answer:
    hatch = live_food_shrimp_page.hatch_page(records, g.now, start_id).hatch
    if request.method == "GET":
        presenter.fill_act(form, hatch)
    return _taken(form, act, record, lambda _fact: _to_hatch(start_id), hatch)


def _taken(
    form: EntryForm,
    act: presenter.Act,
    record: Callable[[Posting], int],
    then: Callable[[int], str],
    hatch: ShrimpHatch | None = None,
) -> Answer:
    default_days(form, g.now)
    return take(
        form,
        record=record,
        then=then,
        show=lambda: render_template(
            "live_food/shrimp_form.html", page=presenter.form_of(form, act, hatch)
        ),
        said="Written down.",
    )
