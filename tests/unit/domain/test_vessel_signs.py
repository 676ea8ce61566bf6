"""What a vessel's record warns of, each sign with what it rests on."""

from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.live_food.live_food import PreyDensity
from hatchery_app.domain.live_food.rotifer_life_table import FASTEST_PER_DAY, S_TYPE
from hatchery_app.domain.live_food.vessel import (
    Cultured,
    Looked,
    Vessel,
    VesselCount,
    VesselNow,
    WaterLook,
    intervals_of,
    vessel_now,
)
from hatchery_app.domain.live_food.vessel_signs import VesselSign, VesselWater, signs_of

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def ago(days: float) -> datetime:
    return NOW - timedelta(days=days)


def counted(days: float, per_ml: float, error: float = 0.2) -> VesselCount:
    density = PreyDensity(per_ml, per_ml * (1 - error), per_ml * (1 + error), "")
    return VesselCount(ago(days), density, 100)


def stands(*counts: VesselCount, **more: object) -> VesselNow:
    facts = {"food": Cultured.ROTIFERS, "strain": "L", "began_at": ago(5)} | more
    vessel = Vessel(1, "R1", 20.0, counts=counts, **facts)  # type: ignore[arg-type]
    return vessel_now(vessel, day_began_at=ago(0.3), now=NOW)


def signs(one: VesselNow, **water: float) -> tuple[VesselSign, ...]:
    return signs_of(one, now=NOW, water=VesselWater(**water))


def test_oxygen_under_two_is_an_alarm_and_says_its_source() -> None:
    (low,) = signs(stands(), oxygen_mg_l=1.6)
    assert (low.is_alarm, "from memory" in low.rests_on) == (True, True)
    assert signs(stands(), oxygen_mg_l=4.0) == ()


def test_only_the_un_ionised_part_of_ammonia_has_a_limit() -> None:
    same = {"ph": 8.0, "temperature_c": 26.0, "salinity_psu": 20.0}
    assert signs(stands(), total_ammonia_mg_l=4.0, **same) == ()
    (watch,) = signs(stands(), total_ammonia_mg_l=10.0, **same)
    assert not watch.is_alarm
    assert "softer limit" in watch.rests_on
    (alarm,) = signs(stands(), total_ammonia_mg_l=30.0, **same)
    assert alarm.is_alarm
    (unknown,) = signs(stands(), total_ammonia_mg_l=4.0)
    assert "needs pH and temperature and salinity" in unknown.words


def test_an_algae_vessel_has_no_limits_of_animals() -> None:
    assert signs(stands(food=Cultured.ALGAE), oxygen_mg_l=1.0, ph=7.0) == ()


def test_what_was_seen_holds_a_day_and_a_good_look_clears_it() -> None:
    bad = (Looked(ago(0.5), WaterLook.UNEATEN), Looked(ago(0.4), WaterLook.CILIATES))
    found = signs(stands(looks=bad))
    assert [sign.is_alarm for sign in found] == [True, True]
    assert "does not eat" in found[0].words
    assert signs(stands(looks=(*bad, Looked(ago(0.1), WaterLook.WELL)))) == ()
    assert signs(stands(looks=(Looked(ago(1.5), WaterLook.STARVED),))) == ()


def test_growth_that_no_rotifer_has_is_a_slip_of_counting() -> None:
    (sign,) = signs(stands(counted(1, 50), counted(0, 400)))
    assert "none can" in sign.words
    assert "1.23 a day" in sign.rests_on
    assert signs(stands(counted(1, 100), counted(0, 280))) == ()


def test_counting_error_alone_puts_ends_to_the_growth_of_a_day() -> None:
    (one,) = intervals_of(stands(counted(1, 200), counted(0, 300)).vessel)
    assert one.low < one.per_day < one.high
    (over_four_days,) = intervals_of(stands(counted(4, 200), counted(0, 300)).vessel)
    assert one.high - one.low == pytest.approx(4 * (over_four_days.high - over_four_days.low))


def test_algae_thicker_than_they_grow_point_to_the_dilution() -> None:
    (sign,) = signs(stands(counted(0, 3e8), food=Cultured.ALGAE, strain="Nannochloropsis"))
    assert "look at the dilution first" in sign.words
    assert signs(stands(counted(0, 5e7), food=Cultured.ALGAE, strain="Nannochloropsis")) == ()


def test_a_rotifers_life_has_more_slots_than_eggs_and_bounds_growth() -> None:
    assert S_TYPE.slots > S_TYPE.eggs
    assert pytest.approx(1.234, abs=0.001) == FASTEST_PER_DAY
