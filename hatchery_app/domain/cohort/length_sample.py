"""Lengths sampled of a cohort: how even it is, what it weighs, when it is of sale size."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean, median

from hatchery_app.domain.broodstock.body_length import LARGEST_MM, SMALLEST_MM, LengthKind
from hatchery_app.domain.cohort.growth import (
    OCELLARIS_WEIGHT_MM,
    SizeSpread,
    WeightLaw,
    age_at_length,
    length_line,
    size_spread,
)
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.typed_amounts import parse_length
from hatchery_app.domain.units import MILLIMETRE, Unit
from hatchery_app.domain.when import RoomTime, When

ODD_LENGTH = "odd_length"
ODD_TIMES = 4  # a length four times the middle one, or a quarter of it, is a slip of the pen
FEWEST_LENGTHS, FEWEST_DAYS_APART = 3, 7  # below this no line is drawn through growth
FARTHEST = 2.0  # times the sampled span a line is carried on; beyond it the day is unknown
WEIGHT_LAWS: Mapping[str, WeightLaw] = {"amphiprion_ocellaris": OCELLARIS_WEIGHT_MM}


@dataclass(frozen=True)
class LengthSample:
    """Some fish measured on one occasion, in mm. `weighed_g` is what `weighed_fish` weighed."""

    when: When
    lengths_mm: tuple[float, ...]
    kind: LengthKind = LengthKind.TOTAL
    by_eye: bool = False
    weighed_g: float | None = None
    weighed_fish: int | None = None

    def __post_init__(self) -> None:
        if not self.lengths_mm and self.weighed_g is None:
            raise RuleBroken("Write at least one length.", field="lengths")
        for length in self.lengths_mm:
            if not SMALLEST_MM <= length <= LARGEST_MM:
                raise RuleBroken(
                    f"A fish of {length:g} mm cannot be: lengths run from {SMALLEST_MM:g} to "
                    f"{LARGEST_MM:g} mm.",
                    field="lengths",
                )
        if (self.weighed_g is None) != (self.weighed_fish is None):
            raise RuleBroken("Say both the weight and how many fish it was of.", field="weighed_g")
        if self.weighed_g is not None and (self.weighed_g <= 0 or (self.weighed_fish or 0) < 1):
            raise RuleBroken("A weight is above 0 g, of one fish or more.", field="weighed_g")

    @property
    def mean_mm(self) -> float | None:
        """The mean length, None where only a weight was taken."""
        return fmean(self.lengths_mm) if self.lengths_mm else None

    @property
    def spread(self) -> SizeSpread | None:
        """How uneven they were; None for fewer than two fish."""
        return size_spread(self.lengths_mm)

    def under(self, length_mm: float) -> int:
        """How many of the sample were shorter."""
        return sum(length < length_mm for length in self.lengths_mm)

    def said(self) -> str:
        """ "10 fish, mean 22.4 mm (19–26), spread 9 %": that of the sample, as part of its mean."""
        if not self.lengths_mm:
            return f"{self.weighed_fish} fish weighed {self.weighed_g:g} g"
        fish = len(self.lengths_mm)
        eye = " by eye" if self.by_eye else ""
        kind = "" if self.kind is LengthKind.TOTAL else f" {self.kind} length"
        if fish == 1:
            return f"one fish of {self.lengths_mm[0]:g} mm{kind}{eye}"
        low, high, spread = min(self.lengths_mm), max(self.lengths_mm), self.spread
        even = f", spread {spread.cv_percent_small_sample:.0f} %" if spread else ""
        mean = fmean(self.lengths_mm)
        return f"{fish} fish, mean {mean:.1f} mm ({low:g}–{high:g}){even}{kind}{eye}"


def parse_lengths(
    text: str,
    unit_default: Unit = MILLIMETRE,
    field: str = "lengths",
    *,
    answers: Mapping[str, str] | None = None,
) -> tuple[float, ...]:
    """Lengths as pasted, in mm: "21 23 22.5", "21, 23, 22", "0.8 0.9 in", "21,5 22,0 mm".

    A unit at the end serves all that have none. Raises RuleBroken for what is no length, Asked
    under "odd_length" (answer "as typed") for one far off the others.
    """
    plain = " ".join(text.split())
    unit_of_all = re.search(r"\d\s*(mm|cm|in|inch|inches|\")\.?$", plain, re.IGNORECASE)
    unit = unit_of_all[1] if unit_of_all else ""
    found = []
    for token in _tokens(plain, field):
        has_unit = not token[-1].isdigit()
        amount = parse_length(token if has_unit or not unit else f"{token} {unit}",
                              unit_default, field)  # fmt: skip
        found.append(float(amount.canonical))
    _ask_odd(found, field, answers or {})
    return tuple(found)


def _tokens(plain: str, field: str) -> list[str]:
    joined = re.sub(r"(?<=\d)\s+(?=(?:mm|cm|in|inch|inches|\")\b|\")", "", plain, flags=re.I)
    tokens: list[str] = []
    for part in re.split(r"[;\s]+|,(?=\s|$)", joined):
        if part.count(",") > 1:
            tokens += part.split(",")
        elif re.fullmatch(r"\d+,\d{2,}\D*", part):
            raise RuleBroken(
                f"“{part}” can be one length or two: write {part.replace(',', '.')} or "
                f"{part.replace(',', ' ')}.",
                field=field,
            )
        else:
            tokens.append(part)
    return [token for token in tokens if token]


def _ask_odd(found: Sequence[float], field: str, answers: Mapping[str, str]) -> None:
    if len(found) < FEWEST_LENGTHS or answers.get(ODD_LENGTH) == "as typed":
        return
    middle = median(found)
    for length in found:
        if not middle / ODD_TIMES < length < middle * ODD_TIMES:
            raise Asked(
                f"{length:g} mm stands among lengths of about {middle:g} mm. Is it right?",
                ODD_LENGTH,
                (("as typed", f"Yes, {length:g} mm"),),
                field=field,
            )


# --- Weight -------------------------------------------------------------------------------


@dataclass(frozen=True)
class MeanWeight:
    """The mean weight of a fish, in g, with what it rests on; or why it is not known."""

    weight_g: float | None
    why: str


def mean_weight(sample: LengthSample | None, species_key: str) -> MeanWeight:
    """What one fish weighs: as weighed, else by the species' weight law inside its lengths."""
    if sample is None:
        return MeanWeight(None, "no sample yet: measure or weigh some")
    if sample.weighed_g is not None and sample.weighed_fish:
        each = sample.weighed_g / sample.weighed_fish
        return MeanWeight(each, f"{sample.weighed_fish} fish weighed {sample.weighed_g:g} g")
    law = WEIGHT_LAWS.get(species_key)
    if law is None:
        return MeanWeight(None, "no published weight for this length: weigh some together")
    if sample.kind is not LengthKind.TOTAL:
        return MeanWeight(None, f"the weight law is for total length, this is {sample.kind}")
    weights = [law.weight_g(length) for length in sample.lengths_mm]
    known = [weight for weight in weights if weight is not None]
    if len(known) < len(weights):
        return MeanWeight(
            None,
            f"some are outside the {law.from_length:g}–{law.to_length:g} mm the weight law was "
            "made from: weigh some together",
        )
    return MeanWeight(fmean(known), f"by length, {law.source}; rough")


