"""Pairs as dated links between two fish: who was with whom, since when, and why it ended.

A pair is not a tank and not a name: two fish in another tank are the same pair, a new mate in
the old tank is a new pair with its own first clutch.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.when import When

A_MOVE_TAKES = timedelta(days=1)
"""Two links that overlap by no more than this are one move: entered by the day, in any order."""


class LinkKind(StrEnum):
    """Paired, or kept in one tank without being a pair (held for company, or to be watched)."""

    PAIR = "pair"
    KEPT_WITH = "kept with"


class EndedBecause(StrEnum):
    """Why a link ended."""

    FEMALE_LOST = "female lost"
    MALE_LOST = "male lost"
    SWAPPED = "moved to another mate"
    SEPARATED = "separated"
    SOLD = "sold"
    RETIRED = "retired"
    NOT_SAID = "not said"


@dataclass(frozen=True)
class PairLink:
    """Two fish linked from `since` to `until` (None: still).

    `female_id` is the fish that is, or is thought to become, the female; in a link that is only
    "kept with" the order says nothing. Refused: one fish as both, an end before the beginning,
    a reason without an end.
    """

    pair_id: int
    female_id: int
    male_id: int
    since: When
    until: When | None = None
    ended_because: EndedBecause | None = None
    kind: LinkKind = LinkKind.PAIR

    def __post_init__(self) -> None:
        if self.female_id == self.male_id:
            raise RuleBroken("A pair is two fish: the same fish was given twice.", field="male")
        if self.until is not None and self.until.latest < self.since.earliest:
            raise RuleBroken("A pair cannot end before it began.", field="until")
        if self.until is None and self.ended_because is not None:
            raise RuleBroken(
                f"The reason it ended is given ({self.ended_because}), but not when.",
                field="until",
            )

    @property
    def fish_ids(self) -> frozenset[int]:
        return frozenset((self.female_id, self.male_id))

    @property
    def is_pair(self) -> bool:
        return self.kind is LinkKind.PAIR

    def mate_of(self, fish_id: int) -> int:
        """The other fish of the two; refused for a fish that is neither."""
        if fish_id not in self.fish_ids:
            raise RuleBroken(f"Fish {fish_id} is not of pair {self.pair_id}.")
        return self.male_id if fish_id == self.female_id else self.female_id

    def stands_at(self, moment: datetime) -> bool:
        """Whether the two may have been together then: a vague beginning or end includes it."""
        ended = self.until is not None and self.until.latest <= moment
        return self.since.earliest <= moment and not ended

    def ended(self, when: When, because: EndedBecause) -> PairLink:
        """This link with its end."""
        return replace(self, until=when, ended_because=because)


def links_at(
    fish_id: int, links: Iterable[PairLink], moment: datetime
) -> tuple[PairLink, ...]:
    """Every link a fish was in at a moment, pairs before "kept with"."""
    standing = [k for k in links if fish_id in k.fish_ids and k.stands_at(moment)]
    return tuple(sorted(standing, key=lambda k: (not k.is_pair, k.since.earliest)))


def pairs_at(
    fish_id: int, links: Iterable[PairLink], moment: datetime
) -> tuple[PairLink, ...]:
    """The pair a fish was in at a moment; more than one only where vague dates allow both."""
    return tuple(k for k in links_at(fish_id, links, moment) if k.is_pair)


def overlapping(new: PairLink, links: Iterable[PairLink]) -> tuple[PairLink, ...]:
    """Pairs that share a fish with a new pair for longer than a move can take.

    Links whose vague dates allow one to have ended before the other began do not overlap; nor
    does anything overlap with "kept with".
    """
    if not new.is_pair:
        return ()
    return tuple(
        k
        for k in links
        if k.is_pair
        and k.pair_id != new.pair_id
        and k.fish_ids & new.fish_ids
        and _together_days_at_least(k, new) > A_MOVE_TAKES
    )


def _together_days_at_least(one: PairLink, other: PairLink) -> timedelta:
    began = max(one.since.latest, other.since.latest)
    ends = [k.until.earliest for k in (one, other) if k.until is not None]
    return min(ends) - began if ends else timedelta.max


@dataclass(frozen=True)
class Paired:
    """What a new link comes to: the link as it is stored, and earlier pairs that it ends."""

    link: PairLink
    ended: tuple[PairLink, ...] = ()


def settle_new_link(
    new: PairLink, links: Sequence[PairLink], answer: str | None = None
) -> Paired:
    """Take up a new link, asking once where one of its fish stands in another pair.

    Answers: "move" ends the earlier pairs when the new one begins, "kept_with" makes the new
    link one of company only. Two tanks on one day is a move and is not asked about. A pair
    that overlaps one already ended cannot be a move: then only "kept with" is offered.
    """
    clash = overlapping(new, links)
    if any(k.fish_ids == new.fish_ids for k in clash):
        raise RuleBroken("These two stand as a pair already.", field="male")
    if not clash or answer == "kept_with":
        kind = LinkKind.KEPT_WITH if clash else new.kind
        return Paired(replace(new, kind=kind))
    may_be_a_move = all(k.until is None and k.since.earliest <= new.since.latest for k in clash)
    if answer == "move" and may_be_a_move:
        ended = (k.ended(new.since, EndedBecause.SWAPPED) for k in clash)
        return Paired(new, tuple(ended))
    move = (("move", "A move: the earlier pair ends then"),) if may_be_a_move else ()
    raise Asked(
        "One of these two stands in another pair at that time. "
        + ("Is this a move, or are they kept together but not paired?" if may_be_a_move
           else "Were they kept together but not paired?"),
        question="overlapping_pairs",
        answers=(*move, ("kept_with", "Kept with, not paired")),
        field="male",
    )


def single_since(fish_id: int, links: Iterable[PairLink], moment: datetime) -> When | None:
    """When the fish's last pair ended, if it is in none at that moment and ever was in one."""
    own = [k for k in links if k.is_pair and fish_id in k.fish_ids]
    if pairs_at(fish_id, own, moment):
        return None
    ends = [k.until for k in own if k.until is not None and k.until.earliest <= moment]
    return max(ends, key=lambda end: end.latest, default=None)


def pair_from_group(
    group_left: int, new: PairLink, named: Sequence[int]
) -> tuple[int, PairLink]:
    """A pair that formed by itself in a group: its two fish get names then and leave the count.

    `named` are the fish of the pair that came out of the group's number (both, or one when the
    other was known by name before). Returns how many are left without identity, and the link.
    Refused when the group has fewer than that, or a named fish is not of the pair.
    """
    if not set(named) <= new.fish_ids or not named:
        raise RuleBroken("Name the fish of the new pair that came from the group.")
    if group_left < len(set(named)):
        raise RuleBroken(
            f"The group has {group_left} fish left: a pair of {len(set(named))} cannot have "
            "formed in it.",
            field="group",
        )
    return group_left - len(set(named)), new
