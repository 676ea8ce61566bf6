"""Kinship and inbreeding by pedigree, for fish that may be sire of one clutch and dam of another.

Sex plays no part: a role belongs to a mating. An unknown parent stays unknown: what then comes
out is the least that the known pedigree gives, and it is said that more is possible. Of several
candidate parents every one is tried and the answer is a range.

Tabular method (Emik & Terrill 1949; Henderson 1976): in an order with parents first,
a_ij = (a_j,sire + a_j,dam) / 2 and a_ii = 1 + a_sire,dam / 2. Inbreeding F = a_ii − 1, kinship
= a_ij / 2, and the expected F of the young of two fish is their kinship.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.spawn.parents import KnownAs, Parent, Parents
from hatchery_app.domain.when import When

MOST_COMBINATIONS = 512
"""Sets of candidate parents tried for one answer; with more the answer is unknown."""
MOST_WORK = 2_000_000
"""Cells of relationship filled for one answer."""

ParentsOf = Mapping[int, tuple[int | None, int | None]]
"""Sire and dam of each fish, one settled choice of the candidates (None: not known)."""


@dataclass(frozen=True)
class Birth:
    """One fish of the pedigree with its possible parents; the young of a clutch share them.

    `sires` and `dams` hold one id when the parent is known, several when it is one of these,
    none when it is not known. `is_founder` marks a fish whose parents are taken as unrelated to
    all others (wild caught): for it no parents are given. `born` is the hatch where known.
    """

    fish_id: int
    sires: tuple[int, ...] = ()
    dams: tuple[int, ...] = ()
    is_founder: bool = False
    born: When | None = None
    clutch_id: int | None = None

    def __post_init__(self) -> None:
        if self.fish_id in self.sires or self.fish_id in self.dams:
            raise RuleBroken("A fish cannot be its own parent.", field="parents")
        if self.is_founder and (self.sires or self.dams):
            raise RuleBroken("A founder has no parents in the pedigree.", field="parents")
        if len(self.sires) == 1 and self.sires == self.dams:
            raise RuleBroken("One fish cannot be both parents of a clutch.", field="parents")

    @property
    def has_unknown_parent(self) -> bool:
        return not self.is_founder and not (self.sires and self.dams)


@dataclass(frozen=True)
class Kinship:
    """A coefficient from `low` to `high` (equal when settled), 0 to 1.

    `unknown_through` names the fish whose unknown parents could raise it: `is_known` is then
    False, `low` is the least it can be and `high` the most that the known pedigree gives.
    `too_many` says that there were too many candidates to try.
    """

    low: float
    high: float
    unknown_through: tuple[int, ...] = ()
    too_many: bool = False

    @property
    def is_known(self) -> bool:
        return not self.unknown_through and not self.too_many

    @property
    def is_unrelated(self) -> bool:
        """Known to be unrelated as far as founders are taken to be."""
        return self.is_known and self.high == 0.0

    def said(self) -> str:
        """In words: "0.125", "0–0.25", "not known, at least 0.125", "not known"."""
        if not self.is_known:
            return f"not known, at least {self.low:.4g}" if self.low else "not known"
        if self.low == self.high:
            return f"{self.low:.4g}"
        return f"{self.low:.4g}–{self.high:.4g}"


@dataclass(frozen=True)
class Pedigree:
    """Fish with their parents. A parent that is not listed itself is one of unknown parents.

    Refused: a fish listed twice, a circle of descent (among candidates too), a parent that
    hatched after its young.
    """

    births: tuple[Birth, ...]

    def __post_init__(self) -> None:
        if len({b.fish_id for b in self.births}) < len(self.births):
            raise RuleBroken("A fish stands twice in the pedigree.", field="parents")
        self.parents_first(b.fish_id for b in self.births)
        self._check_ages()
        of_clutch: dict[int, tuple[tuple[int, ...], tuple[int, ...]]] = {}
        for b in self.births:
            parents = (b.sires, b.dams)
            if b.clutch_id is not None and of_clutch.setdefault(b.clutch_id, parents) != parents:
                raise RuleBroken(
                    f"The young of clutch {b.clutch_id} were given different parents.",
                    field="parents",
                )

    def _check_ages(self) -> None:
        for young in self.births:
            for parent_id in (*young.sires, *young.dams):
                parent = self._by_id.get(parent_id)
                if parent is None or parent.born is None or young.born is None:
                    continue
                if parent.born.earliest >= young.born.latest:
                    raise RuleBroken(
                        f"Fish {parent_id} cannot be a parent of fish {young.fish_id}: it "
                        "hatched no earlier.",
                        field="parents",
                    )

    def birth(self, fish_id: int) -> Birth:
        """The entry of a fish; for one that is only named as a parent, parents unknown."""
        return self._by_id.get(fish_id) or Birth(fish_id)

    @cached_property
    def _by_id(self) -> dict[int, Birth]:
        return {b.fish_id: b for b in self.births}

    @cached_property
    def _with_young(self) -> frozenset[int]:
        return frozenset(p for b in self.births for p in (*b.sires, *b.dams))

    def is_unrelated_founder(self, fish_id: int) -> bool:
        """A founder without young here: taken as unrelated even to fish of unknown parents."""
        return self.birth(fish_id).is_founder and fish_id not in self._with_young

    def parents_first(self, fish_ids: Iterable[int]) -> tuple[int, ...]:
        """These fish and all their possible ancestors, every parent before its young."""
        order: dict[int, None] = {}
        open_ids: set[int] = set()
        stack = [(fish_id, False) for fish_id in reversed(tuple(fish_ids))]
        while stack:
            fish_id, is_done = stack.pop()
            if is_done:
                open_ids.discard(fish_id)
                order[fish_id] = None
                continue
            if fish_id in order:
                continue
            if fish_id in open_ids:
                raise RuleBroken(
                    f"Fish {fish_id} would be its own ancestor.", field="parents"
                )
            open_ids.add(fish_id)
            stack.append((fish_id, True))
            birth = self.birth(fish_id)
            stack.extend((p, False) for p in (*birth.sires, *birth.dams) if p not in order)
        return tuple(order)

    def settlements(self, order: Sequence[int]) -> Iterator[ParentsOf]:
        """Every way to settle the candidates of these fish: one fish is never both parents."""
        matings = self._matings(order)
        choices = [
            [(s, d) for s in b.sires or (None,) for d in b.dams or (None,) if s != d or s is None]
            for b in map(self.birth, (young[0] for young in matings))
        ]
        for settled in product(*choices):
            yield {
                fish_id: pair
                for young, pair in zip(matings, settled, strict=True)
                for fish_id in young
            }

    def combinations(self, order: Sequence[int]) -> int:
        """How many settlements there are."""
        count = 1
        for birth in map(self.birth, (young[0] for young in self._matings(order))):
            both = len(set(birth.sires) & set(birth.dams))
            count *= (len(birth.sires) or 1) * (len(birth.dams) or 1) - both
        return count

    def _matings(self, order: Sequence[int]) -> list[list[int]]:
        """These fish gathered by the clutch they came from; a fish of none stands alone."""
        matings: dict[tuple[bool, int], list[int]] = {}
        for fish_id in order:
            clutch_id = self.birth(fish_id).clutch_id
            alone = clutch_id is None
            matings.setdefault((alone, fish_id if clutch_id is None else clutch_id), []).append(
                fish_id
            )
        return list(matings.values())


def births_of_clutch(
    clutch_id: int, parents: Parents, young: Sequence[int], born: When | None = None
) -> tuple[Birth, ...]:
    """The young of one clutch that are kept as fish, with its parents as far as known.

    A parent without a name gets an entry of its own, so that the young are full siblings
    through it: its id is negative, from the clutch. A wild one is a founder; one bought, of a
    group or unknown stays of unknown descent.
    """
    nameless: list[Birth] = []

    def ids(parent: Parent, stand_in: int) -> tuple[int, ...]:
        if parent.fish_ids:
            return parent.fish_ids
        nameless.append(Birth(stand_in, is_founder=parent.known_as is KnownAs.WILD))
        return (stand_in,)

    dams = ids(parents.female, -2 * clutch_id)
    sires = ids(parents.male, -2 * clutch_id - 1)
    kept = (Birth(i, sires, dams, born=born, clutch_id=clutch_id) for i in young)
    return (*nameless, *kept)


def relationship_matrix(order: Sequence[int], parents: ParentsOf) -> list[list[float]]:
    """The additive relationship matrix A of fish in an order with parents first.

    A parent that is None or not in the order counts as unrelated to all. Quadratic in the
    number of fish: meant for a room's pedigree (under 5000 fish).
    """
    place = {fish_id: i for i, fish_id in enumerate(order)}
    a = [[0.0] * len(order) for _ in order]
    for i, fish_id in enumerate(order):
        known = [place[p] for p in parents.get(fish_id, ()) if p is not None and p in place]
        if any(p >= i for p in known):
            raise RuleBroken("Parents stand before their young in the order.")
        for j in range(i):
            a[i][j] = a[j][i] = sum(a[j][p] for p in known) / 2
        a[i][i] = 1.0 + (a[known[0]][known[1]] / 2 if len(known) == 2 else 0.0)
    return a


def kinship_of(pedigree: Pedigree, one: int, other: int) -> Kinship:
    """Kinship of two fish; of a fish with itself (1 + F) / 2."""
    return _over_settlements(pedigree, (one, other), lambda a, i, j: a[i][j] / 2)


def inbreeding_of(pedigree: Pedigree, fish_id: int) -> Kinship:
    """Inbreeding F of a fish."""
    return _over_settlements(pedigree, (fish_id, fish_id), lambda a, i, _: a[i][i] - 1)


def expected_inbreeding(pedigree: Pedigree, female: int, male: int) -> Kinship:
    """F of the young that two fish would have. Refused for one fish as both."""
    if female == male:
        raise RuleBroken("One fish cannot be both parents of a clutch.", field="male")
    return kinship_of(pedigree, female, male)


def _over_settlements(
    pedigree: Pedigree,
    pair: tuple[int, int],
    read: Callable[[list[list[float]], int, int], float],
) -> Kinship:
    order = pedigree.parents_first(pair)
    unknown = _unknown_through(pedigree, pair, order)
    if too_much_to_try(pedigree, order):
        return Kinship(0.0, 1.0, unknown, too_many=True)
    i, j = order.index(pair[0]), order.index(pair[1])
    found = [
        read(relationship_matrix(order, parents), i, j)
        for parents in pedigree.settlements(order)
    ]
    if not found:
        raise RuleBroken("No two different fish are left as parents.", field="parents")
    return Kinship(min(found), max(found), unknown)


def too_much_to_try(pedigree: Pedigree, order: Sequence[int]) -> bool:
    """Whether the candidates of these fish leave more to settle than a page can wait for."""
    ways = pedigree.combinations(order)
    return ways > 1 and (ways > MOST_COMBINATIONS or ways * len(order) ** 2 > MOST_WORK)


def _unknown_through(
    pedigree: Pedigree, pair: tuple[int, int], order: Sequence[int]
) -> tuple[int, ...]:
    if pair[0] != pair[1] and any(pedigree.is_unrelated_founder(f) for f in pair):
        return ()
    return tuple(sorted(f for f in order if pedigree.birth(f).has_unknown_parent))
