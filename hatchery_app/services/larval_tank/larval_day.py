"""What a batch of larvae asks for today: age, plan, prey there and to add, green water, change.

`larval_plans` answers for the tank's page and `larval_day` for Today, from the same load, in a
number of statements that does not depend on how many batches there are.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import ceil
from statistics import fmean

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.cohort.length_sample import LengthSample
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.food_by_size import by_size
from hatchery_app.domain.larval_tank.larval_protocol import (
    ALGAE,
    DayBand,
    DayPlan,
    Food,
    FoodToday,
    LarvalProtocol,
    for_day,
)
from hatchery_app.domain.larval_tank.settlement_split import SettlementSplit
from hatchery_app.domain.larval_tank.stage_windows import BatchStages, batch_stages
from hatchery_app.domain.live_food.food_demand import Course
from hatchery_app.domain.live_food.live_food import (
    ML_PER_L,
    Look,
    PreyDensity,
    TopUp,
    concentrate_ml,
    density_from_count,
    density_from_look,
    greenwater_dose_ml,
    top_up,
)
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.today import day_work
from hatchery_app.domain.when import Night, When, night_of
from hatchery_app.models.cohort import LengthsSampled
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import Concentrate, PreySeen
from hatchery_app.models.stock_book import Holding
from hatchery_app.services.larval_tank.learned_stages import (
    MarkTold,
    learned_from,
    marks_of_room,
    showed,
)
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import batch_origin
from hatchery_app.services.stock_book.holding_facts import (
    HoldingFacts,
    Stock,
    load_stock,
    walking_order,
)
from hatchery_app.services.tank import tank

LAST_DAYS = timedelta(days=3)  # over which the tank's temperature is averaged
LOOK_HOLDS = timedelta(hours=8)  # larvae eat on: an older look says nothing of the prey now
LONGEST_LARVAE = timedelta(days=120)  # no larvae are kept as larvae longer; bounds Today's load
KEYS = {
    Food.ROTIFERS: ("rotifers", "rotifers"),
    Food.COPEPODS: ("copepods", "copepods"),
    Food.SHRIMP_INSTAR_I: ("shrimp_fresh", "brine shrimp, just hatched"),
    Food.SHRIMP_ENRICHED: ("shrimp_enriched", "brine shrimp, enriched"),
}
"""Of each live food: its word in the names of tasks, and what the sheet says."""


@dataclass(frozen=True)
class Age:
    """Days post hatch of the youngest and the oldest fish of a batch."""

    youngest: int
    oldest: int

    @property
    def said(self) -> str:
        """ "4 dph", or "0–1 dph" for a batch of two nights."""
        if self.youngest == self.oldest:
            return f"{self.oldest} dph"
        return f"{self.youngest}–{self.oldest} dph"


@dataclass(frozen=True)
class PreyNow:
    """One live food today: what is wanted, what was last seen, what to add.

    `seen` is None where nobody looked within eight hours, or topped up since. `topped_up_to` is
    where the tank was last brought to. `ml` is (best, low, high) of the room's concentrate.
    """

    food: FoodToday
    key: str
    words: str
    seen: PreyDensity | None
    seen_when: When | None
    topped_up_to: float | None
    add: TopUp | None
    whole_fill: float | None
    concentrate_per_ml: float | None
    ml: tuple[float, float, float] | None


@dataclass(frozen=True)
class GreenNow:
    """Green water today: wanted, seen, and the mL of the stated stock, or why there is none."""

    band: DayBand
    target_per_ml: float
    seen: PreyDensity | None
    seen_when: When | None
    stock_per_ml: float | None
    dose_ml: float | None
    why_none: str = ""


@dataclass(frozen=True)
class LarvalPlan:
    """One batch of larvae in its tank today. `plan` is None where its age or plan is not known.

    `species` carries the plan as this batch is read by it: moved by what was seen (`stages`).
    `course` is how it is fed from day to day; `sizes` says what of it goes by length.
    """

    holding: HoldingFacts
    species: Species | None
    litres: float
    age: Age | None
    mean_c: float | None
    mean_from: str
    plan: DayPlan | None
    prey: tuple[PreyNow, ...]
    green: GreenNow | None
    change_l: tuple[float, float] | None
    split: SettlementSplit | None
    day: day_work.LarvalDay | None
    stages: BatchStages | None = None
    follows_today: bool = True  # by the species file as it stands, not an older text of it
    course: Course | None = None
    sizes: tuple[str, ...] = ()


def larval_day(session: Session, room: RoomNow, now: datetime) -> tuple[day_work.LarvalDay, ...]:
    """Each batch of larvae as the day's work needs it, in walking order; those of unknown hatch
    night have no plan and are left out. 17 statements, however many there are."""
    return tuple(one.day for one in larval_plans(session, room, now) if one.day is not None)


def larval_stock(session: Session, room: RoomNow, now: datetime) -> Stock:
    """The batches of larvae of the last months with their book, ended ones too. Five statements."""
    since = now - LONGEST_LARVAE
    return load_stock(session, room, stage=Stage.LARVAE, began_since=since)


def larval_plans(
    session: Session,
    room: RoomNow,
    now: datetime,
    *,
    stock: Stock | None = None,
    by_todays_file: bool = False,
) -> tuple[LarvalPlan, ...]:
    """The plans of all batches of larvae that are not empty, or of those in `stock`.

    `by_todays_file`: as they would be if each followed the species file as it stands.
    """
    if stock is None:
        stock = larval_stock(session, room, now)
    held = [one for one in stock.holdings.values() if one.places and not stock.is_empty(one.id)]
    held.sort(key=walking_order)
    tank_ids = {one.place.tank_id for one in held}
    tanks = tank.tank_facts(session, tank_ids, now, since=now - LAST_DAYS)
    protocols = {} if by_todays_file else _protocols(session, [one.id for one in held])
    looks = _looks(session, tank_ids, now)
    strengths = concentrates(session, now)
    marks = marks_of_room(session, {one.species_key for one in held}, room=room)
    measured = _measured(session, [one.id for one in held], now)
    return tuple(
        _plan(
            one, stock, room, tanks[one.place.tank_id], protocols, looks, strengths, marks,
            measured.get(one.id), now,
        )
        for one in held
        if one.place.tank_id in tanks
    )


def age_of(
    hatched: tuple[Night, Night] | None, at: datetime, room: RoomNow, facts: tank.TankFacts
) -> Age | None:
    """Days post hatch by the lamps over the tank; None where the hatch night is not known."""
    if hatched is None:
        return None
    tonight = night_of(at, facts.lights_at(at), room.room_time)
    first, last = hatched
    oldest = tonight.number(first)
    return Age(max(0, min(tonight.number(last), oldest)), oldest) if oldest >= 0 else None


def concentrates(session: Session, now: datetime) -> dict[str, float]:
    """How thick each food stands that tanks are topped up from, as last said. One statement."""
    rows = session.scalars(
        select(Concentrate)
        .where(known(), Concentrate.happened_latest <= now)
        .order_by(Concentrate.happened_latest, Concentrate.seq)
    )
    return {row.food: row.per_ml for row in rows}


def split_of(stock: Stock, holding_id: int) -> tuple[SettlementSplit, ...]:
    """The looks that said settled and swimming, oldest first."""
    looks = []
    for entry in stock.book.counts:
        told = stock.told.get(entry.seq)
        if entry.holding == holding_id and told is not None and told.swimming is not None:
            looks.append(SettlementSplit(entry.when, told.settled or 0, told.swimming))
    return tuple(sorted(looks, key=lambda look: look.when.latest))


def _protocols(session: Session, ids: Iterable[int]) -> dict[int, str]:
    rows = session.execute(
        select(Holding.fact_id, Holding.protocol).where(known(), Holding.fact_id.in_(list(ids)))
    )
    return {fact_id: text for fact_id, text in rows if fact_id is not None}


def _looks(
    session: Session, tank_ids: Iterable[int], now: datetime
) -> dict[tuple[int, str], PreySeen]:
    """The last look at each food in each tank."""
    rows = session.scalars(
        select(PreySeen)
        .where(
            known(), PreySeen.tank_id.in_(sorted(tank_ids)), PreySeen.happened_latest <= now,
            PreySeen.happened_latest >= now - LAST_DAYS,
        )
        .order_by(PreySeen.happened_latest, PreySeen.seq)
    )  # fmt: skip
    return {(row.tank_id, row.food): row for row in rows}


def _plan(
    held: HoldingFacts, stock: Stock, room: RoomNow, facts: tank.TankFacts,
    protocols: Mapping[int, str], looks: Mapping[tuple[int, str], PreySeen],
    strengths: Mapping[str, float], marks: Sequence[MarkTold], measured: LengthSample | None,
    now: datetime,
) -> LarvalPlan:  # fmt: skip
    species = batch_origin.species_kept(protocols.get(held.id, ""), held.species_key)
    age = age_of(held.hatched, now, room, facts)
    mean_c, mean_from = mean_temperature(facts)
    splits = split_of(stock, held.id)
    stages = _stages(held, species, room, mean_c, marks, splits)
    plan, course = None, None
    sizes: tuple[str, ...] = ()
    if species is not None and stages is not None and age is not None:
        species = replace(species, larval=stages.protocol)
        plan = for_day(stages.protocol, age.oldest, mean_c)
        length = _aged(measured, held, room, facts)
        course = _course(species, stages.protocol, facts.litres, mean_c, length)
        plan, sizes = by_size(plan, course)
    prey: tuple[PreyNow, ...] = ()
    green, change_l = None, None
    if plan is not None:
        prey = tuple(
            _prey(food, facts, looks.get((facts.tank_id, food.food.value)), strengths, now)
            for food in plan.foods
            if food.food in KEYS
        )
        green = _green(plan, facts, looks.get((facts.tank_id, ALGAE)), strengths, now)
        change_l = _change(plan, facts.litres)
    split = splits[-1] if splits else None
    day = _day(held, stock, facts, plan, prey, green, split)
    return LarvalPlan(
        held, species, facts.litres, age, mean_c, mean_from, plan, prey, green, change_l, split,
        day, stages, _follows_today(protocols.get(held.id, ""), held.species_key), course, sizes,
    )  # fmt: skip


def _measured(session: Session, ids: Iterable[int], now: datetime) -> dict[int, LengthSample]:
    """The last lengths of each batch of larvae. One statement."""
    rows = session.scalars(
        select(LengthsSampled)
        .where(
            known(), LengthsSampled.holding_id.in_(list(ids)),
            LengthsSampled.happened_latest <= now,
        )
        .order_by(LengthsSampled.happened_latest, LengthsSampled.seq)
    )
    return {row.holding_id: sample for row in rows if (sample := row.facts()).mean_mm is not None}


def _aged(
    sample: LengthSample | None, held: HoldingFacts, room: RoomNow, facts: tank.TankFacts
) -> tuple[float, int] | None:
    """A measured mean and the day of life it was of."""
    if sample is None or sample.mean_mm is None:
        return None
    age = age_of(held.hatched, sample.when.latest, room, facts)
    return (sample.mean_mm, age.oldest) if age is not None else None


def _course(
    species: Species, protocol: LarvalProtocol, litres: float, mean_c: float | None,
    measured: tuple[float, int] | None,
) -> Course:  # fmt: skip
    fit = species.growth.length_fit if species.growth is not None else None
    length, dph = measured or (None, None)
    return Course(
        protocol, litres, mean_c, length_mm=length, length_dph=dph,
        growth_mm_per_day=fit.per_day_mm if fit is not None else None,
        hatched_mm=fit.start_mm if fit is not None else None,
    )  # fmt: skip


def _follows_today(protocol: str, species_key: str) -> bool:
    return not protocol or protocol == batch_origin.protocol_now(species_key)


def _stages(
    held: HoldingFacts, species: Species | None, room: RoomNow, mean_c: float | None,
    marks: Sequence[MarkTold], looks: Sequence[SettlementSplit],
) -> BatchStages | None:  # fmt: skip
    """The batch's stages; None for a species without larvae, or one that is not known."""
    if species is None or species.larval is None:
        return None
    own = [mark for mark in marks if mark.holding_id == held.id]
    seen = showed(own, looks, held.hatched, room)
    learned = learned_from(marks, species, without=held.id)
    return batch_stages(
        species.larval, mean_c, learned, seen.seen, seen.not_by, seen.there_by
    )


