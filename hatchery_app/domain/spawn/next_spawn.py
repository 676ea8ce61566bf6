"""When a pair may lay next: a window, or overdue, stopped, none. Never a date in the past."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from math import sqrt
from statistics import NormalDist, fmean

from hatchery_app.domain.broodstock.pairing import EndedBecause
from hatchery_app.domain.spawn.pooled_rhythm import AcrossPairs
from hatchery_app.domain.spawn.spawn_rhythm import (
    FIRST_COUNTED_CLUTCH,
    WINDOW_HOLDS,
    CountedFrom,
    Gap,
    NestEmptied,
    Rhythm,
    Spawn,
    gaps,
    rhythm,
)
from hatchery_app.domain.species.species import Spawning

A_DAY = timedelta(days=1)
OVERDUE_FACTOR = 1.5
"""Times the pair's own median from laying to laying (common practice)."""
STOPPED_FACTOR = 3.0
"""Times the pair's own median from laying to laying (common practice)."""
LEAST_TAIL = 1e-4
"""Less chance than this left in the window: overdue rather than a window of hours."""

PAIRING_TO_FIRST_SPAWN = (
    "Pairing to first spawn: 45–60 days in A. sebae (Thomas, Prakash & Gopakumar 2015), "
    "3 months in A. akallopisos (published); 6–18 months for tank-raised juveniles "
    "(common practice)."
)


class Outlook(StrEnum):
    """What can be said of the next spawn."""

    WINDOW = "window"
    OVERDUE = "overdue"
    STOPPED = "stopped"
    NONE = "none"


@dataclass(frozen=True)
class NextSpawn:
    """The window (UTC moments, only when the outlook is a window) and what it rests on.

    The window holds 90 % of the chance that remains at `now`; `likeliest` halves it.
    """

    outlook: Outlook
    reasons: tuple[str, ...]
    earliest: datetime | None = None
    likeliest: datetime | None = None
    latest: datetime | None = None
    rhythm: Rhythm | None = None
    days_since_laying: float | None = None
    narrows: str = ""


def next_spawn(
    spawns: Sequence[Spawn],
    spawning: Spawning | None,
    *,
    now: datetime,
    ended: EndedBecause | None = None,
    nest_days: float | None = None,
    earlier_clutches: int = 0,
    room: Mapping[CountedFrom, AcrossPairs] | None = None,
) -> NextSpawn:
    """The next spawn of one pair, from its spawns in this room, conditioned on "not yet".

    `ended` is why the pair ended: then there is no forecast. `nest_days` is the species' usual
    time from laying to the empty nest at the tank's temperature, used until the pair has
    hatches of its own; `room` what the room's other pairs of the species say, by kind of gap.
    """
    if ended is not None:
        return NextSpawn(Outlook.NONE, (f"The pair has ended ({ended}): no next spawn.",))
    known = sorted((s for s in spawns if s.laid.earliest <= now), key=lambda s: s.laid.middle)
    if not known and earlier_clutches:
        said = f"{earlier_clutches} clutches were laid before these records began, none since."
        return NextSpawn(Outlook.NONE, (said, "The next laying written down begins its rhythm."))
    if not known:
        return NextSpawn(Outlook.NONE, ("No clutch of this pair yet.", PAIRING_TO_FIRST_SPAWN))
    if spawning is None:
        return NextSpawn(Outlook.NONE, ("No usual time between spawns is known for the species.",))
    set_aside = spawning.first_clutches_set_aside or FIRST_COUNTED_CLUTCH - 1
    own = gaps(known, earlier_clutches=earlier_clutches, first_counted=set_aside + 1)
    last, pooled = known[-1], room or {}
    by_laying = rhythm(
        own, CountedFrom.LAYING, spawning, room=pooled.get(CountedFrom.LAYING)
    )
    since = max(0.0, (now - last.laid.middle) / A_DAY)
    late = _late(since, by_laying, spawning)
    if late is not None:
        return late
    anchor, chosen = _anchored(known, own, by_laying, spawning, now, nest_days, pooled)
    return _window(anchor, chosen, now, since)


