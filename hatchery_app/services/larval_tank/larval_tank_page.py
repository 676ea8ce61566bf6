"""What the pages of the larval tanks show: the walk through them, and one batch in full."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, and_, false, or_, select, true
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.larval_tank.food_history import Span
from hatchery_app.domain.larval_tank.settlement_split import (
    SettlementDates,
    SettlementSplit,
    settlement_dates,
)
from hatchery_app.domain.stock_book.stock_book import Balance, Row, Stage
from hatchery_app.domain.stock_book.survival import NotComputable, Survival
from hatchery_app.domain.tank.treatment import Treatment
from hatchery_app.domain.when import When
from hatchery_app.models.clutch import Clutch, Hatch, Laying
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import PreySeen, StageSeen
from hatchery_app.models.stock_book import Moved
from hatchery_app.services.clutch.clutch_facts import nights_of
from hatchery_app.services.larval_tank import larval_day, larval_food
from hatchery_app.services.larval_tank.larval_day import Age, LarvalPlan
from hatchery_app.services.larval_tank.larval_food import FoodHistory
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.species import library
from hatchery_app.services.stock_book import batch_differences, batch_origin, batch_survival
from hatchery_app.services.stock_book.batch_differences import LossBeside
from hatchery_app.services.stock_book.batch_survival import BatchLine, ClutchLine
from hatchery_app.services.stock_book.holding_facts import (
    NOT_HERE,
    HoldingFacts,
    Place,
    Stock,
    load_stock,
    walking_order,
)
from hatchery_app.services.tank import tank, treatment

RECENT = timedelta(days=180)  # how far back the list of ended batches goes unless asked
WAITING = timedelta(days=14)  # a hatch older than that is no longer offered
NEW = timedelta(days=3)
LOOKS_SHOWN = 40


@dataclass(frozen=True)
class LarvalLine:
    """A batch on the list. `age` is None once it has ended, or where its night is not known."""

    holding_id: int
    holding: HoldingFacts
    clutches: tuple[str, ...]
    age: Age | None
    plan: LarvalPlan | None
    balance: Balance
    survival: Survival | NotComputable
    ended_at: datetime | None
    gaps: tuple[Span, ...] = ()


@dataclass(frozen=True)
class WaitingHatch:
    """A hatch of the last days of which larvae may still stand in no tank.

    `is_new`: of the last three days; larvae without a tank and food live no longer.
    """

    hatch_id: int
    clutch: str
    night: str
    when: When
    number: str
    placed: str
    is_new: bool


@dataclass(frozen=True)
class LarvalTankList:
    """All batches of larvae: open ones in walking order, ended ones newest first."""

    open: tuple[LarvalLine, ...]
    ended: tuple[LarvalLine, ...]
    waiting: tuple[WaitingHatch, ...]


@dataclass(frozen=True)
class EntryLine:
    """One entry of a batch: a line of its book, a mark, a look at the prey, or a move whole.

    `other` is the batch fish came from or went to.
    """

    fact_id: int
    when: When
    note: str = ""
    row: Row | None = None
    settled: int | None = None
    swimming: int | None = None
    other: HoldingFacts | None = None
    mark: str = ""
    prey: str = ""
    place: Place | None = None


@dataclass(frozen=True)
class LarvalTankPage:
    """One batch of larvae: what lives there, today's plan, survival, settlement, what came."""

    holding: HoldingFacts
    plan: LarvalPlan | None
    age: Age | None
    balance: Balance
    survival: Survival | NotComputable
    clutches: tuple[ClutchLine, ...]
    parents: str
    put_together: tuple[BatchLine, ...]
    split: SettlementSplit | None
    settled: SettlementDates
    laid: When | None
    hatched: tuple[tuple[When, str], ...]
    entries: tuple[EntryLine, ...]
    losses: tuple[LossBeside, ...]
    food: FoodHistory | None
    treatments: tuple[Treatment, ...]
    ended_at: datetime | None


