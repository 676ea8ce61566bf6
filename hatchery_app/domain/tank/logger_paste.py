"""A logger's column of temperatures, read as a whole before anything is stored.

Day and month are told apart by the whole column, or asked about; times without a zone are the
room's clock; every line that cannot be read is named by its number.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

from hatchery_app.domain import units
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.logger_columns import BadRow, TypedDate, TypedRow, read_columns
from hatchery_app.domain.typed_amounts import (
    COLDEST_C,
    HOTTEST_C,
    UNUSUAL_ABOVE_C,
    UNUSUAL_BELOW_C,
)
from hatchery_app.domain.when import COUNTS_AS_NOW, FIRST_YEAR, LAST_YEAR, RoomTime, say_date

MOST_ROWS = 100_000  # over a year of readings every five minutes
NAMED_ROWS = 12  # so many bad rows are written out; the rest are counted
LEAVE_OUT = "leave out"
AS_TYPED = "as typed"
Answers = Mapping[str, str]


class RowsAsked(Asked):
    """Some lines cannot be stored: mend the text, or leave those lines out."""

    def __init__(self, sentence: str, question: str, rows: tuple[BadRow, ...], more: str = ""):
        answers = [(LEAVE_OUT, f"leave out {_rows(len(rows))} and store the rest")]
        if more:
            answers.append((AS_TYPED, more))
        super().__init__(sentence, question, tuple(answers), "text")
        self.rows = rows


@dataclass(frozen=True)
class Logged:
    """One temperature of the column: its line, its instant (UTC), °C, and what was written."""

    line: int
    at: datetime
    temperature_c: float
    typed: str


@dataclass(frozen=True)
class LoggerColumn:
    """What a paste comes to: its readings in order of time, lines left out, and how it was read."""

    readings: tuple[Logged, ...]
    left_out: int
    repeated: int
    read_as: tuple[str, ...]


def read_logger(
    text: str, *, room_time: RoomTime, now: datetime, fahrenheit: bool, answers: Answers
) -> LoggerColumn:
    """The readings of a pasted column (time, temperature), in any order of lines.

    `fahrenheit` says what a figure without a unit means here. Raises RuleBroken where there is
    nothing to read, Asked for what the text leaves open: "dates" (day or month first), "unit",
    "twice" and "never" (clock changes), "bad_rows", "unusual_rows". Until all is answered
    nothing is to be stored.
    """
    columns = read_columns(text)
    if not columns.rows:
        shown = "; ".join(row.said() for row in columns.bad[:3])
        raise RuleBroken(
            "No line holds a time and a temperature, such as “2026-11-24 14:30, 26.5”."
            + (f" {shown[:1].upper()}{shown[1:]}." if shown else ""),
            field="text",
        )
    if len(columns.rows) > MOST_ROWS:
        raise RuleBroken(f"At most {MOST_ROWS} lines in one paste.", field="text")
    month_first = _month_first(columns.rows, now, room_time, answers)
    dated, undated = _dates(columns.rows, month_first)
    unit = _unit(columns.rows, fahrenheit, answers)
    timed = _instants(dated, room_time, answers)
    good, bad = _readings(timed, unit, now)
    once, repeated, contradicting = _each_once(good)
    broken = sorted([*columns.bad, *undated, *bad, *contradicting], key=lambda row: row.line)
    if broken and answers.get("bad_rows") != LEAVE_OUT:
        raise RowsAsked(_sentence_of(broken), "bad_rows", tuple(broken))
    kept = _unusual_settled(once, answers)
    if not kept:
        raise RuleBroken("No line is left to store.", field="text")
    left_out = len(broken) + len(once) - len(kept)
    return LoggerColumn(tuple(kept), left_out, repeated, _read_as(columns.rows, month_first, unit))


def _rows(number: int) -> str:
    return "that line" if number == 1 else f"those {number} lines"


def _sentence_of(broken: Sequence[BadRow]) -> str:
    numbers = ", ".join(str(row.line) for row in broken[:NAMED_ROWS])
    more = len(broken) - NAMED_ROWS
    behind = f" and {more} more" if more > 0 else ""
    if len(broken) == 1:
        return f"Line {numbers} cannot be stored, so nothing is stored yet: {broken[0].reason}."
    return f"Lines {numbers}{behind} cannot be stored, so nothing is stored yet."


# --- Day and month ------------------------------------------------------------------------


def _month_first(
    rows: Sequence[TypedRow], now: datetime, room_time: RoomTime, answers: Answers
) -> bool:
    """Whether the open dates have the month first, by the whole column; asked where it is open."""
    spread = [row.day for row in rows if not row.day.settled]
    if not spread or all(day.first == day.second for day in spread):
        return False
    today = room_time.local(now).date()
    orders = [order for order in (False, True) if _fits(spread, order, today)]
    if len(orders) == 1:
        return orders[0]
    given = answers.get("dates", "")
    if given in ("day", "month"):
        return given == "month"
    first, last = spread[0], spread[-1]
    labels = tuple(
        (name, f"{name} first: {_said(first, order)} to {_said(last, order)}")
        for name, order in (("day", False), ("month", True))
    )
    fits = "The whole column fits both." if orders else "No one order fits the whole column."
    raise Asked(
        f"Does {first.first}/{first.second}/{first.year} begin with the day or with the month?"
        f" {fits}",
        "dates",
        labels,
        "text",
    )


def _fits(days: Iterable[TypedDate], month_first: bool, today: date) -> bool:
    read = [_calendar(day, month_first) for day in days]
    return all(day is not None and day <= today for day in read)


def _calendar(day: TypedDate, month_first: bool) -> date | None:
    month, day_of_month = day.month_and_day(month_first=month_first)
    try:
        return date(day.year, month, day_of_month)
    except ValueError:
        return None


def _said(day: TypedDate, month_first: bool) -> str:
    read = _calendar(day, month_first)
    return "no date" if read is None else say_date(read, year=True)


def _dates(
    rows: Sequence[TypedRow], month_first: bool
) -> tuple[list[tuple[TypedRow, date]], list[BadRow]]:
    dated: list[tuple[TypedRow, date]] = []
    bad: list[BadRow] = []
    for row in rows:
        day = _calendar(row.day, month_first)
        if day is None or not FIRST_YEAR <= day.year <= LAST_YEAR:
            bad.append(BadRow(row.line, row.text, "there is no such date"))
        else:
            dated.append((row, day))
    return dated, bad


# --- The unit -----------------------------------------------------------------------------


def _unit(rows: Sequence[TypedRow], fahrenheit: bool, answers: Answers) -> str:
    """What figures without a unit are in; asked where they only make sense in the other one."""
    own, other = ("F", "C") if fahrenheit else ("C", "F")
    bare = sorted(row.figure for row in rows if not row.unit)
    if not bare:
        return own
    middle = bare[len(bare) // 2]
    if _is_usual(_celsius(middle, own)) or not _is_usual(_celsius(middle, other)):
        return own
    given = answers.get("unit", "")
    if given in ("C", "F"):
        return given
    raise Asked(
        f"The column reads about {middle:f}: that is water in °{other}, and this room writes"
        f" °{own}. Which is it?",
        "unit",
        ((other, f"°{other}"), (own, f"°{own}")),
        "text",
    )


def _celsius(figure: Decimal, unit: str) -> Decimal:
    return (units.FAHRENHEIT if unit == "F" else units.CELSIUS).to_canonical(figure)


def _is_usual(temperature_c: Decimal) -> bool:
    return UNUSUAL_BELOW_C <= temperature_c <= UNUSUAL_ABOVE_C


# --- Instants -----------------------------------------------------------------------------


def _instants(
    dated: Sequence[tuple[TypedRow, date]], room_time: RoomTime, answers: Answers
) -> list[tuple[TypedRow, datetime]]:
    """Each row's instant. An hour the clock shows twice is told apart by the order of the lines
    where the column steps back, and asked about where it does not."""
    second = _second_passes(dated, room_time)
    return [
        (row, _instant(row, day, room_time, answers, second.get(row.line))) for row, day in dated
    ]


def _instant(
    row: TypedRow, day: date, room_time: RoomTime, answers: Answers, second: bool | None
) -> datetime:
    if row.zone:
        sign = -1 if row.zone.startswith("-") else 1
        ahead = timedelta(hours=int(row.zone[1:3]), minutes=int(row.zone[3:5])) * sign
        return datetime.combine(day, row.clock, tzinfo=timezone(ahead)).astimezone(UTC)
    if second is not None:
        return room_time.at(day, row.clock, 1 if second else 0)
    first, last = (room_time.at(day, row.clock, fold) for fold in (0, 1))
    question = "twice" if first < last else "never"
    given = answers.get(question, "")
    fold = int(given) if given in ("0", "1") else None
    return room_time.at(day, row.clock, fold, field="text", question=question)


def _second_passes(
    dated: Sequence[tuple[TypedRow, date]], room_time: RoomTime
) -> dict[int, bool]:
    """Lines whose time came twice, where the lines' own order tells the passes apart."""
    twice = [
        (row, day)
        for row, day in dated
        if not row.zone and room_time.at(day, row.clock, 0) < room_time.at(day, row.clock, 1)
    ]
    told: dict[int, bool] = {}
    for day in {day for _, day in twice}:
        rows = [row for row, on in twice if on == day]
        steps = [i for i in range(1, len(rows)) if rows[i].clock <= rows[i - 1].clock]
        if len(steps) == 1:
            told |= {row.line: i >= steps[0] for i, row in enumerate(rows)}
    return told


