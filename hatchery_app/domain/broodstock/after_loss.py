"""What stands and what is pending once a mate is lost: the pair ends, its eggs do not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from hatchery_app.domain.broodstock.pairing import EndedBecause, PairLink, pairs_at, single_since
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import When


class PendingKind(StrEnum):
    """What a loss leaves open."""

    EGGS_TO_HATCH = "eggs to hatch"
    HATCH_WATCH = "hatch watch"
    SURVIVOR_SINGLE = "single since"
    RE_PAIR = "to pair again"


@dataclass(frozen=True)
class OpenClutch:
    """A clutch that has not ended. Its parents stay those that made it, dead or moved."""

    clutch_id: int
    pair_id: int
    mother_id: int | None
    laid: When
    tended_by: str = ""


@dataclass(frozen=True)
class Pending:
    """One thing that is open, about the clutch or fish `subject_id`, since `since`."""

    kind: PendingKind
    subject_id: int
    sentence: str
    since: When


@dataclass(frozen=True)
class AfterLoss:
    """The page after a loss: the ended pair, the fish that is left, what is pending.

    `single_since` is None once the survivor stands in a pair again. `next_spawn` says that the
    forecast has stopped; there is no date for a sex change anywhere in it.
    """

    pair: PairLink
    survivor_id: int
    single_since: When | None
    pending: tuple[Pending, ...]
    next_spawn: str


def end_pair_by_loss(pair: PairLink, lost_id: int, lost: When) -> PairLink:
    """The pair with its end, when one of its fish died, was sold or went missing.

    Refused for a fish that is not of the pair, and a loss before the pair began.
    """
    pair.mate_of(lost_id)
    if pair.until is not None:
        raise RuleBroken("This pair has ended already.", field="lost")
    female = lost_id == pair.female_id
    return pair.ended(lost, EndedBecause.FEMALE_LOST if female else EndedBecause.MALE_LOST)


def after_loss(
    pair: PairLink,
    lost_id: int,
    open_clutches: Sequence[OpenClutch],
    links: Sequence[PairLink],
    *,
    survivor_name: str,
    now: datetime,
) -> AfterLoss:
    """What is pending after the loss of one fish of an ended pair, at a moment.

    `links` are all links known; a clutch of the pair stays open with its mother and its hatch
    watch whatever became of her. Refused while the pair has no end.
    """
    if pair.until is None:
        raise RuleBroken("The pair still stands: enter the loss first.", field="lost")
    survivor_id = pair.mate_of(lost_id)
    pending = [
        part
        for clutch in open_clutches
        if clutch.pair_id == pair.pair_id
        for part in _of_clutch(clutch)
    ]
    every_link = {k.pair_id: k for k in (*links, pair)}.values()
    paired_again = bool(pairs_at(survivor_id, every_link, now))
    alone = None if paired_again else single_since(survivor_id, every_link, now)
    if alone is not None:
        pending += _of_survivor(survivor_id, survivor_name, alone)
    return AfterLoss(
        pair, survivor_id, alone, tuple(pending),
        f"No next spawn: the pair has ended ({pair.ended_because or EndedBecause.NOT_SAID}).",
    )


def _of_clutch(clutch: OpenClutch) -> tuple[Pending, Pending]:
    tended = f", tended by {clutch.tended_by}" if clutch.tended_by else ", nobody tends them"
    return (
        Pending(
            PendingKind.EGGS_TO_HATCH,
            clutch.clutch_id,
            f"Eggs to hatch{tended}; the clutch keeps its mother.",
            clutch.laid,
        ),
        Pending(
            PendingKind.HATCH_WATCH, clutch.clutch_id, "The hatch watch stays.", clutch.laid
        ),
    )


def _of_survivor(fish_id: int, name: str, alone: When) -> tuple[Pending, Pending]:
    return (
        Pending(PendingKind.SURVIVOR_SINGLE, fish_id, f"{name} is single.", alone),
        Pending(PendingKind.RE_PAIR, fish_id, f"{name} is to be paired again.", alone),
    )
