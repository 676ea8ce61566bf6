"""Eggs on a tile, from the patch they cover and the eggs in a few squares of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.counting import CONFIDENCE, Estimate, mean_count

SQUARES_ADVISED = 6  # the worked counts of published clutches use six (common practice)


@dataclass(frozen=True)
class Patch:
    """The oval a clutch covers: its length and width across, not half across, in cm."""

    length_cm: float
    width_cm: float

    def __post_init__(self) -> None:
        if self.length_cm <= 0 or self.width_cm <= 0:
            raise RuleBroken("A patch of eggs has a length and a width above zero.", field="patch")

    @property
    def area_cm2(self) -> float:
        """An ellipse: pi/4 x length x width. A rectangle would be 27 % too much."""
        return pi / 4 * self.length_cm * self.width_cm


def by_squares(
    counts: Sequence[int],
    *,
    patch: Patch,
    square_cm2: float = 1.0,
    confidence: float = CONFIDENCE,
) -> Estimate:
    """All the eggs of an oval patch, from the eggs in squares laid at random inside it.

    N = mean eggs a square / square area x patch area. The interval is the wider of Poisson and t
    on the squares. Density is measured anew in each clutch: reported clutches ran from 6 to 21
    eggs a cm2 (from Uthaya Siva & Badhul Haq 2017, J. Oceanogr. Mar. Sci.).
    """
    if square_cm2 <= 0:
        raise RuleBroken("A square has an area above zero.", field="square")
    if len(counts) * square_cm2 > patch.area_cm2:
        raise RuleBroken(
            f"{len(counts)} squares of {square_cm2:g} cm² do not fit in a patch of "
            f"{patch.area_cm2:.1f} cm².",
            field="counts",
        )
    mean = mean_count(counts, confidence)
    factor = patch.area_cm2 / square_cm2
    taken = mean.taken.times(factor)
    number = HowMany.estimated(
        round(mean.mean * factor),
        max(sum(counts), round(taken.low)),
        round(taken.high),
        f"{len(counts)} squares of {square_cm2:g} cm² on {patch.area_cm2:.1f} cm²",
        tuple(float(count) for count in counts),
    )
    advice = "Count more squares to narrow it." if len(counts) < SQUARES_ADVISED else ""
    return Estimate(number, mean, advice)
