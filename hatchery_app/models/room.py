"""The room itself: its name, its time zone, its units, its lamps. Dated, because forecasts rest
on them: what stood last month is asked again when last month's forecast is scored."""

from datetime import datetime, time

from sqlalchemy import ForeignKey, Index, String, Time
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.database import Base
from hatchery_app.domain.when import Lights, RoomTime
from hatchery_app.models.columns import UtcDateTime
from hatchery_app.models.entry import Entry


class RoomFacts(Entry):
    """What the keeper said of the room as a whole. The newest by when it held is today's."""

    __tablename__ = "room_facts"

    name: Mapped[str] = mapped_column(String(80))
    zone_name: Mapped[str] = mapped_column(String(64))
    temperature_unit: Mapped[str] = mapped_column(String(1), default="C")
    volume_unit: Mapped[str] = mapped_column(String(8), default="L")
    gallon: Mapped[str] = mapped_column(String(8), default="")
    length_unit: Mapped[str] = mapped_column(String(4), default="mm")

    @property
    def room_time(self) -> RoomTime:
        return RoomTime(self.zone_name)


class LightHours(Entry):
    """From when on which lamps are lit: of one tank, of a rack, or (neither) of the whole room.

    Racks are staggered on purpose. A tank's own hours go before its rack's, those before the
    room's.
    """

    __tablename__ = "light_hours"
    __table_args__ = (Index("ix_light_hours_place", "tank_id", "rack"),)

    tank_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))
    rack: Mapped[str] = mapped_column(String(40), default="")
    on_at: Mapped[time] = mapped_column(Time)
    off_at: Mapped[time] = mapped_column(Time)

    @property
    def lights(self) -> Lights:
        return Lights(on=self.on_at, off=self.off_at)


class CalendarKey(Base):
    """One address under which the room's calendar can be read without signing in.

    No fact of the room, so no entry: it is made and revoked, never corrected. `token` is the
    unguessable part of the address; kept as it is, because the keeper copies it again.
    """

    __tablename__ = "calendar_key"

    id: Mapped[int] = mapped_column(primary_key=True)
    token: Mapped[str] = mapped_column(String(64), unique=True)
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    made_by_id: Mapped[int | None] = mapped_column(ForeignKey("account.id"))
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
