"""Words that the parts of food ahead share: days, hours, and what is to be done."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from markupsafe import Markup

from hatchery_app.domain.live_food.food_eaters import Eater
from hatchery_app.domain.when import say_date
from hatchery_app.services.records.room import RoomNow
from hatchery_app.web.addresses import AHEAD
from hatchery_app.web.live_food.vessel_presenter import Tap

BACK, NOW = ("back", AHEAD), ("when_how", "now")
GROUPS_NAMED, NAMES_A_GROUP = 3, 4  # of those who eat: by age, and of one age


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


def first_feeders(eaters: Sequence[Eater], *, ages: bool = True) -> str:
    """ "L3 and L8 (2 dph), then L5 (6 dph), then 4 older, then the first fill for A and B"."""
    fed: dict[int, list[str]] = {}
    for one in eaters:
        if one.dph is not None:
            fed.setdefault(one.dph, []).append(
                f"{one.label}'s larvae" if one.is_clutch else one.label
            )
    ranks = [
        _named(labels) + (f" ({dph} dph)" if ages else "")
        for dph, labels in list(fed.items())[:GROUPS_NAMED]
    ]
    older = sum(len(labels) for labels in list(fed.values())[GROUPS_NAMED:])
    if older:
        ranks.append(f"{older} older")
    held = [one.label for one in eaters if one.dph is None]
    if held:
        fills = "the first fill for" if len(held) == 1 else "the first fills for"
        ranks.append(f"{fills} {', '.join(held)}")
    return ", then ".join(ranks)


def _named(labels: Sequence[str]) -> str:
    """ "L3", "L3 and L8", "L3, L8, L9, L10 and 2 more"."""
    each = list(dict.fromkeys(labels))
    if len(each) > NAMES_A_GROUP:
        return f"{', '.join(each[:NAMES_A_GROUP])} and {len(each) - NAMES_A_GROUP} more"
    return " and ".join([", ".join(each[:-1]), each[-1]] if len(each) > 1 else each)
