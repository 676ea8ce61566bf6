"""When things happened, in the room's own time, and the nights that everything hangs on.

The night of D is the dark that follows the lights-on of calendar day D: 00:30 on the 20th
belongs to the night of the 19th. A room's day turns at lights-on, not at midnight. Instants
are kept in UTC and every duration comes from instants, so that a clock change neither
lengthens nor reorders anything; only words and lamps follow the clock on the wall.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from hatchery_app.domain.errors import Asked, RuleBroken

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
COUNTS_AS_NOW = timedelta(minutes=5)  # the room's tablet and its server seldom agree better
A_DAY = timedelta(days=1)
FIRST_YEAR, LAST_YEAR = 1900, 2199  # the days these records can hold


@dataclass(frozen=True)
class When:
    """The earliest and the latest instant a thing can have happened, equal when it was seen.

    Both are kept in UTC. `said` is what the keeper said ("found 11:00, last looked Mon 21:00").
    Raises ValueError for a time without a zone, RuleBroken when the two stand the wrong way.
    """

    earliest: datetime
    latest: datetime
    said: str = ""
    from_memory: bool = False

    def __post_init__(self) -> None:
        for name in ("earliest", "latest"):
            moment: datetime = getattr(self, name)
            if moment.utcoffset() is None:
                raise ValueError(f"{name} has no time zone: {moment!r}")
            object.__setattr__(self, name, moment.astimezone(UTC))
        if self.earliest > self.latest:
            raise RuleBroken("The latest time lies before the earliest.", field="when")

    @classmethod
    def exactly(cls, at: datetime, said: str = "", from_memory: bool = False) -> When:
        """At one instant."""
        return cls(at, at, said, from_memory)

    @classmethod
    def between(
        cls, earliest: datetime, latest: datetime, said: str = "", from_memory: bool = False
    ) -> When:
        """At some instant between two, both included."""
        return cls(earliest, latest, said, from_memory)

    @property
    def is_exact(self) -> bool:
        """Whether the instant is known."""
        return self.earliest == self.latest

    @property
    def span(self) -> timedelta:
        """How long the uncertainty is; nothing when exact."""
        return self.latest - self.earliest

    @property
    def middle(self) -> datetime:
        """The instant halfway, for sums that need one; never to be shown as what happened."""
        return self.earliest + self.span / 2

    def shift(self, by: timedelta) -> When:
        """The same interval, so much elapsed time later."""
        return When(self.earliest + by, self.latest + by, self.said, self.from_memory)

    def shift_days(self, days: int, room_time: RoomTime) -> When:
        """The same hours by the clock on the wall so many days later, through clock changes."""
        walls = (room_time.local(at) for at in (self.earliest, self.latest))
        by = timedelta(days=days)
        first, last = (room_time.planned(wall.date() + by, wall.time()) for wall in walls)
        return When(first, max(first, last), self.said, self.from_memory)

    def overlaps(self, other: When) -> bool:
        """Whether both can have happened at one instant."""
        return self.earliest <= other.latest and other.earliest <= self.latest

    def hull(self, other: When) -> When:
        """The interval that holds both: two statements that disagree are kept, not averaged."""
        said = "; ".join(dict.fromkeys(text for text in (self.said, other.said) if text))
        return When(
            min(self.earliest, other.earliest),
            max(self.latest, other.latest),
            said,
            self.from_memory or other.from_memory,
        )

    def until(self, later: When) -> tuple[timedelta, timedelta]:
        """The shortest and longest elapsed time from here to `later`, never below nothing.

        Raises RuleBroken when `later` lies wholly before this.
        """
        longest = later.latest - self.earliest
        if longest < timedelta(0):
            raise RuleBroken("The end lies before the beginning.", field="when")
        return max(later.earliest - self.latest, timedelta(0)), longest


@dataclass(frozen=True)
class RoomTime:
    """The room's one time zone (an IANA name): every time shown or typed is room time.

    Raises RuleBroken for a zone that does not exist.
    """

    zone_name: str

    def __post_init__(self) -> None:
        try:
            ZoneInfo(self.zone_name)
        except (ZoneInfoNotFoundError, ValueError, OSError) as unknown:
            raise RuleBroken(
                f"There is no time zone “{self.zone_name}”: pick one by its place, "
                "such as Europe/Berlin or America/New_York.",
                field="time_zone",
            ) from unknown

    @cached_property
    def _zone(self) -> ZoneInfo:
        return ZoneInfo(self.zone_name)

    def local(self, at: datetime) -> datetime:
        """The instant as the clock on the wall shows it."""
        return at.astimezone(self._zone)

    def at(
        self,
        day: date,
        clock: time,
        fold: int | None = None,
        *,
        field: str = "when",
        question: str = "fold",
    ) -> datetime:
        """The instant (UTC) at which the room's clock shows this.

        Raises Asked under `question` when the clock shows it twice or never; `fold` settles
        it: of two, 0 is the first and 1 the second; of none, 1 is the reading before the
        change and 0 the one after.
        """
        first, second = (self._read(day, clock, reading) for reading in (0, 1))
        if first == second:
            return first
        if fold is not None:
            return second if fold else first
        typed = f"{clock:%H:%M} on {say_date(day)}"
        if first < second:
            raise Asked(
                f"The clocks went back that night, so {typed} came twice. Which one was it?",
                question,
                (
                    ("0", f"the first, {self._reading(first)}"),
                    ("1", f"the second, {self._reading(second)}"),
                ),
                field,
            )
        raise Asked(
            f"The clocks went forward that night, so {typed} never came. Which time is meant?",
            question,
            (("1", self._reading(second)), ("0", self._reading(first))),
            field,
        )

    def planned(self, day: date, clock: time) -> datetime:
        """The instant (UTC) of something set by the clock, such as a lamp, without asking.

        A time that never comes falls after the change, one that comes twice is the first.
        """
        return self._read(day, clock, 0)

    def whole_days(
        self, first: date, last: date | None = None, said: str = "", from_memory: bool = False
    ) -> When:
        """A date without a time: any instant from its midnight to the one that ends it."""
        end = check_day(last or first) + A_DAY
        midnight = time(0)
        return When(self.planned(first, midnight), self.planned(end, midnight), said, from_memory)

    def says_twice(self, at: datetime) -> bool:
        """Whether the clock on the wall shows this time twice, so that words need the zone."""
        wall = self.local(at).replace(tzinfo=None)
        return self._read(wall.date(), wall.time(), 0) < self._read(wall.date(), wall.time(), 1)

    def _read(self, day: date, clock: time, fold: int) -> datetime:
        check_day(day)
        wall = datetime.combine(day, clock.replace(tzinfo=None, fold=fold), tzinfo=self._zone)
        return wall.astimezone(UTC)

    def _reading(self, at: datetime) -> str:
        wall = self.local(at)
        sign_and_hours = f"{wall:%z}"
        return f"{wall:%H:%M} {wall:%Z} (UTC{sign_and_hours[:3]}:{sign_and_hours[3:]})"


def check_day(day: date, field: str = "when") -> date:
    """The day, where these records can hold it. Raises RuleBroken beside `field`.

    Far outside them clocks have no rules, and the last day of the calendar no morning after.
    """
    if FIRST_YEAR <= day.year <= LAST_YEAR:
        return day
    raise RuleBroken(
        f"{say_date(day, year=True)} is outside the years these records can hold, "
        f"{FIRST_YEAR} to {LAST_YEAR}.",
        field=field,
    )


@dataclass(frozen=True)
class Lights:
    """When the lamp of a rack or tank goes on and off by the room's clock.

    `off` at or before `on` on the dial lies after midnight. Raises RuleBroken when the two
    are the same: a lamp that never changes gives no night to count by.
    """

    on: time
    off: time

    def __post_init__(self) -> None:
        if self.on == self.off:
            raise RuleBroken(
                f"The lights go on and off at {self.on:%H:%M}: the two must differ.",
                field="lights_off",
            )

    @property
    def off_after_midnight(self) -> bool:
        """Whether the lamp of an evening goes off on the next calendar day."""
        return self.off < self.on


@dataclass(frozen=True, order=True)
class Night:
    """A night, named by the calendar day its evening belongs to."""

    evening: date

    def number(self, laid: Night) -> int:
        """Which night of a clutch this is; night 0 is that of the laying."""
        return (self.evening - laid.evening).days

    def plus(self, nights: int) -> Night:
        """So many nights later, earlier when negative."""
        return Night(self.evening + timedelta(days=nights))

    def said(self, laid: Night | None = None, *, year: bool = False) -> str:
        """ "Thu 19 Nov", or with the night of the laying "Thu 19 Nov, night 5"."""
        day = say_date(self.evening, year=year)
        return day if laid is None else f"{day}, night {self.number(laid)}"

    @property
    def label(self) -> str:
        """The night's evening in words: "Thu 19 Nov"."""
        return self.said()


