"""Two groups of tanks compared: the tank is the unit, because fish of one tank die together.

A tank did well when at least a stated share of its fish lived to a stated age. The shares of tanks
that did well are compared by Newcombe's hybrid score; below five tanks a side nothing is concluded.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from hatchery_app.domain.stock_book.counting import Interval
from hatchery_app.domain.stock_book.reared import FEWEST_BATCHES
from hatchery_app.domain.stock_book.survival import newcombe_difference

FEWEST_A_SIDE = FEWEST_BATCHES
NEARLY_KNOWN = 0.1  # a share known so closely is taken at its middle
NOT_RECORDED = "not recorded"


@dataclass(frozen=True)
class TankFared:
    """One tank's share alive at the age compared: least and greatest, as losses may lie."""

    key: int
    group: str
    low: float
    high: float

    @property
    def middle(self) -> float:
        """Halfway, for a line that must lie somewhere."""
        return (self.low + self.high) / 2

    def is_decided(self, line: float) -> bool:
        """Whether it can be said on which side of a line the tank lies."""
        straddles = self.low < line <= self.high
        return not straddles or self.high - self.low <= NEARLY_KNOWN


@dataclass(frozen=True)
class GroupFared:
    """The tanks of one group: how many did well, of how many of which that can be said.

    `undecided` straddle the line, because it is not known when in a gap their fish were lost.
    """

    group: str
    tanks: tuple[TankFared, ...]
    well: int
    of: int

    @property
    def undecided(self) -> int:
        """Tanks that may have done well or not."""
        return len(self.tanks) - self.of

    @property
    def middle(self) -> float | None:
        """The middle tank's share alive; None without tanks."""
        return median(tank.middle for tank in self.tanks) if self.tanks else None


@dataclass(frozen=True)
class Compared:
    """Two groups. `difference` is of the shares of tanks that did well, the first less the other;
    None where either side has no tank. `verdict` says what may be said."""

    one: GroupFared
    other: GroupFared
    difference: Interval | None
    verdict: str

    @property
    def best(self) -> float | None:
        """The difference itself."""
        if not self.one.of or not self.other.of:
            return None
        return self.one.well / self.one.of - self.other.well / self.other.of


def middle_of_all(tanks: Iterable[TankFared]) -> float | None:
    """The share alive of the room's middle tank, the line where the keeper gives none."""
    shares = [tank.middle for tank in tanks]
    return median(shares) if shares else None


def groups(tanks: Iterable[TankFared], line: float) -> tuple[GroupFared, ...]:
    """The groups with most tanks first; those of which nothing is recorded last."""
    found: dict[str, list[TankFared]] = defaultdict(list)
    for tank in tanks:
        found[tank.group].append(tank)
    listed = [_group(name, one, line) for name, one in found.items()]
    return tuple(
        sorted(listed, key=lambda one: (one.group == NOT_RECORDED, -len(one.tanks), one.group))
    )


def _group(name: str, tanks: Sequence[TankFared], line: float) -> GroupFared:
    decided = [tank for tank in tanks if tank.is_decided(line)]
    well = sum(tank.middle >= line - 1e-9 for tank in decided)
    ordered = tuple(sorted(tanks, key=lambda tank: (-tank.middle, tank.key)))
    return GroupFared(name, ordered, well, len(decided))


def compare(one: GroupFared, other: GroupFared) -> Compared:
    """The two groups, with a verdict from five tanks a side on and none below."""
    difference = None
    if one.of and other.of:
        difference = newcombe_difference(one.well, one.of, other.well, other.of)
    return Compared(one, other, difference, _verdict(one, other, difference))


def _verdict(one: GroupFared, other: GroupFared, difference: Interval | None) -> str:
    if difference is None or min(one.of, other.of) < FEWEST_A_SIDE:
        return (
            f"Too few to conclude anything: {one.of} and {other.of} tanks, and it takes "
            f"{FEWEST_A_SIDE} a side."
        )
    if difference.low > 0:
        return f"More tanks did well in “{one.group}”. Different, which is not yet the cause."
    if difference.high < 0:
        return f"More tanks did well in “{other.group}”. Different, which is not yet the cause."
    return "No difference shown: the interval holds none."