# --- Values -------------------------------------------------------------------------------


def _readings(
    timed: Sequence[tuple[TypedRow, datetime]], unit: str, now: datetime
) -> tuple[list[Logged], list[BadRow]]:
    good: list[Logged] = []
    bad: list[BadRow] = []
    for row, at in timed:
        temperature_c = _celsius(row.figure, row.unit or unit)
        if at > now + COUNTS_AS_NOW:
            bad.append(BadRow(row.line, row.text, "this has not come yet"))
        elif not COLDEST_C <= temperature_c <= HOTTEST_C:
            bad.append(
                BadRow(row.line, row.text, f"{row.figure:f} cannot be the water of a tank")
            )
        else:
            typed = f"{row.figure:f} {row.unit or unit}"
            good.append(Logged(row.line, at, float(temperature_c), typed))
    return good, bad


def _each_once(good: Sequence[Logged]) -> tuple[list[Logged], int, list[BadRow]]:
    """Readings in order of time, each instant once; two figures for one instant contradict."""
    by_instant: dict[datetime, Logged] = {}
    repeated = 0
    contradicting: list[BadRow] = []
    for reading in good:
        before = by_instant.setdefault(reading.at, reading)
        if before is reading:
            continue
        if before.temperature_c == reading.temperature_c:
            repeated += 1
        else:
            contradicting.append(
                BadRow(
                    reading.line, reading.typed,
                    f"line {before.line} reads {before.typed} at the same time",
                )
            )  # fmt: skip
    return sorted(by_instant.values(), key=lambda r: r.at), repeated, contradicting


