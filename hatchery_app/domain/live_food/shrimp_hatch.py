"""Lots of brine-shrimp cysts and the hatches of them: how rich, how quick, ready when.

A lot's hours to hatch and its nauplii per gram begin at the book's values and give way to its
own finished hatches, by shrinkage, on the logarithm: a lot is so many times slower or poorer.
Fresh nauplii (instar I) and enriched ones are two foods, told apart throughout.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.live_food.brine_shrimp import (
    CYSTS_G_PER_L,
    HYDRATION_H,
    WARM_LIMIT_C,
    CystLot,
    hatch_hours,
    hatching_percent,
    loading_g_per_l,
)
from hatchery_app.domain.shrinkage import Shrunk, shrunk

# "Some best at 18–24 h, others 48 h": lots lie within about half again of the curve. Assumed.
HOURS_SPREAD_BETWEEN_LOTS = 0.25
HOURS_SPREAD_OF_ONE_HATCH = 0.12  # keepers look every few hours; assumed
YIELD_SPREAD_WHERE_SAID = 0.15  # a label or a test against this room's own water; assumed
YIELD_SPREAD_WHERE_NOT = 0.30  # 120,000–300,000 a gram are reported; a quarter of the range
YIELD_SPREAD_OF_ONE_HATCH = 0.25  # a count of ±20 % and a harvest; assumed
HARVESTED_SHARE = 0.9  # assumed until the room has counted both sides

# Hatching percentage and nauplii per gram that go with it: first grade 200,000–300,000 (Treece
# 2000, SRAC 702); 70 % and 50 % lots by common practice, the middle of what is said of each.
YIELD_BY_PERCENT = ((50.0, 135_000.0), (70.0, 195_000.0), (90.0, 250_000.0))
USUAL_PER_G = 200_000.0  # the low end of a good lot, where nothing is said

INSTAR_I_LASTS_H = 8.0  # then the mouth opens; New 2002, FAO 428, ch. 6
COLD_STORE_H = 24.0  # under 10 °C, at most 8 million a litre; Ghent University, shrimp course
WARM_CAUTION_C = 30.0  # an older FAO manual has cysts stop for good above it; others at 33
FAILS_ABOVE_PSU = 85.0  # New 2002, FAO 428
SMALL_VESSEL_L = 20.0  # below it cysts bear 5 g/L, above 2 g/L; New 2002, FAO 428
SMALL_VESSEL_G_PER_L = 5.0
ENRICHED_AT_MOST_PER_ML = 300.0  # common practice: 100–300
ENRICHED_SURVIVE = 0.85  # assumed; losses of 5–20 % are common practice


class Ripe(StrEnum):
    """How a hatch was at its harvest: what its hours teach of the lot."""

    IN_TIME = "in time"
    EARLY = "too early"
    LATE = "hours late"


class EndedAs(StrEnum):
    """How a hatch ended."""

    USED_UP = "used up"
    FAILED = "failed"
    POURED_AWAY = "poured away"


@dataclass(frozen=True)
class HatchTold:
    """What a harvested hatch teaches of its lot. `hours` run from wet to harvest."""

    temperature_c: float
    hours: float
    grams: float
    ripe: Ripe = Ripe.IN_TIME
    animals: float | None = None
    nauplii: int | None = None
    umbrellas: int | None = None
    embryos: int | None = None


# --- The lot ------------------------------------------------------------------------------


@dataclass(frozen=True)
class HoursBand:
    """Hours from wet cysts to a harvest: likely, and the ends that four in five keep within."""

    low: float
    best: float
    high: float


FOUR_IN_FIVE = 1.2816  # standard normal


@dataclass(frozen=True)
class LotHours:
    """How a lot's hours stand to the book's: `factor` on the logarithm, from so many hatches."""

    factor: Shrunk
    hatches: int

    def at(self, temperature_c: float) -> HoursBand | None:
        """Hours to hatch in water so warm; None outside 21–30 °C, where no hours are known."""
        book = hatch_hours(temperature_c)
        if book is None:
            return None
        best = book * math.exp(self.factor.mean)
        reach = math.exp(FOUR_IN_FIVE * self.factor.next_sd)
        return HoursBand(best / reach, best, best * reach)

    def said(self, temperature_c: float) -> str:
        """ "23 h at 28 °C by the book" or "… of this lot: 3 hatches, 1.1 times the book's"."""
        band = self.at(temperature_c)
        if band is None:
            return f"no hours are known for {temperature_c:g} °C: 21–30 °C are"
        hours = f"{band.best:.0f} h at {temperature_c:g} °C"
        if not self.hatches:
            return f"{hours}, by the book (common practice); this lot's own hatches replace it"
        many = "1 hatch" if self.hatches == 1 else f"{self.hatches} hatches"
        return f"{hours}, from {many} of this lot, {math.exp(self.factor.mean):.2f} × the book's"


SOON_SHARE = 0.5  # of the book's hours: no lot is so quick; assumed


def too_soon(hours: float, temperature_c: float) -> float | None:
    """The book's hours from wet cysts to a harvest, where one after so few hours, said to be in
    time, is likely a slip of the clock or of the hatch; else None."""
    book = hatch_hours(temperature_c)
    if book is None or hours - HYDRATION_H >= SOON_SHARE * book:
        return None
    return book + HYDRATION_H


def lot_hours(told: Sequence[HatchTold]) -> LotHours:
    """A lot's hours from its harvests in time; early and late ones tell only one side.

    log(own ÷ book's at that temperature), drawn to 0 by how much its hatches can be trusted.
    """
    own = []
    for hatch in told:
        book = hatch_hours(hatch.temperature_c)
        hours = hatch.hours - HYDRATION_H
        if book is not None and hours > 0 and hatch.ripe is Ripe.IN_TIME:
            own.append(math.log(hours / book))
    found = shrunk(0.0, HOURS_SPREAD_BETWEEN_LOTS, own, HOURS_SPREAD_OF_ONE_HATCH)
    return LotHours(found, len(own))


def usual_per_g(percent: float | None) -> float:
    """Nauplii per gram that go with a hatching percentage, before the lot is known."""
    if percent is None:
        return USUAL_PER_G
    (low_at, low), (mid_at, mid), (high_at, high) = YIELD_BY_PERCENT
    if percent <= low_at:
        return low * percent / low_at
    if percent <= mid_at:
        return low + (mid - low) * (percent - low_at) / (mid_at - low_at)
    return mid + (high - mid) * min(1.5, (percent - mid_at) / (high_at - mid_at))


@dataclass(frozen=True)
class LotYield:
    """Nauplii that hatch per gram: likely, with the ends four in five hatches keep within."""

    per_g: float
    low_per_g: float
    high_per_g: float
    hatches: int
    said: str


def lot_yield(
    told: Sequence[HatchTold], said_per_g: float | None, said_percent: float | None
) -> LotYield:
    """A lot's nauplii per gram, drawn from what its label or its grade says to its own counts.

    What was counted in the sieve is a share of what hatched (0.9, assumed).
    """
    general = said_per_g or usual_per_g(said_percent)
    own = [
        math.log(one.animals / one.grams / HARVESTED_SHARE)
        for one in told
        if one.animals and one.grams > 0 and one.ripe is not Ripe.EARLY
    ]
    spread = YIELD_SPREAD_WHERE_SAID if said_per_g else YIELD_SPREAD_WHERE_NOT
    found = shrunk(math.log(general), spread, own, YIELD_SPREAD_OF_ONE_HATCH)
    reach = math.exp(FOUR_IN_FIVE * found.next_sd)
    best = math.exp(found.mean)
    begun = "as said of the lot" if said_per_g else (
        f"usual for {said_percent:g} %" if said_percent else "usual for a fair lot"
    )  # fmt: skip
    many = "1 harvest" if len(own) == 1 else f"{len(own)} harvests"
    words = f"from {many} of its own, begun at {general:,.0f}, {begun}" if own else begun
    return LotYield(best, best / reach, best * reach, len(own), words)


def measured_percent(told: Sequence[HatchTold]) -> tuple[float, int] | None:
    """The lot's own hatching percentage over all counted samples, and how many were counted."""
    counted = [one for one in told if one.nauplii is not None and one.umbrellas is not None]
    nauplii = sum(one.nauplii or 0 for one in counted)
    shells = sum(one.umbrellas or 0 for one in counted)
    embryos = sum(one.embryos or 0 for one in counted)
    percent = hatching_percent(nauplii, shells, embryos)
    return None if percent is None else (percent, nauplii + shells + embryos)


@dataclass(frozen=True)
class LotKept:
    """A lot as it stands: what was said of it, and what its hatches taught."""

    id: int
    shelf_id: int
    name: str
    grade: str
    said_percent: float | None
    said_per_g: float | None
    told: tuple[HatchTold, ...]

    @property
    def hours(self) -> LotHours:
        """Its hours to hatch, learned."""
        return lot_hours(self.told)

    @property
    def gives(self) -> LotYield:
        """Its nauplii per gram, learned."""
        return lot_yield(self.told, self.said_per_g, self.said_percent)

    @property
    def percent(self) -> tuple[float, int] | None:
        """Its measured hatching percentage, and how many were counted."""
        return measured_percent(self.told)

    def planned(self) -> CystLot:
        """The lot as sums take it: grams for so many nauplii. Its age is in its own harvests."""
        return CystLot(self.gives.per_g, 1.0, HARVESTED_SHARE)


# --- A hatch ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Counted:
    """A harvest or a recount of what is in hand; `animals` None: it was not counted."""

    at: datetime
    animals: float | None


@dataclass(frozen=True)
class Enriching:
    """Shrimp put into enrichment: with what, for how long, in how many litres."""

    at: datetime
    hours: float
    what: str = ""
    litres: float | None = None

    @property
    def done_at(self) -> datetime:
        """When they are enriched."""
        return self.at + timedelta(hours=self.hours)


@dataclass(frozen=True)
class Went:
    """Shrimp fed out or moved; `animals` None: nobody counted them."""

    at: datetime
    animals: float | None
    into: str = ""


class HatchState(StrEnum):
    """Where a hatch stands."""

    HATCHING = "hatching"
    READY = "ready to harvest"
    OVERDUE = "overdue"
    IN_HAND = "in hand"
    ENRICHING = "in enrichment"
    ENRICHED = "enriched"
    ENDED = "ended"


@dataclass(frozen=True)
class ShrimpHatch:
    """One hatch from wet cysts to its last shrimp. `started_at` is the latest it can have been."""

    id: int
    lot: LotKept
    grams: float
    litres: float
    temperature_c: float
    salinity_psu: float | None
    started_at: datetime
    vessel: str = ""
    counted: tuple[Counted, ...] = ()
    enriching: Enriching | None = None
    went: tuple[Went, ...] = ()
    ended_at: datetime | None = None
    ended_as: EndedAs | None = None
    reason: str = ""

    def __post_init__(self) -> None:
        if self.grams <= 0 or self.litres <= 0:
            raise RuleBroken("A hatch is of some cysts in some water.", field="grams")

    @property
    def ready(self) -> tuple[datetime, datetime, datetime] | None:
        """From when, most likely when and until when it is to be harvested; None: not known."""
        band = self.lot.hours.at(self.temperature_c)
        if band is None:
            return None
        low, best, high = (
            self.started_at + timedelta(hours=HYDRATION_H + hours)
            for hours in (band.low, band.best, band.high)
        )
        return low, best, high

    @property
    def expected(self) -> tuple[float, float, float]:
        """Nauplii that its harvest gives: low, likely, high."""
        gives = self.lot.gives
        low, best, high = (
            each * self.grams * HARVESTED_SHARE
            for each in (gives.low_per_g, gives.per_g, gives.high_per_g)
        )
        return low, best, high

    @property
    def harvested_at(self) -> datetime | None:
        """When it was first harvested."""
        return self.counted[0].at if self.counted else None

    def state(self, now: datetime) -> HatchState:
        """Where it stands at a moment."""
        if self.ended_at is not None and self.ended_at <= now:
            return HatchState.ENDED
        if self.enriching is not None:
            done = now >= self.enriching.done_at
            return HatchState.ENRICHED if done else HatchState.ENRICHING
        if self.counted:
            return HatchState.IN_HAND
        if self.ready is None or now < self.ready[0]:
            return HatchState.HATCHING
        return HatchState.OVERDUE if now > self.ready[2] else HatchState.READY

    def food(self) -> Food:
        """Which of the two foods it is, or will be."""
        return Food.SHRIMP_INSTAR_I if self.enriching is None else Food.SHRIMP_ENRICHED

    @property
    def in_hand(self) -> float | None:
        """Animals left: as last counted, less what went since; None where nobody counted.

        Enrichment is taken to cost 15 % (assumed) until they are counted after it.
        """
        counted = [one for one in self.counted if one.animals is not None]
        if not counted:
            return None
        last = counted[-1]
        left = last.animals or 0.0
        if self.enriching is not None and last.at <= self.enriching.at:
            left *= ENRICHED_SURVIVE
        since = [one for one in self.went if one.at >= last.at]
        if any(one.animals is None for one in since):
            return None
        return max(0.0, left - sum(one.animals or 0.0 for one in since))

    @property
    def enriched_per_ml(self) -> float | None:
        """How thick they stand in enrichment; None where litres or animals are not known."""
        if self.enriching is None or not self.enriching.litres:
            return None
        before = [c.animals for c in self.counted if c.at <= self.enriching.at and c.animals]
        return before[-1] / (self.enriching.litres * 1000) if before else None

    def signs(self, now: datetime) -> tuple[str, ...]:
        """What is to be said of it now, in sentences with what they rest on."""
        state = self.state(now)
        found = list(start_cautions(self.grams, self.litres, self.temperature_c, self.salinity_psu))
        if state is not HatchState.HATCHING:
            found = []
        if state is HatchState.OVERDUE:
            found.append(
                "Overdue: harvest now, or look why nothing swims. Hatched shrimp use themselves"
                " up, a fifth to a third of their weight in a day (Vanhaecke et al. 1983)."
            )
        at = self.harvested_at
        if state is HatchState.IN_HAND and at is not None:
            hours = (now - at) / timedelta(hours=1)
            if hours > COLD_STORE_H:
                found.append(
                    "Harvested over a day ago: cold under 10 °C they keep a day at most; warm"
                    " they are starved (Ghent University)."
                )
            elif hours > INSTAR_I_LASTS_H:
                found.append(
                    "No longer instar I: their mouth opens about 8 h after the hatch (FAO 428)."
                    " Enrich them, or feed them now."
                )
        dense = self.enriched_per_ml
        if dense is not None and dense > ENRICHED_AT_MOST_PER_ML:
            found.append(
                f"{dense:,.0f} per mL in enrichment: 100–300 is usual (common practice)."
            )
        return tuple(found)


def start_cautions(
    grams: float, litres: float, temperature_c: float, salinity_psu: float | None
) -> tuple[str, ...]:
    """What speaks against a start like this; none where nothing does."""
    found = []
    if temperature_c > WARM_LIMIT_C:
        found.append(f"Over {WARM_LIMIT_C:g} °C cysts stop (FAO 428); they may not hatch at all.")
    elif temperature_c > WARM_CAUTION_C:
        found.append("Over 30 °C sources part: one has cysts stop for good there, another at 33.")
    elif hatch_hours(temperature_c) is None:
        found.append(f"No hours are known for {temperature_c:g} °C; look often.")
    if salinity_psu is not None and salinity_psu > FAILS_ABOVE_PSU:
        found.append("Over 85 psu cysts do not hatch (FAO 428).")
    most = SMALL_VESSEL_G_PER_L if litres < SMALL_VESSEL_L else CYSTS_G_PER_L
    loading = loading_g_per_l(grams, litres)
    if loading > most:
        found.append(
            f"{loading:.2g} g/L: at most {most:g} g/L in"
            f" {'under' if litres < SMALL_VESSEL_L else 'over'} 20 L (FAO 428)."
        )
    return tuple(found)


def told_of(hatch: ShrimpHatch, ripe: Ripe, sample: tuple[int, int, int] | None) -> HatchTold:
    """What a harvested hatch teaches: its hours, its animals, its counted shells."""
    if hatch.harvested_at is None:
        raise RuleBroken("It was not harvested yet.")
    nauplii, umbrellas, embryos = sample or (None, None, None)
    hours = (hatch.harvested_at - hatch.started_at) / timedelta(hours=1)
    return HatchTold(
        hatch.temperature_c, hours, hatch.grams, ripe, hatch.counted[0].animals, nauplii,
        umbrellas, embryos,
    )  # fmt: skip
