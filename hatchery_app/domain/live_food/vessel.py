"""A culture vessel: its counts, its harvests, its own growth, and what it can give without sinking.

Totals are animals; rates are per day on the natural logarithm. A vessel is made up to its litres
after every harvest. Nothing rests on animals that nobody counted: between counts a culture is
never taken to be thicker than it was last seen.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from statistics import median

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.live_food import (
    ML_PER_L,
    ROTIFER_RATION_G_PER_MILLION,
    PreyDensity,
    paste_ml_per_day,
    sustained_share,
)
from hatchery_app.domain.shrinkage import Shrunk, shrunk

RECOVERY = 0.9  # about a tenth is lost at each sieving; Attramadal & Sandvand
MOST_SHARE_PER_DAY = 0.45  # a standing culture gives 25–45 % a day; a feed maker's pages
PASTE_DRY_FRACTION = 0.18  # of a usual paste; assumed, its label says
USUAL_PER_ML = 300.0  # home and small-farm cultures stand at 100–300; common practice
COUNT_HOLDS = timedelta(days=2)  # assumed: cultures are counted daily
FULL_SHARE = 0.95  # of the thickest it is known to stand: there it hardly grows; assumed
STOOD_WITHIN = timedelta(days=7)  # so long a culture takes to grow back from a half; assumed
SHORTEST_INTERVAL_DAYS = 0.25  # under six hours counting error swamps all growth; assumed

# Batches at 27–28 °C and 20–25 psu on paste grew 0.34–0.46 a day (Anderson, Weirich & Cavalin
# 2009); planned alike for both strains, until the vessel's own counts say.
GROWTH_PER_DAY = 0.40
GROWTH_SPREAD_PER_DAY = 0.13  # between real cultures, 0.14–0.64 reported; a quarter of the range
GROWTH_SPREAD_OF_ONE_INTERVAL_PER_DAY = 0.20  # two counts of ±20 % a day apart, and the days


class Cultured(StrEnum):
    """What a vessel holds."""

    ROTIFERS = "rotifers"
    COPEPODS = "copepods"
    ALGAE = "algae"


class KeptAs(StrEnum):
    """What a culture is kept for: to be harvested, or cool and slow as seed."""

    PRODUCING = "for harvest"
    COOL_STOCK = "cool stock"


class WaterLook(StrEnum):
    """What a vessel's water or its animals showed; each a sign of the same day, but the last."""

    UNEATEN = "still green when fed again"
    STARVED = "clear long before feeding"
    FOAM = "foam, smell or flocks"
    CILIATES = "ciliates"
    ON_THE_WALLS = "on the walls, or shrunken"
    RESTING_EGGS = "males or resting eggs"
    WELL = "well, all swim"


@dataclass(frozen=True)
class Looked:
    """A look at a vessel's water, and when."""

    at: datetime
    seen: WaterLook


@dataclass(frozen=True)
class CopepodStages:
    """Copepods of one sample by stage: nauplii are the food, adults make them."""

    nauplii: int
    copepodites: int
    adults: int

    @property
    def total(self) -> int:
        """All of them."""
        return self.nauplii + self.copepodites + self.adults

    @property
    def nauplii_share(self) -> float:
        """The share that are nauplii; three quarters were found in one culture at its best."""
        return self.nauplii / self.total if self.total else 0.0


@dataclass(frozen=True)
class VesselCount:
    """One count, or a look, with the females and the eggs seen on the same slide."""

    at: datetime
    density: PreyDensity
    animals_counted: int = 0
    eggs: int | None = None
    is_look: bool = False
    stages: CopepodStages | None = None

    @property
    def egg_ratio(self) -> float | None:
        """Eggs per animal counted; None where eggs were not counted or nothing was."""
        if self.eggs is None or self.animals_counted <= 0:
            return None
        return self.eggs / self.animals_counted


@dataclass(frozen=True)
class Harvest:
    """Culture taken out: its litres, or the animals that were left in the sieve.

    `as_seed`: poured into another vessel, so that no larvae get it.
    """

    at: datetime
    litres: float | None = None
    animals: float | None = None
    as_seed: bool = False

    def __post_init__(self) -> None:
        if self.litres is None and self.animals is None:
            raise RuleBroken("Say how many litres or animals were taken.", field="litres")
        if min(self.litres or 1, self.animals or 1) <= 0:
            raise RuleBroken("A harvest takes more than nothing.", field="litres")

    def leaves(self, animals: float, vessel_l: float) -> float:
        """What of so many animals stays: by share of the litres, else less those got and lost."""
        if self.litres is not None:
            return animals * max(0.0, 1 - self.litres / vessel_l)
        return max(0.0, animals - (self.animals or 0.0) / RECOVERY)


