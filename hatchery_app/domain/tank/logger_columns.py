"""The columns of a logger's text: which sign divides them, where the time stands and where the
temperature, and how a time is written. Nothing here decides what an ambiguous date means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time
from decimal import Decimal

ISO = re.compile(
    r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T\s]+(.+))?", re.IGNORECASE
)  # the year first: never ambiguous
DAY_MONTH = re.compile(r"(\d{1,2})([-/.])(\d{1,2})[-/.](\d{4}|\d{2})\.?(?:[T\s,]+(.+))?")
CLOCK = re.compile(
    r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:[.,]\d+)?)?\s*(am|pm|a\.m\.|p\.m\.)?"
    r"\s*(z|utc|gmt|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
NUMBER = re.compile(
    r"\s*([+-]?\d+(?:[.,]\d+)?)\s*(°\s*c|°\s*f|º\s*c|º\s*f|deg\s*c|deg\s*f|c|f)?\s*", re.IGNORECASE
)
FARTHEST_ZONE_H = 14  # the Line Islands
# With blanks alone between them, only a figure at the end stands apart from date and time.
LAST_FIGURE = re.compile(r"\s+(?=[+-]?\d+(?:[.,]\d+)?\s*(?:°?\s*[cf])?$)", re.IGNORECASE)
DIGITS = re.compile(r"\s*\d{1,4}\s*")
ZONE_IN_HEADER = re.compile(r"\b(?:utc|gmt)\b\s*([+-]\d{2}:?\d{2})?", re.IGNORECASE)
UNIT_IN_HEADER = re.compile(r"(?:°|º|\(|\[|\bdeg\s?|,\s*|_|\s)\s*([cf])\b", re.IGNORECASE)


@dataclass(frozen=True)
class TypedDate:
    """A date as written: the year, and two numbers that are month and day in some order.

    `settled` where the order is certain: the year stood first, or dots divide (day first).
    """

    year: int
    first: int
    second: int
    settled: bool
    month_first: bool = False

    def month_and_day(self, *, month_first: bool) -> tuple[int, int]:
        """(month, day), the order given counting only where the writing leaves it open."""
        if self.month_first if self.settled else month_first:
            return self.first, self.second
        return self.second, self.first


@dataclass(frozen=True)
class TypedRow:
    """One line that holds a time and a temperature. `zone` "" is the room's own clock."""

    line: int
    text: str
    day: TypedDate
    clock: time
    zone: str
    figure: Decimal
    unit: str  # "C", "F" or "" where the row does not say


@dataclass(frozen=True)
class BadRow:
    """A line nothing can be stored of, and why."""

    line: int
    text: str
    reason: str

    def said(self) -> str:
        """ "line 7, “abc;26.5”: no date"."""
        return f"line {self.line}, “{self.text[:60]}”: {self.reason}"


@dataclass(frozen=True)
class Columns:
    """What a whole text reads as, before dates are settled."""

    rows: tuple[TypedRow, ...]
    bad: tuple[BadRow, ...]


def read_columns(text: str) -> Columns:
    """Every line of a logger's text as a typed row or a bad one; headings are left out.

    Divided by tab, semicolon, comma or blanks; a decimal comma is seen where commas divide too.
    """
    lines = [
        (number, line.strip().lstrip("\ufeff"))
        for number, line in enumerate(text.splitlines(), start=1)
    ]
    lines = [(number, line) for number, line in lines if line and not line.startswith("#")]
    divided = _divider([line for _, line in lines])
    heading: tuple[str, ...] = ()
    rows: list[TypedRow] = []
    bad: list[BadRow] = []
    for number, line in lines:
        fields = _fields(line, divided)
        if not rows and not bad and _is_heading(fields):
            heading = fields
            continue
        read = _row(number, line, fields, heading, divided)
        if isinstance(read, TypedRow):
            rows.append(read)
        else:
            bad.append(read)
    return Columns(tuple(rows), tuple(bad))


def _divider(lines: Sequence[str]) -> str:
    """The sign that divides most lines: tab before semicolon before comma."""
    for sign in ("\t", ";"):
        if lines and sum(sign in line for line in lines) * 2 > len(lines):
            return sign
    return ","


def _fields(line: str, divided: str) -> tuple[str, ...]:
    parts = line.split(divided)
    if len(parts) == 1:
        parts = LAST_FIGURE.split(line, maxsplit=1)
    return tuple(field.strip().strip('"').strip() for field in parts)


