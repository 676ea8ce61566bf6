"""Since about when: a year, a month, a day, or not known, as keepers say how long fish sat."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import MONTHS, RoomTime, When, check_day

LONGEST_YEARS = 40
"""Older than any clownfish on record; how long a fish of unknown past may have been here."""
ABOUT = re.compile(r"^(about|around|since|ca\.?|~|circa)\s*", re.IGNORECASE)
FORMS = "Write a year (2023), a month (May 2024 or 2024-05) or a day (2024-05-12)."


def read_since(text: str, now: datetime, room_time: RoomTime) -> When:
    """What was said as an interval that ends at `now` at the latest; a year is from memory.

    Nothing typed is "not known": some time in the last 40 years. Raises RuleBroken for words
    that are no date, and for one that lies ahead.
    """
    said = text.strip()
    plain = ABOUT.sub("", said).strip()
    today = room_time.local(now).date()
    if not plain or plain == "?":
        first = date(today.year - LONGEST_YEARS, 1, 1)
        long_ago = room_time.whole_days(first).earliest
        return When(long_ago, now, said or "not known since when", True)
    first, last = read_days(plain)
    if first > today:
        raise RuleBroken(f"{said} has not come yet.", field="since")
    whole = room_time.whole_days(first, last)
    return When(whole.earliest, min(whole.latest, now), said, first != last)


def read_days(text: str) -> tuple[date, date]:
    """First and last day of a year, a month or a day. Raises RuleBroken for other words."""
    plain = ABOUT.sub("", text.strip()).strip()
    try:
        if re.fullmatch(r"\d{4}", plain):
            return check_day(date(int(plain), 1, 1), "since"), date(int(plain), 12, 31)
        if re.fullmatch(r"\d{4}-\d{1,2}", plain):
            year, month = plain.split("-")
            return _month(int(year), int(month))
        named = re.fullmatch(r"([A-Za-z]{3})[A-Za-z]*\.?\s+(\d{4})", plain)
        if named and named[1].capitalize() in MONTHS:
            return _month(int(named[2]), MONTHS.index(named[1].capitalize()) + 1)
        day = check_day(date.fromisoformat(plain), "since")
    except ValueError as reason:
        raise RuleBroken(f"“{plain}” is not a date. {FORMS}", field="since") from reason
    return day, day


def _month(year: int, month: int) -> tuple[date, date]:
    first = check_day(date(year, month, 1), "since")
    following = date(year + month // 12, month % 12 + 1, 1)
    return first, following - timedelta(days=1)
