"""Prey and cells per mL, from a counting slide, a pipette or a haemocytometer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.counting import CONFIDENCE, MeanCount, mean_count


class Chamber(Enum):
    """The squares of a haemocytometer 0.1 mm deep; the value is the volume over one, in mL.

    Source: improved Neubauer ruling, as several laboratory courses print it (published).
    """

    LARGE_SQUARE = 1e-4  # 1 mm x 1 mm x 0.1 mm
    SMALL_SQUARE = 4e-6  # 0.2 mm x 0.2 mm x 0.1 mm, one of the 25 in the middle


@dataclass(frozen=True)
class Density:
    """Animals or cells per mL of the undiluted culture, with the wider of the two intervals."""

    per_ml: float
    low_per_ml: float
    high_per_ml: float
    method: str
    raw: tuple[float, ...]
    mean: MeanCount

    @property
    def mix_again(self) -> bool:
        """Whether the replicates differ more than chance allows."""
        return self.mean.dispersion is not None and self.mean.dispersion.clumped

    def in_volume(self, volume_ml: float) -> HowMany:
        """How many there are in this many mL of the culture."""
        if volume_ml < 0:
            raise RuleBroken("A volume cannot be below zero.", field="volume")
        return HowMany.estimated(
            round(self.per_ml * volume_ml),
            round(self.low_per_ml * volume_ml),
            round(self.high_per_ml * volume_ml),
            f"{self.method}, times {volume_ml:g} mL",
            self.raw,
        )


def prey_per_ml(
    counts: Sequence[int],
    *,
    sample_ml: float,
    dilution: float = 1.0,
    confidence: float = CONFIDENCE,
) -> Density:
    """Animals per mL from k samples of v mL: (sum of counts / (k v)) x dilution.

    `dilution` is how many times the culture was thinned: 10 for one part in ten.
    """
    if sample_ml <= 0:
        raise RuleBroken("The sample counted has a volume above zero.", field="sample_ml")
    method = f"{len(counts)} × {sample_ml:g} mL"
    return _density(counts, 1 / sample_ml, dilution, method, confidence)


def cells_per_ml(
    counts: Sequence[int],
    *,
    square: Chamber,
    dilution: float = 1.0,
    confidence: float = CONFIDENCE,
) -> Density:
    """Cells per mL from haemocytometer squares: mean of a square / its volume x dilution.

    That is mean x 10,000 for the large square and mean x 250,000 for the small one.
    """
    name = square.name.lower().replace("_", " ")
    method = f"haemocytometer, {len(counts)} × {name}"
    return _density(counts, 1 / square.value, dilution, method, confidence)


def _density(
    counts: Sequence[int], per_unit: float, dilution: float, method: str, confidence: float
) -> Density:
    if dilution < 1:
        raise RuleBroken("A dilution is 1 or more: 10 for one part in ten.", field="dilution")
    mean = mean_count(counts, confidence)
    factor = per_unit * dilution
    taken = mean.taken.times(factor)
    thinned = f", diluted 1:{dilution:g}" if dilution > 1 else ""
    raw = tuple(float(count) for count in counts)
    return Density(mean.mean * factor, taken.low, taken.high, method + thinned, raw, mean)
