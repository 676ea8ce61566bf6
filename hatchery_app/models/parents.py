"""The columns of a pair of parents, for whatever has them: a laying, a fish."""

from typing import Any

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.domain.spawn.parents import KnownAs, Parent, Parents


class ParentColumns:
    """Mother and father of this clutch or fish, as far as known, unknown said plainly.

    Several candidates stand as fact ids with commas between; a group as its own id. Sex is not
    asked: the role belongs to the clutch, not to the fish.
    """

    female_known_as: Mapped[str] = mapped_column(String(16), default=KnownAs.UNKNOWN.value)
    female_ids: Mapped[str] = mapped_column(String(200), default="")
    female_claim: Mapped[str] = mapped_column(String(200), default="")
    male_known_as: Mapped[str] = mapped_column(String(16), default=KnownAs.UNKNOWN.value)
    male_ids: Mapped[str] = mapped_column(String(200), default="")
    male_claim: Mapped[str] = mapped_column(String(200), default="")

    @property
    def parents(self) -> Parents:
        return Parents(
            female=_parent(self.female_known_as, self.female_ids, self.female_claim),
            male=_parent(self.male_known_as, self.male_ids, self.male_claim),
        )


def parent_columns(parents: Parents) -> dict[str, Any]:
    """The column values that store `parents` in a table with ParentColumns."""
    stored: dict[str, Any] = {}
    for role, parent in (("female", parents.female), ("male", parents.male)):
        stored[f"{role}_known_as"] = parent.known_as.value
        named = parent.fish_ids if parent.group_id is None else (parent.group_id,)
        stored[f"{role}_ids"] = ",".join(str(fact_id) for fact_id in named)
        stored[f"{role}_claim"] = parent.claim
    return stored


def _parent(known_as: str, ids: str, claim: str) -> Parent:
    named = tuple(int(fact_id) for fact_id in ids.split(",") if fact_id)
    if known_as == KnownAs.GROUP:
        return Parent(KnownAs.GROUP, (), named[0], claim)
    return Parent(KnownAs(known_as), named, None, claim)