def larval_tank_list(
    session: Session, *, now: datetime, everything: bool = False
) -> LarvalTankList:
    """Every batch of larvae; ended ones of the last half year, or all. A fixed number of
    statements, however many there are."""
    room = room_now(session)
    since = None if everything else now - RECENT
    stock = load_stock(session, room, stage=Stage.LARVAE, began_since=since)
    planned = larval_day.larval_plans(session, room, now, stock=stock)
    plans = {one.holding.id: one for one in planned}
    ids = {one for held in stock.holdings.values() for one in held.clutch_ids}
    origins = batch_origin.origins_of(session, ids)
    gaps = larval_food.food_gaps(session, room, stock, plans, now)
    lines = [
        _line(stock, held, plans, origins, gaps.get(held.id, ()))
        for held in stock.holdings.values()
    ]
    ended = [line for line in lines if line.ended_at is not None]
    return LarvalTankList(
        tuple(sorted((line for line in lines if line.ended_at is None),
                     key=lambda line: walking_order(line.holding))),
        tuple(sorted(ended, key=lambda line: line.ended_at or now, reverse=True)),
        waiting_hatches(session, room, now),
    )  # fmt: skip


def _line(
    stock: Stock,
    held: HoldingFacts,
    plans: dict[int, LarvalPlan],
    origins: dict[int, batch_origin.ClutchOrigin],
    gaps: tuple[Span, ...],
) -> LarvalLine:
    plan = plans.get(held.id)
    balance = stock.balance(held.id)
    return LarvalLine(
        held.id, held, tuple(origins[one].name for one in held.clutch_ids if one in origins),
        plan.age if plan is not None else None, plan, balance,
        batch_survival.survival_of(balance), stock.emptied_at(held.id), gaps,
    )  # fmt: skip


def waiting_hatches(
    session: Session, room: RoomNow, now: datetime, *, carried: bool = False
) -> tuple[WaitingHatch, ...]:
    """Hatches of the last fortnight, newest first, with what of them is in tanks already.

    `carried`: instead the releases and births of broods that a parent carries, which have no
    larvae.
    """
    hatches = session.scalars(
        select(Hatch)
        .where(known(), Hatch.happened_latest >= now - WAITING)
        .order_by(Hatch.happened_latest.desc())
    ).all()
    origins = batch_origin.origins_of(session, {row.clutch_id for row in hatches})
    nights = nights_of(session, room, hatches)
    placed = session.scalars(
        select(Moved).where(known(), Moved.hatch_id.in_([row.fact for row in hatches]))
    ).all()
    return tuple(
        WaitingHatch(
            row.fact,
            origins[row.clutch_id].name,
            nights[row.fact].said(),
            row.when,
            row.how_many.said(),
            _placed([one for one in placed if one.hatch_id == row.fact]),
            row.happened_latest >= now - NEW,
        )
        for row in hatches
        if row.clutch_id in origins
        and _is_carried(origins[row.clutch_id].species_key) is carried
    )


def _is_carried(species_key: str) -> bool:
    species = library.species_or_none(species_key)
    return species is not None and species.brood_mode.is_carried


def _placed(rows: list[Moved]) -> str:
    if not rows:
        return ""
    number = rows[0].how_many
    for row in rows[1:]:
        number = number + row.how_many
    return number.said()


def batch_named(session: Session, holding_id: int) -> HoldingFacts:
    """A batch of larvae by its id, without its book. Raises NotKnown."""
    held = load_stock(session, room_now(session), holding_ids=(holding_id,)).holding(holding_id)
    if held.stage is not Stage.LARVAE:
        raise NotKnown(NOT_HERE)
    return held


def larval_tank_page(session: Session, *, holding_id: int, now: datetime) -> LarvalTankPage:
    """One batch of larvae. Raises NotKnown. A fixed number of statements."""
    room = room_now(session)
    stock = load_stock(session, room, holding_ids=(holding_id,))
    held = stock.holding(holding_id)
    if held.stage is not Stage.LARVAE:
        raise NotKnown(NOT_HERE)
    wide = stock
    if held.clutch_ids:
        wide = load_stock(session, room, clutch_ids=held.clutch_ids)
    origins = batch_origin.origins_of(session, held.clutch_ids)
    plans = larval_day.larval_plans(session, room, now, stock=stock)
    splits = larval_day.split_of(stock, holding_id)
    balance = stock.balance(holding_id)
    plan = plans[0] if plans else None
    return LarvalTankPage(
        holding=held,
        plan=plan,
        age=plan.age if plan is not None else _age(session, held, room, now),
        balance=balance,
        survival=batch_survival.survival_of(balance),
        clutches=batch_survival.clutch_lines(wide, held, origins),
        parents=batch_survival.parents_said(held, origins),
        put_together=batch_survival.put_together_from(wide, held),
        split=splits[-1] if splits else None,
        settled=settlement_dates(splits),
        laid=_laid(session, held),
        hatched=_hatched(session, held),
        entries=_entries(session, stock, wide, held),
        losses=batch_differences.losses_beside(session, room, stock, held, now),
        food=larval_food.food_history(session, room, stock, held, plan, now),
        treatments=treatment.treatments_of_stays(
            session, held.places, stock.emptied_at(holding_id) or now
        ),
        ended_at=stock.emptied_at(holding_id),
    )


