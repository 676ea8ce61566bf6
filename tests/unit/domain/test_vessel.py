"""A culture vessel's own growth, its falls, and what it can give."""

import math
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.live_food.live_food import PreyDensity, density_from_count
from hatchery_app.domain.live_food.made_up import Wanted, made_up
from hatchery_app.domain.live_food.supply import animals_said, supply_of
from hatchery_app.domain.live_food.vessel import (
    GROWTH_PER_DAY,
    RECOVERY,
    Cultured,
    Harvest,
    KeptAs,
    Vessel,
    VesselCount,
    VesselNow,
    crash_standing,
    falls_of,
    growth_of,
    interval_growth,
    vessel_now,
)
from hatchery_app.domain.live_food.vessel_signs import egg_words, signs_of, spare_sign
from hatchery_app.domain.live_food.vessel_tasks import vessel_tasks

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
MIDNIGHT = datetime(2026, 11, 24, 0, 0, tzinfo=UTC)


def ago(days: float) -> datetime:
    return NOW - timedelta(days=days)


def counted(days: float, per_ml: float, *, eggs: int | None = None, of: int = 100) -> VesselCount:
    density = PreyDensity(per_ml, per_ml * 0.8, per_ml * 1.2, "")
    return VesselCount(ago(days), density, of, eggs)


def a_vessel(
    *counts: VesselCount, harvests: tuple[Harvest, ...] = (), label: str = "R1", litres: float = 7.0
) -> Vessel:
    return Vessel(
        1, label, litres, Cultured.ROTIFERS, "L", began_at=ago(9), counts=counts,
        harvests=harvests,
    )  # fmt: skip


def stands(vessel: Vessel) -> VesselNow:
    return vessel_now(vessel, day_began_at=MIDNIGHT, now=NOW)


def test_growth_without_a_harvest_is_the_logarithm_of_the_counts():
    vessel = a_vessel(counted(2, 100), counted(0, 200))
    assert interval_growth(vessel, *vessel.counts) == pytest.approx(math.log(2) / 2, abs=1e-6)


def test_a_steady_harvest_shows_the_growth_that_bears_it():
    vessel = a_vessel(counted(1, 300), counted(0, 300), harvests=(Harvest(ago(1), litres=2.1),))
    assert interval_growth(vessel, *vessel.counts) == pytest.approx(-math.log(0.7), abs=1e-6)


def test_animals_left_in_the_sieve_count_as_harvested():
    by_litres = a_vessel(counted(1, 300), counted(0, 300), harvests=(Harvest(ago(1), litres=2.1),))
    in_sieve = 2.1 * 1000 * 300 * RECOVERY
    by_animals = a_vessel(
        counted(1, 300), counted(0, 300), harvests=(Harvest(ago(1), animals=in_sieve),)
    )
    assert interval_growth(by_animals, *by_animals.counts) == pytest.approx(
        interval_growth(by_litres, *by_litres.counts), abs=1e-6
    )


def test_a_look_teaches_no_growth():
    look = VesselCount(ago(0), PreyDensity(300, 225, 375, "a look"), is_look=True)
    vessel = a_vessel(counted(2, 100), look)
    assert interval_growth(vessel, *vessel.counts) is None


def test_a_full_vessel_that_is_hardly_sieved_teaches_no_slow_growth():
    full = a_vessel(*(counted(days, 300) for days in (3, 2, 1, 0)))
    assert growth_of(full) == growth_of(a_vessel())
    sieved_hard = Harvest(ago(1), litres=3.5)
    risen = a_vessel(counted(1, 290), counted(0, 300), harvests=(sieved_hard,))
    assert growth_of(risen)[1] == 1  # half of it came back in a day: that is growth
    sinking = a_vessel(counted(1, 300), counted(0, 270), harvests=(Harvest(ago(1), litres=1),))
    assert growth_of(sinking)[0].mean < GROWTH_PER_DAY


def test_growth_is_drawn_from_the_default_to_the_vessels_own_counts():
    alone, none = growth_of(a_vessel(counted(0, 200)))
    assert (alone.mean, none) == (pytest.approx(GROWTH_PER_DAY), 0)
    counts = [counted(days, 250 * math.exp(-0.2 * days)) for days in (6, 5, 4, 3, 2, 1, 0)]
    found, intervals = growth_of(a_vessel(*counts))
    assert intervals == 6
    assert 0.2 < found.mean < 0.28


