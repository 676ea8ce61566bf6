"""All that is recorded of the breeding fish, loaded in a fixed number of statements.

The broodstock's list, a fish's page, a pair's page and the page after a loss all ask this one
loader. Fish that are gone stand in it too, with their dates: descent rests on them.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.body_length import LengthSeen, SizeCompared
from hatchery_app.domain.broodstock.broodstock import (
    BroodGroup,
    Fish,
    HealthBar,
    LeftGroup,
    NameHeld,
    species_at,
    told_apart,
)
from hatchery_app.domain.broodstock.kinship import Birth, Pedigree, births_of_clutch
from hatchery_app.domain.broodstock.pairing import PairLink
from hatchery_app.domain.broodstock.sex_state import Sex, SexEvidence, SexState, Standing
from hatchery_app.domain.broodstock.stock_step_in import BreedingStock
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.spawn.parents import Parents
from hatchery_app.domain.when import When
from hatchery_app.models import broodstock as tables
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.tank import Tank
from hatchery_app.services.species.library import library

Row = TypeVar("Row", bound=Entry)


@dataclass(frozen=True)
class Bar:
    """A bar with its name in the records, so that it can be lifted."""

    bar_id: int
    bar: HealthBar


@dataclass(frozen=True)
class Stay:
    """The tank a fish was in from then on."""

    placed_id: int
    tank_id: int
    since: When


@dataclass(frozen=True)
class Leaving:
    """How and when a fish left, by the entry that says so."""

    left_id: int
    when: When
    door: str
    reason: str


@dataclass(frozen=True)
class Place:
    """A tank as the broodstock needs it: its label, its water, its place on the walk."""

    tank_id: int
    label: str
    volume_l: float
    walk_order: int


@dataclass(frozen=True)
class FishRecord:
    """One fish with what stands beside its life: tanks, bars by name, descent, how it left."""

    fish: Fish
    parents: Parents
    clutch_id: int | None
    group_id: int | None
    stays: tuple[Stay, ...]
    bars: tuple[Bar, ...]
    leaving: Leaving | None
    note: str

    def tank_at(self, moment: datetime) -> int | None:
        """The tank it was in then, None where that was never said."""
        begun = [s for s in self.stays if s.since.earliest <= moment]
        return begun[-1].tank_id if begun else None


@dataclass(frozen=True)
class GroupRecord:
    """A group with its tank and species."""

    group: BroodGroup
    species_key: str
    tank_id: int


@dataclass(frozen=True)
class PairRecord:
    """A link with what it is called and how many clutches came before the records."""

    link: PairLink
    name: str
    earlier_clutches: int
    ended_id: int | None
    fish_left_id: int | None


@dataclass(frozen=True)
class StockRecord:
    """The broodstock of the room, gone fish and ended pairs among it."""

    fish: Mapping[int, FishRecord]
    pairs: Mapping[int, PairRecord]
    groups: Mapping[int, GroupRecord]
    places: Mapping[int, Place]
    compared: tuple[SizeCompared, ...]

    @cached_property
    def links(self) -> tuple[PairLink, ...]:
        return tuple(record.link for record in self.pairs.values())

    @cached_property
    def labels(self) -> Mapping[int, str]:
        """Every fish's and group's name, told apart by dates where several share one."""
        held = [
            NameHeld(f.fish.fish_id, f.fish.name, f.fish.arrived, f.fish.gone)
            for f in self.fish.values()
        ]
        groups = {ident: f"the group {g.group.name}" for ident, g in self.groups.items()}
        return told_apart(held) | groups

    def fish_named(self, fish_id: int) -> FishRecord:
        """One fish. Raises NotKnown."""
        if fish_id not in self.fish:
            raise NotKnown("That fish does not stand in this room's records.")
        return self.fish[fish_id]

    def pair_named(self, pair_id: int) -> PairRecord:
        """One pair. Raises NotKnown."""
        if pair_id not in self.pairs:
            raise NotKnown("That pair does not stand in this room's records.")
        return self.pairs[pair_id]

    def pair_words(self, pair_id: int) -> str:
        """ "Rusk and Tansy", or the name the pair was given with the two in brackets."""
        record = self.pair_named(pair_id)
        labels = self.labels
        two = " and ".join(
            labels.get(fish_id, "a fish withdrawn since")
            for fish_id in (record.link.female_id, record.link.male_id)
        )
        return f"{record.name} ({two})" if record.name else two

    def tank_of_pair(self, link: PairLink, moment: datetime) -> int | None:
        """The tank of a pair: where its female is, else where its male is.

        Of a fish that left, and of a pair that ended, the tank it was last in together.
        """
        at = moment if link.until is None else min(moment, link.until.earliest)
        for fish_id in (link.female_id, link.male_id):
            record = self.fish.get(fish_id)
            tank_id = record.tank_at(at) if record is not None else None
            if tank_id is not None:
                return tank_id
        return None

    def place(self, tank_id: int | None) -> Place | None:
        """A tank by its id, None for none or one withdrawn since."""
        return self.places.get(tank_id) if tank_id is not None else None

    def place_words(self, fish_id: int, moment: datetime) -> str:
        """The label of the tank a fish is in, "" where that is not known."""
        place = self.place(self.fish_named(fish_id).tank_at(moment))
        return place.label if place is not None else ""

    def species_key(self, fish_id: int, moment: datetime) -> str:
        """The key of what a fish is held to be then, "" where nobody said."""
        record = self.fish.get(fish_id)
        held = species_at(record.fish.opinions, moment) if record is not None else None
        return held.species_key if held is not None else ""

    def breeding_stock(self, pedigree: Pedigree, now: datetime) -> BreedingStock:
        """The stock as a choice of mates sees it."""
        return BreedingStock(
            fish=tuple(
                replace(record.fish, name=self.labels[fish_id])
                for fish_id, record in self.fish.items()
            ),
            links=self.links,
            pedigree=pedigree,
            species=library(),
            compared=self.compared,
            places={f: label for f in self.fish if (label := self.place_words(f, now))},
        )

    def pedigree(self, parents_of_clutch: Mapping[int, Parents]) -> Pedigree:
        """Every fish with its parents; young kept from one clutch share theirs."""
        return Pedigree(self.births(parents_of_clutch))

    def births(self, parents_of_clutch: Mapping[int, Parents]) -> tuple[Birth, ...]:
        """The entries of the pedigree."""
        kept: dict[int, list[int]] = defaultdict(list)
        births: list[Birth] = []
        for fish_id, record in self.fish.items():
            if record.clutch_id in parents_of_clutch:
                kept[record.clutch_id].append(fish_id)  # type: ignore[index]
            else:
                births.append(birth_of(fish_id, record.parents, record.fish.born))
        for clutch_id, young in kept.items():
            births += births_of_clutch(clutch_id, parents_of_clutch[clutch_id], young)
        return tuple(births)


def birth_of(fish_id: int, parents: Parents, born: When | None = None) -> Birth:
    """One fish's entry in the pedigree: wild is a founder, less than a fish is not known."""
    wild = {parents.female.known_as, parents.male.known_as} == {"wild"}
    return Birth(
        fish_id,
        sires=parents.male_candidates,
        dams=parents.female_candidates,
        is_founder=wild,
        born=born,
    )


