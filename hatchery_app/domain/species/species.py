"""A species as the room knows it: how it broods, when it hatches, what its young need.

Values only; `species_file` reads them from the library's TOML files. Every figure keeps its
unit, its source and its mark in `Species.figures`, under the path it has in the file.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.larval_protocol import DayBand as DayBand
from hatchery_app.domain.larval_tank.larval_protocol import FeedingStage as FeedingStage
from hatchery_app.domain.larval_tank.larval_protocol import Food as Food
from hatchery_app.domain.larval_tank.larval_protocol import LarvalProtocol as LarvalProtocol
from hatchery_app.domain.larval_tank.larval_protocol import Settlement as Settlement

MM_PER_INCH = 25.4  # exact, International yard and pound agreement 1959
L_PER_US_GALLON = 3.785411784  # exact, 231 cubic inches
EGG_SIGNS = ("colour", "dark", "eyes", "silver")


class Mark(StrEnum):
    """How well a figure stands."""

    PUBLISHED = "published"
    WORKED_OUT = "worked out from published"
    PRACTICE = "common practice"
    MEMORY = "from memory"
    ASSUMED = "assumed"


class BroodMode(StrEnum):
    """Where the eggs are until they hatch."""

    GUARDED_EGGS = "guarded eggs"
    EGG_BALL = "egg ball"
    MOUTH = "mouth"
    POUCH = "pouch"
    PELAGIC = "pelagic"

    @property
    def is_carried(self) -> bool:
        """True where a parent carries the brood and gives birth to, or releases, young fish."""
        return self in (BroodMode.MOUTH, BroodMode.POUCH)

    @property
    def waits_for_dark(self) -> bool:
        """True where eggs lie on something, and hatch in the first dark after they are ready."""
        return self in (BroodMode.GUARDED_EGGS, BroodMode.EGG_BALL)


class SexSystem(StrEnum):
    """How sex comes about in the species."""

    PROTANDROUS = "protandrous"
    PROTOGYNOUS = "protogynous"
    BOTH_WAYS = "changes both ways"
    SEPARATE = "separate sexes"
    UNDETERMINED = "undetermined"


@dataclass(frozen=True)
class Figure:
    """One number with its unit, its source and its mark; `low` and `high` where it is a range."""

    value: float
    unit: str
    source: str
    mark: str
    low: float | None = None
    high: float | None = None
    note: str = ""

    @property
    def is_range(self) -> bool:
        """True where the source gives a range; `value` is then its middle."""
        return self.low is not None and self.high is not None

    @property
    def bottom(self) -> float:
        """The low end of a range, or the value itself."""
        return self.value if self.low is None else self.low

    @property
    def top(self) -> float:
        """The high end of a range, or the value itself."""
        return self.value if self.high is None else self.high

    def said(self) -> str:
        """The figure in words: "16 °C", "7–15 days"."""
        number = f"{self.low:g}–{self.high:g}" if self.is_range else f"{self.value:g}"
        return f"{number} {self.unit}".rstrip()


@dataclass(frozen=True)
class EggLook:
    """A sign by eye, and the fractions of incubation (0 laid, 1 hatch) between which it shows."""

    sign: str  # one of EGG_SIGNS
    from_fraction: float
    to_fraction: float
    words: str
    source: str
    mark: str

    def __post_init__(self) -> None:
        if not 0 <= self.from_fraction < self.to_fraction <= 1:
            raise RuleBroken(
                f"The look “{self.sign}” must lie between 0 and 1 of the incubation, first to last:"
                f" {self.from_fraction:g} to {self.to_fraction:g}."
            )


@dataclass(frozen=True)
class Incubation:
    """Thermal constants of the eggs: days to hatch D at a steady T are K / (T − T0).

    K is the sum at hatch in degree-days, so it holds the wait for dark. Valid between
    `fitted_from_c` and `fitted_to_c`; uncertainty widens outside `widen_below_c` to
    `widen_above_c`; no figure at all outside `no_figure_below_c` to `no_figure_above_c`.
    The hours say when to watch: from minutes after lights-off, until `hatch_hours` after.
    """

    t0_c: float
    k_degree_days: float
    spread_between_sources_dd: float
    spread_clutch_to_clutch_dd: float
    fitted_from_c: float
    fitted_to_c: float
    no_figure_below_c: float
    no_figure_above_c: float
    watch_from_minutes: float
    hatch_hours: float
    widen_below_c: float | None = None
    widen_above_c: float | None = None
    looks: tuple[EggLook, ...] = ()

    def __post_init__(self) -> None:
        if self.k_degree_days <= 0:
            raise RuleBroken(f"Degree-days to hatch must be above 0, not {self.k_degree_days:g}.")
        if min(self.spread_between_sources_dd, self.spread_clutch_to_clutch_dd) <= 0:
            raise RuleBroken("A spread in degree-days must be above 0: no clutch is that exact.")
        ladder = (
            self.t0_c,
            self.no_figure_below_c,
            self.fitted_from_c if self.widen_below_c is None else self.widen_below_c,
            self.fitted_from_c,
            self.fitted_to_c,
            self.fitted_to_c if self.widen_above_c is None else self.widen_above_c,
            self.no_figure_above_c,
        )
        if list(ladder) != sorted(ladder) or self.t0_c >= self.no_figure_below_c:
            raise RuleBroken(
                "Temperatures must rise: threshold, no figure below, widen below, fitted from,"
                " fitted to, widen above, no figure above. Given: "
                + ", ".join(f"{step:g}" for step in ladder)
                + " °C."
            )
        if self.watch_from_minutes < 0 or self.hatch_hours * 60 <= self.watch_from_minutes:
            raise RuleBroken(
                "The watch must begin after lights-off and before the hatch hours end."
            )

    @property
    def usual_c(self) -> float:
        """The middle of the water the constants were fitted in, °C: what eggs usually lie in."""
        return (self.fitted_from_c + self.fitted_to_c) / 2

    def days_at(self, temperature_c: float) -> float | None:
        """Days from laying to hatch at a steady temperature; None where no figure stands."""
        if not self.no_figure_below_c <= temperature_c <= self.no_figure_above_c:
            return None
        return self.k_degree_days / (temperature_c - self.t0_c)

    def look_at(self, fraction: float) -> tuple[EggLook, ...]:
        """The looks to expect at a fraction of the incubation; looks may overlap."""
        return tuple(k for k in self.looks if k.from_fraction <= fraction <= k.to_fraction)


@dataclass(frozen=True)
class Brood:
    """A brood carried by a parent, in days from laying or from taking the eggs up.

    `release_days` is when young fish leave the parent; `hatch_days` when eggs hatch inside, if
    that is known; `spread_days` the published standard deviation. `first_foods` count their
    days from release.
    """

    carried_by: str
    release_days: float
    hatch_days: float | None = None
    spread_days: float | None = None
    young_low: int | None = None
    young_high: int | None = None
    first_foods: tuple[FeedingStage, ...] = ()

    def __post_init__(self) -> None:
        if self.release_days <= 0:
            raise RuleBroken(f"A brood is carried for days, not {self.release_days:g}.")
        if self.hatch_days is not None and not 0 < self.hatch_days <= self.release_days:
            raise RuleBroken(
                f"Young cannot leave on day {self.release_days:g} before they hatch"
                f" on day {self.hatch_days:g}."
            )


@dataclass(frozen=True)
class Spawning:
    """The species' rhythm, until a pair has its own."""

    interval_low_days: float
    interval_high_days: float
    clutch_low: int | None = None
    clutch_high: int | None = None
    interval_median_days: float | None = None
    overdue_factor: float | None = None  # × the pair's own median gap
    stopped_factor: float | None = None
    first_clutches_set_aside: int = 0

    def __post_init__(self) -> None:
        if not 0 < self.interval_low_days <= self.interval_high_days:
            raise RuleBroken(
                "Days between spawns must rise from above 0: "
                f"{self.interval_low_days:g} to {self.interval_high_days:g}."
            )


