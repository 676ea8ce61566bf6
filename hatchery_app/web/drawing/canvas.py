"""What the drawings share: a scale, text that does not collide, and the numbers behind a drawing.

A drawing carries classes and no colours: day, red night and paper are the style sheets' work.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup, escape

LETTER_WIDTH = 7.7  # of one letter at the 15 units the style sheet sets; a little generous
BOLD_WIDTH = 8.7
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
    """A label that has found its lane: `left` is where its text begins, lane 0 is the nearest.

    `led` says whether a line may run down to it from its place.
    """

    label: Label
    left: float
    lane: int
    led: bool = False

    def covers(self, place: float) -> bool:
        """Whether a line drawn down at this place would go through the words."""
        return self.left - 3 < place < self.left + self.label.width + 3


def place_labels(labels: Sequence[Label], right_edge: float, gap: float = 12) -> list[Placed]:
    """Put each label in the first lane where neither its words nor its lead touch another's.

    A label stands with its start at its place, moved left at the right edge; a lead runs down to
    it from the line. Places are taken from the right, so that leads pass beside the words of
    later marks and not through them; a lead that at the edge still would is left out. The answer
    is in the order given.
    """
    placed: dict[int, Placed] = {}
    for place in sorted(range(len(labels)), key=lambda n: -labels[n].at):
        label = labels[place]
        left = max(0.0, min(label.at, right_edge - label.width))
        free = (lane for lane in range(len(labels)) if _fits(label, left, lane, placed, gap))
        placed[place] = Placed(label, left, next(free, len(labels)))
    found = placed.values()
    return [
        replace(one, led=one.lane > 0 and not _crossed(one, found))
        for one in (placed[place] for place in range(len(labels)))
    ]


def _crossed(one: Placed, others: Iterable[Placed]) -> bool:
    return any(other.lane < one.lane and other.covers(one.label.at) for other in others)


def _fits(label: Label, left: float, lane: int, placed: dict[int, Placed], gap: float) -> bool:
    one = Placed(label, left, lane)
    for other in placed.values():
        clear = left + label.width + gap <= other.left or (
            other.left + other.label.width + gap <= left
        )
        if other.lane == lane and not clear:
            return False
        if other.lane > lane and one.covers(other.label.at):
            return False
    return True


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
