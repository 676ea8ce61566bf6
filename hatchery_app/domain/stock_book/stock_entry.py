"""The entries of the stock book: fish through a door, and what was counted or seen there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.when import When


class Stage(StrEnum):
    """What a holding holds."""

    EGGS = "eggs"
    LARVAE = "larvae"
    COHORT = "cohort"
    BREEDERS = "breeders"


class Door(StrEnum):
    """The named ways into, between and out of holdings."""

    HATCHED = "hatched"
    ARRIVED = "arrived"
    FOUND = "found"
    MOVED = "moved"
    DIED = "died"
    MISSING = "missing"
    PUT_DOWN = "put down"
    SOLD = "sold"
    REPLACED = "replaced"
    KEPT = "kept"
    SAMPLED = "sampled"
    EATEN = "eaten"
    GIVEN_AWAY = "given away"


ENTRANCES = frozenset({Door.HATCHED, Door.ARRIVED, Door.FOUND})
BETWEEN = frozenset({Door.MOVED, Door.KEPT})
LOSSES = frozenset({Door.DIED, Door.MISSING, Door.PUT_DOWN, Door.EATEN})


class Rise(StrEnum):
    """Why a count is above the book: the keeper's answer."""

    MISSED_EARLIER = "missed_earlier"
    NEW_ARRIVAL = "new_arrival"


@dataclass(frozen=True)
class Holding:
    """Fish of one batch, clutch or group in one place, under the name the keeper knows."""

    id: int
    name: str
    stage: Stage


@dataclass(frozen=True)
class Movement:
    """So many fish through a door. Holdings are named by id; None is outside the room's stock.

    `seq` is that of the fact's first entry, so that a correction does not reorder one instant.
    Raises RuleBroken for a door that leads nowhere, or none at all moved.
    """

    seq: int
    when: When
    number: HowMany
    out_of: int | None
    into: int | None
    door: Door
    reason: str = ""

    def __post_init__(self) -> None:
        if self.out_of == self.into:
            raise RuleBroken("Fish move from one holding to another.", field="into")
        if self.door in ENTRANCES:
            if self.into is None:
                raise RuleBroken(f"Say where those {self.door} went in.", field="into")
            if self.out_of is not None and self.door is not Door.HATCHED:
                raise RuleBroken(f"Those {self.door} come from outside.", field="out_of")
            return
        if self.out_of is None:
            raise RuleBroken(f"Say which holding those {self.door} left.", field="out_of")
        if self.door is Door.MOVED and self.into is None:
            raise RuleBroken("Say where the fish were moved to.", field="into")
        if self.door not in BETWEEN and self.into is not None:
            raise RuleBroken(f"Those {self.door} are in no holding any more.", field="into")
        if self.number.best == 0:
            raise RuleBroken(f"None {self.door} is nothing to enter.", field="number")

    @property
    def moment(self) -> datetime:
        """From when on it stands in the balances, in both holdings at once."""
        return self.when.latest if self.into is None else self.when.earliest


@dataclass(frozen=True)
class Count:
    """What was there: a full count or estimate, or a look ("about 50", "a few").

    `rise` is the keeper's answer where the number was above the book's. `is_start`: what was put
    in was not known, and the keeper says that this is it.
    """

    seq: int
    when: When
    number: HowMany
    holding: int
    rise: Rise = Rise.MISSED_EARLIER
    is_start: bool = False

    @property
    def is_full(self) -> bool:
        """Whether it was counted or worked out from a part, not only looked at."""
        return self.number.basis in (Basis.COUNTED, Basis.ESTIMATED)

    @property
    def moment(self) -> datetime:
        """From when on it stands in the balances."""
        return self.when.latest