@dataclass(frozen=True)
class ReportedTime:
    """How long something took in one report, in words: never turned into a date."""

    words: str
    source: str
    mark: str


@dataclass(frozen=True)
class Sex:
    """How sex comes about, and what has been reported of the time a change takes.

    `larger` is "female" or "male" where grown fish of a pair differ, else "".
    """

    system: SexSystem
    words: str
    source: str = ""
    mark: str = ""
    larger: str = ""
    change: tuple[ReportedTime, ...] = ()

    @property
    def is_protandrous(self) -> bool:
        """True where every young fish may become a male first and the largest the female."""
        return self.system is SexSystem.PROTANDROUS


@dataclass(frozen=True)
class PairRule:
    """What a pair needs of its two fish and its tank. None where no figure is known."""

    size_ratio_caution: float | None = None  # larger over smaller, below it: watch
    neighbour_ratio: float | None = None  # between neighbouring ranks in the wild
    divider: bool = False
    volume_low_l: float | None = None
    volume_high_l: float | None = None
    adult_low_mm: float | None = None
    adult_high_mm: float | None = None
    lifespan_floor_low_years: float | None = None
    lifespan_floor_high_years: float | None = None
    dorsal_spines: int | None = None  # evidence of the species, never proof


@dataclass(frozen=True)
class WaterRange:
    """One quantity's range for one life stage. An open end is None."""

    stage: str  # broodstock | larvae | grow-out
    quantity: str  # temperature, salinity, specific_gravity, ph, ammonia, nitrite, nitrate …
    low: float | None
    high: float | None
    unit: str
    source: str
    mark: str
    note: str = ""


