"""What batches of larvae were fed day by day, beside what they lost, and their food gaps."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.food_history import (
    FoodDay,
    FoodSaid,
    FoodSeen,
    GapMarked,
    LossAfter,
    Span,
    food_days,
    gaps,
    losses_after,
    unwritten,
)
from hatchery_app.domain.larval_tank.larval_protocol import ALGAE, Food, LarvalProtocol, for_day
from hatchery_app.domain.live_food.live_food import (
    Look,
    PreyDensity,
    density_from_count,
    density_from_look,
)
from hatchery_app.domain.stock_book.reared import Going, goings
from hatchery_app.domain.today.schedule import Outcome, Round, TaskName, Turn
from hatchery_app.domain.when import Night, night_of
from hatchery_app.models.brine_shrimp import ShrimpFed
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import PreySeen, StageMark, StageSeen
from hatchery_app.models.today import TaskAnswered
from hatchery_app.services.larval_tank.larval_day import KEYS, LarvalPlan
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import batch_origin
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, Stock
from hatchery_app.services.today.task_answer import LET_GO

LONGEST = timedelta(days=120)  # no larvae are kept as larvae longer
FED_BY = {f"top_up_{key}": food.value for food, (key, _) in KEYS.items()}
FED_BY["microdiet"] = Food.MICRODIET.value
"""The lines of Today that feed a tank, with their food."""
FED_IN = (Round.MORNING, Round.MIDDAY, Round.BEFORE_LIGHTS_OFF, Round.TONIGHT)
MOST_SKIPPED = 500  # of a list's half year; more are not feedings left out but lines not used


@dataclass(frozen=True)
class FoodHistory:
    """One batch: its days, its gaps with the losses after each, the days nobody wrote down, and
    what was lost at which age."""

    days: tuple[FoodDay, ...]
    gaps: tuple[Span, ...]
    losses: tuple[LossAfter, ...]
    unwritten: tuple[Span, ...]
    goings: tuple[Going, ...]


@dataclass(frozen=True)
class _Batch:
    """A batch with what its days are worked out from."""

    held: HoldingFacts
    first: Night
    protocol: LarvalProtocol | None
    mean_c: float | None
    until: datetime
    is_open: bool
    room: RoomNow

    def dph_at(self, moment: datetime) -> int:
        """Days post hatch at a moment, by the lamps over its first tank."""
        lights = self.room.lamps.over(moment, tank_id=self.held.places[0].tank_id)
        return night_of(moment, lights, self.room.room_time).number(self.first)

    def was_in(self, tank_id: int, at: datetime) -> bool:
        """Whether it stood in a tank then."""
        if at < self.held.began.earliest or at > self.until:
            return False
        since = [place for place in self.held.places if place.since.earliest <= at]
        return bool(since) and since[-1].tank_id == tank_id


def food_history(
    session: Session, room: RoomNow, stock: Stock, held: HoldingFacts, plan: LarvalPlan | None,
    now: datetime,
) -> FoodHistory | None:
    """One batch in full; None where its hatch night is not known. Four statements."""
    batch = _batch(room, stock, held, plan, now)
    if batch is None:
        return None
    since, ids = held.began.earliest, [held.id]
    said = [*_answers(session, since, batch), *_shrimp_fed(session, since, batch)]
    days = _days(
        batch, _looks(session, [batch], since)[held.id], said,
        _marks(session, ids, {held.id: batch})[held.id],
    )  # fmt: skip
    lost = goings(stock.book, [held.id], batch.dph_at)
    found = gaps(days)
    return FoodHistory(
        days, found, tuple(losses_after(gap, lost) for gap in found), unwritten(days), lost
    )


def food_gaps(
    session: Session, room: RoomNow, stock: Stock, plans: Mapping[int, LarvalPlan], now: datetime
) -> dict[int, tuple[Span, ...]]:
    """The food gaps of every batch in a list; four statements, however many there are."""
    batches = {
        held.id: batch
        for held in stock.holdings.values()
        if (batch := _batch(room, stock, held, plans.get(held.id), now)) is not None
    }
    if not batches:
        return {}
    since = min(batch.held.began.earliest for batch in batches.values())
    looks = _looks(session, list(batches.values()), since)
    marks = _marks(session, list(batches), batches)
    not_fed = _not_fed(session, batches, since)
    return {
        key: found
        for key, batch in batches.items()
        if (found := gaps(_days(batch, looks[key], not_fed[key], marks[key])))
    }


def _batch(
    room: RoomNow, stock: Stock, held: HoldingFacts, plan: LarvalPlan | None, now: datetime
) -> _Batch | None:
    if held.hatched is None or not held.places:
        return None
    species = plan.species if plan is not None else None
    if species is None:
        species = batch_origin.species_kept("", held.species_key)
    ended = stock.emptied_at(held.id)
    return _Batch(
        held, held.hatched[0], species.larval if species is not None else None,
        plan.mean_c if plan is not None else None, min(ended or now, held.began.latest + LONGEST),
        ended is None, room,
    )  # fmt: skip


def _days(
    batch: _Batch, seen: Iterable[FoodSeen], said: Iterable[FoodSaid], marked: Iterable[GapMarked]
) -> tuple[FoodDay, ...]:
    until = max(0, batch.dph_at(batch.until))
    return food_days(
        batch.first.evening, until, batch.protocol, batch.mean_c, seen, said, marked,
        from_dph=batch.dph_at(batch.held.began.latest), over_until_dph=until - 1,
    )  # fmt: skip


# --- What was written ---------------------------------------------------------------------


def _looks(
    session: Session, batches: Sequence[_Batch], since: datetime
) -> dict[int, list[FoodSeen]]:
    tanks = {place.tank_id for one in batches for place in one.held.places}
    rows = session.scalars(
        select(PreySeen)
        .where(
            known(), PreySeen.tank_id.in_(sorted(tanks)), PreySeen.happened_latest >= since,
            PreySeen.food != ALGAE,
        )
        .order_by(PreySeen.happened_latest, PreySeen.seq)
    ).all()  # fmt: skip
    by_tank: dict[int, list[PreySeen]] = defaultdict(list)
    for row in rows:
        by_tank[row.tank_id].append(row)
    found: dict[int, list[FoodSeen]] = defaultdict(list)
    for one in batches:
        targets = _Targets(one)
        for tank_id in {place.tank_id for place in one.held.places}:
            found[one.held.id] += [
                _look(row, one.dph_at(row.happened_latest), targets)
                for row in by_tank[tank_id]
                if one.was_in(tank_id, row.happened_latest)
            ]
    return found


class _Targets:
    """What the plan wants of each food on a day, each day worked out once."""

    def __init__(self, batch: _Batch) -> None:
        self._batch = batch
        self._days: dict[int, dict[str, float | None]] = {}

    def of(self, dph: int, food: str) -> float | None:
        """The middle of the band, per mL."""
        protocol = self._batch.protocol
        if dph not in self._days and protocol is not None:
            foods = for_day(protocol, max(0, dph), self._batch.mean_c).foods
            self._days[dph] = {one.food.value: one.target for one in foods}
        return self._days.get(dph, {}).get(food)


def _look(row: PreySeen, dph: int, targets: _Targets) -> FoodSeen:
    target = targets.of(dph, row.food)
    return FoodSeen(
        row.happened_latest, max(0, dph), row.food, _density(row, target), target,
        row.topped_up_to_per_ml, bool(row.look) and not row.counted,
    )  # fmt: skip


def _density(row: PreySeen, target: float | None) -> PreyDensity | None:
    if row.counted:
        figures, _, volume = row.counted.partition(" in ")
        return density_from_count(
            [int(one) for one in figures.split()], float(volume.removesuffix(" mL"))
        )
    if row.look == Look.NONE and not target:
        return PreyDensity(0.0, 0.0, 0.0, "a look: none")
    return density_from_look(Look(row.look), target) if row.look and target else None


def _marks(
    session: Session, ids: Sequence[int], batches: Mapping[int, _Batch]
) -> dict[int, list[GapMarked]]:
    rows = session.scalars(
        select(StageSeen)
        .where(
            known(), StageSeen.holding_id.in_(ids), StageSeen.mark == StageMark.FOOD_GAP
        )
        .order_by(StageSeen.happened_latest, StageSeen.seq)
    )
    found: dict[int, list[GapMarked]] = defaultdict(list)
    for row in rows:
        dph = max(0, batches[row.holding_id].dph_at(row.happened_latest))
        found[row.holding_id].append(
            GapMarked(row.happened_latest, dph, row.note or "marked as a food gap")
        )
    return found


def _answers(session: Session, since: datetime, batch: _Batch) -> list[FoodSaid]:
    """The feeding lines of Today as they were answered for one batch."""
    key = batch.held.id
    names = [
        TaskAnswered.task.startswith(f"{kind}:{key}:", autoescape=True) for kind in FED_BY
    ]
    rows = session.scalars(
        select(TaskAnswered)
        .where(known(), or_(*names), TaskAnswered.happened_latest >= since)
        .order_by(TaskAnswered.happened_latest, TaskAnswered.seq)
    )
    return [said for row in rows if (said := _said(row, batch)) is not None]


def _not_fed(
    session: Session, batches: Mapping[int, _Batch], since: datetime
) -> dict[int, list[FoodSaid]]:
    """Of all batches the feeding lines that were skipped with a reason, and what was fed on the
    same days. Two statements, one where nothing was skipped."""
    kinds = or_(*(TaskAnswered.task.startswith(f"{kind}:", autoescape=True) for kind in FED_BY))
    rows = session.scalars(
        select(TaskAnswered)
        .where(
            known(), TaskAnswered.outcome == Outcome.SKIPPED.value,
            TaskAnswered.reason.not_in(["", LET_GO]), TaskAnswered.happened_latest >= since, kinds,
        )
        .order_by(TaskAnswered.seq.desc())
        .limit(MOST_SKIPPED)
    ).all()  # fmt: skip
    found: dict[int, list[FoodSaid]] = defaultdict(list)
    for row in (*rows, *_fed_beside(session, rows)):
        batch = batches.get(TaskName.parse(row.task).fact_id)
        said = _said(row, batch) if batch is not None else None
        if said is not None and batch is not None:
            found[batch.held.id].append(said)
    return found


def _fed_beside(session: Session, skipped: Sequence[TaskAnswered]) -> Sequence[TaskAnswered]:
    """What was fed to the same batches in the other rounds of those days."""
    names = [
        str(TaskName(kind, name.fact_id, str(Turn(day, each))))
        for name in {TaskName.parse(row.task) for row in skipped}
        if (day := _day_of(name)) is not None
        for kind in FED_BY for each in FED_IN
    ]  # fmt: skip
    if not names:
        return ()
    fed = [Outcome.DONE.value, Outcome.DIFFERENTLY.value]
    return session.scalars(
        select(TaskAnswered).where(
            known(), TaskAnswered.task.in_(names), TaskAnswered.outcome.in_(fed)
        )
    ).all()


def _day_of(name: TaskName) -> date | None:
    """The day a feeding line was of; None for a name that is no line of a day."""
    try:
        return Turn.parse(name.turn).day
    except RuleBroken:
        return None


def _said(row: TaskAnswered, batch: _Batch) -> FoodSaid | None:
    """Done is given, skipped with a reason is not given; put off or let go says neither."""
    name = TaskName.parse(row.task)
    food, at = FED_BY[name.kind], row.happened_latest
    day = _day_of(name)
    if day is None:
        return None
    dph = max(0, (day - batch.first.evening).days)  # the line's own day, not when it was ticked
    match Outcome(row.outcome):
        case Outcome.DONE:
            return FoodSaid(at, dph, food, given=f"{food} given")
        case Outcome.DIFFERENTLY:
            return FoodSaid(at, dph, food, given=f"{food}: {row.really_done}")
        case Outcome.SKIPPED if row.reason and row.reason != LET_GO:
            return FoodSaid(at, dph, food, why_not=row.reason)
    return None


def _shrimp_fed(session: Session, since: datetime, batch: _Batch) -> list[FoodSaid]:
    """Brine shrimp fed out into this batch's tank, by the place that was written."""
    rows = session.scalars(
        select(ShrimpFed)
        .where(
            known(), ShrimpFed.into != "", ShrimpFed.happened_latest >= since,
            ShrimpFed.happened_latest <= batch.until,
        )
        .order_by(ShrimpFed.happened_latest, ShrimpFed.seq)
    )
    return [
        FoodSaid(
            row.happened_latest, max(0, batch.dph_at(row.happened_latest)), "brine shrimp",
            given=f"{row.animals:,.0f} brine shrimp" if row.animals else "brine shrimp",
        )
        for row in rows
        if _names(row.into, batch.held)
    ]  # fmt: skip


def _names(into: str, held: HoldingFacts) -> bool:
    """Whether what was fed went here: "L3 · Batch 12", "L1, L3"; "larval tanks" is no tank."""
    labels = {place.label for place in held.places}
    places = {part.partition(" · ")[0].strip() for part in into.replace(" and ", ",").split(",")}
    return bool(labels & places) and (" · " not in into or into.endswith(held.name))
