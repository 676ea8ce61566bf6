"""Addresses of rooms that may not have pages."""

from functools import lru_cache

from flask import Flask, current_app, request, url_for
from markupsafe import Markup

from hatchery_app.domain.today.schedule import NAME_PATTERN, Round

AHEAD = "ahead"


def setup(app: Flask) -> None:
    """Let every template name the files it is drawn and driven by."""
    app.add_template_global(static_file)


def static_file(name: str) -> str:
    """The address of a stylesheet, script or picture: every page names fifteen of them."""
    return _static_file(name, request.script_root)


@lru_cache(maxsize=256)
def _static_file(name: str, _root: str) -> str:
    return url_for("static", filename=name)


def address_of(endpoint: str, **values: int | str) -> str:
    """The address of a page, "" where this program has no such page."""
    if endpoint not in current_app.view_functions:
        return ""
    return url_for(endpoint, **values)  # type: ignore[arg-type]


def linked(words: str, endpoint: str, **values: int | str) -> str:
    """The words as a link to a page; the bare words where this program has no such page."""
    address = address_of(endpoint, **values)
    return Markup('<a href="{}">{}</a>').format(address, words) if address and words else words


def back_or(address: str) -> str:
    """Where a tap came from, a round of Today or the food ahead; else that address."""
    came_from = request.form.get("back", "")
    if came_from in {each.value for each in Round}:
        return back_to_line(came_from)
    return url_for("live_food.ahead") if came_from == AHEAD else address


def back_to_line(round_word: str, line: str = "") -> str:
    """Today at a round and there at a line of work: the page opens the fold that it is in.

    The line is `line`, else the one that the form names, which is where the finger goes next;
    without one the page opens at the head of the round.
    """
    named = line or request.form.get("line", "")
    if not NAME_PATTERN.fullmatch(named):
        return url_for("today.show", round=round_word, _anchor="round")
    return url_for("today.show", round=round_word, open=named, _anchor=named)
