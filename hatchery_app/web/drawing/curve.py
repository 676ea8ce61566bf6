"""Points with their intervals over days: a plain chart, as a line or as bars."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import (
    MIDDLE,
    NARROW,
    Numbers,
    Scale,
    at_widths,
    box,
    circle,
    line,
    polyline,
    svg,
    text,
)

HEIGHT = 230.0
LEFT, RIGHT, TOP, FOOT = 46.0, 8.0, 40.0, 30.0


@dataclass(frozen=True)
class Point:
    """A value on a day (any number of days), with its interval; `label` names the day."""

    day: float
    best: float
    label: str
    said: str = ""
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        if not self.least <= self.best <= self.most:
            raise ValueError(f"a value lies inside its interval: {self.label}")

    @property
    def least(self) -> float:
        return self.best if self.low is None else self.low

    @property
    def most(self) -> float:
        return self.best if self.high is None else self.high


@dataclass(frozen=True)
class Curve:
    """Points in order of days; `within` is the band they should lie in, `from_zero` the foot.

    `limits` are values that must not be passed, each with the word that stands on its line.
    """

    name: str
    unit: str
    points: tuple[Point, ...]
    within: tuple[float, float] | None = None
    bars: bool = False
    from_zero: bool = True
    limits: tuple[tuple[float, str], ...] = ()


def curve(chart: Curve) -> Markup:
    """The chart for a tablet and for a phone; with no points it says so."""
    if not chart.points:
        return Markup('<p class="soft">{}: nothing recorded yet</p>').format(chart.name)
    return at_widths(lambda width: _drawn(chart, width, HEIGHT), NARROW, MIDDLE)


def numbers(chart: Curve) -> Numbers:
    """The points as a table."""
    rows = tuple((point.label, point.said or f"{point.best:g}") for point in chart.points)
    return Numbers(chart.name, ("day", chart.unit), rows, numeric=(1,))


def round_steps(low: float, high: float, about: int = 4) -> list[float]:
    """Round values (1, 2, 2.5, 5 times a power of ten) that cover low to high."""
    rough = max(high - low, 1e-9) / about
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * by for by in (1, 2, 2.5, 5, 10) if size * by >= rough * 0.999)
    first, last = math.floor(low / step), math.ceil(high / step)
    return [round(n * step, 9) for n in range(first, max(last, first + 1) + 1)]


def _drawn(chart: Curve, width: float, height: float) -> Markup:
    points = sorted(chart.points, key=lambda point: point.day)
    steps = _steps(chart, points)
    inset = 18 if chart.bars else 6
    across = Scale(points[0].day, points[-1].day, LEFT + inset, width - RIGHT - inset)
    up = Scale(steps[0], steps[-1], height - FOOT, TOP)
    parts = [
        *_ground(chart, steps, up, width),
        *(_bars(points, across, up) if chart.bars else _line(points, across, up)),
        *_days(points, across, width, height),
        text(0, 22, chart.unit, "d-soft"),
    ]
    return svg(width, height, chart.name, parts)


def _steps(chart: Curve, points: Sequence[Point]) -> list[float]:
    values = [point.least for point in points] + [point.most for point in points]
    values += [*(chart.within or ()), *(value for value, _ in chart.limits)]
    low = min(0.0, *values) if chart.from_zero or chart.bars else min(values)
    return round_steps(low, max(values))


def _ground(chart: Curve, steps: Sequence[float], up: Scale, width: float) -> list[Markup]:
    parts = []
    if chart.within:
        low, high = chart.within
        parts.append(box(LEFT, up(high), width - LEFT - RIGHT, up(low) - up(high), "d-band"))
    for step in steps:
        parts.append(line(LEFT, up(step), width - RIGHT, up(step), "d-grid"))
        parts.append(text(LEFT - 8, up(step) + 5, f"{step:g}", "d-soft", anchor="end"))
    for value, word in chart.limits:
        parts.append(line(LEFT, up(value), width - RIGHT, up(value), "d-limit"))
        parts.append(text(width - RIGHT - 4, up(value) - 5, word, "d-soft", anchor="end"))
    return parts


def _line(points: Sequence[Point], across: Scale, up: Scale) -> list[Markup]:
    parts = [polyline([(across(point.day), up(point.best)) for point in points], "d-curve")]
    for point in points:
        x = across(point.day)
        if point.most > point.least:
            parts.append(line(x, up(point.most), x, up(point.least), "d-interval"))
        look = "d-open" if point.most > point.least else "d-full"
        parts.append(circle(x, up(point.best), 4, look))
    return parts


def _bars(points: Sequence[Point], across: Scale, up: Scale) -> list[Markup]:
    nearest = min(
        (after.day - before.day for before, after in itertools.pairwise(points)),
        default=1.0,
    )
    wide = max(3.0, min(34.0, 0.6 * abs(across(points[0].day + nearest) - across(points[0].day))))
    parts = []
    for point in points:
        x, top, foot = across(point.day), up(max(point.best, 0)), up(min(point.best, 0))
        parts.append(box(x - wide / 2, top, wide, foot - top, "d-bar"))
        if point.most > point.least:
            parts.append(line(x, up(point.most), x, up(point.least), "d-line"))
    return parts


def _days(points: Sequence[Point], across: Scale, width: float, height: float) -> list[Markup]:
    """The first day and the last, and those between that have room."""
    parts, free = [], 0.0
    last = points[-1]
    last_left = min(width - 8 * len(last.label), across(last.day) - 4 * len(last.label))
    for point in points[:-1]:
        left = max(0.0, across(point.day) - 4 * len(point.label))
        if left >= free and left + 8 * len(point.label) + 12 <= last_left:
            parts.append(text(left, height - 8, point.label, "d-soft"))
            free = left + 8 * len(point.label) + 14
    parts.append(text(last_left, height - 8, last.label, "d-soft"))
    return parts
