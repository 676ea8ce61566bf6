"""Where a batch comes from: its clutches, the pairs that laid them, the species and its plan."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.spawn.parents import Parents
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.species.species_file import load_species
from hatchery_app.domain.species.species_text import SpeciesRefused
from hatchery_app.models.broodstock import Fish, Pair
from hatchery_app.models.clutch import Clutch, Laying
from hatchery_app.models.entry import known
from hatchery_app.services.species import library


@dataclass(frozen=True)
class ClutchOrigin:
    """A clutch as a batch names it. `pair` is the pair in words, "" where none is recorded."""

    clutch_id: int
    number: int
    part: str
    species_key: str
    pair_id: int | None
    pair: str
    line: str

    @property
    def name(self) -> str:
        """What the keeper calls it."""
        return f"Clutch {self.number}" + (f", {self.part}" if self.part else "")


def origins_of(session: Session, clutch_ids: Iterable[int]) -> dict[int, ClutchOrigin]:
    """Some clutches by id, with their pairs in words. Four statements."""
    clutches = session.scalars(
        select(Clutch).where(known(), Clutch.fact_id.in_(sorted(set(clutch_ids))))
    ).all()
    laying_ids = sorted({clutch.laying_id for clutch in clutches})
    layings = {
        row.fact: row
        for row in session.scalars(select(Laying).where(known(), Laying.fact_id.in_(laying_ids)))
    }
    pair_ids = sorted({row.pair_id for row in layings.values() if row.pair_id is not None})
    pairs = {
        row.fact: row
        for row in session.scalars(select(Pair).where(known(), Pair.fact_id.in_(pair_ids)))
    }
    parents = {fish for row in layings.values() for fish in _single(row.parents)}
    of_pairs = {fish for row in pairs.values() for fish in (row.female_id, row.male_id)}
    fish = {
        row.fact: row
        for row in session.scalars(
            select(Fish).where(known(), Fish.fact_id.in_(sorted(parents | of_pairs)))
        )
    }
    return {
        clutch.fact: _origin(clutch, layings[clutch.laying_id], pairs, fish)
        for clutch in clutches
        if clutch.laying_id in layings
    }


def _single(parents: Parents) -> tuple[int, ...]:
    return (*parents.female.fish_ids, *parents.male.fish_ids)


def _origin(
    clutch: Clutch, laying: Laying, pairs: Mapping[int, Pair], fish: Mapping[int, Fish]
) -> ClutchOrigin:
    pair = pairs.get(laying.pair_id or 0)
    named = [fish[one].name for one in _single(laying.parents) if one in fish]
    words = (pair.name if pair is not None else "") or " × ".join(named)
    varieties = {fish[one].variety for one in _single(laying.parents) if one in fish}
    return ClutchOrigin(
        clutch.fact, clutch.number, clutch.part, laying.species_key, laying.pair_id, words,
        " × ".join(sorted(variety for variety in varieties if variety)),
    )  # fmt: skip


def species_kept(protocol: str, species_key: str) -> Species | None:
    """The species as a batch began with it: its own text, else what the library says today."""
    today = library.species_or_none(species_key)
    if not protocol or (today is not None and today.text == protocol):
        return today
    return _read(protocol, species_key)


@lru_cache(maxsize=64)
def _read(protocol: str, species_key: str) -> Species | None:
    try:
        return load_species(protocol, f"{species_key}.toml")
    except SpeciesRefused:
        return library.species_or_none(species_key)  # a text from before the reader grew stricter


def protocol_now(species_key: str) -> str:
    """The text a batch that begins now keeps."""
    species = library.species_or_none(species_key)
    return species.text if species is not None else ""
