"""The nights one of which a thing happened on: found late, a hatch may be of any of several.

What was said is kept as the nights it leaves open. Nothing here takes the middle of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time

from hatchery_app.domain.clutch.hatch_evidence import hours_after
from hatchery_app.domain.clutch.temperature_course import stay_at
from hatchery_app.domain.clutch.thermal_time import Stay
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import (
    Night,
    RoomTime,
    When,
    dark_window,
    night_just_past,
    night_of,
    nights_between,
    say_when,
)


@dataclass(frozen=True, order=True)
class NightSpan:
    """The first and the last night it may have been, both included; the same where it is sure.

    Raises RuleBroken when they stand the wrong way.
    """

    first: Night
    last: Night

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise RuleBroken("The last night lies before the first.", field="last_night_on")

    @classmethod
    def sure(cls, night: Night) -> NightSpan:
        """One night, known."""
        return cls(night, night)

    @property
    def is_sure(self) -> bool:
        """Whether the night is known."""
        return self.first == self.last

    @property
    def each(self) -> tuple[Night, ...]:
        """Every night it may have been."""
        return nights_between(self.first, self.last)

    def __contains__(self, night: Night) -> bool:
        return self.first <= night <= self.last

    def meets(self, other: NightSpan) -> bool:
        """Whether both can have been on one night."""
        return self.first <= other.last and other.first <= self.last

    def said(self, laid: Night | None = None, *, year: bool = False) -> str:
        """ "Thu 19 Nov", "Mon 23 – Tue 24 Nov"; with the laying's night "…, night 5–6"."""
        if self.is_sure:
            return self.first.said(laid, year=year)
        one_month = self.first.evening.replace(day=1) == self.last.evening.replace(day=1)
        first = self.first.said().rsplit(" ", 1)[0] if one_month else self.first.said(year=year)
        said = f"{first} – {self.last.said(year=year)}"
        if laid is None:
            return said
        return f"{said}, night {self.first.number(laid)}–{self.last.number(laid)}"

    @property
    def of_night(self) -> str:
        """ "the night of Thu 19 Nov", "one of the nights Mon 23 – Tue 24 Nov"."""
        return f"the night of {self.said()}" if self.is_sure else f"one of the nights {self.said()}"


def nights_found(
    when: When, stays: Sequence[Stay], room_time: RoomTime, laid: When
) -> NightSpan:
    """The nights of a hatch seen at a moment, or found between two looks, once it was laid.

    None had hatched at the earlier look, so by day the first is the night to come; what is
    found by day counts to the night just past. Each look goes by the lamp the eggs were under.
    Raises RuleBroken where all lie before the laying.
    """
    last = night_just_past(when.latest, stay_at(stays, when.latest).lights, room_time)
    first = night_of(when.earliest, stay_at(stays, when.earliest).lights, room_time)
    night_laid = _first_night(laid, stays, room_time)
    if last < night_laid:
        span = NightSpan(min(first, last), last)
        raise RuleBroken(
            f"A hatch of {span.of_night} is before the eggs were laid "
            f"({say_when(laid, room_time)}).",
            field="at_on",
        )
    return NightSpan(max(min(first, last), night_laid), last)


def refuse_nights_outside(
    span: NightSpan, seen: When, stays: Sequence[Stay], room_time: RoomTime, laid: When
) -> None:
    """Nights said by their dates lie between the laying and what was seen. Raises RuleBroken."""
    if span.first < _first_night(laid, stays, room_time):
        raise RuleBroken(
            f"That night is before the eggs were laid ({say_when(laid, room_time)}).",
            field="night_on",
        )
    if span.last > night_of(seen.latest, stay_at(stays, seen.latest).lights, room_time):
        raise RuleBroken(
            f"That night is after it was seen ({say_when(seen, room_time)}).",
            field="night_on" if span.is_sure else "last_night_on",
        )


def _first_night(laid: When, stays: Sequence[Stay], room_time: RoomTime) -> Night:
    return night_of(laid.earliest, stay_at(stays, laid.earliest).lights, room_time)


def nights_left(
    span: NightSpan,
    *,
    looked: Iterable[datetime],
    lit: Iterable[Night],
    stays: Sequence[Stay],
    room_time: RoomTime,
    hatch_hours: float,
) -> NightSpan:
    """The nights that what else was seen leaves open.

    `looked`: when it was seen that none had hatched. A night passes with its hatch hours, as in
    the forecast; one in `lit` had light and no hatch. Where all would pass, the last is left:
    it did hatch.
    """
    seen, barred = max(looked, default=None), set(lit)

    def may_be(night: Night) -> bool:
        if night in barred:
            return False
        return seen is None or seen < _hatched_by(night, stays, room_time, hatch_hours)

    left = [night for night in span.each if may_be(night)] or [span.last]
    return NightSpan(left[0], left[-1])


def _hatched_by(
    night: Night, stays: Sequence[Stay], room_time: RoomTime, hatch_hours: float
) -> datetime:
    """The end of a night's hatch hours, by the lamp the eggs were under that evening."""
    noon = room_time.planned(night.evening, time(12))
    off, _on = dark_window(night, stay_at(stays, noon).lights, room_time)
    off, on = dark_window(night, stay_at(stays, off).lights, room_time)
    return hours_after(off, on, hatch_hours * 60)
