"""Everything recorded of some clutches, loaded in a fixed number of statements.

Today, tonight, a clutch's page and a pair's page all ask this one loader; what a forecast may
rest on (readings, set points, lamps, moves) comes with it, as known at a `seq` where asked.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from hatchery_app.domain.clutch.clutch import (
    CheckKind,
    ClutchOutcome,
    EggMove,
    HatchMethod,
    Incubated,
)
from hatchery_app.domain.clutch.hatch_evidence import (
    Evidence,
    LampOn,
    MovedLate,
    NoneBy,
    PartHatched,
    SignSeen,
)
from hatchery_app.domain.clutch.night_span import NightSpan, nights_left
from hatchery_app.domain.clutch.temperature_course import last_known_c
from hatchery_app.domain.clutch.thermal_time import Reading, Stay
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.parents import Parents
from hatchery_app.domain.when import Lights, Night, When, is_dark
from hatchery_app.models.clutch import Clutch, ClutchCheck, ClutchEnded, EggsMoved, Hatch, Laying
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.tank import Reading as ReadingRow
from hatchery_app.models.tank import Readings, SetPoint, Tank
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.species.library import species_or_none

Row = TypeVar("Row", bound=Entry)
READ_BEFORE = timedelta(days=3)  # a reading from before the laying carries into it
TEMPERATURE = "temperature_c"
LAYING = aliased(Laying, flat=True)


@dataclass(frozen=True)
class EggPlace:
    """Where the eggs were from then on, and which pair tends them."""

    fact_id: int
    since: When
    tank_id: int
    tank_label: str
    why: EggMove
    tended_by_pair_id: int | None
    in_the_dark: bool


@dataclass(frozen=True)
class Check:
    """One look at a clutch."""

    fact_id: int
    when: When
    kind: CheckKind
    sign: str
    seen: bool
    night: Night | None
    number: HowMany
    note: str


@dataclass(frozen=True)
class HatchPart:
    """What hatched on one night, found late one of several. `when`: larvae were first seen."""

    fact_id: int
    nights: NightSpan
    when: When
    number: HowMany
    share: str
    method: HatchMethod
    found_by_day: bool
    after_handling: bool
    hour_known: bool
    note: str
    incubated: Incubated = Incubated.ORDINARY


@dataclass(frozen=True)
class Ending:
    """How a clutch ended."""

    fact_id: int
    when: When
    outcome: ClutchOutcome
    reason: str


@dataclass(frozen=True)
class ClutchFacts:
    """One clutch: what was laid, where it was, what was seen, how it ended."""

    id: int
    number: int
    part: str
    laying_id: int
    laid: When
    eggs: HowMany
    surface: str
    laid_note: str
    pair_id: int | None
    parents: Parents
    species_key: str
    places: tuple[EggPlace, ...]
    checks: tuple[Check, ...]
    hatches: tuple[HatchPart, ...]
    ending: Ending | None
    stays: tuple[Stay, ...]

    @property
    def name(self) -> str:
        """What the keeper calls it."""
        return f"Clutch {self.number}" + (f", {self.part}" if self.part else "")

    @property
    def place(self) -> EggPlace:
        """Where the eggs are, or last were."""
        return self.places[-1]

    @property
    def is_open(self) -> bool:
        """Whether eggs may be left."""
        return self.ending is None

    @property
    def first_hatched(self) -> NightSpan | None:
        """The nights on which the first of it may have hatched; None where none did."""
        if not self.hatches:
            return None
        return NightSpan(
            min(part.nights.first for part in self.hatches),
            min(part.nights.last for part in self.hatches),
        )

    @property
    def told(self) -> tuple[tuple[int, Evidence], ...]:
        """What was seen that moves the chances of its nights, in the order in which it was, each
        with the entry it stands in."""
        told = [*_told_by_checks(self.checks), *_told_by_moves(self.places)]
        told += [(part.when.latest, part.fact_id,
                  PartHatched(part.nights.last, part.share or "a part", part.nights.first))
                 for part in self._parts_with_more_to_come]  # fmt: skip
        in_time = sorted(told, key=lambda each: each[0])
        return tuple((fact_id, evidence) for _at, fact_id, evidence in in_time)

    @property
    def _parts_with_more_to_come(self) -> tuple[HatchPart, ...]:
        """Of a clutch that has hatched its last part left nothing behind to wait for."""
        if self.ending is None or self.ending.outcome is not ClutchOutcome.HATCHED:
            return self.hatches
        last = max(self.hatches, key=lambda part: part.when.latest, default=None)
        return tuple(part for part in self.hatches if part is not last)

    @property
    def evidence(self) -> tuple[Evidence, ...]:
        """The same without the entries."""
        return tuple(evidence for _fact_id, evidence in self.told)


def load_clutches(
    session: Session,
    room: RoomNow,
    *,
    clutch_ids: Iterable[int] | None = None,
    pair_ids: Iterable[int] | None = None,
    open_only: bool = False,
    at_seq: int | None = None,
    water: bool = True,
) -> list[ClutchFacts]:
    """The clutches asked for, oldest laying first. Eight statements, however many there are.

    Without `water` their tanks come bare of readings and set points, two statements fewer: for
    who asks what was done with the eggs, and forecasts nothing.
    """
    rows = _clutch_rows(session, clutch_ids, pair_ids, open_only, at_seq)
    if not rows:
        return []
    ids = [clutch.fact for clutch, _laying in rows]
    moves = _by_clutch(session, EggsMoved, ids, at_seq)
    tank_ids = {move.tank_id for listed in moves.values() for move in listed}
    tank_ids |= {laying.tank_id for _clutch, laying in rows}
    since = min(laying.happened_earliest for _clutch, laying in rows) - READ_BEFORE
    of_tanks = _load_water(session, tank_ids, since, at_seq, readings=water)
    checks = _by_clutch(session, ClutchCheck, ids, at_seq)
    hatches = _by_clutch(session, Hatch, ids, at_seq)
    ended = _by_clutch(session, ClutchEnded, ids, at_seq)
    return [
        facts_of(clutch, laying, room, of_tanks, moves[clutch.fact], checks[clutch.fact],
                 hatches[clutch.fact], ended[clutch.fact])
        for clutch, laying in rows
    ]  # fmt: skip


def load_clutch(
    session: Session,
    room: RoomNow,
    clutch_id: int,
    at_seq: int | None = None,
    *,
    water: bool = True,
) -> ClutchFacts:
    """One clutch. Raises NotKnown."""
    found = load_clutches(session, room, clutch_ids=[clutch_id], at_seq=at_seq, water=water)
    if not found:
        raise NotKnown("That clutch does not stand in this room's records.")
    return found[0]


def _clutch_rows(
    session: Session,
    clutch_ids: Iterable[int] | None,
    pair_ids: Iterable[int] | None,
    open_only: bool,
    at_seq: int | None,
) -> list[tuple[Clutch, Laying]]:
    listed = (
        select(Clutch, LAYING)
        .join(LAYING, LAYING.fact_id == Clutch.laying_id)
        .where(known(at_seq, of=Clutch), known(at_seq, of=LAYING))
    )
    if clutch_ids is not None:
        listed = listed.where(Clutch.fact_id.in_(list(clutch_ids)))
    if open_only:
        over = select(ClutchEnded.clutch_id).where(known(at_seq))
        listed = listed.where(Clutch.fact_id.not_in(over))
    if pair_ids is not None:
        listed = listed.where(LAYING.pair_id.in_(list(pair_ids)))
    rows = [(clutch, laying) for clutch, laying in session.execute(listed)]
    return sorted(rows, key=lambda row: (row[1].happened_earliest, row[0].number))


def _by_clutch(
    session: Session, kind: type[Row], ids: Sequence[int], at_seq: int | None
) -> Mapping[int, list[Row]]:
    """The entries of a kind, by clutch, in the order in which they happened."""
    found: dict[int, list[Row]] = defaultdict(list)
    about = kind.clutch_id  # type: ignore[attr-defined]
    rows = session.scalars(
        select(kind)
        .where(known(at_seq), about.in_(ids))
        .order_by(kind.happened_latest, kind.seq)
    )
    for row in rows:
        found[row.clutch_id].append(row)  # type: ignore[attr-defined]
    return found


@dataclass(frozen=True)
class Water:
    """The tanks of some clutches, as known: labels, racks, what was read, what was set."""

    tanks: Mapping[int, Tank]
    readings: Mapping[int, tuple[Reading, ...]]
    set_points: Mapping[int, tuple[tuple[datetime, float], ...]]

    def set_point(self, tank_id: int, at: datetime) -> float | None:
        """What the heater was set to then; before the first entry, what that says."""
        dated = self.set_points.get(tank_id, ())
        begun = [value for since, value in dated if since <= at]
        return begun[-1] if begun else next((value for _since, value in dated), None)


def _load_water(
    session: Session,
    tank_ids: Iterable[int],
    since: datetime,
    at_seq: int | None,
    readings: bool = True,
) -> Water:
    ids = list(tank_ids)
    tanks = {
        tank.fact: tank
        for tank in session.scalars(select(Tank).where(known(at_seq), Tank.fact_id.in_(ids)))
    }
    if not readings:
        return Water(tanks, {}, {})
    read: dict[int, list[Reading]] = defaultdict(list)
    for tank_id, at, value in session.execute(
        select(ReadingRow.tank_id, ReadingRow.at, ReadingRow.value)
        .join(Readings, Readings.seq == ReadingRow.readings_seq)
        .where(
            known(at_seq),
            ReadingRow.tank_id.in_(ids),
            ReadingRow.quantity == TEMPERATURE,
            ReadingRow.at >= since,
        )
        .order_by(ReadingRow.at)
    ):
        read[tank_id].append(Reading(at, value))
    set_to: dict[int, list[tuple[datetime, float]]] = defaultdict(list)
    for row in session.scalars(
        select(SetPoint)
        .where(known(at_seq), SetPoint.tank_id.in_(ids))
        .order_by(SetPoint.happened_latest, SetPoint.seq)
    ):
        set_to[row.tank_id].append((row.happened_latest, row.temperature_c))
    return Water(
        tanks=tanks,
        readings={tank_id: tuple(listed) for tank_id, listed in read.items()},
        set_points={tank_id: tuple(dated) for tank_id, dated in set_to.items()},
    )


def facts_of(
    clutch: Clutch,
    laying: Laying,
    room: RoomNow,
    water: Water,
    moves: Sequence[EggsMoved],
    checks: Sequence[ClutchCheck],
    hatches: Sequence[Hatch],
    ended: Sequence[ClutchEnded],
) -> ClutchFacts:
    """One clutch from its entries, each kind in the order in which it happened."""
    places = tuple(
        EggPlace(
            move.fact, move.when, move.tank_id, _label(water, move.tank_id), move.why,
            move.tended_by_pair_id, _was_dark(room, water, move, taken_from),
        )
        for move, taken_from in zip(moves, [*moves[:1], *moves], strict=False)
    )  # fmt: skip
    stays = _stays(
        places, room, water, _usual_c(laying.species_key), laying.happened_earliest - READ_BEFORE
    )
    looked = tuple(_check(row) for row in checks)
    return ClutchFacts(
        id=clutch.fact, number=clutch.number, part=clutch.part, laying_id=laying.fact,
        laid=laying.when, eggs=laying.how_many, surface=laying.surface, laid_note=laying.note,
        pair_id=laying.pair_id, parents=laying.parents, species_key=laying.species_key,
        places=places,
        checks=looked,
        hatches=tuple(
            _hatch(row, _nights(row, looked, stays, room, laying.species_key)) for row in hatches
        ),
        ending=_ending(ended[-1]) if ended else None,
        stays=stays,
    )  # fmt: skip


def _was_dark(room: RoomNow, water: Water, move: EggsMoved, taken_from: EggsMoved) -> bool:
    """Whether the eggs were moved in the dark that they were in: by the lamp they left."""
    lights = _lights(room, water, taken_from.tank_id, move.when.middle)
    return move.when.is_exact and is_dark(move.when.middle, lights, room.room_time)


def _lights(room: RoomNow, water: Water, tank_id: int, at: datetime) -> Lights:
    tank = water.tanks.get(tank_id)
    return room.lamps.over(at, tank_id=tank_id, rack=tank.rack if tank is not None else "")


def _label(water: Water, tank_id: int) -> str:
    tank = water.tanks.get(tank_id)
    return tank.label if tank is not None else "a tank withdrawn since"


def _usual_c(species_key: str) -> float | None:
    species = species_or_none(species_key)
    eggs = None if species is None else species.incubation or species.floating
    return None if eggs is None else eggs.usual_c


def _stays(
    places: Sequence[EggPlace],
    room: RoomNow,
    water: Water,
    usual_c: float | None,
    read_since: datetime,
) -> tuple[Stay, ...]:
    # What bears on a clutch must not depend on which others were loaded with it.
    readings = {
        place.tank_id: _since(water.readings.get(place.tank_id, ()), read_since)
        for place in places
    }
    begins = [place.since.middle for place in places]
    if begins:
        begins[0] = places[0].since.earliest
    stays: list[Stay] = []
    for place, begin, end in zip(places, begins, [*begins[1:], None], strict=True):
        end = None if end is None else max(begin, end)
        # Where a lamp's hours change under the eggs, another stay in the same tank begins.
        lamps = _lamps(room, water, place.tank_id, begin, end)
        untils = [*(since for since, _lights in lamps[1:]), end]
        for (since, lights), until in zip(lamps, untils, strict=True):
            stays.append(
                Stay(
                    from_at=since,
                    until_at=until,
                    readings=readings[place.tank_id],
                    set_point_c=water.set_point(place.tank_id, begin),
                    lights=lights,
                    name=place.tank_label,
                    guess_c=last_known_c(stays[-1]) if stays else usual_c,
                )
            )
    return tuple(stays)


def _since(readings: tuple[Reading, ...], since: datetime) -> tuple[Reading, ...]:
    return readings[bisect_left(readings, since, key=lambda reading: reading.at) :]


def _lamps(
    room: RoomNow, water: Water, tank_id: int, since: datetime, until: datetime | None
) -> tuple[tuple[datetime, Lights], ...]:
    tank = water.tanks.get(tank_id)
    return room.lamps.through(
        since, until, tank_id=tank_id, rack=tank.rack if tank is not None else ""
    )


def _check(row: ClutchCheck) -> Check:
    return Check(
        row.fact, row.when, row.check_kind, row.sign, row.seen, _night(row.night_on),
        row.how_many, row.note,
    )  # fmt: skip


def _nights(
    row: Hatch, checks: Sequence[Check], stays: Sequence[Stay], room: RoomNow, species_key: str
) -> NightSpan:
    """The nights written down, less those that passed under somebody's eyes or a lamp."""
    species = species_or_none(species_key)
    if row.nights.is_sure or species is None or species.incubation is None:
        return row.nights
    in_vain = [c.when.earliest for c in checks if c.kind is CheckKind.WATCHED_NONE]
    return nights_left(
        row.nights,
        looked=[at for at in (row.happened_earliest, *in_vain) if at <= row.happened_latest],
        lit=[c.night for c in checks if c.kind is CheckKind.LAMP_ON and c.night is not None],
        stays=stays, room_time=room.room_time, hatch_hours=species.incubation.hatch_hours,
    )  # fmt: skip


