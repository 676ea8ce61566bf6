"""What the plan of the coming days takes off the shelf: cysts, dry food, salt.

Each is a mean a day over the days ahead. What nobody plans (salt for the brood tanks, dry food of
fish that were never measured) is not in it, so that these are at the least.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from hatchery_app.domain.live_food.live_food import two_figures_said

# A dry-salt mix holds bound water: about 38 g a litre at 35 psu; common practice.
SALT_G_PER_L_AND_PSU = 1.1
LARVAE_EAT_SHARE = 0.10  # of their weight in dry food a day, beside live food; assumed
Grain = tuple[float, float]


@dataclass(frozen=True)
class Planned:
    """So much a day, in g, and what it rests on."""

    per_day_g: float
    rests_on: str


@dataclass(frozen=True)
class Eaten:
    """Dry food that fish of one batch eat on one day: its grain, µm, and how much, g."""

    grain_um: Grain
    grams: float


def cysts_planned(starts_g: Iterable[float], days: int) -> Planned | None:
    """The starts that the days ahead still ask for, spread over them; None for none."""
    starts = [grams for grams in starts_g if grams > 0]
    if not starts or days <= 0:
        return None
    many = "1 start" if len(starts) == 1 else f"{len(starts)} starts"
    return Planned(sum(starts) / days, f"{many} in {days} days")


def salt_planned(water: Iterable[tuple[float, float]]) -> Planned | None:
    """New salt water a day as (litres, psu); None where none is made up."""
    made = [(litres, psu) for litres, psu in water if litres > 0 and psu > 0]
    litres = sum(one for one, _ in made)
    if litres <= 0:
        return None
    grams = sum(one * psu for one, psu in made) * SALT_G_PER_L_AND_PSU
    return Planned(
        grams, f"about {two_figures_said(litres)} L of new water a day in larval tanks and vessels,"
        " 1.1 g of salt a litre and psu (common practice)",
    )


def larvae_eat_g(number: float, weight_g: float) -> float:
    """Dry food of so many larvae a day: a tenth of their weight."""
    return number * weight_g * LARVAE_EAT_SHARE


def dry_planned(
    eaten: Iterable[Eaten], items: Mapping[int, Grain], days: int
) -> dict[int, Planned]:
    """What each dry food gives a day: every meal from the item whose grain covers most of it."""
    sums: dict[int, float] = {}
    for one in eaten:
        item = best_item(one.grain_um, items)
        if item is not None and one.grams > 0:
            sums[item] = sums.get(item, 0.0) + one.grams
    return {
        item: Planned(
            grams / days,
            "growing fish by their ration (Lupatsch et al. 2013), larvae at a tenth of their weight"
            " a day (assumed)",
        )
        for item, grams in sums.items()
    }


def best_item(grain_um: Grain, items: Mapping[int, Grain]) -> int | None:
    """The dry food whose grains share most with those wanted; None where none shares any."""
    shared = {item: _shared(grain_um, has) for item, has in items.items()}
    best = max(shared, key=lambda item: shared[item], default=None)
    return best if best is not None and shared[best] > 0 else None


def _shared(wanted: Grain, has: Sequence[float]) -> float:
    """The share of the item's own range that is wanted: a fine food is not all of a coarse row."""
    low, high = max(wanted[0], has[0]), min(wanted[1], has[1])
    if has[0] == has[1]:
        return 1.0 if wanted[0] <= has[0] <= wanted[1] else 0.0
    return max(0.0, high - low) / (has[1] - has[0])
