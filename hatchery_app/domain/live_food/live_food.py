"""Live food: how thick the prey stands, what to add, what a tank needs, what a vessel can give.

Densities are animals or cells per millilitre, volumes litres unless the name says otherwise,
rates per day on the natural logarithm. Everything rests on counts of about ±20 %, so people
are shown two figures; the sums themselves are never rounded.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.slide_count import prey_per_ml

ML_PER_L = 1000
HOURS_PER_DAY = 24
SALINITY_GAP_PSU = 5.0  # larger jumps inhibit or kill rotifers; Treece & Davis 2000, SRAC 701
ROTIFER_RATION_G_PER_MILLION = 0.3  # dry algae a day; planning, four routes give 0.17–0.36


# --- Showing ------------------------------------------------------------------------------


def two_figures(amount: float) -> float:
    """The amount to two significant figures, halves away from nothing: 1,349 → 1,300."""
    if amount == 0:
        return 0.0
    digits = 1 - math.floor(math.log10(abs(amount)))
    # Twelve figures first: 0.285 is stored as 0.28499…, and the keeper's half is meant.
    scaled = float(f"{abs(amount) * 10.0**digits:.12g}")
    return math.copysign(float(f"{math.floor(scaled + 0.5) * 10.0**-digits:.12g}"), amount)


def two_figures_said(amount: float) -> str:
    """The amount to two figures as it is written on a sheet: "150,000", "1.3", "0.38", "0"."""
    rounded = two_figures(amount)
    if rounded == 0:
        return "0"
    decimals = max(0, 1 - math.floor(math.log10(abs(rounded))))
    return f"{rounded:,.{decimals}f}"


# --- How thick the prey stands ------------------------------------------------------------


@dataclass(frozen=True)
class PreyDensity:
    """Animals per mL with the interval that goes with how they were seen: counted, or a look."""

    per_ml: float
    low_per_ml: float
    high_per_ml: float
    method: str
    mix_again: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.low_per_ml <= self.per_ml <= self.high_per_ml:
            raise RuleBroken("A density lies between its low and its high, none below 0.")


def density_from_count(
    counts: Sequence[int], sample_ml: float, dilution: float = 1.0
) -> PreyDensity:
    """Prey per mL from replicate samples, with the 95 % interval of `slide_count`.

    `mix_again` where the samples differ more than chance allows. Raises RuleBroken for no
    sample, a sample without volume, a count below 0 or a dilution under 1.
    """
    counted = prey_per_ml(counts, sample_ml=sample_ml, dilution=dilution)
    return PreyDensity(
        counted.per_ml,
        counted.low_per_ml,
        counted.high_per_ml,
        f"{sum(counts)} counted in {counted.method}",
        counted.mix_again,
    )


class Look(StrEnum):
    """A look through the glass, which is a count too."""

    NONE = "none"
    THIN = "thin"
    RIGHT = "right"
    THICK = "thick"


LOOK_SHARES = {  # share of the target: low, middle, high (assumed, until the room's counts say)
    Look.NONE: (0.0, 0.0, 0.1),
    Look.THIN: (0.1, 0.4, 0.75),
    Look.RIGHT: (0.75, 1.0, 1.25),
    Look.THICK: (1.25, 1.6, 2.5),
}


def density_from_look(look: Look, target_per_ml: float) -> PreyDensity:
    """The density a look stands for, as a band around a share of the target."""
    low, middle, high = (share * target_per_ml for share in LOOK_SHARES[look])
    return PreyDensity(middle, low, high, f"a look: {look}")


# --- The larval tank ----------------------------------------------------------------------


@dataclass(frozen=True)
class TopUp:
    """Prey to add now: animals with their band, and whether old prey should be flushed first."""

    animals: float
    low: float
    high: float
    flush_old: bool
    why: str


def top_up(target_per_ml: float, residual: PreyDensity, volume_l: float) -> TopUp:
    """What brings a tank back to its target: max(0, (target − residual) × volume).

    Above the target nothing is fed: what is left is old and starved, better flushed than added
    to. Raises RuleBroken for a target or a volume that is not above 0.
    """
    if target_per_ml <= 0 or volume_l <= 0:
        raise RuleBroken("A top-up needs a target and a volume above 0.", field="target")
    volume_ml = volume_l * ML_PER_L
    animals, low, high = (
        max(0.0, target_per_ml - density) * volume_ml
        for density in (residual.per_ml, residual.high_per_ml, residual.low_per_ml)
    )
    why = (
        f"{target_per_ml:g} per mL wanted, {two_figures_said(residual.per_ml)} there"
        f" ({residual.method}), {volume_l:g} L"
    )
    return TopUp(animals, low, high, residual.per_ml > target_per_ml, why)


def concentrate_ml(animals: float, concentrate_per_ml: float) -> float:
    """The mL of a concentrate that hold so many animals, A ÷ C."""
    if concentrate_per_ml <= 0:
        raise RuleBroken("Count the concentrate first: its density must be above 0.")
    return animals / concentrate_per_ml


def eaten_per_larva(
    after_fill_per_ml: float,
    residual_per_ml: float,
    volume_l: float,
    larvae: float,
    washed_out: float = 0.0,
) -> float | None:
    """Prey each larva took since the last fill: ((after − residual)·V − washed out) ÷ larvae.

    None where the figures give less than nothing, or where the number of larvae is unknown.
    """
    eaten = (after_fill_per_ml - residual_per_ml) * volume_l * ML_PER_L - washed_out
    return eaten / larvae if larvae > 0 and eaten >= 0 else None


def greenwater_dose_ml(
    volume_l: float, target_per_ml: float, residual_per_ml: float, stock_per_ml: float
) -> float:
    """The mL of algae stock that bring a tank to its cells per mL, the dose's own volume counted.

    V·(Ct − Cr) ÷ (Cs − Ct). Raises RuleBroken where the stock is no thicker than the target or
    the tank is green enough already: no volume would do it.
    """
    if stock_per_ml <= target_per_ml:
        raise RuleBroken(
            f"The stock has {stock_per_ml:,.0f} cells per mL and the tank should have"
            f" {target_per_ml:,.0f}: no amount of it reaches that. Use a thicker stock.",
            field="stock",
        )
    if residual_per_ml >= target_per_ml:
        raise RuleBroken(
            f"The tank has {residual_per_ml:,.0f} cells per mL already, {target_per_ml:,.0f}"
            " wanted: nothing to add.",
            field="residual",
        )
    share = (target_per_ml - residual_per_ml) / (stock_per_ml - target_per_ml)
    return volume_l * ML_PER_L * share


def salinity_gap(vessel_psu: float, tank_psu: float) -> str | None:
    """A warning where food and larvae live in waters more than 5 apart; None where they do not."""
    gap = abs(vessel_psu - tank_psu)
    if gap <= SALINITY_GAP_PSU:
        return None
    return (
        f"{vessel_psu:g} in the vessel, {tank_psu:g} in the tank: {gap:g} apart. Sieve and rinse,"
        " and bring them over in steps; a jump over 5 stuns or kills rotifers."
    )


# --- What a larval tank needs a day -------------------------------------------------------

GRAZING_LAST_DPH = 8  # where the planning curve ends


def planning_grazing(dph: int) -> float | None:
    """Rotifers a larva takes in a day, 150 + 75·dph; 0 on the hatch night, for it feeds by sight.

    A planning curve (assumed; no count for clownfish is published), for 1–8 dph; None beyond.
    The room's own residual counts replace it.
    """
    if dph == 0:
        return 0.0
    return 150.0 + 75.0 * dph if 1 <= dph <= GRAZING_LAST_DPH else None


@dataclass(frozen=True)
class DayNeed:
    """What one larval tank needs on one day, in animals; `planned` holds the safety."""

    dph: int
    larvae: float
    eaten_each: float
    eaten: float
    change_percent: float
    washed_out: float
    fill: float
    total: float
    planned: float


@dataclass(frozen=True)
class TankPlan:
    """A larval tank as the need is planned for: larvae at hatch, litres, target density.

    `survival_per_day` and `safety` are planning values (assumed): safety lies on eating and
    washout only, for a fill is known from target × litres.
    """

    larvae: float
    volume_l: float
    target_per_ml: float
    survival_per_day: float = 0.97
    safety: float = 1.5
    grazing: Callable[[int], float | None] = planning_grazing

    def __post_init__(self) -> None:
        if min(self.larvae, self.volume_l, self.target_per_ml) <= 0:
            raise RuleBroken("A need is planned for larvae, litres and a target above 0.")
        if not 0 < self.survival_per_day <= 1 or self.safety < 1:
            raise RuleBroken("Survival a day lies between 0 and 1, safety is 1 or more.")

    @property
    def first_fill(self) -> float:
        """The animals that fill the whole tank to its target, once."""
        return self.target_per_ml * self.volume_l * ML_PER_L


def need_on_day(plan: TankPlan, dph: int, change_percent: float) -> DayNeed | None:
    """The need of one day: grazing + washout, and the first fill on the hatch night alone.

    None on a day the grazing curve does not reach.
    """
    if not 0 <= change_percent <= 100:
        raise RuleBroken("A water change lies between 0 and 100 %.", field="change_percent")
    eaten_each = plan.grazing(dph)
    if eaten_each is None or dph < 0:
        return None
    larvae = plan.larvae * plan.survival_per_day**dph
    eaten = larvae * eaten_each
    washed_out = 0.0 if dph == 0 else change_percent / 100 * plan.first_fill
    fill = plan.first_fill if dph == 0 else 0.0
    planned = fill + plan.safety * (eaten + washed_out)
    total = fill + eaten + washed_out
    return DayNeed(
        dph, larvae, eaten_each, eaten, change_percent, washed_out, fill, total, planned
    )


@dataclass(frozen=True)
class HeldFill:
    """One first fill kept ready for a clutch: from its prepare-from night to hatched or given up.

    `until` is the last evening it is held, None while that lies open. Uncertain nights hold the
    same fill, they do not add one each.
    """

    clutch_id: int
    from_on: date
    until_on: date | None
    animals: float

    def is_held(self, evening: date) -> bool:
        """Whether it must stand ready that evening."""
        return self.from_on <= evening and (self.until_on is None or evening <= self.until_on)


def held_on(evening: date, fills: Iterable[HeldFill]) -> float:
    """Animals that must stand ready that evening, each clutch once."""
    per_clutch: dict[int, float] = {}
    for fill in fills:
        if fill.is_held(evening):
            per_clutch[fill.clutch_id] = max(fill.animals, per_clutch.get(fill.clutch_id, 0.0))
    return sum(per_clutch.values())


def offered_over_days(eaten_per_day: float, days: int, supplied_factor: float = 1.0) -> float:
    """Prey for one larva over some days, when producers supply so many times what is eaten."""
    return eaten_per_day * supplied_factor * days


# --- What a rotifer vessel can give -------------------------------------------------------


def growth_rate_per_day(total_before: float, total_after: float, days: float) -> float | None:
    """r = ln(after ÷ before) ÷ days, on totals: density × volume plus all harvested since.

    None where a total is not above 0 or no time has passed.
    """
    if min(total_before, total_after, days) <= 0:
        return None
    return math.log(total_after / total_before) / days


@dataclass(frozen=True)
class HarvestBalance:
    """What taking a steady share a day asks of a vessel, and how old its animals then are."""

    share_per_day: float
    growth_needed_per_day: float
    growth_percent_per_day: float
    growth_percent_per_hour: float
    median_age_h: float
    mean_age_h: float


def harvest_balance(share_per_day: float) -> HarvestBalance:
    """The balance of a steady harvest share h: r ≥ −ln(1−h), growth h/(1−h), mean age 1/r."""
    if not 0 < share_per_day < 1:
        raise RuleBroken("A daily harvest takes more than nothing and less than all.")
    rate = -math.log(1 - share_per_day)
    mean_age_h = HOURS_PER_DAY / rate
    return HarvestBalance(
        share_per_day,
        rate,
        100 * math.expm1(rate),
        100 * math.expm1(rate / HOURS_PER_DAY),
        math.log(2) * mean_age_h,
        mean_age_h,
    )


def sustained_share(rate_per_day: float) -> float:
    """The largest share a vessel bears each day at its own growth, 1 − e^−r; 0 if it shrinks."""
    return max(0.0, -math.expm1(-rate_per_day))


def vessel_l(
    animals_per_day: float, share_per_day: float, density_per_ml: float, recovery: float = 0.9
) -> float:
    """Litres of vessel that give so many a day: need ÷ (h × density × recovery).

    Recovery 0.9: about a tenth is lost at each sieving (Attramadal & Sandvand).
    """
    if not 0 < share_per_day < 1 or density_per_ml <= 0 or not 0 < recovery <= 1:
        raise RuleBroken("A vessel needs a share, a density and a recovery above 0.")
    return animals_per_day / (share_per_day * density_per_ml * recovery * ML_PER_L)


def sieved_l(animals: float, density_per_ml: float, recovery: float = 0.9) -> float:
    """Litres of culture to sieve and rinse for so many animals, losses counted."""
    if density_per_ml <= 0 or not 0 < recovery <= 1:
        raise RuleBroken("Count the vessel first: its density must be above 0.")
    return animals / (density_per_ml * recovery * ML_PER_L)


def days_to_reach(start: float, wanted: float, rate_per_day: float) -> float | None:
    """Days of growth from one density or number to another, ln(wanted ÷ start) ÷ r.

    0 when it is there already; None where it does not grow or nothing is left to grow from.
    """
    if start <= 0 or wanted <= 0:
        return None
    if start >= wanted:
        return 0.0
    return math.log(wanted / start) / rate_per_day if rate_per_day > 0 else None


def paste_ml_per_day(
    rotifers: float,
    dry_fraction: float,
    ration_g_per_million: float = ROTIFER_RATION_G_PER_MILLION,
) -> float:
    """The mL of algal paste a vessel eats in a day, taking the paste as 1 g per mL.

    Millions × ration ÷ dry fraction. Raises RuleBroken for a dry fraction outside 0–1.
    """
    if not 0 < dry_fraction <= 1:
        raise RuleBroken("The dry fraction of a paste lies between 0 and 1.", field="dry_fraction")
    return rotifers / 1e6 * ration_g_per_million / dry_fraction


class EggState(StrEnum):
    """What the eggs carried by rotifers say of the next day or so."""

    FALLING = "falling"
    STATIONARY = "stationary"
    GROWING = "growing"


EGG_RATIO_FALLING_BELOW = 0.13  # Snell, Childress, Boyer & Hoff 1987, J. World Aquac. Soc. 18
EGG_RATIO_GROWING_FROM = 0.5  # same
EGG_RATIO_BREAK_EVEN_CONTESTED = 0.20  # course slides: growth = ratio − 0.2; shown beside 0.13


def egg_state(eggs_per_female: float) -> EggState:
    """The class of an egg ratio; it lags stress by 18–24 h (Snell et al. 1987).

    A boundary belongs to the class above it. Where the break-even lies is contested: between
    0.13 and 0.20 say both.
    """
    if eggs_per_female < EGG_RATIO_FALLING_BELOW:
        return EggState.FALLING
    at_rest = eggs_per_female < EGG_RATIO_GROWING_FROM
    return EggState.STATIONARY if at_rest else EggState.GROWING
