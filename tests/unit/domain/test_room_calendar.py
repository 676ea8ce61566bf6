"""Events of the room's calendar: lasting names, whole days apart from hours."""

from datetime import UTC, date, datetime, timedelta

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.larval_protocol import (
    FeedingStage,
    Food,
    LarvalProtocol,
    Settlement,
    settlement_at,
)
from hatchery_app.domain.today.room_calendar import (
    BatchAhead,
    CalendarEvent,
    batch_events,
    first_shrimp_dph,
    still_ahead,
)
from hatchery_app.domain.when import Night

NOON = datetime(2026, 11, 24, 12, tzinfo=UTC)
SETTLEMENT = Settlement(10, 12, 15, at_c=26.8, t0_c=16.8, flat_above_c=29.5)
PLAN = LarvalProtocol(
    stages=(
        FeedingStage(Food.ROTIFERS, 1, 9, 8, 12, "per mL"),
        FeedingStage(Food.SHRIMP_INSTAR_I, 7, 30, 1, 3, "per mL"),
    ),
    settlement=SETTLEMENT, change_percent=(), greenwater=(), light=(),
)  # fmt: skip


def batch(mean_c: float | None = 26.8, *, shrimp_given: bool = False) -> BatchAhead:
    window = settlement_at(SETTLEMENT, mean_c if mean_c is not None else SETTLEMENT.at_c)
    return BatchAhead(
        9, "Batch 2", "L3", Night(date(2026, 11, 20)), PLAN, window, mean_c, shrimp_given
    )


def test_a_batch_tells_first_shrimp_settlement_and_the_move_to_grow_out() -> None:
    shrimp, settling, moving = batch_events(batch())
    assert (shrimp.name, shrimp.begins) == ("first-shrimp-9", date(2026, 11, 27))
    assert (settling.begins, settling.ends) == (date(2026, 11, 30), date(2026, 12, 5))
    assert (moving.name, moving.begins) == ("to-grow-out-9", date(2026, 12, 2))
    assert all(event.is_all_day for event in (shrimp, settling, moving))


def test_a_cooler_tank_moves_every_stage_later_under_the_same_name() -> None:
    """At 23.8 °C a day is worth 0.7 of the plan's: shrimp day 7 comes with day 10 (6.5 or over)."""
    warm, cool = batch_events(batch()), batch_events(batch(23.8))
    assert [event.name for event in warm] == [event.name for event in cool]
    assert all(late.begins > early.begins for early, late in zip(warm, cool, strict=True))
    assert first_shrimp_dph(PLAN, 23.8) == 10


def test_shrimp_that_was_given_is_no_longer_announced() -> None:
    names = [event.name for event in batch_events(batch(shrimp_given=True))]
    assert names == ["settlement-9", "to-grow-out-9"]


def test_an_event_is_of_days_or_of_hours_and_ends_after_it_begins() -> None:
    with pytest.raises(RuleBroken, match="not of both"):
        CalendarEvent("x", 1, "x", NOON.date(), NOON)
    with pytest.raises(RuleBroken, match="ends before"):
        CalendarEvent("x", 1, "x", NOON, NOON - timedelta(hours=1))
    with pytest.raises(RuleBroken, match="zone"):
        CalendarEvent("x", 1, "x", NOON.replace(tzinfo=None), NOON.replace(tzinfo=None))


def test_today_is_still_ahead_until_its_day_is_over() -> None:
    day = CalendarEvent("x", 1, "x", date(2026, 11, 20), date(2026, 11, 24))
    hours = CalendarEvent("x", 1, "x", NOON - timedelta(hours=2), NOON)
    assert still_ahead(day, NOON, date(2026, 11, 24))
    assert not still_ahead(day, NOON, date(2026, 11, 25))
    assert still_ahead(hours, NOON, date(2026, 11, 24))
    assert not still_ahead(hours, NOON + timedelta(minutes=1), date(2026, 11, 24))
