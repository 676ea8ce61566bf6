"""Addresses of rooms that may not have pages."""

from flask import current_app, url_for
from markupsafe import Markup


def address_of(endpoint: str, **values: int | str) -> str:
    """The address of a page, "" where this program has no such page."""
    if endpoint not in current_app.view_functions:
        return ""
    return url_for(endpoint, **values)  # type: ignore[arg-type]


def linked(words: str, endpoint: str, **values: int | str) -> str:
    """The words as a link to a page; the bare words where this program has no such page."""
    address = address_of(endpoint, **values)
    return Markup('<a href="{}">{}</a>').format(address, words) if address and words else words
