"""What the addresses of the book ask for: a moment, as a day and a time of the room's clock."""

from dataclasses import dataclass
from datetime import datetime

from flask import g, request

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.web.when_fields import read_day, read_time


@dataclass(frozen=True)
class MomentAsked:
    """A moment as typed, and as read: None where nothing was typed or it cannot be read."""

    day: str
    time: str
    moment: datetime | None
    refused: str


def moment_asked(name: str) -> MomentAsked:
    """The moment an address asks for under a name (`at_on`, `at_time`); a day alone is its end.

    What cannot be read is refused in words and stays as typed.
    """
    day_typed, time_typed = request.args.get(f"{name}_on", ""), request.args.get(f"{name}_time", "")
    try:
        day = read_day(day_typed, name)
        clock = read_time(time_typed, name)
    except RuleBroken as refused:
        return MomentAsked(day_typed, time_typed, None, refused.sentence)
    if day is None:
        said = "Say the day as well." if clock is not None else ""
        return MomentAsked(day_typed, time_typed, None, said)
    room_time = g.room.room_time
    moment = room_time.whole_days(day).latest if clock is None else room_time.planned(day, clock)
    return MomentAsked(day_typed, time_typed, moment, "")
