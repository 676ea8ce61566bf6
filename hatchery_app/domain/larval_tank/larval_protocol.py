"""The plan for larvae, day by day, and the plan for one day at the tank's own temperature.

Days are days post hatch (dph): the hatch night is 0, from lights-on it is 1. A plan is written
for one temperature; at another, larvae develop faster or slower in proportion to (T − T0), so
day d of a tank is read as day d × (T − T0) / (T of the plan − T0) of the plan.
Source of that scaling: Green & Fisher 2004, J. Exp. Mar. Biol. Ecol. 299:115–132 (Amphiprion
melanopus, 12.3 d at 25 °C and 9.0 d at 28 °C, hence T0 16.8 °C).
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken

SETTLEMENT_UNKNOWN_BELOW_C = 23.0  # coldest larvae reared in Ye et al. 2011, Acta Ecol. Sinica
SCALED_FROM_C = 25.0  # coldest of the two points behind the scaling, Green & Fisher 2004


class Food(StrEnum):
    """What larvae are fed. Brine shrimp fresh and enriched are two foods: they differ in size."""

    ROTIFERS = "rotifers"
    COPEPODS = "copepods"
    SHRIMP_INSTAR_I = "brine shrimp, instar I"
    SHRIMP_ENRICHED = "brine shrimp, enriched"
    MICRODIET = "microdiet"


ALGAE = "algae"  # greenwater is looked at and dosed like a food, in cells per mL
FOODS_IN_WATER = (*(food.value for food in Food if food is not Food.MICRODIET), ALGAE)
"""What is seen to stand in a tank's water, thick or thin; grain sinks."""


@dataclass(frozen=True)
class FeedingStage:
    """One food over a window of days, both ends included, with its band.

    `low`/`high` are prey per mL, or particle width in µm for microdiet; None where only words
    are known ("a trace"). A tapering stage falls evenly, to nothing the day after its last.
    For a carried brood the days count from release instead of from the hatch night.
    """

    food: Food
    from_dph: int
    to_dph: int
    low: float | None
    high: float | None
    unit: str
    note: str = ""
    meals_low: int | None = None
    meals_high: int | None = None
    tapers: bool = False
    source: str = ""
    mark: str = ""

    def __post_init__(self) -> None:
        if self.from_dph < 0 or self.to_dph < self.from_dph:
            raise RuleBroken(
                f"{self.food} cannot run from {self.from_dph} dph to {self.to_dph} dph."
            )
        if self.low is not None and self.high is not None and not 0 <= self.low <= self.high:
            raise RuleBroken(
                f"{self.food} cannot range from {self.low:g} to {self.high:g} {self.unit}."
            )

    def covers(self, dph: int) -> bool:
        """True on the days this stage is fed."""
        return self.from_dph <= dph <= self.to_dph

    def band_on(self, dph: int) -> tuple[float | None, float | None]:
        """Low and high for one day of the stage, with the taper taken in."""
        if not self.tapers or self.low is None or self.high is None:
            return self.low, self.high
        left = (self.to_dph + 1 - dph) / (self.to_dph + 2 - self.from_dph)
        return self.low * left, self.high * left


@dataclass(frozen=True)
class DayBand:
    """A band that holds over a window of days: greenwater, water change or hours of light."""

    from_dph: int
    to_dph: int
    low: float
    high: float
    unit: str
    note: str = ""
    source: str = ""
    mark: str = ""

    def __post_init__(self) -> None:
        if self.from_dph < 0 or self.to_dph < self.from_dph or not 0 <= self.low <= self.high:
            raise RuleBroken(
                f"A band cannot run from {self.from_dph} to {self.to_dph} dph"
                f" at {self.low:g} to {self.high:g} {self.unit}."
            )

    def covers(self, dph: int) -> bool:
        """True on the days the band holds."""
        return self.from_dph <= dph <= self.to_dph


