"""The list of the broodstock, moving in, and the feeding rota."""

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import broodstock, feeding_rota, pairs_moving_in
from hatchery_app.web.broodstock import presenter
from hatchery_app.web.broodstock.forms import MovingInForm, RotaForm
from hatchery_app.web.broodstock.small_pages import FormPage, offers, small_form
from hatchery_app.web.entry_form import take


def show() -> str:
    """The broodstock in walking order."""
    answer = broodstock.broodstock_list(records, now=g.now)
    return render_template("broodstock/list.html", page=presenter.listed(answer, g.room.room_time))


def moving_in() -> Response | str | tuple[str, int]:
    """Pairs as they sit, several lines in one form."""
    form = MovingInForm()
    offered = offers()
    form.species_key.choices = {"": "not known"} | dict(offered.species)
    lines = form.read_lines(request.form)
    return take(
        form,
        record=lambda posting: pairs_moving_in.move_pairs_in(
            records, posting=posting, lines=lines
        ),
        then=lambda _pair_id: url_for("broodstock.show"),
        show=lambda: render_template(
            "broodstock/moving_in_form.html", page=presenter.moving_in(form, lines, offered)
        ),
        said="The pairs stand in the records.",
    )


def rota() -> Response | str | tuple[str, int]:
    """The foods in the house, from which every pair's meals are worked out."""
    form = RotaForm()
    standing = feeding_rota.rota_now(records, g.room, g.now)
    if request.method == "GET" and standing is not None:
        presenter.fill_rota(form, standing)
    page = FormPage(
        "Feeding rota", form,
        (("field", form.dry), ("field", form.frozen), ("field", form.fresh),
         ("choice", form.meals_a_day), ("long", form.note)),
        url_for("broodstock.show"), has_when=False,
        lead="Dry food is always among it, frozen and fresh come in turn: no pair lives on one "
        "food. Put commas between foods.",
    )  # fmt: skip
    return take(
        form,
        record=lambda posting: feeding_rota.set_rota(
            records, posting=posting, dry=form.dry.data or "", frozen=form.frozen.data or "",
            fresh=form.fresh.data or "", meals_a_day=int(form.meals_a_day.data or 2),
            when=When.exactly(g.now), note=form.note.data or "",
        ),
        then=lambda _rota_id: url_for("broodstock.show"),
        show=lambda: small_form(page),
        said="The rota stands from now on.",
    )  # fmt: skip
