"""From eggs to sale, stage by stage: what share of a clutch reached each, and over all clutches.

Each step has both its numbers, and says of how many clutches. A clutch of which either number is
not known is left out of that step, and counted as left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.stock_book.reared import Reared
from hatchery_app.domain.stock_book.survival import NotComputable, Survival, survival


class Reached(StrEnum):
    """The stages at which a clutch is asked after, in the order of life.

    Not all that hatched are caught, and fish given away early say nothing of 60 days: so each
    step begins with those it can be said of.
    """

    EGGS = "eggs"
    HATCHED = "hatched"
    IN_TANKS = "put in tanks"
    SETTLED = "settled"
    STAYED = "settled and stayed"
    SIXTY_DAYS = "alive at 60 days"
    SOLD = "sold, given away or kept"


STEPS = (
    (Reached.EGGS, Reached.HATCHED),
    (Reached.IN_TANKS, Reached.SETTLED),
    (Reached.STAYED, Reached.SIXTY_DAYS),
    (Reached.SETTLED, Reached.SOLD),
)
SIXTY = 60


def rearing_numbers(
    batch: Reared, *, settled_dph: int | None, sold: int | None, is_firm: bool
) -> dict[Reached, HowMany]:
    """What the book of one clutch says of its stages after the hatch.

    `settled_dph` is the age at which none swam any more, None before that; `sold` how many left
    for buyers and other keepers or were kept, None while some may yet. `is_firm`: all its numbers
    were counted.
    """
    numbers = {Reached.IN_TANKS: _number(batch.number, batch.number, is_firm)}
    if settled_dph is None or not batch.is_followed_at(settled_dph):
        return numbers
    before = batch.left_alive(-1, settled_dph)
    low, high = batch.here_at(settled_dph)
    # Those that left on the way, sold or moved on, had lived so far.
    numbers[Reached.SETTLED] = _number(low + before, high + before, is_firm)
    if sold is not None:
        numbers[Reached.SOLD] = _number(sold, sold, is_firm=True)
    if settled_dph < SIXTY and batch.is_followed_at(SIXTY):
        left = batch.left_alive(settled_dph, SIXTY)
        stayed = (max(0, low - left), max(0, high - left))
        if stayed[0] > 0 or batch.all_dead:
            numbers[Reached.STAYED] = _number(*stayed, is_firm)
            numbers[Reached.SIXTY_DAYS] = _number(*batch.here_at(SIXTY), is_firm)
    return numbers


def _number(low: int, high: int, is_firm: bool) -> HowMany:
    if low == high:
        return HowMany.counted(low) if is_firm else HowMany.about(low)
    return HowMany.estimated((low + high) // 2, low, high)


@dataclass(frozen=True)
class ClutchStages:
    """One clutch: how many reached each stage. A stage not in `numbers` is not reached yet, or
    nobody knows; `why` says where the line of a clutch ends and for what reason."""

    clutch_id: int
    numbers: Mapping[Reached, HowMany]
    why: str = ""

    def step(self, begin: Reached, end: Reached) -> Survival | NotComputable | None:
        """The share that went from one stage to the next; None where either is not there."""
        if begin not in self.numbers or end not in self.numbers:
            return None
        return survival(self.numbers[begin], self.numbers[end], named=str(end))


@dataclass(frozen=True)
class StepOverAll:
    """One step over all clutches that give both its numbers: sums, shares, how many clutches.

    `best` is the sum of those who reached it over the sum of those who began; `middle`, `low` and
    `high` are by clutch. None without any.
    """

    begin: Reached
    end: Reached
    clutches: int
    of: int
    began: int
    reached: int
    is_about: bool
    middle: float | None
    low: float | None
    high: float | None

    @property
    def best(self) -> float | None:
        """The share over all fish."""
        return self.reached / self.began if self.began else None


def over_all(clutches: Sequence[ClutchStages]) -> tuple[StepOverAll, ...]:
    """Every step over all clutches."""
    return tuple(_step(clutches, begin, end) for begin, end in STEPS)


def _step(clutches: Sequence[ClutchStages], begin: Reached, end: Reached) -> StepOverAll:
    known = [
        found
        for one in clutches
        if isinstance(found := one.step(begin, end), Survival) and found.best is not None
    ]
    shares = [found.best for found in known if found.best is not None]
    counted = all(
        number.basis is Basis.COUNTED for found in known for number in (found.start, found.alive)
    )
    return StepOverAll(
        begin, end, len(known), len(clutches),
        sum(found.start.best or 0 for found in known),
        sum(found.alive.best or 0 for found in known),
        not counted,
        median(shares) if shares else None,
        min(shares, default=None), max(shares, default=None),
    )  # fmt: skip
