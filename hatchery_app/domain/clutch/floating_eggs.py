"""Floating eggs hatch within hours, at any hour: no night, no wait for dark, no clownfish's plan.

Ready and hatched are one moment: when thermal time from laying reaches K. The water's course,
what nobody read of it, a vague laying and what the room's own hatches taught are taken in as for
eggs on a tile.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import hypot, sqrt

from hatchery_app.domain.clutch.hatch_evidence import Evidence, NoneBy, SignSeen
from hatchery_app.domain.clutch.hatch_reasons import temperature_reasons, too_odd
from hatchery_app.domain.clutch.learned_readiness import (
    Learned,
    Readiness,
    ReadinessInterval,
    normal_below,
    readiness,
)
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


def ready_at_hatch(eggs: Incubation) -> Incubation:
    """The constants of floating eggs as what is learned reads them.

    It takes half a day's wait for dark off a published duration; these eggs wait for none.
    """
    middle_c = (eggs.fitted_from_c + eggs.fitted_to_c) / 2
    wait_dd = 0.5 * (middle_c - eggs.t0_c)
    return replace(eggs, k_degree_days=eggs.k_degree_days + wait_dd)


def hours_told(
    *,
    laid: When,
    stays: Sequence[Stay],
    room_time: RoomTime,
    eggs: Incubation,
    hatched: When,
    evidence: Sequence[Evidence] = (),
    now: datetime,
) -> ReadinessInterval | None:
    """What a hatch of floating eggs teaches of K, in degree-days: an interval, never its middle.

    From the last look that found them whole (`hatched` begins with one where it is vague) to
    when larvae were found: nobody sees the first of thousands. None where the water is not
    known, or it was outside what the species bears.
    """
    try:
        course = _course(laid, stays, eggs, hatched.latest + SOON, now)
    except NotKnown:
        return None
    if too_odd(course, eggs, room_time):
        return None
    whole = [seen.at for seen in evidence if isinstance(seen, NoneBy | SignSeen)]
    looked = [at for at in whole if laid.latest < at < hatched.latest]
    if not hatched.is_exact:
        looked.append(hatched.earliest)
    start_dd, start_error = course.thermal_and_error_at(laid.middle)
    end_dd, end_error = course.thermal_and_error_at(max(hatched.latest, laid.latest))
    half_dd = course.between(laid.earliest, laid.latest) / 2
    error_dd = max(end_error - start_error, 0.0)
    slack_dd = half_dd + error_dd
    beyond_dd = 0.0
    if looked:
        seen_dd, _ = course.thermal_and_error_at(max(*looked, laid.latest))
        beyond_dd = max(seen_dd - start_dd - slack_dd, 0.0)
    up_to_dd = end_dd - start_dd + slack_dd
    if up_to_dd <= beyond_dd:
        return None
    return ReadinessInterval(beyond_dd, up_to_dd, slack_dd, hypot(half_dd / sqrt(3), error_dd))


def hatch_hours(
    *,
    laid: When,
    stays: Sequence[Stay],
    room_time: RoomTime,
    eggs: Incubation,
    learned: Learned | None = None,
    evidence: Sequence[Evidence] = (),
    now: datetime,
) -> HatchHours:
    """The hours in which floating eggs hatch, from what was known at `now`.

    `eggs`: their constants; its hours after dark are not used. Looks that found eggs whole rule
    out the hours before them. Raises RuleBroken without a stay.
    """
    usual = timedelta(days=eggs.k_degree_days / (eggs.usual_c - eggs.t0_c))
    end = max(laid.latest + LONGEST * usual, now + usual)
    ready = readiness(ready_at_hatch(eggs), learned)
    try:
        course = _course(laid, stays, eggs, end, now)
    except NotKnown as missing:
        return HatchHours(unknown=missing.sentence)
    refused = too_odd(course, eggs, room_time)
    if refused:
        return HatchHours(unknown=refused)
    whole = [seen.at for seen in evidence if isinstance(seen, NoneBy | SignSeen) if seen.at <= now]
    since = max(whole, default=laid.earliest)
    gone = _hatched_by(since, laid, course, ready)
    if gone > NOTHING_LEFT:
        return HatchHours(
            unknown="All hours in which such eggs hatch have passed: look at them.", passed=True
        )
    moments = []
    at = max(since, laid.earliest)
    at -= timedelta(minutes=at.minute % 15, seconds=at.second, microseconds=at.microsecond)
    for share in (FIRST, MIDDLE, LAST):
        while at < end and (_hatched_by(at, laid, course, ready) - gone) / (1 - gone) < share:
            at += STEP
        moments.append(at)
    rests_on, degree_hours = ", ".join(ready.said()), ready.mean_dd * 24
    reasons = (
        f"{rests_on}: {degree_hours:.0f} degree-hours above {eggs.t0_c:.1f} °C",
        *temperature_reasons(laid, course, eggs, room_time, now),
    )
    first, middle, last = moments
    return HatchHours(first, middle, last, reasons, due=first <= now <= last, passed=now > last)


def _course(
    laid: When, stays: Sequence[Stay], eggs: Incubation, until_at: datetime, now: datetime
) -> TemperatureCourse:
    low, high = eggs.fitted_from_c, eggs.fitted_to_c
    stretches = stretches_of(stays, laid.earliest, until_at, now, (low, high))
    return TemperatureCourse(stretches, eggs.t0_c, low, high)


def _hatched_by(at: datetime, laid: When, course: TemperatureCourse, ready: Readiness) -> float:
    """The share of such clutches hatched by an instant."""
    end_dd, end_error = course.thermal_and_error_at(at)
    parts = 1 if laid.is_exact else LAYING_PARTS
    share = 0.0
    for index in range(parts):
        begun_dd, begun_error = course.thermal_and_error_at(
            laid.earliest + laid.span * ((index + 0.5) / parts)
        )
        wide = hypot(ready.sd_dd, max(end_error - begun_error, 0.0))
        share += normal_below((end_dd - begun_dd - ready.mean_dd) / wide) / parts
    return share
