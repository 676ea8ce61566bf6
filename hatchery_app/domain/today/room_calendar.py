"""What a calendar outside the room is told: nights, windows and days that end, as plain events.

An event is named by its kind and the fact it is about, never by its date: when the date moves,
the same event moves. Days are dates of the room; hours are instants.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from hatchery_app.domain.clutch.carried_brood import BroodForecast
from hatchery_app.domain.clutch.floating_eggs import HatchHours
from hatchery_app.domain.clutch.hatch_forecast import HatchForecast, NightChance
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.larval_protocol import (
    Food,
    LarvalProtocol,
    SettlementWindow,
    for_day,
)
from hatchery_app.domain.when import Night, RoomTime

A_DAY = timedelta(days=1)
LONGEST_DPH = 120


@dataclass(frozen=True)
class CalendarEvent:
    """One event: whole days (dates, the last one included) or hours (aware instants).

    `kind` and `fact_id` name it for good. Raises RuleBroken where it ends before it begins, or
    mixes days with hours.
    """

    kind: str
    fact_id: int
    what: str
    begins: date | datetime
    ends: date | datetime
    why: str = ""
    where: str = ""

    def __post_init__(self) -> None:
        timed = [isinstance(each, datetime) for each in (self.begins, self.ends)]
        if timed[0] != timed[1]:
            raise RuleBroken("An event is of whole days or of hours, not of both.")
        if isinstance(self.begins, datetime) and self.begins.utcoffset() is None:
            raise RuleBroken("An hour in a calendar needs its zone.")
        if self.ends < self.begins:
            raise RuleBroken(f"“{self.what}” ends before it begins.")

    @property
    def is_all_day(self) -> bool:
        """Whether it is of whole days."""
        return not isinstance(self.begins, datetime)

    @property
    def name(self) -> str:
        """Its lasting name: "hatch-watch-12"."""
        return f"{self.kind}-{self.fact_id}"


def hatch_events(
    clutch_id: int, name: str, place: str, forecast: HatchForecast
) -> tuple[CalendarEvent, ...]:
    """The hours to watch on each night from prepare-from to the last of the window, and its days.

    The likeliest night's watch keeps one name wherever it moves; the others are named by their
    number. None where the forecast gives no figure.
    """
    night = forecast.on(forecast.likeliest) if forecast.likeliest is not None else None
    if forecast.unknown is not None or night is None or forecast.window is None:
        return ()
    first, last = forecast.window
    begins = min(forecast.prepare_from or first, first)
    why = "; ".join((forecast.window_said, *forecast.reasons[:1]))
    watched = [each for each in forecast.ahead if begins <= each.night <= last or each == night]
    return (
        *(
            CalendarEvent(
                "hatch-watch" if each == night else f"hatch-watch-night-{each.number}", clutch_id,
                f"Watch for the hatch: {name}", each.watch_from, each.watch_until,
                f"{_chance_said(each)}{', the likeliest night' if each == night else ''}; {why}",
                place,
            )
            for each in watched
        ),
        CalendarEvent(
            "hatch-window", clutch_id, f"May hatch: {name}", begins.evening, last.evening,
            f"each day stands for the night that begins on it; {why}", place,
        ),
    )  # fmt: skip


def _chance_said(night: NightChance) -> str:
    """ "about 3 of 10 such clutches hatch this night"; never "0 of 10" of a night in the window."""
    of_ten = f"about {night.tenths} of 10" if night.tenths else "fewer than 1 of 10"
    return f"{of_ten} such clutches hatch this night"


def hours_event(
    clutch_id: int, name: str, place: str, hours: HatchHours, room_time: RoomTime
) -> tuple[CalendarEvent, ...]:
    """The hours in which floating eggs hatch; none without a figure."""
    if hours.first is None or hours.last is None:
        return ()
    why = "; ".join((hours.said(room_time), *hours.reasons[:1]))
    return (
        CalendarEvent(
            "hatch-watch", clutch_id, f"Floating eggs hatch: {name}", hours.first, hours.last,
            why, place,
        ),
    )  # fmt: skip


def brood_events(
    clutch_id: int, name: str, place: str, coming: str, forecast: BroodForecast
) -> tuple[CalendarEvent, ...]:
    """The days on which young of a carried brood may come out."""
    first, last = forecast.window
    return (
        CalendarEvent(
            "brood-window", clutch_id, f"Look for young: {name}", first.evening, last.evening,
            f"{coming} {forecast.window_said}, {forecast.carried.said}", place,
        ),
    )  # fmt: skip


@dataclass(frozen=True)
class BatchAhead:
    """A batch of larvae as its coming stages are told. `mean_c` None: the plan's own days."""

    holding_id: int
    name: str
    place: str
    hatched: Night
    protocol: LarvalProtocol
    settlement: SettlementWindow | None
    mean_c: float | None
    shrimp_given: bool = False
    hatched_last: Night | None = None  # of a batch of several nights, or found late


def batch_events(batch: BatchAhead) -> tuple[CalendarEvent, ...]:
    """First brine shrimp, the settlement window, and the move to grow-out once half settled."""
    events = []
    shrimp = None if batch.shrimp_given else first_shrimp_dph(batch.protocol, batch.mean_c)
    if shrimp is not None:
        day = batch.hatched.plus(shrimp).evening
        events.append(
            CalendarEvent(
                "first-shrimp", batch.holding_id, f"First brine shrimp: {batch.name}", day, day,
                f"{shrimp} dph by the plan; start the cysts a day before", batch.place,
            )
        )  # fmt: skip
    window = batch.settlement
    if window is None:
        return tuple(events)
    youngest = batch.hatched_last or batch.hatched
    first, last = batch.hatched.plus(window.days[0]).evening, youngest.plus(window.days[1]).evening
    half = batch.hatched.plus(max(round(window.half_dph), window.days[0])).evening
    marks = (window.first_dph, window.half_dph, window.last_dph)
    why = "first {:.0f}, half {:.0f}, last {:.0f} dph".format(*marks)
    return (
        *events,
        CalendarEvent(
            "settlement", batch.holding_id, f"Settling: {batch.name}", first, last, why,
            batch.place,
        ),
        CalendarEvent(
            "to-grow-out", batch.holding_id, f"Move settled fish to grow-out: {batch.name}",
            half, max(half, last), "from when half have settled; late ones stay larvae",
            batch.place,
        ),
    )  # fmt: skip


def first_shrimp_dph(protocol: LarvalProtocol, mean_c: float | None) -> int | None:
    """The first day post hatch on which the plan gives brine shrimp at this temperature."""
    for dph in range(1, LONGEST_DPH):
        foods = {each.food for each in for_day(protocol, dph, mean_c).foods}
        if foods & {Food.SHRIMP_INSTAR_I, Food.SHRIMP_ENRICHED}:
            return dph
    return None


def hold_event(held_id: int, number: int, cohort: str, until: date, place: str) -> CalendarEvent:
    """The last day of a hold. For whom it is stays in the room."""
    return CalendarEvent(
        "hold-ends", held_id, f"A hold ends: {number} of {cohort}", until, until,
        "after this day ask again, or set them free", place,
    )  # fmt: skip


def still_ahead(event: CalendarEvent, now: datetime, today: date) -> bool:
    """Whether any of it is left, today's whole day included."""
    if isinstance(event.ends, datetime):
        return event.ends >= now
    return event.ends >= today
