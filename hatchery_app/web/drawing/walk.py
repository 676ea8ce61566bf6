"""The room as the keeper walks it: one thread with stops in order, for wide screens.

The same stops stand as a list of lines on every page that shows this, so that a phone and a
screen reader lose nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import Numbers, box, circle, line, link, path, text

WIDTH = 1160
STOP_WIDTH = 116
LINE_HEIGHT = 108
LETTERS_A_LINE = 14


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
        if not self.label:
            raise ValueError("a stop needs a label")
        if self.litres is not None and self.litres <= 0:
            raise ValueError(f"a tank holds more than nothing, not {self.litres} L")


def walk(stops: Sequence[Stop], name: str = "The walk through the room") -> Markup:
    """The thread, broken into lines as long as the page is wide."""
    per_line = WIDTH // STOP_WIDTH
    lines = [stops[start : start + per_line] for start in range(0, len(stops), per_line)]
    parts = [_one_line(each, row, row + 1 < len(lines)) for row, each in enumerate(lines)]
    return Markup(
        '<svg class="drawing only-wide" viewBox="0 0 {} {}" role="group" aria-label="{}">{}</svg>'
    ).format(WIDTH, max(1, len(lines)) * LINE_HEIGHT, name, Markup("").join(parts))


def numbers(stops: Sequence[Stop], caption: str = "The walk, in order") -> Numbers:
    """The stops as a table."""
    rows = tuple((stop.label, _litres(stop), stop.word) for stop in stops)
    return Numbers(caption, ("place", "holds", "what lives there"), rows, numeric=(1,))


def _one_line(stops: Sequence[Stop], row: int, goes_on: bool) -> Markup:
    level = row * LINE_HEIGHT + 40
    end = WIDTH if goes_on else (len(stops) - 1) * STOP_WIDTH + 9
    thread = line(0 if row else 9, level, end, level, "d-thread")
    return thread + Markup("").join(
        _stop(stop, place * STOP_WIDTH, level) for place, stop in enumerate(stops)
    )


def _stop(stop: Stop, left: float, level: float) -> Markup:
    words = [
        text(left, level + 24 + 18 * n, part, "d-soft") for n, part in enumerate(_broken(stop.word))
    ]
    inside = Markup("").join(
        [
            box(left - 4, level - 40, STOP_WIDTH - 6, LINE_HEIGHT - 4, "d-touch"),
            text(left, level - 18, stop.label, "d-strong"),
            text(left + 9 * len(stop.label) + 8, level - 18, _litres(stop), "d-soft"),
            _shape(stop.lives, left + 9, level),
            *words,
        ]
    )
    name = f"{stop.label}, {_litres(stop)}, {stop.word}"
    return link(stop.url, inside, name) if stop.url else inside


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


def _broken(words: str) -> list[str]:
    """The words in two short lines; what does not fit is left to the list, marked with dots."""
    lines = [""]
    for word in words.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > LETTERS_A_LINE:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines if len(lines) <= 2 else [lines[0], lines[1] + " …"]
