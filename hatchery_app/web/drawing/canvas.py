"""What the drawings share: a scale, their shapes, their widths and the numbers behind each.

A drawing carries classes and no colours: day, red night and paper are the style sheets' work.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from markupsafe import Markup, escape

# Three widths in units, of which the style sheet shows the one that fits the column it stands in.
NARROW, MIDDLE, WIDE = 358.0, 600.0, 1120.0


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


def svg(width: float, height: float, name: str, parts: Iterable[Markup], more: str = "") -> Markup:
    """One drawing: an image with a name for those who cannot see it."""
    return Markup(
        '<svg class="drawing{}" viewBox="0 0 {} {}" role="img" aria-label="{}">'
        "<title>{}</title>{}</svg>"
    ).format(more, _n(width), _n(height), name, name, Markup("").join(parts))


def text(x: float, y: float, words: str, *classes: str, anchor: str = "start") -> Markup:
    """Words, beginning (or with their middle, or end) at x."""
    look = Markup(' class="{}"').format(" ".join(classes)) if classes else ""
    return Markup('<text x="{}" y="{}" text-anchor="{}"{}>{}</text>').format(
        _n(x), _n(y), anchor, look, words
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


def at_widths(draw: Callable[[float], Markup], *widths: float) -> Markup:
    """The same drawing for a phone, a column and a whole page; the style sheet shows one of them.

    Without widths for all three; those left out of `widths` are not drawn.
    """
    names = {NARROW: "narrow", MIDDLE: "middle", WIDE: "wide"}
    shown = widths or tuple(names)
    most = "" if WIDE in shown else " drawn-small"
    return Markup('<div class="drawn{}">{}</div>').format(
        most,
        Markup("").join(
            Markup('<div class="drawn-{}">{}</div>').format(names[width], draw(width))
            for width in shown
        ),
    )


def link(url: str, inside: Markup) -> Markup:
    """A part of a drawing that can be tapped; the words drawn in it are its name."""
    return Markup('<a href="{}">{}</a>').format(url, inside)


def _n(number: float) -> str:
    """A number as short as SVG allows."""
    return str(escape(f"{number:.1f}".removesuffix(".0")))
