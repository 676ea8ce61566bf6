"""What the pairs of a room say together about one rhythm, each shrunk towards the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean


@dataclass(frozen=True)
class AcrossPairs:
    """What several pairs of a species say together, in days (method of moments).

    `within_variance` and `between_variance` in days², `mean` the precision-weighted mean;
    `of_pair` gives each pair's shrunken mean, its weight and the sd of its next gap.
    """

    within_variance: float
    between_variance: float
    mean: float
    of_pair: Mapping[int, tuple[float, float, float]]


def rhythm_across_pairs(own: Mapping[int, Sequence[float]]) -> AcrossPairs | None:
    """Pool the gaps of several pairs: one-way method of moments with unequal numbers.

    None where it cannot be told: fewer than two pairs, or no pair with two gaps. Source: the
    usual variance-components estimator (Searle, Casella & McCulloch 1992, ch. 3; from memory).
    """
    groups = {pair: list(days) for pair, days in own.items() if days}
    total = sum(len(days) for days in groups.values())
    if len(groups) < 2 or total <= len(groups):
        return None
    within = sum((x - fmean(d)) ** 2 for d in groups.values() for x in d)
    within /= total - len(groups)
    grand = sum(map(sum, groups.values())) / total
    between = sum(len(d) * (fmean(d) - grand) ** 2 for d in groups.values()) / (len(groups) - 1)
    n0 = (total - sum(len(d) ** 2 for d in groups.values()) / total) / (len(groups) - 1)
    tau2 = max(0.0, (between - within) / n0)
    precision = {p: 1 / (tau2 + within / len(d)) for p, d in groups.items() if tau2 + within > 0}
    if not precision:
        return None
    mean = sum(w * fmean(groups[p]) for p, w in precision.items()) / sum(precision.values())
    of_pair = {}
    for pair, days in groups.items():
        weight = tau2 * precision[pair]
        sd = sqrt(within + weight * within / len(days))
        of_pair[pair] = (mean + weight * (fmean(days) - mean), weight, sd)
    return AcrossPairs(within, tau2, mean, of_pair)
