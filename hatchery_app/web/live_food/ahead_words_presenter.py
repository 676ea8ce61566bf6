"""Words that the parts of food ahead share: days, hours, and what is to be done."""

from dataclasses import dataclass
from datetime import date, datetime

from markupsafe import Markup

from hatchery_app.domain.when import say_date
from hatchery_app.services.records.room import RoomNow
from hatchery_app.web.addresses import AHEAD
from hatchery_app.web.live_food.vessel_presenter import Tap

BACK, NOW = ("back", AHEAD), ("when_how", "now")


@dataclass(frozen=True)
class StepLine:
    """One thing to do: words, by when, why, and its button or where it is done."""

    what: Markup
    by: str
    why: str
    tap: Tap | None = None
    url: str = ""
    url_label: str = ""


@dataclass(frozen=True)
class Clock:
    """The room's clock, and the day it is by the lamps."""

    room: RoomNow
    today: date

    def said(self, at: datetime) -> str:
        """ "today 18:00", "Thu 26 Nov 08:00"."""
        local = self.room.room_time.local(at)
        return f"{day_said(local.date(), self.today)} {local:%H:%M}"


def capital(words: str) -> str:
    """The words with their first letter large, the rest as they are."""
    return words[:1].upper() + words[1:]


def day_said(on: date, today: date) -> str:
    """ "today", "tomorrow", "Thu 26 Nov"."""
    days = (on - today).days
    return ("today", "tomorrow")[days] if 0 <= days < 2 else say_date(on)


def on_said(day: str) -> str:
    """ "on Thu 26 Nov", but plain "today"."""
    return day if day in ("today", "tomorrow", "later") else f"on {day}"