@dataclass(frozen=True)
class Vessel:
    """A vessel since its last restart. `began_at` None: nothing was said to live in it."""

    tank_id: int
    label: str
    litres: float
    food: Cultured | None = None
    strain: str = ""
    kept_as: KeptAs = KeptAs.PRODUCING
    began_at: datetime | None = None
    counts: tuple[VesselCount, ...] = ()
    harvests: tuple[Harvest, ...] = ()
    lost_at: datetime | None = None
    lost_because: str = ""
    looks: tuple[Looked, ...] = ()

    def __post_init__(self) -> None:
        if self.litres <= 0:
            raise RuleBroken("A vessel holds more than no water.")

    @property
    def lives(self) -> bool:
        """Whether a culture stands in it that nobody called lost."""
        return self.food is not None and self.lost_at is None

    @property
    def last(self) -> VesselCount | None:
        """The last count or look since the restart."""
        return self.counts[-1] if self.counts else None

    def total(self, count: VesselCount) -> float:
        """The animals in the whole vessel at a count."""
        return count.density.per_ml * self.litres * ML_PER_L

    @property
    def stood(self) -> float:
        """The most animals counted in it in the week before its last count, looks left out.

        Half of it is left at every sieving: a vessel sieved down yesterday is not halved again.
        """
        last = self.last
        if last is None:
            return 0.0
        lately = [one for one in self.counts if last.at - one.at <= STOOD_WITHIN]
        return max((self.total(one) for one in lately if not one.is_look), default=0.0)


def sieved_since(vessel: Vessel, since: datetime) -> float:
    """The animals got for larvae since then: as counted in the sieve, else by the last count."""
    got = 0.0
    for harvest in vessel.harvests:
        if harvest.at < since or harvest.as_seed:
            continue
        if harvest.animals is not None:
            got += harvest.animals
            continue
        before = [count for count in vessel.counts if count.at <= harvest.at]
        per_ml = before[-1].density.per_ml if before else 0.0
        got += (harvest.litres or 0.0) * ML_PER_L * per_ml * RECOVERY
    return got


def usual_per_ml(counted: Sequence[float]) -> float:
    """What a look of "right" means here: the middle of its own counts, else 300 per mL."""
    return median(counted) if counted else USUAL_PER_ML


def days_between(earlier: datetime, later: datetime) -> float:
    """Days from one moment to another."""
    return (later - earlier) / timedelta(days=1)


def carried_on(
    vessel: Vessel, animals: float, start: datetime, end: datetime, rate_per_day: float
) -> float:
    """The animals at `end` that so many at `start` grew to, each harvest taken when it was."""
    at = start
    for harvest in sorted(vessel.harvests, key=lambda one: one.at):
        if start <= harvest.at < end:
            animals *= math.exp(rate_per_day * days_between(at, harvest.at))
            animals, at = harvest.leaves(animals, vessel.litres), harvest.at
    return animals * math.exp(rate_per_day * days_between(at, end))


# --- Its own growth -----------------------------------------------------------------------


def interval_growth(vessel: Vessel, before: VesselCount, after: VesselCount) -> float | None:
    """r between two counts, on totals: the rate at which what was there, less each harvest when
    it was taken, comes to what was counted.

    Without a harvest that is ln(after ÷ before) ÷ days. What was harvested grows no further in
    the vessel, so that a steady harvest of h a day gives r = −ln(1 − h). None for looks, empty
    counts, and counts under six hours apart.
    """
    days = days_between(before.at, after.at)
    wanted = vessel.total(after)
    if days < SHORTEST_INTERVAL_DAYS or before.is_look or after.is_look:
        return None
    if min(wanted, vessel.total(before)) <= 0:
        return None
    low, high = -6.0, 6.0
    for _ in range(60):  # halves twelve to far below a count's error
        rate = (low + high) / 2
        if carried_on(vessel, vessel.total(before), before.at, after.at, rate) < wanted:
            low = rate
        else:
            high = rate
    return (low + high) / 2


@dataclass(frozen=True)
class IntervalGrowth:
    """r between two counts, with the ends that counting error alone puts to it (95 %)."""

    before: VesselCount
    after: VesselCount
    per_day: float
    low: float
    high: float


