"""How many there are, worked out from a part: aliquots, squares and weighed subsamples.

Counting a part has two errors. The Poisson error of the animals that happened to be in it depends
only on how many were counted. The spread between the parts shows how well the water was mixed.
Both intervals are worked out and the wider is taken, so that bad mixing cannot look like precision.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt
from statistics import fmean, stdev

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany

CONFIDENCE = 0.95
ALIQUOTS_ADVISED = 5  # quantities that mix well still need five to show it (common practice)
CLUMPED_BELOW_P = 0.05  # the usual level of the dispersion test (common practice)


@dataclass(frozen=True)
class Interval:
    """The two ends of an interval, in whatever unit the figure has."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if self.low > self.high:
            raise ValueError(f"An interval runs upwards: {self.low} to {self.high}.")

    @property
    def width(self) -> float:
        """High less low."""
        return self.high - self.low

    def times(self, factor: float) -> Interval:
        """Both ends multiplied by a positive factor."""
        return Interval(self.low * factor, self.high * factor)

    def drawn_in(self, centre: float, share: float) -> Interval:
        """Both ends brought towards the centre, to this share of their distance (0 to 1)."""
        return Interval(centre - (centre - self.low) * share, centre + (self.high - centre) * share)


def poisson_interval(counted: int, confidence: float = CONFIDENCE) -> Interval:
    """Exact interval for the mean behind one Poisson count.

    Low = chi2(a/2; 2k)/2, high = chi2(1 - a/2; 2k + 2)/2, low 0 for a count of none.
    Source: Garwood 1936, Biometrika 28:437-442.
    """
    # Half the chi-square quantile on 2k degrees is the inverse gamma on k; scipy.special opens
    # in half the time of scipy.stats, which a keeper at the first count of a morning waits for.
    from scipy.special import gammainccinv, gammaincinv

    if counted < 0:
        raise RuleBroken(f"A count cannot be below zero: {counted}.", field="counts")
    tail = (1 - confidence) / 2
    low = 0.0 if counted == 0 else float(gammaincinv(counted, tail))
    return Interval(low, float(gammainccinv(counted + 1, tail)))


def mean_interval(values: Sequence[float], confidence: float = CONFIDENCE) -> Interval:
    """Student's t interval for a mean, from its replicates (two or more), n - 1 in the spread."""
    from scipy.special import stdtrit

    t = float(stdtrit(len(values) - 1, (1 + confidence) / 2))
    half = t * stdev(values) / sqrt(len(values))
    return Interval(fmean(values) - half, fmean(values) + half)


@dataclass(frozen=True)
class Dispersion:
    """Whether replicate counts vary more than chance alone would make them.

    `index` is variance over mean: about 1 when random, more when clumped. `p` is the chance of an
    index so large from well-mixed water: (k - 1) x index against chi-square on k - 1 degrees
    (index-of-dispersion test, R. A. Fisher; common practice).
    """

    index: float
    p: float

    @property
    def clumped(self) -> bool:
        """Whether the animals stood in clumps when the samples were drawn."""
        return self.p < CLUMPED_BELOW_P


def dispersion(counts: Sequence[int]) -> Dispersion | None:
    """The dispersion of replicate counts; None with fewer than two, or when all are none."""
    from scipy.special import gammaincc

    if len(counts) < 2 or sum(counts) == 0:
        return None
    index = stdev(counts) ** 2 / fmean(counts)
    degrees = len(counts) - 1
    return Dispersion(index=index, p=float(gammaincc(degrees / 2, index * degrees / 2)))


@dataclass(frozen=True)
class MeanCount:
    """The mean count of one replicate, with both intervals and the one that is taken."""

    mean: float
    poisson: Interval
    spread: Interval | None
    dispersion: Dispersion | None

    @property
    def taken(self) -> Interval:
        """The wider of the Poisson interval and the t interval; never below none."""
        wider = self.poisson
        if self.spread is not None and self.spread.width > self.poisson.width:
            wider = self.spread
        return Interval(max(0.0, wider.low), wider.high)

    @property
    def rests_on(self) -> str:
        """Which interval was taken, in words."""
        by_spread = self.spread is not None and self.spread.width > self.poisson.width
        return "spread between the samples" if by_spread else "animals counted"


