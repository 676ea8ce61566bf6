"""The day-book in words: lines, who wrote them, how late; one entry; the room."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from flask import url_for

from hatchery_app.domain.when import RoomTime, say_date, say_when
from hatchery_app.services.records.records import DayBook, EntryPage, Line
from hatchery_app.web.addresses import address_of
from hatchery_app.web.records.entry_forms import how_asked

AN_HOUR, A_DAY = timedelta(hours=1), timedelta(days=1)


@dataclass(frozen=True)
class LineShown:
    """One line: its words, when it happened, who wrote it and how late."""

    words: str
    url: str
    when: str
    written: str
    note: str
    mark: str
    is_replaced: bool


@dataclass(frozen=True)
class DayShown:
    """The lines written on one day."""

    heading: str
    lines: tuple[LineShown, ...]


@dataclass(frozen=True)
class DayBookPage:
    """One page of the day-book with its filter."""

    heading: str
    days: tuple[DayShown, ...]
    rooms: tuple[tuple[str, str], ...]
    room_word: str
    day: str
    refused: str
    newer_url: str
    older_url: str


@dataclass(frozen=True)
class EntryShown:
    """One entry with its versions, and the ways to change it."""

    heading: str
    now: LineShown
    earlier: tuple[LineShown, ...]
    correct_url: str
    withdraw_url: str
    restore_url: str
    count_url: str
    form: Any


@dataclass(frozen=True)
class AskedPart:
    """A field of a correction and how it is asked."""

    how: str
    field: Any


@dataclass(frozen=True)
class ChangePage:
    """A form about one entry."""

    heading: str
    words: str
    form: Any
    parts: tuple[AskedPart, ...]
    is_dated: bool
    in_the_way: tuple[tuple[str, str], ...]
    back_url: str


def day_book(
    book: DayBook, room_time: RoomTime, *, room_word: str, day: date | None, typed: str,
    refused: str,
) -> DayBookPage:  # fmt: skip
    """The lines by the day they were written, with the ways to the neighbouring pages."""
    days = groupby(book.lines, key=lambda line: room_time.local(line.received_at).date())
    newer, older = book.number - 1, book.number + 1

    def turned(number: int) -> str:
        on = day.isoformat() if day else None
        return url_for("records.day_book", page=number, room=room_word or None, day=on)

    return DayBookPage(
        heading="Day-book",
        days=tuple(
            DayShown(f"Written {say_date(on, year=True)}", _lines(lines, room_time))
            for on, lines in days
        ),
        rooms=book.rooms,
        room_word=room_word,
        day=typed,
        refused=refused,
        newer_url=turned(newer) if newer else "",
        older_url=turned(older) if book.has_more else "",
    )  # fmt: skip


def entry(page: EntryPage, room_time: RoomTime, form: Any) -> EntryShown:
    """What stands, what stood before, and what can be done about it."""
    lines = _lines(page.versions, room_time)
    ways = {
        word: url_for(f"records.{word}", fact_id=page.fact_id)
        for word in (("restore",) if page.is_withdrawn else ("correct", "withdraw"))
    }
    return EntryShown(
        heading=f"{page.word}, withdrawn" if page.is_withdrawn else page.word,
        now=lines[0],
        earlier=lines[1:],
        correct_url=ways.get("correct", ""),
        withdraw_url=ways.get("withdraw", ""),
        restore_url=ways.get("restore", ""),
        count_url=_count_url(page),
        form=form,
    )


def _count_url(page: EntryPage) -> str:
    """Where an entry's number is shown with how it was counted, "" for one without a number."""
    carries = any(part.reads == "HOW_MANY" for part in page.parts)
    return address_of("stock_book.count", fact_id=page.fact_id) if (
        carries and not page.is_withdrawn) else ""


def correcting(page: EntryPage, form: Any) -> ChangePage:
    """The form that says an entry anew."""
    parts = tuple(AskedPart(how_asked(part), form[part.name]) for part in page.parts)
    return _changing(page, form, f"Correct: {page.word}", parts)


def withdrawing(page: EntryPage, form: Any) -> ChangePage:
    """The question before an entry is taken back."""
    return _changing(page, form, f"Withdraw: {page.word}", ())


def _changing(page: EntryPage, form: Any, heading: str, parts: tuple[AskedPart, ...]) -> ChangePage:
    return ChangePage(
        heading=heading,
        words=page.now.words,
        form=form,
        parts=parts,
        is_dated=page.is_dated and bool(parts),
        in_the_way=tuple(
            (one.words, url_for("records.entry", fact_id=one.fact_id)) for one in form.in_the_way
        ),
        back_url=url_for("records.entry", fact_id=page.fact_id),
    )


def _lines(lines: Iterable[Line], room_time: RoomTime) -> tuple[LineShown, ...]:
    return tuple(_line(line, room_time) for line in lines)


def _line(line: Line, room_time: RoomTime) -> LineShown:
    at = f"{room_time.local(line.received_at):%H:%M}"
    by = f" by {line.by}" if line.by else ""
    late = lateness(line.received_at - line.when.latest)
    return LineShown(
        words=line.words,
        url=url_for("records.entry", fact_id=line.fact_id),
        when=say_when(line.when, room_time, year=line.when.latest.year != line.received_at.year),
        written=f"written {at}{by}" + (f", {late}" if late else ""),
        note=line.note,
        mark=_mark(line),
        is_replaced=line.is_replaced,
    )


def _mark(line: Line) -> str:
    if line.takes_back:
        return "withdrawn"
    if line.is_replaced:
        return "replaced since"
    return "corrected" if line.is_correction else ""


def lateness(late: timedelta) -> str:
    """How long after it happened a thing was written: "3 days later"; nothing within the hour."""
    if late < AN_HOUR:
        return ""
    number, unit = (late // A_DAY, "day") if late >= A_DAY else (late // AN_HOUR, "hour")
    return f"{number} {unit}{'s' if number > 1 else ''} later"
