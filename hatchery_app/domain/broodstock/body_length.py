"""Lengths of fish: dated, measured or by eye, with what was measured; one beside another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import When

RANK_RATIO = 1.26
"""Length of a fish over the next in rank, wild A. percula (Buston & Cant 2006, Oecologia
149:362-372, abstract; published)."""

CAUTION_RATIO = 1.2
"""Below this two fish put together are watched more closely: a caution, not a law (common
practice)."""

SMALLEST_MM, LARGEST_MM = 1.0, 500.0
OLD_LENGTH_DAYS = 180


class LengthKind(StrEnum):
    """What was measured. Ratios are taken between lengths of one kind only."""

    TOTAL = "total"
    STANDARD = "standard"
    FORK = "fork"
    UNKNOWN = "not said which"


@dataclass(frozen=True)
class LengthSeen:
    """One dated length in mm; by eye is legal. `low_mm`–`high_mm` where a range was said."""

    when: When
    length_mm: float
    kind: LengthKind = LengthKind.UNKNOWN
    by_eye: bool = False
    low_mm: float | None = None
    high_mm: float | None = None

    def __post_init__(self) -> None:
        low = self.length_mm if self.low_mm is None else self.low_mm
        high = self.length_mm if self.high_mm is None else self.high_mm
        if not SMALLEST_MM <= low <= self.length_mm <= high <= LARGEST_MM:
            raise RuleBroken(
                f"A fish of {self.length_mm:g} mm ({low:g}–{high:g}) cannot be: lengths run from "
                f"{SMALLEST_MM:g} to {LARGEST_MM:g} mm, the smallest first.",
                field="length_mm",
            )

    def said(self) -> str:
        """In words: "68 mm total", "about 80 mm by eye"."""
        kind = "" if self.kind is LengthKind.UNKNOWN else f" {self.kind}"
        if self.by_eye:
            return f"about {self.length_mm:g} mm{kind} by eye"
        return f"{self.length_mm:g} mm{kind}"


def length_at(lengths: Iterable[LengthSeen], moment: datetime) -> LengthSeen | None:
    """The newest length known at a moment; of two of one moment the measured one."""
    known = [x for x in lengths if x.when.earliest <= moment]
    return max(known, key=lambda x: (x.when.latest, not x.by_eye), default=None)


class Beside(StrEnum):
    """How one fish looks beside another, by eye: evidence where no length is known."""

    CLEARLY_BIGGER = "clearly bigger"
    A_LITTLE_BIGGER = "a little bigger"
    ALIKE = "alike"
    A_LITTLE_SMALLER = "a little smaller"
    CLEARLY_SMALLER = "clearly smaller"

    @property
    def turned_round(self) -> Beside:
        """The same look, told from the other fish."""
        order = list(Beside)
        return order[len(order) - 1 - order.index(self)]


@dataclass(frozen=True)
class SizeCompared:
    """Seen then: fish `fish_id` looked `beside` compared with `other_id`."""

    when: When
    fish_id: int
    other_id: int
    beside: Beside

    def __post_init__(self) -> None:
        if self.fish_id == self.other_id:
            raise RuleBroken("A fish is compared with another fish, not with itself.")


@dataclass(frozen=True)
class SizeRatio:
    """Larger over smaller of two fish, as far as it is known.

    `ratio` is None where no two lengths of one kind are known; `beside` then may hold what the
    eye says. `words` says which, `old` that a length is over half a year old.
    """

    ratio: float | None
    low: float | None
    high: float | None
    beside: Beside | None
    words: str
    old: bool = False

    @property
    def is_known(self) -> bool:
        return self.ratio is not None or self.beside is not None

    @property
    def is_larger(self) -> bool | None:
        """Whether the first is the larger; None where that is not known, or they are alike.

        The eye is believed before a length over half a year old, a length before the eye.
        """
        seen = self.beside not in (None, Beside.ALIKE)
        if self.low is None or self.high is None or (self.old and seen):
            bigger = (Beside.CLEARLY_BIGGER, Beside.A_LITTLE_BIGGER)
            return self.beside in bigger if seen else None
        if self.low <= 1.0 <= self.high:
            return None
        return self.low > 1.0

    def is_clear(self, ratio_wanted: float) -> bool:
        """Whether the first is larger by the ratio wanted, or clearly bigger by eye."""
        if self.beside is Beside.CLEARLY_BIGGER:
            return True
        return self.ratio is not None and self.ratio >= ratio_wanted


def size_ratio(
    larger: LengthSeen | None,
    smaller: LengthSeen | None,
    beside: Beside | None,
    now: datetime,
) -> SizeRatio:
    """Length of the one that should be larger over the other, in words too.

    `beside` is what the eye said of the first beside the second. Lengths of two different kinds
    (total against standard) give no ratio: that is said, nothing is converted.
    """
    eye = f"{beside} by eye" if beside else ""
    if larger is None or smaller is None:
        which = "neither length" if larger is smaller else "one length not"
        words = f"{eye}, {which} known" if eye else f"size not compared: {which} known"
        return SizeRatio(None, None, None, beside, words)
    if larger.kind is not smaller.kind:
        words = f"no ratio: one length is {larger.kind}, the other {smaller.kind}"
        return SizeRatio(None, None, None, beside, f"{eye}; {words}" if eye else words)
    ratio = larger.length_mm / smaller.length_mm
    low = (larger.low_mm or larger.length_mm) / (smaller.high_mm or smaller.length_mm)
    high = (larger.high_mm or larger.length_mm) / (smaller.low_mm or smaller.length_mm)
    old = any((now - x.when.latest).days > OLD_LENGTH_DAYS for x in (larger, smaller))
    words = f"{ratio:.2f} times ({larger.said()} against {smaller.said()})"
    if low < high:
        words += f", between {low:.2f} and {high:.2f}"
    if old:
        words += ", from a length over half a year old"
    return SizeRatio(ratio, low, high, beside, f"{eye}; {words}" if eye else words, old)


def compared_at(
    seen: Sequence[SizeCompared], fish_id: int, other_id: int, moment: datetime
) -> Beside | None:
    """What the eye last said of one fish beside another by that moment, told either way round."""
    about = [
        c
        for c in seen
        if {c.fish_id, c.other_id} == {fish_id, other_id} and c.when.earliest <= moment
    ]
    last = max(about, key=lambda c: c.when.latest, default=None)
    if last is None:
        return None
    return last.beside if last.fish_id == fish_id else last.beside.turned_round


def rank_ladder_mm(largest_mm: float, ranks: int) -> tuple[float, ...]:
    """Lengths in mm to be expected down a group of `ranks` fish, the largest first.

    Each is the one above divided by 1.26 (Buston & Cant 2006; derived). For a group of two to
    six fish, the size of group the ratio was measured in; refused outside it.
    """
    if not 2 <= ranks <= 6:
        raise RuleBroken("The ladder of ranks is known for groups of two to six fish.")
    if not SMALLEST_MM <= largest_mm <= LARGEST_MM:
        raise RuleBroken(f"A largest fish of {largest_mm:g} mm cannot be.", field="length_mm")
    return tuple(largest_mm / RANK_RATIO**rank for rank in range(ranks))
