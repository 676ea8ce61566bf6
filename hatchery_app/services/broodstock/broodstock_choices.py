"""What forms of the broodstock offer to choose from: fish, groups, tanks, species."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from hatchery_app.services.broodstock.stock_record import load_stock
from hatchery_app.services.species.library import species_names


@dataclass(frozen=True)
class Choices:
    """Labels by id. `here` are the fish in the room now, `fish` all that ever were."""

    fish: Mapping[int, str]
    here: Mapping[int, str]
    groups: Mapping[int, str]
    tanks: Mapping[str, str]
    species: Mapping[str, str]


def choices(session: Session, *, now: datetime) -> Choices:
    """Everything there is to choose from, tanks in walking order."""
    stock = load_stock(session)
    labels = {ident: stock.labels[ident] for ident in stock.fish}
    labels = dict(sorted(labels.items(), key=lambda item: item[1].casefold()))
    here = {
        ident: _with_place(label, stock.place_words(ident, now))
        for ident, label in labels.items()
        if stock.fish[ident].fish.is_here_at(now)
    }
    walk = sorted(stock.places.values(), key=lambda p: (p.walk_order, p.label))
    return Choices(
        fish=labels,
        here=here,
        groups={ident: stock.labels[ident] for ident in stock.groups},
        tanks={str(place.tank_id): place.label for place in walk},
        species=species_names(),
    )


def _with_place(label: str, place: str) -> str:
    return f"{label}, {place}" if place else label
