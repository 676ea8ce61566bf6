"""The room's calendar: its address, and the feed a telephone fetches without signing in."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from flask import abort, g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.today.room_calendar import CalendarEvent
from hatchery_app.domain.when import When, say_when
from hatchery_app.services.species.library import library
from hatchery_app.services.today import today_calendar
from hatchery_app.services.today.today_calendar import RoomCalendar
from hatchery_app.web.entry_form import take
from hatchery_app.web.today.forms import TapForm

Answered = Response | tuple[str, int] | str
A_DAY = timedelta(days=1)
ASK_AGAIN = timedelta(hours=1)
PRODUCT = "-//Hatchery day-book//Room calendar//EN"


@dataclass(frozen=True)
class CalendarPage:
    """The address, or that there is none. `address` is "" then."""

    heading: str
    address: str
    said: str
    only_here: bool
    refused: str = ""


def show() -> Answered:
    """What the address is and what it is for."""
    return _shown()


def make() -> Answered:
    """A new address; the old one stops."""
    form = TapForm()
    return take(
        form,
        record=lambda posting: today_calendar.make_address(records, posting=posting),
        then=lambda _key: url_for("today.calendar"),
        show=lambda: _shown(form.sentence),
        said="The address is made. An older one no longer works.",
    )


def revoke() -> Answered:
    """Nobody reads the calendar any more."""
    form = TapForm()
    return take(
        form,
        record=lambda posting: today_calendar.revoke_address(records, posting=posting),
        then=lambda _key: url_for("today.calendar"),
        show=lambda: _shown(form.sentence),
        said="The address is revoked: it answers nothing from now on.",
    )


def feed(token: str) -> Response:
    """The calendar itself, for whoever has the address; nothing for anybody else."""
    if g.room is None:
        abort(404)
    try:
        today_calendar.check_token(records, token)
    except NotKnown:
        abort(404)
    calendar = today_calendar.room_calendar(records, library(), room=g.room, now=g.now)
    answer = Response(written(calendar), mimetype="text/calendar")
    answer.headers["Cache-Control"] = "private, no-cache"
    answer.headers["X-Robots-Tag"] = "noindex"
    answer.headers["Content-Disposition"] = 'inline; filename="room.ics"'
    return answer


def written(calendar: RoomCalendar) -> bytes:
    """The events as iCalendar (RFC 5545): hours as UTC instants, whole days as dates.

    UTC, because an instant needs no zone rules to be right through a clock change. The UID holds
    the event's lasting name, so that a moved date moves the event.
    """
    from icalendar import Calendar  # late: Today starts without it

    feed = Calendar()
    feed.add("prodid", PRODUCT)
    feed.add("version", "2.0")
    feed.add("method", "PUBLISH")
    feed.add("name", calendar.name)
    feed.add("x-wr-calname", calendar.name)
    feed.add("x-wr-timezone", calendar.zone_name)
    feed.add("refresh-interval", ASK_AGAIN, parameters={"VALUE": "DURATION"})
    feed.add("x-published-ttl", "PT1H")
    for event in calendar.events:
        feed.add_component(_event(event, calendar))
    return bytes(feed.to_ical())


def _event(event: CalendarEvent, calendar: RoomCalendar) -> Any:
    from icalendar import Event

    said = Event()
    said.add("uid", f"{event.name}@{calendar.mark}.hatchery")
    said.add("summary", event.what)
    said.add("dtstart", _start(event.begins))
    said.add("dtend", _end(event.ends))
    said.add("dtstamp", calendar.now.astimezone(UTC))
    said.add("last-modified", calendar.changed_at.astimezone(UTC))
    said.add("sequence", calendar.revision)
    if event.why:
        said.add("description", event.why)
    if event.where:
        said.add("location", event.where)
    # Whole days are windows: the keeper is not busy all of them.
    said.add("transp", "TRANSPARENT" if event.is_all_day else "OPAQUE")
    return said


def _start(begins: date | datetime) -> date | datetime:
    return begins.astimezone(UTC) if isinstance(begins, datetime) else begins


def _end(ends: date | datetime) -> date | datetime:
    """The end as RFC 5545 has it: of whole days the day after the last (3.6.1)."""
    return ends.astimezone(UTC) if isinstance(ends, datetime) else ends + A_DAY


def _shown(refused: str = "") -> str:
    address = today_calendar.address_now(records)
    link, said = "", ""
    if address is not None:
        link = url_for("today.calendar_feed", token=address.token, _external=True)
        said = f"made {say_when(When.exactly(address.made_at), g.room.room_time)}"
    only_here = request.host.partition(":")[0] in ("127.0.0.1", "localhost")
    page = CalendarPage("Calendar", link, said, only_here, refused)
    return render_template("today/calendar_show.html", page=page)
