"""How many of a cohort are free to sell, with every term named."""

from __future__ import annotations

from dataclasses import dataclass

from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany


@dataclass(frozen=True)
class FreeToSell:
    """Free = alive - held - kept - barred - in quarantine - below sale size.

    Each fish stands under one term only, the first that fits it in that order, so that a held
    fish below sale size is not taken off twice. Fish sold have left and are no term.
    `barred_because` bars all of them ("practice clutch, none to leave the room").
    Raises RuleBroken for a term below none.
    """

    alive: HowMany
    held: int = 0
    kept: int = 0
    barred: int = 0
    in_quarantine: int = 0
    below_sale_size: int = 0
    barred_because: str = ""

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
            ("below sale size", self.below_sale_size),
        )

    @property
    def spoken_for(self) -> int:
        """All that is taken off."""
        return sum(number for _, number in self.terms)

    @property
    def promised_too_many(self) -> int:
        """By how many the terms exceed the fish alive; a hold must then be released."""
        return max(0, self.spoken_for - (self.alive.best or 0)) if self.alive.is_known else 0

    @property
    def free(self) -> int | None:
        """How many may be sold; None while the number alive is not known."""
        if self.barred_because:
            return 0
        if self.alive.best is None:
            return None
        return max(0, self.alive.best - self.spoken_for)

    def said(self) -> str:
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
    if number <= free_to_sell.free:
        return
    way_out = " Release a hold first." if free_to_sell.held else ""
    if free_to_sell.barred_because:
        way_out = ""
    raise RuleBroken(f"{number} cannot be sold: {free_to_sell.said()}.{way_out}", field="number")


def arrival_loss_percent(sold: int, dead_on_arrival: int) -> float:
    """Fish dead on arrival, in % of those sent; a loss at the buyer's, not in the room."""
    if sold <= 0 or not 0 <= dead_on_arrival <= sold:
        raise RuleBroken(f"{dead_on_arrival} dead of {sold} sent cannot be.", field="number")
    return 100 * dead_on_arrival / sold
