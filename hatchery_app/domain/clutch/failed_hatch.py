"""A clutch that did not hatch on the night it was due: what to look at, and whose fault it is not.

A lamp in the room stops a hatch and says nothing of the pair, so such clutches are kept out of
its figure (common practice; half of ten pairs under a night light hatched nothing, and hatched
as before when it was taken away).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.clutch.hatch_evidence import Evidence, LampOn, MovedLate, NoneBy
from hatchery_app.domain.clutch.hatch_forecast import HatchForecast

DUE_CHANCE = 0.5  # watched in vain on nights that held so much of the chance: it failed

DARKNESS = "Darkness: any lamp, screen or pilot light in the room? Stand there for ten minutes."
TIMER = "The light timer: does it go off at the hour entered here?"
WATER = "Temperature: was it lower than entered? A degree less is most of a night."
LAYING = "The laying: is the day right?"
EGGS = "The eggs by day: silver eyes, or white and empty?"
HANDLED = "The tile was moved late: such a hatch spreads over more evenings."


@dataclass(frozen=True)
class PairShare:
    """How many of a pair's clutches hatched, of those that could. `kept_out`: a lamp was on."""

    hatched: int
    could: int
    kept_out: int


@dataclass(frozen=True)
class ClutchEnd:
    """How one clutch ended, for its pair's figure."""

    outcome: ClutchOutcome
    lamp_was_on: bool


def pair_share(ends: Iterable[ClutchEnd]) -> PairShare:
    """A pair's hatched clutches with both numbers; one lost to a lamp counts for neither.

    A clutch that hatched all the same counts, lamp or not.
    """
    listed = list(ends)
    hatched = sum(end.outcome is ClutchOutcome.HATCHED for end in listed)
    lit = sum(end.lamp_was_on and end.outcome is not ClutchOutcome.HATCHED for end in listed)
    return PairShare(hatched, len(listed) - lit, lit)


def failed_when_due(unseen: HatchForecast, watches: Sequence[NoneBy]) -> bool:
    """Whether the nights watched out in vain held the better part of the chance before.

    `unseen` is the forecast without those watches. A lamp-lit night holds no chance.
    """
    last = max((watch.at for watch in watches), default=None)
    if last is None:
        return False
    passed = (night.chance for night in unseen.nights if night.watch_until <= last)
    return sum(passed) >= DUE_CHANCE


def check_list(evidence: Sequence[Evidence]) -> tuple[str, ...]:
    """What to look at, darkness first; what was seen already is said instead of asked."""
    lit = [seen.night for seen in evidence if isinstance(seen, LampOn)]
    first = DARKNESS
    if lit:
        first = f"Darkness: a lamp was on the night of {max(lit).said()}. Is it off tonight?"
    handled = (HANDLED,) if any(isinstance(seen, MovedLate) for seen in evidence) else ()
    return (first, TIMER, WATER, LAYING, *handled, EGGS)
