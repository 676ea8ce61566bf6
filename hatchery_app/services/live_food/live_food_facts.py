"""The culture vessels as they stand: loaded in five statements, or none where no vessel is."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import datetime, timedelta
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.live_food.live_food import Look, density_from_count, density_from_look
from hatchery_app.domain.live_food.shelf import StockKind
from hatchery_app.domain.live_food.supply import animals_said, supply_of
from hatchery_app.domain.live_food.vessel import (
    PASTE_DRY_FRACTION,
    CopepodStages,
    Cultured,
    Harvest,
    Looked,
    Vessel,
    VesselCount,
    VesselNow,
    usual_per_ml,
    vessel_now,
)
from hatchery_app.domain.live_food.vessel_signs import VesselWater
from hatchery_app.domain.live_food.vessel_tasks import COUNT, FEED, SIEVE
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.tank.water_reading import Quantity
from hatchery_app.domain.today.schedule import turn_at
from hatchery_app.models.entry import known
from hatchery_app.models.live_food import (
    CopepodsCounted,
    CultureCounted,
    CultureCrashed,
    CultureFed,
    CultureHarvested,
    CultureLooked,
    CultureStarted,
)
from hatchery_app.models.shelf import ShelfItem
from hatchery_app.models.tank import Reading, Readings
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.tank.tank_walk import TankStanding, Walk

Kind = TypeVar(
    "Kind", CultureCounted, CopepodsCounted, CultureHarvested, CultureCrashed, CultureLooked
)

LEARNED_OVER = timedelta(days=30)  # older counts say little of a culture's growth now
LATELY = timedelta(days=2)
SALINITY_HOLDS = timedelta(days=30)
STANDS_STILL = (TankState.IN_USE, TankState.BARRED)


@dataclass(frozen=True)
class VesselAct:
    """Something done at a vessel lately that answers a line of work: its kind, and when."""

    tank_id: int
    kind: str
    at: datetime
    really: str = ""


@dataclass(frozen=True)
class CultureSaid:
    """What was said when a culture was started; `from_tank_id` is the vessel it was seeded from."""

    fact_id: int
    at: datetime
    from_tank_id: int | None
    seed: str
    salinity_psu: float | None


@dataclass(frozen=True)
class Cultures:
    """Every vessel in walking order, the salinities known of vessels and tanks, and what was
    done at the vessels lately. `before`: what the vessels restarted or emptied held until then."""

    vessels: tuple[VesselNow, ...] = ()
    before: tuple[Vessel, ...] = ()
    started: Mapping[int, CultureSaid] = field(default_factory=dict)
    salinity_psu: Mapping[int, float] = field(default_factory=dict)
    acts: tuple[VesselAct, ...] = ()
    water: Mapping[int, VesselWater] = field(default_factory=dict)


def cultures_now(session: Session, room: RoomNow, walk: Walk, now: datetime) -> Cultures:
    """The room's cultures. Ten statements, however many vessels there are; none without one."""
    stops = [stop for stop in walk.stops if stop.role is TankRole.CULTURE]
    if not stops:
        return Cultures()
    ids = [stop.tank_id for stop in stops]
    turn = turn_at(now, room.lights(now), room.room_time)
    began_at = room.room_time.whole_days(turn.day).earliest
    every_start = _starts(session, ids, now)
    starts = {tank_id: rows[-1] for tank_id, rows in every_start.items()}
    counted = _rows(session, CultureCounted, ids, now)
    harvested = _rows(session, CultureHarvested, ids, now)
    lost = _rows(session, CultureCrashed, ids, now)
    copepods = _rows(session, CopepodsCounted, ids, now)
    looked = _rows(session, CultureLooked, ids, now)
    seeded = {
        (row.from_tank_id, row.happened_latest)
        for rows in every_start.values() for row in rows if row.from_tank_id
    }  # fmt: skip
    of = {
        one: _Of(counted[one], copepods[one], harvested[one], lost[one], looked[one])
        for one in ids
    }
    vessels = [
        _vessel(stop, starts.get(stop.tank_id), of[stop.tank_id], seeded) for stop in stops
    ]
    before = [
        _vessel_before(stop, every_start.get(stop.tank_id, []), of[stop.tank_id], seeded)
        for stop in stops
    ]
    said = {
        tank_id: CultureSaid(
            row.fact, row.happened_latest, row.from_tank_id, row.seed, row.salinity_psu
        )
        for tank_id, row in starts.items()
    }
    dry = _paste_dry_fraction(session, now)
    return Cultures(
        tuple(
            vessel_now(one, day_began_at=began_at, now=now, paste_dry_fraction=dry)
            for one in vessels
        ),
        tuple(one for one in before if one is not None),
        said,
        _salinities(session, walk, said, now),
        _acts(session, counted, harvested, ids, now),
        _water(session, ids, now),
    )


