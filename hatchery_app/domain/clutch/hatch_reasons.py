"""Why a forecast says what it says, and what would narrow it, in the room's words."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from hatchery_app.domain.clutch.hatch_evidence import Evidence, SignSeen
from hatchery_app.domain.clutch.learned_readiness import TENTHS_UNTIL_HATCHES, Readiness
from hatchery_app.domain.clutch.temperature_course import gaps, hours, hours_outside
from hatchery_app.domain.clutch.thermal_time import Basis, Stretch, TemperatureCourse
from hatchery_app.domain.species.species import Incubation
from hatchery_app.domain.when import MONTHS, RoomTime, When, say_when

# Hours outside a species' range that are borne, widened and named; longer gives no figure.
# Assumed: a quarter of a day moves the sum by less than half a clutch-to-clutch spread.
ODD_HOURS_BORNE = 6.0
SAME_TEMPERATURE_C = 0.6  # readings this close are told as one temperature


def temperature_reasons(
    laid: When,
    course: TemperatureCourse,
    species: Incubation,
    room_time: RoomTime,
    now: datetime,
) -> tuple[str, ...]:
    """What the thermal time rests on: the laying, what nobody read, odd hours, the days ahead."""
    words = []
    if not laid.is_exact:
        words.append(f"laid {say_when(laid, room_time)}")
    words += [_gap_said(gap, room_time) for gap in gaps(course.stretches, now)]
    low = species.fitted_from_c if species.widen_below_c is None else species.widen_below_c
    high = species.fitted_to_c if species.widen_above_c is None else species.widen_above_c
    before = _before(course.stretches, now)
    words += [_odd_said(run, room_time) for run in hours_outside(before, low, high)]
    words += _ahead_said(course.stretches, now, low, high)
    return tuple(word for word in words if word)


def too_odd(course: TemperatureCourse, species: Incubation, room_time: RoomTime) -> str:
    """Why there is no figure for such temperatures; "" where there is one."""
    low, high = species.no_figure_below_c, species.no_figure_above_c
    runs = hours_outside(course.stretches, low, high)
    if sum(hours(run) for run in runs) <= ODD_HOURS_BORNE:
        return ""
    worst = max(runs, key=hours)
    side = f"below {low:g} °C" if worst[0].mean_c < low else f"above {high:g} °C"
    return (
        f"No figure {side}: {_degrees(worst)} from "
        f"{say_when(When.exactly(worst[0].from_at), room_time)}. "
        "Nobody has published how long eggs take there."
    )


def narrowing(
    laid: When, course: TemperatureCourse, ready: Readiness, evidence: Sequence[Evidence]
) -> str:
    """The one thing that would narrow the window most; "" where nothing is left to see."""
    if any(s.basis in (Basis.SET_POINT, Basis.GUESS) for s in course.stretches):
        return "A temperature reading each day narrows it."
    if laid.span > timedelta(hours=12) and not any(isinstance(e, SignSeen) for e in evidence):
        return "Eyes or silver, once seen, narrow it."
    if ready.pair_hatches < TENTHS_UNTIL_HATCHES:
        return "Each hatch of this pair narrows it."
    if any(isinstance(e, SignSeen) and e.seen and e.sign == "silver" for e in evidence):
        return ""
    return "Silver eyes, once seen, narrow it."


def _before(stretches: Sequence[Stretch], now: datetime) -> list[Stretch]:
    return [
        stretch.clipped(stretch.from_at, min(stretch.until_at, now))
        for stretch in stretches
        if stretch.from_at < now
    ]


def _gap_said(gap: Stretch, room_time: RoomTime) -> str:
    if hours([gap]) < 1:
        return ""
    days = days_said(gap.from_at, gap.until_at, room_time)
    if gap.basis is Basis.SET_POINT:
        return f"set point {gap.from_c:g} °C of {gap.place} assumed {days}: nobody read it"
    if gap.basis is Basis.OLD_MEAN:
        return f"{gap.from_c:.1f} °C assumed {days}: the last readings are older than 3 days"
    return f"no reading of {gap.place} for {hours([gap]):.0f} h {days}: assumed"


def _odd_said(run: Sequence[Stretch], room_time: RoomTime) -> str:
    lasted = hours(run)
    if lasted < 1:
        return ""
    days = days_said(run[0].from_at, run[-1].until_at, room_time)
    return f"{lasted:.0f} h at {_degrees(run)} {days}"


def _degrees(run: Sequence[Stretch]) -> str:
    """The temperature of a run: one figure, or from the lowest to the highest."""
    lowest = min(min(s.from_c, s.until_c) for s in run)
    highest = max(max(s.from_c, s.until_c) for s in run)
    if highest - lowest > SAME_TEMPERATURE_C:
        return f"{lowest:.1f}–{highest:.1f} °C"
    mean_c = sum(s.days * s.mean_c for s in run) / sum(s.days for s in run)
    return f"{round(mean_c, 1):g} °C"


def _ahead_said(
    stretches: Sequence[Stretch], now: datetime, low_c: float, high_c: float
) -> list[str]:
    """The temperature held for the days to come, and what it is."""
    last = stretches[-1]
    if last.until_at <= now or last.basis is Basis.READ:
        return []
    degrees = f"{round(last.from_c, 1):g} °C"
    outside = "" if low_c <= last.from_c <= high_c else ", where few clutches were timed: wider"
    if last.basis is Basis.GUESS:
        return [f"no temperature of {last.place}: {degrees} assumed{outside}"]
    if last.basis is Basis.SET_POINT:
        return [f"ahead: the set point, {degrees}{outside}"]
    if last.basis is Basis.OLD_MEAN:
        return [f"ahead: {degrees}, a mean of old readings{outside}"]
    if last.basis is Basis.MENDED:
        left_out = f"without the hours outside {low_c:g}–{high_c:g} °C, which are over"
        return [f"ahead: {degrees}, the mean of the last 3 days {left_out}"]
    return [f"ahead: {degrees}, the mean of the last 3 days{outside}"]


def days_said(from_at: datetime, until_at: datetime, room_time: RoomTime) -> str:
    """The days a time touches: "on 3 Nov", "on 3–4 Nov", "from 30 Oct to 2 Nov"."""
    first, last = room_time.local(from_at), room_time.local(until_at)
    if first.date() == last.date():
        return f"on {first.day} {MONTHS[first.month - 1]}"
    if (first.year, first.month) == (last.year, last.month):
        return f"on {first.day}–{last.day} {MONTHS[first.month - 1]}"
    return f"from {first.day} {MONTHS[first.month - 1]} to {last.day} {MONTHS[last.month - 1]}"
