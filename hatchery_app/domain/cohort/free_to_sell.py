"""How many of a cohort are free to sell, with every term named."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.when import say_date


@dataclass(frozen=True)
class OfSaleSize:
    """What is known of how many of a cohort have sale size (`length_mm`).

    Of `measured` fish so many were `of_size`, on a day; none measured: nobody knows, but for
    what their age says. `length_by_age_mm` is the published length of the oldest of them, None
    outside the days it was fitted to.
    """

    length_mm: float
    measured: int = 0
    of_size: int = 0
    measured_on: date | None = None
    by_eye: bool = False
    length_by_age_mm: float | None = None

    @property
    def share(self) -> float | None:
        """The share of the fish measured that had sale size, None where nobody measured."""
        return self.of_size / self.measured if self.measured else None

    @property
    def is_too_young(self) -> bool:
        """Whether, unmeasured, the published length at their age is below sale size."""
        return (
            not self.measured and self.length_by_age_mm is not None
            and self.length_by_age_mm < self.length_mm
        )  # fmt: skip

    def said(self, alive: HowMany) -> str:
        """ "about 0 of 130 have sale size (0–36; 0 of 10 measured Tue 24 Nov had 25 mm)"."""
        from hatchery_app.domain.stock_book.survival import wilson

        if self.share is None:
            age = ""
            if self.length_by_age_mm is not None:
                age = f"; published at their age {self.length_by_age_mm:.0f} mm"
            return f"unknown how many have sale size ({self.length_mm:g} mm{age}): nobody measured"
        day = f" {say_date(self.measured_on)}" if self.measured_on else ""
        seen = (
            f"{self.of_size} of {self.measured} measured{' by eye' if self.by_eye else ''}{day} "
            f"had {self.length_mm:g} mm"
        )
        if alive.best is None:
            return seen
        band = wilson(self.of_size, self.measured)
        low, high = round(band.low * alive.best), round(band.high * alive.best)
        return (
            f"about {round(self.share * alive.best)} of {alive.best} have sale size "
            f"({low}–{high}; {seen})"
        )


@dataclass(frozen=True)
class FreeToSell:
    """Free = alive - held - kept - barred - in quarantine - below sale size.

    Each fish stands under one term only, the first that fits it in that order, so that a held
    fish below sale size is not taken off twice. Fish sold have left and are no term.
    `small_by_sample` of those left over are below sale size by the share of a sample (`size`):
    selling them is asked about and not refused. `barred_because` bars all of them ("practice
    clutch, none to leave the room").
    Raises RuleBroken for a term below none.
    """

    alive: HowMany
    held: int = 0
    kept: int = 0
    barred: int = 0
    in_quarantine: int = 0
    below_sale_size: int = 0
    barred_because: str = ""
    small_by_sample: int = 0
    size: OfSaleSize | None = None

    def __post_init__(self) -> None:
        if any(number < 0 for _, number in self.terms):
            raise RuleBroken("A number of fish cannot be below 0.", field="number")

    @property
    def terms(self) -> tuple[tuple[str, int], ...]:
        """What is taken off, in order, with its name."""
        return (
            ("held", self.held),
            ("kept", self.kept),
            ("barred", self.barred),
            ("in quarantine", self.in_quarantine),
            ("below sale size", self.below_sale_size + self.small_by_sample),
        )

    @property
    def spoken_for(self) -> int:
        """All that is taken off."""
        return sum(number for _, number in self.terms) - self.small_by_sample

    @property
    def promised_too_many(self) -> int:
        """By how many the terms exceed the fish alive; a hold must then be released."""
        return max(0, self.spoken_for - (self.alive.best or 0)) if self.alive.is_known else 0

    @property
    def free(self) -> int | None:
        """How many may be sold as they are; None while the number alive is not known."""
        whole = self.free_of_any_size
        return None if whole is None else max(0, whole - self.small_by_sample)

    @property
    def is_size_unknown(self) -> bool:
        """Whether nobody measured how many of those free have sale size."""
        return self.size is not None and not self.size.measured

    @property
    def free_of_any_size(self) -> int | None:
        """How many are nobody else's, those a sample says are small among them."""
        if self.barred_because:
            return 0
        if self.alive.best is None:
            return None
        return max(0, self.alive.best - self.spoken_for)

    def said(self) -> str:
        """The sum, and what is known of their size."""
        if self.size is None or self.barred_because:
            return self.sum_said()
        return f"{self.sum_said()}; {self.size.said(self.alive)}"

    def sum_said(self) -> str:
        """The sum in words: "59 alive − 12 held − 2 kept = 45 free"."""
        if self.barred_because:
            return f"none free: {self.barred_because}"
        if self.alive.best is None:
            return "free not known until they are counted"
        taken = "".join(f" − {number} {name}" for name, number in self.terms if number)
        if self.promised_too_many:
            return f"{self.alive.best} alive{taken}: {self.promised_too_many} too many are promised"
        return f"{self.alive.best} alive{taken} = {self.free} free"


def check_sale(free_to_sell: FreeToSell, number: int) -> None:
    """Refuse a sale of more than are free, saying the sum. Raises RuleBroken or NotKnown."""
    if free_to_sell.free is None:
        raise NotKnown("How many are free is not known: count them first.", field="number")
    if number <= (free_to_sell.free_of_any_size or 0):
        return
    way_out = " Release a hold first." if free_to_sell.held else ""
    if free_to_sell.barred_because:
        way_out = ""
    why = free_to_sell.sum_said()
    raise RuleBroken(f"{number} cannot be sold: {why}.{way_out}", field="number")


def arrival_loss_percent(sold: int, dead_on_arrival: int) -> float:
    """Fish dead on arrival, in % of those sent; a loss at the buyer's, not in the room."""
    if sold <= 0 or not 0 <= dead_on_arrival <= sold:
        raise RuleBroken(f"{dead_on_arrival} dead of {sold} sent cannot be.", field="number")
    return 100 * dead_on_arrival / sold
