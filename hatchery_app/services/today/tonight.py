"""Tonight: the clutches whose night it may be, one after the other, and what is answered there.

An answer is saved at once with its hour; what it leaves open (how many, which tank) is asked in
the morning. The last answer of the night can be taken back.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome, EggMove
from hatchery_app.domain.clutch.hatch_forecast import NightChance
from hatchery_app.domain.clutch.hatch_watch import Looks, in_the_dark, looks, may_be_tonight
from hatchery_app.domain.clutch.learned_readiness import Learned
from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.live_food.live_food import ML_PER_L
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.stock_book.stock_entry import Stage
from hatchery_app.domain.today.schedule import Outcome, TaskName
from hatchery_app.domain.when import Night, When, night_of
from hatchery_app.models.clutch import ClutchCheck, ClutchEnded, EggsMoved, Hatch
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Moved
from hatchery_app.services.clutch import clutch, clutch_page
from hatchery_app.services.clutch.clutch_facts import ClutchFacts, HatchPart, load_clutches
from hatchery_app.services.clutch.clutch_page import ClutchSeen
from hatchery_app.services.clutch.clutch_watch import Watched, watch
from hatchery_app.services.live_food.live_food_facts import Cultures, cultures_now
from hatchery_app.services.recording import Book, Posting, use_case
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book.holding_facts import load_stock
from hatchery_app.services.tank.tank_walk import Walk
from hatchery_app.services.tank.tank_walk import walk as the_walk
from hatchery_app.services.today.task_answer import answers_to

# Whoever answers "hatching" stands before the eggs: both questions are answered by looking.
ANSWERED_BY_LOOKING = {"early_hatch": "so", "same_hatch": "another"}
ANSWERS = (ClutchCheck, Hatch, EggsMoved, ClutchEnded)


@dataclass(frozen=True)
class Siblings:
    """Larvae of the same clutch, hatched before: in which tank, and how many by the book."""

    label: str
    litres: float
    number: HowMany


@dataclass(frozen=True)
class NightWatch:
    """One open clutch as it is met tonight. `night` is tonight's chance, None without a figure.

    `siblings` are the tanks that hold larvae of it already.
    """

    seen: ClutchSeen
    name: str
    learned: Learned
    night: NightChance | None
    may_hatch: bool
    is_dark: bool
    looks: Looks | None
    hatched: HatchPart | None
    food_held_since: datetime | None = None
    siblings: tuple[Siblings, ...] = ()

    @property
    def clutch_id(self) -> int:
        """The clutch."""
        return self.seen.clutch.id


@dataclass(frozen=True)
class LastAnswer:
    """The last answer of the night: which entry it is, about which clutch, what kind, when."""

    fact_id: int
    clutch_id: int
    kind: str
    at: datetime


@dataclass(frozen=True)
class Tonight:
    """The clutches that may hatch tonight, likeliest first, then the others; and the tanks."""

    night: Night
    watches: tuple[NightWatch, ...]
    others: tuple[NightWatch, ...]
    walk: Walk
    last: LastAnswer | None
    now: datetime
    cultures: Cultures = field(default_factory=Cultures)

    @property
    def is_it_now(self) -> bool:
        """Whether a clutch whose night it may be lies in the dark now."""
        return any(watch.is_dark for watch in self.watches)

    def watch_of(self, clutch_id: int) -> NightWatch:
        """One open clutch. Raises NotKnown."""
        for each in (*self.watches, *self.others):
            if each.clutch_id == clutch_id:
                return each
        raise NotKnown("No eggs of that clutch are left, or it was never written down.")


def tonight(
    session: Session,
    library: Mapping[str, Species],
    *,
    room: RoomNow,
    now: datetime,
    walk: Walk | None = None,
) -> Tonight:
    """Every open clutch tonight, in a fixed number of statements."""
    standing = load_clutches(session, room, open_only=True)
    watched = watch(session, room, library, standing, now=now)
    seen = clutch_page.see(session, room, library, watched, now)
    names = clutch_page.pair_names(session, [each.clutch.pair_id for each in watched])
    held = _first_fills_held(session, [each.clutch.id for each in watched])
    stops = walk or the_walk(session, now)
    siblings = _siblings(session, room, [w.clutch for w in watched], stops)
    met = [
        replace(
            _watch(each, shown, names.get(each.clutch.pair_id or 0, shown.parents_said), now),
            food_held_since=held.get(each.clutch.id),
            siblings=siblings.get(each.clutch.id, ()),
        )
        for each, shown in zip(watched, seen, strict=True)
    ]
    return Tonight(
        night_of(now, room.lights(now), room.room_time),
        tuple(sorted((w for w in met if w.may_hatch), key=_likeliest_first)),
        tuple(w for w in met if not w.may_hatch),
        stops,
        _last_answer(session, room, now),
        now,
        cultures_now(session, room, stops, now),
    )


def _watch(each: Watched, seen: ClutchSeen, name: str, now: datetime) -> NightWatch:
    forecast = each.forecast
    night = forecast.on(forecast.tonight) if forecast is not None else None
    looked = [c.when.latest for c in each.clutch.checks if c.kind is CheckKind.WATCHED_NONE]
    hatched = [part for part in each.clutch.hatches if seen.tonight in part.nights]
    return NightWatch(
        seen, name, each.learned, night, may_be_tonight(forecast), in_the_dark(night, now),
        looks(night, now, max(looked, default=None)) if night is not None else None,
        hatched[-1] if hatched else None,
    )  # fmt: skip


def _first_fills_held(session: Session, clutch_ids: Iterable[int]) -> dict[int, datetime]:
    """Since when a first fill is held for each clutch, as answered on Today. One statement."""
    names = [str(TaskName("hold_first_fill", clutch_id, "once")) for clutch_id in clutch_ids]
    answered = answers_to(session, names)
    kept = (Outcome.DONE, Outcome.DIFFERENTLY)
    return {a.done.name.fact_id: a.done.at for a in answered if a.done.outcome in kept}


def _siblings(
    session: Session, room: RoomNow, clutches: Iterable[ClutchFacts], walk: Walk
) -> dict[int, tuple[Siblings, ...]]:
    """The tanks with larvae of each clutch that hatched in part. No statement where none did."""
    hatched = [clutch.id for clutch in clutches if clutch.hatches]
    if not hatched:
        return {}
    stock = load_stock(session, room, stage=Stage.LARVAE, clutch_ids=hatched)
    litres = {stop.tank_id: stop.litres for stop in walk.stops}
    found: dict[int, list[Siblings]] = defaultdict(list)
    for one in stock.open():
        here = Siblings(
            one.place.label, litres.get(one.place.tank_id, 0.0), stock.balance(one.id).now
        )
        for clutch_id in one.clutch_ids:
            found[clutch_id].append(here)
    return {clutch_id: tuple(tanks) for clutch_id, tanks in found.items()}


def _likeliest_first(each: NightWatch) -> tuple[bool, float, int]:
    chance = each.night.chance if each.night is not None else 0.0
    return not each.is_dark, -chance, each.clutch_id


def first_fill(species: Species | None, litres: float) -> tuple[str, float] | None:
    """The first food of a species with the animals a whole fill of so many litres takes.

    None for one without larvae, or whose plan gives words only.
    """
    if species is None or species.larval is None:
        return None
    for stage in species.larval.foods_on(1):
        if stage.low is not None and stage.high is not None and stage.unit == "per mL":
            target = (stage.low + stage.high) / 2
            return str(stage.food), target * litres * ML_PER_L
    return None


# --- The four answers ---------------------------------------------------------------------


def say_nothing_yet(session: Session, *, posting: Posting, clutch_id: int) -> int:
    """Watched until now, none hatched; the watch goes on."""
    return clutch.record_check(
        session, posting=posting, clutch_id=clutch_id, kind=CheckKind.WATCHED_NONE,
        when=When.exactly(posting.now),
    )  # fmt: skip


def say_hatching(
    session: Session, *, posting: Posting, clutch_id: int, library: Mapping[str, Species]
) -> int:
    """Larvae are seen now. How many and which tank is asked in the morning."""
    looked = replace(posting, answers={**ANSWERED_BY_LOOKING, **posting.answers})
    clutch.record_hatch(
        session, posting=looked, clutch_id=clutch_id, when=When.exactly(posting.now),
        library=library,
    )  # fmt: skip
    return clutch_id


def say_all_hatched(session: Session, *, posting: Posting, clutch_id: int) -> int:
    """No eggs are left on the tile; the hatch stands written already."""
    return clutch.end_clutch(
        session, posting=posting, clutch_id=clutch_id, outcome=ClutchOutcome.HATCHED,
        when=When.exactly(posting.now),
    )  # fmt: skip


def say_pulled(session: Session, *, posting: Posting, clutch_id: int, tank_id: int) -> int:
    """The tile was taken from the parents and covered, in this tank now."""
    return clutch.move_eggs(
        session, posting=posting, clutch_id=clutch_id, why=EggMove.PULLED, tank_id=tank_id,
        when=When.exactly(posting.now),
    )  # fmt: skip


def say_gone(
    session: Session, *, posting: Posting, clutch_id: int, outcome: ClutchOutcome
) -> int:
    """No eggs are left and none hatched: eaten, or dropped."""
    return clutch.end_clutch(
        session, posting=posting, clutch_id=clutch_id, outcome=outcome,
        when=When.exactly(posting.now),
    )  # fmt: skip


@use_case
def take_back(book: Book, *, fact_id: int) -> int:
    """Take the night's last answer back. Returns the clutch it was about."""
    row = book.find(Entry, fact_id, "That answer was taken back already.")
    if not isinstance(row, ANSWERS):
        raise RuleBroken("Only an answer given at the eggs is taken back here.")
    if isinstance(row, Hatch):
        placed = book.session.scalars(
            select(Moved.fact_id).where(known(), Moved.hatch_id == fact_id).limit(1)
        ).first()
        if placed is not None:
            raise RuleBroken(
                "Larvae of this hatch are in a tank already: take that back first, on the page "
                "of the larval tank."
            )
    book.withdraw(row, note="taken back tonight")
    return row.clutch_id


def _last_answer(session: Session, room: RoomNow, now: datetime) -> LastAnswer | None:
    """The newest answer since the lights last went on. Two statements at most."""
    night = night_of(now, room.lights(now), room.room_time)
    since = room.room_time.planned(night.evening, room.lights(now).on)
    rows: Sequence[Entry] = session.scalars(
        select(Entry)
        .where(
            known(), Entry.kind.in_([kind.__tablename__ for kind in ANSWERS]),
            Entry.received_at >= since, Entry.happened_latest >= since,
        )
        .order_by(Entry.seq.desc())
        .limit(2)
    ).all()  # fmt: skip
    return next(_answers(rows), None)


def _answers(rows: Iterable[Entry]) -> Iterator[LastAnswer]:
    for row in rows:
        if isinstance(row, EggsMoved) and row.why is EggMove.LAID:
            continue
        if isinstance(row, ClutchCheck) and row.check_kind is not CheckKind.WATCHED_NONE:
            continue
        if isinstance(row, ANSWERS):
            kind = str(row.outcome) if isinstance(row, ClutchEnded) else row.kind
            yield LastAnswer(row.fact, row.clutch_id, kind, row.happened_latest)
