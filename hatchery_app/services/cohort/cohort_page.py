"""What the pages of the cohorts show: the walk through grow-out, and one cohort in full."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.cohort.cohort import StockingDensity, has_published_ration
from hatchery_app.domain.cohort.free_to_sell import FreeToSell
from hatchery_app.domain.cohort.growth import DayRation, day_ration
from hatchery_app.domain.cohort.length_sample import (
    MeanWeight,
    SaleSizeDay,
    mean_weight,
    sale_size_days,
)
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.stock_book.stock_book import Balance, Row, Stage
from hatchery_app.domain.stock_book.survival import NotComputable, Survival
from hatchery_app.domain.tank.treatment import Treatment
from hatchery_app.domain.when import When
from hatchery_app.models.entry import known
from hatchery_app.models.stock_book import Holding
from hatchery_app.services.cohort import cohort_facts
from hatchery_app.services.cohort.cohort import NOT_HERE
from hatchery_app.services.cohort.cohort_facts import ApartLine, GradeLine, HoldLine, SampleLine
from hatchery_app.services.larval_tank import larval_day
from hatchery_app.services.larval_tank.larval_day import Age
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.sale.sale_size import SaleSizeNow, of_sale_size, sale_size_now
from hatchery_app.services.stock_book import batch_differences, batch_origin, batch_survival
from hatchery_app.services.stock_book.batch_differences import LossBeside
from hatchery_app.services.stock_book.batch_survival import BatchLine, ClutchLine
from hatchery_app.services.stock_book.every_batch import batches_held
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, Place, Stock, load_stock
from hatchery_app.services.tank import tank, treatment

RECENT = timedelta(days=180)  # how far back the list of ended cohorts goes unless asked


@dataclass(frozen=True)
class CohortLine:
    """A cohort on the list."""

    holding: HoldingFacts
    age: Age | None
    balance: Balance
    free: FreeToSell
    holds: tuple[HoldLine, ...]
    apart: tuple[ApartLine, ...]
    sample: SampleLine | None
    parents: str
    ended_at: datetime | None


@dataclass(frozen=True)
class CohortList:
    """Cohorts with fish in walking order, and those that have gone, newest first."""

    open: tuple[CohortLine, ...]
    ended: tuple[CohortLine, ...]


@dataclass(frozen=True)
class Ration:
    """Feed a day: of one fish by the published model and of all; None with the reason."""

    each: DayRation | None
    all_g: float | None
    why: str


@dataclass(frozen=True)
class CameLine:
    """One entry of a cohort's book, or a move whole; `other` is where fish came from or went."""

    fact_id: int
    when: When
    note: str
    row: Row | None = None
    other: HoldingFacts | None = None
    place: Place | None = None


@dataclass(frozen=True)
class CohortPage:
    """One cohort: what lives there, where from, how large, what is free, what came."""

    holding: HoldingFacts
    species: Species | None
    age: Age | None
    balance: Balance
    survival: Survival | NotComputable
    clutches: tuple[ClutchLine, ...]
    parents: str
    put_together: tuple[BatchLine, ...]
    density: StockingDensity | None
    samples: tuple[SampleLine, ...]
    sale_size: SaleSizeNow
    days: tuple[SaleSizeDay, ...]
    weight: MeanWeight
    ration: Ration
    free: FreeToSell
    holds: tuple[HoldLine, ...]
    apart: tuple[ApartLine, ...]
    grades: tuple[GradeLine, ...]
    came: tuple[CameLine, ...]
    losses: tuple[LossBeside, ...]
    treatments: tuple[Treatment, ...]
    ended_at: datetime | None


def cohort_list(session: Session, *, now: datetime, everything: bool = False) -> CohortList:
    """Every cohort; ended ones of the last half year, or all. A fixed number of statements."""
    room = room_now(session)
    recent = batches_held(session, room, Stage.COHORT, since=now - RECENT)
    stock = load_stock(
        session, room, stage=Stage.COHORT, holding_ids=None if everything else recent
    )
    listed = [
        one for one in stock.holdings.values()
        if everything or (stock.emptied_at(one.id) or now) >= now - RECENT
    ]  # fmt: skip
    ids = [one.id for one in listed]
    promises = cohort_facts.load_promises(session, ids)
    samples = cohort_facts.samples_of(session, ids)
    sizes = of_sale_size(session, room, listed, samples, now)
    tanks = tank.tank_facts(session, {one.place.tank_id for one in listed if one.places}, now)
    origins = batch_origin.origins_of(session, {c for one in listed for c in one.clutch_ids})
    lines = {
        one.id: CohortLine(
            one, _age(one, tanks, room, now), stock.balance(one.id),
            promises.free(one.id, stock.balance(one.id).now, sizes.get(one.id)),
            promises.holds_of(one.id), promises.apart_of(one.id), samples.get(one.id, (None,))[-1],
            batch_survival.parents_said(one, origins), stock.emptied_at(one.id),
        )
        for one in listed
    }  # fmt: skip
    ended = [line for line in lines.values() if line.ended_at is not None]
    return CohortList(
        tuple(lines[one.id] for one in stock.open() if one.id in lines),
        tuple(sorted(ended, key=lambda line: line.ended_at or now, reverse=True)),
    )


def _age(
    held: HoldingFacts, tanks: Mapping[int, tank.TankFacts], room: RoomNow, now: datetime
) -> Age | None:
    facts = tanks.get(held.place.tank_id) if held.places else None
    return larval_day.age_of(held.hatched, now, room, facts) if facts is not None else None


