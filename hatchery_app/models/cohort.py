"""What is measured and promised of a cohort."""

from datetime import date

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.domain.body_length import LengthKind
from hatchery_app.models.columns import words
from hatchery_app.models.entry import Entry


class LengthsSampled(Entry):
    """Lengths of some fish of a cohort, in mm with spaces between, as measured that day."""

    __tablename__ = "lengths_sampled"

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    measure: Mapped[LengthKind] = mapped_column(words(LengthKind, "length_kind"))
    lengths_mm: Mapped[str] = mapped_column(String(4000))
    typed: Mapped[str] = mapped_column(String(4000), default="")


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
    """Fish of a cohort that are not for sale: kept as breeders, barred, in quarantine, or still
    below sale size. A number of None means all of them."""

    __tablename__ = "set_aside"

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    why: Mapped[str] = mapped_column(String(32))
    number: Mapped[int | None]
    reason: Mapped[str] = mapped_column(String(200), default="")


class SetAsideEnded(Entry):
    """Fish set aside are free again."""

    __tablename__ = "set_aside_ended"

    set_aside_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
