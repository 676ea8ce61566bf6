"""At what age batches of a species lose fish, so that "every time near day 10" shows.

The batch is the unit: how many of them lost a notable share at an age, not how many fish did. A
loss known only to lie between two looks far apart says nothing of an age and is left out there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hatchery_app.domain.stock_book.reared import FEWEST_BATCHES, Fate, Going, Reared

NOTABLE = 0.1  # of those alive as it began; below that a few weak fish make every day a bad one
WINDOW_DAYS = 3


@dataclass(frozen=True)
class LossMark:
    """One loss of one batch: from which day to which, how many, what share of those alive."""

    from_dph: int
    until_dph: int
    number: int
    share: float
    fate: Fate


@dataclass(frozen=True)
class LossesOfBatch:
    """The losses of one batch in order of age, and the age it was followed to."""

    key: int
    until_dph: int
    marks: tuple[LossMark, ...]


@dataclass(frozen=True)
class BadDays:
    """So many batches lost a tenth or more of their fish within these days, of those followed.

    `first` and `last` are dph, both included.
    """

    first: int
    last: int
    batches: int
    of: int

    def said(self) -> str:
        """ "In 7 of 9 batches a tenth or more was lost between 9 and 11 dph."."""
        return (
            f"In {self.batches} of {self.of} batches a tenth or more was lost between "
            f"{self.first} and {self.last} dph."
        )


def losses_of(batch: Reared) -> LossesOfBatch:
    """The losses of one batch, those put down among them."""
    marks = tuple(_mark(batch, going) for going in batch.goings if going.is_loss)
    return LossesOfBatch(batch.key, batch.until_dph, marks)


def _mark(batch: Reared, going: Going) -> LossMark:
    alive = batch.alive_before(going)
    share = going.number / alive if alive else 1.0
    return LossMark(going.from_dph, going.until_dph, going.number, min(1.0, share), going.fate)


def bad_days(batches: Sequence[Reared]) -> tuple[BadDays, ...]:
    """The days of age at which most batches lost fish, the worst first, none overlapping.

    Only where five or more batches were followed and at least half of them lost a tenth or more
    of those alive within three days. Empty where no age stands out so.
    """
    last = max((one.until_dph for one in batches), default=-1)
    found = []
    for first in range(last + 1):
        window = range(first, first + WINDOW_DAYS)
        told = [hit for one in batches if (hit := _lost_notably(one, window)) is not None]
        if len(told) >= FEWEST_BATCHES and 2 * sum(told) >= len(told):
            found.append(BadDays(first, window[-1], sum(told), len(told)))
    found.sort(key=lambda days: (-days.batches / days.of, -days.of, days.first))
    kept: list[BadDays] = []
    for days in found:
        if all(days.last < one.first or one.last < days.first for one in kept):
            kept.append(days)
    return tuple(kept)


def _lost_notably(batch: Reared, window: range) -> bool | None:
    """Whether a batch lost a notable share in these days; None where nobody can say."""
    first, last = window[0], window[-1]
    if not (batch.all_dead or batch.until_dph >= first):
        return None
    losses = [going for going in batch.goings if going.is_loss]
    inside = [one for one in losses if first <= one.from_dph and one.until_dph <= last]
    alive = batch.number - sum(one.number for one in batch.goings if one.until_dph < first)
    if alive <= 0:
        return None
    if sum(one.number for one in inside) >= NOTABLE * alive:
        return True
    touching = [
        one
        for one in losses
        if one not in inside and one.from_dph <= last and one.until_dph >= first
    ]
    # A band that only reaches into these days may or may not have fallen on them.
    could_be = sum(one.number for one in (*inside, *touching))
    if touching and could_be >= NOTABLE * alive:
        return None
    return False if batch.all_dead or batch.until_dph >= last else None