def vessels_say(cultures: Cultures, food: str) -> str:
    """ "R1 and R2 can give 0.57 million today", or why they give nothing; "" without a vessel."""
    if food not in {each.value for each in Cultured}:
        return ""
    supply = supply_of(Cultured(food), 0.0, cultures.vessels)
    if supply is None:
        return ""
    gives = [
        one.vessel.label
        for one in cultures.vessels
        if one.vessel.food == food and one.gives_today is not None and one.gives_today.best > 0
    ]
    if gives:
        return f"{' and '.join(gives)} can give {animals_said(supply.ready.best)} today"
    if supply.left_out:
        return "; ".join(f"{label} {why}" for label, why in supply.left_out)
    return "all that the cultures bear today was sieved"


def _paste_dry_fraction(session: Session, now: datetime) -> float:
    """Of the paste that came last with a label that says so, else a usual paste's."""
    said = session.scalars(
        select(ShelfItem.dry_fraction)
        .where(
            known(), ShelfItem.stock_kind == StockKind.PASTE, ShelfItem.happened_latest <= now,
            ShelfItem.dry_fraction.is_not(None),
        )
        .order_by(ShelfItem.happened_latest.desc(), ShelfItem.seq.desc())
        .limit(1)
    ).first()  # fmt: skip
    return said or PASTE_DRY_FRACTION


def _starts(
    session: Session, ids: Sequence[int], now: datetime
) -> dict[int, list[CultureStarted]]:
    rows = session.scalars(
        select(CultureStarted)
        .where(known(), CultureStarted.tank_id.in_(ids), CultureStarted.happened_latest <= now)
        .order_by(CultureStarted.happened_latest, CultureStarted.seq)
    )
    found: dict[int, list[CultureStarted]] = defaultdict(list)
    for row in rows:
        found[row.tank_id].append(row)
    return found


def _rows(
    session: Session, kind: type[Kind], ids: Sequence[int], now: datetime
) -> dict[int, list[Kind]]:
    rows = session.scalars(
        select(kind)
        .where(
            known(), kind.tank_id.in_(ids), kind.happened_latest <= now,
            kind.happened_latest >= now - LEARNED_OVER,
        )
        .order_by(kind.happened_latest, kind.seq)
    )  # fmt: skip
    found: dict[int, list[Kind]] = defaultdict(list)
    for row in rows:
        found[row.tank_id].append(row)
    return found


@dataclass(frozen=True)
class _Of:
    """What was written down of one vessel."""

    counted: Sequence[CultureCounted]
    copepods: Sequence[CopepodsCounted]
    harvested: Sequence[CultureHarvested]
    lost: Sequence[CultureCrashed]
    looked: Sequence[CultureLooked]

    def until(self, end: datetime) -> "_Of":
        """What was written down of it before then."""
        return _Of(
            *(
                [row for row in getattr(self, one.name) if row.happened_latest < end]
                for one in fields(self)
            )
        )


def _vessel(
    stop: TankStanding,
    start: CultureStarted | None,
    of: _Of,
    seeded: Collection[tuple[int, datetime]] = (),
) -> Vessel:
    """The vessel since its restart. One said to stand empty since then holds nothing."""
    if start is None or _is_emptied(stop, start.happened_latest):
        return Vessel(stop.tank_id, stop.label, stop.litres)
    since = start.happened_latest
    crash = next((row for row in of.lost if row.happened_latest >= since), None)
    lost_at, because = (crash.happened_latest, crash.reason) if crash else (None, "")
    if stop.state is TankState.BARRED:
        lost_at, because = lost_at or stop.since or since, f"barred: {stop.reason}"
    counts = (
        *_counts([row for row in of.counted if row.happened_latest >= since]),
        *(_copepods(row) for row in of.copepods if row.happened_latest >= since),
    )
    return Vessel(
        stop.tank_id, stop.label, stop.litres, start.food, start.strain, start.kept_as, since,
        tuple(sorted(counts, key=lambda one: one.at)),
        tuple(
            Harvest(
                row.happened_latest, row.litres, row.animals,
                as_seed=(stop.tank_id, row.happened_latest) in seeded,
            )
            for row in of.harvested
            if row.happened_latest >= since
        ),
        lost_at, because,
        tuple(
            Looked(row.happened_latest, row.seen)
            for row in of.looked
            if row.happened_latest >= since
        ),
    )  # fmt: skip


def _vessel_before(
    stop: TankStanding,
    starts: Sequence[CultureStarted],
    of: _Of,
    seeded: Collection[tuple[int, datetime]],
) -> Vessel | None:
    """What stood in it until its restart or until it was emptied, as long as it stood.

    What was sieved of it that day is still food: a harvest does not go with the water.
    """
    if starts and stop.since is not None and _is_emptied(stop, starts[-1].happened_latest):
        return _vessel(replace(stop, state=TankState.IN_USE), starts[-1], of, seeded)
    if len(starts) < 2:
        return None
    end = starts[-1].happened_latest
    return _vessel(replace(stop, state=TankState.IN_USE), starts[-2], of.until(end), seeded)