def night_of(at: datetime, lights: Lights, room_time: RoomTime) -> Night:
    """The night an instant belongs to: in the dark this one, by day the one to come.

    Before lights-on it is still last evening's. So the night of a laying is its night 0.
    """
    day = room_time.local(at).date()
    night = Night(day)
    return night if at >= room_time.planned(day, lights.on) else night.plus(-1)


def dark_window(night: Night, lights: Lights, room_time: RoomTime) -> tuple[datetime, datetime]:
    """Lights-off and the lights-on that ends it (UTC). Empty if a clock change swallowed it."""
    tomorrow = night.evening + A_DAY
    begins = room_time.planned(night.evening, lights.on)
    ends = room_time.planned(tomorrow, lights.on)
    off_day = tomorrow if lights.off_after_midnight else night.evening
    off = room_time.planned(off_day, lights.off)
    return min(max(off, begins), ends), ends


def is_dark(at: datetime, lights: Lights, room_time: RoomTime) -> bool:
    """Whether the lamp is off at an instant."""
    off, on = dark_window(night_of(at, lights, room_time), lights, room_time)
    return off <= at < on


def night_just_past(at: datetime, lights: Lights, room_time: RoomTime) -> Night:
    """The last night whose dark has begun: a hatch found by day counts to it.

    In the dark that is the night going on.
    """
    night = night_of(at, lights, room_time)
    return night if is_dark(at, lights, room_time) else night.plus(-1)


