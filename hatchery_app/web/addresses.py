"""Addresses of rooms that may not have pages."""

from flask import current_app, url_for


def address_of(endpoint: str, **values: int | str) -> str:
    """The address of a page, "" where this program has no such page."""
    if endpoint not in current_app.view_functions:
        return ""
    return url_for(endpoint, **values)  # type: ignore[arg-type]