def _late(since: float, by_laying: Rhythm, spawning: Spawning) -> NextSpawn | None:
    """Overdue and stopped are both measured from laying to laying, whatever the window uses."""
    times = since / by_laying.median_days
    whose = "its own" if by_laying.own_median else "the usual"
    said = f"{since:.0f} days since the last laying; {whose} median is {by_laying.median_days:.0f}."
    for outlook, factor in (
        (Outlook.STOPPED, spawning.stopped_factor or STOPPED_FACTOR),
        (Outlook.OVERDUE, spawning.overdue_factor or OVERDUE_FACTOR),
    ):
        if times >= factor:
            reason = f"{outlook.capitalize()}: over {factor:g} times the median."
            return NextSpawn(
                outlook, (said, reason), rhythm=by_laying, days_since_laying=since
            )
    return None


def _anchored(
    known: Sequence[Spawn],
    own: Sequence[Gap],
    by_laying: Rhythm,
    spawning: Spawning,
    now: datetime,
    nest_days: float | None,
    room: Mapping[CountedFrom, AcrossPairs],
) -> tuple[tuple[datetime, timedelta], Rhythm]:
    """Where the waiting began (its middle and its vagueness) and the rhythm that fits it."""
    last = known[-1]
    hatched = [
        (s.emptied.middle - s.laid.middle) / A_DAY
        for s in known
        if s.emptied is not None and s.how is NestEmptied.HATCHED
    ]
    stays = fmean(hatched) if hatched else nest_days
    pooled = room.get(CountedFrom.NEST_EMPTY)
    beside = [g for g in own if g.counts and g.note == "laid beside old eggs"]
    lays_beside = 2 * len(beside) > sum(g.counts for g in own)
    is_empty = last.emptied is not None and last.emptied.latest <= now
    if last.emptied is None or not is_empty or lays_beside or (stays is None and pooled is None):
        return (last.laid.middle, last.laid.span), by_laying
    chosen = rhythm(own, CountedFrom.NEST_EMPTY, spawning, nest_days=stays, room=pooled)
    return (last.emptied.middle, last.emptied.span), chosen


def _window(
    anchor: tuple[datetime, timedelta], chosen: Rhythm, now: datetime, since: float
) -> NextSpawn:
    """The remaining chance after `now`: a normal cut off at what has passed without a laying."""
    start, vague = anchor
    vague_days = vague / A_DAY
    sd = sqrt(chosen.sd_days**2 + vague_days**2 / 12)  # a uniform of that width
    waiting = NormalDist(chosen.mean_days, sd)
    passed = waiting.cdf((now - start) / A_DAY)
    reasons = _reasons(chosen)
    if 1 - passed < LEAST_TAIL:
        late = "Later than any gap to be expected from it."
        return NextSpawn(
            Outlook.OVERDUE, (*reasons, late), rhythm=chosen, days_since_laying=since
        )
    tail = (1 - WINDOW_HOLDS) / 2
    marks = [
        start + waiting.inv_cdf(passed + share * (1 - passed)) * A_DAY
        for share in (tail, 0.5, 1 - tail)
    ]
    earliest, likeliest, latest = (max(at, now) for at in marks)
    if passed > 0.5:
        reasons = (*reasons, "Past the middle of its window already, so counted from now.")
    return NextSpawn(
        Outlook.WINDOW, reasons, earliest, likeliest, latest, chosen, since,
        narrows="" if chosen.own_gaps >= 8 else "More clutches of this pair narrow it.",
    )


def _reasons(chosen: Rhythm) -> tuple[str, ...]:
    about = f"about {chosen.mean_days:.0f} days {chosen.counted_from}"
    if chosen.own_gaps == 0:
        return (f"From the default, no counted gap of this pair yet: {about}.",)
    number = "1 gap" if chosen.own_gaps == 1 else f"{chosen.own_gaps} gaps"
    return (
        f"From this pair: {number}; {about}.",
        "First clutches are not counted.",
    )
