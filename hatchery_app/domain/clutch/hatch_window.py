"""The nights of a clutch, each with its dark and its hours of hatch, at the lamp it sits under."""

from collections.abc import Sequence
from datetime import datetime, time
from functools import lru_cache

from hatchery_app.domain.clutch.hatch_evidence import HatchWindow, hours_after
from hatchery_app.domain.clutch.learned_readiness import Learned
from hatchery_app.domain.clutch.temperature_course import stay_at
from hatchery_app.domain.clutch.thermal_time import Stay
from hatchery_app.domain.shrinkage import usual_delay
from hatchery_app.domain.species.species import Incubation
from hatchery_app.domain.when import Night, RoomTime, When, dark_window, night_of


def night_of_laying(laid: When, stays: Sequence[Stay], room_time: RoomTime) -> Night:
    """Night 0: the night that begins on the day of the laying, or the night it fell in.

    An uncertain laying is counted from its middle.
    """
    return night_of(laid.middle, stay_at(stays, laid.middle).lights, room_time)


def numbering_said(laid: When, stays: Sequence[Stay], room_time: RoomTime) -> str:
    """From which night the nights are numbered where the laying may be of several; else ""."""
    ends = {
        night_of(at, stay_at(stays, at).lights, room_time) for at in (laid.earliest, laid.latest)
    }
    if len(ends) == 1:
        return ""
    night_0 = night_of_laying(laid, stays, room_time)
    return f"nights are numbered from {night_0.said()}, the middle of when it may have been laid"


def hatch_windows(
    laid: When,
    stays: Sequence[Stay],
    room_time: RoomTime,
    species: Incubation,
    learned: Learned | None,
    last_number: int,
) -> tuple[HatchWindow, ...]:
    """Every night of a clutch from night 0 to `last_number`, by the lamp it sat under that dusk.

    Watched from the pair's shortest delay so far, else from the species' minutes after
    lights-off; until the species' hatch hours, or this pair's longest delay, whichever is later.
    """
    night_0 = night_of_laying(laid, stays, room_time)
    delays = learned.delays_minutes if learned else ()
    first = min(delays, default=species.watch_from_minutes)
    last = max((species.hatch_hours * 60, *delays))
    half = usual_delay(delays).mean
    windows = []
    for number in range(last_number + 1):
        night = night_0.plus(number)
        stay, (off, on) = _dusk(night, stays, room_time)
        watch_from, half_by, watch_until = (
            hours_after(off, on, minutes) for minutes in (first, half, last)
        )
        windows.append(
            HatchWindow(night, number, off, on, watch_from, half_by, watch_until, stay.name)
        )
    return tuple(windows)


def _dusk(
    night: Night, stays: Sequence[Stay], room_time: RoomTime
) -> tuple[Stay, tuple[datetime, datetime]]:
    """The stay whose lamp makes a night dark: the one the eggs are in at its lights-off."""
    stay = stay_at(stays, room_time.planned(night.evening, time(12)))
    off, _ = _dark(night, stay.lights, room_time)
    stay = stay_at(stays, off)
    return stay, _dark(night, stay.lights, room_time)


# Every forecast of an evening asks the same nights of the same lamps.
_dark = lru_cache(maxsize=4096)(dark_window)
