"""When it happened, as keepers say it: just now, at a time, or between two looks."""

from datetime import date, datetime, time, timedelta
from typing import Any

from flask import g
from wtforms import BooleanField, RadioField, StringField
from wtforms.validators import Optional

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import RoomTime, When, check_day, happened

NOW, AT, BETWEEN = "now", "at", "between"
WHEN = ("when_how", "at_on", "at_time", "from_on", "from_time", "until_on", "until_time")


class WhenFields:
    """Mix into an EntryForm. Dates and times are room time; a time left out is the whole day.

    `when_how` picks one of the three; the fields of the other two may hold anything.
    """

    when_how = RadioField(
        "When",
        choices={NOW: "Just now", AT: "At a time", BETWEEN: "Between two looks"},
        default=NOW,
        validators=[Optional()],
    )
    at_on = StringField("Day", validators=[Optional()])
    at_time = StringField("Time", validators=[Optional()])
    from_on = StringField("After (last looked)", validators=[Optional()])
    from_time = StringField("Time", validators=[Optional()])
    until_on = StringField("Before (found)", validators=[Optional()])
    until_time = StringField("Time", validators=[Optional()])
    from_memory = BooleanField("From memory")

    def read_when(self, *, answers: dict[str, str] | None = None) -> When:
        """The When that was said. Raises RuleBroken or Asked beside the field it is about."""
        room_time: RoomTime = g.room.room_time
        answered = answers if answers is not None else self.answers  # type: ignore[attr-defined]
        said = {
            AT: self._at,
            BETWEEN: self._between,
        }.get(self.when_how.data or NOW, lambda _room_time, _answers: When.exactly(g.now))
        when = said(room_time, answered)
        if self.from_memory.data:
            when = When(when.earliest, when.latest, when.said, True)
        return happened(when, g.now, room_time, answers=answered, field="at_on")

    def _at(self, room_time: RoomTime, answers: dict[str, str]) -> When:
        day = read_day(self.at_on.data, "at_on") or room_time.local(g.now).date()
        return _moment(room_time, day, self.at_time.data, "at_time", "fold", answers)

    def _between(self, room_time: RoomTime, answers: dict[str, str]) -> When:
        first = read_day(self.from_on.data, "from_on")
        if first is None:
            raise RuleBroken("Say when you last looked and saw none.", field="from_on")
        last = read_day(self.until_on.data, "until_on")
        after = read_time(self.from_time.data, "from_time")
        before = read_time(self.until_time.data, "until_time")
        earliest = (
            room_time.whole_days(first).earliest
            if after is None
            else _instant(room_time, first, after, "from_time", "fold_from", answers)
        )
        latest = self._latest(room_time, last, before, answers)
        # A day alone lasts to its midnight, which is when the day after it begins.
        if latest < earliest or (last is not None and last < first):
            raise RuleBroken("The later look is before the earlier one.", field="until_on")
        return When.between(earliest, latest)

    def _latest(
        self, room_time: RoomTime, last: date | None, before: time | None, answers: dict[str, str]
    ) -> datetime:
        now: datetime = g.now
        if last is None and before is None:
            return now
        last = last or room_time.local(now).date()
        if before is None:
            whole = room_time.whole_days(last)
            return _not_after_now(whole, now).latest
        return _instant(room_time, last, before, "until_time", "fold_until", answers)


def read_moment(
    day: date, clock: str | None, fields: tuple[str, str], answers: dict[str, str]
) -> When:
    """A day with its time of day as typed, the whole day where that is empty; `fields` are those
    of the day and of the time. Raises RuleBroken or Asked where it has not come yet."""
    room_time: RoomTime = g.room.room_time
    when = _moment(room_time, day, clock, fields[1], f"fold_{fields[1]}", answers)
    return happened(when, g.now, room_time, answers=answers, field=fields[0])


def _moment(
    room_time: RoomTime, day: date, typed: str | None, field: str, question: str,
    answers: dict[str, str],
) -> When:  # fmt: skip
    clock = read_time(typed, field)
    if clock is None:
        return _not_after_now(room_time.whole_days(day), g.now)
    return When.exactly(_instant(room_time, day, clock, field, question, answers))


def read_day(text: str | None, field: str) -> date | None:
    """A date as a date field sends it. Raises RuleBroken beside the field."""
    written = (text or "").strip()
    if not written:
        return None
    try:
        return check_day(date.fromisoformat(written), field)
    except ValueError as reason:
        raise RuleBroken(
            f"“{written}” is not a date; write it like 2026-11-24.", field=field
        ) from reason


def read_time(text: str | None, field: str) -> time | None:
    """A clock time as typed: 9:05, 09:05, 21.30. Raises RuleBroken beside the field."""
    written = (text or "").strip().replace(".", ":")
    if not written:
        return None
    hours, _, minutes = written.partition(":")
    minutes = minutes[:2] if minutes.count(":") == 1 else minutes
    if not (hours.isascii() and hours.isdigit() and minutes.isascii() and minutes.isdigit()):
        raise RuleBroken(f"“{written}” is not a time; write it like 21:30.", field=field)
    if int(hours) > 23 or int(minutes) > 59:
        raise RuleBroken(f"There is no {written} on the clock.", field=field)
    return time(int(hours), int(minutes))


def _instant(
    room_time: RoomTime, day: date, clock: time, field: str, question: str, answers: dict[str, str]
) -> datetime:
    fold = answers.get(question)
    return room_time.at(
        day, clock, int(fold) if fold in ("0", "1") else None, field=field, question=question
    )


def _not_after_now(whole: When, now: datetime) -> When:
    """A day that is still going on ends now: the rest of it has not happened."""
    if whole.earliest <= now < whole.latest:
        return When.between(whole.earliest, now, said=whole.said)
    return whole


def default_days(form: Any, now: datetime) -> None:
    """Fill the dates that most entries need: today and yesterday, in room time."""
    today = g.room.room_time.local(now).date()
    for field, day in (
        (form.at_on, today),
        (form.from_on, today - timedelta(days=1)),
        (form.until_on, today),
    ):
        if not field.data:
            field.data = day.isoformat()


def when_as_typed(when: When, room_time: RoomTime) -> dict[str, str]:
    """A moment as the fields of WhenFields hold it, in room time; whole days without times."""
    first, last = room_time.local(when.earliest), room_time.local(when.latest)
    typed = dict.fromkeys(WHEN, "")
    if when.is_exact:
        return typed | {
            "when_how": AT, "at_on": first.date().isoformat(), "at_time": f"{first:%H:%M}",
        }  # fmt: skip
    if when == room_time.whole_days(first.date(), None, when.said, when.from_memory):
        return typed | {"when_how": AT, "at_on": first.date().isoformat()}
    from_time, until_time, until_on = f"{first:%H:%M}", f"{last:%H:%M}", last.date()
    if when.earliest == room_time.whole_days(first.date()).earliest:
        from_time = ""
    # The midnight that ends a day is the last of that day, as it was said.
    if when.latest == room_time.whole_days(until_on).earliest:
        until_on, until_time = until_on - timedelta(days=1), ""
    return typed | {
        "when_how": BETWEEN, "from_on": first.date().isoformat(), "from_time": from_time,
        "until_on": until_on.isoformat(), "until_time": until_time,
    }  # fmt: skip
