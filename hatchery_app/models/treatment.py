"""Treatments of tanks, in the keeper's own words."""

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.models.entry import Entry


class Treatment(Entry):
    """What was given to a tank, or to all tanks of its `system`. Happened: the first time.

    With repeats it comes again every so many days, `repeats` times more.
    """

    __tablename__ = "treatment"
    __table_args__ = (
        CheckConstraint("every_days > 0 and repeats > 0", name="repeats_forward"),
        CheckConstraint("(every_days is null) = (repeats is null)", name="repeats_whole"),
    )

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    system: Mapped[str] = mapped_column(String(40), default="")
    what: Mapped[str] = mapped_column(String(120))
    amount: Mapped[str] = mapped_column(String(80), default="")
    reason: Mapped[str] = mapped_column(String(200), default="")
    barred: Mapped[str] = mapped_column(String(200), default="")
    every_days: Mapped[int | None]
    repeats: Mapped[int | None]


class TreatmentEnded(Entry):
    """A treatment was over then: the water was changed out, or it was given once."""

    __tablename__ = "treatment_ended"

    treatment_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    how: Mapped[str] = mapped_column(String(200), default="")