def test_a_fall_is_warned_of_and_not_learned_as_growth():
    vessel = a_vessel(counted(2, 200), counted(1, 190), counted(0, 120))
    (fall,) = falls_of(vessel)
    assert not fall.is_crash
    assert growth_of(vessel)[1] == 1


def test_a_harvest_is_no_fall():
    vessel = a_vessel(counted(1, 300), counted(0, 180), harvests=(Harvest(ago(0.9), litres=2.8),))
    assert falls_of(vessel) == ()


def test_a_fall_within_counting_error_is_no_fall():
    assert falls_of(a_vessel(counted(1, 200), counted(0, 150))) == ()


def test_a_crash_stands_until_a_count_is_back_at_half():
    assert crash_standing(a_vessel(counted(2, 180), counted(1, 20))) is not None
    assert crash_standing(a_vessel(counted(2, 180), counted(1, 20), counted(0, 24))) is not None
    assert crash_standing(a_vessel(counted(2, 180), counted(1, 20), counted(0, 110))) is None


def test_seven_litres_at_three_hundred_give_over_half_a_million_a_day():
    now = stands(a_vessel(counted(0, 300)))
    assert now.share == pytest.approx(1 - math.exp(-0.4))
    assert now.gives_today.best == pytest.approx(2.1e6 * now.share * RECOVERY)
    assert now.gives_today.low < now.gives_today.best < now.gives_today.high
    assert now.gives_tomorrow.best == pytest.approx(now.gives_today.best)
    assert now.feed_ml == pytest.approx(3.5)


def test_what_was_sieved_today_is_not_offered_again():
    share = stands(a_vessel(counted(0.1, 300))).share
    sieved = Harvest(ago(0.05), litres=share * 7)
    now = stands(a_vessel(counted(0.1, 300), harvests=(sieved,)))
    assert now.gives_today.best < 0.05 * 2.1e6
    assert now.gives_tomorrow.best > 0.4e6


def test_nothing_rests_on_animals_nobody_counted():
    assert stands(a_vessel(counted(1.5, 100))).standing.best == pytest.approx(700_000)
    old = stands(a_vessel(counted(3, 300)))
    assert old.standing is None
    assert old.gives_today is None
    assert old.why_none == "not counted for two days"


def test_cool_stock_is_seed_and_not_food():
    vessel = Vessel(
        1, "R3", 2, Cultured.ROTIFERS, kept_as=KeptAs.COOL_STOCK, began_at=ago(5),
        counts=(counted(0, 300),),
    )  # fmt: skip
    assert stands(vessel).gives_today.best == 0
    assert not stands(vessel).produces


# --- Warnings -----------------------------------------------------------------------------


def test_egg_ratios_are_classed_and_the_contested_break_even_is_said_by_both():
    assert egg_words(0.62) == "0.62 eggs each, growing"
    assert egg_words(0.30) == "0.30 eggs each, stationary"
    assert "0.13" in egg_words(0.15)
    assert "0.20" in egg_words(0.15)
    assert egg_words(0.10) == "0.10 eggs each, falling"


def test_few_eggs_are_an_alarm_that_says_its_delay():
    (sign,) = signs_of(stands(a_vessel(counted(0, 300, eggs=10))), now=NOW)
    assert sign.is_alarm
    assert "18–24 hours" in sign.rests_on


def test_eggs_that_fall_two_counts_running_are_said():
    vessel = a_vessel(
        counted(2, 300, eggs=90), counted(1, 310, eggs=70), counted(0, 300, eggs=50)
    )
    assert [s.words for s in signs_of(stands(vessel), now=NOW)] == [
        "Eggs fell two counts running."
    ]


def test_one_vessel_alone_has_no_spare_and_says_how_long_a_new_one_takes():
    one = stands(a_vessel(counted(0, 300)))
    sign = spare_sign([one], Cultured.ROTIFERS)
    assert sign is not None
    assert "No spare: R1" in sign.words
    assert "7.5 days" in sign.words
    assert spare_sign([one, one], Cultured.ROTIFERS) is None


