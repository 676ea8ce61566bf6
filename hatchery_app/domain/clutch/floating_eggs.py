"""Floating eggs hatch within hours, at any hour: no night, no wait for dark, no clownfish's plan.

Ready and hatched are one moment: when thermal time from laying reaches K. The water's course,
what nobody read of it and a vague laying are taken in as for eggs on a tile.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import hypot

from hatchery_app.domain.clutch.hatch_evidence import Evidence, NoneBy, SignSeen
from hatchery_app.domain.clutch.hatch_reasons import temperature_reasons, too_odd
from hatchery_app.domain.clutch.learned_readiness import normal_below
from hatchery_app.domain.clutch.temperature_course import stretches_of
from hatchery_app.domain.clutch.thermal_time import Stay, TemperatureCourse
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.species.species import Incubation
from hatchery_app.domain.when import RoomTime, When, say_when

STEP = timedelta(minutes=15)  # a keeper looks no oftener, and no source times it finer
LAYING_PARTS = 5  # a vague laying stands for so many equal parts of its interval
FIRST, MIDDLE, LAST = 0.05, 0.5, 0.95  # shares of such clutches hatched by then
NOTHING_LEFT = 0.995  # so much of the chance has passed in vain
SOON = timedelta(days=1)
LONGEST = 4.0  # times the usual duration: how far ahead is looked
ONE_SOURCE = "from the species alone: a room's own floating eggs are not learned from"


@dataclass(frozen=True)
class HatchHours:
    """When floating eggs hatch, as of a moment: nine in ten between `first` and `last` (UTC).

    None with the reason in `unknown`. `due`: they run now; `passed`: they are over.
    """

    first: datetime | None = None
    middle: datetime | None = None
    last: datetime | None = None
    reasons: tuple[str, ...] = ()
    unknown: str = ""
    due: bool = False
    passed: bool = False

    def said(self, room_time: RoomTime) -> str:
        """ "hatches Wed 25 Nov 02:15 to 08:30, most likely 05:00", or why that is not known."""
        if self.first is None or self.middle is None or self.last is None:
            return self.unknown
        first, last = (say_when(When.exactly(at), room_time) for at in (self.first, self.last))
        days = [room_time.local(at).date() for at in (self.first, self.middle, self.last)]
        end = f"{room_time.local(self.last):%H:%M}" if days[0] == days[2] else last
        likely = say_when(When.exactly(self.middle), room_time)
        if days[1] == days[0]:
            likely = f"{room_time.local(self.middle):%H:%M}"
        return f"hatches {first} to {end}, most likely {likely}"

    def is_soon(self, now: datetime) -> bool:
        """Whether they may hatch within a day: a tank and a first fill are wanted now."""
        return not self.passed and self.first is not None and self.first <= now + SOON


def hatch_hours(
    *,
    laid: When,
    stays: Sequence[Stay],
    room_time: RoomTime,
    eggs: Incubation,
    evidence: Sequence[Evidence] = (),
    now: datetime,
) -> HatchHours:
    """The hours in which floating eggs hatch, from what was known at `now`.

    `eggs`: their constants; its hours after dark are not used. Looks that found eggs whole rule
    out the hours before them. Raises RuleBroken without a stay.
    """
    usual = timedelta(days=eggs.k_degree_days / (eggs.usual_c - eggs.t0_c))
    end = max(laid.latest + LONGEST * usual, now + usual)
    low, high = eggs.fitted_from_c, eggs.fitted_to_c
    try:
        course = TemperatureCourse(
            stretches_of(stays, laid.earliest, end, now, (low, high)), eggs.t0_c, low, high
        )
    except NotKnown as missing:
        return HatchHours(unknown=missing.sentence)
    refused = too_odd(course, eggs, room_time)
    if refused:
        return HatchHours(unknown=refused)
    whole = [seen.at for seen in evidence if isinstance(seen, NoneBy | SignSeen) if seen.at <= now]
    since = max(whole, default=laid.earliest)
    gone = _hatched_by(since, laid, course, eggs)
    if gone > NOTHING_LEFT:
        return HatchHours(
            unknown="All hours in which such eggs hatch have passed: look at them.", passed=True
        )
    moments = []
    at = max(since, laid.earliest)
    at -= timedelta(minutes=at.minute % 15, seconds=at.second, microseconds=at.microsecond)
    for share in (FIRST, MIDDLE, LAST):
        while at < end and (_hatched_by(at, laid, course, eggs) - gone) / (1 - gone) < share:
            at += STEP
        moments.append(at)
    reasons = (
        f"{ONE_SOURCE}, {eggs.k_degree_days * 24:.0f} degree-hours above {eggs.t0_c:.1f} °C",
        *temperature_reasons(laid, course, eggs, room_time, now),
    )
    first, middle, last = moments
    return HatchHours(first, middle, last, reasons, due=first <= now <= last, passed=now > last)


def _hatched_by(at: datetime, laid: When, course: TemperatureCourse, eggs: Incubation) -> float:
    """The share of such clutches hatched by an instant."""
    spread_dd = hypot(eggs.spread_between_sources_dd, eggs.spread_clutch_to_clutch_dd)
    end_dd, end_error = course.thermal_and_error_at(at)
    parts = 1 if laid.is_exact else LAYING_PARTS
    share = 0.0
    for index in range(parts):
        begun_dd, begun_error = course.thermal_and_error_at(
            laid.earliest + laid.span * ((index + 0.5) / parts)
        )
        wide = hypot(spread_dd, max(end_error - begun_error, 0.0))
        share += normal_below((end_dd - begun_dd - eggs.k_degree_days) / wide) / parts
    return share
