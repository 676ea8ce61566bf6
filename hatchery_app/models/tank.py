"""Tanks and their water. What a tank is called is not what it is: the label can change."""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.database import Base
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.models.columns import UtcDateTime, words
from hatchery_app.models.entry import Entry


class Tank(Entry):
    """A tank, or a vessel a tile is hatched in. `walk_order` is its place on the walk."""

    __tablename__ = "tank"
    __table_args__ = (CheckConstraint("volume_l > 0", name="holds_water"),)

    label: Mapped[str] = mapped_column(String(40))
    volume_l: Mapped[float]
    volume_typed: Mapped[str] = mapped_column(String(40), default="")
    role: Mapped[TankRole] = mapped_column(words(TankRole, "tank_role"))
    system: Mapped[str] = mapped_column(String(40), default="")
    rack: Mapped[str] = mapped_column(String(40), default="")
    walk_order: Mapped[int] = mapped_column(default=0)


class TankStateSeen(Entry):
    """The state a tank was in from then on."""

    __tablename__ = "tank_state"

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    state: Mapped[TankState] = mapped_column(words(TankState, "tank_state"))
    reason: Mapped[str] = mapped_column(String(200), default="")


class SetPoint(Entry):
    """What a tank's heater was set to from then on."""

    __tablename__ = "set_point"

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    temperature_c: Mapped[float]
    typed: Mapped[str] = mapped_column(String(40), default="")


class Readings(Entry):
    """One act of writing readings down: a single one by hand, or a paste from a logger.

    The act is the fact that is corrected or withdrawn; its readings go with it.
    """

    __tablename__ = "readings"

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    quantity: Mapped[str] = mapped_column(String(32))
    how_many: Mapped[int] = mapped_column(default=1)


class Reading(Base):
    """One value of one quantity in one tank, as typed and in the unit of the glossary."""

    __tablename__ = "reading"
    __table_args__ = (Index("ix_reading_of_tank", "tank_id", "quantity", "at"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    readings_seq: Mapped[int] = mapped_column(ForeignKey("readings.seq"), index=True)
    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"))
    quantity: Mapped[str] = mapped_column(String(32))
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    value: Mapped[float]
    typed: Mapped[str] = mapped_column(String(40), default="")
