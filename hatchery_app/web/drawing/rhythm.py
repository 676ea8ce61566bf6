"""A pair's clutches in a row on one time line: the gaps between them and how each one ended."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import (
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
from hatchery_app.web.drawing.labels import LANE_HEIGHT, Label, lanes_used, place_labels

MOST_ON_A_PHONE = 8
AXIS = 54.0
MOST_LANES = 3


class Outcome(StrEnum):
    """How a clutch ended: a word, and a shape of its own."""

    OPEN = "open"
    HATCHED = "hatched"
    PULLED = "pulled"
    EATEN = "eaten"
    DROPPED = "dropped"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class ClutchMark:
    """One clutch: laid, and empty (hatched, pulled, eaten, dropped) if it is; `gap_days` before it.

    The gap is counted from the day the nest became empty to this laying, None for the first.
    """

    laid_at: datetime
    empty_at: datetime | None
    outcome: Outcome
    label: str
    when: str = ""
    eggs_said: str = ""
    gap_days: int | None = None

    def __post_init__(self) -> None:
        if self.empty_at is not None and self.empty_at < self.laid_at:
            raise ValueError(f"{self.label}: the nest was empty before the eggs were laid")


@dataclass(frozen=True)
class Rhythm:
    """A pair's clutches in order, and the window in which the next spawn is expected, if any."""

    name: str
    clutches: tuple[ClutchMark, ...]
    today_at: datetime
    next_from: datetime | None = None
    next_until: datetime | None = None

    def __post_init__(self) -> None:
        if (self.next_from is None) != (self.next_until is None):
            raise ValueError("a window for the next spawn has a first and a last day")


def rhythm(pair: Rhythm) -> Markup:
    """The row, for a phone (there the last eight clutches), a column and a whole page."""
    return at_widths(lambda width: _drawn(pair, width))


def numbers(pair: Rhythm) -> Numbers:
    """Every clutch with its gap, eggs and outcome."""
    rows = tuple(
        (
            clutch.label,
            clutch.when,
            "" if clutch.gap_days is None else str(clutch.gap_days),
            clutch.eggs_said,
            clutch.outcome.value,
        )
        for clutch in pair.clutches
    )
    columns = ("clutch", "laid", "days after the nest was empty", "eggs", "ended")
    return Numbers(pair.name, columns, rows, numeric=(2,))


def _drawn(pair: Rhythm, width: float) -> Markup:
    clutches = pair.clutches[-MOST_ON_A_PHONE:] if width == NARROW else pair.clutches
    ends = [pair.today_at] + ([pair.next_until] if pair.next_until else [])
    begins = clutches[0].laid_at if clutches else pair.today_at
    scale = Scale(begins.timestamp(), max(ends).timestamp(), 10, width - 12)
    today = scale(pair.today_at.timestamp())
    words, lanes = _words(clutches, scale, width, today)
    parts = [
        line(10, AXIS, today, AXIS, "d-lead"),
        *_window(pair, scale, width),
        line(today, AXIS - 15, today, AXIS + 11, "d-now"),
        *_gaps(clutches, scale),
        *(part for clutch in clutches for part in _clutch(clutch, scale, today)),
        *words,
        *_left_out(len(pair.clutches) - len(clutches)),
    ]
    return svg(width, AXIS + 24 + lanes * LANE_HEIGHT, pair.name, parts)


def _left_out(earlier: int) -> list[Markup]:
    return [text(0, 22, f"{earlier} earlier", "d-soft")] if earlier else []


def _window(pair: Rhythm, scale: Scale, width: float) -> list[Markup]:
    if pair.next_from is None or pair.next_until is None:
        return []
    left, right = scale(pair.next_from.timestamp()), scale(pair.next_until.timestamp())
    return [
        box(left, AXIS - 12, max(4.0, right - left), 24, "d-band"),
        line(left, AXIS, right, AXIS, "d-ahead"),
        text(min(width, right), 22, "next spawn", "d-soft", anchor="end"),
    ]


def _clutch(clutch: ClutchMark, scale: Scale, today: float) -> list[Markup]:
    """From laying to the empty nest as a thick thread; its end has the outcome's shape."""
    laid = scale(clutch.laid_at.timestamp())
    end = _end(clutch, scale, today)
    return [line(laid, AXIS, end, AXIS, "d-thread"), _shape(clutch.outcome, end)]


def _end(clutch: ClutchMark, scale: Scale, today: float) -> float:
    return today if clutch.empty_at is None else scale(clutch.empty_at.timestamp())


def _shape(outcome: Outcome, x: float) -> Markup:
    if outcome is Outcome.HATCHED:
        return circle(x, AXIS, 7, "d-full")
    if outcome is Outcome.PULLED:
        return box(x - 6, AXIS - 6, 12, 12, "d-full")
    if outcome is Outcome.EATEN:
        cross = line(x - 6, AXIS - 6, x + 6, AXIS + 6, "d-line")
        return cross + line(x - 6, AXIS + 6, x + 6, AXIS - 6, "d-line")
    if outcome is Outcome.DROPPED:
        return polyline([(x - 7, AXIS - 5), (x + 7, AXIS - 5), (x, AXIS + 8)], "d-open", True)
    if outcome is Outcome.OPEN:
        return circle(x, AXIS, 7, "d-yolk")
    return circle(x, AXIS, 7, "d-dash")


def _gaps(clutches: Sequence[ClutchMark], scale: Scale) -> list[Markup]:
    """The days between, above the thread, where there is room for the number."""
    parts = []
    for before, after in itertools.pairwise(clutches):
        if after.gap_days is None or before.empty_at is None:
            continue
        left = scale(before.empty_at.timestamp())
        right = scale(after.laid_at.timestamp())
        if right - left > 22:
            middle = (left + right) / 2
            parts.append(text(middle, AXIS - 14, str(after.gap_days), "d-soft", anchor="middle"))
    return parts


def _words(
    clutches: Sequence[ClutchMark], scale: Scale, width: float, today: float
) -> tuple[list[Markup], int]:
    """The outcome under each clutch; where they would crowd, one line that explains the shapes."""
    labels = [Label(_end(each, scale, today) - 8, each.outcome.value) for each in clutches]
    placed = place_labels(labels, width)
    if lanes_used(placed) > MOST_LANES:
        return _key(clutches, width)
    level = AXIS + 30
    parts = [text(one.left, level + one.lane * LANE_HEIGHT, one.label.text) for one in placed]
    return parts, lanes_used(placed)


def _key(clutches: Sequence[ClutchMark], width: float) -> tuple[list[Markup], int]:
    used = sorted({clutch.outcome for clutch in clutches}, key=list(Outcome).index)
    parts, left, lane = [], 0.0, 0
    for outcome in used:
        needed = Label(0, outcome.value).width + 34
        if left + needed > width:
            left, lane = 0.0, lane + 1
        level = AXIS + 34 + lane * 26
        shape = Markup('<g transform="translate({} {})">{}</g>').format(
            round(left + 9), round(level - 5 - AXIS), _shape(outcome, 0)
        )
        parts += [shape, text(left + 24, level, outcome.value)]
        left += needed + 14
    return parts, 2 + lane
