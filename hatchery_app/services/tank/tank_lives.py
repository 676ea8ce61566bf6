"""Who stayed in which tank and when: fish, pairs, groups, eggs and batches of young.

`tank_walk` asks this for what lives where now, a tank's page for what lived there before. About
twenty statements, however many tanks, fish and batches there are.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import InstrumentedAttribute

from hatchery_app.domain.broodstock.pairing import LinkKind
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.tank.residents import Kind, Resident, Spell, spells
from hatchery_app.domain.when import Lights, Night, RoomTime, When, dph, night_of
from hatchery_app.models.broodstock import (
    BroodGroup,
    Fish,
    FishLeft,
    FishPlaced,
    GroupLeft,
    Pair,
    PairEnded,
    SpeciesSeen,
)
from hatchery_app.models.clutch import Clutch, ClutchEnded, EggsMoved, Laying
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank
from hatchery_app.services.records import room
from hatchery_app.services.stock_book.every_batch import Batch, every_batch

KINDS = {
    Stage.EGGS: Kind.EGGS,
    Stage.LARVAE: Kind.LARVAE,
    Stage.COHORT: Kind.SETTLED,
    Stage.BREEDERS: Kind.FISH,
}


@dataclass(frozen=True)
class Stayed:
    """Somebody's time in one tank: who it was, and until when (None: still there)."""

    resident: Resident
    tank_id: int
    until: datetime | None

    def lasts(self, now: datetime) -> bool:
        """Whether it is there at that moment, as far as anybody wrote down."""
        return self.until is None or self.until > now


def who_stayed_where(session: Session, now: datetime) -> tuple[Stayed, ...]:
    """Everybody's time in every tank up to now, gone fish and ended batches among it."""
    here = room.room_now(session)
    clock = _Clock(now, here, _racks(session))
    return (
        *_fish_and_pairs(session, now),
        *_groups(session, now),
        *_eggs(session, clock),
        *_batches(session, here, clock),
    )


class _Clock:
    """Counts nights and days over any tank at one moment, by that tank's own lamps."""

    def __init__(self, now: datetime, here: room.RoomNow, racks: dict[int, str]) -> None:
        self.now = now
        self.here = here
        self.racks = racks

    @property
    def room_time(self) -> RoomTime:
        return self.here.room_time

    def lights(self, tank_id: int, at: datetime) -> Lights:
        return self.here.lamps.over(at, tank_id=tank_id, rack=self.racks.get(tank_id, ""))

    def night_number(self, laid_at: datetime, laid_in: int, tank_id: int) -> int:
        laid = night_of(laid_at, self.lights(laid_in, laid_at), self.room_time)
        return night_of(self.now, self.lights(tank_id, self.now), self.room_time).number(laid)

    def age(self, hatched: tuple[Night, Night] | None, tank_id: int) -> int | None:
        """Days post hatch by the first hatch night; None where that is not known."""
        lights = self.lights(tank_id, self.now)
        if hatched is None or night_of(self.now, lights, self.room_time) < hatched[0]:
            return None
        return dph(hatched[0], self.now, lights, self.room_time)


def _racks(session: Session) -> dict[int, str]:
    return _dict(session, Tank.fact_id, Tank.rack, Tank)


def _dict(
    session: Session,
    key: InstrumentedAttribute[Any],
    value: InstrumentedAttribute[Any],
    kind: Any,
) -> dict[int, Any]:
    """Two columns of the known entries of a kind as a dictionary, the newest of a key last."""
    ordered = select(key, value).where(known()).order_by(kind.happened_latest, kind.seq)
    return dict(session.execute(ordered).all())


# --- Fish, pairs, groups ------------------------------------------------------------------


@dataclass(frozen=True)
class _Called:
    """What fish are called and held to be."""

    names: dict[int, str]
    species: dict[int, str]

    def two(self, female_id: int, male_id: int) -> str:
        return " and ".join(self.names.get(one, "a fish") for one in (female_id, male_id))


def _fish_and_pairs(session: Session, now: datetime) -> list[Stayed]:
    species = _dict(session, Fish.fact_id, Fish.species_key, Fish)
    species |= _dict(session, SpeciesSeen.fish_id, SpeciesSeen.species_key, SpeciesSeen)
    called = _Called(_dict(session, Fish.fact_id, Fish.name, Fish), species)
    placed = session.execute(
        select(FishPlaced.fish_id, FishPlaced.tank_id, FishPlaced.happened_earliest)
        .where(known(), FishPlaced.happened_earliest <= now)
        .order_by(FishPlaced.happened_latest, FishPlaced.seq)
    )
    gone = _dict(session, FishLeft.fish_id, FishLeft.happened_latest, FishLeft)
    spelt = spells(placed, gone)
    pairs = _pairs(session, spelt, called, now)
    return [stayed for _, stayed in pairs] + _single(spelt, pairs, called, now)


_Paired = tuple[frozenset[int], Stayed]


def _pairs(
    session: Session, spelt: Iterable[Spell], called: _Called, now: datetime
) -> list[_Paired]:
    """Pairs while both their fish were in one tank and linked, with the two fish."""
    ended = _dict(session, PairEnded.pair_id, PairEnded.happened_latest, PairEnded)
    of_fish: dict[int, list[Spell]] = defaultdict(list)
    for spell in spelt:
        of_fish[spell.who].append(spell)
    stays: list[_Paired] = []
    rows = session.scalars(
        select(Pair).where(known(), Pair.link == LinkKind.PAIR, Pair.happened_earliest <= now)
    )
    for row in rows:
        two = frozenset((row.female_id, row.male_id))
        name = row.name or called.two(row.female_id, row.male_id)
        for hers in of_fish[row.female_id]:
            for his in of_fish[row.male_id]:
                since = max(hers.since, his.since, row.happened_earliest)
                until = _first_of(hers.until, his.until, ended.get(row.fact))
                if hers.tank_id != his.tank_id or (until is not None and until <= since):
                    continue
                key = called.species.get(row.female_id, "")
                pair = Resident(Kind.PAIR, row.fact, name, key, since)
                stays.append((two, Stayed(pair, hers.tank_id, until)))
    return stays


