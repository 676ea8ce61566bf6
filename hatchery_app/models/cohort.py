"""What is measured, graded, promised and set aside of a cohort."""

from datetime import date

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.domain.broodstock.body_length import LengthKind
from hatchery_app.domain.cohort.cohort import Aside
from hatchery_app.domain.cohort.length_sample import LengthSample
from hatchery_app.models.columns import words
from hatchery_app.models.entry import Entry


class LengthsSampled(Entry):
    """Lengths of some fish of a cohort, in mm with spaces between, as measured that day.

    `weighed_g` is what `weighed_fish` of them weighed together, where that was done.
    """

    __tablename__ = "lengths_sampled"
    __table_args__ = (CheckConstraint("weighed_g is null or weighed_g > 0", name="weighs"),)

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    measure: Mapped[LengthKind] = mapped_column(words(LengthKind, "length_kind"))
    lengths_mm: Mapped[str] = mapped_column(String(4000))
    typed: Mapped[str] = mapped_column(String(4000), default="")
    by_eye: Mapped[bool] = mapped_column(default=False)
    weighed_g: Mapped[float | None]
    weighed_fish: Mapped[int | None]

    def facts(self) -> LengthSample:
        """The sample as the domain holds it."""
        return LengthSample(
            self.when, tuple(float(one) for one in self.lengths_mm.split()), self.measure,
            self.by_eye, self.weighed_g, self.weighed_fish,
        )  # fmt: skip


class SaleSize(Entry):
    """From which length fish of a species are sold in this room, from then on."""

    __tablename__ = "sale_size"
    __table_args__ = (CheckConstraint("length_mm > 0", name="has_length"),)

    species_key: Mapped[str] = mapped_column(String(80), index=True)
    length_mm: Mapped[float]
    typed: Mapped[str] = mapped_column(String(40), default="")


class Graded(Entry):
    """So many fish of a cohort in one grade of the keeper's own words, as they looked that day.

    `number` None: not counted. Fish graded later stand in a later entry; bars fill in late.
    """

    __tablename__ = "graded"
    __table_args__ = (CheckConstraint("number is null or number > 0", name="some_fish"),)

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    grade: Mapped[str] = mapped_column(String(80))
    number: Mapped[int | None]
    may_be_sold: Mapped[bool] = mapped_column(default=True)


class Held(Entry):
    """Fish promised to somebody until a day. They stay in the cohort and are not free."""

    __tablename__ = "held"
    __table_args__ = (CheckConstraint("number > 0", name="some_fish"),)

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    number: Mapped[int]
    for_whom: Mapped[str] = mapped_column(String(120), default="")
    until_on: Mapped[date | None]


class HoldReleased(Entry):
    """A hold ended: the fish were sold, or are free again."""

    __tablename__ = "hold_released"

    held_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    number: Mapped[int]


class SetAside(Entry):
    """Fish of a cohort that are not for sale or breeding: kept, barred, in quarantine, or still
    below sale size. A number of None means all of them.

    `graded_id` is the grade they were set aside for; a later grading ends it.
    """

    __tablename__ = "set_aside"

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    why: Mapped[Aside] = mapped_column(words(Aside, "aside"))
    number: Mapped[int | None]
    reason: Mapped[str] = mapped_column(String(200), default="")
    graded_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))


class SetAsideEnded(Entry):
    """Fish set aside are free again, or have left by a movement. None: all that were left.

    Where `moved_id` is given the movement says how many, and taken back it counts for nothing.
    """

    __tablename__ = "set_aside_ended"

    set_aside_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    number: Mapped[int | None]
    moved_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))
