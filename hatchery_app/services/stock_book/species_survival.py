"""How the batches of a species fared: each in its row, together by age, in groups, by stage."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import ceil, floor

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.stock_book.loss_ages import BadDays, LossesOfBatch, bad_days, losses_of
from hatchery_app.domain.stock_book.reared import (
    FEWEST_BATCHES,
    BandPoint,
    Fate,
    Reared,
    batch_curve,
    descents,
    pooled_curve,
    reared,
    share_alive_at,
)
from hatchery_app.domain.stock_book.stage_survival import (
    ClutchStages,
    Reached,
    StepOverAll,
    over_all,
    rearing_numbers,
)
from hatchery_app.domain.stock_book.stock_book import Balance, Door, Stage
from hatchery_app.domain.stock_book.survival import NotComputable, Survival, survival
from hatchery_app.domain.stock_book.survival_curve import CurvePoint
from hatchery_app.domain.stock_book.tanks_compared import (
    Compared,
    GroupFared,
    TankFared,
    compare,
    groups,
    middle_of_all,
)
from hatchery_app.domain.when import night_of
from hatchery_app.models.clutch import Clutch, Hatch, Laying
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import StageSeen
from hatchery_app.models.stock_book import Holding
from hatchery_app.models.tank import Tank
from hatchery_app.services.larval_tank import larval_day
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.species import library
from hatchery_app.services.stock_book import batch_origin, batch_survival
from hatchery_app.services.stock_book.batch_origin import ClutchOrigin
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, Stock, load_stock
from hatchery_app.services.stock_book.rearing_groups import By, Surroundings, group_of

NEWEST = 200  # batches of one page; those before say how the room was, not how it is
FROM_THE_HATCH_DPH = 2  # later comers had their worst days somewhere else
SETTLED_DPH = 14  # where the species file gives no settlement


@dataclass(frozen=True)
class SpeciesLine:
    """A species of which batches were reared here."""

    key: str
    name: str
    batches: int


@dataclass(frozen=True)
class BatchRow:
    """A batch with all its fish alone went on to. `without_culls`: those put down set aside.

    `not_followed` says why it stands in no curve, "" where it does; `label` is its first tank.
    """

    holding: HoldingFacts
    label: str
    pair: str
    balance: Balance
    survival: Survival | NotComputable
    without_culls: Survival | NotComputable | None
    ended_at: datetime | None
    not_followed: str


@dataclass(frozen=True)
class CurveOfAll:
    """Survival over all batches followed: culls as deaths, and set aside (None: none put down)."""

    points: tuple[BandPoint, ...]
    without_culls: tuple[BandPoint, ...] | None
    of_each: tuple[tuple[CurvePoint, ...], ...]


@dataclass(frozen=True)
class TanksCompared:
    """Tanks in groups at an age, and two of the groups against each other.

    `line` is the share alive from which a tank did well; `line_is_rooms` where it is the middle
    tank's and not the keeper's.
    """

    by: By
    dph: int
    line: float
    line_is_rooms: bool
    groups: tuple[GroupFared, ...]
    compared: Compared | None
    names: Mapping[int, str]


@dataclass(frozen=True)
class SpeciesSurvival:
    """Everything the page of one species says. `curve` and what follows are empty below five
    batches followed; `followed` is how many there are."""

    key: str
    name: str
    rows: tuple[BatchRow, ...]
    has_older: bool
    followed: int
    curve: CurveOfAll | None
    losses: tuple[LossesOfBatch, ...]
    bad_days: tuple[BadDays, ...]
    groups: TanksCompared | None
    stages: tuple[ClutchStages, ...]
    steps: tuple[StepOverAll, ...]
    clutch_names: Mapping[int, str]


@dataclass(frozen=True)
class Asking:
    """What the keeper asks of the groups: by what, which two, at which age, from which share."""

    by: By = By.PAIR
    one: str = ""
    other: str = ""
    dph: int | None = None
    percent: int | None = None


def species_reared(session: Session) -> tuple[SpeciesLine, ...]:
    """The species with batches, most of them first. One statement."""
    found = session.execute(
        select(Holding.species_key, func.count())
        .where(known(), Holding.stage == Stage.LARVAE)
        .group_by(Holding.species_key)
    )
    named = library.library()
    lines = [
        SpeciesLine(key, named[key].common_name if key in named else key, number)
        for key, number in found
    ]
    return tuple(sorted(lines, key=lambda line: (-line.batches, line.name)))


def species_name(key: str) -> str:
    """The common name of a species, or its key where no file stands for it."""
    species = library.species_or_none(key)
    return species.common_name if species is not None else key


def species_survival(session: Session, *, species_key: str, asking: Asking) -> SpeciesSurvival:
    """All batches of a species, the newest 200. Raises NotKnown for one that nobody knows.

    A fixed number of statements.
    """
    room = room_now(session)
    since, has_older = _since(session, species_key)
    stock = load_stock(session, room, species_key=species_key, began_since=since)
    if not stock.holdings and library.species_or_none(species_key) is None:
        raise NotKnown("There is no such species in this room.")
    clutch_ids = {one for held in stock.holdings.values() for one in held.clutch_ids}
    origins = batch_origin.origins_of(session, clutch_ids)
    around = _surroundings(session, stock, clutch_ids)
    lines = descents(stock.holdings, stock.book.movements)
    ages = {first: _dph_at(stock.holdings[first], around, room) for first in lines}
    told = {first: _reared(stock, line, ages[first]) for first, line in lines.items()}
    followed = [
        one for one in told.values() if one is not None and not _why_not(stock, one.key, one)
    ]
    rows = [
        _row(stock, line, told[first], origins, why=_why_not(stock, first, told[first]))
        for first, line in lines.items()
    ]
    rows.sort(key=lambda row: (row.holding.began.latest, row.holding.id), reverse=True)
    stages = _stages(session, stock, around, room, clutch_ids)
    enough = len(followed) >= FEWEST_BATCHES
    return SpeciesSurvival(
        key=species_key,
        name=species_name(species_key),
        rows=tuple(rows),
        has_older=has_older,
        followed=len(followed),
        curve=_curve(followed) if enough else None,
        losses=tuple(losses_of(one) for one in followed) if enough else (),
        bad_days=bad_days(followed),
        groups=_groups(stock, followed, origins, around, species_key, asking) if enough else None,
        stages=stages,
        steps=over_all(stages),
        clutch_names={one: origin.name for one, origin in origins.items()},
    )


def _since(session: Session, species_key: str) -> tuple[datetime | None, bool]:
    """When the oldest of the newest batches began, and whether there are older ones."""
    begun = list(
        session.scalars(
            select(Holding.happened_latest)
            .where(known(), Holding.species_key == species_key, Holding.stage == Stage.LARVAE)
            .order_by(Holding.happened_latest.desc())
            .offset(NEWEST - 1)
            .limit(2)
        )
    )
    return (begun[0] if begun else None), len(begun) > 1


def _surroundings(
    session: Session, stock: Stock, clutch_ids: Iterable[int]
) -> Surroundings:
    """Tanks, hatches and marks, for the age of the batches and the groups they fall into."""
    tank_ids = {place.tank_id for held in stock.holdings.values() for place in held.places}
    tanks = session.scalars(select(Tank).where(known(), Tank.fact_id.in_(sorted(tank_ids))))
    hatches = session.scalars(
        select(Hatch)
        .where(known(), Hatch.clutch_id.in_(sorted(clutch_ids)))
        .order_by(Hatch.happened_latest)
    )
    marks = session.scalars(
        select(StageSeen).where(known(), StageSeen.holding_id.in_(sorted(stock.holdings)))
    )
    return Surroundings(
        {row.fact: row for row in tanks}, {row.fact: row for row in hatches}, tuple(marks)
    )


def _dph_at(
    held: HoldingFacts, around: Surroundings, room: RoomNow
) -> Callable[[datetime], int] | None:
    """The age of the batch's oldest fish by the lamps over its first tank."""
    if held.hatched is None:
        return None
    hatched = held.hatched[0]
    tank = around.tanks.get(held.places[0].tank_id) if held.places else None
    tank_id, rack = (tank.fact, tank.rack) if tank is not None else (None, "")

    def dph_at(moment: datetime) -> int:
        lights = room.lamps.over(moment, tank_id=tank_id, rack=rack)
        return night_of(moment, lights, room.room_time).number(hatched)

    return dph_at


