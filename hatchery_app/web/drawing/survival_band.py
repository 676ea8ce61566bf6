"""Survival by age with its band: one line over all batches, each batch a thread behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import (
    MIDDLE,
    NARROW,
    Numbers,
    Scale,
    at_widths,
    line,
    polyline,
    svg,
    text,
)

HEIGHT = 260.0
LEFT, RIGHT, TOP, FOOT = 52.0, 12.0, 34.0, 30.0
QUARTERS = (0, 25, 50, 75, 100)


@dataclass(frozen=True)
class BandStep:
    """Survival up to an age in dph, shares of 0 to 1; `row` are its cells in the table."""

    dph: float
    best: float
    low: float
    high: float
    row: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.best <= self.high <= 1:
            raise ValueError(f"survival at {self.dph:g} dph lies inside its band, 0 to 1")


@dataclass(frozen=True)
class SurvivalBand:
    """The curve in order of age. `threads` are the batches, as (dph, share); `other` the same
    curve reckoned otherwise, named `other_name`, drawn with a broken line."""

    name: str
    steps: tuple[BandStep, ...]
    threads: tuple[tuple[tuple[float, float], ...], ...] = ()
    other: tuple[tuple[float, float], ...] = ()
    other_name: str = ""
    columns: tuple[str, ...] = ()


def survival_band(chart: SurvivalBand) -> Markup:
    """The drawing for a tablet and for a phone; without a curve it says so."""
    if not chart.steps:
        return Markup('<p class="soft">{}: no curve yet</p>').format(chart.name)
    return at_widths(lambda width: _drawn(chart, width), NARROW, MIDDLE)


def numbers(chart: SurvivalBand) -> Numbers:
    """The curve as a table, at the ages that have a row."""
    rows = tuple(step.row for step in chart.steps if step.row)
    numeric = tuple(range(len(chart.columns)))
    return Numbers(chart.name, chart.columns, rows, numeric)


def _drawn(chart: SurvivalBand, width: float) -> Markup:
    last = chart.steps[-1].dph
    across = Scale(0, max(1, last), LEFT, width - RIGHT)
    up = Scale(0, 1, HEIGHT - FOOT, TOP)
    steps = chart.steps
    upper = [(across(step.dph), up(step.high)) for step in steps]
    lower = [(across(step.dph), up(step.low)) for step in reversed(steps)]
    parts = [*_ground(across, up, width, last), polyline([*upper, *lower], "d-band", closed=True)]
    for thread in chart.threads:
        shown = _cut([(0.0, 1.0), *thread], last)
        parts.append(polyline([(across(dph), up(share)) for dph, share in shown], "d-strand"))
    parts.append(polyline([(across(step.dph), up(step.best)) for step in steps], "d-curve"))
    if chart.other:
        parts.append(polyline([(across(dph), up(one)) for dph, one in chart.other], "d-broken"))
        at, share = chart.other[-1]
        parts.append(text(across(at), up(share) - 8, chart.other_name, "d-soft", anchor="end"))
    return svg(width, HEIGHT, chart.name, parts)


def _cut(points: Sequence[tuple[float, float]], last: float) -> list[tuple[float, float]]:
    """A batch's line as far as the drawing goes."""
    shown: list[tuple[float, float]] = []
    for dph, share in points:
        if dph <= last:
            shown.append((dph, share))
            continue
        before, at = shown[-1]
        part = (last - before) / (dph - before)
        return [*shown, (last, at + part * (share - at))]
    return shown


def _ground(across: Scale, up: Scale, width: float, last: float) -> list[Markup]:
    parts = [text(0, 16, "alive, %", "d-soft")]
    for percent in QUARTERS:
        y = up(percent / 100)
        parts.append(line(LEFT, y, width - RIGHT, y, "d-grid"))
        parts.append(text(LEFT - 8, y + 5, str(percent), "d-soft", anchor="end"))
    return [*parts, *age_marks(across, width, HEIGHT - 8, last)]


def age_marks(across: Scale, width: float, y: float, last: float) -> list[Markup]:
    """Ages under a drawing, at round days that have room; the last says "dph"."""
    room = 58.0 * max(1.0, last) / max(1.0, across(last) - across(0))
    step = next(size for size in (1, 2, 5, 10, 20, 30, 60, 120, 365, 1000) if size >= room)
    days = [day for day in range(0, int(last) + 1, step) if last - day >= step * 0.7]
    parts = [text(across(day), y, str(day), "d-soft", anchor="middle") for day in days]
    parts.append(text(width - RIGHT, y, f"{last:g} dph", "d-soft", anchor="end"))
    return parts
