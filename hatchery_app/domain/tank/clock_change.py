"""The clocks' change in spring and autumn, and the light timers that know nothing of it.

Eggs hatch by the dark, not by the clock: a timer left as it was makes the night begin an hour
off from what is entered here, and every watch with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from hatchery_app.domain.today.schedule import Round, Task, Turn, one_off
from hatchery_app.domain.when import Lights, RoomTime, say_date

ASKED_FOR = timedelta(days=10)  # so long after the change: then whoever watched has met the hour
AN_HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class ClockChange:
    """When the room's clock was set to another hour: the instant (UTC), and by how much."""

    at: datetime
    by: timedelta

    @property
    def went_back(self) -> bool:
        """Whether an hour came twice, as in autumn."""
        return self.by < timedelta(0)


def last_clock_change(
    room_time: RoomTime, now: datetime, within: timedelta = ASKED_FOR
) -> ClockChange | None:
    """The newest change of the room's clock within a time before now; None where there was none."""
    later = now
    while later > now - within:
        earlier = later - AN_HOUR
        by = _offset(room_time, later) - _offset(room_time, earlier)
        if by:
            return ClockChange(_edge(room_time, earlier, later), by)
        later = earlier
    return None


def timer_task(
    change: ClockChange, lights: Lights, room_time: RoomTime, *, told_since: bool
) -> tuple[Task, ...]:
    """To look at the light timers, once; none where lamp hours were entered since the change."""
    if told_since:
        return ()
    day = room_time.local(change.at).date()
    way = "back" if change.went_back else "forward"
    return (
        one_off(
            "check_timers", day.toordinal(), Turn(day, Round.BEFORE_LIGHTS_OFF), None,
            "See whether the light timers followed the clock",
            why=f"the clocks went {way} on {say_date(day)}; the lamps stand here as off at "
            f"{lights.off:%H:%M}. Where a timer kept the old hour, say so",
            milestone=day.isoformat(),
        ),
    )  # fmt: skip


def _offset(room_time: RoomTime, at: datetime) -> timedelta:
    return room_time.local(at).utcoffset() or timedelta(0)


def _edge(room_time: RoomTime, earlier: datetime, later: datetime) -> datetime:
    """The first minute at which the later offset holds."""
    after = _offset(room_time, later)
    while later - earlier > timedelta(minutes=1):
        middle = earlier + (later - earlier) / 2
        if _offset(room_time, middle) == after:
            later = middle
        else:
            earlier = middle
    return later.replace(second=0, microsecond=0)