def mean_temperature(facts: tank.TankFacts) -> tuple[float | None, str]:
    """The tank's mean temperature of the last three days and where it is from, in words."""
    if facts.readings:
        count = len(facts.readings)
        said = f"{count} readings of the last 3 days" if count > 1 else "one reading"
        return fmean(reading.temperature_c for reading in facts.readings), said
    if facts.set_point_c is not None:
        return facts.set_point_c, "the heater's set point; nobody read the thermometer"
    return None, "no reading"


def _seen(row: PreySeen | None, target: float, now: datetime) -> PreyDensity | None:
    """What a look stands for, while it holds: eight hours, and until the tank was topped up."""
    if row is None or row.topped_up_to_per_ml is not None:
        return None
    if now - row.happened_latest > LOOK_HOLDS:
        return None
    if row.counted:
        figures, _, volume = row.counted.partition(" in ")
        counts = [int(one) for one in figures.split()]
        return density_from_count(counts, float(volume.removesuffix(" mL")))
    return density_from_look(Look(row.look), target) if row.look else None


def _prey(
    food: FoodToday, facts: tank.TankFacts, row: PreySeen | None,
    strengths: Mapping[str, float], now: datetime,
) -> PreyNow:  # fmt: skip
    key, words = KEYS[food.food]
    target = food.target
    seen = add = ml = whole = None
    strength = strengths.get(food.food.value)
    if target:
        whole = target * facts.litres * ML_PER_L
        seen = _seen(row, target, now)
        add = top_up(target, seen, facts.litres) if seen is not None else None
    if add is not None and strength is not None:
        ml = (
            concentrate_ml(add.animals, strength), concentrate_ml(add.low, strength),
            concentrate_ml(add.high, strength),
        )  # fmt: skip
    return PreyNow(
        food, key, words, seen, row.when if row is not None else None,
        row.topped_up_to_per_ml if row is not None else None, add, whole, strength, ml,
    )  # fmt: skip


