"""Grown fish found to be of another clutch: said of the batch as which they came in."""

from dataclasses import dataclass
from typing import Any

from flask import g, render_template, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.services.cohort import cohort_page
from hatchery_app.services.stock_book import other_clutch
from hatchery_app.services.stock_book.holding_facts import HoldingFacts
from hatchery_app.web.addresses import address_of
from hatchery_app.web.entry_form import take
from hatchery_app.web.larval_tank.forms import OtherClutchForm
from hatchery_app.web.when_fields import default_days

Answer = Response | str | tuple[str, int]


@dataclass(frozen=True)
class OtherClutchPage:
    """The form where the fish came in as one batch, else the `batches` to choose from: (name,
    address)."""

    heading: str
    lead: str
    form: Any
    batches: tuple[tuple[str, str], ...]
    back: str


def say(cohort_id: int) -> Answer:
    """They are of another clutch than was thought; all that follows is shown first."""
    held = cohort_page.cohort_named(records, cohort_id)
    came = other_clutch.came_as(records, g.room, holding_id=cohort_id)
    if len(came) != 1:
        page = _page(held, came, None)
        return render_template("cohort/other_clutch_form.html", page=page)
    form = OtherClutchForm()
    offered = other_clutch.hatches_offered(records, holding_id=came[0].id)
    form.hatch_id.choices = {"0": "choose"} | {str(one.hatch_id): one.said for one in offered}
    default_days(form, g.now)
    page = _page(held, came, form)
    return take(
        form,
        record=lambda posting: other_clutch.record_other_clutch(
            records, posting=posting, holding_id=came[0].id, hatch_id=form.hatch_id.data or 0,
            when=form.read_when(), note=form.note.data or ""),
        then=lambda fact_id: url_for("records.entry", fact_id=fact_id),
        show=lambda: render_template("cohort/other_clutch_form.html", page=page),
        said="They are of that clutch now. Withdrawn here, all of it goes back.",
    )  # fmt: skip


def _page(
    held: HoldingFacts, came: tuple[HoldingFacts, ...], form: OtherClutchForm | None
) -> OtherClutchPage:
    lead = f"{held.full_name}."
    if form is not None and came[0].id != held.id:
        lead = (
            f"{held.full_name} came in as {came[0].name}: that batch changes, and with it all"
            " that came of it."
        )
    elif form is None:
        lead = (
            f"{held.full_name} came in as several batches. Choose the one that was mistaken."
            if came else f"Nobody wrote down how {held.full_name} came in."
        )  # fmt: skip
    batches = tuple((one.full_name, _address(one)) for one in came) if form is None else ()
    back = url_for("cohort.show", cohort_id=held.id)
    return OtherClutchPage("Of another clutch", lead, form, batches, back)


def _address(one: HoldingFacts) -> str:
    if one.stage is Stage.LARVAE:
        return address_of("larval_tank.other_clutch", holding_id=one.id)
    return address_of("cohort.other_clutch", cohort_id=one.id)
