"""Shows. One package a room: its URL table, pages, forms and presenter."""

from importlib import import_module

from flask import Flask

from hatchery_app.web import (
    addresses,
    daily_copy,
    door,
    errors,
    filters,
    headers,
    host_names,
    night,
    whole_numbers,
)

ROOMS = (
    "broodstock", "spawn", "clutch", "larval_tank", "cohort", "sale", "today", "live_food",
    "tank", "species", "stock_book", "records",
)  # fmt: skip
"""The rooms that have pages, in the order of the navigation's table of contents."""


def setup(app: Flask) -> None:
    """Hang the pages into the application: rooms, door, filters, headers, error pages."""
    whole_numbers.setup(app)
    for word in ROOMS:
        app.register_blueprint(import_module(f"hatchery_app.web.{word}").blueprint)
    host_names.setup(app)
    door.setup(app)
    filters.setup(app)
    addresses.setup(app)
    night.setup(app)
    headers.setup(app)
    errors.setup(app)
    daily_copy.setup(app)
