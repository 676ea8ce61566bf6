"""The same question for the whole stock: who could step in for each pair, and who for none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from hatchery_app.domain.broodstock.body_length import (
    SizeCompared,
    compared_at,
    length_at,
    size_ratio,
)
from hatchery_app.domain.broodstock.broodstock import Fish, bars_at, species_at
from hatchery_app.domain.broodstock.kinship import Pedigree, kinship_of
from hatchery_app.domain.broodstock.pairing import PairLink, pairs_at
from hatchery_app.domain.broodstock.sex_state import sex_at
from hatchery_app.domain.broodstock.step_in import Candidate, StepIn, Survivor, step_in
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.species.species import SexSystem, Species
from hatchery_app.domain.when import When


@dataclass(frozen=True)
class BreedingStock:
    """The room's breeding fish with all that a choice of mates rests on.

    `places` names where each fish is now; `species` is the library by key. Fish that are gone
    are left out by their own dates, so all fish may be given.
    """

    fish: tuple[Fish, ...]
    links: tuple[PairLink, ...]
    pedigree: Pedigree
    species: Mapping[str, Species]
    compared: tuple[SizeCompared, ...] = ()
    places: Mapping[int, str] = field(default_factory=dict)

    def known(self, fish_id: int) -> Fish:
        """One fish of the stock; NotKnown for any other."""
        for one in self.fish:
            if one.fish_id == fish_id:
                return one
        raise NotKnown(f"Fish {fish_id} is not of this room's breeding stock.")

    def step_in_for(
        self,
        survivor_id: int,
        *,
        now: datetime,
        alone_since: When | None = None,
        is_alone: bool = True,
        leaving_out: frozenset[int] = frozenset(),
    ) -> StepIn:
        """Who could step in beside one fish, ranked on both routes.

        Every fish that is here is a candidate but the survivor and those to be left out.
        """
        survivor = self.known(survivor_id)
        held = species_at(survivor.opinions, now)
        own = self.species.get(held.species_key) if held else None
        others = [
            f
            for f in self.fish
            if f.is_here_at(now) and f.fish_id != survivor_id and f.fish_id not in leaving_out
        ]
        return step_in(
            Survivor(
                survivor_id,
                survivor.name,
                sex_at(survivor.sexes, now),
                self.species_key(survivor, now),
                survivor.variety,
                is_alone,
                alone_since,
            ),
            [self._beside(survivor, f, now) for f in others],
            now=now,
            system=own.sex.system if own else SexSystem.UNDETERMINED,
            ratio_wanted=own.pair.size_ratio_caution if own else None,
            change_may_take=own.sex.change if own else (),
        )

    def before_any_loss(self, now: datetime) -> dict[int, StepIn]:
        """For each standing pair: who could step in beside its male if the female were lost."""
        return {
            pair.pair_id: self.step_in_for(
                pair.male_id, now=now, is_alone=False, leaving_out=pair.fish_ids
            )
            for pair in self.links
            if pair.is_pair and pair.stands_at(now)
        }

    def species_key(self, fish: Fish, now: datetime) -> str:
        """What the fish is held to be; "" where that is not known."""
        held = species_at(fish.opinions, now)
        if held is None:
            return ""
        crossed = f" × {held.crossed_with}" if held.crossed_with else ""
        return f"{held.species_key}{crossed}"

    def _beside(self, survivor: Fish, other: Fish, now: datetime) -> Candidate:
        eye = compared_at(self.compared, other.fish_id, survivor.fish_id, now)
        one, two = length_at(other.lengths, now), length_at(survivor.lengths, now)
        mates = pairs_at(other.fish_id, self.links, now)
        return Candidate(
            other.fish_id,
            other.name,
            sex_at(other.sexes, now),
            self.species_key(other, now),
            larger_by=size_ratio(one, two, eye, now),
            smaller_by=size_ratio(two, one, eye.turned_round if eye else None, now),
            kinship=kinship_of(self.pedigree, other.fish_id, survivor.fish_id),
            age_days=other.age_days(now),
            variety=other.variety,
            place=self.places.get(other.fish_id, ""),
            mate=self._name(mates[0].mate_of(other.fish_id)) if mates else "",
            bars=bars_at(other.bars, now),
        )

    def _name(self, fish_id: int) -> str:
        names = {f.fish_id: f.name for f in self.fish}
        return names.get(fish_id, f"fish {fish_id}")