def nights_of(session: Session, room: RoomNow, rows: Sequence[Hatch]) -> dict[int, NightSpan]:
    """The nights of some hatches by all that is known of their clutches.

    No statement where all are sure, else six, however many there are.
    """
    found = {row.fact: row.nights for row in rows}
    late = {row.clutch_id for row in rows if not row.nights.is_sure}
    if late:
        for clutch in load_clutches(session, room, clutch_ids=late, water=False):
            found |= {part.fact_id: part.nights for part in clutch.hatches}
    return found


def _hatch(row: Hatch, nights: NightSpan) -> HatchPart:
    return HatchPart(
        row.fact, nights, row.when, row.how_many, row.share, row.method,
        row.found_by_day, row.after_handling, row.hour_known, row.note, row.incubated,
    )  # fmt: skip


def _ending(row: ClutchEnded) -> Ending:
    return Ending(row.fact, row.when, row.outcome, row.reason)


def _night(on: date | None) -> Night | None:
    return None if on is None else Night(on)


def _told_by_checks(checks: Iterable[Check]) -> list[tuple[datetime, int, Evidence]]:
    told: list[tuple[datetime, int, Evidence]] = []
    for check in checks:
        at, fact_id = check.when.latest, check.fact_id
        if check.kind is CheckKind.WATCHED_NONE:
            told.append((at, fact_id, NoneBy(check.when.earliest)))
        elif check.kind is CheckKind.LAMP_ON and check.night is not None:
            told.append((at, fact_id, LampOn(check.night)))
        elif check.kind is CheckKind.SIGN and check.sign in ("dark", "eyes", "silver"):
            seen = SignSeen(check.when.middle, check.sign, check.seen)
            told.append((at, fact_id, seen))
    return told


def _told_by_moves(places: Sequence[EggPlace]) -> list[tuple[datetime, int, Evidence]]:
    # A tile pulled before lights-off hatches that night as it would have; one taken in the
    # dark of its own night is disturbed and spreads over more evenings.
    return [
        (place.since.latest, place.fact_id, MovedLate(place.since.middle))
        for place in places
        if place.why is EggMove.PULLED and place.in_the_dark
    ]
