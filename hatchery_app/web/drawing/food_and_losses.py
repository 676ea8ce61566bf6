"""A batch of larvae by day of age: food left and given, food gaps, and under them what was lost."""

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
    box,
    circle,
    line,
    svg,
    text,
)
from hatchery_app.web.drawing.curve import round_steps
from hatchery_app.web.drawing.survival_band import age_marks

LEFT, RIGHT = 58.0, 12.0
TOP = 22.0  # the word "gap" stands there
NAME = 22.0  # above a strip
LOSS_NAME = 30.0
STRIP = 62.0
MEALS = 16.0
LOSSES = 78.0
FOOT = 26.0
MOST_SHARE = 2.0  # of what is wanted; thicker is drawn there
SHORTEST = 3.0


@dataclass(frozen=True)
class FoodMark:
    """A look at a food: on which day of age (a fraction by the hour), what was left and what it
    was brought to, both as shares of what the plan wants."""

    dph: float
    left: tuple[float, float, float] | None
    brought_to: float | None
    is_look: bool


@dataclass(frozen=True)
class FoodStrip:
    """One food over the days."""

    name: str
    marks: tuple[FoodMark, ...]


@dataclass(frozen=True)
class Lost:
    """So many lost on these days of age, both included."""

    from_dph: int
    until_dph: int
    number: int


@dataclass(frozen=True)
class FoodAndLosses:
    """What is drawn. `gaps` are spans (first, last dph), `meals` the days on which food was given
    that does not stand in the water, `unwritten` those of which nobody wrote. `rows` are the
    table's."""

    name: str
    from_dph: int
    until_dph: int
    strips: tuple[FoodStrip, ...]
    meals: tuple[int, ...]
    unwritten: tuple[int, ...]
    gaps: tuple[tuple[int, int], ...]
    losses: tuple[Lost, ...]
    rows: tuple[tuple[str, ...], ...]


def food_and_losses(chart: FoodAndLosses) -> Markup:
    """The drawing for a tablet and for a phone."""
    return at_widths(lambda width: _drawn(chart, width), NARROW, MIDDLE)


def numbers(chart: FoodAndLosses) -> Numbers:
    """Every day as a row, newest first."""
    return Numbers(chart.name, ("day", "left", "given", "lost", "food gap"), chart.rows)


def _drawn(chart: FoodAndLosses, width: float) -> Markup:
    # A day is a stretch, not a point: the scale leaves room for the whole of the last one.
    across = Scale(chart.from_dph, chart.until_dph + 1, LEFT, width - RIGHT)
    parts: list[Markup] = []
    y = TOP
    for strip in chart.strips:
        parts += _strip(strip, across, width, y + NAME)
        y += NAME + STRIP
    parts += _meals(chart, across, width, y)
    y += NAME + MEALS
    parts += _losses(chart.losses, across, width, y + LOSS_NAME)
    foot = y + LOSS_NAME + LOSSES
    height = foot + FOOT
    behind = [_gap(gap, across, foot) for gap in chart.gaps]
    ages = _ages(chart, across, width, height - 6)
    return svg(width, height, chart.name, [*behind, *parts, *_gap_words(chart, across), *ages])


def _gap(gap: tuple[int, int], across: Scale, foot: float) -> Markup:
    first, last = gap
    return box(across(first), TOP, across(last + 1) - across(first), foot - TOP, "d-gap")


def _gap_words(chart: FoodAndLosses, across: Scale) -> list[Markup]:
    """ "gap" over each; where two stand close, only over the first."""
    parts, free = [], 0.0
    for first, last in chart.gaps:
        middle = (across(first) + across(last + 1)) / 2
        if middle - 16 >= free:
            parts.append(text(middle, TOP - 6, "gap", "d-strong", anchor="middle"))
            free = middle + 22
    return parts


def _strip(strip: FoodStrip, across: Scale, width: float, top: float) -> list[Markup]:
    foot = top + STRIP - 12
    up = Scale(0, MOST_SHARE, foot, top)
    parts = [
        text(0, top - 8, strip.name, "d-soft"),
        line(LEFT, foot, width - RIGHT, foot, "d-grid"),
        line(LEFT, up(1), width - RIGHT, up(1), "d-lead"),
        text(LEFT - 8, up(1) + 5, "wanted", "d-soft", anchor="end"),
        text(LEFT - 8, foot + 5, "none", "d-soft", anchor="end"),
    ]
    for mark in strip.marks:
        x = across(mark.dph)
        if mark.brought_to is not None:
            below = mark.left[1] if mark.left is not None else None
            parts += _given(x, mark.brought_to, below, up)
        if mark.left is not None:
            low, best, high = (min(MOST_SHARE, share) for share in mark.left)
            parts.append(line(x, up(low), x, up(high), "d-interval"))
            parts.append(circle(x, up(best), 4, "d-open" if mark.is_look else "d-full"))
    return parts


def _given(x: float, brought_to: float, left: float | None, up: Scale) -> list[Markup]:
    """A bar from what was left to where it was brought; only its top where that is not known."""
    top = up(min(MOST_SHARE, brought_to))
    if left is None or left >= brought_to:
        return [box(x - 6, top - 1.5, 12, 3, "d-bar")]
    return [box(x + 5, top, 5, up(min(MOST_SHARE, left)) - top, "d-bar")]


def _meals(chart: FoodAndLosses, across: Scale, width: float, top: float) -> list[Markup]:
    """A dash on every day with another meal, a question mark on every day nobody wrote of."""
    middle = top + NAME + MEALS / 2 - 4
    parts = [text(0, top + 14, "other meals; ? is not written", "d-soft")]
    half = (across(1) - across(0)) / 2
    parts += [
        box(across(day) + half - min(9, half - 2), middle - 2, 2 * min(9, half - 2), 5, "d-bar")
        for day in chart.meals
    ]
    parts += [
        text(across(day) + half, middle + 6, "?", "d-soft", anchor="middle")
        for day in chart.unwritten
    ]
    return parts


def _losses(losses: Sequence[Lost], across: Scale, width: float, top: float) -> list[Markup]:
    """A day's loss as a bar; one between two looks low and as long as the gap between them."""
    foot = top + LOSSES - 12
    a_day = [one.number / (one.until_dph - one.from_dph + 1) for one in losses]
    steps = round_steps(0, max([4.0, *a_day]), 2)
    up = Scale(steps[0], steps[-1], foot, top)
    parts = [text(0, top - 15, "lost a day", "d-soft")]
    for step in (steps[0], steps[-1]):
        parts.append(line(LEFT, up(step), width - RIGHT, up(step), "d-grid"))
        parts.append(text(LEFT - 8, up(step) + 5, f"{step:g}", "d-soft", anchor="end"))
    for one, each in sorted(zip(losses, a_day, strict=True), key=lambda pair: -_days(pair[0])):
        left, wide = across(one.from_dph), across(one.until_dph + 1) - across(one.from_dph)
        tall = max(SHORTEST, foot - up(each))
        look = "d-loss" if _days(one) == 1 else "d-loss-gap"
        parts.append(box(left + 1, foot - tall, max(2.0, wide - 2), tall, look))
    return parts


def _days(one: Lost) -> int:
    return one.until_dph - one.from_dph + 1


def _ages(chart: FoodAndLosses, across: Scale, width: float, y: float) -> list[Markup]:
    if chart.from_dph == 0:
        return age_marks(across, width, y, chart.until_dph)
    return [
        text(across(chart.from_dph), y, f"{chart.from_dph}", "d-soft"),
        text(width - RIGHT, y, f"{chart.until_dph} dph", "d-soft", anchor="end"),
    ]
