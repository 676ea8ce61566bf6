"""A culture vessel over its days: its counts with their error, what was harvested, its eggs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import (
    MIDDLE,
    NARROW,
    WIDE,
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
from hatchery_app.web.drawing.curve import round_steps

LEFT, RIGHT = 58.0, 10.0
COUNTS = (36.0, 186.0)  # top and foot of each strip; its name stands 18 above
HARVESTS = (236.0, 286.0)
EGGS = (336.0, 446.0)
HEIGHT, SHORT = 476.0, 316.0  # without eggs where nobody counted any
NAME_ABOVE = 18.0


@dataclass(frozen=True)
class CountSeen:
    """A count on a day of the vessel (from its start), and the eggs each if counted."""

    day: float
    label: str
    per_ml: float
    low: float
    high: float
    said: str
    eggs: float | None = None
    is_look: bool = False


@dataclass(frozen=True)
class Taken:
    """A harvest on a day: the share of the vessel, and in words."""

    day: float
    label: str
    share: float
    said: str


@dataclass(frozen=True)
class VesselRecord:
    """What is drawn of a vessel. `egg_limits`: values with the word on their line."""

    name: str
    unit: str
    counts: tuple[CountSeen, ...]
    harvests: tuple[Taken, ...] = ()
    egg_limits: tuple[tuple[float, str], ...] = ()


def drawing(record: VesselRecord) -> Markup:
    """The record for all three widths; nothing where nothing was counted."""
    if not record.counts:
        return Markup("")
    return at_widths(lambda width: _drawn(record, width), NARROW, MIDDLE, WIDE)


def numbers(record: VesselRecord) -> Numbers:
    """The same as a table, newest first."""
    rows = [(one.day, (one.label, one.said, "", _eggs_said(one))) for one in record.counts]
    rows += [(one.day, (one.label, "", one.said, "")) for one in record.harvests]
    rows.sort(key=lambda row: row[0], reverse=True)
    return Numbers(
        record.name, ("when", record.unit, "taken", "eggs each"),
        tuple(cells for _, cells in rows), numeric=(1, 3),
    )  # fmt: skip


def _eggs_said(one: CountSeen) -> str:
    return f"{one.eggs:.2f}" if one.eggs is not None else "–"


def _drawn(record: VesselRecord, width: float) -> Markup:
    days = [one.day for one in record.counts] + [one.day for one in record.harvests]
    across = Scale(min(days), max(days), LEFT + 8, width - RIGHT - 8)
    with_eggs = any(one.eggs is not None for one in record.counts)
    parts = [*_counts(record, across, width), *_harvests(record.harvests, across, width)]
    foot = HARVESTS[1]
    if with_eggs:
        parts += _eggs(record, across, width)
        foot = EGGS[1]
    parts += _days(record.counts, across, width, foot)
    return svg(width, HEIGHT if with_eggs else SHORT, record.name, parts)


def _counts(record: VesselRecord, across: Scale, width: float) -> list[Markup]:
    top, foot = COUNTS
    steps = round_steps(0, max(one.high for one in record.counts), 3)
    up = Scale(steps[0], steps[-1], foot, top)
    parts = [text(0, top - NAME_ABOVE, record.unit, "d-soft")]
    for step in steps:
        parts.append(line(LEFT, up(step), width - RIGHT, up(step), "d-grid"))
        parts.append(text(LEFT - 8, up(step) + 5, _short(step), "d-soft", anchor="end"))
    parts.append(polyline([(across(c.day), up(c.per_ml)) for c in record.counts], "d-curve"))
    for one in record.counts:
        x = across(one.day)
        parts.append(line(x, up(one.high), x, up(one.low), "d-interval"))
        # A look is a ring, a count a full knot.
        parts.append(circle(x, up(one.per_ml), 4, "d-open" if one.is_look else "d-full"))
    return parts


def _short(value: float) -> str:
    for size, sign in ((1e9, "bn"), (1e6, "M"), (1e4, "")):
        if value >= size:
            return f"{value / size:g} {sign}" if sign else f"{value:,.0f}"
    return f"{value:g}"


def _harvests(taken: Sequence[Taken], across: Scale, width: float) -> list[Markup]:
    """Each as a bar: a whole strip high would be the whole vessel."""
    top, foot = HARVESTS
    parts = [
        text(0, top - NAME_ABOVE, "taken, of the vessel", "d-soft"),
        line(LEFT, foot, width - RIGHT, foot, "d-grid"),
        line(LEFT, top, width - RIGHT, top, "d-grid"),
        text(LEFT - 8, foot + 5, "0", "d-soft", anchor="end"),
        text(LEFT - 8, top + 5, "50 %", "d-soft", anchor="end"),
    ]
    for one in taken:
        high = min(1.0, one.share / 0.5) * (foot - top)
        parts.append(box(across(one.day) - 4, foot - high, 8, high, "d-bar"))
    return parts


def _eggs(record: VesselRecord, across: Scale, width: float) -> list[Markup]:
    top, foot = EGGS
    seen = [(one.day, one.eggs) for one in record.counts if one.eggs is not None]
    steps = round_steps(0, max(0.6, *(eggs for _, eggs in seen)), 3)
    up = Scale(steps[0], steps[-1], foot, top)
    parts = [text(0, top - NAME_ABOVE, "eggs each", "d-soft")]
    for step in (steps[0], steps[-1]):
        parts.append(line(LEFT, up(step), width - RIGHT, up(step), "d-grid"))
        parts.append(text(LEFT - 8, up(step) + 5, f"{step:g}", "d-soft", anchor="end"))
    for value, word in record.egg_limits:
        parts.append(line(LEFT, up(value), width - RIGHT, up(value), "d-limit"))
        # The lowest is named below its line, or two that stand close would run together.
        below = value == min(limit for limit, _ in record.egg_limits)
        place = up(value) + (17 if below else -5)
        parts.append(text(width - RIGHT - 4, place, word, "d-soft", anchor="end"))
    parts.append(polyline([(across(day), up(eggs)) for day, eggs in seen], "d-curve"))
    parts += [circle(across(day), up(eggs), 4, "d-full") for day, eggs in seen]
    return parts


def _days(
    counts: Sequence[CountSeen], across: Scale, width: float, foot: float
) -> list[Markup]:
    """The first day, the last, and those between that have room."""
    parts, free, last = [], 0.0, counts[-1]
    last_left = min(width - 8 * len(last.label), across(last.day) - 4 * len(last.label))
    for one in counts[:-1]:
        left = max(0.0, across(one.day) - 4 * len(one.label))
        if left >= free and left + 8 * len(one.label) + 12 <= last_left:
            parts.append(text(left, foot + 22, one.label, "d-soft"))
            free = left + 8 * len(one.label) + 14
    parts.append(text(last_left, foot + 22, last.label, "d-soft"))
    return parts
