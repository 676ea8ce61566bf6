"""What a room's hatches teach about the thermal time at which eggs are ready to hatch.

A clutch is ready at some thermal time R and hatches in the first dark window that ends after
that, so a hatch tells only an interval of R, and a night watched in vain tells only that R lies
beyond. R varies from clutch to clutch about the pair's own value, the pairs about the room's,
the room about the published one: each level gives way to the next as clutches come in.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import erf, exp, inf, log, sqrt

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.species.species import Incubation

# How the spread between sources divides: pairs of one room against rooms. Assumed.
PAIRS_SHARE_OF_VARIANCE = 0.3
# One clutch in fifty is odd (a wrong date, a chilled tank) and tells nothing. Assumed.
ODD_SHARE = 0.02
# Clutch-to-clutch spreads weighed, as multiples of the species' own, and how far from it they
# are believed beforehand (sd of the log): 3–4 degree-days are known of clownfish. Assumed.
SPREAD_FACTORS = (0.5, 2**-0.5, 1.0, 2**0.5, 2.0)
SPREAD_LOG_SD = 0.2
GRID_POINTS = 61
GRID_REACH_SPREADS = 4.0
# An incubation further than this from the species' own is asked about before it teaches. Three
# spreads between sources and clutches: one true clutch in some four hundred. Assumed.
BELIEVED_SPREADS = 3.0
TENTHS_UNTIL_HATCHES = 5  # chances are shown in tenths until a pair has so many of its own


@dataclass(frozen=True)
class ReadinessInterval:
    """What one clutch told, in degree-days from laying: beyond `beyond_dd`, up to `up_to_dd`.

    `up_to_dd` None: watched in vain and never seen to hatch. `slack_dd`: how far an uncertain
    laying or an unread temperature put each bound out; both err together, by a standard error
    of `blur_dd`. Raises RuleBroken for an interval that holds nothing.
    """

    beyond_dd: float
    up_to_dd: float | None
    slack_dd: float = 0.0
    blur_dd: float = 0.0

    def __post_init__(self) -> None:
        if self.up_to_dd is not None and self.up_to_dd <= self.beyond_dd:
            raise RuleBroken("A hatch must come after the last window that passed without one.")

    @property
    def is_hatch(self) -> bool:
        """Whether a hatch was seen."""
        return self.up_to_dd is not None

    def likelihood(self, mean_dd: float, spread_dd: float) -> float:
        """The chance of such a hatch of a clutch whose R is Normal(mean, spread).

        What put the bounds out counts as blur about the middle, not as room to either side:
        taken at its widest an interval would be explained by any spread, however small.
        """
        high = inf if self.up_to_dd is None else self.up_to_dd - self.slack_dd
        low = self.beyond_dd + self.slack_dd
        if low >= high or self.beyond_dd == 0:
            low, high = self.beyond_dd, inf if self.up_to_dd is None else self.up_to_dd
        return _between(low, high, mean_dd, sqrt(spread_dd**2 + self.blur_dd**2))


@dataclass(frozen=True)
class Learned:
    """The room's own record: this pair's clutches, the other pairs' (a tuple a pair), delays.

    `pair` and `room` hold clutches of the one species at hand, impossible ones left out until
    confirmed. `delays_minutes`: from lights-off to this pair's first larvae, where seen.
    """

    pair: tuple[ReadinessInterval, ...] = ()
    room: tuple[tuple[ReadinessInterval, ...], ...] = ()
    delays_minutes: tuple[float, ...] = ()

    @property
    def pair_hatches(self) -> int:
        """Hatches of this pair that teach."""
        return sum(told.is_hatch for told in self.pair)

    @property
    def room_hatches(self) -> int:
        """Hatches of the room's other pairs of the species."""
        return sum(told.is_hatch for clutches in self.room for told in clutches)


@dataclass(frozen=True)
class Readiness:
    """R of the next clutch, Normal(mean, sd) in degree-days, and how many hatches it rests on."""

    mean_dd: float
    sd_dd: float
    clutch_spread_dd: float
    pair_hatches: int = 0
    room_hatches: int = 0

    def below(self, thermal_dd: float) -> float:
        """The chance that the clutch is ready by a thermal time."""
        return normal_below((thermal_dd - self.mean_dd) / self.sd_dd)

    def said(self) -> tuple[str, ...]:
        """What it rests on, in words."""
        words = []
        if self.pair_hatches:
            words.append(f"from this pair: {_hatches(self.pair_hatches)}")
        if self.room_hatches:
            other = "other pairs of" if self.pair_hatches else "pairs of"
            words.append(f"from {other} this species in this room: {_hatches(self.room_hatches)}")
        return tuple(words) or ("from the species default",)


