"""Many nights of many clutches: ten eggs a night, one row a clutch, and the room's sum below.

Wide, a fortnight stands in one line; in a narrower column it breaks into weeks, with the clutch's
name above its row. A line of nights in which nothing may hatch and nothing came is left to the
table. A tile is drawn once for each number of eyed eggs and used again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from hatchery_app.web.drawing.canvas import (
    WIDE,
    Numbers,
    at_widths,
    box,
    line,
    link,
    path,
    text,
)
from hatchery_app.web.drawing.labels import BOLD_WIDTH, LETTER_WIDTH
from hatchery_app.web.drawing.ten_eggs import (
    TILE_HEIGHT,
    TILE_WIDTH,
    NightChance,
    chance_words,
    tenths,
    tile_shapes,
)

NIGHTS_OF_A_WEEK = 7
NAME_COLUMN = 176.0  # beside a row, where the drawing is wide
MOST_COLUMN, GAP = 84.0, 8.0
MOST_IN_A_LINE = 14
HEAD_HEIGHT, WORD_HEIGHT, ROW_GAP = 24.0, 19.0, 12.0
NARROW_COLUMN = 62.0  # under this a day's name stands above its number
SUM_HEIGHT = 26.0
MOST_COLUMNS = 8  # of a table on a tablet, beside the nights'
NO_SIGN_OF = 0.005  # under half in a hundred: no row is drawn for it in a week of its own


@dataclass(frozen=True)
class EggRow:
    """One clutch's nights, as many as the drawing has; None where there is nothing to say.

    `note` stands small beside the name; `faint`: what was said earlier, under what came.
    """

    name: str
    nights: tuple[NightChance | None, ...]
    note: str = ""
    url: str = ""
    faint: bool = False


@dataclass(frozen=True)
class SumRow:
    """One figure of the room for each night, in words; `marked` nights have the alarm's shape."""

    name: str
    said: tuple[str, ...]
    marked: tuple[bool, ...] = ()


@dataclass(frozen=True)
class Nights:
    """The nights by their labels ("Thu 26 Nov"), the rows over them, and the sums under these.

    `tonight` is the place of tonight among them, None where it is not among them.
    """

    name: str
    labels: tuple[str, ...]
    rows: tuple[EggRow, ...]
    sums: tuple[SumRow, ...] = ()
    tonight: int | None = None

    def __post_init__(self) -> None:
        lengths = {len(row.nights) for row in self.rows} | {len(each.said) for each in self.sums}
        if lengths - {len(self.labels)}:
            raise ValueError(f"every row of {self.name} has as many nights as there are labels")


def nights_drawn(nights: Nights, key: str) -> Markup:
    """The drawing for three widths; `key` tells its tiles from those of others on the page."""
    used = sorted({_shape_of(night) for row in nights.rows for night in row.nights if night})
    tiles = Markup("").join(
        Markup('<symbol id="{}-{}" viewBox="0 0 {} {}">{}</symbol>').format(
            key, word, TILE_WIDTH, TILE_HEIGHT, tile_shapes(_eyed(word), none=word == "none")
        )
        for word in used
    )
    shapes = Markup('<svg class="unseen" aria-hidden="true" focusable="false">{}</svg>')
    return shapes.format(tiles) + at_widths(lambda width: _drawn(nights, key, width))


def numbers(nights: Nights, caption: str) -> Numbers:
    """The nights one under the other, the rows beside; with many rows the other way about."""
    named = [(row.name, [_in_words(night) for night in row.nights]) for row in nights.rows]
    named += [(each.name, list(each.said)) for each in nights.sums]
    by_night = (
        ("night", *(name for name, _said in named)),
        *((label, *(said[place] for _name, said in named))
          for place, label in enumerate(nights.labels)),
    )  # fmt: skip
    if len(named) <= MOST_COLUMNS:
        return Numbers(caption, by_night[0], by_night[1:])
    turned = tuple(zip(*by_night, strict=True))
    return Numbers(caption, ("clutch", *turned[0][1:]), turned[1:])


def _in_words(night: NightChance | None) -> str:
    if night is None:
        return ""
    return night.came if night.came and night.past else chance_words(night)


