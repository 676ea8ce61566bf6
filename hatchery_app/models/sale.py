"""Fish sold: to whom, out of which hold, and what the buyer found on arrival."""

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.models.entry import Entry


class Sale(Entry):
    """Fish sold in one go. How many is said by the movement, so that both are corrected at once.

    `held_id` is the hold they came out of; None: they were free.
    """

    __tablename__ = "sale"

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    moved_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"))
    for_whom: Mapped[str] = mapped_column(String(120), default="")
    held_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"), index=True)


class ArrivalReport(Entry):
    """What the buyer found: so many dead on arrival. `moved_id` are those sent to replace them."""

    __tablename__ = "arrival_report"
    __table_args__ = (CheckConstraint("dead >= 0", name="dead_not_negative"),)

    sale_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    dead: Mapped[int]
    moved_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))
