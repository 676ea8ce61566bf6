"""Survival by age when fish also leave alive: those sold or moved are censored, not dead.

Culls of weak or deformed fish are deaths here, because they were not taken at random. Siblings in
one tank die together, so every interval on this page is too narrow: compare tanks, not fish.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log, sqrt
from statistics import NormalDist

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.stock_book.counting import CONFIDENCE, Interval

ROUNDING = 1e-6  # of a fish


@dataclass(frozen=True)
class Span:
    """A stretch of days: alive at its start, died in it, and left alive in it.

    For a single day `from_day` and `until_day` are equal. Parts of fish are allowed, where losses
    of several days are spread over them. Raises RuleBroken when more died or left than entered.
    """

    from_day: float
    until_day: float
    entering: float
    died: float
    left_alive: float = 0

    def __post_init__(self) -> None:
        if self.until_day < self.from_day:
            raise RuleBroken("A span of days ends before it begins.", field="days")
        gone = self.died + self.left_alive
        if min(self.died, self.left_alive) < 0 or gone > self.entering + ROUNDING:
            raise RuleBroken(
                f"Day {self.from_day:g}: {self.died:g} died and {self.left_alive:g} left of "
                f"{self.entering:g} cannot be.",
                field="died",
            )


@dataclass(frozen=True)
class CurvePoint:
    """Survival up to a day, 0 to 1, with Greenwood's standard error and its log-log interval.

    `at_risk` is those who could die in the span (the effective number in the actuarial form),
    `hazard` the share of them who did. `interval` is None where survival is 1 or 0.
    """

    day: float
    at_risk: float
    hazard: float
    survival: float
    standard_error: float
    interval: Interval | None


def kaplan_meier(spans: Sequence[Span], confidence: float = CONFIDENCE) -> tuple[CurvePoint, ...]:
    """Survival when each death and leaving is known to its day; leavers go after the day's deaths.

    S = product of 1 - d/n. Source: Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457-481.
    """
    return _curve(spans, 0.0, confidence)


def life_table(spans: Sequence[Span], confidence: float = CONFIDENCE) -> tuple[CurvePoint, ...]:
    """Actuarial survival when leavings are spread through each span: n' = n - left/2, q = d/n'.

    Source: Cutler & Ederer 1958, J. Chronic Dis. 8:699-712.
    """
    return _curve(spans, 0.5, confidence)


def median_day(points: Sequence[CurvePoint]) -> float | None:
    """The first day by which half or more had died; None while more than half live."""
    return next((point.day for point in points if point.survival <= 0.5), None)


@dataclass(frozen=True)
class LogRank:
    """Whether two groups died at different rates: observed and expected deaths of the first."""

    observed: float
    expected: float
    variance: float

    @property
    def chi_square(self) -> float:
        """(O - E)^2 / V, on one degree of freedom."""
        return (self.observed - self.expected) ** 2 / self.variance

    @property
    def p(self) -> float:
        """The chance of a difference so large between groups that do not differ."""
        return 2 * (1 - NormalDist().cdf(sqrt(self.chi_square)))


def log_rank(one: Sequence[Span], other: Sequence[Span]) -> LogRank | None:
    """Compare two groups whose deaths are known to the day; None when they cannot be compared.

    E = sum d n1/n, V = sum d (n1/n)(1 - n1/n)(n - d)/(n - 1) over the days of death.
    Source: Mantel 1966, Cancer Chemother. Rep. 50:163-170.
    """
    expected = variance = 0.0
    for day in sorted({span.until_day for span in (*one, *other) if span.died}):
        mine, mine_died = _at_risk(one, day)
        theirs, theirs_died = _at_risk(other, day)
        everyone, died = mine + theirs, mine_died + theirs_died
        expected += died * mine / everyone
        if everyone > 1:
            share = mine / everyone
            variance += died * share * (1 - share) * (everyone - died) / (everyone - 1)
    if variance == 0:
        return None
    return LogRank(sum(span.died for span in one), expected, variance)


def _curve(
    spans: Sequence[Span], leavers_missing: float, confidence: float
) -> tuple[CurvePoint, ...]:
    """The product over spans; `leavers_missing` is the share of a leaver's span it was away."""
    _refuse_disorder(spans)
    survival, greenwood = 1.0, 0.0
    points = []
    for span in spans:
        at_risk = span.entering - leavers_missing * span.left_alive
        hazard = span.died / at_risk if at_risk else 0.0
        survival = survival * (1 - hazard) if hazard < 1 - ROUNDING else 0.0
        if at_risk - span.died > ROUNDING:
            greenwood += span.died / (at_risk * (at_risk - span.died))
        points.append(
            CurvePoint(
                span.until_day,
                at_risk,
                hazard,
                survival,
                survival * sqrt(greenwood),
                _log_log(survival, greenwood, confidence),
            )
        )
    return tuple(points)


def _log_log(survival: float, greenwood: float, confidence: float) -> Interval | None:
    """exp(-exp(theta -+ z sqrt(G)/|ln S|)): stays between 0 and 1 (Kalbfleisch & Prentice)."""
    if not 0 < survival < 1:
        return None
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    theta, half = log(-log(survival)), z * sqrt(greenwood) / abs(log(survival))
    return Interval(exp(-exp(theta + half)), exp(-exp(theta - half)))


def _at_risk(spans: Sequence[Span], day: float) -> tuple[float, float]:
    """Those of a group alive as a day begins, and those who died on it."""
    later = next((span for span in spans if span.until_day >= day), None)
    if later is None:
        return 0, 0
    return later.entering, later.died if later.until_day == day else 0


def _refuse_disorder(spans: Sequence[Span]) -> None:
    for earlier, later in pairwise(spans):
        if later.from_day < earlier.until_day:
            raise RuleBroken("The spans of days must follow each other.", field="days")
        left = earlier.entering - earlier.died - earlier.left_alive
        if later.entering > left + ROUNDING:
            raise RuleBroken(
                f"Day {later.from_day:g}: {later.entering:g} enter, but only {left:g} were left.",
                field="entering",
            )