def _unusual_settled(readings: Sequence[Logged], answers: Answers) -> list[Logged]:
    """Without the readings the keeper leaves out; asked about while nobody has said."""
    usual: list[Logged] = []
    unusual: list[Logged] = []
    for r in readings:
        (usual if _is_usual(Decimal(str(r.temperature_c))) else unusual).append(r)
    given = answers.get("unusual_rows", "")
    if not unusual or given == AS_TYPED:
        return list(readings)
    if given == LEAVE_OUT:
        return usual
    rows = tuple(BadRow(r.line, r.typed, "unusual for a tank") for r in unusual)
    named = ", ".join(str(r.line) for r in unusual[:NAMED_ROWS])
    more = len(unusual) - NAMED_ROWS
    raise RowsAsked(
        f"Unusual for a tank: line{'' if len(unusual) == 1 else 's'} {named}"
        f"{f' and {more} more' if more > 0 else ''}. Was the water so?",
        "unusual_rows",
        rows,
        "it was so: store as written",
    )


def _read_as(rows: Sequence[TypedRow], month_first: bool, unit: str) -> tuple[str, ...]:
    said = []
    if any(not row.day.settled for row in rows):
        said.append("month first" if month_first else "day first")
    said.append("with its own zone" if all(row.zone for row in rows) else "room time")
    said.append(f"°{rows[0].unit or unit}")
    return tuple(said)
