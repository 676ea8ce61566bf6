"""What counts rest on: trials of how many are found of a known number, and marked pictures."""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.database import Base
from hatchery_app.domain.stock_book.worked_count import Sampled
from hatchery_app.models.columns import UtcDateTime, words
from hatchery_app.models.entry import Entry


class RecoveryTrial(Entry):
    """A known number put into water and counted from samples, as such animals always are here.

    `counts` are the samples, with spaces between; what they say over what was known is the
    room's own recovery for such animals from then on.
    """

    __tablename__ = "recovery_trial"
    __table_args__ = (
        CheckConstraint("known_number > 0", name="some_known"),
        CheckConstraint("aliquot_ml > 0 and total_ml > 0", name="counts_some_water"),
    )

    sampled: Mapped[Sampled] = mapped_column(words(Sampled, "sampled"))
    known_number: Mapped[int]
    counts: Mapped[str] = mapped_column(String(200))
    aliquot_ml: Mapped[float]
    total_ml: Mapped[float]


class Photo(Base):
    """A picture kept in the records folder under `file`. Its contents never change.

    No fact of the room, so no entry: it only becomes one where a number rests on it. `marks` are
    those set so far, as fractions across and down; what a number rested on stands with it.
    """

    __tablename__ = "photo"
    __table_args__ = (CheckConstraint("size_bytes > 0", name="holds_something"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    file: Mapped[str] = mapped_column(String(64), unique=True)
    media_type: Mapped[str] = mapped_column(String(32))
    width: Mapped[int]
    height: Mapped[int]
    size_bytes: Mapped[int]
    sha256: Mapped[str] = mapped_column(String(64))
    marks: Mapped[str] = mapped_column(String(40000), default="")
    about_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("account.id"))


class PhotoMarked(Entry):
    """The marks that a number was counted by. `number_id` is the entry that carries the number."""

    __tablename__ = "photo_marked"

    number_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    photo_id: Mapped[int] = mapped_column(ForeignKey("photo.id"), index=True)
    marks: Mapped[str] = mapped_column(String(40000), default="")