def _is_heading(fields: Sequence[str]) -> bool:
    """A line without any date or figure: titles and column names above the first row."""
    return _first_date(fields) is None and not any(NUMBER.fullmatch(field) for field in fields)


def _first_date(fields: Sequence[str]) -> int | None:
    for place, field in enumerate(fields):
        if ISO.fullmatch(field) or DAY_MONTH.fullmatch(field):
            return place
    return None


def _row(
    number: int, line: str, fields: tuple[str, ...], heading: tuple[str, ...], divided: str
) -> TypedRow | BadRow:
    place = _first_date(fields)
    if place is None:
        return BadRow(number, line, "no date such as 2026-11-24 or 24/11/2026")
    day, rest = _date(fields[place])
    after = place + 1
    if not rest and after < len(fields):
        rest, after = fields[after], after + 1
    clock = CLOCK.fullmatch(rest.strip()) if rest else None
    found = None if clock is None else _time(clock)
    if clock is None or found is None:
        return BadRow(number, line, "no time of day such as 14:30")
    figure = _temperature(fields, after, heading, divided)
    if figure is None:
        return BadRow(number, line, "no temperature behind the time")
    zone = _zone(clock[5] or "") or _zone_of_heading(heading)
    if zone and (int(zone[1:3]) > FARTHEST_ZONE_H or int(zone[3:5]) > 59):
        return BadRow(number, line, f"no clock on earth is {zone} from UTC")
    unit = figure[1] or _unit_of_heading(heading)
    return TypedRow(number, line, day, found, zone, figure[0], unit)


def _date(field: str) -> tuple[TypedDate, str]:
    iso = ISO.fullmatch(field)
    if iso is not None:
        year, month, day, rest = iso.groups()
        return TypedDate(int(year), int(month), int(day), True, True), rest or ""
    match = DAY_MONTH.fullmatch(field)
    assert match is not None  # the caller found a date here
    first, sign, second, year, rest = match.groups()
    whole = int(year) if len(year) == 4 else 2000 + int(year)
    return TypedDate(whole, int(first), int(second), sign == "."), rest or ""


def _time(clock: re.Match[str]) -> time | None:
    hours, minutes, seconds = int(clock[1]), int(clock[2]), int(clock[3] or 0)
    half = (clock[4] or "").replace(".", "").lower()
    if half:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if half == "pm" else 0)
    if hours > 23 or minutes > 59 or seconds > 59:
        return None
    return time(hours, minutes, seconds)


def _zone(written: str) -> str:
    plain = written.strip().upper().replace(":", "")
    if plain in ("Z", "UTC", "GMT"):
        return "+0000"
    return plain


def _zone_of_heading(heading: tuple[str, ...]) -> str:
    for name in heading:
        match = ZONE_IN_HEADER.search(name)
        if match is not None:
            return (match[1] or "+00:00").replace(":", "")
    return ""


def _unit_of_heading(heading: tuple[str, ...]) -> str:
    for name in heading:
        if "temp" in name.lower() or "°" in name or "º" in name:
            match = UNIT_IN_HEADER.search(name)
            if match is not None:
                return match[1].upper()
            if "fahrenheit" in name.lower():
                return "F"
            if "celsius" in name.lower():
                return "C"
    return ""


def _temperature(
    fields: tuple[str, ...], after: int, heading: tuple[str, ...], divided: str
) -> tuple[Decimal, str] | None:
    """The figure under a heading that names temperature, else the first one behind the time."""
    named = [i for i, name in enumerate(heading) if "temp" in name.lower()]
    if len(heading) == len(fields) and named and named[0] >= after:
        after = named[0]
    rest = fields[after:]
    if not rest:
        return None
    # Where commas divide, a decimal comma leaves two whole numbers and nothing else.
    whole = len(rest) == 2 and all(DIGITS.fullmatch(part) for part in rest)
    if divided == "," and whole and len(heading) != len(fields):
        return Decimal(f"{rest[0].strip()}.{rest[1].strip()}"), ""
    match = NUMBER.fullmatch(rest[0])
    if match is None:
        return None
    unit = (match[2] or "")[-1:].upper()
    return Decimal(match[1].replace(",", ".")), unit
