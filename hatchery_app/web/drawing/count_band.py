"""Counts of a batch above its life line: the best figure, its interval, and how it reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import Scale, circle, line, polyline, text
from hatchery_app.web.drawing.labels import BOLD_WIDTH, Label

COUNTS_HEIGHT = 108.0
FOOT = 26.0  # between the line and no fish at all: room for the numbers of crowded marks
CLEAR_OF_TODAY = 18.0


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


def count_band(
    counts: Sequence[CountMark], scale: Scale, axis: float, width: float
) -> list[Markup]:
    """The counts above the line, to a scale from none: band, curve, ticks, words."""
    if not counts:
        return []
    ordered = sorted(counts, key=lambda count: count.at)
    # The foot of this scale is zero fish: a curve that falls to half stands half as high.
    up = Scale(
        0, max(1, *(count.most for count in ordered)), axis - FOOT, axis - COUNTS_HEIGHT + 18
    )
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
        left = max(0.0, min(label.at, width - CLEAR_OF_TODAY - wide))
        words.append((left, left + wide, upper[place][1] - 9, label.text))
    if len(words) == 2 and words[1][0] < words[0][1] + 12:
        return [
            text(0, words[0][2], words[0][3], "d-strong"),
            text(width - CLEAR_OF_TODAY, words[0][2], words[1][3], "d-strong", anchor="end"),
        ]
    return [text(left, level, said, "d-strong") for left, _, level, said in words]