def _hatches(number: int) -> str:
    return "1 hatch" if number == 1 else f"{number} hatches"


def normal_below(z: float) -> float:
    """The standard normal distribution function."""
    return 0.5 * (1 + erf(z / sqrt(2)))


def default_readiness(species: Incubation) -> Readiness:
    """R before the room has a record: the published K less half a day's wait for dark.

    Published durations are sums at hatch; the eggs were ready at some time of the day before,
    half a day on average, at the middle of the temperatures the constants were fitted to.
    """
    middle_c = (species.fitted_from_c + species.fitted_to_c) / 2
    mean_dd = species.k_degree_days - 0.5 * (middle_c - species.t0_c)
    clutch_dd = species.spread_clutch_to_clutch_dd
    return Readiness(mean_dd, sqrt(species.spread_between_sources_dd**2 + clutch_dd**2), clutch_dd)


def is_believable(species: Incubation, told: ReadinessInterval) -> bool:
    """Whether eggs of the species can have been ready then: within three spreads of its own R.

    What is not believed (a wrong date, two clutches taken for one) is kept out until confirmed.
    """
    usual = default_readiness(species)
    reach_dd = BELIEVED_SPREADS * usual.sd_dd
    if told.beyond_dd > usual.mean_dd + reach_dd:
        return False
    return told.up_to_dd is None or told.up_to_dd >= usual.mean_dd - reach_dd


@lru_cache(maxsize=512)
def readiness(
    species: Incubation, learned: Learned | None, odd_share: float = ODD_SHARE
) -> Readiness:
    """R of this pair's next clutch: species default, then the room's clutches, then the pair's.

    Interval-censored, by sums on a grid over the pair's own mean; the clutch-to-clutch spread is
    pooled over the room. `odd_share` is the share of clutches taken to tell nothing.
    """
    default = default_readiness(species)
    if learned is None or not (learned.pair or learned.room):
        return default
    spread_dd = pooled_spread_dd(species, (learned.pair, *learned.room), odd_share)
    grid = _grid(default.mean_dd, species.spread_between_sources_dd)
    pairs_sd = species.spread_between_sources_dd * sqrt(PAIRS_SHARE_OF_VARIANCE)
    rooms_sd = species.spread_between_sources_dd * sqrt(1 - PAIRS_SHARE_OF_VARIANCE)
    if learned.room:
        weights = _normal_weights(grid, default.mean_dd, rooms_sd)
        for clutches in learned.room:
            told = _told_of_room(clutches, spread_dd, grid, pairs_sd, odd_share)
            weights = _scaled([w * t for w, t in zip(weights, told, strict=True)])
        weights = _smoothed(weights, grid, pairs_sd)
    else:
        weights = _normal_weights(grid, default.mean_dd, species.spread_between_sources_dd)
    own = _told(learned.pair, spread_dd, grid, odd_share)
    mean_dd, sd_dd = _moments(grid, [w * t for w, t in zip(weights, own, strict=True)])
    return Readiness(
        mean_dd,
        sqrt(sd_dd**2 + spread_dd**2),
        spread_dd,
        learned.pair_hatches,
        learned.room_hatches,
    )


def pooled_spread_dd(
    species: Incubation,
    pairs: Sequence[tuple[ReadinessInterval, ...]],
    odd_share: float = ODD_SHARE,
) -> float:
    """The clutch-to-clutch spread pooled over pairs, in degree-days, drawn to the species' own.

    A few spreads about the default are weighed by how well each explains the intervals of every
    pair with two hatches or more, its mean unknown; the weighted mean of their squares is taken.
    """
    default = default_readiness(species)
    grid = _grid(default.mean_dd, species.spread_between_sources_dd)
    scattered = [clutches for clutches in pairs if sum(told.is_hatch for told in clutches) > 1]
    if not scattered:
        return default.clutch_spread_dd
    logs = [
        -0.5 * (log(factor) / SPREAD_LOG_SD) ** 2
        + sum(
            _explained(clutches, factor * default.clutch_spread_dd, grid, odd_share)
            for clutches in scattered
        )
        for factor in SPREAD_FACTORS
    ]
    weights = [exp(value - max(logs)) for value in logs]
    # The mean of the variances, not of the logs: what is not known of the spread widens a window.
    square = sum(w * f * f for w, f in zip(weights, SPREAD_FACTORS, strict=True)) / sum(weights)
    return default.clutch_spread_dd * sqrt(square)


