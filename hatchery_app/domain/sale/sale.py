"""A sale: losses on arrival beside the trade's norm, and the fast before packing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from hatchery_app.domain.cohort.free_to_sell import arrival_loss_percent
from hatchery_app.domain.errors import RuleBroken

ARRIVAL_NORM_PERCENT = 5.0  # above it the seller makes good; trade norm, common practice
FAST_HOURS = 48  # about two days without food before packing in one account; common practice

FASTING = (
    f"Common practice: no food for about {FAST_HOURS} hours before packing, by one account. "
    "Tell whoever feeds."
)
LAW = (
    "Protected species, and fish that cross a border, may need papers: check the law where they "
    "leave and where they arrive before they travel."
)


@dataclass(frozen=True)
class ArrivalLoss:
    """Fish dead on arrival of those sent: a loss at the buyer's, no death in the room."""

    sent: int
    dead: int
    replaced: int = 0

    def __post_init__(self) -> None:
        arrival_loss_percent(self.sent, self.dead)
        if self.replaced < 0:
            raise RuleBroken("A number of fish cannot be below 0.", field="replaced")
        if self.replaced > self.dead:
            raise RuleBroken(
                f"{self.replaced} replaced of {self.dead} dead on arrival cannot be.",
                field="replaced",
            )

    @property
    def percent(self) -> float:
        """Dead on arrival in % of those sent."""
        return arrival_loss_percent(self.sent, self.dead)

    def said(self) -> str:
        """ "1 of 20 dead on arrival, 5 %: at the 5 % above which many sellers make good"."""
        if not self.dead:
            return f"none of {self.sent} dead on arrival"
        norm = self.sent * ARRIVAL_NORM_PERCENT / 100
        return (
            f"{self.dead} of {self.sent} dead on arrival, {self.percent:.2g} %: {self._beside()} "
            f"the {ARRIVAL_NORM_PERCENT:g} % ({norm:g} of {self.sent}) above which many sellers "
            "make good"
        )

    def _beside(self) -> str:
        if self.percent > ARRIVAL_NORM_PERCENT:
            return "above"
        return "at" if self.percent == ARRIVAL_NORM_PERCENT else "within"


def last_fed_on(packed_on: date) -> date:
    """The day on which fish packed on a day are fed for the last time."""
    return packed_on - timedelta(hours=FAST_HOURS)


class Born(StrEnum):
    """What the records say of where a parent was born."""

    HERE = "bred here"
    WILD = "wild"
    UNKNOWN = "not recorded"


def generation_said(mother: Born, father: Born) -> str:
    """Which generation in captivity the young of two fish are, as far as it is recorded."""
    both = {mother, father}
    if both == {Born.HERE}:
        return "second generation in captivity or later: both parents' births are recorded here"
    if both == {Born.WILD}:
        return "first generation in captivity: both parents were taken from the wild"
    if both == {Born.WILD, Born.HERE}:
        return "one parent bred here, one taken from the wild"
    return "generation not known: the birth of a parent is not recorded here"
