"""Chores in words: how often, in which round, where."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from hatchery_app.domain.today.chores import Rhythm
from hatchery_app.domain.today.schedule import Round
from hatchery_app.domain.when import WEEKDAYS, say_date
from hatchery_app.services.tank.tank import TankChoice
from hatchery_app.services.today.chore import ChoreFacts


@dataclass(frozen=True)
class ChoreLine:
    """One chore in the list."""

    chore_id: int
    what: str
    said: str


@dataclass(frozen=True)
class ChoreListPage:
    """The chores that stand, and those stopped."""

    heading: str
    standing: tuple[ChoreLine, ...]
    stopped: tuple[ChoreLine, ...]
    refused: str


@dataclass(frozen=True)
class Choice:
    """One thing to choose."""

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True)
class ChoreFormPage:
    """A new chore."""

    heading: str
    form: Any
    every: tuple[Choice, ...]
    weekdays: tuple[Choice, ...]
    rounds: tuple[Choice, ...]
    tanks: tuple[Choice, ...]


def listed(chores: Sequence[ChoreFacts], refused: str = "") -> ChoreListPage:
    """The list."""
    return ChoreListPage(
        "Chores",
        tuple(_line(each) for each in chores if not each.is_over),
        tuple(_line(each) for each in chores if each.is_over),
        refused,
    )


def form(form: Any, tanks: Sequence[TankChoice]) -> ChoreFormPage:
    """The form with what it offers."""
    every = (
        ("once", "once"), ("days", "every so many days"), ("weekdays", "on weekdays"),
        ("monthly", "monthly"),
    )  # fmt: skip
    chosen_days = {str(day) for day in form.weekdays.data or ()}
    tank_id = str(form.tank_id.data or "")
    return ChoreFormPage(
        "A new chore",
        form,
        tuple(Choice(value, label, value == form.every.data) for value, label in every),
        tuple(
            Choice(str(day), name, str(day) in chosen_days) for day, name in enumerate(WEEKDAYS)
        ),
        tuple(Choice(r.value, r.label, r.value == form.in_round.data) for r in Round),
        (
            Choice("", "the room", not tank_id),
            *(Choice(str(t.tank_id), t.label, str(t.tank_id) == tank_id) for t in tanks),
        ),
    )


def rhythm_said(rhythm: Rhythm) -> str:
    """ "once", "every day", "every 3 days", "Mon, Thu", "on day 15 of each month"."""
    if rhythm.once:
        return "once"
    if rhythm.every_days is not None:
        return "every day" if rhythm.every_days == 1 else f"every {rhythm.every_days} days"
    if rhythm.day_of_month is not None:
        return f"on day {rhythm.day_of_month} of each month"
    return ", ".join(WEEKDAYS[day] for day in rhythm.weekdays)


def _line(each: ChoreFacts) -> ChoreLine:
    chore = each.chore
    parts = [rhythm_said(chore.rhythm), chore.round.label.lower(), each.place]
    if chore.until_on is not None:
        parts.append(f"stopped {say_date(chore.until_on)}")
    else:
        parts.append(f"{'on' if chore.rhythm.once else 'since'} {say_date(chore.from_on)}")
    return ChoreLine(chore.chore_id, chore.text, " · ".join(part for part in parts if part))
