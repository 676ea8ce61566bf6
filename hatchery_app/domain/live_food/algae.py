"""The algae of a hatchery: what a cell weighs and how thick a culture of it stands.

Dry weights are planning values from memory (Brown 1991 was not seen again): published strains
differ two- to threefold, so nothing is tested against them.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Alga:
    """One alga: picograms dry a cell, and the cells per mL that its cultures stand at."""

    name: str
    dry_pg: float
    usual_from_per_ml: float
    usual_to_per_ml: float


ALGAE = (
    Alga("Nannochloropsis", 6.0, 20e6, 60e6),
    Alga("Isochrysis", 30.0, 5e6, 15e6),
    Alga("Tetraselmis", 200.0, 0.5e6, 2e6),
)


def alga_named(words: str) -> Alga | None:
    """The alga that a strain's or a bottle's name speaks of; None for any other."""
    plain = words.casefold()
    for alga in ALGAE:
        if alga.name.casefold()[:6] in plain:
            return alga
    if "t-iso" in plain or "tiso" in plain:
        return ALGAE[1]
    return None


def too_thick(alga: Alga, per_ml: float) -> str:
    """What is to be said of a count far above what cultures stand at; "" where there is none."""
    if per_ml <= 2 * alga.usual_to_per_ml:
        return ""
    return (
        f"{per_ml:,.0f} cells per mL is far more than {alga.name} cultures hold"
        f" ({alga.usual_from_per_ml:,.0f}–{alga.usual_to_per_ml:,.0f}): look at the dilution first."
    )