def _age(session: Session, held: HoldingFacts, room: RoomNow, now: datetime) -> Age | None:
    if not held.places:
        return None
    facts = tank.tank_facts(session, (held.place.tank_id,), now)
    here = facts.get(held.place.tank_id)
    return larval_day.age_of(held.hatched, now, room, here) if here is not None else None


def _laid(session: Session, held: HoldingFacts) -> When | None:
    """When the eggs of its one clutch were laid."""
    if len(held.clutch_ids) != 1:
        return None
    of_it = select(Clutch.laying_id).where(known(), Clutch.fact_id == held.clutch_ids[0])
    laying = session.scalars(
        select(Laying).where(known(), Laying.fact_id.in_(of_it))
    ).first()
    return laying.when if laying is not None else None


def _hatched(session: Session, held: HoldingFacts) -> tuple[tuple[When, str], ...]:
    """The hatch parts its fish came of, each with its number in words."""
    of_it = select(Moved.hatch_id).where(known(), Moved.into_id == held.id)
    rows = session.scalars(
        select(Hatch).where(known(), Hatch.fact_id.in_(of_it)).order_by(Hatch.happened_latest)
    )
    return tuple((row.when, row.how_many.said()) for row in rows)


def _entries(
    session: Session, stock: Stock, wide: Stock, held: HoldingFacts
) -> tuple[EntryLine, ...]:
    lines = [_book_line(stock, wide, held, row) for row in stock.rows(held.id)]
    lines += [EntryLine(place.fact_id, place.since, place=place) for place in held.places[1:]]
    marks = session.scalars(
        select(StageSeen).where(known(), StageSeen.holding_id == held.id)
    )
    lines += [EntryLine(row.fact, row.when, row.note, mark=row.mark.value) for row in marks]
    looks = session.scalars(
        select(PreySeen)
        .where(known(), _while_there(held, stock.emptied_at(held.id)))
        .order_by(PreySeen.happened_latest.desc(), PreySeen.seq.desc())
        .limit(LOOKS_SHOWN)
    )  # fmt: skip
    lines += [EntryLine(row.fact, row.when, row.note, prey=_prey_said(row)) for row in looks]
    lines.sort(key=lambda line: (line.when.latest, line.fact_id), reverse=True)
    return tuple(lines)


def _while_there(held: HoldingFacts, left_at: datetime | None) -> ColumnElement[bool]:
    """The looks at a tank while the batch was in it: another one lives there afterwards."""
    begins = [held.began.earliest, *(place.since.earliest for place in held.places[1:])]
    ends = [*(place.since.latest for place in held.places[1:]), left_at]
    return or_(
        false(),
        *(
            and_(
                PreySeen.tank_id == place.tank_id, PreySeen.happened_latest >= begun,
                true() if ended is None else PreySeen.happened_latest <= ended,
            )
            for place, begun, ended in zip(held.places, begins, ends, strict=True)
        ),
    )  # fmt: skip


def _prey_said(row: PreySeen) -> str:
    seen = row.look
    if row.per_ml is not None:
        seen = f"{row.per_ml:.2g} per mL ({row.counted})"
    if row.topped_up_to_per_ml is not None:
        seen = f"{seen}, topped up to {row.topped_up_to_per_ml:g} per mL".lstrip(", ")
    return f"{row.food}: {seen}"


def _book_line(stock: Stock, wide: Stock, held: HoldingFacts, row: Row) -> EntryLine:
    told = stock.told.get(row.entry.seq)
    ends = (getattr(row.entry, "out_of", None), getattr(row.entry, "into", None))
    other = next((one for one in ends if one is not None and one != held.id), None)
    return EntryLine(
        row.entry.seq, row.entry.when, told.note if told is not None else "", row=row,
        settled=told.settled if told is not None else None,
        swimming=told.swimming if told is not None else None,
        other=wide.holdings.get(other) if other is not None else None,
    )  # fmt: skip
