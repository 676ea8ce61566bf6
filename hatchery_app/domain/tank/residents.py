"""What lives in a tank: a pair, fish, a group, eggs with their night, larvae or settled fish."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Kind(StrEnum):
    """What kind of life it is, in the order in which a tank's line names them."""

    PAIR = "pair"
    FISH = "fish"
    GROUP = "group"
    EGGS = "eggs"
    LARVAE = "larvae"
    SETTLED = "settled"


@dataclass(frozen=True)
class Resident:
    """One pair, fish, group, clutch or batch that lives in a tank.

    `name` is what the keeper calls it; `night` the night of its eggs now, `dph` the age of its
    young now, None where the hatch is not known. `since` is when it came into this tank.
    """

    kind: Kind
    fact_id: int
    name: str
    species_key: str
    since: datetime
    night: int | None = None
    dph: int | None = None

    @property
    def words(self) -> str:
        """ "Rusk and Tansy", "eggs night 6", "larvae 4 dph", "settled 32 dph"."""
        if self.kind is Kind.EGGS:
            return "eggs" if self.night is None else f"eggs night {self.night}"
        if self.kind in (Kind.LARVAE, Kind.SETTLED):
            return f"{self.kind}" if self.dph is None else f"{self.kind} {self.dph} dph"
        return self.name

    @property
    def life_stage(self) -> str:
        """The life stage whose water it needs; eggs need that of the larvae to come."""
        if self.kind in (Kind.EGGS, Kind.LARVAE):
            return "larvae"
        return "grow-out" if self.kind is Kind.SETTLED else "broodstock"


@dataclass(frozen=True)
class Living:
    """What lives in one tank, and when the last that left it did (None: nobody, or not known)."""

    residents: tuple[Resident, ...] = ()
    last_left_at: datetime | None = None

    @property
    def words(self) -> str:
        """In one line: "Rusk and Tansy, eggs night 6"; "" where nothing lives there."""
        return ", ".join(resident.words for resident in self.residents)

    @property
    def kinds(self) -> frozenset[Kind]:
        """The kinds of life in the tank."""
        return frozenset(resident.kind for resident in self.residents)

    @property
    def needs(self) -> tuple[tuple[str, str], ...]:
        """Species key and life stage of everything whose water this must be, each once.

        Eggs beside their parents lie in the parents' water.
        """
        grown = self.kinds & {Kind.PAIR, Kind.FISH, Kind.GROUP}
        asking = (one for one in self.residents if not (grown and one.kind is Kind.EGGS))
        return tuple(dict.fromkeys((one.species_key, one.life_stage) for one in asking))


NOBODY = Living()


@dataclass(frozen=True)
class Spell:
    """Time spent in one tank, from `since` until `until` (None: still there)."""

    who: int
    tank_id: int
    since: datetime
    until: datetime | None


def spells(
    placings: Iterable[tuple[int, int, datetime]], ended: dict[int, datetime]
) -> tuple[Spell, ...]:
    """The spells that dated placings (who, tank, since) make, each until the next one of the same.

    `ended` says when somebody left the room altogether. Placings come in order of time; a second
    one into the tank it was in already begins nothing.
    """
    begun: dict[int, list[tuple[int, datetime]]] = {}
    for who, tank_id, since in placings:
        places = begun.setdefault(who, [])
        if not places or places[-1][0] != tank_id:
            places.append((tank_id, since))
    return tuple(spell for who, places in begun.items() for spell in _of(who, places, ended))


def _of(
    who: int, places: Sequence[tuple[int, datetime]], ended: dict[int, datetime]
) -> Iterable[Spell]:
    ends: list[datetime | None] = [since for _, since in places[1:]]
    for (tank_id, since), until in zip(places, [*ends, ended.get(who)], strict=True):
        yield Spell(who, tank_id, since, until)
