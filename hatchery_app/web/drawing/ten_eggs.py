"""A chance as ten eggs on a tile: as many dark-eyed as such clutches in ten hatch this night."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import Numbers

TILE_WIDTH, TILE_HEIGHT = 100, 56
EGG_ACROSS, EGG_ALONG = 5.2, 9.0
# Two rows as the keeper lays her eggs: close, leaning, none quite in line. (x, y, lean in degrees)
_PLACES = (
    (13, 17.5, 10), (31, 16, 16), (49.5, 17, 8), (68, 15.8, 14), (86, 17.2, 11),
    (16.5, 39, 15), (35, 38, 9), (53, 39.4, 14), (71, 38.2, 10), (88, 39.2, 16),
)  # fmt: skip


@dataclass(frozen=True)
class NightChance:
    """One night's chance. `came` is what was seen that night afterwards ("hatched"), "" if nothing.

    `chance` is between 0 and 1; 0 means ruled out. `said` replaces the words in tenths, for a
    pair with enough hatches of its own. `next` marks the night that the page is about, `hatched`
    one on which all or a part of them did.
    """

    label: str
    chance: float
    next: bool = False
    past: bool = False
    came: str = ""
    said: str = ""
    hatched: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.chance <= 1:
            raise ValueError(f"a chance lies between 0 and 1, not {self.chance}")


def tenths(chance: float) -> int:
    """The chance in whole tenths, half a tenth rounded up; ten only when nothing else is left."""
    if chance >= 1:
        return 10
    return min(9, math.floor(chance * 10 + 0.5))


def chance_words(night: NightChance) -> str:
    """ "7 of 10", "under 1", "none", "over 9": never surer than the chance is."""
    if night.said:
        return night.said
    if night.chance == 0:
        return "none"
    if night.chance < 0.05:
        return "under 1"
    if 0.95 <= night.chance < 1:
        return "over 9 of 10"
    return f"{tenths(night.chance)} of 10"


def tile(night: NightChance) -> Markup:
    """The tile alone: ten eggs, the first so many with eyes."""
    eyed = tenths(night.chance)
    words = f"{night.label}: {chance_words(night)}"
    return Markup(
        '<svg class="tile" viewBox="0 0 {} {}" role="img" aria-label="{}"><title>{}</title>'
        '<rect class="tile-edge" x="1.5" y="1.5" width="97" height="53" rx="2"/>{}</svg>'
    ).format(TILE_WIDTH, TILE_HEIGHT, words, words, tile_shapes(eyed))


def tile_shapes(eyed: int, *, none: bool = False) -> Markup:
    """The ten eggs without their tile, so many of them with eyes; `none`: ruled out, outlines."""
    shapes = Markup("").join(
        (
            _shapes("egg", "".join(_egg(*place) for place in _PLACES[eyed:])),
            _shapes("egg-eyed", "".join(_egg(*place) for place in _PLACES[:eyed])),
            _shapes("egg-eye", "".join(_eyes(*place) for place in _PLACES[:eyed])),
        )
    )
    return Markup('<g class="is-none">{}</g>').format(shapes) if none else shapes


def row_of_nights(nights: Sequence[NightChance], name: str) -> Markup:
    """The next nights in a row, one tile a night, each with its label and its words."""
    cells = Markup("").join(_cell(night) for night in nights)
    return Markup('<ol class="nights" aria-label="{}">{}</ol>').format(name, cells)


def numbers(nights: Sequence[NightChance], caption: str) -> Numbers:
    """The nights and their chances in words."""
    rows = tuple((night.label, chance_words(night), night.came) for night in nights)
    return Numbers(caption, ("night", "of ten such clutches hatch", "what came"), rows)


def _cell(night: NightChance) -> Markup:
    came = Markup('<span class="night-came">{}</span>').format(night.came) if night.came else ""
    return Markup(
        '<li class="{}"><span class="night-name">{}</span>{}<span class="night-of">{}</span>{}</li>'
    ).format(_look(night), night.label, tile(night), chance_words(night), came)


def _look(night: NightChance) -> str:
    states = (
        ("is-next", night.next),
        ("is-past", night.past),
        ("is-none", night.chance == 0),
        ("is-under", 0 < night.chance < 0.05),
    )
    return " ".join(["night-cell", *(name for name, holds in states if holds)])


def _shapes(look: str, moves: str) -> Markup:
    return Markup('<path class="{}" d="{}"/>').format(look, moves) if moves else Markup("")


def _egg(x: float, y: float, lean: float) -> str:
    """An egg as one closed path: a capsule standing on its foot, a little narrower at the top."""
    sin, cos = math.sin(math.radians(lean)), math.cos(math.radians(lean))

    def at(across: float, along: float) -> str:
        return f"{x + across * cos - along * sin:.1f} {y + across * sin + along * cos:.1f}"

    a, b = EGG_ACROSS, EGG_ALONG
    return (
        f"M{at(0, b)}C{at(a * 1.15, b)} {at(a * 1.1, b * 0.1)} {at(a * 0.85, -b * 0.45)}"
        f"C{at(a * 0.6, -b)} {at(-a * 0.6, -b)} {at(-a * 0.85, -b * 0.45)}"
        f"C{at(-a * 1.1, b * 0.1)} {at(-a * 1.15, b)} {at(0, b)}Z"
    )


def _eyes(x: float, y: float, lean: float) -> str:
    """Two dark eyes near the top, the near one larger."""
    sin, cos = math.sin(math.radians(lean)), math.cos(math.radians(lean))
    moves = ""
    for across, along, radius in ((-1.3, -4.2, 2.1), (2.4, -3.6, 1.6)):
        left = x + across * cos - along * sin - radius
        level = y + across * sin + along * cos
        moves += (
            f"M{left:.1f} {level:.1f}a{radius} {radius} 0 1 0 {2 * radius:.1f} 0"
            f"a{radius} {radius} 0 1 0 {-2 * radius:.1f} 0Z"
        )
    return moves
