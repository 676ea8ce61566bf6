"""The room as the keeper walks it: one thread with stops in order, for wide screens.

The same stops stand as a list of lines on every page that shows this, so that a phone and a
screen reader lose nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import (
    MIDDLE,
    WIDE,
    Numbers,
    at_widths,
    box,
    circle,
    line,
    link,
    path,
    text,
)
from hatchery_app.web.drawing.labels import BOLD_WIDTH, LETTER_WIDTH

LEAST_STOP_WIDTH = 116.0
KNOT_LEVEL, WORD_HEIGHT = 40.0, 18.0
MOST_WORD_LINES = 3


class Lives(StrEnum):
    """What lives at a stop: each has a shape of its own."""

    PAIR = "pair"
    EGGS = "eggs"
    LARVAE = "larvae"
    SETTLED = "settled"
    LIVE_FOOD = "live food"
    READY = "ready"
    DIRTY = "dirty"
    BARRED = "barred"
    EMPTY = "empty"


@dataclass(frozen=True)
class Stop:
    """One tank or vessel: its label, its litres, what lives there in words, where a tap leads."""

    label: str
    litres: float | None
    word: str
    lives: Lives
    url: str = ""

    def __post_init__(self) -> None:
        if not self.label.strip():
            raise ValueError("a stop needs a label")
        if self.litres is not None and self.litres <= 0:
            raise ValueError(f"a tank holds more than nothing, not {self.litres} L")

    @property
    def width(self) -> float:
        """How much of the line it takes: more only where its label and litres need it."""
        words = (len(word) * LETTER_WIDTH for word in self.word.split())
        head = len(self.label) * BOLD_WIDTH + 8 + len(_litres(self)) * LETTER_WIDTH
        return max(LEAST_STOP_WIDTH, head + 14, *(word + 10 for word in words))

    @property
    def lines(self) -> list[str]:
        """Its words in lines as wide as it is; what does not fit is left to the list."""
        return _broken(self.word, int((self.width - 8) / LETTER_WIDTH))


def walk(stops: Sequence[Stop], name: str = "The walk through the room") -> Markup:
    """The thread, broken into lines as long as the column or the page is wide; not on a phone."""
    return at_widths(lambda width: _drawn(stops, name, width), MIDDLE, WIDE)


def numbers(stops: Sequence[Stop], caption: str = "The walk, in order") -> Numbers:
    """The stops as a table."""
    rows = tuple((stop.label, _litres(stop), stop.word) for stop in stops)
    return Numbers(caption, ("place", "holds", "what lives there"), rows, numeric=(1,))


def _drawn(stops: Sequence[Stop], name: str, width: float) -> Markup:
    lines = _lines(stops, width)
    high = KNOT_LEVEL + 30 + WORD_HEIGHT * max((len(stop.lines) for stop in stops), default=0)
    parts = [
        _one_line(each, row * high + KNOT_LEVEL, width if row + 1 < len(lines) else None, high)
        for row, each in enumerate(lines)
    ]
    return Markup(
        '<svg class="drawing" viewBox="0 0 {:g} {:g}" role="group" aria-label="{}">{}</svg>'
    ).format(width, max(1, len(lines)) * high, name, Markup("").join(parts))


def _lines(stops: Sequence[Stop], width: float) -> list[list[Stop]]:
    lines: list[list[Stop]] = [[]]
    taken = 0.0
    for stop in stops:
        if lines[-1] and taken + stop.width > width:
            lines.append([])
            taken = 0.0
        lines[-1].append(stop)
        taken += stop.width
    return lines


def _one_line(stops: Sequence[Stop], level: float, goes_on_to: float | None, high: float) -> Markup:
    lefts = [sum(stop.width for stop in stops[:n]) for n in range(len(stops))]
    end = goes_on_to if goes_on_to is not None else (lefts or [0.0])[-1] + 9
    begins = 9.0 if level == KNOT_LEVEL else 0.0
    return line(begins, level, end, level, "d-thread") + Markup("").join(
        _stop(stop, left, level, high) for stop, left in zip(stops, lefts, strict=True)
    )


def _stop(stop: Stop, left: float, level: float, high: float) -> Markup:
    words = [
        text(left, level + 28 + WORD_HEIGHT * n, part, "d-soft")
        for n, part in enumerate(stop.lines)
    ]
    inside = Markup("").join(
        [
            box(left - 4, level - 38, stop.width - 6, high - 4, "d-touch"),
            _head(stop, left, level - 18),
            _shape(stop.lives, left + 9, level),
            *words,
        ]
    )
    return link(stop.url, inside) if stop.url else inside


def _head(stop: Stop, x: float, y: float) -> Markup:
    """The label and its litres as one run of words, so that they stand at an even distance."""
    return Markup(
        '<text x="{:g}" y="{:g}"><tspan class="d-strong">{}</tspan>'
        ' <tspan class="d-soft">{}</tspan></text>'
    ).format(x, y, stop.label, _litres(stop))


def _shape(lives: Lives, x: float, y: float) -> Markup:
    """The knot's shape: never the only sign, the word stands under it."""
    if lives is Lives.PAIR:
        return circle(x - 4, y, 7.5, "d-full") + circle(x + 7, y, 5, "d-full")
    if lives is Lives.EGGS:
        egg = f"M{x} {y + 10}c9 0 7-20 0-20c-7 0-9 20 0 20Z"
        return path(egg, "d-yolk") + circle(x - 1.5, y - 4, 2, "egg-eye")
    if lives is Lives.LARVAE:
        return circle(x, y, 8, "d-open") + Markup("").join(
            circle(x + dx, y + dy, 1.6, "egg-eye") for dx, dy in ((-3, -1), (3, -2.5), (0.5, 3.2))
        )
    if lives is Lives.SETTLED:
        return circle(x, y, 8, "d-full")
    if lives is Lives.LIVE_FOOD:
        return box(x - 6, y - 9, 12, 18, "d-open", 5)
    if lives is Lives.READY:
        return circle(x, y, 8.5, "d-open") + circle(x, y, 3.5, "d-open")
    if lives is Lives.DIRTY:
        return circle(x, y, 8, "d-dash")
    if lives is Lives.BARRED:
        return circle(x, y, 8, "d-open") + line(x - 5.5, y + 5.5, x + 5.5, y - 5.5, "d-line")
    return circle(x, y, 5, "d-open")


def _litres(stop: Stop) -> str:
    return "" if stop.litres is None else f"{stop.litres:g} L"


def _broken(words: str, letters: int) -> list[str]:
    """The words in a few short lines; more than that is cut, marked with dots."""
    lines = [""]
    for word in words.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > letters:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    if len(lines) <= MOST_WORD_LINES:
        return lines
    return [
        *lines[: MOST_WORD_LINES - 1],
        lines[MOST_WORD_LINES - 1][: letters - 2].rstrip() + " …",
    ]