def _reared(
    stock: Stock, line: Sequence[int], dph_at: Callable[[datetime], int] | None
) -> Reared | None:
    return reared(stock.book, line, dph_at) if dph_at is not None else None


def _why_not(stock: Stock, first: int, told: Reared | None) -> str:
    """Why a batch stands in no curve; "" where it does."""
    held = stock.holdings[first]
    if held.hatched is None:
        return "the night it hatched is not known"
    if told is None:
        return "a number of it is not known"
    if held.is_mixed:
        return "a mixed batch: followed from the merge only"
    if told.from_dph > FROM_THE_HATCH_DPH:
        return f"not followed from the hatch: here from {told.from_dph} dph"
    return ""


def _row(
    stock: Stock,
    line: Sequence[int],
    told: Reared | None,
    origins: Mapping[int, ClutchOrigin],
    *,
    why: str,
) -> BatchRow:
    held = stock.holdings[line[0]]
    balance = stock.book.together(line)
    culled = sum(one.number for one in told.goings if one.fate is Fate.PUT_DOWN) if told else 0
    ends = [stock.emptied_at(one) for one in line]
    return BatchRow(
        holding=held,
        label=held.places[0].label if held.places else "",
        pair=batch_survival.parents_said(held, origins),
        balance=balance,
        survival=batch_survival.survival_of(balance),
        without_culls=_without_culls(balance, culled) if culled else None,
        ended_at=max((one for one in ends if one is not None), default=None)
        if balance.now.best == 0
        else None,
        not_followed=why,
    )