def load_stock(session: Session) -> StockRecord:
    """The whole broodstock. Fourteen statements, however many fish there are."""
    loaded = _Loaded.of(session)
    pairs = _pairs(session)
    laid_before = _laid_before(pairs.values())
    return StockRecord(
        fish={
            row.fact: _fish(row, loaded, laid_before.get(row.fact, ()))
            for row in _rows(session, tables.Fish)
        },
        pairs=pairs,
        groups=_groups(session),
        places={
            row.fact: Place(row.fact, row.label, row.volume_l, row.walk_order)
            for row in _rows(session, Tank)
        },
        compared=tuple(
            SizeCompared(row.when, row.fish_id, row.other_id, row.beside)
            for row in _rows(session, tables.SizeLooked)
        ),
    )


def _laid_before(pairs: Iterable[PairRecord]) -> Mapping[int, tuple[SexState, ...]]:
    """Clutches laid before the records prove their female as any laying does."""
    found: dict[int, tuple[SexState, ...]] = {}
    for record in pairs:
        if record.earlier_clutches and record.link.is_pair:
            note = f"{record.earlier_clutches} clutches before these records"
            shown = SexState(
                Sex.FEMALE, Standing.PROVEN, record.link.since, (SexEvidence.LAYING_SEEN,), note
            )
            female = record.link.female_id
            found[female] = (*found.get(female, ()), shown)
    return found


def _rows(session: Session, kind: type[Row]) -> list[Row]:
    ordered = select(kind).where(known()).order_by(kind.happened_latest, kind.seq)
    return list(session.scalars(ordered))


def _by(rows: Iterable[Row], about: str) -> Mapping[int, list[Row]]:
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[getattr(row, about)].append(row)
    return found