def mean_count(counts: Sequence[int], confidence: float = CONFIDENCE) -> MeanCount:
    """The mean of replicate counts, with its Poisson and t intervals (t needs two or more)."""
    _refuse_bad_counts(counts)
    replicates = len(counts)
    poisson = poisson_interval(sum(counts), confidence).times(1 / replicates)
    spread = mean_interval(counts, confidence) if replicates > 1 else None
    return MeanCount(fmean(counts), poisson, spread, dispersion(counts))


@dataclass(frozen=True)
class Estimate:
    """A number worked out from a part, with what it rests on and what would make it better."""

    number: HowMany
    mean: MeanCount
    advice: str = ""


def by_aliquots(
    counts: Sequence[int],
    *,
    aliquot_ml: float,
    total_ml: float,
    recovery: float = 1.0,
    confidence: float = CONFIDENCE,
) -> Estimate:
    """All the animals in a well-mixed volume, from k aliquots of v mL out of V mL.

    N = V x sum(counts)/(k v), divided by the room's own `recovery` (0 to 1: the share of a known
    number that this way of counting finds; subsamples have found 100 % down to 57 % of the true
    number as animals grew, Hardin et al. 1985, Aquacult. Eng. 4:85-92). The interval is the wider
    of Poisson and t on the aliquots, drawn in by sqrt(1 - kv/V) because what was sampled is no
    longer in doubt. Animals that cling are undercounted (Juarez et al. 1996, J. World Aquac. Soc.).
    """
    _refuse_bad_volumes(len(counts), aliquot_ml, total_ml)
    if not 0 < recovery <= 1:
        raise RuleBroken("Recovery is a share between 0 and 1.", field="recovery")
    mean = mean_count(counts, confidence)
    sampled = len(counts) * aliquot_ml / total_ml
    factor = total_ml / aliquot_ml / recovery
    taken = mean.taken.drawn_in(mean.mean, sqrt(1 - sampled)).times(factor)
    counted = sum(counts)
    number = HowMany.estimated(
        round(mean.mean * factor),
        max(counted, round(taken.low)),
        max(counted, round(taken.high)),
        f"{len(counts)} aliquots of {aliquot_ml:g} mL from {total_ml:g} mL",
        tuple(float(count) for count in counts),
    )
    return Estimate(number, mean, _aliquot_advice(mean, len(counts)))


def by_weighed_subsamples(
    subsamples: Sequence[tuple[float, int]],
    *,
    total_g: float,
    loose: bool,
    confidence: float = CONFIDENCE,
) -> WeighedEstimate:
    """All the loose eggs in a weight, from (grams, eggs) subsamples, two or more.

    Ratio of sums: N = total x sum(eggs)/sum(grams), with the t interval of a ratio of totals
    (Cochran 1977, Sampling Techniques, ch. 6; from memory). What the mean of the separate ratios
    would give is said beside it: it favours the small subsamples. Refused for glued eggs, which
    cannot be weighed without tearing them off.
    """
    _refuse_unweighable(subsamples, total_g, loose)
    grams = [weight for weight, _ in subsamples]
    eggs = [count for _, count in subsamples]
    per_g = sum(eggs) / sum(grams)
    half = _ratio_half_width(grams, eggs, confidence)
    number = HowMany.estimated(
        round(per_g * total_g),
        max(sum(eggs), round((per_g - half) * total_g)),
        round((per_g + half) * total_g),
        f"{len(eggs)} weighed subsamples, {sum(eggs)} eggs in {sum(grams):g} g of {total_g:g} g",
        tuple(value for pair in subsamples for value in (pair[0], float(pair[1]))),
    )
    ratios = [count / weight for weight, count in subsamples]
    return WeighedEstimate(number, per_g, round(fmean(ratios) * total_g))


