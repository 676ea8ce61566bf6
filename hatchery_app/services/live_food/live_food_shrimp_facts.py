"""Brine shrimp as it stands: lots with what they taught, hatches with where they stand."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.live_food.shrimp_hatch import (
    Counted,
    Enriching,
    HatchTold,
    LotKept,
    ShrimpHatch,
    Went,
    told_of,
)
from hatchery_app.models.brine_shrimp import (
    CystLot,
    CystsStarted,
    HatchOver,
    ShrimpEnriched,
    ShrimpFed,
    ShrimpHarvested,
)
from hatchery_app.models.entry import known
from hatchery_app.models.shelf import ShelfItem

Act = TypeVar("Act", ShrimpHarvested, ShrimpEnriched, ShrimpFed, HatchOver)

LEARNED_OVER = timedelta(days=120)  # a tin ages: hatches of seasons ago say little of it now
ONE_KEPT = timedelta(hours=48)


@dataclass(frozen=True)
class Shrimp:
    """Every lot, and every hatch of the last months, the newest first."""

    lots: tuple[LotKept, ...] = ()
    hatches: tuple[ShrimpHatch, ...] = ()

    @property
    def standing(self) -> tuple[ShrimpHatch, ...]:
        """The hatches that are not over."""
        return tuple(one for one in self.hatches if one.ended_at is None)

    def lot(self, lot_id: int) -> LotKept | None:
        """One lot; None where there is none."""
        return next((one for one in self.lots if one.id == lot_id), None)

    def hatch(self, start_id: int) -> ShrimpHatch | None:
        """One hatch; None where there is none."""
        return next((one for one in self.hatches if one.id == start_id), None)


def shrimp_now(session: Session, now: datetime) -> Shrimp:
    """The room's brine shrimp: six statements, two where there is no lot."""
    lots = session.scalars(
        select(CystLot).where(known(), CystLot.happened_latest <= now).order_by(CystLot.seq)
    ).all()
    if not lots:
        return Shrimp()
    tins = session.scalars(
        select(ShelfItem).where(known(), ShelfItem.fact_id.in_([row.shelf_id for row in lots]))
    )
    names = {row.fact: row.name for row in tins}
    starts = session.scalars(
        select(CystsStarted)
        .where(
            known(), CystsStarted.happened_latest <= now,
            CystsStarted.happened_latest >= now - LEARNED_OVER,
        )
        .order_by(CystsStarted.happened_latest.desc(), CystsStarted.seq.desc())
    ).all()  # fmt: skip
    acts = _Acts(
        _rows(session, ShrimpHarvested, now), _rows(session, ShrimpEnriched, now),
        _rows(session, ShrimpFed, now), _rows(session, HatchOver, now),
    )  # fmt: skip
    bare = {row.fact: _lot(row, names, ()) for row in lots}
    told: dict[int, list[HatchTold]] = defaultdict(list)
    for start in reversed(starts):
        if start.lot_id in bare and (one := _told(start, bare[start.lot_id], acts)) is not None:
            told[start.lot_id].append(one)
    kept = {row.fact: _lot(row, names, told[row.fact]) for row in lots}
    hatches = tuple(_hatch(row, kept[row.lot_id], acts) for row in starts if row.lot_id in kept)
    return Shrimp(tuple(kept.values()), hatches)


@dataclass(frozen=True)
class _Acts:
    harvested: Mapping[int, Sequence[ShrimpHarvested]]
    enriched: Mapping[int, Sequence[ShrimpEnriched]]
    fed: Mapping[int, Sequence[ShrimpFed]]
    over: Mapping[int, Sequence[HatchOver]]


def _rows(session: Session, kind: type[Act], now: datetime) -> dict[int, list[Act]]:
    rows = session.scalars(
        select(kind)
        .where(
            known(), kind.happened_latest <= now,
            kind.happened_latest >= now - LEARNED_OVER - ONE_KEPT,
        )
        .order_by(kind.happened_latest, kind.seq)
    )  # fmt: skip
    found: dict[int, list[Act]] = defaultdict(list)
    for row in rows:
        found[row.start_id].append(row)
    return found


def _lot(row: CystLot, names: Mapping[int, str], told: Iterable[HatchTold]) -> LotKept:
    return LotKept(
        row.fact, row.shelf_id, names.get(row.shelf_id, "cysts"), row.grade, row.hatch_percent,
        row.nauplii_per_g, tuple(told),
    )  # fmt: skip


def _told(start: CystsStarted, lot: LotKept, acts: _Acts) -> HatchTold | None:
    harvested = acts.harvested.get(start.fact, ())
    if not harvested:
        return None
    first = harvested[0]
    sample = None
    if first.nauplii is not None and first.umbrellas is not None:
        sample = (first.nauplii, first.umbrellas, first.embryos or 0)
    return told_of(_hatch(start, lot, acts), first.ripe, sample)


def _hatch(start: CystsStarted, lot: LotKept, acts: _Acts) -> ShrimpHatch:
    enriched = acts.enriched.get(start.fact, ())
    over = acts.over.get(start.fact, ())
    ended = over[-1] if over else None
    return ShrimpHatch(
        start.fact, lot, start.grams, start.litres, start.temperature_c, start.salinity_psu,
        start.happened_latest, start.vessel,
        tuple(Counted(r.happened_latest, r.animals) for r in acts.harvested.get(start.fact, ())),
        Enriching(enriched[0].happened_latest, enriched[0].hours, enriched[0].what,
                  enriched[0].litres) if enriched else None,
        tuple(Went(r.happened_latest, r.animals, r.into) for r in acts.fed.get(start.fact, ())),
        ended.happened_latest if ended else None, ended.ended_as if ended else None,
        ended.reason if ended else "",
    )  # fmt: skip