@dataclass(frozen=True)
class _Loaded:
    """The dated entries of all fish, by fish."""

    species: Mapping[int, list[tables.SpeciesSeen]]
    sexes: Mapping[int, list[tables.SexSeen]]
    lengths: Mapping[int, list[tables.LengthMeasured]]
    placed: Mapping[int, list[tables.FishPlaced]]
    left: Mapping[int, list[tables.FishLeft]]
    barred: Mapping[int, list[tables.HealthBarred]]
    lifted: Mapping[int, list[tables.HealthBarLifted]]

    @classmethod
    def of(cls, session: Session) -> "_Loaded":
        return cls(
            species=_by(_rows(session, tables.SpeciesSeen), "fish_id"),
            sexes=_by(_rows(session, tables.SexSeen), "fish_id"),
            lengths=_by(_rows(session, tables.LengthMeasured), "fish_id"),
            placed=_by(_rows(session, tables.FishPlaced), "fish_id"),
            left=_by(_rows(session, tables.FishLeft), "fish_id"),
            barred=_by(_rows(session, tables.HealthBarred), "fish_id"),
            lifted=_by(_rows(session, tables.HealthBarLifted), "bar_id"),
        )


def _fish(
    row: tables.Fish, loaded: _Loaded, laid_before: tuple[SexState, ...]
) -> FishRecord:
    left = loaded.left.get(row.fact, [])
    leaving = left[-1] if left else None
    bars = tuple(_bar(bar, loaded) for bar in loaded.barred.get(row.fact, ()))
    fish = Fish(
        fish_id=row.fact,
        name=row.name,
        arrived=row.when,
        gone=leaving.when if leaving else None,
        gone_how=leaving.door if leaving else "",
        born=row.born,
        origin=row.origin,
        origin_said=row.origin_said,
        variety=row.variety,
        opinions=(row.opinion, *(seen.facts() for seen in loaded.species.get(row.fact, ()))),
        sexes=(*(_sex(seen) for seen in loaded.sexes.get(row.fact, ())), *laid_before),
        lengths=tuple(
            LengthSeen(seen.when, seen.length_mm, seen.measure, seen.by_eye)
            for seen in loaded.lengths.get(row.fact, ())
        ),
        bars=tuple(bar.bar for bar in bars),
    )
    return FishRecord(
        fish=fish,
        parents=row.parents,
        clutch_id=row.clutch_id,
        group_id=row.group_id,
        stays=tuple(
            Stay(placed.fact, placed.tank_id, placed.when)
            for placed in loaded.placed.get(row.fact, ())
        ),
        bars=bars,
        leaving=Leaving(leaving.fact, leaving.when, leaving.door, leaving.reason)
        if leaving
        else None,
        note=row.note,
    )


def _bar(row: tables.HealthBarred, loaded: _Loaded) -> Bar:
    lifted = loaded.lifted.get(row.fact, [])
    return Bar(row.fact, HealthBar(row.reason, row.when, lifted[-1].when if lifted else None))


def _sex(row: tables.SexSeen) -> SexState:
    evidence = tuple(SexEvidence(word) for word in row.evidence.split(",") if word)
    return SexState(row.sex, row.standing, row.when, evidence, row.note)


def _pairs(session: Session) -> dict[int, PairRecord]:
    ends = {row.pair_id: row for row in _rows(session, tables.PairEnded)}
    return {row.fact: pair_record(row, ends.get(row.fact)) for row in _rows(session, tables.Pair)}


def pair_record(row: tables.Pair, ended: tables.PairEnded | None) -> PairRecord:
    """A pair from its entry and that of its end."""
    link = PairLink(
        row.fact,
        row.female_id,
        row.male_id,
        since=row.when,
        until=ended.when if ended else None,
        ended_because=ended.because if ended else None,
        kind=row.link,
    )
    return PairRecord(
        link,
        row.name,
        row.earlier_clutches,
        ended.fact if ended else None,
        ended.fish_left_id if ended else None,
    )


def _groups(session: Session) -> dict[int, GroupRecord]:
    left = _by(_rows(session, tables.GroupLeft), "group_id")
    return {
        row.fact: GroupRecord(
            BroodGroup(
                row.fact,
                row.name,
                row.number,
                row.when,
                tuple(
                    LeftGroup(gone.when, gone.number, gone.how)
                    for gone in left.get(row.fact, ())
                ),
            ),
            row.species_key,
            row.tank_id,
        )
        for row in _rows(session, tables.BroodGroup)
    }

