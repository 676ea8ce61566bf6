"""The breeding stock as a whole: mean kinship, founders' shares, and effective numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hatchery_app.domain.broodstock.kinship import (
    Kinship,
    Pedigree,
    relationship_matrix,
    too_much_to_try,
)
from hatchery_app.domain.errors import RuleBroken


@dataclass(frozen=True)
class StockKinship:
    """Mean kinship of each living fish, and of the stock, with what it leaves of diversity.

    `gene_diversity` is 1 − mean kinship; `one_over_twice_mean_kinship` its inverse form (Lacy
    1995; from memory). The latter is not the founder genome equivalent of Lacy 1989, which
    leaves self-kinship out of account: on his own example the two differ (1.78 against 2.18).
    """

    of_fish: Mapping[int, Kinship]
    mean: Kinship

    @property
    def gene_diversity(self) -> tuple[float, float]:
        """Least and most; an upper bound where parents are not known."""
        return 1 - self.mean.high, 1 - self.mean.low

    @property
    def one_over_twice_mean_kinship(self) -> tuple[float, float]:
        """Least and most."""
        return 1 / (2 * self.mean.high), 1 / (2 * self.mean.low)


def stock_kinship(pedigree: Pedigree, living: Sequence[int]) -> StockKinship:
    """Mean kinship of each living fish with all living, itself included (Ballou & Lacy 1995).

    Refused for an empty stock. Candidates give ranges; unknown parents are carried along.
    """
    order, settled = _matrices(pedigree, living)
    if not settled:
        unknown = Kinship(1 / (2 * len(living)), 1.0, too_many=True)  # self-kinship at least
        return StockKinship(dict.fromkeys(living, unknown), unknown)
    unknown_through = tuple(sorted(f for f in order if pedigree.birth(f).has_unknown_parent))
    places = [order.index(fish_id) for fish_id in living]
    rows = [[sum(a[i][j] for j in places) / (2 * len(places)) for i in places] for a in settled]
    of_fish = {
        fish_id: Kinship(min(r[k] for r in rows), max(r[k] for r in rows), unknown_through)
        for k, fish_id in enumerate(living)
    }
    means = [sum(row) / len(row) for row in rows]
    return StockKinship(of_fish, Kinship(min(means), max(means), unknown_through))


def _matrices(
    pedigree: Pedigree, living: Sequence[int]
) -> tuple[tuple[int, ...], list[list[list[float]]]]:
    if not living or len(set(living)) < len(living):
        raise RuleBroken("Name each living fish of the stock once, at least one.")
    order = pedigree.parents_first(living)
    if too_much_to_try(pedigree, order):
        return order, []
    return order, [relationship_matrix(order, p) for p in pedigree.settlements(order)]


@dataclass(frozen=True)
class FounderShare:
    """Share of the living stock's genes that one founder gave, `low`–`high` over candidates.

    `fish_id` is the founder; None gathers what came through parents that are not known.
    """

    fish_id: int | None
    low: float
    high: float


def founder_shares(pedigree: Pedigree, living: Sequence[int]) -> tuple[FounderShare, ...]:
    """What each founder contributed to the living fish, largest first; the shares add up to 1.

    A fish of wholly unknown parents is a founder of its own; an unknown parent of a fish whose
    other parent is known stands in the share of None.
    """
    order = pedigree.parents_first(living)
    if not living or too_much_to_try(pedigree, order):
        return ()
    found: dict[int | None, list[float]] = {}
    settled = list(pedigree.settlements(order))
    for run, parents in enumerate(settled):
        shares = _shares(order, parents, living)
        for founder, share in shares.items():
            found.setdefault(founder, [0.0] * len(settled))[run] = share
    rows = [FounderShare(f, min(shares), max(shares)) for f, shares in found.items()]
    return tuple(sorted(rows, key=lambda s: (-s.high, s.fish_id is None, s.fish_id or 0)))


def _shares(
    order: Sequence[int],
    parents: Mapping[int, tuple[int | None, int | None]],
    living: Sequence[int],
) -> dict[int | None, float]:
    """Genes handed back up the pedigree, young before parents."""
    genes: dict[int, float] = dict.fromkeys(order, 0.0)
    for fish_id in living:
        genes[fish_id] += 1 / len(living)
    shares: dict[int | None, float] = {}
    for fish_id in reversed(order):
        sire, dam = parents[fish_id]
        if sire is None and dam is None:
            shares[fish_id] = shares.get(fish_id, 0.0) + genes[fish_id]
            continue
        for parent in (sire, dam):
            if parent is None:
                shares[None] = shares.get(None, 0.0) + genes[fish_id] / 2
            else:
                genes[parent] += genes[fish_id] / 2
    return {founder: share for founder, share in shares.items() if share > 0}


def founder_equivalents(shares: Sequence[float]) -> float:
    """f_e = 1 / Σ p² over the founders' shares p, which add up to 1 (Lacy 1989)."""
    if abs(sum(shares) - 1) > 1e-6 or min(shares) < 0:
        raise RuleBroken("Founders' shares add up to 1.")
    return 1 / sum(p * p for p in shares)


def effective_size(sires: int, dams: int) -> float:
    """Ne = 4 Nm Nf / (Nm + Nf), of fish that had young as sire and as dam.

    Wright 1931; the USFWS Inland Salmonid Broodstock Handbook, p. 1-8, prints examples. In fish
    that change sex, count the part each had in clutches, never its sex now.
    """
    if sires < 1 or dams < 1:
        raise RuleBroken("It takes at least one sire and one dam.")
    return 4 * sires * dams / (sires + dams)


def effective_size_by_families(parents: int, mean_young: float, variance: float) -> float:
    """Ne = 2N / (1 + s²/k̄), N parents with k̄ young each on average and variance s².

    Holsinger, lecture notes in population genetics; all above 0 but the variance.
    """
    if parents < 2 or mean_young <= 0 or variance < 0:
        raise RuleBroken("It takes two parents or more, and young.")
    return 2 * parents / (1 + variance / mean_young)


def inbreeding_per_generation(effective: float) -> float:
    """ΔF = 1 / (2 Ne)."""
    if effective <= 0:
        raise RuleBroken("An effective size lies above 0.")
    return 1 / (2 * effective)
