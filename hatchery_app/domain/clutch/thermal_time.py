"""Thermal time: degree-days above a threshold, summed over what a tank's thermometer said.

S(t) = ∫ max(T − T0, 0) dt, by trapezoid between readings, split exactly where the water
crosses T0 (clipping the ends first would count too much). Linear model of development: done
when S reaches K, so a steady T takes K / (T − T0) days.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from math import exp, log

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import Lights

SECONDS_PER_DAY = 86_400.0
LONGEST_GAP = timedelta(hours=24)  # a longer one is marked assumed; common practice
RECENT = timedelta(days=3)  # the mean of these days' readings stands for the days ahead
# Seawater lies between freezing and what any fish room reaches; beyond is a typing error.
LOWEST_C, HIGHEST_C = -2.0, 45.0
# Standard errors of a temperature that nobody read, in °C; assumed, not published.
ERROR_AHEAD_C = 0.3
ERROR_MENDED_C = 0.5  # what failed once may fail again
ERROR_GAP_C = 0.7
ERROR_SET_POINT_C = 1.0
ERROR_GUESS_C = 1.5
# Beyond 24–30 °C the rate at a given T depends on T0, which published points do not identify
# (9 to 24 °C, fit on twelve durations): about half a degree, and as much again per degree out.
ERROR_UNFITTED_C = 0.5


class Basis(StrEnum):
    """What the temperature of a stretch rests on."""

    READ = "read"
    GAP = "assumed across a gap"
    AHEAD = "mean of the last 3 days held"
    MENDED = "mean of the last 3 days held, odd hours that are over left out"
    OLD_MEAN = "mean of old readings held"
    SET_POINT = "set point assumed"
    GUESS = "nothing said, usual water assumed"


_ERROR_C = {
    Basis.READ: 0.0,
    Basis.GAP: ERROR_GAP_C,
    Basis.AHEAD: ERROR_AHEAD_C,
    Basis.MENDED: ERROR_MENDED_C,
    Basis.OLD_MEAN: ERROR_SET_POINT_C,
    Basis.SET_POINT: ERROR_SET_POINT_C,
    Basis.GUESS: ERROR_GUESS_C,
}


@dataclass(frozen=True)
class Reading:
    """One temperature of one tank at one instant. Raises RuleBroken beyond physical sense."""

    at: datetime
    temperature_c: float

    def __post_init__(self) -> None:
        if self.at.utcoffset() is None:
            raise ValueError(f"A reading needs a time zone: {self.at!r}")
        if not LOWEST_C <= self.temperature_c <= HIGHEST_C:
            raise RuleBroken(
                f"{self.temperature_c:g} °C is no temperature of a fish tank.", field="temperature"
            )


@dataclass(frozen=True)
class Stay:
    """The time eggs spent in one tank (or a pulled tile's vessel), with that tank's readings.

    Readings stay with the tank, so they may begin before the stay and go on after it.
    `until_at` None: still there. `guess_c` stands where nobody read the tank nor said what it is
    set to: the water the eggs came from, or their species' usual. Raises RuleBroken when the stay
    ends before it begins.
    """

    from_at: datetime
    until_at: datetime | None
    readings: tuple[Reading, ...]
    set_point_c: float | None
    lights: Lights
    name: str
    guess_c: float | None = None

    def __post_init__(self) -> None:
        if self.until_at is not None and self.until_at < self.from_at:
            raise RuleBroken(f"The eggs cannot leave {self.name} before they came to it.")


@dataclass(frozen=True)
class Stretch:
    """A stretch of time over which temperature runs straight from one value to another."""

    from_at: datetime
    until_at: datetime
    from_c: float
    until_c: float
    basis: Basis
    place: str = ""

    @property
    def days(self) -> float:
        """Elapsed days."""
        return (self.until_at - self.from_at).total_seconds() / SECONDS_PER_DAY

    @property
    def mean_c(self) -> float:
        """The mean temperature."""
        return (self.from_c + self.until_c) / 2

    def temperature_at(self, at: datetime) -> float:
        """The temperature at an instant inside the stretch, in °C."""
        if self.until_at <= self.from_at:
            return self.from_c
        share = (at - self.from_at) / (self.until_at - self.from_at)
        return self.from_c + (self.until_c - self.from_c) * share

    def clipped(self, from_at: datetime, until_at: datetime) -> "Stretch":
        """The part of the stretch between two instants inside it."""
        return Stretch(
            from_at,
            until_at,
            self.temperature_at(from_at),
            self.temperature_at(until_at),
            self.basis,
            self.place,
        )


def degree_days_between(days: float, from_c: float, until_c: float, t0_c: float) -> float:
    """Degree-days above `t0_c` over `days` in which temperature runs straight between two values.

    Exact: where the line crosses the threshold only the triangle above it counts.
    """
    low, high = min(from_c, until_c) - t0_c, max(from_c, until_c) - t0_c
    if low >= 0:
        return days * (low + high) / 2
    if high <= 0:
        return 0.0
    return days * high * high / (2 * (high - low))


def constants_of_two(
    days_1: float, at_1_c: float, days_2: float, at_2_c: float
) -> tuple[float, float]:
    """T0 and K of the line of development rate through two durations at two temperatures.

    T0 = (T1·D1 − T2·D2)/(D1 − D2), K = D1·(T1 − T0); K is in degrees × the unit of duration.
    Raises RuleBroken when the durations do not differ: then any threshold would do.
    """
    if days_1 == days_2 or at_1_c == at_2_c:
        raise RuleBroken("Two different temperatures with two different durations are needed.")
    t0_c = (at_1_c * days_1 - at_2_c * days_2) / (days_1 - days_2)
    return t0_c, days_1 * (at_1_c - t0_c)


def constants_of_rate(intercept: float, slope: float) -> tuple[float, float]:
    """T0 and K of a rate line v = a + b·T (Sharov, Population Ecology 8.2): −a/b and 1/b."""
    if slope <= 0:
        raise RuleBroken("Development must go faster in warmer water for a threshold to exist.")
    return -intercept / slope, 1 / slope


def k_of_durations(points: Sequence[tuple[float, float]], t0_c: float) -> float:
    """K by least squares of log duration, for points (°C, days), T0 fixed: mean of ln D·(T − T0).

    Raises RuleBroken without points, or with one at or below the threshold.
    """
    if not points or any(at_c <= t0_c for at_c, _ in points):
        raise RuleBroken("Durations at temperatures above the threshold are needed.")
    return exp(sum(log(days * (at_c - t0_c)) for at_c, days in points) / len(points))


def q10(days_1: float, at_1_c: float, days_2: float, at_2_c: float) -> float:
    """How many times faster per 10 °C: (D1/D2)^(10/(T2 − T1))."""
    return float((days_1 / days_2) ** (10 / (at_2_c - at_1_c)))


def days_by_q10(days: float, at_c: float, q10_factor: float, other_c: float) -> float:
    """The duration at another temperature, D·Q10^(−(T2 − T1)/10)."""
    return float(days * q10_factor ** (-(other_c - at_c) / 10))


class TemperatureCourse:
    """The water's temperature from laying to the last night forecast, without a hole.

    `thermal_at(t)` is the sum of degree-days from the start, `error_at(t)` the standard error
    of that sum, growing where nobody read a thermometer and where the model was not fitted
    (`error_per_degree_c`, from `widen_below_c` to `widen_above_c`). Errors of all stretches
    are taken to go the same way, which is the cautious reading.
    """

    def __init__(
        self,
        stretches: Sequence[Stretch],
        t0_c: float,
        widen_below_c: float = LOWEST_C,
        widen_above_c: float = HIGHEST_C,
    ) -> None:
        self.stretches = tuple(stretches)
        self.t0_c = t0_c
        self._bounds = (widen_below_c, widen_above_c)
        self._starts = [stretch.from_at for stretch in self.stretches]
        self._thermal, self._error = [0.0], [0.0]
        for stretch in self.stretches:
            thermal, error = self._of(stretch)
            self._thermal.append(self._thermal[-1] + thermal)
            self._error.append(self._error[-1] + error)

    def _of(self, stretch: Stretch) -> tuple[float, float]:
        """Degree-days of a stretch and their standard error."""
        low_c, high_c = self._bounds
        outside = max(low_c - stretch.mean_c, stretch.mean_c - high_c, 0.0)
        unfitted_c = ERROR_UNFITTED_C * (1 + outside) if outside > 0 else 0.0
        return (
            degree_days_between(stretch.days, stretch.from_c, stretch.until_c, self.t0_c),
            stretch.days * (_ERROR_C[stretch.basis] + unfitted_c),
        )

    def thermal_and_error_at(self, at: datetime) -> tuple[float, float]:
        """Degree-days from the start of the course to an instant of it, and their error."""
        index = max(bisect_right(self._starts, at) - 1, 0)
        stretch = self.stretches[index]
        inside = min(max(at, stretch.from_at), stretch.until_at)
        thermal, error = self._of(stretch.clipped(stretch.from_at, inside))
        return self._thermal[index] + thermal, self._error[index] + error

    def between(self, from_at: datetime, until_at: datetime) -> float:
        """Degree-days between two instants of the course."""
        return self.thermal_and_error_at(until_at)[0] - self.thermal_and_error_at(from_at)[0]

    def mean_c(self, from_at: datetime, until_at: datetime) -> float | None:
        """The mean temperature between two instants; None where they are one."""
        parts = [
            stretch.clipped(max(stretch.from_at, from_at), min(stretch.until_at, until_at))
            for stretch in self.stretches
            if stretch.from_at < until_at and stretch.until_at > from_at
        ]
        days = sum(part.days for part in parts)
        return sum(part.days * part.mean_c for part in parts) / days if days else None