def intervals_of(vessel: Vessel) -> tuple[IntervalGrowth, ...]:
    """r between each two counts that tell one, falls that are a warning left out."""
    falls = {fall.after.at for fall in falls_of(vessel)}
    found = []
    for before, after in itertools.pairwise(vessel.counts):
        rate = interval_growth(vessel, before, after)
        if rate is None or after.at in falls:
            continue
        both = math.hypot(_log_error(before.density), _log_error(after.density))
        reach = both / days_between(before.at, after.at)
        found.append(IntervalGrowth(before, after, rate, rate - reach, rate + reach))
    return tuple(found)


def _log_error(density: PreyDensity) -> float:
    """Half the 95 % interval of a count, on the logarithm; at most a factor of ten."""
    if density.per_ml <= 0 or density.low_per_ml <= 0:
        return math.log(10)
    return math.log(density.high_per_ml / density.low_per_ml) / 2


def growth_of(vessel: Vessel) -> tuple[Shrunk, int]:
    """The vessel's r, drawn to the default by how much its own counts can be trusted, and n.

    A fall that is a warning is no growth, and is not learned from; nor is an interval that ended
    in a full vessel, which stands still whatever it could grow.
    """
    own = [
        one.per_day for one in intervals_of(vessel) if not _says_only_at_least(vessel, one)
    ]
    found = shrunk(
        GROWTH_PER_DAY, GROWTH_SPREAD_PER_DAY, own, GROWTH_SPREAD_OF_ONE_INTERVAL_PER_DAY
    )
    return found, len(own)


def _says_only_at_least(vessel: Vessel, one: IntervalGrowth) -> bool:
    """Whether the vessel ended full: it may have been able to grow more, not less."""
    thickest = max([USUAL_PER_ML, *(count.density.per_ml for count in vessel.counts)])
    return one.after.density.per_ml >= FULL_SHARE * thickest and one.per_day < GROWTH_PER_DAY


# --- Falls --------------------------------------------------------------------------------

FALL_SHARE = 0.8  # down over 20 % in a day beyond harvest and counting error; common practice
CRASH_SHARE = 0.5  # under half of what was left: nothing of it is fed; assumed


@dataclass(frozen=True)
class Fall:
    """A count far below the one before it, less what was harvested between them."""

    before: VesselCount
    after: VesselCount
    left_per_ml: float

    @property
    def is_crash(self) -> bool:
        """Whether over half of what should have been left is gone."""
        return self.after.density.per_ml < CRASH_SHARE * self.left_per_ml


def falls_of(vessel: Vessel) -> tuple[Fall, ...]:
    """Each fall by more than a fifth beyond harvest whose counting errors do not meet."""
    found = []
    for before, after in itertools.pairwise(vessel.counts):
        total = vessel.total(before)
        if total <= 0:
            continue
        share = carried_on(vessel, total, before.at, after.at, 0.0) / total
        left, low = before.density.per_ml * share, before.density.low_per_ml * share
        if after.density.per_ml < FALL_SHARE * left and after.density.high_per_ml < low:
            found.append(Fall(before, after, left))
    return tuple(found)


def crash_standing(vessel: Vessel) -> Fall | None:
    """The last crash by the counts, as long as no later count is back at half of it."""
    crashes = [fall for fall in falls_of(vessel) if fall.is_crash]
    if not crashes:
        return None
    last = crashes[-1]
    since = [count for count in vessel.counts if count.at > last.after.at]
    back = any(c.density.per_ml >= CRASH_SHARE * last.left_per_ml for c in since)
    return None if back else last


# --- What it can give ---------------------------------------------------------------------


@dataclass(frozen=True)
class Band:
    """Animals, with the band that goes with how they were counted."""

    best: float
    low: float
    high: float

    def times(self, factor: float) -> Band:
        """The same band of a part or a multiple."""
        return Band(self.best * factor, self.low * factor, self.high * factor)


