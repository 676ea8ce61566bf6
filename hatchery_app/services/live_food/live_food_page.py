"""The cultures in walking order, and one vessel in full, against what the larvae need today."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.live_food.live_food import greenwater_dose_ml, two_figures_said
from hatchery_app.domain.live_food.slide_count import Chamber
from hatchery_app.domain.live_food.supply import Sieve
from hatchery_app.domain.live_food.vessel import Cultured, VesselNow
from hatchery_app.domain.live_food.vessel_signs import VesselSign, VesselWater, signs_of, spare_sign
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
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
from hatchery_app.models.tank import Tank
from hatchery_app.services.live_food.live_food_facts import (
    Cultures,
    CultureSaid,
    fed_said,
    harvest_said,
)
from hatchery_app.services.live_food.live_food_shelf_facts import open_paste, shelf_items
from hatchery_app.services.tank.tank_walk import TankStanding
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.services.today.today_food import FoodNeed, food_today

NO_VESSEL = "There is no such culture vessel in this room."
LAST_ACTS = 20
SQUARES = {Chamber.LARGE_SQUARE: "a large square", Chamber.SMALL_SQUARE: "a small square"}


@dataclass(frozen=True)
class VesselFound:
    """A vessel on the walk, with its warnings and what is to be sieved of it today."""

    stop: TankStanding
    now: VesselNow
    said: CultureSaid | None
    salinity_psu: float | None
    signs: tuple[VesselSign, ...]
    sieve: Sieve | None
    water: VesselWater | None = None


@dataclass(frozen=True)
class LiveFoodList:
    """Every vessel, what is said of the spare, and each food's need against its vessels."""

    vessels: tuple[VesselFound, ...]
    spare: tuple[VesselSign, ...]
    needs: tuple[FoodNeed, ...]


@dataclass(frozen=True)
class CultureEntry:
    """One thing written down of a vessel."""

    fact_id: int
    when: When
    what: str
    note: str


@dataclass(frozen=True)
class VesselPage:
    """One vessel: how it stands, the label it was seeded from, what was written down of it."""

    found: VesselFound
    from_label: str
    spare: VesselSign | None
    gaps: tuple[str, ...]
    entries: tuple[CultureEntry, ...]
    doses: tuple[str, ...] = ()
    paste_id: int = 0


def live_food_list(facts: DayFacts, *, now: datetime) -> LiveFoodList:
    """The cultures in walking order, from the day's facts. Asks the records nothing."""
    needs = food_today(facts).needs
    vessels = tuple(_found(facts, one, needs, now) for one in facts.cultures.vessels)
    spare = (spare_sign(facts.cultures.vessels, food) for food in Cultured)
    return LiveFoodList(vessels, tuple(sign for sign in spare if sign is not None), needs)


def vessel_page(
    session: Session, facts: DayFacts, *, tank_id: int, now: datetime
) -> VesselPage:
    """One vessel. Thirteen statements more than the day's facts. Raises NotKnown for no vessel."""
    vessel = vessel_named(facts.cultures, tank_id)
    needs = food_today(facts).needs
    found = _found(facts, vessel, needs, now)
    labels = {stop.tank_id: stop.label for stop in facts.walk.stops}
    seeded_from = found.said.from_tank_id if found.said is not None else None
    food = vessel.vessel.food
    gaps = [gap for need in needs for gap in need.gaps if gap.startswith(f"{found.stop.label}:")]
    return VesselPage(
        found,
        labels.get(seeded_from or 0, ""),
        spare_sign(facts.cultures.vessels, food) if food is not None else None,
        tuple(gaps),
        _entries(session, tank_id, labels),
        _doses(facts, vessel),
        paste.id if (paste := open_paste(shelf_items(session, now))) is not None else 0,
    )


def _doses(facts: DayFacts, one: VesselNow) -> tuple[str, ...]:
    """How much of an algae vessel makes each larval tank as green as its plan says, or why none."""
    if one.vessel.food is not Cultured.ALGAE or one.standing is None or not one.vessel.lives:
        return ()
    found = []
    for plan in facts.larvae:
        green = plan.green
        if green is None:
            continue
        there = green.seen.per_ml if green.seen is not None else 0.0
        target, looked = green.target_per_ml, "" if green.seen is not None else ", not looked at"
        try:
            dose = greenwater_dose_ml(plan.litres, target, there, one.per_ml)
        except RuleBroken as refused:
            found.append(f"{plan.holding.place.label}: {refused.sentence}")
            continue
        found.append(
            f"{plan.holding.place.label}: {two_figures_said(dose)} mL, {plan.litres:g} L from"
            f" {there:,.0f}{looked} to {target:,.0f} per mL"
        )
    return tuple(found)


def vessel_named(cultures: Cultures, tank_id: int) -> VesselNow:
    """The vessel of that tank. Raises NotKnown where none is."""
    for one in cultures.vessels:
        if one.vessel.tank_id == tank_id:
            return one
    raise NotKnown(NO_VESSEL)


