"""Since about when: a year, a month, a day, or not known, as keepers say how long fish sat."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import MONTHS, RoomTime, When, check_day

LONGEST_YEARS = 40
"""Older than any clownfish on record; how long a fish of unknown past may have been here."""
ABOUT = re.compile(r"^((about|around|since|circa|ca\b\.?|in\b|~)\s*)+", re.IGNORECASE)
FORMS = (
    "Write a year (2023), a season (summer 2022), a month (May 2024, May or 2024-05), "
    "a day (2024-05-12) or how long ago (about 3 years)."
)
A_UNIT_IN_DAYS = {"year": 365.25, "month": 365.25 / 12, "week": 7.0, "day": 1.0}
_AGO = re.compile(r"(\d{1,3}|an?|one|two|three|four|five|six)\s+(year|month|week|day)s?(?:\s+ago)?")
_NUMBERS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6}
_SEASON = re.compile(r"(spring|summer|autumn|fall|winter)(?:\s+of)?\s+(\d{4})")
_NAMED = re.compile(r"([a-z]{3})[a-z]*\.?(?:\s+(\d{4}))?")


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
    first, last = read_days(plain, today)
    if first > today:
        raise RuleBroken(f"{said} has not come yet.", field="since")
    whole = room_time.whole_days(first, last)
    return When(whole.earliest, min(whole.latest, now), said, first != last)


def read_days(text: str, today: date, field: str = "since") -> tuple[date, date]:
    """First and last day of what was said, see `days_said`. Raises RuleBroken for other words."""
    found = days_said(text, today, field)
    if found is None or found[1] < found[0]:
        raise RuleBroken(f"“{text.strip()}” is not a date. {FORMS}", field=field)
    return found


def days_said(text: str, today: date, field: str = "since") -> tuple[date, date] | None:
    """First and last day of a year, season, month or day, of "May" (the last that has begun) or
    "about 3 years"; of "2026-05-01 to 2026-05-20" too. None for other words.

    A season spans that of both halves of the earth, as a room does not say on which it stands;
    "about 3 years" is half a year more or less. Raises RuleBroken for a year out of bounds.
    """
    plain = ABOUT.sub("", " ".join(text.casefold().split())).strip()
    begins, to, ends = plain.partition(" to ")
    try:
        if to:
            first, last = _days(begins, today, field), _days(ends, today, field)
            return None if first is None or last is None else (first[0], last[1])
        return _days(plain, today, field)
    except (ValueError, OverflowError):
        return None


def _days(plain: str, today: date, field: str) -> tuple[date, date] | None:
    if re.fullmatch(r"\d{4}", plain):
        return check_day(date(int(plain), 1, 1), field), date(int(plain), 12, 31)
    if re.fullmatch(r"\d{4}-\d{1,2}", plain):
        year, month = plain.split("-")
        return _month(int(year), int(month), field)
    if day := re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", plain):
        exact = check_day(date(*(int(part) for part in day.groups())), field)
        return exact, exact
    if season := _SEASON.fullmatch(plain):
        return _season(season[1], int(season[2]), field)
    if ago := _AGO.fullmatch(plain):
        return _ago(int(_NUMBERS.get(ago[1]) or ago[1]), ago[2], today)
    named = _NAMED.fullmatch(plain)
    if named is None or named[1].capitalize() not in MONTHS:
        return None
    number = MONTHS.index(named[1].capitalize()) + 1
    year_said = int(named[2]) if named[2] else today.year - (number > today.month)
    return _month(year_said, number, field)


def _season(word: str, year: int, field: str) -> tuple[date, date]:
    if word in ("spring", "autumn", "fall"):
        return check_day(date(year, 3, 1), field), date(year, 11, 30)
    return check_day(date(year - 1, 12, 1), field), date(year + 1, 3, 1) - timedelta(days=1)


def _ago(number: int, unit: str, today: date) -> tuple[date, date]:
    length = A_UNIT_IN_DAYS[unit]
    half = timedelta(days=0 if unit == "day" else round(length / 2))
    then = today - timedelta(days=round(number * length))
    return then - half, min(then + half, today)


def _month(year: int, month: int, field: str) -> tuple[date, date]:
    first = check_day(date(year, month, 1), field)
    following = date(year + month // 12, month % 12 + 1, 1)
    return first, following - timedelta(days=1)
