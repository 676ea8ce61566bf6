"""The keeper's own chores: written down, stopped, and read for Today."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import String, cast, or_, select
from sqlalchemy.orm import Session, aliased

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.today import chores
from hatchery_app.domain.today.chores import Rhythm
from hatchery_app.domain.today.schedule import Outcome, Round
from hatchery_app.domain.when import When, night_of
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank
from hatchery_app.models.today import Chore, TaskAnswered
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import room_now

NOT_HERE = "That chore does not stand in this room's records."
DAYS, WEEKDAYS, MONTHLY, ONCE = "days", "weekdays", "monthly", "once"
CLOSED = (Outcome.DONE, Outcome.DIFFERENTLY, Outcome.SKIPPED)


@dataclass(frozen=True)
class ChoreFacts:
    """A chore with the label of its place, "" where it has none."""

    chore: chores.Chore
    place: str

    @property
    def is_over(self) -> bool:
        """Whether it was stopped."""
        return self.chore.until_on is not None


@use_case
def add_chore(
    book: Book,
    *,
    what: str,
    rhythm: Rhythm,
    in_round: Round,
    tank_id: int | None = None,
    first_on: date | None = None,
) -> int:
    """A chore stands in the list from its first day (today unless said) in that round."""
    if tank_id is not None:
        book.find(Tank, tank_id, "That tank does not stand in this room's records.")
    row = Chore(
        what=what.strip()[:120], tank_id=tank_id, round=in_round.value, every=written(rhythm),
        first_on=first_on or _today(book), last_on=None,
    )  # fmt: skip
    _domain(row, chore_id=0)  # refuses one that says nothing
    return book.enter(row, when=When.exactly(book.now)).fact


@use_case
def stop_chore(book: Book, *, chore_id: int) -> int:
    """From tomorrow on it comes no more; what was answered stays. Returns the chore."""
    old = book.find(Chore, chore_id, NOT_HERE)
    if old.last_on is not None:
        raise RuleBroken("This chore was stopped already.")
    row = Chore(
        what=old.what, tank_id=old.tank_id, round=old.round, every=old.every,
        first_on=old.first_on, last_on=max(old.first_on, _today(book)),
    )  # fmt: skip
    return book.correct(old, row, when=old.when).fact


def load_chores(session: Session, *, open_since: datetime) -> tuple[ChoreFacts, ...]:
    """The chores in the order in which they were written down. Two statements.

    Work that comes once and was answered before `open_since` is left out: years of it pile up.
    """
    answer = aliased(TaskAnswered, flat=True)
    closed = select(answer.task).where(
        known(of=answer), answer.task == "chore:" + cast(Chore.fact_id, String) + f":{chores.ONCE}",
        answer.outcome.in_(CLOSED), answer.happened_latest < open_since,
    )  # fmt: skip
    rows = session.scalars(
        select(Chore)
        .where(known(), or_(Chore.every != ONCE, ~closed.exists()))
        .order_by(Chore.fact_id)
    ).all()
    placed = session.execute(
        select(Tank.fact_id, Tank.label).where(
            known(), Tank.fact_id.in_([row.tank_id for row in rows if row.tank_id])
        )
    )
    labels = {tank_id: label for tank_id, label in placed if tank_id is not None}
    return tuple(
        ChoreFacts(_domain(row, row.fact), labels.get(row.tank_id or 0, "")) for row in rows
    )


def written(rhythm: Rhythm) -> str:
    """A rhythm as it is kept: "days 3", "weekdays 0 3", "monthly 15", "once"."""
    if rhythm.once:
        return ONCE
    if rhythm.every_days is not None:
        return f"{DAYS} {rhythm.every_days}"
    if rhythm.day_of_month is not None:
        return f"{MONTHLY} {rhythm.day_of_month}"
    return " ".join((WEEKDAYS, *(str(day) for day in rhythm.weekdays)))


def read_rhythm(kept: str) -> Rhythm:
    """The rhythm that was kept."""
    kind, *numbers = kept.split()
    figures = tuple(int(number) for number in numbers)
    if kind == ONCE:
        return Rhythm(once=True)
    if kind == DAYS:
        return Rhythm(every_days=figures[0])
    if kind == MONTHLY:
        return Rhythm(day_of_month=figures[0])
    return Rhythm(weekdays=figures)


def _domain(row: Chore, chore_id: int) -> chores.Chore:
    return chores.Chore(
        chore_id, row.what, row.tank_id, read_rhythm(row.every), Round(row.round), row.first_on,
        row.last_on,
    )  # fmt: skip


def _today(book: Book) -> date:
    room = room_now(book.session)
    return night_of(book.now, room.lights(book.now), room.room_time).evening
