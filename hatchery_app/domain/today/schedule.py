"""The day's work: rounds of the clock, tasks with lasting names, and what became of each.

The work is a function of facts and a moment, worked out anew each time; only what the keeper
did is kept, under the task's name. A task is named by its kind, the fact it serves and its
turn, never by a row or by the moment it was worked out, so an answer survives every correction.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import Enum, StrEnum
from functools import total_ordering

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.when import Lights, Night, RoomTime, check_day

# --- Rounds -------------------------------------------------------------------------------

A_DAY = timedelta(days=1)
BEFORE_LIGHTS_ON_H = 2.0  # common practice
HATCH_H = 3.0  # most hatches fall within 3 h of lights-off (common practice)
MIDDAY_SHARE = 1 / 3  # of the light hours; common practice
BEFORE_LIGHTS_OFF_SHARE = 3 / 4


@total_ordering
class Round(Enum):
    """A walk through the room, in the order of the clock from before lights on."""

    BEFORE_LIGHTS_ON = "before-lights-on"
    MORNING = "morning"
    MIDDAY = "midday"
    BEFORE_LIGHTS_OFF = "before-lights-off"
    TONIGHT = "tonight"
    NIGHT = "night"

    @property
    def label(self) -> str:
        """As it is said: "Before lights on"."""
        return self.value.replace("-", " ").capitalize()

    @property
    def position(self) -> int:
        """Its place in the day, from 0."""
        return tuple(Round).index(self)

    def __lt__(self, other: Round) -> bool:
        return self.position < other.position


@dataclass(frozen=True, order=True)
class Turn:
    """One round of one day; 00:30 on the 20th is the night round of the 19th."""

    day: date
    round: Round

    def __str__(self) -> str:
        return f"{self.day.isoformat()}.{self.round.value}"

    @classmethod
    def parse(cls, text: str) -> Turn:
        """The turn a text like "2026-11-24.morning" names. Raises RuleBroken for another text."""
        day, _, word = text.partition(".")
        try:
            return cls(check_day(date.fromisoformat(day)), Round(word))
        except ValueError as unreadable:
            raise RuleBroken(f"“{text}” names no round of a day.") from unreadable

    def plus(self, days: int) -> Turn:
        """The same round so many days later."""
        return Turn(self.day + timedelta(days=days), self.round)


def round_starts(day: date, lights: Lights, room_time: RoomTime) -> dict[Round, datetime]:
    """When each round of a day begins (UTC), from the room's lights.

    Before lights on: two hours ahead, or a quarter of a short night. Midday: after a third of
    the light; before lights off: after three quarters. Tonight: the three hours in which most
    hatches fall, or half of a short night. Night: what is left.
    """
    on = room_time.planned(day, lights.on)
    off = room_time.planned(day + A_DAY if lights.off_after_midnight else day, lights.off)
    next_on = room_time.planned(day + A_DAY, lights.on)
    day_before = day if lights.off_after_midnight else day - A_DAY
    dark_before = on - room_time.planned(day_before, lights.off)
    light, dark = off - on, next_on - off
    return {
        Round.BEFORE_LIGHTS_ON: on - min(timedelta(hours=BEFORE_LIGHTS_ON_H), dark_before / 4),
        Round.MORNING: on,
        Round.MIDDAY: on + light * MIDDAY_SHARE,
        Round.BEFORE_LIGHTS_OFF: on + light * BEFORE_LIGHTS_OFF_SHARE,
        Round.TONIGHT: off,
        Round.NIGHT: off + min(timedelta(hours=HATCH_H), dark / 2),
    }


def turn_at(at: datetime, lights: Lights, room_time: RoomTime) -> Turn:
    """The round it is at an instant, and the day that round belongs to."""
    today = room_time.local(at).date()
    begun = [
        (start, Turn(day, named))
        for day in (today - 2 * A_DAY, today - A_DAY, today, today + A_DAY)
        for named, start in round_starts(day, lights, room_time).items()
        if start <= at
    ]
    return max(begun)[1]


# --- Tasks --------------------------------------------------------------------------------

# No fact has a longer number than that: kept, no engine could look for it, and no page be read.
NAME_PATTERN = re.compile(r"([a-z][a-z_]*):([0-9]{1,9}):([a-z0-9][a-z0-9.-]*)")


@dataclass(frozen=True)
class TaskName:
    """What a task is called for good: its kind, the fact it serves, its turn.

    `turn` is a round of a day ("2026-11-24.morning"), or for work that comes once in the life
    of its fact the milestone ("once", "dph-10"), so that a better forecast moves the day but
    not the name.
    """

    kind: str
    fact_id: int
    turn: str

    def __post_init__(self) -> None:
        if not NAME_PATTERN.fullmatch(str(self)):
            raise RuleBroken(f"“{self}” is no name of a task.")

    def __str__(self) -> str:
        return f"{self.kind}:{self.fact_id}:{self.turn}"

    @classmethod
    def parse(cls, text: str) -> TaskName:
        """The name a text like "top_up:31:2026-11-24.morning" stands for, or RuleBroken."""
        parts = NAME_PATTERN.fullmatch(text)
        if parts is None:
            raise RuleBroken(f"“{text}” is no name of a task.")
        return cls(parts[1], int(parts[2]), parts[3])


@dataclass(frozen=True)
class Quantity:
    """How much: an amount in a unit, with its band where it rests on counts."""

    amount: float
    unit: str
    low: float | None = None
    high: float | None = None

    def said(self) -> str:
        """To two figures: "100 mL", "150,000 rotifers (120,000–180,000)"."""
        said = f"{two_figures_said(self.amount)} {self.unit}"
        if self.low is None or self.high is None or self.low == self.high:
            return said
        return f"{said} ({two_figures_said(self.low)}–{two_figures_said(self.high)})"


@dataclass(frozen=True)
class Task:
    """One line of work: what, where, in which round of which day, why and how much.

    Repeating work knows its next turn and lapses into a gap when that comes; one-off work
    (`next_turn` None: a hatch watch, a move, a count) stays overdue until it is answered.
    """

    name: TaskName
    turn: Turn
    place_id: int | None
    what: str
    why: str = ""
    quantity: Quantity | None = None
    next_turn: Turn | None = None

    def __post_init__(self) -> None:
        if self.next_turn is not None and self.next_turn <= self.turn:
            raise RuleBroken(f"The next turn of “{self.what}” must come after this one.")

    @property
    def kind(self) -> str:
        """The kind of work."""
        return self.name.kind

    @property
    def fact_id(self) -> int:
        """The fact it serves."""
        return self.name.fact_id

    @property
    def round(self) -> Round:
        """The round it is due in."""
        return self.turn.round

    @property
    def due_on(self) -> date:
        """The day it is due on."""
        return self.turn.day

    @property
    def night(self) -> Night:
        """The night its day leads to."""
        return Night(self.turn.day)

    @property
    def repeats(self) -> bool:
        """Whether it comes again."""
        return self.next_turn is not None


def repeating(
    kind: str,
    fact_id: int,
    turn: Turn,
    place_id: int | None,
    what: str,
    *,
    why: str = "",
    quantity: Quantity | None = None,
    next_turn: Turn | None = None,
) -> Task:
    """Work that comes again: the same round tomorrow unless another next turn is said."""
    name = TaskName(kind, fact_id, str(turn))
    return Task(name, turn, place_id, what, why, quantity, next_turn or turn.plus(1))


def one_off(
    kind: str,
    fact_id: int,
    turn: Turn,
    place_id: int | None,
    what: str,
    *,
    why: str = "",
    quantity: Quantity | None = None,
    milestone: str = "",
) -> Task:
    """Work that stays until it is answered; named by its milestone, else by its turn."""
    name = TaskName(kind, fact_id, milestone or str(turn))
    return Task(name, turn, place_id, what, why, quantity)


# --- What became of it --------------------------------------------------------------------


class Outcome(StrEnum):
    """What the keeper answers to a line of work."""

    DONE = "done"
    DIFFERENTLY = "differently"
    PUT_OFF = "put off"
    SKIPPED = "skipped"


@dataclass(frozen=True)
class Done:
    """An answer to a task, hung on its name: what, when, why, and what was really done.

    Differently says `really`; put off says the turn it waits for; skipped says a reason.
    """

    name: TaskName
    outcome: Outcome
    at: datetime
    reason: str = ""
    really: str = ""
    put_off_until: Turn | None = None

    def __post_init__(self) -> None:
        if self.at.utcoffset() is None:
            raise ValueError(f"at has no time zone: {self.at!r}")
        missing = {
            Outcome.DIFFERENTLY: ("Say what was done instead.", "really", self.really.strip()),
            Outcome.SKIPPED: ("Say in a word why it is skipped.", "reason", self.reason.strip()),
            Outcome.PUT_OFF: ("Say until which round it waits.", "until", self.put_off_until),
        }.get(self.outcome)
        if missing and not missing[2]:
            raise RuleBroken(missing[0], field=missing[1])


class State(StrEnum):
    """How a task stands at a moment."""

    DUE = "due"
    OVERDUE = "overdue"
    DONE = "done"
    DONE_DIFFERENTLY = "done differently"
    PUT_OFF = "put off"
    SKIPPED = "skipped"
    LAPSED = "lapsed"


ANSWERED = {
    Outcome.DONE: State.DONE,
    Outcome.DIFFERENTLY: State.DONE_DIFFERENTLY,
    Outcome.SKIPPED: State.SKIPPED,
}


@dataclass(frozen=True)
class TaskState:
    """A task, how it stands, the last answer to it, and the turn it now stands in."""

    task: Task
    state: State
    answer: Done | None
    turn: Turn

    @property
    def is_open(self) -> bool:
        """Whether it is still to be done."""
        return self.state in (State.DUE, State.OVERDUE)


def settle(tasks: Iterable[Task], done: Iterable[Done], now: Turn) -> list[TaskState]:
    """How each task stands in the round it is now (`turn_at` gives it), in the tasks' order.

    Of several answers to one name the last in the order given counts (the order they were
    entered in, never a clock's). Work not yet answered is due until its
    round is over, then overdue; work put off stands in the turn it waits for; repeating work
    lapses when its next turn comes.
    """
    answers = {answer.name: answer for answer in done}
    return [_settled(task, answers.get(task.name), now) for task in tasks]


def _settled(task: Task, answer: Done | None, now: Turn) -> TaskState:
    if answer is not None and answer.outcome in ANSWERED:
        return TaskState(task, ANSWERED[answer.outcome], answer, task.turn)
    waits_for = answer.put_off_until if answer is not None else None
    turn = max(task.turn, waits_for) if waits_for is not None else task.turn
    if task.next_turn is not None and task.next_turn <= now:
        return TaskState(task, State.LAPSED, answer, turn)
    if waits_for is not None and now < turn:
        return TaskState(task, State.PUT_OFF, answer, turn)
    return TaskState(task, State.OVERDUE if turn < now else State.DUE, answer, turn)


# --- By round and by walk -----------------------------------------------------------------


@dataclass(frozen=True)
class Stop:
    """One place of the walk with its work in order; `place_id` None for work without a place."""

    place_id: int | None
    lines: tuple[TaskState, ...]


@dataclass(frozen=True)
class RoundSheet:
    """The work of one round in the order of the walk."""

    turn: Turn
    stops: tuple[Stop, ...]

    @property
    def still_open(self) -> int:
        """How many lines are still to be done."""
        return sum(line.is_open for stop in self.stops for line in stop.lines)


def day_sheets(
    states: Iterable[TaskState], walk: Mapping[int, int], day: date
) -> tuple[RoundSheet, ...]:
    """The six rounds of a day in clock order; `walk` gives each place its position.

    Places not on the walk follow it, work without a place comes last.
    """
    of_day = [state for state in states if state.turn.day == day]
    return tuple(
        RoundSheet(Turn(day, named), _stops((s for s in of_day if s.turn.round is named), walk))
        for named in Round
    )


def left_over(
    states: Iterable[TaskState], walk: Mapping[int, int], day: date
) -> tuple[Stop, ...]:
    """What is still open from the days before, in the order of the walk."""
    return _stops((state for state in states if state.is_open and state.turn.day < day), walk)


def let_go(states: Iterable[TaskState], today: date) -> tuple[TaskName, ...]:
    """The names of what one tap lets go: repeating work still open from days before today.

    One-off work is never among it: a hatch, a move or a count must be answered.
    """
    return tuple(
        state.task.name
        for state in states
        if state.is_open and state.task.repeats and state.turn.day < today
    )


def _stops(states: Iterable[TaskState], walk: Mapping[int, int]) -> tuple[Stop, ...]:
    by_place: dict[int | None, list[TaskState]] = {}
    for state in states:
        by_place.setdefault(state.task.place_id, []).append(state)

    def in_walk(place_id: int | None) -> tuple[int, int, int]:
        if place_id is None:
            return 2, 0, 0
        return (0, walk[place_id], place_id) if place_id in walk else (1, 0, place_id)

    return tuple(Stop(place, tuple(by_place[place])) for place in sorted(by_place, key=in_walk))