def holdings_fed(facts: DayFacts, food: str) -> tuple[int, ...]:
    """The batches of larvae that eat this food today."""
    return tuple(
        plan.holding.id
        for plan in facts.larvae
        if any(prey.food.food.value == food and prey.whole_fill for prey in plan.prey)
    )


def other_vessels(facts: DayFacts, tank_id: int) -> tuple[tuple[int, str], ...]:
    """The vessels a culture can be started from, itself first, as (tank, label)."""
    stops = [stop for stop in facts.walk.stops if stop.role is TankRole.CULTURE]
    stops.sort(key=lambda stop: stop.tank_id != tank_id)
    return tuple((stop.tank_id, stop.label) for stop in stops)


def _found(
    facts: DayFacts, one: VesselNow, needs: Sequence[FoodNeed], now: datetime
) -> VesselFound:
    tank_id = one.vessel.tank_id
    sieves = [
        sieve
        for need in needs
        if need.supply is not None
        for sieve in need.supply.sieves
        if sieve.tank_id == tank_id
    ]
    stop = next(stop for stop in facts.walk.stops if stop.tank_id == tank_id)
    cultures = facts.cultures
    return VesselFound(
        stop, one, cultures.started.get(tank_id) if one.vessel.food else None,
        cultures.salinity_psu.get(tank_id),
        signs_of(one, now=now, water=cultures.water.get(tank_id)), sieves[0] if sieves else None,
        cultures.water.get(tank_id),
    )  # fmt: skip


_KINDS = (
    CultureStarted, CultureCounted, CopepodsCounted, CultureLooked, CultureFed, CultureHarvested,
    CultureCrashed,
)  # fmt: skip


def _entries(
    session: Session, tank_id: int, labels: dict[int, str]
) -> tuple[CultureEntry, ...]:
    """What was last written down of a vessel, newest first."""
    found: list[CultureEntry] = []
    for kind in _KINDS:
        rows = session.scalars(
            select(kind)
            .where(known(), kind.tank_id == tank_id)
            .order_by(kind.happened_latest.desc(), kind.seq.desc())
            .limit(LAST_ACTS)
        )
        found += [CultureEntry(row.fact, row.when, _said(row, labels), row.note) for row in rows]
    found.sort(key=lambda entry: (entry.when.latest, entry.fact_id), reverse=True)
    return tuple(found[:LAST_ACTS])


def _said(row: object, labels: dict[int, str]) -> str:
    match row:
        case CultureStarted():
            seeded_from = labels.get(row.from_tank_id or 0, "")
            parts = [f"{row.food} started", row.strain, row.seed]
            parts += [f"from {seeded_from}"] if seeded_from else []
            return ", ".join(part for part in parts if part)
        case CultureCounted():
            if not row.counts:
                return f"looked: {row.look}"
            thinned = f", diluted 1:{row.dilution:g}" if row.dilution > 1 else ""
            eggs = f", {row.eggs} eggs" if row.eggs is not None else ""
            return f"{row.counts} in {_sample_said(row.sample_ml)} each{thinned}{eggs}"
        case CopepodsCounted():
            return (
                f"{row.nauplii} nauplii, {row.copepodites} copepodites, {row.adults} adults in"
                f" {row.sample_ml:g} mL"
            )
        case CultureLooked():
            return f"seen: {row.seen}"
        case CultureFed():
            return f"fed {fed_said(row)}"
        case CultureHarvested():
            return f"sieved {harvest_said(row)}"
        case CultureCrashed():
            return "lost" + (f": {row.reason}" if row.reason else "")
    return ""


def _sample_said(sample_ml: float) -> str:
    for chamber, said in SQUARES.items():
        if math.isclose(sample_ml, chamber.value):
            return said
    return f"{sample_ml:g} mL"


def vessel_label(session: Session, tank_id: int) -> str:
    """What a culture vessel is called. Raises NotKnown where there is none. One statement."""
    label = session.scalar(
        select(Tank.label).where(
            known(), Tank.fact_id == tank_id, Tank.role == TankRole.CULTURE
        )
    )
    if label is None:
        raise NotKnown(NO_VESSEL)
    return label


def food_in(session: Session, tank_id: int) -> Cultured | None:
    """What a vessel was last said to hold; None where nobody said. One statement."""
    return session.scalars(
        select(CultureStarted.food)
        .where(known(), CultureStarted.tank_id == tank_id)
        .order_by(CultureStarted.happened_latest.desc(), CultureStarted.seq.desc())
        .limit(1)
    ).first()


def counted_before(session: Session, tank_id: int) -> tuple[float, float] | None:
    """The sample's mL and the dilution of a vessel's last count, for the next is made the same
    way; None where there was none. One statement."""
    row = session.execute(
        select(CultureCounted.sample_ml, CultureCounted.dilution)
        .where(known(), CultureCounted.tank_id == tank_id, CultureCounted.counts != "")
        .order_by(CultureCounted.happened_latest.desc(), CultureCounted.seq.desc())
        .limit(1)
    ).first()
    return (row[0], row[1]) if row is not None else None
