"""Growth: rates, the length line and the day of sale size, spread, weight, the day's ration.

Lengths in mm, weights in g, ages in dph or days. A line fitted to a sample is carried beyond
it only with its interval and the last day it saw; a published law is not carried at all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist, fmean, stdev

from hatchery_app.domain.errors import RuleBroken

CONFIDENCE = 0.95
KG_PER_G = 1e-3
FEED_KJ_PER_G = 20.0  # gross energy of a usual dry feed (assumed); the label comes first


# --- Rates --------------------------------------------------------------------------------


def specific_growth_rate(start: float, end: float, days: float) -> float | None:
    """SGR in % a day, 100·(ln end − ln start) ÷ days, of weight or of length.

    None unless both are above 0 and time has passed.
    """
    if min(start, end, days) <= 0:
        return None
    return 100 * math.log(end / start) / days


def daily_percent(sgr: float) -> float:
    """The true growth a day in % behind an SGR, 100·(e^(SGR/100) − 1)."""
    return 100 * math.expm1(sgr / 100)


def thermal_growth_coefficient(
    start_g: float, end_g: float, mean_temperature_c: float, days: float
) -> float | None:
    """TGC = 100·(end^⅓ − start^⅓) ÷ (°C × days), g and °C; None where a figure is not above 0."""
    if min(start_g, end_g, mean_temperature_c, days) <= 0:
        return None
    return 100 * (math.cbrt(end_g) - math.cbrt(start_g)) / (mean_temperature_c * days)


def feed_of_stock_g(fish: int, mean_weight_g: float, percent_of_weight: float) -> float:
    """Feed a day in g: number × mean weight × ration in % of body weight."""
    return fish * mean_weight_g * percent_of_weight / 100


def feed_conversion(feed_g: float, live_gain_g: float) -> float | None:
    """Feed given ÷ live weight gained, dead fish not added back; None where nothing was gained."""
    return feed_g / live_gain_g if live_gain_g > 0 else None


# --- Spread -------------------------------------------------------------------------------


@dataclass(frozen=True)
class SizeSpread:
    """How uneven a sample is: fish measured, mean, standard deviation (n−1), CV in %."""

    measured: int
    mean: float
    standard_deviation: float

    @property
    def cv_percent(self) -> float:
        """100 × standard deviation ÷ mean."""
        return 100 * self.standard_deviation / self.mean

    @property
    def cv_percent_small_sample(self) -> float:
        """The same corrected for few fish, × (1 + 1 ÷ 4n)."""
        return self.cv_percent * (1 + 1 / (4 * self.measured))

    def share_above(self, size: float) -> float | None:
        """The share of the fish larger than a size, if sizes are normal; None without spread."""
        if self.standard_deviation == 0:
            return None
        return 1 - NormalDist(self.mean, self.standard_deviation).cdf(size)


def size_spread(sizes: Sequence[float]) -> SizeSpread | None:
    """The spread of a measured sample; None for fewer than two fish. Sizes must be above 0."""
    if any(size <= 0 for size in sizes):
        raise RuleBroken("A length or weight is above 0.", field="lengths")
    return SizeSpread(len(sizes), fmean(sizes), stdev(sizes)) if len(sizes) > 1 else None


# --- The length line and the day of sale size ---------------------------------------------


@dataclass(frozen=True)
class LengthLine:
    """A straight line L = a + b·age through sampled lengths, and how well it fits."""

    intercept_mm: float
    mm_per_day: float
    residual_sd_mm: float
    samples: int
    mean_age: float
    age_sum_of_squares: float
    first_age: float
    last_age: float

    def length_mm(self, age: float) -> float:
        """The line's length at an age; beyond `last_age` it is carried on, not seen."""
        return self.intercept_mm + self.mm_per_day * age


def length_line(ages: Sequence[float], lengths_mm: Sequence[float]) -> LengthLine | None:
    """Least squares of length on age; None for fewer than three samples or a single age."""
    if len(ages) != len(lengths_mm):
        raise RuleBroken("Every length needs its age.", field="lengths")
    if len(ages) < 3 or len(set(ages)) < 2:
        return None
    mean_age, mean_length = fmean(ages), fmean(lengths_mm)
    pairs = tuple(zip(ages, lengths_mm, strict=True))
    squares = sum((age - mean_age) ** 2 for age in ages)
    slope = sum((age - mean_age) * (mm - mean_length) for age, mm in pairs) / squares
    intercept = mean_length - slope * mean_age
    left_over = sum((mm - intercept - slope * age) ** 2 for age, mm in pairs)
    return LengthLine(
        intercept,
        slope,
        math.sqrt(left_over / (len(ages) - 2)),
        len(ages),
        mean_age,
        squares,
        min(ages),
        max(ages),
    )