def cohort_page(session: Session, *, holding_id: int, now: datetime) -> CohortPage:
    """One cohort. Raises NotKnown. A fixed number of statements."""
    room = room_now(session)
    stock = load_stock(session, room, holding_ids=(holding_id,))
    held = stock.holding(holding_id)
    if held.stage is not Stage.COHORT:
        raise NotKnown(NOT_HERE)
    wide = load_stock(session, room, clutch_ids=held.clutch_ids) if held.clutch_ids else stock
    origins = batch_origin.origins_of(session, held.clutch_ids)
    balance = stock.balance(holding_id)
    promises = cohort_facts.load_promises(session, (holding_id,))
    samples = cohort_facts.samples_of(session, (holding_id,)).get(holding_id, ())
    species = _species(session, held)
    tanks = tank.tank_facts(session, {place.tank_id for place in held.places[-1:]}, now)
    sale_size = sale_size_now(session, held.species_key, species)
    sizes = of_sale_size(session, room, (held,), {holding_id: samples}, now)
    weight = mean_weight(samples[-1].sample if samples else None, held.species_key)
    return CohortPage(
        holding=held,
        species=species,
        age=_age(held, tanks, room, now),
        balance=balance,
        survival=batch_survival.survival_of(balance),
        clutches=batch_survival.clutch_lines(wide, held, origins),
        parents=batch_survival.parents_said(held, origins),
        put_together=batch_survival.put_together_from(wide, held),
        density=_density(session, room, held, tanks),
        samples=samples,
        sale_size=sale_size,
        days=_days(samples, sale_size, room),
        weight=weight,
        ration=_ration(balance.now, weight, held.species_key),
        free=promises.free(holding_id, balance.now, sizes.get(holding_id)),
        holds=promises.holds_of(holding_id),
        apart=promises.apart_of(holding_id),
        grades=cohort_facts.grades_of(session, holding_id),
        came=_came(session, room, stock, held),
        losses=batch_differences.losses_beside(session, room, stock, held, now),
        treatments=treatment.treatments_of_stays(
            session, held.places, stock.emptied_at(holding_id) or now
        ),
        ended_at=stock.emptied_at(holding_id),
    )


def _species(session: Session, held: HoldingFacts) -> Species | None:
    protocol = session.scalars(
        select(Holding.protocol).where(known(), Holding.fact_id == held.id)
    ).first()
    return batch_origin.species_kept(protocol or "", held.species_key)


def cohort_named(session: Session, holding_id: int) -> HoldingFacts:
    """A cohort by its id, without its book. Raises NotKnown."""
    held = load_stock(session, room_now(session), holding_ids=(holding_id,)).holding(holding_id)
    if held.stage is not Stage.COHORT:
        raise NotKnown(NOT_HERE)
    return held


def _days(
    samples: tuple[SampleLine, ...], sale_size: SaleSizeNow, room: RoomNow
) -> tuple[SaleSizeDay, ...]:
    if sale_size.length_mm is None:
        return ()
    return sale_size_days(
        [line.sample for line in samples], sale_size.length_mm, room.room_time
    )


def _ration(alive: HowMany, weight: MeanWeight, species_key: str) -> Ration:
    if not has_published_ration(species_key):
        return Ration(None, None, "no published ration for this species")
    if weight.weight_g is None:
        return Ration(None, None, weight.why)
    each = day_ration(weight.weight_g)
    if each is None:
        why = f"the published ration is for fish of 0.2 to 3 g; these weigh {weight.weight_g:.2g} g"
        return Ration(None, None, why)
    all_g = None if alive.best is None else alive.best * each.feed_mg / 1000
    return Ration(each, all_g, weight.why)


def _density(
    session: Session, room: RoomNow, held: HoldingFacts, tanks: Mapping[int, tank.TankFacts]
) -> StockingDensity | None:
    """All fish that live in the tank, of every batch, to the litre."""
    facts = tanks.get(held.place.tank_id) if held.places else None
    if facts is None:
        return None
    there = load_stock(session, room, tank_ids=(facts.tank_id,))
    numbers = [there.balance(one.id).now for one in there.living_in(facts.tank_id)]
    fish = HowMany.counted(0)
    for number in numbers:
        fish = fish + number
    return StockingDensity(fish, facts.litres)


def _came(
    session: Session, room: RoomNow, stock: Stock, held: HoldingFacts
) -> tuple[CameLine, ...]:
    rows = stock.rows(held.id)
    ends = {_other_end(row, held.id) for row in rows}
    others = load_stock(session, room, holding_ids=[one for one in ends if one is not None])
    lines = [CameLine(0, place.since, "", place=place) for place in held.places[1:]]
    for row in rows:
        told = stock.told.get(row.entry.seq)
        other = _other_end(row, held.id)
        lines.append(
            CameLine(
                row.entry.seq, row.entry.when, told.note if told is not None else "", row,
                others.holdings.get(other) if other is not None else None,
            )
        )  # fmt: skip
    lines.sort(key=lambda line: (line.when.latest, line.fact_id), reverse=True)
    return tuple(lines)


def _other_end(row: Row, holding_id: int) -> int | None:
    ends = (getattr(row.entry, "out_of", None), getattr(row.entry, "into", None))
    return next((one for one in ends if one is not None and one != holding_id), None)