def _first_of(*ends: datetime | None) -> datetime | None:
    return min((end for end in ends if end is not None), default=None)


def _single(
    spelt: Iterable[Spell], pairs: list[_Paired], called: _Called, now: datetime
) -> list[Stayed]:
    """Fish by themselves: a pair's line stands for both its fish while they are together."""
    return [
        Stayed(
            Resident(
                Kind.FISH, spell.who, called.names.get(spell.who, "a fish"),
                called.species.get(spell.who, ""), spell.since,
            ),
            spell.tank_id,
            spell.until,
        )
        for spell in spelt
        if not any(_covers(pair, two, spell, now) for two, pair in pairs)
    ]  # fmt: skip


def _covers(pair: Stayed, two: frozenset[int], spell: Spell, now: datetime) -> bool:
    if spell.who not in two or pair.tank_id != spell.tank_id:
        return False
    if spell.until is None or spell.until > now:
        return pair.lasts(now)
    return pair.resident.since < spell.until and (pair.until or now) > spell.since


def _groups(session: Session, now: datetime) -> list[Stayed]:
    left: dict[int, list[tuple[datetime, int]]] = defaultdict(list)
    for group_id, at, number in session.execute(
        select(GroupLeft.group_id, GroupLeft.happened_latest, GroupLeft.number)
        .where(known())
        .order_by(GroupLeft.happened_latest, GroupLeft.seq)
    ):
        left[group_id].append((at, number))
    stays = []
    for row in session.scalars(
        select(BroodGroup).where(known(), BroodGroup.happened_earliest <= now)
    ):
        there = row.number - sum(number for _, number in left[row.fact])
        name = f"{row.name}, {there} fish" if there > 0 else row.name
        group = Resident(Kind.GROUP, row.fact, name, row.species_key, row.happened_earliest)
        until = None if there > 0 else left[row.fact][-1][0]
        stays.append(Stayed(group, row.tank_id, until))
    return stays


# --- Eggs and young -----------------------------------------------------------------------


@dataclass(frozen=True)
class _Laid:
    """A clutch and where and when its eggs were laid."""

    name: str
    tank_id: int
    species_key: str
    when: When


def _eggs(session: Session, clock: _Clock) -> list[Stayed]:
    laid = _laid(session, clock.now)
    moves = session.execute(
        select(EggsMoved.clutch_id, EggsMoved.tank_id, EggsMoved.happened_earliest)
        .where(known(), EggsMoved.happened_earliest <= clock.now)
        .order_by(EggsMoved.happened_latest, EggsMoved.seq)
    )
    placings = [(clutch_id, one.tank_id, one.when.earliest) for clutch_id, one in laid.items()]
    placings += [move for move in moves if move[0] in laid]
    ended = _dict(session, ClutchEnded.clutch_id, ClutchEnded.happened_latest, ClutchEnded)
    return [
        Stayed(_egg(laid[spell.who], spell, clock), spell.tank_id, spell.until)
        for spell in spells(placings, ended)
    ]


def _laid(session: Session, now: datetime) -> dict[int, _Laid]:
    """Every clutch laid by then. Two statements, of the few columns that are asked for."""
    columns = (
        Laying.fact_id, Laying.tank_id, Laying.species_key, Laying.happened_earliest,
        Laying.happened_latest,
    )  # fmt: skip
    layings = {
        row.fact_id: row
        for row in session.execute(
            select(*columns).where(known(), Laying.happened_earliest <= now)
        )
    }
    clutches = session.execute(
        select(Clutch.fact_id, Clutch.laying_id, Clutch.number, Clutch.part).where(known())
    )
    found: dict[int, _Laid] = {}
    for row in clutches:
        one = layings.get(row.laying_id)
        if one is not None and row.fact_id is not None:
            name = f"clutch {row.number}" + (f", {row.part}" if row.part else "")
            when = When(one.happened_earliest, one.happened_latest)
            found[row.fact_id] = _Laid(name, one.tank_id, one.species_key, when)
    return found


def _egg(laid: _Laid, spell: Spell, clock: _Clock) -> Resident:
    """Eggs have a night while they are there; those of years ago are not counted on."""
    there = spell.until is None or spell.until > clock.now
    night = clock.night_number(laid.when.middle, laid.tank_id, spell.tank_id) if there else None
    return Resident(Kind.EGGS, spell.who, laid.name, laid.species_key, spell.since, night=night)


def _batches(session: Session, here: room.RoomNow, clock: _Clock) -> list[Stayed]:
    return [
        Stayed(_batch(batch, spell, clock), spell.tank_id, spell.until)
        for batch in every_batch(session, here)
        for spell in _spells_of(batch)
        if spell.since <= clock.now
    ]


def _spells_of(batch: Batch) -> tuple[Spell, ...]:
    placings = [(batch.id, tank_id, since) for tank_id, since in batch.places]
    return spells(placings, {} if batch.emptied_at is None else {batch.id: batch.emptied_at})


def _batch(batch: Batch, spell: Spell, clock: _Clock) -> Resident:
    there = spell.until is None or spell.until > clock.now
    return Resident(
        KINDS[batch.stage], batch.id, batch.name, batch.species_key, spell.since,
        dph=clock.age(batch.hatched, spell.tank_id) if there else None,
    )  # fmt: skip