@dataclass(frozen=True)
class Settlement:
    """When larvae settle at `at_c`: first fish, half of them, last fish, in dph.

    Scaled to other temperatures by (T − T0) in `larval_protocol`, held flat above
    `flat_above_c`, where hotter is no longer faster.
    """

    first_dph: float
    half_dph: float
    last_dph: float
    at_c: float
    t0_c: float
    flat_above_c: float

    def __post_init__(self) -> None:
        if not 0 < self.first_dph <= self.half_dph <= self.last_dph:
            raise RuleBroken(
                "Settlement runs from the first fish over half of them to the last: "
                f"{self.first_dph:g}, {self.half_dph:g}, {self.last_dph:g} dph."
            )
        if not self.t0_c < self.at_c <= self.flat_above_c:
            raise RuleBroken(
                f"Settlement observed at {self.at_c:g} °C must lie above its threshold"
                f" {self.t0_c:g} °C and not above {self.flat_above_c:g} °C."
            )


@dataclass(frozen=True)
class LarvalProtocol:
    """The plan for larvae from the hatch night on, each part with its windows in dph.

    `behind_days`: a batch whose feeding was seen to come so many days later than planned (less
    than 0: earlier) is read as so much younger.
    """

    stages: tuple[FeedingStage, ...]
    settlement: Settlement | None
    change_percent: tuple[DayBand, ...]
    greenwater: tuple[DayBand, ...]  # cells per mL
    light: tuple[DayBand, ...]  # hours a day
    behind_days: int = 0

    def foods_on(self, dph: int) -> tuple[FeedingStage, ...]:
        """The feeding stages that hold on a day, in the order of the file."""
        return tuple(stage for stage in self.stages if stage.covers(dph))

    @property
    def last_day(self) -> int:
        """The last day for which the plan names a food; 0 for an empty plan."""
        return max((stage.to_dph for stage in self.stages), default=0)


@dataclass(frozen=True)
class SettlementWindow:
    """When the first, half and the last larvae of a tank settle, in dph at its temperature."""

    first_dph: float
    half_dph: float
    last_dph: float

    @property
    def days(self) -> tuple[int, int]:
        """First and last whole day on which to look for settled fish."""
        return math.floor(self.first_dph), math.ceil(self.last_dph)


@dataclass(frozen=True)
class FoodToday:
    """One food on one day: its band (prey per mL, or µm), its meals, and where that is from."""

    food: Food
    low: float | None
    high: float | None
    unit: str
    meals_low: int | None
    meals_high: int | None
    note: str
    source: str
    mark: str

    @property
    def target(self) -> float | None:
        """The middle of the band; None where the plan gives words only."""
        if self.low is None or self.high is None:
            return None
        return (self.low + self.high) / 2


@dataclass(frozen=True)
class DayPlan:
    """What the plan says for one day of a tank, and what is doubtful about it.

    `plan_day` is the day of the plan that `dph` is read as at the tank's temperature.
    """

    dph: int
    plan_day: int
    foods: tuple[FoodToday, ...]
    greenwater: DayBand | None
    water_change: DayBand | None
    light: DayBand | None
    settlement: SettlementWindow | None
    cautions: tuple[str, ...] = ()

    def food(self, food: Food) -> FoodToday | None:
        """One food of the day, None where it is not fed."""
        return next((today for today in self.foods if today.food is food), None)

    @property
    def rotifers(self) -> FoodToday | None:
        """Rotifers of the day, per mL."""
        return self.food(Food.ROTIFERS)

    @property
    def shrimp(self) -> tuple[FoodToday, ...]:
        """Brine shrimp of the day, fresh before enriched, per mL."""
        kinds = (Food.SHRIMP_INSTAR_I, Food.SHRIMP_ENRICHED)
        return tuple(today for today in self.foods if today.food in kinds)

    @property
    def microdiet(self) -> FoodToday | None:
        """Dry food of the day: particle width in µm, and meals."""
        return self.food(Food.MICRODIET)

    @property
    def light_words(self) -> str:
        """Hours of light in words, such as "16–24 h" or "dark for the hatch, then dim"."""
        if self.light is None:
            return ""
        if self.light.high == 0:
            return self.light.note
        hours = f"{self.light.low:g}–{self.light.high:g} h"
        if self.light.low == self.light.high:
            hours = f"{self.light.low:g} h"
        return f"{hours}, {self.light.note}" if self.light.note else hours


