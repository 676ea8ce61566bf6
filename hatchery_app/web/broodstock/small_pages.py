"""The lists that forms of the broodstock choose from, and the page of a small form."""

from dataclasses import dataclass, field
from typing import Any

from flask import g, render_template

from hatchery_app.database import session as records
from hatchery_app.services.broodstock import broodstock_choices
from hatchery_app.web.when_fields import default_days


@dataclass(frozen=True)
class FormPage:
    """A form of a few parts: (how it is shown, field), in order.

    `save` is what the main button says; `folded` are parts that few need.
    """

    heading: str
    form: Any
    parts: tuple[tuple[str, Any], ...]
    back: str
    save: str = "Save"
    lead: str = ""
    has_when: bool = True
    folded: tuple[tuple[str, Any], ...] = field(default=())


def small_form(page: FormPage) -> str:
    """Show a form of the broodstock."""
    if page.has_when:
        default_days(page.form, g.now)
    return render_template("broodstock/form.html", page=page)


def offers() -> broodstock_choices.Choices:
    """What there is to choose from now."""
    return broodstock_choices.choices(records, now=g.now)
