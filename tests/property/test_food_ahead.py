"""Food ahead: more demand never helps, a shift of dates shifts the plan, no fill is added twice."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from hatchery_app.domain.larval_tank.larval_protocol import (
    DayBand,
    FeedingStage,
    Food,
    LarvalProtocol,
)
from hatchery_app.domain.live_food.food_action import Do, Place, Seed, advise
from hatchery_app.domain.live_food.food_ahead import (
    VesselAhead,
    days_held,
    first_lacking,
    first_short,
    if_lost,
    run,
)
from hatchery_app.domain.live_food.food_demand import (
    BatchAhead,
    ClutchAhead,
    Course,
    DayDemand,
    demand_ahead,
)

IN_TIME = settings(max_examples=150, deadline=None)
DAY_ONE = date(2026, 3, 1)
AMOUNTS = st.floats(0, 2e6)
SHIFTS = st.integers(-400, 400)
PLAN = LarvalProtocol(
    (
        FeedingStage(Food.ROTIFERS, 0, 8, 8, 12, "per mL"),
        FeedingStage(Food.SHRIMP_INSTAR_I, 5, 10, 0.5, 1, "per mL"),
        FeedingStage(Food.SHRIMP_ENRICHED, 11, 25, 2, 5, "per mL", tapers=True),
    ),
    None,
    (DayBand(0, 25, 10, 10, "%"),),
    (DayBand(0, 7, 1e5, 3e5, "cells per mL"),),
    (),
)


def day_of(number: int, likely: float, held: float) -> DayDemand:
    return DayDemand(
        DAY_ONE + timedelta(days=number), likely / 2, likely, 1.5 * likely, 2 * likely, held,
        held / 4,
    )  # fmt: skip


NEEDS = st.lists(st.tuples(AMOUNTS, AMOUNTS, st.floats(0, 1e6)), min_size=1, max_size=21)
VESSELS = st.lists(
    st.tuples(st.floats(1, 60), st.floats(1, 600), st.floats(-0.2, 0.8), st.integers(0, 6)),
    max_size=4,
).map(
    lambda given: tuple(
        VesselAhead(number, f"R{number}", litres, per_ml * litres * 1000, rate,
                    max(300, per_ml) * litres * 1000, rests_until=rests)
        for number, (litres, per_ml, rate, rests) in enumerate(given, 1)
    )
)  # fmt: skip
LARVAE = st.tuples(st.floats(0, 500), st.floats(0, 500), st.floats(0, 500)).map(
    lambda three: tuple(sorted(three))
)
CHANCES = st.lists(st.floats(0, 1), max_size=15).map(
    lambda found: tuple(one / max(1.0, sum(found)) for one in found)
)


@given(NEEDS, VESSELS, st.booleans())
@IN_TIME
def test_more_demand_never_moves_the_first_short_day_later(needs, vessels, careful) -> None:
    few = [day_of(n, likely, held) for n, (likely, _, held) in enumerate(needs)]
    many = [day_of(n, likely + more, held) for n, (likely, more, held) in enumerate(needs)]
    with_few, with_many = run(few, vessels, careful=careful), run(many, vessels, careful=careful)
    for found in (first_short, first_lacking):
        least, most = found(with_few), found(with_many)
        if least is not None:
            assert most is not None
            assert most.on <= least.on
    for one, other in zip(with_few, with_many, strict=True):
        assert other.bears <= one.bears + 1e-3 + 1e-9 * one.bears


@given(NEEDS, VESSELS)
@IN_TIME
def test_no_vessel_gives_more_than_half_of_what_stands_nor_falls_below_none(needs, vessels) -> None:
    for day in run([day_of(n, likely, held) for n, (likely, _, held) in enumerate(needs)], vessels):
        assert day.bears <= day.reach + 1e-6
        for one in day.given:
            assert 0 <= one.taken <= one.reach + 1e-6
            assert one.taken <= 0.5 * one.animals + 1e-6


@given(NEEDS, VESSELS, st.floats(0, 0.9))
@IN_TIME
def test_the_plan_never_takes_a_vessel_below_half_and_the_days_acts_add_up(
    needs, vessels, sieved
) -> None:
    """Whatever is asked for three weeks, what the plan takes leaves half of what stood there; one
    sieved down before is not halved again, and a day's sieves and seed are of the same half."""
    vessels = tuple(
        replace(one, animals=(1 - sieved) * one.animals, stood=one.animals) if number else one
        for number, one in enumerate(vessels)
    )
    demand = [day_of(n, likely, held) for n, (likely, _, held) in enumerate(needs)]
    seeds = [Seed(one.tank_id, one.label, one.animals, 100, one.rate_per_day) for one in vessels]
    advice = advise(demand, vessels, places=[Place(9, "R9", 20)], seeds=seeds)
    for one in vessels:
        half = 0.5 * max(one.stood, one.animals)
        poured = sum(
            step.animals for step in advice.steps if step.do is Do.START
            and step.from_id == one.tank_id
        )  # fmt: skip
        for number, (day, bare) in enumerate(zip(advice.after, advice.without, strict=True)):
            dies = math.exp(min(0.0, one.rate_per_day) * number)  # of itself, whoever takes
            for course_day, seed in ((day, poured if number == 0 else 0.0), (bare, 0.0)):
                now = next(each for each in course_day.given if each.tank_id == one.tank_id)
                assert now.animals >= min(half, one.animals) * dies * (1 - 1e-6) - 1e-3
                gone = now.taken / 0.9 + seed
                steady = now.animals * one.share
                assert gone <= max(steady, now.animals - half) + 1e-3 + 1e-6 * now.animals
                asked = sum(
                    step.animals / (0.9 if step.do is Do.SIEVE_DEEPER else 1)
                    for step in advice.steps
                    if course_day is day and step.on == day.on and not step.is_spare
                    and one.tank_id
                    == (step.from_id if step.do is Do.START else step.tank_id)
                )  # fmt: skip
                most = max(steady, now.animals - half)
                assert asked <= max(0.0, most - steady) + 1e-3 + 1e-6 * now.animals


