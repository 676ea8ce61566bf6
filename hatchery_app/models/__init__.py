"""Stores. Importing this package makes every table known to the one metadata."""

from hatchery_app.models import (
    account,
    brine_shrimp,
    broodstock,
    clutch,
    cohort,
    counting,
    entry,
    larval_tank,
    live_food,
    room,
    sale,
    shelf,
    stock_book,
    tank,
    today,
    treatment,
)

__all__ = [
    "account",
    "brine_shrimp",
    "broodstock",
    "clutch",
    "cohort",
    "counting",
    "entry",
    "larval_tank",
    "live_food",
    "room",
    "sale",
    "shelf",
    "stock_book",
    "tank",
    "today",
    "treatment",
]