def pace(settlement: Settlement, mean_temperature_c: float) -> float | None:
    """How many days of the plan one day at this temperature is worth.

    (T − T0) / (plan's T − T0), flat above `flat_above_c`. None below 23 °C, where no larvae
    have been reared in the sources and the line is not continued.
    """
    if mean_temperature_c < SETTLEMENT_UNKNOWN_BELOW_C:
        return None
    counted_c = min(mean_temperature_c, settlement.flat_above_c)
    return (counted_c - settlement.t0_c) / (settlement.at_c - settlement.t0_c)


def settlement_at(settlement: Settlement, mean_temperature_c: float) -> SettlementWindow | None:
    """The settlement window at a tank's mean temperature since hatch; None where unknown."""
    rate = pace(settlement, mean_temperature_c)
    if rate is None:
        return None
    return SettlementWindow(
        settlement.first_dph / rate, settlement.half_dph / rate, settlement.last_dph / rate
    )


def temperature_cautions(
    settlement: Settlement, mean_temperature_c: float | None
) -> tuple[str, ...]:
    """What to say about a plan at this temperature; nothing between 25 °C and the flat."""
    if mean_temperature_c is None:
        return (f"No temperature yet: days as the plan has them for {settlement.at_c:g} °C.",)
    if mean_temperature_c < SETTLEMENT_UNKNOWN_BELOW_C:
        return (
            f"Below {SETTLEMENT_UNKNOWN_BELOW_C:g} °C it is not known when larvae settle:"
            f" days as the plan has them for {settlement.at_c:g} °C, and likely too early.",
        )
    if mean_temperature_c < SCALED_FROM_C:
        return (f"Cooler than {SCALED_FROM_C:g} °C: expect later, and doubt these days.",)
    if mean_temperature_c > settlement.flat_above_c:
        return (
            f"Above {settlement.flat_above_c:g} °C hotter is not faster: hot and hungry larvae"
            " settle later (McLeod et al. 2013).",
        )
    return ()


def plan_day_of(protocol: LarvalProtocol, dph: int, mean_temperature_c: float | None) -> int:
    """The day of the plan that a tank's day is read as. The hatch night stays 0, dph 1 stays 1."""
    if dph < 0:
        raise RuleBroken(f"Larvae have no plan before they hatch: {dph} dph.")
    if dph <= 1:
        return dph
    rate = None
    if protocol.settlement is not None and mean_temperature_c is not None:
        rate = pace(protocol.settlement, mean_temperature_c)
    day = dph if rate is None else math.floor(dph * rate + 0.5)  # half a day rounds up: early food
    return max(1, day - protocol.behind_days)


def for_day(protocol: LarvalProtocol, dph: int, mean_temperature_c: float | None) -> DayPlan:
    """What the plan asks for on one day of a tank, at its mean temperature since hatch.

    Past the last day of the plan there are no foods and a caution says so. Raises RuleBroken
    for a day before the hatch.
    """
    day = plan_day_of(protocol, dph, mean_temperature_c)
    cautions: tuple[str, ...] = ()
    window = None
    if protocol.settlement is not None:
        cautions = temperature_cautions(protocol.settlement, mean_temperature_c)
        settled_at_c = (
            protocol.settlement.at_c if mean_temperature_c is None else mean_temperature_c
        )
        window = settlement_at(protocol.settlement, settled_at_c)
    if day > protocol.last_day:
        cautions += (f"The plan ends on its day {protocol.last_day}.",)
    return DayPlan(
        dph=dph,
        plan_day=day,
        foods=tuple(_today(stage, day) for stage in protocol.foods_on(day)),
        greenwater=_band_on(protocol.greenwater, day),
        water_change=_band_on(protocol.change_percent, day),
        light=_band_on(protocol.light, day),
        settlement=window,
        cautions=cautions,
    )


def _today(stage: FeedingStage, day: int) -> FoodToday:
    low, high = stage.band_on(day)
    return FoodToday(
        food=stage.food,
        low=low,
        high=high,
        unit=stage.unit,
        meals_low=stage.meals_low,
        meals_high=stage.meals_high,
        note=stage.note,
        source=stage.source,
        mark=stage.mark,
    )


def _band_on(bands: tuple[DayBand, ...], day: int) -> DayBand | None:
    return next((band for band in bands if band.covers(day)), None)
