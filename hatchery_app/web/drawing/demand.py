"""Demand against supply, day by day: a band for the need, a line for what the vessels bear, and
the first day short."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import (
    Numbers,
    Scale,
    at_widths,
    circle,
    line,
    polyline,
    svg,
    text,
)
from hatchery_app.web.drawing.curve import round_steps

HEIGHT = 250.0
LEFT, RIGHT, TOP, FOOT = 46.0, 10.0, 62.0, 30.0
LETTER = 7.8


@dataclass(frozen=True)
class DayBar:
    """One day in one unit: the need with its band, and what is borne and reached of it.

    `held` is the part of the need that must stand ready. `words` go into the table.
    """

    label: str
    low: float
    need: float
    high: float
    held: float
    bears: float
    words: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.need <= self.high or self.held > self.need:
            raise ValueError(f"a need lies inside its band: {self.label}")


@dataclass(frozen=True)
class Demand:
    """Days in order. `short_at` is the place of the first short day, `short_said` its words.

    `is_known` False draws the need alone: nobody said what the vessels bear.
    """

    name: str
    unit: str
    days: tuple[DayBar, ...]
    columns: tuple[str, ...] = ()
    short_at: int | None = None
    short_said: str = ""
    is_known: bool = True


def demand(chart: Demand) -> Markup:
    """The drawing for a phone, a column and a whole page; without a need it says so."""
    if not any(day.high > 0 for day in chart.days):
        return Markup('<p class="soft">{}: nothing wanted in these days</p>').format(chart.name)
    return at_widths(lambda width: _drawn(chart, width))


def numbers(chart: Demand) -> Numbers:
    """Every day in words."""
    columns = ("day", *chart.columns)
    rows = tuple((day.label, *day.words) for day in chart.days)
    return Numbers(chart.name, columns, rows, tuple(range(1, len(columns))))


def _drawn(chart: Demand, width: float) -> Markup:
    days = chart.days
    top = max([day.high for day in days] + [day.bears for day in days if chart.is_known])
    steps = round_steps(0.0, top)
    across = Scale(0, max(1, len(days) - 1), LEFT + 8, width - RIGHT - 8)
    up = Scale(steps[0], steps[-1], HEIGHT - FOOT, TOP)
    parts = [*_ground(steps, up, width), *_need(days, across, up)]
    if chart.is_known:
        parts += [_line(days, across, up, lambda day: day.bears, "d-supply")]
    parts += [*_key(chart), *_short(chart, across, up, width), *_labels(days, across, width)]
    return svg(width, HEIGHT, chart.name, parts)


def _ground(steps: Sequence[float], up: Scale, width: float) -> list[Markup]:
    parts = []
    for step in steps:
        parts.append(line(LEFT, up(step), width - RIGHT, up(step), "d-grid"))
        parts.append(text(LEFT - 8, up(step) + 5, f"{step:g}", "d-soft", anchor="end"))
    return parts


def _need(days: Sequence[DayBar], across: Scale, up: Scale) -> list[Markup]:
    above = [(across(n), up(day.high)) for n, day in enumerate(days)]
    below = [(across(n), up(day.low)) for n, day in enumerate(days)]
    held = [(across(n), up(day.need - day.held)) for n, day in enumerate(days)]
    parts = [polyline([*above, *reversed(below)], "d-band", closed=True)]
    if any(day.held for day in days):
        needs = [(across(n), up(day.need)) for n, day in enumerate(days)]
        parts.append(polyline([*needs, *reversed(held)], "d-held", closed=True))
    return [*parts, _line(days, across, up, lambda day: day.need, "d-curve")]


def _line(
    days: Sequence[DayBar], across: Scale, up: Scale, value: Callable[[DayBar], float], look: str
) -> Markup:
    return polyline([(across(n), up(value(day))) for n, day in enumerate(days)], look)


def _key(chart: Demand) -> list[Markup]:
    """What the lines are, over the drawing."""
    marks = [("d-curve", "needed")]
    if chart.is_known:
        marks.append(("d-supply", "vessels bear"))
    parts, left = [text(0, 22, chart.unit, "d-soft")], LETTER * len(chart.unit) + 16
    for look, words in marks:
        parts += [line(left, 17, left + 22, 17, look), text(left + 28, 22, words)]
        left += 28 + LETTER * len(words) + 18
    return parts


def _short(chart: Demand, across: Scale, up: Scale, width: float) -> list[Markup]:
    if chart.short_at is None:
        return []
    x, day = across(chart.short_at), chart.days[chart.short_at]
    wide = LETTER * len(chart.short_said)
    left = max(LEFT, min(x - wide / 2, width - wide - 4))
    return [
        line(x, TOP - 6, x, HEIGHT - FOOT, "d-limit"),
        circle(x, up(day.need), 5, "d-full"),
        text(left, TOP - 14, chart.short_said, "d-strong"),
    ]


def _labels(days: Sequence[DayBar], across: Scale, width: float) -> list[Markup]:
    """The days that have room, the last of them always."""
    parts, free = [], 0.0
    last = days[-1]
    wide = LETTER * len(last.label)
    end = min(across(len(days) - 1) - wide / 2, width - wide)
    for place, day in enumerate(days[:-1]):
        left = max(0.0, across(place) - LETTER * len(day.label) / 2)
        right = left + LETTER * len(day.label)
        if left >= free and right + 10 <= end:
            parts.append(text(left, HEIGHT - 8, day.label, "d-soft"))
            free = right + 12
    return [*parts, text(end, HEIGHT - 8, last.label, "d-soft")]