@dataclass(frozen=True)
class WeighedEstimate:
    """Eggs by weight: the number by the ratio of sums, and what the mean of ratios would say."""

    number: HowMany
    eggs_per_g: float
    mean_of_ratios_says: int


def count_error_percent(counted: int, multiplier: float = 1.96) -> float:
    """Half-width of a count's 95 % interval, in % of it, if the sample is random.

    100 x multiplier / sqrt(counted). Hand-books that print 20 % for 100 and 14.1 % for 200 use a
    multiplier of 2; 1.96 gives 19.6 % and 13.9 %.
    """
    if counted <= 0:
        raise RuleBroken("The error of a count needs at least one animal counted.", field="counts")
    return 100 * multiplier / sqrt(counted)


def animals_to_count(half_width_percent: float, multiplier: float = 1.96) -> int:
    """How many animals to count in all for this half-width, in %: 385 for 10 %, 97 for 20 %."""
    if half_width_percent <= 0:
        raise RuleBroken("The error aimed at must be above 0 %.", field="half_width")
    return ceil((100 * multiplier / half_width_percent) ** 2)


def replicates_needed(
    pilot_cv_percent: float, half_width_percent: float, multiplier: float = 1.96
) -> int:
    """Replicate samples for a half-width, from the variation of a pilot: (1.96 x CV/p) squared."""
    if half_width_percent <= 0:
        raise RuleBroken("The error aimed at must be above 0 %.", field="half_width")
    return ceil((multiplier * pilot_cv_percent / half_width_percent) ** 2)


def _aliquot_advice(mean: MeanCount, aliquots: int) -> str:
    if mean.dispersion is not None and mean.dispersion.clumped:
        return "The samples differ more than chance allows: mix again and count again."
    if aliquots < ALIQUOTS_ADVISED:
        return f"Count {ALIQUOTS_ADVISED} samples or more to see whether the water was mixed."
    return ""


def _refuse_bad_counts(counts: Sequence[int]) -> None:
    if not counts:
        raise RuleBroken("Give at least one count.", field="counts")
    for count in counts:
        if count < 0:
            raise RuleBroken(f"A count cannot be below zero: {count}.", field="counts")


def _refuse_bad_volumes(aliquots: int, aliquot_ml: float, total_ml: float) -> None:
    if aliquot_ml <= 0 or total_ml <= 0:
        raise RuleBroken("Volumes must be above zero.", field="volume")
    if aliquots * aliquot_ml > total_ml:
        raise RuleBroken(
            f"{aliquots} samples of {aliquot_ml:g} mL are more than the {total_ml:g} mL "
            "they were drawn from.",
            field="volume",
        )


def _refuse_unweighable(
    subsamples: Sequence[tuple[float, int]], total_g: float, loose: bool
) -> None:
    if not loose:
        raise RuleBroken(
            "Eggs glued to a tile are not weighed: count them by squares or on a photograph.",
            field="method",
        )
    if len(subsamples) < 2:
        raise RuleBroken("Weigh and count at least two subsamples.", field="subsamples")
    if any(weight <= 0 or count < 0 for weight, count in subsamples):
        raise RuleBroken("Each subsample needs a weight and a count.", field="subsamples")
    if not any(count for _, count in subsamples):
        raise RuleBroken("No egg was counted in any subsample.", field="subsamples")
    sampled_g = sum(weight for weight, _ in subsamples)
    if sampled_g > total_g:
        raise RuleBroken(
            f"The subsamples weigh {sampled_g:g} g, more than the whole, {total_g:g} g.",
            field="total_g",
        )


def _ratio_half_width(grams: Sequence[float], eggs: Sequence[int], confidence: float) -> float:
    """Half-width of a ratio of totals, from the residuals about it, on k - 1 degrees."""
    from scipy.special import stdtrit

    pieces = len(grams)
    ratio = sum(eggs) / sum(grams)
    squares = sum((egg - ratio * gram) ** 2 for gram, egg in zip(grams, eggs, strict=True))
    spread = sqrt(squares / (pieces - 1) / pieces) / fmean(grams)
    return float(stdtrit(pieces - 1, (1 + confidence) / 2)) * spread
