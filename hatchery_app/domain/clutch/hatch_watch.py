"""Standing in the dark at a clutch: whether its night may be this one, and when to look again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from hatchery_app.domain.clutch.hatch_forecast import HatchForecast, NightChance

LOOK_EVERY = timedelta(minutes=20)  # common practice: often enough to meet the first larvae


@dataclass(frozen=True)
class Looks:
    """When to look at the eggs of a night: at `next_at`, then every so often until `until`."""

    next_at: datetime
    until: datetime
    every: timedelta = LOOK_EVERY


def may_be_tonight(forecast: HatchForecast | None) -> bool:
    """Whether this may be the clutch's night: from the night to prepare for until it is over.

    A clutch that can give no figure, or is overdue, or of which a part has hatched, may hatch on
    any night: coming late is the expensive error. One that is not forecast by the night never.
    """
    if forecast is None:
        return False
    if forecast.unknown is not None or forecast.overdue or forecast.part_hatched:
        return True
    return forecast.prepare_from is not None and forecast.prepare_from <= forecast.tonight


def in_the_dark(night: NightChance | None, now: datetime) -> bool:
    """Whether the eggs of that night lie in its dark now."""
    return night is not None and night.dark_from <= now < night.dark_until


def looks(night: NightChance, now: datetime, last_look: datetime | None = None) -> Looks | None:
    """The looks still to come on a night; None once its hours to watch are over."""
    due = night.watch_from
    if last_look is not None and last_look >= night.dark_from:
        due = max(due, last_look + LOOK_EVERY)
    due = max(due, now)
    return None if due > night.watch_until else Looks(due, night.watch_until)
