"""What is seen in a larval tank: how much prey is left, and the marks of development."""

from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.models.columns import words
from hatchery_app.models.entry import Entry


class StageMark(StrEnum):
    """What was seen for the first time in a batch, or done for the first time."""

    FIRST_FOOD = "first food"
    FIRST_SHRIMP = "first brine shrimp"
    FIRST_SETTLED = "first settled"
    HALF_SETTLED = "half settled"
    LAST_SETTLED = "last settled"
    FOOD_GAP = "food gap"


class PreySeen(Entry):
    """How much prey a larval tank still held: a count per mL, or a look in a word."""

    __tablename__ = "prey_seen"

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    food: Mapped[str] = mapped_column(String(32))
    per_ml: Mapped[float | None]
    look: Mapped[str] = mapped_column(String(16), default="")
    counted: Mapped[str] = mapped_column(String(120), default="")
    topped_up_to_per_ml: Mapped[float | None]


class StageSeen(Entry):
    """A mark of a batch's development, seen then."""

    __tablename__ = "stage_seen"

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    mark: Mapped[StageMark] = mapped_column(words(StageMark, "stage_mark"))


class Concentrate(Entry):
    """How thick a food is that the tanks are topped up from, for the whole room, from then on."""

    __tablename__ = "concentrate"
    __table_args__ = (CheckConstraint("per_ml > 0", name="holds_food"),)

    food: Mapped[str] = mapped_column(String(32), index=True)
    per_ml: Mapped[float]
    typed: Mapped[str] = mapped_column(String(120), default="")
