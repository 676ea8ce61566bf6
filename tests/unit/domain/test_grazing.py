"""How much larvae eat: the planning curve, and the room's own looks at what was left."""

from datetime import UTC, datetime, time

import pytest

from hatchery_app.domain.larval_tank.grazing import (
    Residual,
    grazing_on,
    learned_grazing,
    lit_hours,
    nauplii_on,
)
from hatchery_app.domain.when import Lights, RoomTime

NOW = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)


def left(
    residual: float, *, dph: int = 4, larvae: float = 400, lit: float = 12, **more
) -> Residual:
    return Residual(1, NOW, dph, 10, residual, 40, larvae, lit, 12, **more)


def test_the_published_example_of_eaten_each():
    look = Residual(1, NOW, 4, 10, 6.2, 40, 425, 12, 12)
    assert look.eaten_each == pytest.approx(358, abs=0.5)


def test_nothing_is_eaten_on_the_hatch_night_and_the_curve_holds_past_its_last_day():
    assert (grazing_on(-1), grazing_on(0), grazing_on(5)) == (None, 0, 525)
    assert grazing_on(8) == grazing_on(10) == 750


def test_without_a_look_the_curve_stands_and_says_that_it_is_assumed():
    none = learned_grazing([])
    assert (none.factor, none.looks, none.on(5)) == (1, 0, 525)
    assert "assumed" in none.said()


def test_the_rooms_own_looks_replace_the_curve_the_more_there_are():
    half = left(7.75)  # 90,000 of 400 larvae: 225 each, half of the curve's 450
    assert half.factor == pytest.approx(0.5)
    one, many = learned_grazing([half]), learned_grazing([half] * 40)
    assert 0.5 < many.factor < one.factor < 1
    assert many.factor == pytest.approx(0.5, abs=0.02)
    assert many.high - many.low < one.high - one.low
    assert "40 looks" in many.said()
    assert "assumed" not in many.said()


def test_what_a_water_change_took_was_not_eaten():
    assert left(7.75, change_percent=20).eaten_each == pytest.approx(
        (90_000 - 0.2 * (10 + 7.75) / 2 * 40_000) / 400
    )


def test_looks_that_say_nothing_teach_nothing():
    useless = [left(11), left(8, larvae=0), left(8, lit=2), left(8, dph=0), left(10)]
    assert learned_grazing(useless).looks == 0


def test_half_a_day_of_light_is_held_against_half_a_days_eating():
    assert left(8.875, lit=6).factor == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("dph", "nauplii"), [(8, 100), (9, 150), (10, 200), (14, 400), (17, 475), (20, 550), (30, 550)]
)
def test_brine_shrimp_a_larva_takes(dph, nauplii):
    assert nauplii_on(dph) == nauplii


def test_before_eight_days_no_number_of_shrimp_is_planned():
    assert nauplii_on(7) is None


def test_lit_hours_over_a_night():
    room, lamp = RoomTime("Europe/Lisbon"), Lights(on=time(8), off=time(20))
    ends = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
    begins = datetime(2026, 11, 24, 18, 0, tzinfo=UTC)
    assert lit_hours(begins, ends, lambda _at: lamp, room) == pytest.approx(3)
