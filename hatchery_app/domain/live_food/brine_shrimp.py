"""Brine shrimp: how many grams of cysts to start, at what hour, in what water.

Tomorrow's food is decided today: cysts take most of a day to hatch, enriched shrimp two.
Fresh nauplii (instar I) and enriched ones are two foods of two sizes.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from hatchery_app.domain.errors import RuleBroken

HYDRATION_H = 1.0  # New 2002, FAO Fisheries Technical Paper 428, Annex 4 (1–2 h)
RINSE_H = 1.0  # common practice
CYSTS_G_PER_L = 2.0  # New 2002, FAO 428: at most 5 g/L below 20 L, 2 g/L above; the careful one
EASY_WEIGHING_G = 0.25  # below it weighing and sieving losses dominate (common practice)
WARM_LIMIT_C = 33.0  # cyst metabolism stops above it; New 2002, FAO 428
HATCH_HOURS = ((21.0, 38.0), (25.0, 29.0), (28.0, 23.0), (30.0, 18.0))  # °C, h; common practice


def hatch_hours(temperature_c: float) -> float | None:
    """Hours from wet cysts to a harvest, between 21 and 30 °C; None outside.

    Straight lines between common-practice values. A lot's own hours replace it: lots differ by
    half a day.
    """
    for (cool_c, slow_h), (warm_c, quick_h) in pairwise(HATCH_HOURS):
        if cool_c <= temperature_c <= warm_c:
            way = (temperature_c - cool_c) / (warm_c - cool_c)
            return slow_h + way * (quick_h - slow_h)
    return None


@dataclass(frozen=True)
class CystLot:
    """A lot of cysts: nauplii per gram when fresh, what age has left of that, share harvested."""

    nauplii_per_g: float
    age_factor: float = 1.0
    harvested_share: float = 0.9  # assumed until the room has counted

    def __post_init__(self) -> None:
        if self.nauplii_per_g <= 0:
            raise RuleBroken("A lot gives more than no nauplii per gram.", field="nauplii_per_g")
        if not 0 < self.age_factor <= 1 or not 0 < self.harvested_share <= 1:
            raise RuleBroken("Age factor and harvested share lie between 0 and 1.")

    def hatched(self, grams: float) -> float:
        """Nauplii that come of so many grams, before any are lost in the sieve."""
        return grams * self.nauplii_per_g * self.age_factor


@dataclass(frozen=True)
class Enrichment:
    """Hours of enrichment, the share that lives through it, and how thick they stand meanwhile."""

    hours: float = 24.0  # New 2002, FAO 428: 12 or 24 h
    surviving_share: float = 0.85  # assumed; losses of 5–20 % are common practice
    per_ml: float = 200.0  # common practice: 100–300

    def __post_init__(self) -> None:
        if self.hours <= 0 or self.per_ml <= 0 or not 0 < self.surviving_share <= 1:
            raise RuleBroken("Enrichment needs hours, a density and a surviving share above 0.")


@dataclass(frozen=True)
class CystStart:
    """What to start: grams in so many litres, what comes of them, and the hours before feeding."""

    grams: float
    vessel_l: float
    hatched: float
    harvested: float
    alive_at_feeding: float
    enrichment_ml: float
    lead_hours: float

    @property
    def is_hard_to_weigh(self) -> bool:
        """Whether it is so little that weighing and sieving losses dominate: round up."""
        return self.grams < EASY_WEIGHING_G

    def start_at(self, feed_at: datetime) -> datetime:
        """The instant to wet the cysts so that they are food at `feed_at`."""
        return feed_at - timedelta(hours=self.lead_hours)


def cysts_to_start(
    nauplii: float,
    lot: CystLot,
    incubation_hours: float,
    enrichment: Enrichment | None = None,
    spare_share: float = 0.1,
) -> CystStart:
    """Grams of cysts for so many fed nauplii, and when: losses and spare counted backwards.

    g = N (1 + spare) ÷ (per gram × age × harvested × surviving). Enrichment, where there is
    one, begins at harvest. Raises RuleBroken for figures that cannot be.
    """
    if nauplii <= 0 or incubation_hours <= 0 or spare_share < 0:
        raise RuleBroken("Say how many nauplii are wanted, and the hours to hatch, above 0.")
    wanted = nauplii * (1 + spare_share)
    harvested = wanted / (enrichment.surviving_share if enrichment else 1.0)
    hatched = harvested / lot.harvested_share
    grams = hatched / (lot.nauplii_per_g * lot.age_factor)
    lead_hours = HYDRATION_H + incubation_hours + RINSE_H + (enrichment.hours if enrichment else 0)
    return CystStart(
        grams,
        grams / CYSTS_G_PER_L,
        hatched,
        harvested,
        wanted,
        harvested / enrichment.per_ml if enrichment else 0.0,
        lead_hours,
    )


def loading_g_per_l(grams: float, litres: float) -> float:
    """How thick cysts stand in their water, g of cysts per L."""
    return grams / litres


def hatching_percent(nauplii: float, umbrellas: float, embryos: float) -> float | None:
    """Nauplii per hundred full cysts, 100·N ÷ (N + U + E). None when nothing was counted."""
    full = nauplii + umbrellas + embryos
    return 100 * nauplii / full if full > 0 else None


def nauplii_per_gram(
    mean_count: float, sample_ml: float, water_ml: float, cysts_g: float
) -> float:
    """Hatching efficiency: mean count ÷ sample mL × water mL ÷ grams of cysts."""
    if min(sample_ml, water_ml, cysts_g) <= 0:
        raise RuleBroken("Sample, water and grams of cysts must be above 0.")
    return mean_count / sample_ml * water_ml / cysts_g


def nauplius_dry_weight_ug(output_mg_per_g: float, lot_nauplii_per_g: float) -> float:
    """Dry weight of one nauplius in µg, hatching output ÷ nauplii per gram."""
    return output_mg_per_g * 1000 / lot_nauplii_per_g


def full_cysts_per_gram(lot_nauplii_per_g: float, hatching_pct: float) -> float:
    """Full cysts in a gram of product, nauplii per gram ÷ hatching percentage."""
    return lot_nauplii_per_g / (hatching_pct / 100)