def _drawn(nights: Nights, key: str, width: float) -> Markup:
    count = len(nights.labels)
    wide = width == WIDE
    left = NAME_COLUMN if wide else 0.0
    in_line = min(MOST_IN_A_LINE if wide else NIGHTS_OF_A_WEEK, max(count, 1))
    step = min(MOST_COLUMN, (width - left) / in_line)
    parts: list[Markup] = []
    level = 0.0
    for first in range(0, count, in_line):
        places = range(first, min(first + in_line, count))
        if first == 0 or nights.sums or any(_has_a_sign(row, places) for row in nights.rows):
            level = _week(nights, key, places, left, step, level, parts, width)
    return Markup(
        '<svg class="drawing" viewBox="0 0 {:g} {:.0f}" role="group" aria-label="{}">{}</svg>'
    ).format(width, level, nights.name, Markup("").join(parts))


def _week(
    nights: Nights,
    key: str,
    places: Sequence[int],
    left: float,
    step: float,
    level: float,
    parts: list[Markup],
    width: float,
) -> float:
    """One line of nights with all its rows; returns the level below it."""
    two_lines = step < NARROW_COLUMN
    parts += _heads(nights, places, left, step, level + 16, two_lines=two_lines)
    level += HEAD_HEIGHT + (WORD_HEIGHT if two_lines else 0)
    for row in nights.rows:
        cells = [row.nights[place] for place in places]
        if not left and not _has_a_sign(row, places):
            continue
        if not left:
            parts.append(_name_above(row, level + 16, width))
            level += WORD_HEIGHT + 3
        else:
            parts.append(_name_beside(row, level + 16))
        tall = (step - GAP) * TILE_HEIGHT / TILE_WIDTH
        inside = _cells(cells, key, left, step, level, tall)
        parts.append(Markup('<g class="d-faint">{}</g>').format(inside) if row.faint else inside)
        level += tall + WORD_HEIGHT + ROW_GAP
    for each in nights.sums:
        parts += _sum_row(each, places, left, step, level, width)
        level += SUM_HEIGHT if left else SUM_HEIGHT + WORD_HEIGHT
    return level + (0 if left else 14)


def _has_a_sign(row: EggRow, places: Iterable[int]) -> bool:
    """Whether anything may hatch, or came, on these nights."""
    cells = (row.nights[place] for place in places)
    return any(cell and (cell.came or cell.chance >= NO_SIGN_OF) for cell in cells)


def _heads(
    nights: Nights,
    places: Iterable[int],
    left: float,
    step: float,
    level: float,
    *,
    two_lines: bool,
) -> list[Markup]:
    """The nights' labels; the month only where one begins."""
    heads = []
    words = [label.split() for label in nights.labels]
    for n, place in enumerate(places):
        day, number, month = words[place]
        look = "d-strong" if place == nights.tonight else "d-soft"
        if n > 0 and month != words[place - 1][-1]:
            number = f"{number} {month}"
        if two_lines:
            heads.append(text(left + step * n, level, day, look))
            heads.append(text(left + step * n, level + WORD_HEIGHT, number, look))
            continue
        said = number if " " in number else f"{day} {number}"
        heads.append(text(left + step * n, level, said, look))
    return heads


def _name_above(row: EggRow, level: float, width: float) -> Markup:
    room = width - len(row.name) * BOLD_WIDTH - 10
    note = _fitting(row.note, room)
    said = Markup(
        '<text x="0" y="{:.0f}"><tspan class="{}">{}</tspan>'
        ' <tspan class="d-soft">{}</tspan></text>'
    ).format(level, "d-soft" if row.faint else "d-strong", row.name, note)
    return link(row.url, box(0, level - 17, width, 24, "d-touch") + said) if row.url else said


def _name_beside(row: EggRow, level: float) -> Markup:
    name = _fitting(row.name, NAME_COLUMN - 12, BOLD_WIDTH)
    note = _fitting(row.note, NAME_COLUMN - 12)
    said = text(0, level, name, "d-soft" if row.faint else "d-strong")
    said += text(0, level + WORD_HEIGHT, note, "d-soft")
    return link(row.url, box(0, level - 18, NAME_COLUMN - 10, 48, "d-touch") + said) if (
        row.url) else said  # fmt: skip


