"""The broodstock as its pages read it: fish, pairs and clutches together, at one moment."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.broodstock import bars_at, species_at
from hatchery_app.domain.broodstock.kinship import Pedigree
from hatchery_app.domain.broodstock.pairing import EndedBecause, PairLink
from hatchery_app.domain.broodstock.sex_state import RoleInClutch
from hatchery_app.domain.broodstock.stock_step_in import BreedingStock
from hatchery_app.domain.spawn.next_spawn import NextSpawn, next_spawn
from hatchery_app.domain.spawn.pooled_rhythm import AcrossPairs, rhythm_across_pairs
from hatchery_app.domain.spawn.spawn_rhythm import (
    FIRST_COUNTED_CLUTCH,
    CountedFrom,
    Gap,
    Spawn,
    gap_days,
    gaps,
)
from hatchery_app.domain.species.species import Species
from hatchery_app.services.broodstock.stock_record import PairRecord, StockRecord, load_stock
from hatchery_app.services.clutch.brood_clutches import (
    BroodClutch,
    load_brood_clutches,
    parents_by_clutch,
    roles_by_fish,
    shown_by_clutches,
    spawns_of,
)
from hatchery_app.services.species.library import library
from hatchery_app.services.tank.tank import set_points_of


@dataclass(frozen=True)
class StockView:
    """All of the broodstock at a moment. Sex states hold what clutches showed, too."""

    stock: StockRecord
    clutches: tuple[BroodClutch, ...]
    set_points_c: Mapping[int, float]
    now: datetime

    @cached_property
    def pedigree(self) -> Pedigree:
        return self.stock.pedigree(parents_by_clutch(self.clutches))

    @cached_property
    def breeding(self) -> BreedingStock:
        return self.stock.breeding_stock(self.pedigree, self.now)

    @cached_property
    def by_pair(self) -> Mapping[int, tuple[BroodClutch, ...]]:
        """Every pair's clutches, oldest first."""
        found: dict[int, list[BroodClutch]] = defaultdict(list)
        for clutch in self.clutches:
            if clutch.pair_id is not None:
                found[clutch.pair_id].append(clutch)
        return {pair_id: tuple(listed) for pair_id, listed in found.items()}

    @cached_property
    def roles(self) -> Mapping[int, tuple[RoleInClutch, ...]]:
        """Every fish's parts in clutches."""
        return roles_by_fish(self.clutches)

    def standing(self) -> tuple[PairRecord, ...]:
        """The pairs that stand now, in walking order of their tanks."""
        pairs = [
            record
            for record in self.stock.pairs.values()
            if record.link.is_pair and record.link.stands_at(self.now)
        ]
        return tuple(sorted(pairs, key=lambda r: (self._walk(r.link), r.link.pair_id)))

    def _walk(self, link: PairLink) -> tuple[bool, int]:
        place = self.stock.place(self.stock.tank_of_pair(link, self.now))
        return place is None, place.walk_order if place is not None else 0

    def species_of(self, link: PairLink) -> Species | None:
        """The species of a pair: its female's, else its male's; None where nobody said."""
        for fish_id in (link.female_id, link.male_id):
            found = library().get(self.stock.species_key(fish_id, self.now))
            if found is not None:
                return found
        return None

    def spawns(self, pair_id: int) -> tuple[Spawn, ...]:
        """A pair's layings, for its rhythm."""
        return spawns_of(self.by_pair.get(pair_id, ()), pair_id)

    def gaps(self, record: PairRecord) -> tuple[Gap, ...]:
        """The gaps between a pair's spawns, oldest first."""
        return gaps(
            self.spawns(record.link.pair_id),
            earlier_clutches=record.earlier_clutches,
            first_counted=_first_counted(self.species_of(record.link)),
        )

    @cached_property
    def _pooled(self) -> Mapping[str, Mapping[CountedFrom, AcrossPairs]]:
        """What the room's pairs of each species say together, by kind of gap."""
        days: dict[tuple[str, CountedFrom], dict[int, Sequence[float]]] = defaultdict(dict)
        for pair_id in self.by_pair:
            record = self.stock.pairs.get(pair_id)
            species = self.species_of(record.link) if record is not None else None
            if record is None or species is None:
                continue
            found = self.gaps(record)
            for kind in CountedFrom:
                days[species.key, kind][pair_id] = gap_days(found, kind)
        pooled: dict[str, dict[CountedFrom, AcrossPairs]] = defaultdict(dict)
        for (key, kind), own in days.items():
            across = rhythm_across_pairs(own)
            if across is not None:
                pooled[key][kind] = across
        return pooled

    def next_spawn(self, record: PairRecord) -> NextSpawn:
        """When a pair may lay next: a window, or why there is none."""
        link, species = record.link, self.species_of(record.link)
        over = link.until is not None and link.until.latest <= self.now
        return next_spawn(
            self.spawns(link.pair_id),
            species.spawning if species is not None else None,
            now=self.now,
            ended=(link.ended_because or EndedBecause.NOT_SAID) if over else None,
            nest_days=self._nest_days(link, species),
            earlier_clutches=record.earlier_clutches,
            room=self._pooled.get(species.key) if species is not None else None,
        )

    def _nest_days(self, link: PairLink, species: Species | None) -> float | None:
        """The usual days from laying to the hatch at the tank's set point."""
        eggs = None if species is None else species.incubation or species.floating
        if eggs is None:
            return None
        tank_id = self.stock.tank_of_pair(link, self.now)
        if tank_id is None or tank_id not in self.set_points_c:
            return None
        return eggs.days_at(self.set_points_c[tank_id])

    def breeding_bars(self, fish_id: int) -> tuple[str, ...]:
        """The reasons that bar a fish now."""
        return bars_at(self.stock.fish_named(fish_id).fish.bars, self.now)

    def species_words(self, fish_id: int) -> str:
        """What a fish is held to be, by its common name, with a cross said."""
        held = species_at(self.stock.fish_named(fish_id).fish.opinions, self.now)
        if held is None or not held.species_key:
            return "species not known"
        found = library().get(held.species_key)
        words = found.common_name if found is not None else held.species_key
        return f"{words} × {held.crossed_with}" if held.crossed_with else words


def _first_counted(species: Species | None) -> int:
    aside = species.spawning.first_clutches_set_aside if species and species.spawning else 0
    return aside + 1 if aside else FIRST_COUNTED_CLUTCH


def load_view(session: Session, now: datetime) -> StockView:
    """The whole broodstock with its clutches. Twenty-one statements, whatever is in it."""
    stock, clutches = load_stock(session), load_brood_clutches(session)
    shown = shown_by_clutches(clutches)
    fish = {
        fish_id: replace(
            record,
            fish=replace(record.fish, sexes=(*record.fish.sexes, *shown.get(fish_id, ()))),
        )
        for fish_id, record in stock.fish.items()
    }
    set_points = set_points_of(session, list(stock.places), now)
    return StockView(
        replace(stock, fish=fish),
        clutches,
        {tank_id: dated[-1][1] for tank_id, dated in set_points.items()},
        now,
    )