@lru_cache(maxsize=1024)
def _explained(
    clutches: tuple[ReadinessInterval, ...],
    spread_dd: float,
    grid: tuple[float, ...],
    odd_share: float,
) -> float:
    """Log likelihood of a pair's clutches under a spread, summed over the pair's mean."""
    logs = _log_told(clutches, spread_dd, grid, odd_share)
    middle, reach = (grid[0] + grid[-1]) / 2, (grid[-1] - grid[0]) / 2
    prior = _normal_weights(grid, middle, reach / GRID_REACH_SPREADS)
    top = max(logs)
    return top + log(sum(p * exp(v - top) for p, v in zip(prior, logs, strict=True)))


def _grid(mean_dd: float, sd_dd: float) -> tuple[float, ...]:
    step = 2 * GRID_REACH_SPREADS * sd_dd / (GRID_POINTS - 1)
    start = mean_dd - GRID_REACH_SPREADS * sd_dd
    return tuple(start + step * index for index in range(GRID_POINTS))


def _normal_weights(grid: Sequence[float], mean_dd: float, sd_dd: float) -> list[float]:
    return _scaled([exp(-0.5 * ((x - mean_dd) / sd_dd) ** 2) for x in grid])


@lru_cache(maxsize=1024)
def _log_told(
    clutches: tuple[ReadinessInterval, ...],
    spread_dd: float,
    grid: tuple[float, ...],
    odd_share: float,
) -> tuple[float, ...]:
    """The log likelihood of one pair's clutches at each mean of the grid."""
    logs = [0.0] * len(grid)
    reach = grid[-1] - grid[0]
    for told in clutches:
        high = inf if told.up_to_dd is None else told.up_to_dd
        odd = odd_share * (1.0 if high == inf else min((high - told.beyond_dd) / reach, 1.0))
        for index, mean_dd in enumerate(grid):
            within = told.likelihood(mean_dd, spread_dd)
            logs[index] += log(max((1 - odd_share) * within + odd, 1e-300))
    return tuple(logs)


def _told(
    clutches: tuple[ReadinessInterval, ...],
    spread_dd: float,
    grid: tuple[float, ...],
    odd_share: float,
) -> tuple[float, ...]:
    """The likelihood of one pair's clutches at each mean of the grid, its largest being 1."""
    logs = _log_told(clutches, spread_dd, grid, odd_share)
    top = max(logs)
    return tuple(exp(value - top) for value in logs)


@lru_cache(maxsize=512)
def _told_of_room(
    clutches: tuple[ReadinessInterval, ...],
    spread_dd: float,
    grid: tuple[float, ...],
    pairs_sd_dd: float,
    odd_share: float,
) -> tuple[float, ...]:
    """What another pair's clutches say of the room's mean: its own, blurred by pair spread."""
    return tuple(_smoothed(_told(clutches, spread_dd, grid, odd_share), grid, pairs_sd_dd))


def _between(low: float, high: float, mean_dd: float, sd_dd: float) -> float:
    """Normal probability of an interval, taken from the nearer tail to keep its digits."""
    a, b = (low - mean_dd) / sd_dd, (high - mean_dd) / sd_dd
    if a > 0:
        a, b = -b, -a
    return normal_below(b) - normal_below(a)


def _smoothed(values: Sequence[float], grid: Sequence[float], sd_dd: float) -> list[float]:
    """Values on the grid blurred by a normal spread."""
    step = grid[1] - grid[0]
    kernel = [exp(-0.5 * (step * lag / sd_dd) ** 2) for lag in range(len(grid))]
    size = len(grid)
    return _scaled([sum(values[j] * kernel[abs(i - j)] for j in range(size)) for i in range(size)])


def _scaled(values: Sequence[float]) -> list[float]:
    top = max(values)
    return [value / top for value in values]


def _moments(grid: Sequence[float], weights: Sequence[float]) -> tuple[float, float]:
    total = sum(weights)
    mean = sum(x * w for x, w in zip(grid, weights, strict=True)) / total
    square = sum((x - mean) ** 2 * w for x, w in zip(grid, weights, strict=True)) / total
    return mean, sqrt(square)