# --- The day of sale size -----------------------------------------------------------------


@dataclass(frozen=True)
class SaleSizeDay:
    """When a share of the fish reaches a length: a window, or why there is none.

    `low` and `high` bound the day at 95 %; both None where growth is too uncertain to bound.
    `carried_days` is how far past the last sample the likeliest day lies, 0 inside them.
    """

    share: float
    length_mm: float
    likely: date | None = None
    low: date | None = None
    high: date | None = None
    carried_days: int = 0
    unknown: str = ""

    @property
    def is_carried(self) -> bool:
        """Whether it rests on growth going on as it was."""
        return self.carried_days > 0


def sale_size_days(
    samples: Iterable[LengthSample],
    length_mm: float,
    room_time: RoomTime,
    shares: Sequence[float] = (0.5, 0.9),
) -> tuple[SaleSizeDay, ...]:
    """When half, and 90 %, of the fish reach `length_mm`, by a line through the sampled lengths.

    Days are counted from the first sample, so an unknown hatch night does not matter. Only
    measured lengths of the newest sample's kind count. Unknown with fewer than three fish a day,
    days less than a week apart, no growth, or farther on than twice what was sampled.
    """
    measured = [one for one in samples if not one.by_eye and len(one.lengths_mm) >= FEWEST_LENGTHS]
    measured.sort(key=lambda one: one.when.latest)
    measured = [one for one in measured if one.kind is measured[-1].kind]
    why = _too_little(measured)
    if why:
        return tuple(SaleSizeDay(share, length_mm, unknown=why) for share in shares)
    first = measured[0].when.middle
    ages: list[float] = []
    lengths: list[float] = []
    for one in measured:
        day = (one.when.middle - first) / timedelta(days=1)
        ages += [day] * len(one.lengths_mm)
        lengths += one.lengths_mm
    began_on = room_time.local(first).date()
    return tuple(
        _reached(ages, lengths, share, length_mm, measured[-1].spread, began_on)
        for share in shares
    )


def _too_little(measured: Sequence[LengthSample]) -> str:
    span = (
        (measured[-1].when.middle - measured[0].when.middle) / timedelta(days=1) if measured else 0
    )
    if span >= FEWEST_DAYS_APART:
        return ""
    return (
        f"not known: it takes {FEWEST_LENGTHS} or more measured fish on each of two days at least "
        f"{FEWEST_DAYS_APART} days apart"
    )


def _reached(
    ages: Sequence[float], lengths: Sequence[float], share: float, length_mm: float,
    spread: SizeSpread | None, began_on: date,
) -> SaleSizeDay:  # fmt: skip
    line = length_line(ages, lengths)
    deviation = spread.standard_deviation if spread is not None else 0.0
    found = None
    if line is not None:
        found = age_at_length(
            line, length_mm, share=share, spread_sd_mm=deviation, one_sample=False
        )
    if line is None or found is None:
        return SaleSizeDay(share, length_mm, unknown="not known: the samples show no growth")
    if found.carried_days > FARTHEST * (line.last_age - line.first_age):
        return SaleSizeDay(
            share, length_mm,
            unknown="not known: too far past the samples to carry the line on; sample again",
        )  # fmt: skip
    bounds = (found.low, found.high)
    low, high = (None if age is None else began_on + timedelta(days=_whole(age)) for age in bounds)
    return SaleSizeDay(
        share, length_mm, began_on + timedelta(days=round(found.age)), low,
        None if high is None else high + timedelta(days=1), math.ceil(found.carried_days),
    )  # fmt: skip


def _whole(days: float) -> int:
    """Days down to a whole one; so far off that the calendar ends, held at a century."""
    return max(-36500, min(36500, math.floor(days)))
