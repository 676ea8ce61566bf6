"""A laying and the eggs it gave, until they hatched or were lost."""

from datetime import date

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.domain.clutch.clutch import (
    CheckKind,
    ClutchOutcome,
    EggMove,
    HatchMethod,
    Incubated,
)
from hatchery_app.domain.clutch.night_span import NightSpan
from hatchery_app.domain.when import Night
from hatchery_app.models.columns import HowManyColumns, words
from hatchery_app.models.entry import Entry
from hatchery_app.models.parents import ParentColumns


class Laying(HowManyColumns, ParentColumns, Entry):
    """Eggs were laid: by which parents, where, on what, about how many.

    `pair_id` is the pair it stands under, None where a group or an unknown fish laid. Parents
    are copied from the pair and then belong to the laying.
    """

    __tablename__ = "laying"

    pair_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"), index=True)
    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"))
    species_key: Mapped[str] = mapped_column(String(80))
    surface: Mapped[str] = mapped_column(String(80), default="")


class Clutch(Entry):
    """The eggs of one laying, or the part of them that was kept together.

    `number` is what the keeper calls it; `part` is said where a laying was divided.
    """

    __tablename__ = "clutch"
    __table_args__ = (Index("ix_clutch_number", "number"),)

    laying_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    number: Mapped[int]
    part: Mapped[str] = mapped_column(String(80), default="")


class EggsMoved(Entry):
    """Where the eggs were from then on, and which pair tends them. Parents do not change."""

    __tablename__ = "eggs_moved"

    clutch_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"))
    why: Mapped[EggMove] = mapped_column(words(EggMove, "egg_move"))
    tended_by_pair_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))


class ClutchCheck(HowManyColumns, Entry):
    """One look at a clutch. `night` where the look is about a night (watched, lamp left on)."""

    __tablename__ = "clutch_check"

    clutch_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    check_kind: Mapped[CheckKind] = mapped_column(words(CheckKind, "check_kind"))
    sign: Mapped[str] = mapped_column(String(16), default="")
    seen: Mapped[bool] = mapped_column(default=True)
    night_on: Mapped[date | None]


class Hatch(HowManyColumns, Entry):
    """A part of a clutch that hatched on one night. Happened: when larvae were first seen.

    Found late it may have been any night from `night_on` to `last_night_on`, which is None where
    the night is known. Both are kept beside the moment, as the keeper may know better than it.
    `found_by_day` was found between lights-on and lights-off, and counts to the night just past.
    `incubated`: earlier than such eggs are believed to hatch, and whether that was confirmed.
    """

    __tablename__ = "hatch"

    clutch_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    night_on: Mapped[date]
    last_night_on: Mapped[date | None]
    share: Mapped[str] = mapped_column(String(40), default="")
    method: Mapped[HatchMethod] = mapped_column(words(HatchMethod, "hatch_method"))
    found_by_day: Mapped[bool] = mapped_column(default=False)
    after_handling: Mapped[bool] = mapped_column(default=False)
    hour_known: Mapped[bool] = mapped_column(default=True)
    incubated: Mapped[Incubated] = mapped_column(
        words(Incubated, "incubated"), default=Incubated.ORDINARY
    )

    @property
    def nights(self) -> NightSpan:
        """The nights it may have been, as written down; what else was seen may leave fewer."""
        return NightSpan(Night(self.night_on), Night(self.last_night_on or self.night_on))


def night_columns(nights: NightSpan) -> dict[str, date | None]:
    """The nights of a hatch as its columns."""
    last = None if nights.is_sure else nights.last.evening
    return {"night_on": nights.first.evening, "last_night_on": last}


class ClutchEnded(Entry):
    """No eggs of the clutch are left, and how that came. The nest is empty from then on."""

    __tablename__ = "clutch_ended"

    clutch_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    outcome: Mapped[ClutchOutcome] = mapped_column(words(ClutchOutcome, "outcome"))
    reason: Mapped[str] = mapped_column(String(200), default="")
