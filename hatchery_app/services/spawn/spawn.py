"""A laying is recorded: eggs, when, by whom. It makes the clutch that everything else is about."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import EggMove
from hatchery_app.domain.errors import Asked, NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.parents import Parent, Parents
from hatchery_app.domain.today.schedule import Outcome, Round, round_starts, turn_at
from hatchery_app.domain.when import When, say_when
from hatchery_app.models.broodstock import Fish, FishLeft, FishPlaced, Pair
from hatchery_app.models.clutch import Clutch, ClutchCheck, EggsMoved, Laying
from hatchery_app.models.columns import number_columns
from hatchery_app.models.entry import known
from hatchery_app.models.parents import parent_columns
from hatchery_app.models.tank import Tank
from hatchery_app.models.today import TaskAnswered
from hatchery_app.services.broodstock.pair import pair_facts
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import RoomNow, room_now

ONE_LAYING = timedelta(hours=24)  # no clownfish lays again within a day: two people told of it
UNKNOWN_EGGS = HowMany.unknown()


@use_case
def record_laying(
    book: Book,
    *,
    pair_id: int,
    when: When,
    eggs: HowMany = UNKNOWN_EGGS,
    surface: str = "",
    tank_id: int | None = None,
    note: str = "",
) -> int:
    """A pair laid. Returns the clutch. Parents are the pair's two fish, from now on the clutch's
    own; the tank is the female's unless said."""
    pair = book.find(Pair, pair_id, "That pair does not stand in this room's records.")
    if pair.happened_earliest > when.latest:
        raise RuleBroken(
            "The pair cannot have laid before it was put together.", field="at_on"
        )
    _check_alive(book, (pair.female_id, pair.male_id), when)
    told = _ask_if_told(book, pair_id, when)
    if told is not None:
        return told
    place = tank_id or tank_of(book.session, pair.female_id, pair.male_id, at=when.latest)
    if place is None:
        raise RuleBroken("Say in which tank the eggs are: the pair has none.", field="tank_id")
    parents = Parents(Parent.fish(pair.female_id), Parent.fish(pair.male_id))
    return lay(
        book, when=when, tank_id=place, parents=parents, eggs=eggs, surface=surface,
        species_key=_species_held(book, pair_id, when), pair_id=pair_id, note=note,
    )  # fmt: skip


def _species_held(book: Book, pair_id: int, when: When) -> str:
    """What the two were held to be then, else what they are held to be by now; "" for nothing."""
    for moment in (when.latest, book.now):
        key = pair_facts(book.session, [pair_id], moment)[pair_id].species_key
        if key:
            return key
    return ""


@use_case
def record_laying_without_pair(
    book: Book,
    *,
    tank_id: int,
    species_key: str,
    when: When,
    parents: Parents,
    eggs: HowMany = UNKNOWN_EGGS,
    surface: str = "",
    note: str = "",
) -> int:
    """Eggs of a group, or of parents known in part or not at all. Returns the clutch."""
    return lay(
        book, when=when, tank_id=tank_id, parents=parents, species_key=species_key, eggs=eggs,
        surface=surface, pair_id=None, note=note,
    )  # fmt: skip


def lay(
    book: Book,
    *,
    when: When,
    tank_id: int,
    parents: Parents,
    species_key: str,
    eggs: HowMany,
    surface: str,
    pair_id: int | None,
    note: str,
) -> int:
    """Write the laying, its clutch and where it lies. For use inside a use case."""
    book.find(Tank, tank_id, "That tank does not stand in this room's records.")
    if not species_key:
        raise RuleBroken(
            "Say first what species the fish is thought to be: the nights depend on it.",
            field="species_key",
        )
    laying = book.enter(
        Laying(
            pair_id=pair_id, tank_id=tank_id, species_key=species_key, surface=surface.strip(),
            **parent_columns(parents), **number_columns(eggs),
        ),
        when=when,
        note=note,
    )  # fmt: skip
    clutch = book.enter(
        Clutch(laying_id=laying.fact, number=next_number(book.session)), when=when
    )
    book.enter(
        EggsMoved(
            clutch_id=clutch.fact, tank_id=tank_id, why=EggMove.LAID, tended_by_pair_id=pair_id
        ),
        when=when,
    )
    return clutch.fact


def next_number(session: Session) -> int:
    """The next clutch's number. Withdrawn ones keep theirs: a label on a tile outlives a row."""
    return (session.scalar(select(func.max(Clutch.number))) or 0) + 1


