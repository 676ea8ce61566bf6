"""One horizontal line for a batch, from laying to today: what happened, and the counts above it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import (
    BOLD_WIDTH,
    LANE_HEIGHT,
    Label,
    Numbers,
    Scale,
    both_widths,
    box,
    circle,
    lanes_used,
    line,
    place_labels,
    polyline,
    svg,
    text,
)

WIDE, NARROW = 1120.0, 358.0
COUNTS_HEIGHT = 108.0


class Happening(StrEnum):
    """What a mark on the line stands for; each has its shape."""

    LAID = "laid"
    SIGN = "sign"
    HATCH = "hatch"
    FIRST_FOOD = "first food"
    SETTLING = "settling"
    MOVE = "move"
    END = "end"


@dataclass(frozen=True)
class Mark:
    """One thing on the line. `when` are the words for its moment; a band has `until_at`."""

    at: datetime
    label: str
    happening: Happening
    when: str = ""
    until_at: datetime | None = None

    def __post_init__(self) -> None:
        if self.until_at is not None and self.until_at < self.at:
            raise ValueError(f"{self.label} ends before it begins")


@dataclass(frozen=True)
class CountMark:
    """A count: best, with its interval where it is an estimate; `said` is how it reads in words."""

    at: datetime
    best: int
    said: str
    when: str = ""
    low: int | None = None
    high: int | None = None

    def __post_init__(self) -> None:
        if not (self.least <= self.best <= self.most) or self.least < 0:
            raise ValueError(f"a count lies inside its interval: {self.said}")

    @property
    def least(self) -> int:
        return self.best if self.low is None else self.low

    @property
    def most(self) -> int:
        return self.best if self.high is None else self.high


@dataclass(frozen=True)
class LifeLine:
    """A batch from its first mark to `today_at`, or to its end when it has ended."""

    name: str
    marks: tuple[Mark, ...]
    counts: tuple[CountMark, ...]
    today_at: datetime
    today_label: str

    def __post_init__(self) -> None:
        if not self.marks:
            raise ValueError("a life line begins with something that happened")


def life_line(life: LifeLine) -> Markup:
    """The line, drawn for a tablet and for a phone."""
    return both_widths(_drawn(life, WIDE), _drawn(life, NARROW))


def numbers(life: LifeLine) -> Numbers:
    """Every mark and count with its moment, in order."""
    told = [(mark.at, mark.when, mark.label, "") for mark in life.marks]
    told += [(count.at, count.when, "counted", count.said) for count in life.counts]
    rows = tuple(row[1:] for row in sorted(told, key=lambda row: row[0]))
    return Numbers(life.name, ("when", "what", "how many"), rows)


def _drawn(life: LifeLine, width: float) -> Markup:
    first = min([mark.at for mark in life.marks] + [count.at for count in life.counts])
    scale = Scale(first.timestamp(), life.today_at.timestamp(), 10.0, width - 10)
    axis = (COUNTS_HEIGHT if life.counts else 0.0) + 46
    below, lanes = _marks(life.marks, scale, axis, width)
    parts = [
        *_counts(life.counts, scale, axis, width),
        line(10, axis, width - 10, axis, "d-thread"),
        *below,
        *_today(life, axis, width),
    ]
    return svg(width, axis + 22 + lanes * LANE_HEIGHT, life.name, parts)


def _marks(
    marks: Sequence[Mark], scale: Scale, axis: float, width: float
) -> tuple[list[Markup], int]:
    ordered = sorted(marks, key=lambda mark: mark.at)
    labels = [Label(scale(mark.at.timestamp()) - 4, mark.label) for mark in ordered]
    placed = place_labels(labels, width)
    words, leads = [], []
    for one in placed:
        x, level = max(0.0, one.label.at), axis + 28 + one.lane * LANE_HEIGHT
        if one.led:
            leads.append(line(x, axis + 8, x, level - 13, "d-lead"))
        words.append(text(one.left, level, one.label.text))
    bands = [_shape(mark, scale, axis) for mark in ordered if mark.until_at]
    knots = [_shape(mark, scale, axis) for mark in ordered if not mark.until_at]
    return [*leads, *bands, *knots, *words], lanes_used(placed)


def _shape(mark: Mark, scale: Scale, axis: float) -> Markup:
    x = scale(mark.at.timestamp())
    if mark.until_at is not None:
        return box(x, axis - 6, max(4.0, scale(mark.until_at.timestamp()) - x), 12, "d-settling", 6)
    if mark.happening is Happening.HATCH:
        return circle(x, axis, 7.5, "d-yolk")
    if mark.happening is Happening.MOVE:
        return polyline(
            [(x, axis - 8), (x + 8, axis), (x, axis + 8), (x - 8, axis)], "d-open", closed=True
        )
    if mark.happening is Happening.FIRST_FOOD:
        return line(x, axis - 9, x, axis + 9, "d-line")
    if mark.happening is Happening.END:
        return box(x - 3, axis - 9, 6, 18, "d-full")
    return circle(x, axis, 6.5, "d-full" if mark.happening is Happening.LAID else "d-open")


def _counts(
    counts: Sequence[CountMark], scale: Scale, axis: float, width: float
) -> list[Markup]:
    """The counts above the line, to a scale from none: band, curve, ticks and words."""
    if not counts:
        return []
    ordered = sorted(counts, key=lambda count: count.at)
    # The foot of this scale is zero fish: a curve that falls to half stands half as high.
    up = Scale(0, max(1, *(count.most for count in ordered)), axis - 14, axis - COUNTS_HEIGHT + 18)
    xs = [scale(count.at.timestamp()) for count in ordered]
    upper = [(x, up(count.most)) for x, count in zip(xs, ordered, strict=True)]
    lower = [(x, up(count.least)) for x, count in zip(xs, ordered, strict=True)]
    best = [(x, up(count.best)) for x, count in zip(xs, ordered, strict=True)]
    parts = [
        polyline([*upper, *reversed(lower)], "d-band", closed=True),
        polyline(best, "d-curve"),
    ]
    for (x, y), count in zip(best, ordered, strict=True):
        if count.most > count.least:
            parts.append(line(x, up(count.most), x, up(count.least), "d-interval"))
        parts.append(circle(x, y, 4.5, "d-full" if count.most == count.least else "d-open"))
    return parts + _count_words(ordered, best, upper, width)


def _count_words(
    ordered: Sequence[CountMark],
    best: Sequence[tuple[float, float]],
    upper: Sequence[tuple[float, float]],
    width: float,
) -> list[Markup]:
    """The first and the last count in words; those between are in the table."""
    last = len(ordered) - 1
    words = []
    for place in sorted({0, last}):
        label = Label(best[place][0] - 4, ordered[place].said)
        wide = len(label.text) * BOLD_WIDTH
        left = max(0.0, min(label.at, width - wide))
        words.append((left, left + wide, upper[place][1] - 9, label.text))
    if len(words) == 2 and words[1][0] < words[0][1] + 12:
        return [
            text(0, words[0][2], words[0][3], "d-strong"),
            text(width, words[0][2], words[1][3], "d-strong", anchor="end"),
        ]
    return [text(left, level, said, "d-strong") for left, _, level, said in words]


def _today(life: LifeLine, axis: float, width: float) -> list[Markup]:
    return [
        line(width - 10, axis - 14, width - 10, axis + 8, "d-now"),
        text(width, 22, life.today_label, "d-soft", anchor="end"),
    ]
