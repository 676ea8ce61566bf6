"""Settlement inside one batch: so many on the bottom, so many still swimming."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import When


@dataclass(frozen=True)
class SettlementSplit:
    """A look at one batch: its settled and its swimming fish, which remain the same batch.

    Those still swimming are late, not dead. Raises RuleBroken for a number below none.
    """

    when: When
    settled: int
    swimming: int

    def __post_init__(self) -> None:
        if self.settled < 0 or self.swimming < 0:
            raise RuleBroken("A number of fish cannot be below 0.", field="settled")

    @property
    def alive(self) -> int:
        """Settled and swimming together."""
        return self.settled + self.swimming

    def said(self) -> str:
        """In words: "84 alive: 52 settled, 32 swimming"."""
        return f"{self.alive} alive: {self.settled} settled, {self.swimming} swimming"


def split_of(when: When, *, alive: int, settled: int) -> SettlementSplit:
    """The split when the settled are counted and the rest swim. Refuses more settled than alive."""
    if settled > alive:
        raise RuleBroken(f"{settled} settled of {alive} alive cannot be.", field="settled")
    return SettlementSplit(when, settled, alive - settled)


@dataclass(frozen=True)
class SettlementDates:
    """When the first, half and the last of a batch settled; each lies between two looks.

    None until it has been seen.
    """

    first: When | None
    half: When | None
    last: When | None


def settlement_dates(looks: Sequence[SettlementSplit]) -> SettlementDates:
    """First, half and last from the looks, each from the last look without it to the first with.

    Half is half of those alive at that look; last is the first look with none swimming. Where the
    first look already shows it, it is dated by that look alone.
    """
    ordered = sorted((look for look in looks if look.alive), key=lambda look: look.when.latest)
    return SettlementDates(
        first=_since(ordered, [look.settled > 0 for look in ordered]),
        half=_since(ordered, [2 * look.settled >= look.alive for look in ordered]),
        last=_since(ordered, [look.swimming == 0 for look in ordered]),
    )


def _since(looks: Sequence[SettlementSplit], shown: Sequence[bool]) -> When | None:
    if True not in shown:
        return None
    here = list(shown).index(True)
    if here == 0:
        return looks[0].when
    return When.between(looks[here - 1].when.earliest, looks[here].when.latest)
