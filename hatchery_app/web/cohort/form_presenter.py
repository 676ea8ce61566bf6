"""The forms of a cohort: their fields in order, and what the keeper wants to know meanwhile."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from flask import url_for

from hatchery_app.domain.when import RoomTime
from hatchery_app.services.cohort.cohort_page import CohortPage
from hatchery_app.web.cohort import size_presenter
from hatchery_app.web.cohort.forms import (
    AsideForm,
    CountForm,
    FreeForm,
    GoneForm,
    GradesForm,
    HereBeforeForm,
    KeepForm,
    LengthsForm,
    MoveForm,
    SaleSizeForm,
    YoungForm,
)
from hatchery_app.web.when_fields import WhenFields

BARS = (
    "Bars fill in late: the first at 9 to 20 dph or later, by species, the others after it. A "
    "grade holds for its day; grade again before you put fish down for their bars."
)
PARTS: dict[type, tuple[tuple[str, str], ...]] = {
    CountForm: (("count", "how"), ("how_many", "bodies")),
    LengthsForm: (
        ("long", "lengths"), ("choice", "measure"), ("tick", "by_eye"), ("field", "weighed_g"),
        ("how_many", "weighed_fish"),
    ),
    SaleSizeForm: (("field", "length"),),
    AsideForm: (("choice", "why"), ("how_many", "number"), ("field", "reason")),
    FreeForm: (("how_many", "number"),),
    GoneForm: (
        ("choice", "door"), ("how_many", "number"), ("tick", "everyone"), ("field", "reason"),
        ("pick", "out_of"),
    ),
    MoveForm: (("choice", "which"), ("how_many", "number"), ("pick", "tank_1")),
    KeepForm: (("field", "names"), ("pick", "tank_id"), ("pick", "out_of")),
    HereBeforeForm: (
        ("pick", "tank_1"), ("pick", "species_key"), ("how_many", "number"), ("field", "hatched"),
        ("field", "lengths"), ("tick", "by_eye"), ("field", "name"),
    ),
    YoungForm: (
        ("pick", "hatch_id"), ("pick", "tank_1"), ("how_many", "number"), ("field", "name"),
    ),
}  # fmt: skip
"""Of each form, its fields in order with the macro that shows them."""


@dataclass(frozen=True)
class FormPage:
    """A form about a cohort; `parts` are (macro, field) in order."""

    heading: str
    lead: str
    form: Any
    parts: tuple[tuple[str, Any], ...]
    rows: tuple[tuple[Any, ...], ...]
    has_when: bool
    hint: str
    back: str


def form(page: CohortPage, form: Any, heading: str, room_time: RoomTime) -> FormPage:
    """A form about one cohort, with how many there are and what is free."""
    lead = f"{page.holding.full_name}: {page.balance.now.said()}; {page.free.said()}."
    hint = BARS if isinstance(form, GradesForm) else _hint(page, form, room_time)
    return _form_page(heading, lead, form, hint, url_for("cohort.show", cohort_id=page.holding.id))


def larvae(form: Any, name: str, back: str) -> FormPage:
    """The form that sets a whole batch of larvae aside; it holds for all that comes of them."""
    hint = "Set aside whole they stay so in grow-out, wherever they are moved, until set free."
    return _form_page("Set aside", f"{name}.", form, hint, back)


def begun(form: Any, heading: str) -> FormPage:
    """A form by which a cohort begins."""
    return _form_page(heading, "", form, "", url_for("cohort.list"))


def _form_page(heading: str, lead: str, form: Any, hint: str, back: str) -> FormPage:
    parts: Iterable[tuple[str, str]] = PARTS.get(type(form), ())
    rows = tuple(form.rows) if isinstance(form, GradesForm) else ()
    return FormPage(
        heading, lead, form, tuple((macro, getattr(form, name)) for macro, name in parts), rows,
        isinstance(form, WhenFields), hint, back,
    )  # fmt: skip


def _hint(page: CohortPage, form: Any, room_time: RoomTime) -> str:
    if isinstance(form, AsideForm):
        return size_presenter.small(page, room_time)
    if isinstance(form, SaleSizeForm):
        species = page.species.scientific_name if page.species else "this species"
        return f"Holds for all {species} of the room from now on."
    return ""