def _fitting(words: str, room: float, letter: float = LETTER_WIDTH) -> str:
    """The words, or as many whole ones as fit."""
    kept = ""
    for word in words.split():
        longer = f"{kept} {word}".strip()
        if len(longer) * letter > room:
            return f"{kept} …" if kept else word[: max(int(room / letter) - 1, 1)] + "…"
        kept = longer
    return kept


def _cells(
    cells: Sequence[NightChance | None],
    key: str,
    left: float,
    step: float,
    level: float,
    tall: float,
) -> Markup:
    """The tiles of a row with their words under them; a night gone by says what came instead.

    A room has a thousand of these, so their edges are one path and the rest plain text; what is
    written in them is escaped.
    """
    wide = step - GAP
    edges, inside = [], []
    for n, night in enumerate(cells):
        if night is None:
            continue
        x = left + step * n
        edge = f"M{x:.1f} {level:.1f}h{wide:.1f}v{tall:.1f}h-{wide:.1f}z"
        if night.next:
            inside.append(f'<path class="tile-edge is-tonight" d="{edge}"/>')
        else:
            edges.append(edge)
        if not (night.past and night.chance == 0):
            inside.append(
                f'<use href="#{key}-{_shape_of(night)}" x="{x:.1f}" y="{level:.1f}"'
                f' width="{wide:.1f}" height="{tall:.1f}"/>'
            )
        if night.came:
            inside.append(_came(night, x, level, wide, tall))
        words = night.came if night.past else _short(night)
        if words:
            said = escape(_fitting(words, wide + GAP))
            inside.append(
                f'<text x="{x:.1f}" y="{level + tall + 15:.1f}" class="d-strong">{said}</text>'
            )
    outlines = f'<path class="tile-edge" d="{"".join(edges)}"/>' if edges else ""
    # Every piece is a number of ours, a word of ours or escaped.
    return Markup(outlines + "".join(inside))


def _came(night: NightChance, x: float, y: float, wide: float, tall: float) -> Markup:
    """What came, as a shape over the tile: an empty shell where it hatched, else a stroke."""
    middle, level = x + wide / 2, y + tall / 2
    if night.hatched:
        half = tall * 0.32
        shell = (
            f"M{middle - half:.1f} {level - half * 0.2:.1f}l{half * 0.5:.1f} {half * 0.5:.1f}"
            f"l{half * 0.5:.1f} {-half * 0.5:.1f}l{half * 0.5:.1f} {half * 0.5:.1f}"
            f"l{half * 0.5:.1f} {-half * 0.5:.1f}"
            f"c0 {half * 1.6:.1f} {-half * 2:.1f} {half * 1.6:.1f} {-half * 2:.1f} 0Z"
        )
        return path(shell, "d-yolk")
    return line(middle - 9, level, middle + 9, level, "d-line")


def _short(night: NightChance) -> str:
    """The words under a tile: so many of ten, a percentage, or none where it is little."""
    if night.said:
        return night.said.removesuffix(" of 100") + ("" if "of 100" not in night.said else " %")
    if night.chance < 0.05:
        return ""
    return chance_words(night).removesuffix(" of 10")


def _sum_row(
    each: SumRow, places: Sequence[int], left: float, step: float, level: float, width: float
) -> list[Markup]:
    parts = [line(0, level, left + step * len(places), level, "d-grid")]
    if left:
        parts.append(text(0, level + 18, each.name, "d-soft"))
    else:
        parts.append(text(0, level + 16, each.name, "d-soft"))
        level += WORD_HEIGHT
    for n, place in enumerate(places):
        x = left + step * n
        if each.marked and each.marked[place]:
            # A shape beside the word, so that no colour is needed to see it.
            x, y = x + 5, level + 13
            parts.append(path(f"M{x:.1f} {y - 6:.1f}l6 6l-6 6l-6-6Z", "d-full"))
            x += 11
        look = "d-strong" if each.said[place] not in ("", "0", "–") else "d-soft"
        parts.append(text(x, level + 18, each.said[place], look))
    return parts


def _shape_of(night: NightChance) -> str:
    return "none" if night.chance == 0 else str(tenths(night.chance))


def _eyed(word: str) -> int:
    return 0 if word == "none" else int(word)
