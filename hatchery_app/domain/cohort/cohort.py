"""A cohort growing on: what is promised and set aside of it, and how thick it stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from hatchery_app.domain.cohort.free_to_sell import FreeToSell, OfSaleSize, check_sale
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.since import days_said
from hatchery_app.domain.when import Night

FREE_UNKNOWN = "free_unknown"
TOO_SMALL = "below_sale_size"

TRIED_FROM_PER_L, TRIED_TO_PER_L = 0.5, 3.0
"""Fish per litre tried for four months with A. percula; 0.5 was best (Chambel et al. 2015,
SpringerPlus 4:183; published)."""


CLOWNFISH = "amphiprion_"  # the published ration was measured on one of this genus


class GradedOut(StrEnum):
    """Which fish were taken to another tank when a cohort was graded."""

    LARGEST = "graded up: the largest"
    SMALLEST = "graded down: the smallest"


class Aside(StrEnum):
    """Why fish are set aside. Kept fish stay in the cohort until they are taken out."""

    KEPT = "kept as breeders"
    NOT_FOR_SALE = "not for sale"
    NOT_FOR_BREEDING = "not for breeding"
    NEITHER = "not for sale or breeding"
    QUARANTINE = "in quarantine"
    BELOW_SALE_SIZE = "below sale size"

    @property
    def bars_sale(self) -> bool:
        """Whether such a fish is not free to sell."""
        return self is not Aside.NOT_FOR_BREEDING

    @property
    def bars_breeding(self) -> bool:
        """Whether such a fish is not to be bred from."""
        return self in (Aside.NOT_FOR_BREEDING, Aside.NEITHER)


@dataclass(frozen=True)
class SetApart:
    """Fish set aside and why; `number` None means all of them.

    `with_batch` names the batch they were set aside in, where they came from it since.
    """

    why: Aside
    number: int | None
    reason: str = ""
    with_batch: str = ""

    def __post_init__(self) -> None:
        if self.number is not None and self.number < 1:
            raise RuleBroken("Set at least one fish aside, or all of them.", field="number")
        needs_reason = self.why in (Aside.NOT_FOR_SALE, Aside.NOT_FOR_BREEDING, Aside.NEITHER)
        if needs_reason and not self.reason.strip():
            raise RuleBroken("Say why; whoever wants to sell them will ask.", field="reason")

    def said(self) -> str:
        """ "2 kept as breeders", "all not for sale: practice clutch (with Batch 3)"."""
        number = "all" if self.number is None else str(self.number)
        reason = f": {self.reason}" if self.reason else ""
        since = f" (with {self.with_batch})" if self.with_batch else ""
        return f"{number} {self.why}{reason}{since}"


@dataclass(frozen=True)
class Hold:
    """Fish promised to somebody until a day; `number` is what is left of it."""

    number: int
    for_whom: str = ""
    until_on: date | None = None

    def is_past(self, today: date) -> bool:
        """Whether its last day is over. It still holds until it is sold or released."""
        return self.until_on is not None and self.until_on < today


def free_to_sell(
    alive: HowMany, holds: Sequence[Hold], apart: Sequence[SetApart],
    size: OfSaleSize | None = None,
) -> FreeToSell:  # fmt: skip
    """What of a cohort may be sold, every fish under one term only.

    Holds and kept fish are promises and stand in full; bars, quarantine and small fish take no
    more than what those leave, since a held fish may be small as well. Of what is left when all
    these are off, a sample's share is small; fish set aside as small count towards it.
    """
    everyone = [one for one in apart if one.number is None and one.why.bars_sale]
    held = sum(hold.number for hold in holds)
    kept = _number(apart, Aside.KEPT)
    left = None if alive.best is None else max(0, alive.best - held - kept)
    clipped = []
    for why in ((Aside.NOT_FOR_SALE, Aside.NEITHER), (Aside.QUARANTINE,), (Aside.BELOW_SALE_SIZE,)):
        number = _number(apart, *why)
        number = number if left is None else min(number, left)
        left = None if left is None else left - number
        clipped.append(number)
    barred, quarantined, small = clipped
    by_sample = 0
    if left is not None and size is not None and size.share is not None:
        by_sample = max(0, left - round(size.share * (left + small)))
    return FreeToSell(
        alive, held, kept, barred, quarantined, small,
        barred_because="; ".join(one.said() for one in everyone),
        small_by_sample=by_sample, size=size,
    )  # fmt: skip


def _number(apart: Sequence[SetApart], *why: Aside) -> int:
    return sum(one.number or 0 for one in apart if one.why in why)


def not_for_breeding(apart: Sequence[SetApart]) -> str:
    """Why no fish of it may be bred from, "" where one may."""
    return "; ".join(
        one.said() for one in apart if one.number is None and one.why.bars_breeding
    )


def check_may_be_sold(free: FreeToSell, number: int, answers: Mapping[str, str]) -> None:
    """Refuse a sale of more than are free, with the sum; ask where nobody counted them.

    Raises RuleBroken (field "number"), or Asked under "free_unknown" (answer "sell"), and under
    "below_sale_size" (answer "sell") where a sample or their age says that they are small.
    """
    _check_free(free, number, answers, "sold")
    small = free.size is not None and (
        free.size.is_too_young or (free.free is not None and number > free.free)
    )
    if free.size is not None and small and answers.get(TOO_SMALL) != "sell":
        said = free.size.said(free.alive)
        raise Asked(
            f"{said[0].upper()}{said[1:]}. Are {number} to be sold all the same?",
            TOO_SMALL,
            (("sell", f"Yes, sell {number} of the size they are"),),
            field="number",
        )


def check_may_be_held(free: FreeToSell, number: int, answers: Mapping[str, str]) -> None:
    """Refuse to promise more than are free; as `check_may_be_sold`."""
    whole = free.free_of_any_size
    if whole is not None and number > whole:
        raise RuleBroken(f"{number} cannot be held: {free.sum_said()}.", field="number")
    _check_free(free, number, answers, "held")


def _check_free(free: FreeToSell, number: int, answers: Mapping[str, str], done: str) -> None:
    if number < 1:
        raise RuleBroken(f"At least one fish is {done}.", field="number")
    if free.free is not None:
        check_sale(free, number)
    elif answers.get(FREE_UNKNOWN) != "sell":
        raise Asked(
            f"How many are alive is not known ({free.alive.said()}), and {free.spoken_for} are "
            f"spoken for. Are {number} really free to be {done}?",
            FREE_UNKNOWN,
            (("sell", f"Yes, {number} are there and free"),),
            field="number",
        )


@dataclass(frozen=True)
class StockingDensity:
    """Fish to the litre, with the bounds the number has. Litres above 0."""

    fish: HowMany
    litres: float

    @property
    def per_litre(self) -> float | None:
        """By the best number; None where it is not known."""
        return None if self.fish.best is None else self.fish.best / self.litres

    def said(self) -> str:
        """ "0.59 fish per litre (59 counted in 100 L)", or that it is not known."""
        if self.per_litre is None:
            return f"not known: {self.fish.said()} in {self.litres:g} L"
        return f"{self.per_litre:.2g} fish per litre ({self.fish.said()} in {self.litres:g} L)"

    def beside_the_trial(self) -> str:
        """How that stands beside the published trial."""
        trial = (
            f"Tried with percula for four months: {TRIED_FROM_PER_L:g} to {TRIED_TO_PER_L:g} fish "
            f"per litre, best at {TRIED_FROM_PER_L:g} (Chambel et al. 2015, published)."
        )
        if self.per_litre is None or self.per_litre <= TRIED_TO_PER_L:
            return trial
        return f"{trial} This is thicker than anything tried there."


def has_published_ration(species_key: str) -> bool:
    """Whether the clownfish ration may be asked of a species."""
    return species_key.startswith(CLOWNFISH)


def parse_hatched(text: str, today: date, field: str = "hatched") -> tuple[Night, Night] | None:
    """When a batch hatched as far as anybody knows: "2026-05-14", "May", "about May 2025".

    "2026-05-01 to 2026-05-20" is a span; "" and "?" are None, not known. A month without a year
    is the last one that has begun. Raises RuleBroken for what cannot be read or lies ahead.
    """
    if text.strip().casefold() in ("", "?", "unknown", "not known"):
        return None
    found = days_said(text, today, field)
    if found is None:
        raise RuleBroken(
            f"“{text}” is not a day or month: write 2026-05-14, May, May 2025, summer 2025, about "
            "3 months, or leave it empty.",
            field=field,
        )
    first, last = found
    if last < first:
        raise RuleBroken(f"“{text}” runs from later to earlier.", field=field)
    if first > today:
        raise RuleBroken(f"“{text}” lies ahead: they have hatched.", field=field)
    return Night(first), Night(min(last, today))
