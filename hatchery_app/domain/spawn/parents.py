"""Who made a clutch: for its mother and its father, as much as is known and no more.

The role belongs to the clutch and not to the fish: the father of one clutch can later be the
mother of another. Who tends a clutch is kept elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken


class KnownAs(StrEnum):
    """What is known of a parent."""

    FISH = "fish"
    ONE_OF = "one of"
    GROUP = "group"
    BOUGHT = "bought"
    WILD = "wild"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Parent:
    """One parent of one clutch: a fish, one of several, a member of a group, or less.

    `claim` is what the seller or collector said, of a parent bought or taken from the wild.
    Raises RuleBroken when the fish named do not fit what is known.
    """

    known_as: KnownAs
    fish_ids: tuple[int, ...] = ()
    group_id: int | None = None
    claim: str = ""

    def __post_init__(self) -> None:
        if len(set(self.fish_ids)) != len(self.fish_ids):
            raise RuleBroken("The same fish is named twice.", field="parents")
        if self.known_as is KnownAs.ONE_OF and len(self.fish_ids) < 2:
            raise RuleBroken("“One of” needs at least two fish to choose from.", field="parents")
        expected = {KnownAs.FISH: 1, KnownAs.ONE_OF: len(self.fish_ids)}.get(self.known_as, 0)
        if len(self.fish_ids) != expected:
            raise RuleBroken(
                f"A parent known as {self.known_as} does not name {len(self.fish_ids)} fish.",
                field="parents",
            )
        if (self.known_as is KnownAs.GROUP) != (self.group_id is not None):
            raise RuleBroken("A member of a group needs its group.", field="parents")

    @classmethod
    def fish(cls, fish_id: int) -> Parent:
        """This fish."""
        return cls(KnownAs.FISH, (fish_id,))

    @classmethod
    def one_of(cls, *fish_ids: int) -> Parent:
        """One of these fish, it is not known which."""
        return cls(KnownAs.ONE_OF, fish_ids)

    @classmethod
    def group(cls, group_id: int) -> Parent:
        """A member of a group whose fish are not told apart."""
        return cls(KnownAs.GROUP, group_id=group_id)

    @classmethod
    def bought(cls, claim: str = "") -> Parent:
        """Not of this room; `claim` is what the seller says of it."""
        return cls(KnownAs.BOUGHT, claim=claim)

    @classmethod
    def wild(cls, claim: str = "") -> Parent:
        """Taken from the sea; `claim` is where, as far as it was said."""
        return cls(KnownAs.WILD, claim=claim)

    @classmethod
    def unknown(cls) -> Parent:
        """Nothing is known."""
        return cls(KnownAs.UNKNOWN)

    def said(self, names: Mapping[int, str]) -> str:
        """In words, with the names of fish and groups by their id.

        "Rusk", "one of Rusk and Merle", "one of the group in B4", "bought, seller says …",
        "wild", "unknown".
        """
        if self.known_as is KnownAs.FISH:
            return names[self.fish_ids[0]]
        if self.known_as is KnownAs.ONE_OF:
            return f"one of {_listed(self.fish_ids, names)}"
        if self.group_id is not None:
            return f"one of {names[self.group_id]}"
        if self.known_as is KnownAs.BOUGHT and self.claim:
            return f"bought, seller says {self.claim}"
        return f"{self.known_as}, {self.claim}" if self.claim else str(self.known_as)


@dataclass(frozen=True)
class Parents:
    """The mother and the father of one clutch. Raises RuleBroken where one fish is both."""

    female: Parent
    male: Parent

    def __post_init__(self) -> None:
        both_certain = self.female.known_as is KnownAs.FISH is self.male.known_as
        if both_certain and self.female == self.male:
            raise RuleBroken(
                "One fish cannot be both mother and father of a clutch.", field="parents"
            )

    @classmethod
    def unknown(cls) -> Parents:
        """Neither is known."""
        return cls(Parent.unknown(), Parent.unknown())

    @property
    def female_candidates(self) -> tuple[int, ...]:
        """Every fish that may be the mother; empty where none can be named."""
        return _without_certain(self.female, self.male)

    @property
    def male_candidates(self) -> tuple[int, ...]:
        """Every fish that may be the father; empty where none can be named."""
        return _without_certain(self.male, self.female)

    @property
    def candidates(self) -> tuple[int, ...]:
        """Every fish that may be a parent, each once: none of these can be deleted."""
        return tuple(dict.fromkeys(self.female_candidates + self.male_candidates))

    def said(self, names: Mapping[int, str]) -> str:
        """In words: "female Rusk, male one of Merle and Ditto", "two of the group in B4"."""
        female, male = self.female, self.male
        if female != male:
            return f"female {female.said(names)}, male {male.said(names)}"
        if female.group_id is not None:
            return f"two of {names[female.group_id]}"
        if len(female.fish_ids) == 2:
            return f"{_listed(female.fish_ids, names)}, which is which not known"
        if female.known_as is KnownAs.ONE_OF:
            return f"two of {_listed(female.fish_ids, names)}"
        return female.said(names)


def _without_certain(parent: Parent, other: Parent) -> tuple[int, ...]:
    """A fish that is certainly the one parent is not the other."""
    certain = other.fish_ids if other.known_as is KnownAs.FISH else ()
    return tuple(fish_id for fish_id in parent.fish_ids if fish_id not in certain)


def _listed(fish_ids: tuple[int, ...], names: Mapping[int, str]) -> str:
    *most, last = (names[fish_id] for fish_id in fish_ids)
    return f"{', '.join(most)} and {last}"