def _without_culls(balance: Balance, culled: int) -> Survival | NotComputable:
    """The share alive when those put down are taken out at both ends, as leavers are."""
    return survival(balance.start, balance.now + balance.left_alive, removed=culled)


def _curve(followed: Sequence[Reared]) -> CurveOfAll:
    culls = any(going.fate is Fate.PUT_DOWN for one in followed for going in one.goings)
    return CurveOfAll(
        pooled_curve(followed),
        pooled_curve(followed, culls_died=False) if culls else None,
        tuple(batch_curve(one) for one in followed),
    )


# --- Groups of tanks ----------------------------------------------------------------------


def _groups(
    stock: Stock,
    followed: Sequence[Reared],
    origins: Mapping[int, ClutchOrigin],
    around: Surroundings,
    species_key: str,
    asking: Asking,
) -> TanksCompared | None:
    dph = asking.dph if asking.dph is not None else _settled_by(species_key)
    tanks = []
    for one in followed:
        share = share_alive_at(one, dph)
        if share is not None:
            held = stock.holdings[one.key]
            group = group_of(asking.by, stock, held, origins, around)
            tanks.append(TankFared(one.key, group, *share))
    line = middle_of_all(tanks)
    if line is None:
        return TanksCompared(asking.by, dph, 0.5, True, (), None, {})
    line = floor(100 * line) / 100 if asking.percent is None else asking.percent / 100
    found = groups(tanks, line)
    names = {one.key: stock.holdings[one.key].full_name for one in followed}
    pair = _two_of(found, asking)
    return TanksCompared(
        asking.by, dph, line, asking.percent is None, found,
        compare(*pair) if pair is not None else None, names,
    )  # fmt: skip


def _settled_by(species_key: str) -> int:
    species = library.species_or_none(species_key)
    if species is None or species.larval is None or species.larval.settlement is None:
        return SETTLED_DPH
    return ceil(species.larval.settlement.last_dph)