@dataclass(frozen=True)
class VesselNow:
    """A vessel as it stands: animals now, growth, what can be sieved today and tomorrow.

    `standing` None: not counted lately, or nothing lives there. `gives_*` are animals in the
    sieve, its losses taken off; 0 for a crash and for cool stock. `why_none` says why.
    """

    vessel: Vessel
    standing: Band | None
    growth: Shrunk | None
    intervals: int
    share: float
    gives_today: Band | None
    gives_tomorrow: Band | None
    why_none: str
    crash: Fall | None
    feed_ml: float | None
    paste_dry_fraction: float = PASTE_DRY_FRACTION

    @property
    def per_ml(self) -> float:
        """Animals per mL now, 0 where that is not known."""
        return self.standing.best / (self.vessel.litres * ML_PER_L) if self.standing else 0.0

    @property
    def is_crashed(self) -> bool:
        """Whether nothing of it may be poured in: said to be lost, or fallen by its counts."""
        return self.vessel.lost_at is not None or self.crash is not None

    @property
    def produces(self) -> bool:
        """Whether it is one of the cultures that food is taken from."""
        return (
            self.vessel.food is not None
            and self.vessel.kept_as is KeptAs.PRODUCING
            and not self.is_crashed
        )


def vessel_now(
    vessel: Vessel,
    *,
    day_began_at: datetime,
    now: datetime,
    paste_dry_fraction: float = PASTE_DRY_FRACTION,
) -> VesselNow:
    """How a vessel stands now. `day_began_at` is when this day's harvests begin to count."""
    growth, intervals = growth_of(vessel)
    crash = crash_standing(vessel)
    last = vessel.last
    rotifers = vessel.food is Cultured.ROTIFERS
    standing = None
    if vessel.food is not None and last is not None and now - last.at <= COUNT_HOLDS:
        standing = _standing(vessel, last, growth.mean if rotifers else 0.0, now)
    share = min(sustained_share(growth.mean), MOST_SHARE_PER_DAY) if rotifers else 0.0
    why = _why_none(vessel, standing, crash)
    today = tomorrow = Band(0.0, 0.0, 0.0)
    if not why and standing is not None:
        taken = _taken_since(vessel, day_began_at, standing.best)
        best = max(0.0, share * (standing.best + taken) - taken)
        part = best / standing.best if standing.best else 0.0
        today = standing.times(part * RECOVERY)
        tomorrow = standing.times((1 - part) * math.exp(growth.mean) * share * RECOVERY)
    unknown = why and standing is None and vessel.lives and crash is None
    feed = None
    if rotifers and standing is not None and vessel.lives:
        feed = paste_ml_per_day(
            standing.best, paste_dry_fraction, ROTIFER_RATION_G_PER_MILLION
        )
    return VesselNow(
        vessel, standing, growth if rotifers else None, intervals, share,
        None if unknown else today, None if unknown else tomorrow, why, crash, feed,
        paste_dry_fraction,
    )  # fmt: skip


def _standing(vessel: Vessel, last: VesselCount, rate_per_day: float, now: datetime) -> Band:
    total = vessel.total(last)
    animals = min(total, carried_on(vessel, total, last.at, now, rate_per_day))
    density = last.density
    if density.per_ml <= 0:
        return Band(0.0, 0.0, density.high_per_ml * vessel.litres * ML_PER_L)
    return Band(
        animals,
        animals * density.low_per_ml / density.per_ml,
        animals * density.high_per_ml / density.per_ml,
    )


def _taken_since(vessel: Vessel, since: datetime, standing: float) -> float:
    """The animals that harvests since then took out, about: by litres, at the density now."""
    taken = 0.0
    for harvest in vessel.harvests:
        if harvest.at < since:
            continue
        if harvest.litres is not None:
            left = max(1e-9, 1 - harvest.litres / vessel.litres)
            taken += standing * (1 / left - 1) if left > 1e-6 else 0.0
        else:
            taken += (harvest.animals or 0.0) / RECOVERY
    return taken


def _why_none(vessel: Vessel, standing: Band | None, crash: Fall | None) -> str:
    if vessel.food is None:
        return "nobody said what lives in it"
    if vessel.lost_at is not None:
        return "lost" + (f", {vessel.lost_because}" if vessel.lost_because else "")
    if crash is not None:
        return (
            f"fell from {crash.left_per_ml:,.0f} to {crash.after.density.per_ml:,.0f} per mL:"
            " a crashed culture is not poured in"
        )
    if vessel.kept_as is KeptAs.COOL_STOCK:
        return "cool stock, kept as seed"
    if vessel.last is None:
        return "not counted since it was started"
    if standing is None:
        return "not counted for two days"
    if vessel.food is not Cultured.ROTIFERS:
        return f"no growth is published for {vessel.food}: take what you see it bears"
    return ""


def producing(vessels: Iterable[VesselNow], food: Cultured) -> tuple[VesselNow, ...]:
    """The vessels of a food that are harvested and not lost."""
    return tuple(one for one in vessels if one.vessel.food is food and one.produces)