def _ask_if_told(book: Book, pair_id: int, when: When) -> int | None:
    """Two people may tell of one laying: it is kept once or apart, never silently doubled.

    Returns the clutch that stands already, None where this is a laying of its own.
    """
    laying = book.session.scalars(
        select(Laying)
        .where(
            known(), Laying.pair_id == pair_id,
            Laying.happened_earliest < when.latest + ONE_LAYING,
            Laying.happened_latest > when.earliest - ONE_LAYING,
        )
        .order_by(Laying.seq.desc())
        .limit(1)
    ).first()  # fmt: skip
    answer = book.answers.get("same_laying")
    if laying is None or answer == "another":
        return None
    clutch = book.session.scalars(
        select(Clutch).where(known(), Clutch.laying_id == laying.fact).order_by(Clutch.seq).limit(1)
    ).one()
    if answer == "same":
        return int(clutch.fact)
    said = say_when(laying.when, room_now(book.session).room_time)
    raise Asked(
        f"A laying of this pair stands already ({said}, clutch {clutch.number}). Is this the same?",
        question="same_laying",
        answers=(("same", "Yes, the same eggs: keep one"), ("another", "No, a second nest")),
        field="at_on",
    )


def _check_alive(book: Book, fish_ids: tuple[int, ...], when: When) -> None:
    left = book.session.scalars(
        select(FishLeft)
        .where(known(), FishLeft.fish_id.in_(fish_ids))
        .order_by(FishLeft.happened_latest)
        .limit(1)
    ).first()
    if left is not None and left.happened_latest < when.earliest:
        name = book.find(Fish, left.fish_id).name
        raise RuleBroken(
            f"{name} was no longer here then ({left.door}). Choose another pair, or correct the "
            "day.",
            field="pair_id",
        )


def tank_of(session: Session, *fish_ids: int, at: datetime) -> int | None:
    """The tank the first of these fish that has one was in at a moment; None where none has.

    A fish is thought to have been in its first tank before anybody said so.
    """
    for fish_id in fish_ids:
        stays = session.execute(
            select(FishPlaced.tank_id, FishPlaced.happened_earliest)
            .where(known(), FishPlaced.fish_id == fish_id)
            .order_by(FishPlaced.happened_latest, FishPlaced.seq)
        ).all()
        if stays:
            since = [tank_id for tank_id, came_at in stays if came_at <= at]
            return since[-1] if since else stays[0].tank_id
    return None


def pair_must_stand(session: Session, pair_id: int) -> None:
    """Raises NotKnown where no such pair is recorded."""
    if session.scalar(select(Pair.seq).where(known(), Pair.fact_id == pair_id)) is None:
        raise NotKnown("That pair does not stand in this room's records.")


@dataclass(frozen=True)
class LastLook:
    """When a pair's nest was last looked at before this round, and what that look was."""

    at: datetime
    what: str


def last_look(session: Session, pair_id: int, *, room: RoomNow, now: datetime) -> LastLook:
    """The last feeding of the pair or look at its eggs before this round of the day.

    What was done in the round it is now is no earlier look: the eggs were found on it. Where none
    is written down within a day it is the walk before last evening's lights off. Two statements.
    """
    turn = turn_at(now, room.lights(now), room.room_time)
    begun = round_starts(turn.day, room.lights(now), room.room_time)[turn.round]
    since = turn.plus(-1).day
    evening = round_starts(since, room.lights(now), room.room_time)[Round.BEFORE_LIGHTS_OFF]
    fed = session.scalar(
        select(func.max(TaskAnswered.happened_latest)).where(
            known(), TaskAnswered.task.startswith(f"feed_pair:{pair_id}:"),
            TaskAnswered.outcome == Outcome.DONE.value, TaskAnswered.happened_latest < begun,
            # Said too: an index leads by them past the answers of all the years before.
            TaskAnswered.kind == "task_answered", TaskAnswered.happened_latest >= evening,
        )
    )  # fmt: skip
    layings = select(Laying.fact_id).where(Laying.pair_id == pair_id)
    clutches = select(Clutch.fact_id).where(Clutch.laying_id.in_(layings))
    seen = session.scalar(
        select(func.max(ClutchCheck.happened_latest)).where(
            known(), ClutchCheck.clutch_id.in_(clutches), ClutchCheck.happened_latest < begun
        )
    )
    looks = [LastLook(at, what) for at, what in ((fed, "fed then"), (seen, "eggs looked at"))
             if at is not None and at >= evening]  # fmt: skip
    return max(looks, key=lambda look: look.at, default=LastLook(evening, "the evening's walk"))
