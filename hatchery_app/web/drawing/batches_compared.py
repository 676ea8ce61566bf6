"""Batches under each other: each a dot on a scale from none to all alive, with its interval."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import (
    MIDDLE,
    NARROW,
    Numbers,
    Scale,
    at_widths,
    circle,
    line,
    svg,
    text,
)

ROW, HEAD_ROW = 24.0, 30.0
TOP, FOOT = 6.0, 26.0
NAME_WIDTH, RIGHT = 96.0, 20.0
QUARTERS = (0, 25, 50, 75, 100)


@dataclass(frozen=True)
class Fared:
    """One batch: the share alive of 0 to 1 with what it lies between, None where not computable."""

    name: str
    best: float | None
    low: float | None
    high: float | None
    said: str

    def __post_init__(self) -> None:
        known = [one for one in (self.low, self.best, self.high) if one is not None]
        if known != sorted(known) or any(not 0 <= one <= 1 for one in known):
            raise ValueError(f"a share lies inside its interval, 0 to 1: {self.name}")


@dataclass(frozen=True)
class Group:
    """Batches that belong together, under a heading; "" for no heading."""

    heading: str
    batches: tuple[Fared, ...]


@dataclass(frozen=True)
class BatchesCompared:
    """The groups in order. `at` is a share drawn as a line through all, with its word."""

    name: str
    groups: tuple[Group, ...]
    at: float | None = None
    at_word: str = ""


def batches_compared(chart: BatchesCompared) -> Markup:
    """The drawing for a tablet and for a phone; without batches it says so."""
    if not any(group.batches for group in chart.groups):
        return Markup('<p class="soft">{}: none yet</p>').format(chart.name)
    return at_widths(lambda width: _drawn(chart, width), NARROW, MIDDLE)


def numbers(chart: BatchesCompared) -> Numbers:
    """Every batch as a row."""
    grouped = any(group.heading for group in chart.groups)
    rows = tuple(
        (group.heading, one.name, one.said) if grouped else (one.name, one.said)
        for group in chart.groups
        for one in group.batches
    )
    return Numbers(chart.name, ("group", "batch", "alive") if grouped else ("batch", "alive"), rows)


def _drawn(chart: BatchesCompared, width: float) -> Markup:
    across = Scale(0, 1, NAME_WIDTH, width - RIGHT)
    parts: list[Markup] = []
    y = TOP
    for group in chart.groups:
        if group.heading:
            y += HEAD_ROW
            parts.append(text(0, y - 8, group.heading, "d-strong"))
        for one in group.batches:
            y += ROW
            parts += _row(one, across, y)
    ground = [
        part
        for percent in QUARTERS
        for part in (
            line(across(percent / 100), TOP, across(percent / 100), y + 4, "d-grid"),
            text(across(percent / 100), y + FOOT - 4, f"{percent} %", "d-soft", anchor="middle"),
        )
    ]
    if chart.at is not None:
        ground.append(line(across(chart.at), TOP, across(chart.at), y + 4, "d-now"))
    return svg(width, y + FOOT, chart.name, [*ground, *parts])


def _row(one: Fared, across: Scale, y: float) -> list[Markup]:
    middle = y - ROW / 2 + 2
    parts = [text(0, middle + 5, one.name, "d-soft")]
    if one.best is None and one.high is None:
        return [*parts, text(across(0) + 6, middle + 5, "not computable", "d-soft")]
    low = one.low if one.low is not None else one.best
    high = one.high if one.high is not None else one.best
    if low is not None and high is not None and high > low:
        parts.append(line(across(low), middle, across(high), middle, "d-interval"))
    if one.best is None:  # a bound only: a tick where it ends
        end = across(high or 0)
        return [*parts, line(end, middle - 6, end, middle + 6, "d-interval")]
    is_open = one.low is None or high != low
    return [*parts, circle(across(one.best), middle, 5, "d-open" if is_open else "d-full")]