@dataclass(frozen=True)
class Water:
    """The water ranges of a species, by life stage."""

    ranges: tuple[WaterRange, ...] = ()

    def of(self, stage: str, quantity: str) -> WaterRange | None:
        """The range of one quantity at one stage; None where none is known."""
        found = (r for r in self.ranges if (r.stage, r.quantity) == (stage, quantity))
        return next(found, None)

    def for_stage(self, stage: str) -> tuple[WaterRange, ...]:
        """Every range known for a life stage, in the order of the file."""
        return tuple(r for r in self.ranges if r.stage == stage)


@dataclass(frozen=True)
class LengthFit:
    """Total length by age as a straight line, in mm, within the days it was fitted."""

    start_mm: float
    per_day_mm: float
    from_dph: int
    to_dph: int

    def __post_init__(self) -> None:
        if self.start_mm <= 0 or self.per_day_mm <= 0 or self.to_dph <= self.from_dph:
            raise RuleBroken("A length by age must start above 0, grow, and span some days.")

    def length_mm(self, dph: float) -> float | None:
        """Length on a day; None outside the days the line was fitted to."""
        if not self.from_dph <= dph <= self.to_dph:
            return None
        return self.start_mm + self.per_day_mm * dph


@dataclass(frozen=True)
class LengthWeight:
    """Weight in g as a × length^b, with length in `length_unit` and of `length_kind` (TL, SL)."""

    a: float
    b: float
    length_unit: str = "mm"
    length_kind: str = "TL"

    def weight_g(self, length_mm: float) -> float:
        """Weight of a fish of a length given in mm."""
        length = length_mm / 10 if self.length_unit == "cm" else length_mm
        return float(self.a * length**self.b)


@dataclass(frozen=True)
class KnownLength:
    """A published mean length at one age: dph, or days from release for a carried brood."""

    day: int
    length_mm: float
    source: str
    mark: str


@dataclass(frozen=True)
class Growth:
    """Growth as far as it is known: length by age, size at sale, weight from length."""

    length_fit: LengthFit | None = None
    known_lengths: tuple[KnownLength, ...] = ()
    mature_low_days: float | None = None
    mature_high_days: float | None = None
    sale_low_mm: float | None = None
    sale_high_mm: float | None = None
    length_weight: LengthWeight | None = None


@dataclass(frozen=True)
class Species:
    """One species of the library.

    `larval` is None for a species without larvae, `brood` None where no parent carries the
    young, `floating` None but for eggs that float: `incubation` is of eggs that wait for dark.
    `text` is the file as read, so that a batch can keep the protocol it began with.
    """

    key: str
    scientific_name: str
    common_name: str
    former_names: tuple[str, ...]
    brood_mode: BroodMode
    tended_by: str
    incubation: Incubation | None
    brood: Brood | None
    larval: LarvalProtocol | None
    spawning: Spawning | None
    sex: Sex
    pair: PairRule
    water: Water
    growth: Growth
    figures: Mapping[str, Figure] = field(
        default_factory=lambda: MappingProxyType({}), hash=False, compare=False, repr=False
    )
    text: str = field(default="", repr=False)
    file_name: str = ""
    floating: Incubation | None = None

    def __post_init__(self) -> None:
        if not self.brood_mode.is_carried:
            return
        if self.brood is None:
            raise RuleBroken(f"{self.common_name} carries its brood: say for how many days.")
        if self.larval is not None:
            raise RuleBroken(
                f"{self.common_name} gives birth to young fish: it has no larval plan."
            )
        if any(stage.food is Food.ROTIFERS for stage in self.brood.first_foods):
            raise RuleBroken(f"Young of {self.common_name} are born too large for rotifers.")

    def figure(self, path: str) -> Figure | None:
        """A figure with its source by its path in the file, such as "incubation.k"."""
        return self.figures.get(path)
