"""A slow change in a pair's clutch size or gaps: said plainly, and only with enough clutches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import sqrt
from statistics import fmean, stdev

REFERENCE_CLUTCHES = 8
"""Fewer than this give no reference to drift from (common practice)."""
SLACK_SD = 0.5
"""Reference value K of a tabular cumulative sum, in sd (NIST/SEMATECH e-Handbook 6.3.2.3)."""
DECISION_SD = 4.0
"""Decision value H, in sd (same)."""
LEANING_SD = 2.0
"""Half of H: worth a word, not yet a finding (own choice)."""
LEAST_SD = 0.5
"""Least spread of √eggs (that of a pure count) and of gaps in days (entered by the day)."""


class Drift(StrEnum):
    """What the sums come to."""

    TOO_FEW = "too few to say"
    STEADY = "steady"
    LEANING_DOWN = "leaning down"
    LEANING_UP = "leaning up"
    DOWN = "drifting down"
    UP = "drifting up"


@dataclass(frozen=True)
class DriftSeen:
    """The finding with the two means it compares and how many values each rests on."""

    drift: Drift
    words: str
    reference: float | None = None
    latest: float | None = None


def cusum(
    values: Sequence[float], target: float, slack: float
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Upper and lower tabular cumulative sums of values about a target, in the values' unit.

    S_H = max(0, x − (target + slack) + S_H), S_L = max(0, (target − slack) − x + S_L)
    (Montgomery, Introduction to Statistical Quality Control, tabular CUSUM; NIST 6.3.2.3).
    """
    upper, lower = [0.0], [0.0]
    for x in values:
        upper.append(max(0.0, x - (target + slack) + upper[-1]))
        lower.append(max(0.0, (target - slack) - x + lower[-1]))
    return tuple(upper[1:]), tuple(lower[1:])


ONE_OF = {"clutches": "clutch", "gaps": "gap"}


def clutch_size_drift(eggs: Sequence[int]) -> DriftSeen:
    """Whether clutches drift in size, oldest first; the first clutches already left out.

    The first 8 are the reference, those after them are judged on √eggs, whose scatter does not
    grow with the number.
    """
    return _judge([sqrt(n) for n in eggs], list(map(float, eggs)), "clutches", "eggs")


def gap_drift(days: Sequence[float]) -> DriftSeen:
    """Whether the gaps between spawns drift, oldest first, in days."""
    return _judge(list(days), list(days), "gaps", "days")


def _judge(
    values: Sequence[float], shown: Sequence[float], what: str, unit: str
) -> DriftSeen:
    n = REFERENCE_CLUTCHES
    if len(values) <= n:
        return DriftSeen(
            Drift.TOO_FEW,
            f"{len(values)} {what if len(values) != 1 else ONE_OF[what]} counted; "
            f"the first {n} are the reference, those after them are compared.",
        )
    sd = max(stdev(values[:n]), LEAST_SD)
    upper, lower = cusum([x / sd for x in values[n:]], fmean(values[:n]) / sd, SLACK_SD)
    drift = _name(upper[-1], lower[-1])
    was, last = fmean(shown[:n]), fmean(shown[n:][-n:])
    judged = min(n, len(shown) - n)
    words = (
        f"{drift.capitalize()}: the first {n} {what} had {was:.0f} {unit} on average, "
        f"the last {judged} {last:.0f}."
    )
    return DriftSeen(drift, words, was, last)


def _name(upper: float, lower: float) -> Drift:
    if max(upper, lower) < LEANING_SD:
        return Drift.STEADY
    if lower >= upper:
        return Drift.DOWN if lower >= DECISION_SD else Drift.LEANING_DOWN
    return Drift.UP if upper >= DECISION_SD else Drift.LEANING_UP