def _copepods(row: CopepodsCounted) -> VesselCount:
    stages = CopepodStages(row.nauplii, row.copepodites, row.adults)
    return VesselCount(
        row.happened_latest,
        density_from_count([stages.total], row.sample_ml, row.dilution),
        stages.total,
        stages=stages,
    )


def _is_emptied(stop: TankStanding, since: datetime) -> bool:
    return stop.state not in STANDS_STILL and stop.since is not None and stop.since > since


def _counts(rows: Sequence[CultureCounted]) -> tuple[VesselCount, ...]:
    counted = {row.seq: _numbers(row) for row in rows}
    densities = {
        row.seq: density_from_count(counted[row.seq], row.sample_ml, row.dilution)
        for row in rows
        if counted[row.seq]
    }
    usual = usual_per_ml([one.per_ml for one in densities.values() if one.per_ml > 0])
    return tuple(
        VesselCount(row.happened_latest, densities[row.seq], sum(counted[row.seq]), row.eggs)
        if row.seq in densities
        else VesselCount(
            row.happened_latest, density_from_look(Look(row.look), usual), is_look=True
        )
        for row in rows
    )


def _numbers(row: CultureCounted) -> list[int]:
    return [int(one) for one in row.counts.split()]


def _salinities(
    session: Session, walk: Walk, said: Mapping[int, CultureSaid], now: datetime
) -> dict[int, float]:
    """Of vessels and larval tanks: the last reading, else what was said at the start."""
    roles = (TankRole.CULTURE, TankRole.LARVAL)
    ids = [stop.tank_id for stop in walk.stops if stop.role in roles]
    rows = session.execute(
        select(Reading.tank_id, Reading.value, Reading.at)
        .join(Readings, Readings.seq == Reading.readings_seq)
        .where(
            known(), Reading.quantity == Quantity.SALINITY.value, Reading.tank_id.in_(ids),
            Reading.at <= now, Reading.at >= now - SALINITY_HOLDS,
        )
        .order_by(Reading.at)
    )  # fmt: skip
    found = {
        tank_id: (one.at, one.salinity_psu)
        for tank_id, one in said.items()
        if one.salinity_psu is not None
    }
    for row in rows:
        if row.tank_id not in found or row.at >= found[row.tank_id][0]:
            found[row.tank_id] = (row.at, row.value)
    return {tank_id: psu for tank_id, (_, psu) in found.items()}


def _water(session: Session, ids: Sequence[int], now: datetime) -> dict[int, VesselWater]:
    """What was last read of each vessel's water within two days; a tank's older water is gone."""
    rows = session.execute(
        select(Reading.tank_id, Reading.quantity, Reading.value)
        .join(Readings, Readings.seq == Reading.readings_seq)
        .where(
            known(), Reading.tank_id.in_(ids), Reading.at <= now, Reading.at >= now - LATELY,
            Reading.quantity.in_(_IN_WATER),
        )
        .order_by(Reading.at)
    )  # fmt: skip
    found: dict[int, dict[str, float]] = defaultdict(dict)
    for row in rows:
        found[row.tank_id][row.quantity] = row.value
    return {tank_id: VesselWater(**read) for tank_id, read in found.items()}


_IN_WATER = [one.name for one in fields(VesselWater)]


def _acts(
    session: Session,
    counted: Mapping[int, Sequence[CultureCounted]],
    harvested: Mapping[int, Sequence[CultureHarvested]],
    ids: Sequence[int],
    now: datetime,
) -> tuple[VesselAct, ...]:
    fed = session.scalars(
        select(CultureFed).where(
            known(), CultureFed.tank_id.in_(ids), CultureFed.happened_latest <= now,
            CultureFed.happened_latest >= now - LATELY,
        )
    )  # fmt: skip
    acts = [VesselAct(row.tank_id, FEED, row.happened_latest, fed_said(row)) for row in fed]
    acts += [
        VesselAct(row.tank_id, COUNT, row.happened_latest)
        for rows in counted.values() for row in rows if row.happened_latest >= now - LATELY
    ]  # fmt: skip
    acts += [
        VesselAct(row.tank_id, SIEVE, row.happened_latest, harvest_said(row))
        for rows in harvested.values() for row in rows if row.happened_latest >= now - LATELY
    ]  # fmt: skip
    return tuple(sorted(acts, key=lambda act: act.at))


def fed_said(row: CultureFed) -> str:
    """ "3.5 mL paste"."""
    return f"{row.amount:g} {row.unit} {row.what}" if row.amount is not None else row.what


def harvest_said(row: CultureHarvested) -> str:
    """ "1.3 L, 340,000 animals, into L3"."""
    parts = [f"{row.litres:g} L"] if row.litres is not None else []
    parts += [f"{row.animals:,.0f} animals"] if row.animals is not None else []
    parts += [f"into {row.into}"] if row.into else []
    return ", ".join(parts)
