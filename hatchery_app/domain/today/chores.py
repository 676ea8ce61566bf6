"""The keeper's own chores: mix salt, restart a vessel, clean a filter, check a probe."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.today.schedule import Round, Task, Turn, one_off, repeating

LONGEST_GAP_DAYS = 366
ONCE = "once"


@dataclass(frozen=True)
class Rhythm:
    """How often: every so many days, on some weekdays (Monday 0), on a day of each month, or once.

    One of the four. The 31st of a shorter month is its last day; once is on the first day.
    """

    every_days: int | None = None
    weekdays: tuple[int, ...] = ()
    day_of_month: int | None = None
    once: bool = False

    def __post_init__(self) -> None:
        ways = (self.every_days, self.weekdays or None, self.day_of_month, self.once or None)
        if sum(way is not None for way in ways) != 1:
            raise RuleBroken(
                "Say how often in one way: every so many days, on weekdays, monthly, or once.",
                field="rhythm",
            )
        if self.every_days is not None and not 1 <= self.every_days <= LONGEST_GAP_DAYS:
            raise RuleBroken("A chore comes every 1 to 366 days.", field="every_days")
        if any(day not in range(7) for day in self.weekdays):
            raise RuleBroken("A week has the days Monday to Sunday.", field="weekdays")
        if self.day_of_month is not None and self.day_of_month not in range(1, 32):
            raise RuleBroken("A month has the days 1 to 31.", field="day_of_month")

    def falls_on(self, day: date, from_on: date) -> bool:
        """Whether it comes on a day, counted from its first."""
        if day < from_on:
            return False
        if self.once:
            return day == from_on
        if self.every_days is not None:
            return (day - from_on).days % self.every_days == 0
        if self.day_of_month is not None:
            return day.day == min(self.day_of_month, monthrange(day.year, day.month)[1])
        return day.weekday() in self.weekdays


@dataclass(frozen=True)
class Chore:
    """A chore as the keeper wrote it: where, how often, in which round, from and until when."""

    chore_id: int
    text: str
    place_id: int | None
    rhythm: Rhythm
    round: Round
    from_on: date
    until_on: date | None = None

    def __post_init__(self) -> None:
        if not self.text.strip():
            raise RuleBroken("Say what the chore is.", field="text")
        if self.until_on is not None and self.until_on < self.from_on:
            raise RuleBroken("The last day of a chore lies before its first.", field="until_on")

    def falls_on(self, day: date) -> bool:
        """Whether the chore comes on a day."""
        if self.until_on is not None and day > self.until_on:
            return False
        return self.rhythm.falls_on(day, self.from_on)

    def next_after(self, day: date) -> date | None:
        """The first day after this one on which it comes; None once it has ended."""
        for ahead in range(1, LONGEST_GAP_DAYS + 1):
            coming = max(day, self.from_on - timedelta(days=1)) + timedelta(days=ahead)
            if self.falls_on(coming):
                return coming
        return None

    def last_until(self, day: date) -> date | None:
        """The last day up to and including this one on which it came; None before its first."""
        if self.rhythm.once:
            return self.from_on if self.from_on <= day else None
        for back in range(LONGEST_GAP_DAYS + 1):
            came = day - timedelta(days=back)
            if came < self.from_on:
                return None
            if self.falls_on(came):
                return came
        return None


def chore_tasks(chores: Iterable[Chore], day: date) -> tuple[Task, ...]:
    """The chores that stand on a day: those that come that day, and the last turn of the others.

    A weekly chore missed on Monday is so still there on Thursday; it lapses when it comes again.
    One that comes once stays until it is answered, or stopped.
    """
    return tuple(
        _task(chore, came)
        for chore in chores
        if (came := chore.last_until(day)) is not None
        and not (chore.rhythm.once and chore.until_on is not None)
    )


def _task(chore: Chore, came: date) -> Task:
    if chore.rhythm.once:
        turn = Turn(came, chore.round)
        return one_off("chore", chore.chore_id, turn, chore.place_id, chore.text, milestone=ONCE)
    # The last turn of an ended chore lapses as if it had gone on: nothing nags for ever.
    coming = chore.next_after(came) or came + timedelta(days=chore.rhythm.every_days or 1)
    turn, next_turn = Turn(came, chore.round), Turn(coming, chore.round)
    return repeating(
        "chore", chore.chore_id, turn, chore.place_id, chore.text, next_turn=next_turn
    )
