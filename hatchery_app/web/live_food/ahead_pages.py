"""Food for the weeks ahead, and culture poured from one vessel into another."""

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.live_food.vessel import KeptAs
from hatchery_app.services.live_food import live_food, live_food_ahead, live_food_page
from hatchery_app.services.species.library import library
from hatchery_app.services.today import today_facts
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.services.today.today_food import food_today
from hatchery_app.web.addresses import back_or
from hatchery_app.web.entry_form import take
from hatchery_app.web.live_food import ahead_presenter, vessel_presenter
from hatchery_app.web.live_food.forms import SeedForm, read_figure
from hatchery_app.web.when_fields import default_days

Answer = Response | str | tuple[str, int]


def _facts() -> DayFacts:
    return today_facts.load_day(records, library(), room=g.room, now=g.now)


def show() -> str:
    """Three weeks of food: what lacks when, and what to do by then."""
    facts = _facts()
    found = live_food_ahead.food_ahead(records, facts, food_today(facts))
    return render_template("live_food/ahead_show.html", page=ahead_presenter.shown(found))


def seed(tank_id: int) -> Answer:
    """Culture of another vessel is poured into this one, which begins with it."""
    form, label = SeedForm(), live_food_page.vessel_label(records, tank_id)
    default_days(form, g.now)
    vessels = live_food_page.other_vessels(_facts(), tank_id)
    form.from_tank.choices = [one for one in vessels if one[0] != tank_id]
    if request.method == "GET":
        form.from_tank.data = request.args.get("from_tank", type=int)
        form.litres.data = request.args.get("litres", "")[:20]
    return take(
        form,
        record=lambda posting: live_food.seed_culture(
            records, posting=posting, tank_id=tank_id, from_tank_id=form.from_tank.data or 0,
            litres=read_figure(form.litres.data, "litres"), kept_as=KeptAs(form.kept_as.data),
            when=form.read_when(), note=form.note.data or ""),
        then=lambda _fact_id: back_or(url_for("live_food.show", tank_id=tank_id)),
        show=lambda: render_template(
            "live_food/form.html",
            page=vessel_presenter.form_of(form, tank_id, label, "Seed", "seed")),
        said="Written down. Count it tomorrow: until then it counts as nothing.",
    )  # fmt: skip
