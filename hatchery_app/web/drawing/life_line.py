"""One horizontal line for a batch, from laying to today: what happened, and the counts above it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from markupsafe import Markup

from hatchery_app.domain.when import RoomTime, When, say_date, say_when
from hatchery_app.web.drawing.canvas import (
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
from hatchery_app.web.drawing.count_band import COUNTS_HEIGHT, CountMark, count_band
from hatchery_app.web.drawing.labels import (
    LANE_HEIGHT,
    LETTER_WIDTH,
    Label,
    Placed,
    lanes_used,
    place_in_lanes,
)

__all__ = ["CountMark", "Happening", "LifeLine", "Mark", "life_line", "numbers"]

MOST_LANES = 3


class Happening(StrEnum):
    """What a mark on the line stands for; each has its shape."""

    LAID = "laid"
    SIGN = "sign"
    HATCH = "hatch"
    FIRST_FOOD = "first food"
    SETTLING = "settling"
    MOVE = "move"
    END = "end"

    @property
    def rank(self) -> int:
        """What keeps its words longest where marks crowd: the ends of the eggs' own story."""
        return _KEEPS_ITS_WORDS.index(self)


_KEEPS_ITS_WORDS = (
    Happening.SIGN, Happening.MOVE, Happening.FIRST_FOOD, Happening.SETTLING,
    Happening.END, Happening.HATCH, Happening.LAID,
)  # fmt: skip


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


def mark_of(when: When, label: str, happening: Happening, room_time: RoomTime) -> Mark:
    """A thing that happened: a mark where its day is known, else a band over all it may be."""
    first, last = (room_time.local(at).date() for at in (when.earliest, when.latest))
    if (last - first).days > 1:
        return Mark(when.earliest, label, happening, say_when(when, room_time), when.latest)
    return Mark(when.middle, label, happening, say_date(room_time.local(when.middle).date()))


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
    """The line, drawn for a phone, a column and a whole page."""
    return at_widths(lambda width: _drawn(life, width))


def numbers(life: LifeLine) -> Numbers:
    """Every mark and count with its moment, in order, under the number it has on the line."""
    rows = tuple((str(n), *_told(one)) for n, one in enumerate(_in_order(life), start=1))
    return Numbers(life.name, ("no.", "when", "what", "how many"), rows, numeric=(0,))


def _told(one: Mark | CountMark) -> tuple[str, str, str]:
    if isinstance(one, CountMark):
        return one.when, "counted", one.said
    return one.when, one.label, ""


def _in_order(life: LifeLine) -> list[Mark | CountMark]:
    return sorted([*life.marks, *life.counts], key=lambda one: one.at)


def _drawn(life: LifeLine, width: float) -> Markup:
    ordered = _in_order(life)
    scale = Scale(ordered[0].at.timestamp(), life.today_at.timestamp(), 10.0, width - 10)
    axis = (COUNTS_HEIGHT if life.counts else 0.0) + 46
    below, lanes = _marks(ordered, scale, axis, width)
    parts = [
        *_today(life, axis, width),
        *count_band(life.counts, scale, axis, width),
        line(10, axis, width - 10, axis, "d-thread"),
        *below,
    ]
    return svg(width, axis + 22 + lanes * LANE_HEIGHT, life.name, parts)


def _marks(
    ordered: Sequence[Mark | CountMark], scale: Scale, axis: float, width: float
) -> tuple[list[Markup], int]:
    """The knots with their words; where they crowd, the words give way to numbers."""
    numbered = [(n, one) for n, one in enumerate(ordered, start=1) if isinstance(one, Mark)]
    marks = [mark for _, mark in numbered]
    xs = [scale(mark.at.timestamp()) for mark in marks]
    labels = [Label(x - 4, mark.label) for x, mark in zip(xs, marks, strict=True)]
    placed = place_in_lanes(labels, [mark.happening.rank for mark in marks], width, MOST_LANES)
    found = [one for one in placed if one is not None]
    left_out = [
        (x, number) for x, (number, _), one in zip(xs, numbered, placed, strict=True) if one is None
    ]
    bands = [_shape(mark, scale, axis) for mark in marks if mark.until_at]
    knots = [_shape(mark, scale, axis) for mark in marks if not mark.until_at]
    words = [*_words(found, axis), *_numbers_above(left_out, axis, width)]
    return [*_leads(found, axis), *bands, *knots, *words], lanes_used(found)


def _level(one: Placed, axis: float) -> float:
    return axis + 28 + one.lane * LANE_HEIGHT


def _leads(placed: Sequence[Placed], axis: float) -> list[Markup]:
    places = [(max(0.0, one.label.at), _level(one, axis)) for one in placed if one.led]
    return [line(x, axis + 8, x, level - 13, "d-lead") for x, level in places]


def _words(placed: Sequence[Placed], axis: float) -> list[Markup]:
    return [text(one.left, _level(one, axis), one.label.text) for one in placed]


def _numbers_above(
    left_out: Sequence[tuple[float, int]], axis: float, width: float
) -> list[Markup]:
    """Above the line, the rows of the table that tell of marks without room for words."""
    runs: list[tuple[float, float, int, int]] = []
    for x, number in left_out:
        if runs and x < runs[-1][1] + 5 * LETTER_WIDTH + 6:
            runs[-1] = (runs[-1][0], x, runs[-1][2], number)
        else:
            runs.append((x, x, number, number))
    parts = []
    for first_x, last_x, first, last in runs:
        said = f"{first}" if first == last else f"{first}–{last}"
        half = len(said) * LETTER_WIDTH / 2
        middle = min(max((first_x + last_x) / 2, half), width - half)
        parts.append(text(middle, axis - 13, said, "d-soft", anchor="middle"))
    return parts


def _shape(mark: Mark, scale: Scale, axis: float) -> Markup:
    x = scale(mark.at.timestamp())
    if mark.until_at is not None:
        look = "d-yolk" if mark.happening is Happening.HATCH else "d-settling"
        return box(x, axis - 6, max(4.0, scale(mark.until_at.timestamp()) - x), 12, look, 6)
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


def _today(life: LifeLine, axis: float, width: float) -> list[Markup]:
    return [
        line(width - 10, 32, width - 10, axis + 8, "d-now"),
        text(width, 22, life.today_label, "d-soft", anchor="end"),
    ]
