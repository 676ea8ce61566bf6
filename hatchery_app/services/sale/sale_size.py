"""From which length fish are sold here, and how many of a cohort have it as far as is known."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.cohort.free_to_sell import OfSaleSize
from hatchery_app.domain.cohort.length_sample import FEWEST_LENGTHS
from hatchery_app.domain.species.species import Species
from hatchery_app.models.cohort import SaleSize
from hatchery_app.models.entry import known
from hatchery_app.services.cohort.cohort_facts import SampleLine
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.species import library
from hatchery_app.services.stock_book.holding_facts import HoldingFacts


@dataclass(frozen=True)
class SaleSizeNow:
    """The length a species is sold from: the room's own figure, else the species file's."""

    length_mm: float | None
    source: str


def sale_size_now(session: Session, species_key: str, species: Species | None) -> SaleSizeNow:
    """From which length a species is sold here. One statement."""
    return _size_of(_own(session, (species_key,)).get(species_key), species)


def _own(session: Session, species_keys: Iterable[str]) -> dict[str, float]:
    """The room's own figures, the newest of each species."""
    rows = session.execute(
        select(SaleSize.species_key, SaleSize.length_mm)
        .where(known(), SaleSize.species_key.in_(sorted(set(species_keys))))
        .order_by(SaleSize.happened_latest, SaleSize.seq)
    )
    return {row.species_key: row.length_mm for row in rows}


def _size_of(own_mm: float | None, species: Species | None) -> SaleSizeNow:
    if own_mm is not None:
        return SaleSizeNow(own_mm, "as this room sells them")
    if species is None or species.growth.sale_low_mm is None:
        return SaleSizeNow(None, "no figure for this species: say from which length you sell")
    figure = species.figure("growth.sale_length")
    source = f"{figure.mark}, {figure.source}" if figure is not None else "species file"
    return SaleSizeNow(species.growth.sale_low_mm, source)


def of_sale_size(
    session: Session, room: RoomNow, cohorts: Iterable[HoldingFacts],
    samples: Mapping[int, Sequence[SampleLine]], now: datetime,
) -> dict[int, OfSaleSize]:  # fmt: skip
    """What is known of each cohort's fish having sale size, where one is said. One statement."""
    listed = list(cohorts)
    own = _own(session, (one.species_key for one in listed))
    found: dict[int, OfSaleSize] = {}
    for one in listed:
        species = library.species_or_none(one.species_key)
        length = _size_of(own.get(one.species_key), species).length_mm
        if length is not None:
            found[one.id] = _known_of(one, length, species, samples.get(one.id, ()), room, now)
    return found


def _known_of(
    one: HoldingFacts, length: float, species: Species | None, samples: Sequence[SampleLine],
    room: RoomNow, now: datetime,
) -> OfSaleSize:  # fmt: skip
    enough = [line.sample for line in samples if len(line.sample.lengths_mm) >= FEWEST_LENGTHS]
    if enough:
        last = enough[-1]
        fish = len(last.lengths_mm)
        return OfSaleSize(
            length, fish, fish - last.under(length),
            room.room_time.local(last.when.latest).date(), last.by_eye,
        )  # fmt: skip
    fit = species.growth.length_fit if species is not None else None
    if fit is None or one.hatched is None:
        return OfSaleSize(length)
    oldest = (room.room_time.local(now).date() - one.hatched[0].evening).days
    return OfSaleSize(length, length_by_age_mm=fit.length_mm(oldest))
