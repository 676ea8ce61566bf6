"""Dry diets by the size of their grains: which fits a fish so long.

Common practice for clownfish; the few papers (a grain of ¼–½ of the mouth's width, SRAC 701)
agree with it about.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Grain:
    """Grains for fish from so long up to so long (total length, mm), and meals a day."""

    from_mm: float
    to_mm: float
    from_um: float
    to_um: float
    meals: tuple[int, int]


GRAINS = (
    Grain(4.5, 6, 75, 150, (4, 6)),
    Grain(6, 8, 150, 250, (6, 8)),
    Grain(8, 12, 250, 400, (6, 8)),
    Grain(12, 20, 400, 700, (4, 5)),
    Grain(20, 35, 700, 1200, (3, 4)),
)


def grain_for(length_mm: float) -> Grain | None:
    """What a fish so long takes; None below 4.5 and from 35 mm on, where no row is known."""
    return next((row for row in GRAINS if row.from_mm <= length_mm < row.to_mm), None)


def lengths_for(from_um: float, to_um: float) -> tuple[float, float] | None:
    """The fish, from and to how many mm, that a food of these grains is for; None for none.

    A food serves a row when it covers over half of the row's grains, or lies wholly within it.
    """
    fits = [row for row in GRAINS if _serves(row, from_um, to_um)]
    return (fits[0].from_mm, fits[-1].to_mm) if fits else None


def _serves(row: Grain, from_um: float, to_um: float) -> bool:
    shared = min(row.to_um, to_um) - max(row.from_um, from_um)
    if from_um == to_um:
        return row.from_um <= from_um < row.to_um
    return shared > 0 and (
        2 * shared >= row.to_um - row.from_um or 2 * shared >= to_um - from_um
    )