@dataclass(frozen=True)
class SaleSizeAge:
    """The age at which a share of the fish reaches a length, with its interval.

    `low` and `high` are None where growth is too uncertain to bound. `carried_days` is how far
    past the last sample that lies: 0 inside what was measured.
    """

    age: float
    low: float | None
    high: float | None
    carried_days: float


def age_at_length(
    line: LengthLine,
    length_mm: float,
    *,
    share: float = 0.5,
    spread_sd_mm: float = 0.0,
    one_sample: bool = True,
) -> SaleSizeAge | None:
    """When a share of the fish is over a length, by the line, with Fieller's interval at 95 %.

    Half of them: the mean reaches it. Any other share asks for the mean to reach the length
    plus z(share) × `spread_sd_mm` (lengths taken as normal). `one_sample`: the interval for a
    new sample as scattered as the old ones (calibration), else for the mean line. None where
    the fish do not grow. Fieller 1954, J. R. Stat. Soc. B 16:175–185.
    """
    if not 0 < share < 1 or length_mm <= 0 or spread_sd_mm < 0:
        raise RuleBroken("Ask for a share between 0 and 1 and a length above 0.", field="length")
    if line.mm_per_day <= 0:
        return None
    wanted = length_mm + NormalDist().inv_cdf(share) * spread_sd_mm
    age = (wanted - line.intercept_mm) / line.mm_per_day
    low, high = _fieller(line, age, one_sample)
    return SaleSizeAge(age, low, high, max(0.0, age - line.last_age))


def _fieller(
    line: LengthLine, age: float, one_sample: bool
) -> tuple[float | None, float | None]:
    from scipy.special import stdtrit

    t = float(stdtrit(line.samples - 2, (1 + CONFIDENCE) / 2))
    scatter = t * line.residual_sd_mm / line.mm_per_day
    g = scatter**2 / line.age_sum_of_squares
    if g >= 1:  # the slope itself is not known to be above 0
        return None, None
    ahead = age - line.mean_age
    own = 1 / line.samples + (1 if one_sample else 0)
    half = scatter / (1 - g) * math.sqrt(ahead**2 / line.age_sum_of_squares + (1 - g) * own)
    centre = line.mean_age + ahead / (1 - g)
    return centre - half, centre + half


# --- Von Bertalanffy ----------------------------------------------------------------------


@dataclass(frozen=True)
class GrowthCurve:
    """L = L∞·(1 − e^(−K(t − t0))) fitted to lengths: its three figures and what is left over."""

    l_infinity: float
    k: float
    t0: float
    residual_sum_of_squares: float

    def length(self, age: float) -> float:
        """The curve's length at an age, in the unit it was fitted in."""
        return self.l_infinity * -math.expm1(-self.k * (age - self.t0))

    def age(self, length: float) -> float | None:
        """The age at a length, t0 − ln(1 − L/L∞)/K; None at or beyond L∞."""
        if not 0 <= length < self.l_infinity:
            return None
        return self.t0 - math.log(1 - length / self.l_infinity) / self.k


def growth_curve(
    ages: Sequence[float], lengths: Sequence[float], *, through_zero: bool = False
) -> GrowthCurve | None:
    """The von Bertalanffy curve of least squares; None for too few samples or where none fits.

    For each K the rest of the curve is a straight-line fit, so K alone is searched, over a grid
    before it is polished: from a careless start this fit ends in nonsense without a word.
    `through_zero` holds t0 at 0. Young fish far below L∞ do not pin it down: use the line.
    """
    import numpy as np
    from scipy.optimize import minimize_scalar

    times, seen = np.asarray(ages, dtype=float), np.asarray(lengths, dtype=float)
    if times.size < (3 if through_zero else 4) or np.ptp(times) == 0:
        return None

    def fit(log_k: float) -> tuple[float, float, float]:
        fading = np.exp(-math.exp(log_k) * times)
        columns = [1 - fading] if through_zero else [np.ones_like(times), -fading]
        design = np.column_stack(columns)
        solved = np.linalg.lstsq(design, seen, rcond=None)[0]
        missed = float(np.sum((seen - design @ solved) ** 2))
        return float(solved[0]), float(solved[-1]), missed

    span = float(np.max(np.abs(times)))
    grid = np.linspace(math.log(0.01 / span), math.log(50 / span), 120)
    best = int(np.argmin([fit(float(log_k))[2] for log_k in grid]))
    if best in (0, len(grid) - 1):
        return None
    around = (float(grid[best - 1]), float(grid[best + 1]))
    polished = minimize_scalar(
        lambda log_k: fit(log_k)[2], bounds=around, method="bounded", options={"xatol": 1e-10}
    )
    limit, at_zero, missed = fit(float(polished.x))
    k = math.exp(float(polished.x))
    if limit <= 0 or at_zero <= 0:
        return None
    return GrowthCurve(limit, k, math.log(at_zero / limit) / k, missed)


