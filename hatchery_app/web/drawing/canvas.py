"""What the drawings share: a scale, text that does not collide, and the numbers behind a drawing.

A drawing carries classes and no colours: day, red night and paper are the style sheets' work.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

LETTER_WIDTH = 7.7  # of one letter at the 15 units the style sheet sets; a little generous
LANE_HEIGHT = 20.0


@dataclass(frozen=True)
class Numbers:
    """The numbers behind a drawing, in words; `numeric` columns are set to the right."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError("every row of a table has as many cells as the table has columns")


@dataclass(frozen=True)
class Scale:
    """A straight scale from values (days, counts) to places on the drawing."""

    first: float
    last: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        if self.last == self.first:
            return (self.start + self.end) / 2
        share = (value - self.first) / (self.last - self.first)
        return self.start + share * (self.end - self.start)


@dataclass(frozen=True)
class Label:
    """A word at a place along a line."""

    at: float
    text: str

    @property
    def width(self) -> float:
        return len(self.text) * LETTER_WIDTH


@dataclass(frozen=True)
class Placed:
    """A label that has found its lane: `left` is where its text begins, lane 0 is the nearest."""

    label: Label
    left: float
    lane: int


def place_labels(labels: Sequence[Label], right_edge: float, gap: float = 12) -> list[Placed]:
    """Put each label in the first lane where it touches no earlier one, inside 0 and right_edge.

    In the order given; labels stand with their start at their place, moved left at the edge.
    """
    lane_ends: list[list[tuple[float, float]]] = []
    placed = []
    for label in labels:
        left = max(0.0, min(label.at, right_edge - label.width))
        right = left + label.width
        lane = 0
        while lane < len(lane_ends) and any(
            left < taken_right + gap and taken_left < right + gap
            for taken_left, taken_right in lane_ends[lane]
        ):
            lane += 1
        if lane == len(lane_ends):
            lane_ends.append([])
        lane_ends[lane].append((left, right))
        placed.append(Placed(label, left, lane))
    return placed


def lanes_used(placed: Iterable[Placed]) -> int:
    """How many lanes the labels take; 0 for none."""
    return max((one.lane + 1 for one in placed), default=0)


def svg(width: float, height: float, name: str, parts: Iterable[Markup], more: str = "") -> Markup:
    """One drawing: an image with a name for those who cannot see it."""
    return Markup(
        '<svg class="drawing{}" viewBox="0 0 {} {}" role="img" aria-label="{}">'
        "<title>{}</title>{}</svg>"
    ).format(more, _n(width), _n(height), name, name, Markup("").join(parts))


def text(x: float, y: float, words: str, *classes: str, anchor: str = "start") -> Markup:
    """Words, beginning (or with their middle, or end) at x."""
    return Markup('<text x="{}" y="{}" text-anchor="{}" class="{}">{}</text>').format(
        _n(x), _n(y), anchor, " ".join(classes), words
    )


def line(x1: float, y1: float, x2: float, y2: float, look: str) -> Markup:
    """A straight line."""
    return Markup('<line x1="{}" y1="{}" x2="{}" y2="{}" class="{}"/>').format(
        _n(x1), _n(y1), _n(x2), _n(y2), look
    )


def circle(x: float, y: float, radius: float, look: str) -> Markup:
    """A knot."""
    return Markup('<circle cx="{}" cy="{}" r="{}" class="{}"/>').format(
        _n(x), _n(y), _n(radius), look
    )


def box(x: float, y: float, width: float, height: float, look: str, corner: float = 0) -> Markup:
    """A rectangle."""
    return Markup('<rect x="{}" y="{}" width="{}" height="{}" rx="{}" class="{}"/>').format(
        _n(x), _n(y), _n(width), _n(height), _n(corner), look
    )


def path(moves: str, look: str) -> Markup:
    """A path from its moves, which are numbers and letters of our own making."""
    return Markup('<path d="{}" class="{}"/>').format(moves, look)


def polyline(points: Iterable[tuple[float, float]], look: str, closed: bool = False) -> Markup:
    """A line through points, closed into an area if asked."""
    moves = "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points) + ("Z" if closed else "")
    return path(moves, look)


def both_widths(wide: Markup, narrow: Markup) -> Markup:
    """The same drawing for a tablet and for a phone; the style sheet shows one of them."""
    return Markup('<div class="only-wide">{}</div><div class="only-narrow">{}</div>').format(
        wide, narrow
    )


def link(url: str, inside: Markup, name: str) -> Markup:
    """A part of a drawing that can be tapped."""
    return Markup('<a href="{}" aria-label="{}">{}</a>').format(url, name, inside)


def _n(number: float) -> str:
    """A number as short as SVG allows."""
    return str(escape(f"{number:.1f}".removesuffix(".0")))
