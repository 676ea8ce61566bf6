"""Survival: all batches of a species, by age, by stage, and in groups of tanks."""

from flask import g, render_template, request

from hatchery_app.database import session as records
from hatchery_app.services.stock_book import species_survival
from hatchery_app.services.stock_book.rearing_groups import By
from hatchery_app.services.stock_book.species_survival import Asking
from hatchery_app.web import whole_numbers
from hatchery_app.web.stock_book import survival_presenter


def show_list() -> str:
    """The species of which batches were reared."""
    page = survival_presenter.listed(species_survival.species_reared(records))
    return render_template("stock_book/survival_list.html", page=page)


def show(key: str) -> str:
    """One species."""
    asking = _asked()
    found = species_survival.species_survival(records, species_key=key, asking=asking)
    page = survival_presenter.shown(found, g.room.room_time)
    return render_template("stock_book/survival_show.html", page=page)


def _asked() -> Asking:
    """What the address asks of the groups; what it cannot mean is left out."""
    words = request.args.get("by", By.PAIR)
    percent = whole_numbers.read(request.args.get("percent", ""))
    return Asking(
        By(words) if words in tuple(By) else By.PAIR,
        request.args.get("one", ""),
        request.args.get("other", ""),
        whole_numbers.read(request.args.get("dph", "")),
        percent if percent is not None and percent <= 100 else None,
    )