# --- Weight from length -------------------------------------------------------------------


@dataclass(frozen=True)
class WeightLaw:
    """W = a·L^b between two lengths, in g and whatever unit of length it was made for."""

    a: float
    b: float
    from_length: float
    to_length: float
    source: str

    def weight_g(self, length: float) -> float | None:
        """The weight at a length; None outside the lengths the law was made from."""
        if not self.from_length <= length <= self.to_length:
            return None
        return self.a * math.pow(length, self.b)


# Two points only, so rough: Iovino et al., WAS abstract 42193, A. ocellaris 16–43 mm TL.
OCELLARIS_WEIGHT_MM = WeightLaw(
    3.26e-5, 2.895, 16.0, 43.0, "worked out from the ends of Iovino et al., WAS abstract 42193"
)


def weight_law(lengths: Sequence[float], weights_g: Sequence[float]) -> WeightLaw | None:
    """The power law through a sample, by least squares of the logarithms; None under three fish."""
    if len(lengths) != len(weights_g) or any(x <= 0 for x in (*lengths, *weights_g)):
        raise RuleBroken("Every fish needs a length and a weight, both above 0.", field="weights")
    line = length_line([math.log(x) for x in lengths], [math.log(x) for x in weights_g])
    if line is None:
        return None
    a, b = math.exp(line.intercept_mm), line.mm_per_day
    return WeightLaw(a, b, min(lengths), max(lengths), f"{len(lengths)} fish of this room")


# --- The day's ration ---------------------------------------------------------------------
# Lupatsch, Floyd, Shields & Snellgrove 2013, Israeli J. Aquac. 65:917: A. percula, 27 °C.

GAIN_MG_AT_1_G = 5.39
GAIN_EXPONENT = 0.284
MAINTENANCE_KJ_PER_KG = 43.2
MAINTENANCE_EXPONENT = 0.80
GROWTH_KJ_PER_G = 35.7  # gross energy fed for each g gained
PROTEIN_MAINTENANCE_G_PER_KG = 0.43
PROTEIN_EXPONENT = 0.70
PROTEIN_G_PER_G = 0.72
LUPATSCH_FROM_G, LUPATSCH_TO_G = 0.2, 3.0  # fish were tried from 0.2 g; outside it is a guess


@dataclass(frozen=True)
class DayRation:
    """What one fish needs in a day by the energy model, and what it gains on it."""

    weight_g: float
    gain_mg: float
    feed_mg: float
    protein_mg: float

    @property
    def percent_of_weight(self) -> float:
        """Feed in % of body weight."""
        return self.feed_mg / self.weight_g / 10

    @property
    def feed_per_gain(self) -> float:
        """Feed conversion the model expects."""
        return self.feed_mg / self.gain_mg


def day_ration(weight_g: float, feed_kj_per_g: float = FEED_KJ_PER_G) -> DayRation | None:
    """Gain, feed and protein of one clownfish a day at 27 °C, for 0.2–3 g; None outside.

    Lupatsch et al. 2013, Israeli J. Aquac. 65:917.
    """
    if not LUPATSCH_FROM_G <= weight_g <= LUPATSCH_TO_G:
        return None
    if feed_kj_per_g <= 0:
        raise RuleBroken("The feed's energy is above 0 kJ per g.", field="feed_kj_per_g")
    kg = weight_g * KG_PER_G
    gain_g = GAIN_MG_AT_1_G * weight_g**GAIN_EXPONENT / 1000
    energy_kj = MAINTENANCE_KJ_PER_KG * kg**MAINTENANCE_EXPONENT + GROWTH_KJ_PER_G * gain_g
    protein_g = PROTEIN_MAINTENANCE_G_PER_KG * kg**PROTEIN_EXPONENT + PROTEIN_G_PER_G * gain_g
    return DayRation(
        weight_g, gain_g * 1000, energy_kj / feed_kj_per_g * 1000, protein_g * 1000
    )


def days_to_weight(from_g: float, to_g: float) -> float | None:
    """Days for a clownfish to grow between two weights by the same law, 27 °C, 0.2–3 g; else None.

    (to^0.716 − from^0.716) ÷ (0.716 × 0.00539), the law's own integral.
    """
    if not LUPATSCH_FROM_G <= from_g <= to_g <= LUPATSCH_TO_G:
        return None
    power = 1 - GAIN_EXPONENT
    return (math.pow(to_g, power) - math.pow(from_g, power)) / (power * GAIN_MG_AT_1_G / 1000)