@given(NEEDS, VESSELS)
@IN_TIME
def test_a_vessel_lost_never_leaves_more_and_advice_never_makes_it_worse(needs, vessels) -> None:
    demand = [day_of(n, likely, held) for n, (likely, _, held) in enumerate(needs)]
    whole = run(demand, vessels, careful=True)
    for lost in if_lost(demand, vessels):
        if (first := first_lacking(whole)) is not None:
            assert lost.lacking is not None
            assert lost.lacking.on <= first.on
    seeds = [Seed(one.tank_id, one.label, one.animals, 100, one.rate_per_day) for one in vessels]
    advice = advise(demand, vessels, places=[Place(9, "R9", 20)], seeds=seeds)
    assert days_held(advice.after) >= days_held(advice.without)
    assert all(step.on <= step.by for step in advice.steps)


@given(st.integers(0, 20), LARVAE, CHANCES, SHIFTS)
@IN_TIME
def test_a_shift_of_every_date_shifts_the_plan(dph, larvae, chances, days) -> None:
    moved = timedelta(days=days)
    batch = BatchAhead("L1", dph, larvae, Course(PLAN, 40))
    clutch = ClutchAhead(7, "A and B", "rotifers", 4e5, DAY_ONE + timedelta(days=2), larvae,
                         Course(PLAN, 40), chances)  # fmt: skip
    here = demand_ahead(DAY_ONE, [batch], [clutch])
    there = demand_ahead(
        DAY_ONE + moved, [batch], [replace(clutch, held_from=clutch.held_from + moved)]
    )
    assert {
        food: tuple(replace(day, on=day.on + moved) for day in found)
        for food, found in here.items()
    } == dict(there)


@given(LARVAE, CHANCES)
@IN_TIME
def test_a_clutch_is_held_one_fill_for_however_many_nights(larvae, chances) -> None:
    clutch = ClutchAhead(7, "A and B", "rotifers", 4e5, DAY_ONE, larvae, Course(PLAN, 40), chances)
    days = demand_ahead(DAY_ONE, [], [clutch, clutch]).get("rotifers", ())
    assert all(day.held in (0, 4e5) for day in days)
    assert sum(day.poured for day in days) <= 2 * 4e5 * (1 + 1e-9)
    assert all(day.low <= day.likely + 1e-6 <= day.most + 1e-5 for day in days)


@given(st.integers(0, 20), LARVAE, LARVAE)
@IN_TIME
def test_more_larvae_never_need_less_and_two_tanks_need_the_sum(dph, larvae, more) -> None:
    both = tuple(one + other for one, other in zip(larvae, more, strict=True))

    def needs(*many):
        batches = [BatchAhead("L", dph, one, Course(PLAN, 40)) for one in many]
        return demand_ahead(DAY_ONE, batches, [])

    few, many, two = needs(larvae), needs(both), needs(larvae, larvae)
    for food, found in few.items():
        for one, other, twice in zip(found, many[food], two[food], strict=True):
            assert one.likely <= other.likely + 1e-6
            assert abs(twice.likely - 2 * one.likely) <= 1e-6 * (1 + one.likely)