def _two_of(
    found: Sequence[GroupFared], asking: Asking
) -> tuple[GroupFared, GroupFared] | None:
    """The two the keeper names, else the two with most tanks."""
    by_name = {group.group: group for group in found}
    if asking.one in by_name and asking.other in by_name and asking.one != asking.other:
        return by_name[asking.one], by_name[asking.other]
    return (found[0], found[1]) if len(found) > 1 else None


# --- Stages -------------------------------------------------------------------------------

HOMES = frozenset({Door.SOLD, Door.GIVEN_AWAY, Door.KEPT})


def _stages(
    session: Session,
    stock: Stock,
    around: Surroundings,
    room: RoomNow,
    clutch_ids: Iterable[int],
) -> tuple[ClutchStages, ...]:
    ids = sorted(clutch_ids)
    eggs = _eggs(session, ids)
    hatched: dict[int, list[HowMany]] = {}
    for row in around.hatches.values():
        hatched.setdefault(row.clutch_id, []).append(row.how_many)
    return tuple(
        _clutch_stages(stock, around, room, one, eggs.get(one), hatched.get(one, ())) for one in ids
    )


def _eggs(session: Session, clutch_ids: Sequence[int]) -> dict[int, HowMany]:
    """The eggs laid, of clutches that hold a whole laying: of a part of one nobody counted them."""
    clutches = session.execute(
        select(Clutch.fact_id, Clutch.laying_id, Clutch.part).where(
            known(), Clutch.fact_id.in_(clutch_ids)
        )
    ).all()
    layings = session.scalars(
        select(Laying).where(known(), Laying.fact_id.in_({row.laying_id for row in clutches}))
    )
    laid = {row.fact: row.how_many for row in layings}
    return {
        row.fact_id: laid[row.laying_id]
        for row in clutches
        if row.laying_id in laid and not row.part and row.fact_id is not None
    }


def _clutch_stages(
    stock: Stock,
    around: Surroundings,
    room: RoomNow,
    clutch_id: int,
    eggs: HowMany | None,
    hatched: Sequence[HowMany],
) -> ClutchStages:
    numbers: dict[Reached, HowMany] = {}
    if eggs is not None and eggs.best is not None:
        numbers[Reached.EGGS] = eggs
    if hatched and all(part.best is not None for part in hatched):
        total = hatched[0]
        for part in hatched[1:]:
            total = total + part
        numbers[Reached.HATCHED] = total
    own = [one for one in stock.holdings.values() if one.clutch_ids == (clutch_id,)]
    dph_at = _dph_at(own[0], around, room) if own else None
    told = _reared(stock, [one.id for one in own], dph_at)
    if told is None or dph_at is None or told.from_dph > FROM_THE_HATCH_DPH:
        return ClutchStages(clutch_id, numbers)
    balance = stock.book.together(one.id for one in own)
    firm = all(part.basis is Basis.COUNTED for part in (balance.start, balance.now))
    numbers |= rearing_numbers(
        told, settled_dph=_settled_dph(stock, own, dph_at), sold=_sold(stock, own), is_firm=firm
    )
    return ClutchStages(clutch_id, numbers)


def _settled_dph(
    stock: Stock, own: Sequence[HoldingFacts], dph_at: Callable[[datetime], int]
) -> int | None:
    """The age at which none of a clutch swam any more: seen so, or all moved on."""
    ages = []
    for held in own:
        if held.stage is not Stage.LARVAE:
            continue
        looks = [look for look in larval_day.split_of(stock, held.id) if look.swimming == 0]
        ended = stock.emptied_at(held.id)
        if not looks and ended is None:
            return None
        ages.append(dph_at(looks[0].when.latest) if looks else dph_at(ended))  # type: ignore[arg-type]
    return max(ages, default=None)


def _sold(stock: Stock, own: Sequence[HoldingFacts]) -> int | None:
    """How many of a clutch found a home; None while some may yet, or where they were mixed."""
    ids = {one.id for one in own}
    if any(not stock.is_empty(one) for one in ids):
        return None
    leaving = [move for move in stock.book.movements if move.out_of in ids and move.into not in ids]
    if any(move.door is Door.MOVED for move in leaving):
        return None
    return sum(move.number.best or 0 for move in leaving if move.door in HOMES)
