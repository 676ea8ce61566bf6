"""Batches put together: what the mixed batch still knows, and what is frozen at the merge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.survival import NotComputable, Survival, survival

MIXED_SPECIES = "mixed_species"
MIXED_LINES = "mixed_lines"


@dataclass(frozen=True)
class Source:
    """A batch about to be put together with another, as it stands at that moment."""

    batch: int
    name: str
    clutches: frozenset[int]
    pairs: tuple[str, ...]
    species: str
    line: str
    youngest_dph: int
    oldest_dph: int
    start: HowMany
    now: HowMany
    removed: int = 0

    def __post_init__(self) -> None:
        if not self.clutches:
            raise RuleBroken(f"{self.name} comes from no clutch.", field="batch")
        if self.youngest_dph > self.oldest_dph:
            raise RuleBroken("The youngest cannot be older than the oldest.", field="age")

    def survival(self) -> Survival | NotComputable:
        """Survival up to now, which is where a merge freezes it."""
        return survival(self.start, self.now, removed=self.removed)


@dataclass(frozen=True)
class MixedBatch:
    """Several batches in one tank. Its fish are from one of the pairs, and no guess is made.

    `frozen` is each source's survival at the merge, by name: losses after it belong to the mixed
    batch and are never shared out.
    """

    number: HowMany
    clutches: frozenset[int]
    pairs: tuple[str, ...]
    youngest_dph: int
    oldest_dph: int
    frozen: tuple[tuple[str, Survival | NotComputable], ...]

    @property
    def is_one_clutch(self) -> bool:
        """Whether these were parts of one clutch, which stays that clutch."""
        return len(self.clutches) == 1

    def parents_said(self) -> str:
        """ "pair 3 or pair 5"."""
        return " or ".join(self.pairs)

    def age_said(self) -> str:
        """ "28–31 dph", or "28 dph" when all are of one age."""
        if self.youngest_dph == self.oldest_dph:
            return f"{self.oldest_dph} dph"
        return f"{self.youngest_dph}–{self.oldest_dph} dph"


def put_together(
    sources: Sequence[Source], *, answers: Mapping[str, str] | None = None
) -> MixedBatch:
    """The batch that comes of putting these in one tank.

    Parts of one clutch rejoin as that clutch, with nothing frozen. Raises RuleBroken for fewer
    than two different batches; Asked under "mixed_species" and "mixed_lines" (answer "mix").
    """
    if len({source.batch for source in sources}) < 2 or len(sources) != len(
        {source.batch for source in sources}
    ):
        raise RuleBroken("Two different batches are needed to put together.", field="batch")
    _ask_unlike(sources, answers or {})
    clutches = frozenset().union(*(source.clutches for source in sources))
    number = sources[0].now
    for source in sources[1:]:
        number = number + source.now
    one_clutch = len(clutches) == 1
    return MixedBatch(
        number=number,
        clutches=clutches,
        pairs=tuple(dict.fromkeys(pair for source in sources for pair in source.pairs)),
        youngest_dph=min(source.youngest_dph for source in sources),
        oldest_dph=max(source.oldest_dph for source in sources),
        frozen=() if one_clutch else tuple((one.name, one.survival()) for one in sources),
    )


def _ask_unlike(sources: Sequence[Source], answers: Mapping[str, str]) -> None:
    """Species before lines: mixing species is the costlier mistake."""
    unlike = (
        (MIXED_SPECIES, "species", [source.species for source in sources]),
        (MIXED_LINES, "lines", [source.line for source in sources]),
    )
    for question, what, kinds in unlike:
        if len(set(kinds)) > 1 and answers.get(question) != "mix":
            named = " and ".join(dict.fromkeys(kind or "no line named" for kind in kinds))
            raise Asked(
                f"These are of different {what}: {named}. They cannot be told apart afterwards. "
                "Put them together?",
                question,
                (("mix", "Yes, put them together"), ("apart", "No, keep them apart")),
                field="batch",
            )
