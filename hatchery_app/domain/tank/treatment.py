"""A treatment of a tank as the keeper gives it: from when to when, its repeats, what it bars.

Nothing here says what helps against what, or how much: what was used, how much and why are the
keeper's own words, and a repeat comes on the days that the keeper said.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.today.schedule import Task, TaskName, Turn
from hatchery_app.domain.when import When

KIND = "treat"
AGAIN = "Treatment again: "
MOST_DAYS_APART = 60
MOST_REPEATS = 60


@dataclass(frozen=True)
class Treatment:
    """What was used in a tank, or in all tanks of one water (`system`), and since when.

    `repeats` come every `every_days` days after the first, both None where it is given once.
    `ended` is when it was over, None while it goes on. Raises RuleBroken for one that says
    nothing, repeats by half, or is over before it began.
    """

    treatment_id: int
    tank_id: int
    what: str
    began: When
    amount: str = ""
    reason: str = ""
    barred: str = ""
    system: str = ""
    every_days: int | None = None
    repeats: int | None = None
    ended: When | None = None
    ended_id: int = 0

    def __post_init__(self) -> None:
        if not self.what.strip():
            raise RuleBroken("Say what was used, as you call it.", field="what")
        if (self.every_days is None) != (self.repeats is None):
            missing = "every_days" if self.every_days is None else "repeats"
            raise RuleBroken(
                "A repeat needs both: every how many days, and how many times more.", field=missing
            )
        if self.every_days is not None and not 1 <= self.every_days <= MOST_DAYS_APART:
            raise RuleBroken(f"It comes again after 1 to {MOST_DAYS_APART} days.",
                             field="every_days")  # fmt: skip
        if self.repeats is not None and not 1 <= self.repeats <= MOST_REPEATS:
            raise RuleBroken(f"It comes 1 to {MOST_REPEATS} times more.", field="repeats")
        if self.ended is not None and self.ended.latest < self.began.earliest:
            raise RuleBroken("It cannot be over before it began.", field="over_on")

    @property
    def doses(self) -> int:
        """How many times it is given, the first included."""
        return 1 + (self.repeats or 0)

    def goes_on(self, at: datetime) -> bool:
        """Whether it may be in the water at a moment."""
        return self.began.earliest <= at and (self.ended is None or at < self.ended.latest)

    def touches(self, since: datetime, until: datetime) -> bool:
        """Whether it went on at any moment of a stretch."""
        ended = self.ended
        return self.began.earliest <= until and (ended is None or ended.latest >= since)

    def reaches(self, tank_id: int, system: str) -> bool:
        """Whether it was given to this tank, or to the water that it shares."""
        return tank_id == self.tank_id or bool(self.system and self.system == system)

    def said(self) -> str:
        """What was used and how much, as the keeper wrote it."""
        return f"{self.what}, {self.amount}" if self.amount else self.what

    def name_of(self, dose: int) -> TaskName:
        """What a dose is called among the day's work; the first is 1."""
        return TaskName(KIND, self.treatment_id, f"dose-{dose}")

    def turn_of(self, dose: int, first: Turn) -> Turn:
        """When a dose is due; `first` is the round in which the first was given."""
        return first.plus((dose - 1) * (self.every_days or 0))


def treatment_tasks(treatment: Treatment, first: Turn, day: date) -> tuple[Task, ...]:
    """The repeat that stands on a day: the last one due by then; none once it is over.

    A missed repeat lapses when the next one comes, so that nobody makes up for it twice; the last
    one stays until it is answered or the treatment is over.
    """
    if treatment.ended is not None or treatment.every_days is None or day < first.day:
        return ()
    dose = min(1 + (day - first.day).days // treatment.every_days, treatment.doses)
    if dose == 1:
        return ()
    is_last = dose == treatment.doses
    return (
        Task(
            treatment.name_of(dose), treatment.turn_of(dose, first), treatment.tank_id,
            f"{AGAIN}{treatment.what}", _why(treatment, dose), None,
            None if is_last else treatment.turn_of(dose + 1, first),
        ),
    )  # fmt: skip


def _why(treatment: Treatment, dose: int) -> str:
    parts = [
        f"{dose} of {treatment.doses}",
        f"you wrote {treatment.amount}" if treatment.amount else "how much is not written",
        f"for {treatment.reason}" if treatment.reason else "",
        f"meanwhile no: {treatment.barred}" if treatment.barred else "",
        "read the label again first",
    ]
    return "; ".join(part for part in parts if part)


def going_on(treatments: Iterable[Treatment], at: datetime) -> tuple[Treatment, ...]:
    """Those that may be in the water at a moment, oldest first."""
    found = [one for one in treatments if one.goes_on(at)]
    return tuple(sorted(found, key=lambda one: one.began.earliest))
