"""The clutches of the broodstock in a few columns: enough for a row, a rhythm and a pedigree.

A pair's whole history is shown, so nothing heavy is read here: no readings, no checks but the
eyes that show eggs to be fertile.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.sex_state import Role, RoleInClutch, SexState, state_shown_by
from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome, EggMove, Sign
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.parents import Parents
from hatchery_app.domain.spawn.spawn_rhythm import NestEmptied, Spawn
from hatchery_app.domain.when import When
from hatchery_app.models.clutch import Clutch, ClutchCheck, ClutchEnded, EggsMoved, Hatch, Laying
from hatchery_app.models.entry import known

EMPTIED: Mapping[ClutchOutcome, NestEmptied] = {
    ClutchOutcome.HATCHED: NestEmptied.HATCHED,
    ClutchOutcome.EATEN: NestEmptied.EATEN,
    ClutchOutcome.DROPPED: NestEmptied.DROPPED,
}
"""Other ends leave an empty nest too; how is then not one of the four words."""


@dataclass(frozen=True)
class BroodClutch:
    """One clutch in its pair's row. `larvae` adds up what hatched where that was counted."""

    clutch_id: int
    laying_id: int
    number: int
    part: str
    pair_id: int | None
    parents: Parents
    species_key: str
    tank_id: int
    laid: When
    eggs: HowMany
    pulled: When | None
    hatched: tuple[When, ...]
    larvae: HowMany | None
    outcome: ClutchOutcome | None
    ended: When | None
    are_fertile: bool | None

    @property
    def is_open(self) -> bool:
        """Whether eggs of it may be left."""
        return self.outcome is None

    @property
    def name(self) -> str:
        """What the keeper calls it."""
        return f"Clutch {self.number}" + (f", {self.part}" if self.part else "")

    @property
    def nest_empty(self) -> tuple[When, NestEmptied | None] | None:
        """When and how the nest lost these eggs, None while it has them."""
        if self.pulled is not None:
            return self.pulled, NestEmptied.PULLED
        if self.ended is not None and self.outcome is not None:
            return self.ended, EMPTIED.get(self.outcome)
        return None


def load_brood_clutches(session: Session) -> tuple[BroodClutch, ...]:
    """Every clutch of the room, oldest laying first. Six statements."""
    layings = {row.fact: row for row in session.scalars(select(Laying).where(known()))}
    parts = session.execute(
        select(Clutch.fact_id, Clutch.laying_id, Clutch.number, Clutch.part).where(known())
    ).all()
    pulled = _first_by_clutch(
        session, EggsMoved, EggsMoved.why.in_((EggMove.PULLED, EggMove.GIVEN))
    )
    hatches: dict[int, list[Hatch]] = defaultdict(list)
    for hatch in session.scalars(select(Hatch).where(known()).order_by(Hatch.happened_latest)):
        hatches[hatch.clutch_id].append(hatch)
    ended = {row.clutch_id: row for row in session.scalars(select(ClutchEnded).where(known()))}
    eyed = {
        clutch_id
        for (clutch_id,) in session.execute(
            select(ClutchCheck.clutch_id).where(
                known(),
                ClutchCheck.check_kind == CheckKind.SIGN,
                ClutchCheck.sign.in_((Sign.EYES, Sign.SILVER)),
                ClutchCheck.seen.is_(True),
            )
        )
    }
    found = [
        _clutch(row, layings[row.laying_id], pulled.get(row.fact_id), hatches[row.fact_id],
                ended.get(row.fact_id), row.fact_id in eyed)
        for row in parts
        if row.laying_id in layings
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda c: (c.laid.earliest, c.number)))


def _first_by_clutch(session: Session, kind: Any, *wanted: Any) -> dict[int, When]:
    rows = session.scalars(
        select(kind).where(known(), *wanted).order_by(kind.happened_latest.desc())
    )
    return {row.clutch_id: row.when for row in rows}


def _clutch(
    row: Any,
    laying: Laying,
    pulled: When | None,
    hatches: Sequence[Hatch],
    ended: ClutchEnded | None,
    is_eyed: bool,
) -> BroodClutch:
    return BroodClutch(
        clutch_id=row.fact_id,
        laying_id=row.laying_id,
        number=row.number,
        part=row.part,
        pair_id=laying.pair_id,
        parents=laying.parents,
        species_key=laying.species_key,
        tank_id=laying.tank_id,
        laid=laying.when,
        eggs=laying.how_many,
        pulled=pulled,
        hatched=tuple(hatch.when for hatch in hatches),
        larvae=_added(hatches),
        outcome=ended.outcome if ended else None,
        ended=ended.when if ended else None,
        are_fertile=True if hatches or is_eyed else None,
    )


def _added(hatches: Sequence[Hatch]) -> HowMany | None:
    """What hatched in all, None where a part of it has no number."""
    numbers = [hatch.how_many for hatch in hatches]
    if not numbers or any(number.best is None for number in numbers):
        return None
    total, *others = numbers
    for number in others:
        total = total + number
    return total


def spawns_of(clutches: Iterable[BroodClutch], pair_id: int) -> tuple[Spawn, ...]:
    """A pair's layings for its rhythm; of a laying in parts the nest is empty with the last."""
    by_laying: dict[int, list[BroodClutch]] = defaultdict(list)
    for clutch in clutches:
        if clutch.pair_id == pair_id:
            by_laying[clutch.laying_id].append(clutch)
    return tuple(_spawn(parts, pair_id) for parts in by_laying.values())


def _spawn(parts: Sequence[BroodClutch], pair_id: int) -> Spawn:
    first = parts[0]
    emptied, how = None, None
    ends = [part.nest_empty for part in parts]
    known_ends = [end for end in ends if end is not None]
    if len(known_ends) == len(parts):
        emptied, how = max(known_ends, key=lambda end: end[0].latest)
    return Spawn(
        first.clutch_id, pair_id, first.laid, emptied, how, eggs=first.eggs.best
    )


def parents_by_clutch(clutches: Iterable[BroodClutch]) -> dict[int, Parents]:
    """The parents of each clutch, for the fish that were kept from it."""
    return {clutch.clutch_id: clutch.parents for clutch in clutches}


def roles_by_fish(clutches: Iterable[BroodClutch]) -> dict[int, tuple[RoleInClutch, ...]]:
    """Every fish's certain parts in clutches, one a laying. "One of" is no certain part."""
    roles: dict[int, dict[int, RoleInClutch]] = defaultdict(dict)
    for clutch in clutches:
        for role, parent in ((Role.DAM, clutch.parents.female), (Role.SIRE, clutch.parents.male)):
            if len(parent.fish_ids) != 1:
                continue
            of_fish = roles[parent.fish_ids[0]]
            earlier = of_fish.get(clutch.laying_id)
            fertile = clutch.are_fertile or (earlier.eggs_were_fertile if earlier else None)
            of_fish[clutch.laying_id] = RoleInClutch(clutch.clutch_id, role, clutch.laid, fertile)
    return {fish_id: tuple(by_laying.values()) for fish_id, by_laying in roles.items()}


def shown_by_clutches(clutches: Iterable[BroodClutch]) -> dict[int, tuple[SexState, ...]]:
    """What every fish's parts in clutches show of its sex, dated by the layings."""
    return {
        fish_id: tuple(state_shown_by(part) for part in parts)
        for fish_id, parts in roles_by_fish(clutches).items()
    }


def of_parent(clutches: Iterable[BroodClutch], fish_id: int) -> tuple[BroodClutch, ...]:
    """The clutches a fish is, or may be, a parent of."""
    return tuple(c for c in clutches if fish_id in c.parents.candidates)
