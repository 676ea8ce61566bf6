"""The cultures in walking order, one vessel, and what is written down of it."""

from collections.abc import Callable, Sequence

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.live_food.shelf import ShelfItem
from hatchery_app.domain.live_food.vessel import Cultured, KeptAs
from hatchery_app.domain.when import When
from hatchery_app.services.live_food import live_food, live_food_page, live_food_shrimp_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.species.species import library
from hatchery_app.services.stock_book import counts
from hatchery_app.services.today import today_facts
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.web import door
from hatchery_app.web.addresses import back_or
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.live_food import presenter, vessel_presenter
from hatchery_app.web.live_food.forms import (
    CopepodForm,
    CountForm,
    FeedForm,
    GapForm,
    HarvestForm,
    LookForm,
    LostForm,
    StartForm,
    read_figure,
    read_many,
    read_whole,
)
from hatchery_app.web.when_fields import default_days

Answer = Response | str | tuple[str, int]


def _facts() -> DayFacts:
    species = library(door.settings().folder).species
    return today_facts.load_day(records, species, room=g.room, now=g.now)


def show_list() -> str:
    """Every vessel, and whether there is enough."""
    return render_template("live_food/list.html", page=_list_page())


def _list_page() -> presenter.ListPage:
    facts = _facts()
    listed = live_food_page.live_food_list(facts, now=g.now)
    shelf = live_food_shrimp_page.shrimp_list(records, g.room, g.now, facts)
    return presenter.listed(listed, shelf, g.room, g.now)


def show(tank_id: int) -> str:
    """One vessel."""
    found = live_food_page.vessel_page(records, _facts(), tank_id=tank_id, now=g.now)
    return render_template("live_food/show.html", page=vessel_presenter.shown(found, g.room, g.now))


def gap() -> Answer:
    """The larvae that a food is short for have a gap in their food, from now on in their story."""
    form, food = GapForm(), request.form.get("food", "")
    holdings = live_food_page.holdings_fed(_facts(), food)
    return take(
        form,
        record=lambda posting: counts.record_food_gap(
            records, posting=posting, holding_ids=holdings, food=food, when=When.exactly(g.now)
        ),
        then=lambda _count: url_for("live_food.list"),
        show=lambda: render_template("live_food/list.html", page=_list_page()),
        said="The food gap stands with each batch.",
    )


def start(tank_id: int) -> Answer:
    """What it holds from then on, or a restart."""
    form = StartForm()
    facts = _facts()
    vessels = live_food_page.other_vessels(facts, tank_id)
    form.from_tank.choices = [(0, "not from a vessel here"), *vessels]
    if request.method == "GET":
        held = live_food_page.vessel_named(facts.cultures, tank_id)
        vessel_presenter.fill_start(form, held.vessel)
    return _taken(form, tank_id, "Start", "start", lambda posting: live_food.start_culture(
        records, posting=posting, tank_id=tank_id, food=Cultured(form.food.data),
        strain=form.strain.data or "", kept_as=KeptAs(form.kept_as.data),
        salinity_psu=read_figure(form.salinity.data, "salinity"),
        from_tank_id=form.from_tank.data or None, seed=form.seed.data or "",
        when=form.read_when(), note=form.note.data or ""))  # fmt: skip


def count(tank_id: int) -> Answer:
    """Samples or squares counted, or a look; copepods by stage."""
    food = live_food_page.food_in(records, tank_id)
    if food is Cultured.COPEPODS:
        return _count_copepods(tank_id)
    form = CountForm()
    form.name_for(food)
    if request.method == "GET":
        form.begin_as(food, live_food_page.counted_before(records, tank_id))
    return _taken(form, tank_id, "Count", "count", lambda posting: live_food.record_culture_count(
        records, posting=posting, tank_id=tank_id, counts=form.read_counts(),
        sample_ml=form.read_sample_ml(),
        dilution=read_figure(form.dilution.data, "dilution") or 1.0,
        eggs=form.read_eggs(), look=form.read_look(), when=form.read_when(),
        note=form.note.data or ""), food)  # fmt: skip


def _count_copepods(tank_id: int) -> Answer:
    form = CopepodForm()
    return _taken(form, tank_id, "Count", "copepods", lambda posting: live_food.count_copepods(
        records, posting=posting, tank_id=tank_id,
        nauplii=read_whole(form.nauplii.data, "nauplii") or 0,
        copepodites=read_whole(form.copepodites.data, "copepodites") or 0,
        adults=read_whole(form.adults.data, "adults") or 0,
        sample_ml=read_figure(form.sample_ml.data, "sample_ml") or 1.0,
        dilution=read_figure(form.dilution.data, "dilution") or 1.0, when=form.read_when(),
        note=form.note.data or ""))  # fmt: skip


def look(tank_id: int) -> Answer:
    """What its water and its animals showed."""
    form = LookForm()
    return _taken(form, tank_id, "Look", "look", lambda posting: live_food.record_water_look(
        records, posting=posting, tank_id=tank_id, seen=form.read_seen(), when=form.read_when(),
        note=form.note.data or ""))  # fmt: skip


def feed(tank_id: int) -> Answer:
    """It was fed."""
    form = FeedForm()
    items = live_food_shrimp_page.shrimp_list(records, g.room, g.now).fed_from
    form.offer([(item.id, item.name) for item in items])
    if request.method == "GET":
        form.shelf_id.data = items[0].id if items else 0
        form.amount.data = request.args.get("amount", "")[:20]
    return _taken(form, tank_id, "Feed", "feed", lambda posting: live_food.feed_culture(
        records, posting=posting, tank_id=tank_id, what=form.what.data or "",
        shelf_id=form.read_shelf_id() or _open_tin(items),
        amount=read_figure(form.amount.data, "amount"), unit=form.unit.data or "mL",
        when=form.read_when(), note=form.note.data or ""))  # fmt: skip


def _open_tin(items: Sequence[ShelfItem]) -> int | None:
    """The paste a tap on Today takes without asking: the one that is fed from first."""
    return items[0].id if items and request.form.get("from_open") else None


def harvest(tank_id: int) -> Answer:
    """It was sieved and made up again."""
    form = HarvestForm()
    if request.method == "GET":
        form.litres.data = request.args.get("litres", "")[:20]
    return _taken(form, tank_id, "Sieve", "harvest", lambda posting: live_food.harvest_culture(
        records, posting=posting, tank_id=tank_id,
        litres=read_figure(form.litres.data, "litres"),
        animals=read_many(form.animals.data, "animals"), into=form.into.data or "",
        when=form.read_when(), note=form.note.data or ""))  # fmt: skip


def lost(tank_id: int) -> Answer:
    """The culture is lost."""
    form = LostForm()
    return _taken(form, tank_id, "Lost", "lost", lambda posting: live_food.record_crash(
        records, posting=posting, tank_id=tank_id, reason=form.reason.data or "",
        when=form.read_when(), note=form.note.data or ""))  # fmt: skip


def _taken(
    form: EntryForm, tank_id: int, heading: str, part: str, record: Callable[[Posting], int],
    food: Cultured | None = None,
) -> Answer:  # fmt: skip
    default_days(form, g.now)
    label = live_food_page.vessel_label(records, tank_id)
    return take(
        form,
        record=record,
        then=lambda _fact_id: back_or(url_for("live_food.show", tank_id=tank_id)),
        show=lambda: render_template(
            "live_food/form.html",
            page=vessel_presenter.form_of(form, tank_id, label, heading, part, food or ""),
        ),
        said="Written down.",
    )
