"""Standing in the dark at a clutch."""

from datetime import UTC, date, datetime, timedelta

from hatchery_app.domain.clutch.hatch_forecast import HatchForecast, NightChance
from hatchery_app.domain.clutch.hatch_watch import LOOK_EVERY, in_the_dark, looks, may_be_tonight
from hatchery_app.domain.when import Night

TONIGHT = Night(date(2026, 11, 24))
DARK = datetime(2026, 11, 24, 20, 0, tzinfo=UTC)
NIGHT = NightChance(
    TONIGHT, 7, 0.6, DARK, DARK + timedelta(hours=12),
    DARK + timedelta(minutes=15), DARK + timedelta(hours=3), "A3",
)  # fmt: skip


def test_a_clutch_may_hatch_from_the_night_to_prepare_for_on():
    assert not may_be_tonight(HatchForecast(TONIGHT, prepare_from=TONIGHT.plus(1)))
    assert may_be_tonight(HatchForecast(TONIGHT, prepare_from=TONIGHT))
    assert may_be_tonight(HatchForecast(TONIGHT, prepare_from=TONIGHT.plus(-3)))


def test_an_overdue_a_part_hatched_and_an_unknown_clutch_may_hatch_on_any_night():
    assert may_be_tonight(HatchForecast(TONIGHT, overdue=True))
    assert may_be_tonight(HatchForecast(TONIGHT, part_hatched=True))
    assert may_be_tonight(HatchForecast(TONIGHT, unknown="no temperature"))


def test_a_brood_that_is_not_forecast_by_the_night_is_not_watched():
    assert not may_be_tonight(None)


def test_looks_begin_when_the_pair_may_hatch_and_end_with_its_hours():
    before = looks(NIGHT, DARK)
    assert before is not None
    assert (before.next_at, before.until) == (NIGHT.watch_from, NIGHT.watch_until)
    assert looks(NIGHT, NIGHT.watch_until + timedelta(minutes=1)) is None


def test_after_a_look_the_next_one_waits_its_time():
    looked = NIGHT.watch_from + timedelta(minutes=5)
    coming = looks(NIGHT, looked, last_look=looked)
    assert coming is not None
    assert coming.next_at == looked + LOOK_EVERY


def test_a_look_by_day_puts_no_look_of_the_night_off():
    by_day = DARK - timedelta(hours=1)
    coming = looks(NIGHT, DARK, last_look=by_day)
    assert coming is not None
    assert coming.next_at == NIGHT.watch_from


def test_the_dark_of_a_night_is_its_own():
    assert not in_the_dark(NIGHT, DARK - timedelta(seconds=1))
    assert in_the_dark(NIGHT, DARK)
    assert not in_the_dark(NIGHT, NIGHT.dark_until)
    assert not in_the_dark(None, DARK)
