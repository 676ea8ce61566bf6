"""Lots of cysts and their hatches: what is learned, when one is ready, which food it is."""

import math
from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.live_food.brine_shrimp import hatch_hours
from hatchery_app.domain.live_food.shrimp_hatch import (
    Counted,
    EndedAs,
    Enriching,
    HatchState,
    HatchTold,
    LotKept,
    Ripe,
    ShrimpHatch,
    Went,
    lot_hours,
    lot_yield,
    measured_percent,
    start_cautions,
    usual_per_g,
)

START = datetime(2026, 11, 23, 18, 0, tzinfo=UTC)


def after(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def told(hours: float = 24, temperature_c: float = 28, **more: object) -> HatchTold:
    return HatchTold(temperature_c, hours, 1.0, **more)  # type: ignore[arg-type]


def lot(*hatches: HatchTold, **more: object) -> LotKept:
    facts = {"said_percent": 90.0, "said_per_g": None} | more
    return LotKept(7, 6, "tin of May", "90 %", told=hatches, **facts)  # type: ignore[arg-type]


def hatch(*hatches: HatchTold, **more: object) -> ShrimpHatch:
    facts = {"grams": 1.0, "litres": 1.0, "temperature_c": 28.0, "salinity_psu": 28.0} | more
    return ShrimpHatch(9, lot(*hatches), started_at=START, **facts)  # type: ignore[arg-type]


def test_a_new_lot_hatches_by_the_book_with_the_spread_between_lots():
    band = lot_hours([]).at(28)
    assert band is not None
    assert band.best == hatch_hours(28) == 23
    assert 15 < band.low < 18
    assert 31 < band.high < 35  # some lots are best at 18 h, others at 48


def test_a_slow_lot_is_learned_at_one_temperature_and_told_at_another():
    slow = lot_hours([told(hours=1 + 23 * 1.3) for _ in range(4)])
    weight = 1 - 1 / (1 + 4 * 0.25**2 / 0.12**2)
    assert slow.at(28).best == pytest.approx(23 * math.exp(weight * math.log(1.3)))
    assert slow.at(25).best / hatch_hours(25) == pytest.approx(slow.at(28).best / 23)
    assert slow.at(28).high - slow.at(28).low < lot_hours([]).at(28).high - lot_hours([]).at(28).low
    assert "4 hatches of this lot" in slow.said(28)


def test_a_harvest_out_of_time_teaches_no_hours():
    late = [told(hours=40, ripe=Ripe.LATE), told(hours=12, ripe=Ripe.EARLY)]
    assert lot_hours(late).hatches == 0


def test_no_hours_are_known_outside_the_book():
    assert lot_hours([told()]).at(18) is None
    assert hatch(temperature_c=18).ready is None
    assert hatch(temperature_c=18).state(after(60)) is HatchState.HATCHING


def test_nauplii_a_gram_begin_at_the_grade_and_give_way_to_own_harvests():
    assert usual_per_g(90) == 250_000
    assert usual_per_g(60) == pytest.approx(165_000)
    assert usual_per_g(None) == 200_000
    poor = [told(animals=117_000) for _ in range(6)]
    found = lot_yield(poor, None, 90)
    assert 130_000 < found.per_g < 150_000  # own 117,000 ÷ 0.9, drawn a little to 250,000
    assert found.low_per_g < found.per_g < found.high_per_g
    assert "6 harvests" in found.said
    assert lot_yield(poor, 230_000, None).per_g > found.per_g  # a measured label weighs more


def test_the_hatching_percentage_is_of_all_that_was_counted():
    pair = [told(nauplii=118, umbrellas=4, embryos=12), told(nauplii=60, umbrellas=2, embryos=4)]
    assert measured_percent(pair) == (pytest.approx(100 * 178 / 200), 200)
    assert measured_percent([told()]) is None


def test_a_hatch_is_ready_in_a_window_and_overdue_after_it():
    one = hatch(told(hours=24), told(hours=24.5), told(hours=23.5))
    low, best, high = one.ready
    assert abs((best - after(24)).total_seconds()) < 1800
    assert [one.state(at) for at in (START, best, high + timedelta(minutes=1))] == [
        HatchState.HATCHING, HatchState.READY, HatchState.OVERDUE,
    ]  # fmt: skip
    assert "Overdue" in one.signs(high + timedelta(hours=1))[0]
    assert low < best < high


def test_instar_one_and_enriched_shrimp_are_two_foods():
    fresh = hatch(counted=(Counted(after(24), 200_000),))
    assert (fresh.food(), fresh.state(after(25))) == (Food.SHRIMP_INSTAR_I, HatchState.IN_HAND)
    rich = hatch(
        counted=(Counted(after(24), 200_000),), enriching=Enriching(after(25), 24, "oil", 0.5)
    )
    assert rich.food() is Food.SHRIMP_ENRICHED
    assert rich.state(after(30)) is HatchState.ENRICHING
    assert rich.state(after(49)) is HatchState.ENRICHED
    assert rich.enriched_per_ml == pytest.approx(400)
    assert "400 per mL" in rich.signs(after(30))[0]
    assert rich.in_hand == pytest.approx(170_000)  # 15 % are taken to die


def test_what_is_in_hand_is_counted_less_what_went():
    one = hatch(counted=(Counted(after(24), 200_000),), went=(Went(after(26), 60_000, "L3"),))
    assert one.in_hand == 140_000
    unknown = hatch(counted=(Counted(after(24), 200_000),), went=(Went(after(26), None),))
    assert unknown.in_hand is None
    again = hatch(
        counted=(Counted(after(24), 200_000), Counted(after(30), 90_000)),
        went=(Went(after(26), None),),
    )
    assert again.in_hand == 90_000


def test_shrimp_kept_warm_grow_old_in_words():
    one = hatch(counted=(Counted(after(24), 200_000),))
    assert one.signs(after(26)) == ()
    assert "mouth opens about 8 h" in one.signs(after(33))[0]
    assert "over a day ago" in one.signs(after(49))[0]


def test_a_hatch_that_failed_is_over():
    one = hatch(ended_at=after(40), ended_as=EndedAs.FAILED)
    assert one.state(after(41)) is HatchState.ENDED


@pytest.mark.parametrize(
    ("start", "says"),
    [
        ((1, 1, 28, 28), None),
        ((1, 1, 34, 28), "Over 33 °C"),
        ((1, 1, 31, 28), "sources part"),
        ((1, 1, 19, 28), "No hours are known"),
        ((6, 1, 28, 28), "at most 5 g/L"),
        ((60, 25, 28, 28), "at most 2 g/L"),
        ((1, 1, 28, 90), "Over 85 psu"),
    ],
)
def test_what_speaks_against_a_start_is_said(start, says):
    cautions = start_cautions(*start)
    assert (says is None and cautions == ()) or any(says in one for one in cautions)