def _green(
    plan: DayPlan, facts: tank.TankFacts, row: PreySeen | None,
    strengths: Mapping[str, float], now: datetime,
) -> GreenNow | None:  # fmt: skip
    band = plan.greenwater
    if band is None or band.high <= 0:
        return None
    target = (band.low + band.high) / 2
    seen, stock = _seen(row, target, now), strengths.get(ALGAE)
    dose, why = None, ""
    if stock is None:
        why = "say how thick the algae stock is"
    else:
        try:
            there = seen.per_ml if seen is not None else 0.0
            dose = greenwater_dose_ml(facts.litres, target, there, stock)
        except RuleBroken as refused:
            why = refused.sentence
    when = row.when if row is not None else None
    return GreenNow(band, target, seen, when, stock, dose, why)


def _change(plan: DayPlan, litres: float) -> tuple[float, float] | None:
    band = plan.water_change
    if band is None or band.high <= 0:
        return None
    return litres * band.low / 100, litres * band.high / 100


def _day(
    held: HoldingFacts, stock: Stock, facts: tank.TankFacts, plan: DayPlan | None,
    prey: tuple[PreyNow, ...], green: GreenNow | None, split: SettlementSplit | None,
) -> day_work.LarvalDay | None:  # fmt: skip
    if held.hatched is None:
        return None
    due_on, milestone = _count_due(held, stock, plan)
    all_settled = split is not None and split.swimming == 0
    window = None if plan is None or all_settled else plan.settlement
    food = plan.microdiet if plan is not None else None
    change = plan.water_change if plan is not None else None
    light = plan.light if plan is not None else None
    return day_work.LarvalDay(
        batch_id=held.id,
        place_id=facts.tank_id,
        hatched_on=held.hatched[0].evening,
        volume_l=facts.litres,
        prey=tuple(
            day_work.PreyWanted(
                one.key, one.words, one.food.target, one.seen, one.concentrate_per_ml
            )
            for one in prey
            if one.food.target
        ),
        greenwater=None if green is None else day_work.GreenwaterWanted(
            green.target_per_ml, green.seen.per_ml if green.seen is not None else None,
            green.stock_per_ml,
        ),
        microdiet=None if food is None or food.low is None or food.high is None
        else day_work.MicrodietWanted(food.low, food.high, food.meals_low or 1),
        change_percent=(change.low + change.high) / 2 if change is not None else 0.0,
        light_hours=(light.low + light.high) / 2 or None if light is not None else None,
        settles_from_dph=float(window.days[0]) if window is not None else None,
        settles_until_dph=float(window.days[1] + _nights_apart(held)) if window else None,
        count_due_on=due_on,
        count_milestone=milestone,
    )  # fmt: skip


def _nights_apart(held: HoldingFacts) -> int:
    """By how many nights its fish may differ: the youngest come so many days later."""
    first, last = held.hatched or (None, None)
    return last.number(first) if first is not None and last is not None else 0


def _count_due(
    held: HoldingFacts, stock: Stock, plan: DayPlan | None
) -> tuple[date | None, str]:
    """A count is due when the last should have settled, unless one was made since the first."""
    if plan is None or plan.settlement is None or held.hatched is None:
        return None, ""
    first, last = held.hatched[0].plus(plan.settlement.days[0]), held.hatched[1].plus(
        ceil(plan.settlement.last_dph)
    )
    counted = [
        entry for entry in stock.book.counts
        if entry.holding == held.id and entry.is_full
        and entry.when.latest.date() >= first.evening
    ]  # fmt: skip
    if counted:
        return None, ""
    return last.evening, "settled"