def dph(hatch_night: Night, at: datetime, lights: Lights, room_time: RoomTime) -> int:
    """Days post hatch by the night convention: 0 until lights-on, then 1, one more each day.

    Raises RuleBroken before the day of the hatch night.
    """
    days = night_of(at, lights, room_time).number(hatch_night)
    if days < 0:
        raise RuleBroken(f"Nothing has hatched yet: the hatch is the night of {hatch_night.label}.")
    return days


def nights_between(first: Night, last: Night) -> tuple[Night, ...]:
    """Every night from the first to the last, both included; none when they stand reversed."""
    return tuple(first.plus(number) for number in range(last.number(first) + 1))


def nights_of(when: When, lights: Lights, room_time: RoomTime) -> tuple[Night, ...]:
    """Every night a vague moment may belong to."""
    return nights_between(
        night_of(when.earliest, lights, room_time), night_of(when.latest, lights, room_time)
    )


def happened(
    when: When,
    now: datetime,
    room_time: RoomTime,
    *,
    answers: Mapping[str, str] | None = None,
    field: str = "when",
) -> When:
    """The moment of a fact, which cannot lie ahead of now; an interval ends at now at latest.

    Up to 5 minutes ahead counts as now. Later is refused (RuleBroken), but where the same
    time a day earlier has passed, the keeper typed tomorrow for tonight and is asked under
    "tonight"; the answer "tonight" takes it a calendar day back.
    """
    if when.earliest <= now + COUNTS_AS_NOW:
        earliest, latest = min(when.earliest, now), min(when.latest, now)
        return When(earliest, latest, when.said, when.from_memory)
    tonight = when.shift_days(-1, room_time)
    if tonight.earliest <= now + COUNTS_AS_NOW:
        offered = When(
            min(tonight.earliest, now), min(tonight.latest, now), when.said, when.from_memory
        )
        if (answers or {}).get("tonight") == "tonight":
            return offered
        raise Asked(
            f"{say_when(when, room_time)} has not come yet; a record is of what has happened. "
            f"Do you mean {say_when(offered, room_time)}?",
            "tonight",
            (("tonight", say_when(offered, room_time)),),
            field,
        )
    raise RuleBroken(
        f"{say_when(when, room_time)} has not come yet; it is "
        f"{say_when(When.exactly(now), room_time)} in the room. Only plans lie ahead.",
        field,
    )


def say_date(day: date, *, year: bool = False) -> str:
    """ "Thu 19 Nov", or with the year "Thu 19 Nov 2026"."""
    said = f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"
    return f"{said} {day.year}" if year else said


def say_when(when: When, room_time: RoomTime, *, year: bool = False) -> str:
    """A moment in words of the room's clock, with what is not known about it.

    "Tue 24 Nov 17:52", "Sat 24 Oct between 14:10 and 16:00", "between Fri 20 and Sun 22 Nov";
    "from memory" is added where it is. The year stands only when asked for, or when the two
    ends lie in different ones.
    """
    said = _say_exact(when, room_time, year) if when.is_exact else _say_span(when, room_time, year)
    return f"{said}, from memory" if when.from_memory else said


def _say_exact(when: When, room_time: RoomTime, year: bool) -> str:
    wall = room_time.local(when.earliest)
    return f"{say_date(wall.date(), year=year)} {_say_clock(when.earliest, room_time)}"


def _say_clock(at: datetime, room_time: RoomTime) -> str:
    wall = room_time.local(at)
    return f"{wall:%H:%M} {wall:%Z}" if room_time.says_twice(at) else f"{wall:%H:%M}"


def _say_span(when: When, room_time: RoomTime, year: bool) -> str:
    begins, ends = room_time.local(when.earliest), room_time.local(when.latest)
    from_midnight, to_midnight = begins.time() == time(0), ends.time() == time(0)
    last = ends.date() - A_DAY if to_midnight else ends.date()
    year = year or begins.year != last.year
    first_day, last_day = say_date(begins.date(), year=year), say_date(last, year=year)
    if from_midnight and to_midnight:
        return _say_days(begins.date(), last, year)
    until = "24:00" if to_midnight else _say_clock(when.latest, room_time)
    if begins.date() == last:
        if from_midnight:
            return f"{first_day} before {until}"
        return f"{first_day} between {_say_clock(when.earliest, room_time)} and {until}"
    since = "" if from_midnight else f" {_say_clock(when.earliest, room_time)}"
    return f"between {first_day}{since} and {last_day} {until}"


def _say_days(first: date, last: date, year: bool) -> str:
    if first == last:
        return say_date(first, year=year)
    begins = say_date(first, year=year)
    if (first.year, first.month) == (last.year, last.month):
        begins = f"{WEEKDAYS[first.weekday()]} {first.day}"
    return f"between {begins} and {say_date(last, year=year)}"
