"""The room's nights ahead: how many clutches may hatch each night, and the tanks they take.

A larval tank that took one clutch holds it for weeks, so tanks stand against all clutches that
have hatched by a night, not against that night's alone. One tank a clutch; clutches are taken to
hatch each by itself, though a warm week brings them all forward together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from hatchery_app.domain.when import Night

# As a night to prepare for: what is less likely than one in twenty is left out of a range.
LEAST_CHANCE = 0.05
MAY_BE_SHORT_CHANCE = 0.10
LIKELY_SHORT_CHANCE = 0.50


@dataclass(frozen=True)
class NightAhead:
    """One night of the room. Ranges hold all but the 5 % at either end.

    `expected` clutches hatch on it in the mean; `come_by` have hatched by its end, from tonight
    on; `tanks` are ready or could be by then. `chance_short`: that fewer tanks than clutches.
    """

    night: Night
    expected: float
    may_come: tuple[int, int]
    come_by: tuple[int, int]
    tanks: int
    chance_short: float

    @property
    def may_be_short(self) -> bool:
        """Whether more than one in ten such weeks lack a tank by then."""
        return self.chance_short >= MAY_BE_SHORT_CHANCE

    @property
    def likely_short(self) -> bool:
        """Whether a tank is rather missing than not."""
        return self.chance_short >= LIKELY_SHORT_CHANCE


@dataclass(frozen=True)
class NightsAhead:
    """The nights to come against the tanks. `clutches` with a figure, `without_figure` not."""

    nights: tuple[NightAhead, ...]
    ready: int
    clutches: int
    without_figure: int = 0

    @property
    def short_from(self) -> NightAhead | None:
        """The first night by which a tank is rather missing than not, else may be missing."""
        likely = (night for night in self.nights if night.likely_short)
        perhaps = (night for night in self.nights if night.may_be_short)
        return next(likely, None) or next(perhaps, None)

    @property
    def fullest(self) -> NightAhead | None:
        """The night on which most are expected, the first of several; None where none are."""
        most = max(self.nights, key=lambda night: night.expected, default=None)
        return most if most is not None and most.expected >= LEAST_CHANCE else None


def nights_ahead(
    nights: Sequence[Night],
    clutches: Sequence[Sequence[float]],
    ready: int,
    could_be: Sequence[Night],
    without_figure: int = 0,
) -> NightsAhead:
    """The room's sum for each of these nights, in their order.

    `clutches`: of each its chance on each night. `ready` tanks stand filled; `could_be`: the
    night by which each other one could.
    """
    by_then = [list(accumulate(chances)) for chances in clutches]
    found = []
    for place, night in enumerate(nights):
        here = _how_many([chances[place] for chances in clutches])
        come = _how_many([min(reached[place], 1.0) for reached in by_then])
        tanks = ready + sum(1 for free_from in could_be if free_from <= night)
        found.append(
            NightAhead(
                night=night,
                expected=sum(chances[place] for chances in clutches),
                may_come=_range(here),
                come_by=_range(come),
                tanks=tanks,
                chance_short=max(1.0 - sum(come[: tanks + 1]), 0.0),
            )
        )
    return NightsAhead(tuple(found), ready, len(clutches), without_figure)


def _how_many(chances: Sequence[float]) -> list[float]:
    """The chance of none, one, two … of several things, each with a chance of its own."""
    of = [1.0]
    for chance in chances:
        longer = [0.0] * (len(of) + 1)
        for number, share in enumerate(of):
            longer[number] += share * (1 - chance)
            longer[number + 1] += share * chance
        of = longer
    return of


def _range(of: Sequence[float]) -> tuple[int, int]:
    """From the fewest to the most, either end left out where it is under one in twenty."""
    sums = list(accumulate(of))
    low = next(number for number, upto in enumerate(sums) if upto >= LEAST_CHANCE)
    high = next(number for number, upto in enumerate(sums) if 1 - upto < LEAST_CHANCE)
    return low, high
