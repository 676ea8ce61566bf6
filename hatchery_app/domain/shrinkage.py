"""Drawing an own record towards what is known in general, by how much each can be trusted."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from hatchery_app.domain.errors import RuleBroken

# From lights-off to the first larvae. Common practice: most within 3 hours; reports run from
# 34–70 min (A. clarkii, Moyer & Bell 1976) to 2–3 h (A. ocellaris, keepers).
USUAL_DELAY_MINUTES = 60.0
DELAY_SPREAD_BETWEEN_PAIRS_MINUTES = 40.0
DELAY_SPREAD_OF_ONE_PAIR_MINUTES = 20.0


@dataclass(frozen=True)
class Shrunk:
    """A mean between general and own: `weight` is the own record's share of it."""

    mean: float
    sd: float  # of the mean
    next_sd: float  # of the next single value
    weight: float


def shrunk(general: float, general_sd: float, own: Sequence[float], single_sd: float) -> Shrunk:
    """Normal prior and normal record: 1/var = 1/s0² + n/s²; mean = var·(m0/s0² + n·ȳ/s²).

    `general_sd` is the spread of true means about the general one, `single_sd` that of single
    values about a true mean. Raises RuleBroken unless both are above 0.
    """
    if general_sd <= 0 or single_sd <= 0:
        raise RuleBroken("A spread must be above 0.")
    number = len(own)
    variance = 1 / (1 / general_sd**2 + number / single_sd**2)
    mean = variance * (general / general_sd**2 + sum(own) / single_sd**2)
    weight = 1 - variance / general_sd**2
    return Shrunk(mean, sqrt(variance), sqrt(variance + single_sd**2), weight)


def shrunk_together(values: Sequence[float], variance: float) -> tuple[float, tuple[float, ...]]:
    """Several means of one kind drawn to their grand mean, and the factor c that did it.

    z = ȳ + c·(y − ȳ), c = 1 − (k − 3)·σ²/Σ(y − ȳ)², never below 0 (Efron & Morris 1975, 1977).
    `variance` is that of one value about its truth. Raises RuleBroken under four values.
    """
    if len(values) < 4:
        raise RuleBroken("Fewer than four values cannot be drawn together.")
    grand = sum(values) / len(values)
    scatter = sum((value - grand) ** 2 for value in values)
    factor = max(1 - (len(values) - 3) * variance / scatter, 0.0) if scatter else 0.0
    return factor, tuple(grand + factor * (value - grand) for value in values)


def usual_delay(delays_minutes: Sequence[float]) -> Shrunk:
    """A pair's delay from lights-off to its first larvae, in minutes, blended from the first."""
    return shrunk(
        USUAL_DELAY_MINUTES,
        DELAY_SPREAD_BETWEEN_PAIRS_MINUTES,
        delays_minutes,
        DELAY_SPREAD_OF_ONE_PAIR_MINUTES,
    )