# --- Supply against need ------------------------------------------------------------------


def test_two_vessels_cover_a_need_and_the_fuller_gives_first():
    first = stands(a_vessel(counted(0, 100), label="R1"))
    second = stands(a_vessel(counted(0, 300), label="R2"))
    supply = supply_of(Cultured.ROTIFERS, 700_000, [first, second])
    assert supply.is_enough
    assert [sieve.label for sieve in supply.sieves] == ["R2", "R1"]
    assert sum(sieve.animals for sieve in supply.sieves) == pytest.approx(700_000)
    full = supply.sieves[0]
    assert full.litres == pytest.approx(full.animals / (300 * RECOVERY * 1000))
    assert supply.said() == "0.70 of 0.70 million, from R2 and R1"


def test_a_shortfall_says_how_much_and_what_could_be_taken_at_tomorrows_cost():
    supply = supply_of(Cultured.ROTIFERS, 800_000, [stands(a_vessel(counted(0, 300)))])
    assert supply.said() == (
        "0.62 of 0.80 million, from R1; short by 0.18 million: sieve 660 mL more of R1,"
        " which it lacks tomorrow"
    )


def test_a_crashed_vessel_has_nothing_to_pour_in():
    crashed = stands(a_vessel(counted(1, 180), counted(0, 20), litres=8))
    assert crashed.standing.best == pytest.approx(160_000)
    supply = supply_of(Cultured.ROTIFERS, 570_000, [crashed])
    assert supply.ready.best == 0
    assert supply.said() == (
        "short by all of it, 0.57 million: R1 fell from 180 to 20 per mL: a crashed culture is"
        " not poured in"
    )


def test_no_vessel_of_a_food_is_no_answer():
    assert supply_of(Cultured.COPEPODS, 1000, [stands(a_vessel(counted(0, 300)))]) is None


def test_animals_are_said_in_millions_from_a_tenth_up():
    assert animals_said(567_000) == "0.57 million"
    assert animals_said(8_400) == "8,400"


# --- The morning --------------------------------------------------------------------------


def test_the_morning_counts_sieves_and_feeds():
    one = stands(a_vessel(counted(0, 300)))
    supply = supply_of(Cultured.ROTIFERS, 351_000, [one])
    lines = vessel_tasks(one, supply.sieves, NOW.date())
    assert [(line.kind, line.quantity.said() if line.quantity else "") for line in lines] == [
        ("count_culture", ""), ("sieve_culture", "1.3 L"), ("feed_culture", "3.5 mL"),
    ]  # fmt: skip


def test_each_sieve_pours_its_own_share_so_that_nothing_is_poured_twice():
    other = replace(a_vessel(counted(0, 200), label="R2"), tank_id=2)
    two = [stands(a_vessel(counted(0, 300))), stands(other)]
    supply = supply_of(Cultured.ROTIFERS, 900_000, two)
    got = sum(sieve.animals for sieve in supply.sieves)
    made = made_up(got, [Wanted(5, "L2", 600_000), Wanted(6, "L3", 300_000)])
    said = [
        line.why for one in two for line in vessel_tasks(one, supply.sieves, NOW.date(), made)
        if line.kind == "sieve_culture"
    ]  # fmt: skip
    assert len(said) == 2
    for pour in made.pours:
        poured = [float(n) for n in re.findall(rf"(\d+) mL into {pour.label}", " ".join(said))]
        assert len(poured) == 2
        assert sum(poured) == pytest.approx(pour.ml, rel=0.05)


def test_a_lost_culture_asks_for_nothing():
    vessel = Vessel(1, "R1", 7, Cultured.ROTIFERS, began_at=ago(3), lost_at=ago(1))
    assert vessel_tasks(stands(vessel), (), NOW.date()) == ()


def test_a_count_of_a_slide_keeps_its_error():
    density = density_from_count((28, 31, 34), 1.0, 10)
    vessel = a_vessel(VesselCount(ago(0), density, 93, 40))
    now = stands(vessel)
    assert now.per_ml == pytest.approx(310)
    assert now.standing.low < 0.85 * now.standing.best
