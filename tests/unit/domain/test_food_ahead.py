"""Food ahead: demand day by day, what vessels bear, the first day short and what to do about it."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from hatchery_app.domain.larval_tank.larval_protocol import (
    DayBand,
    FeedingStage,
    Food,
    LarvalProtocol,
    for_day,
)
from hatchery_app.domain.live_food.food_action import Do, Place, Seed, advise, spare
from hatchery_app.domain.live_food.food_ahead import (
    VesselAhead,
    first_lacking,
    first_short,
    if_lost,
    run,
    total_lacking,
)
from hatchery_app.domain.live_food.food_demand import (
    GREENWATER,
    BatchAhead,
    ClutchAhead,
    Course,
    Courses,
    DayDemand,
    demand_ahead,
    fills_held,
)
from hatchery_app.domain.live_food.food_eaters import eaters_on
from hatchery_app.domain.live_food.food_outlook import Outlook, outlook
from hatchery_app.domain.live_food.live_food import PreyDensity
from hatchery_app.domain.live_food.shrimp_ahead import (
    HatchAhead,
    first_late,
    next_start,
    shrimp_ahead,
    usual_cysts,
)
from hatchery_app.domain.live_food.vessel import (
    Cultured,
    KeptAs,
    Vessel,
    VesselCount,
    VesselNow,
    vessel_now,
)
from hatchery_app.services.species.library import library

TODAY = date(2026, 11, 24)
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
MIDNIGHT = datetime(2026, 11, 24, 0, 0, tzinfo=UTC)
SURE = (425.0, 425.0, 425.0)
PLAN = LarvalProtocol(
    (
        FeedingStage(Food.ROTIFERS, 0, 2, 10, 10, "per mL"),
        FeedingStage(Food.ROTIFERS, 3, 8, 12, 12, "per mL"),
        FeedingStage(Food.SHRIMP_INSTAR_I, 3, 4, None, None, "per mL", "a trace"),
        FeedingStage(Food.SHRIMP_INSTAR_I, 5, 10, 0.5, 1, "per mL"),
        FeedingStage(Food.SHRIMP_ENRICHED, 11, 15, 2, 5, "per mL"),
        FeedingStage(Food.SHRIMP_ENRICHED, 16, 25, 2, 5, "per mL", tapers=True),
    ),
    None,
    (DayBand(0, 0, 0, 0, "%"), DayBand(1, 25, 10, 10, "%")),
    (DayBand(0, 7, 1e5, 3e5, "cells per mL"),),
    (),
)


def on(day: int) -> date:
    return TODAY + timedelta(days=day)


def flat(amount: float, days: int = 21, *, held: float = 0, begins: int = 0) -> list[DayDemand]:
    return [
        DayDemand(on(day), *([amount if day >= begins else 0.0] * 4), held=held)
        for day in range(days)
    ]


def a_vessel(per_ml: float, *, label: str = "R1", litres: float = 7, rate: float = 0.4, **more):
    number = int(label[1:])
    whole = litres * 1000
    return VesselAhead(number, label, litres, per_ml * whole, rate, 300 * whole, **more)


def seed_of(one: VesselAhead) -> Seed:
    per_ml = one.animals / (one.litres * 1000)
    return Seed(one.tank_id, one.label, one.animals, per_ml, one.rate_per_day)


def clutch(*chances: float, held_from: int = 0, **more) -> ClutchAhead:
    return ClutchAhead(
        7, "Rusk and Tansy", "rotifers", 400_000, on(held_from), SURE, Course(PLAN, 40), chances,
        **more,
    )  # fmt: skip


# --- Demand -------------------------------------------------------------------------------


def test_a_rising_target_asks_for_a_fill_of_the_difference():
    days = demand_ahead(TODAY, [BatchAhead("L1", 2, SURE, Course(PLAN, 40))], [])["rotifers"]
    eaten = 425 * 0.97 * 375 + 0.1 * 12 * 40_000
    assert days[1].likely == pytest.approx(eaten + 2 * 40_000)
    assert days[1].planned == pytest.approx(1.5 * eaten + 2 * 40_000)


def test_a_trace_of_shrimp_is_no_amount_and_a_day_past_the_plan_asks_for_nothing():
    demand = demand_ahead(TODAY, [BatchAhead("L1", 3, SURE, Course(PLAN, 40))], [])
    assert [day.likely for day in demand["brine shrimp, instar I"]][:2] == [0, 0]
    assert demand["brine shrimp, instar I"][2].likely == pytest.approx(0.75 * 40_000)
    old = demand_ahead(TODAY, [BatchAhead("L1", 30, SURE, Course(PLAN, 40))], [])
    assert old == {}


def test_shrimp_from_eight_days_on_is_by_what_larvae_take_and_tapers_with_the_plan():
    demand = demand_ahead(TODAY, [BatchAhead("L1", 8, (333, 333, 333), Course(PLAN, 40))], [])
    assert demand["brine shrimp, instar I"][0].likely == pytest.approx(33_300)
    enriched = {(day.on - TODAY).days + 8: day for day in demand["brine shrimp, enriched"]}
    assert enriched[14].likely == pytest.approx(333 * 0.97**6 * 400)
    assert enriched[20].likely < 0.6 * 333 * 0.97**12 * 550
    assert enriched[26].likely == 0


def test_measured_larvae_take_shrimp_when_they_are_six_millimetres_long():
    slow = Course(PLAN, 40, length_mm=4.6, length_dph=4, growth_mm_per_day=0.35)
    assert slow.first_dph_by_size(Food.SHRIMP_INSTAR_I) == 8
    demand = demand_ahead(TODAY, [BatchAhead("L1", 4, SURE, slow)], [])
    shrimp = demand["brine shrimp, instar I"]
    assert [bool(day.likely) for day in shrimp[:6]] == [False, False, False, False, True, True]
    assert replace(slow, length_mm=6.5).first_dph_by_size(Food.SHRIMP_INSTAR_I) == 0


def test_green_water_is_filled_once_and_then_only_what_is_washed_out():
    days = demand_ahead(TODAY, [BatchAhead("L1", 0, SURE, Course(PLAN, 40))], [])[GREENWATER]
    assert days[0].likely == pytest.approx(2e5 * 40_000)
    assert days[1].likely == pytest.approx(0.1 * 2e5 * 40_000)


def test_a_clutch_is_weighted_by_its_nights_and_bounded_by_them():
    days = demand_ahead(TODAY, [], [clutch(0.0, 0.5, 0.3, 0.2)])["rotifers"]
    one_day_old = 425 * 0.97 * 225 + 0.1 * 10 * 40_000
    assert days[2].likely == pytest.approx(0.5 * one_day_old)
    assert days[2].low == 0
    assert days[2].high == pytest.approx(1.5 * one_day_old)
    assert 0 < days[6].low < days[6].likely < days[6].high


def test_a_spare_is_not_seeded_from_what_is_sieved_deeper_on_the_same_day():
    one = a_vessel(80, litres=20)
    asked = flat(0.8e6)
    (deeper,) = [step for step in advise(asked, [one]).steps if step.do is Do.SIEVE_DEEPER]
    assert deeper.on == TODAY
    alone = spare(asked, [one], [], [seed_of(one)])
    beside = spare(asked, [one], [], [seed_of(one)], [deeper])
    assert alone is not None
    poured = beside.animals if beside is not None else 0.0
    assert poured < alone.animals
    gone = poured + deeper.animals / 0.9 + one.share * one.animals
    assert gone <= 0.5 * one.animals + 1


def test_where_food_is_short_first_feeders_are_named_first_and_fills_only_held_last():
    batches = [
        BatchAhead("L5", 4, SURE, Course(PLAN, 40)),
        BatchAhead("L9", 7, SURE, Course(PLAN, 40)),  # past its rotifers in two days
        BatchAhead("L3", 0, SURE, Course(PLAN, 40)),
    ]
    hatching, later = clutch(0.2, 0.7, 0.1), clutch(0.0, 0.0, 0.3, 0.7, held_from=2)
    named = [(one.label, one.dph) for one in
             eaters_on("rotifers", on(2), TODAY, batches, [hatching, later])]  # fmt: skip
    assert named == [
        ("Rusk and Tansy", 1), ("L3", 2), ("L5", 6), ("Rusk and Tansy", None),
    ]  # fmt: skip
    assert eaters_on("rotifers", on(10), TODAY, batches[:2], []) == ()


def test_one_fill_is_held_from_the_night_to_prepare_for_until_it_has_surely_hatched():
    uncertain = clutch(0.0, 0.1, 0.4, 0.4, 0.1, held_from=1)
    days = demand_ahead(TODAY, [], [uncertain])["rotifers"]
    assert [day.held for day in days[:7]] == [0, 4e5, 4e5, 4e5, 4e5, 0, 0]
    assert sum(day.poured for day in days) == pytest.approx(4e5)
    assert fills_held(uncertain, TODAY).until_on == on(4)


def test_a_clutch_of_which_no_figure_can_be_given_is_held_for_without_an_end():
    days = demand_ahead(TODAY, [], [clutch(has_figure=False)])["rotifers"]
    assert [day.held for day in days] == [4e5] * 21
    assert all(day.likely == 0 for day in days)


# --- Supply -------------------------------------------------------------------------------


def test_what_a_vessel_bears_is_its_steady_share_and_never_above_45_percent():
    (day, *_) = run(flat(0), [a_vessel(300)])
    assert day.bears == pytest.approx((1 - math.exp(-0.4)) * 2.1e6 * 0.9)
    assert a_vessel(300, rate=1.2).share == 0.45
    assert a_vessel(300, rate=-0.1).share == 0


def test_a_need_within_its_share_leaves_a_vessel_where_it_stands():
    within = 0.99 * 2.1e6 * (1 - math.exp(-0.4)) * 0.9
    days = run(flat(within), [a_vessel(300)])
    assert first_short(days) is None
    assert days[-1].given[0].per_ml == pytest.approx(300, rel=0.02)


def test_a_need_beyond_its_share_is_met_at_first_and_then_is_not():
    beyond = 1.3 * 2.1e6 * (1 - math.exp(-0.4)) * 0.9
    days = run(flat(beyond), [a_vessel(300)])
    short, lacking = first_short(days), first_lacking(days)
    assert short.on == TODAY
    assert lacking is not None
    assert lacking.on > TODAY
    assert days[5].given[0].per_ml < 300


def test_a_held_fill_must_stand_ready_but_is_taken_once():
    held = [DayDemand(on(day), 0, 0, 0, 0, held=4e5, poured=4e5 * (day == 3)) for day in range(6)]
    days = run(held, [a_vessel(300)])
    assert [round(day.given[0].taken) for day in days] == [0, 0, 0, 400_000, 0, 0]


def test_a_young_culture_is_left_alone_until_it_has_grown():
    days = run(flat(1e5), [a_vessel(50, rests_until=4)])
    assert [day.bears > 0 for day in days[:5]] == [False, False, False, False, True]


def test_a_vessel_lost_says_when_a_rebuilt_one_helps():
    demand = flat(8e5)
    two = [a_vessel(300), a_vessel(300, label="R2")]
    first, second = if_lost(demand, two)
    assert first.lacking is not None
    assert not first.is_only
    assert first.rebuilt_days == pytest.approx(math.log(20) / 0.4)
    assert second.rebuilt_on == on(8)
    (only,) = if_lost(demand, two[:1])
    assert only.is_only
    assert only.lacking.on == TODAY
    assert only.most_lacking == pytest.approx(8e5)


# --- What to do ---------------------------------------------------------------------------


def test_a_need_in_a_fortnight_is_met_by_a_culture_started_in_time_and_not_by_one_too_late():
    demand, only = flat(1.0e6, begins=10), a_vessel(300)
    advice = advise(demand, [only], places=[Place(9, "R9", 20)], seeds=[seed_of(only)])
    (step,) = [step for step in advice.steps if step.do is Do.START]
    assert first_lacking(advice.without) is not None
    assert first_lacking(advice.after) is None
    assert (step.label, step.from_label, step.litres) == ("R9", "R1", 20)
    assert step.seed_l == pytest.approx(step.seed_per_ml * 20 / 300)
    assert TODAY < step.by < on(10)
    late = advise(demand[(step.by - TODAY).days + 1 :], [only], places=[Place(9, "R9", 20)],
                  seeds=[seed_of(only)])  # fmt: skip
    assert total_lacking(late.after) > 0


def test_a_single_heavy_night_is_met_by_sieving_deeper_and_no_vessel_is_sized_by_it():
    demand = [replace(day, held=3e5 if day.on == on(3) else 0) for day in flat(5e5)]
    one = a_vessel(300)
    advice = advise(demand, [one], places=[Place(9, "R9", 20)], seeds=[seed_of(one)])
    (step,) = advice.steps
    assert (step.do, step.label, step.on) == (Do.SIEVE_DEEPER, "R1", on(3))
    assert step.litres == pytest.approx(step.animals / (300 * 0.9 * 1000), rel=0.02)


def test_a_young_culture_is_left_to_grow_where_that_feeds_longer():
    demand, young = flat(4e5), a_vessel(50, litres=20, first_day=2e5)
    advice = advise(demand, [young], young=[1], seeds=[])
    (step,) = advice.steps
    assert (step.do, step.label) == (Do.LET_GROW, "R1")
    assert step.helps_on == on(math.ceil(math.log(240 / 50) / 0.4))
    assert advice.after[-1].lacking == 0
    assert run(demand, [young], careful=True)[-1].lacking > 0


def test_without_a_place_in_the_room_a_further_vessel_is_asked_for():
    one = a_vessel(300)
    advice = advise(flat(1.2e6, begins=9), [one], seeds=[seed_of(one)])
    step = next(step for step in advice.steps if step.do is Do.START)
    assert step.tank_id < 0
    assert step.litres in (10, 20, 50, 100)


def test_little_seed_starts_a_small_vessel_where_the_peak_asks_for_a_large_one():
    one = a_vessel(300)
    advice = advise(flat(3e6, begins=13), [one], seeds=[seed_of(one)])
    begun = [step for step in advice.steps if step.do is Do.START]
    assert begun
    assert sum(step.seed_l for step in begun) <= 0.5 * 7
    assert total_lacking(advice.after) < total_lacking(advice.without)


def counted(vessel_id: int, per_ml: float | None, *, days: float = 0, **more) -> VesselNow:
    counts = ()
    if per_ml is not None:
        density = PreyDensity(per_ml, 0.8 * per_ml, 1.2 * per_ml, "")
        counts = (VesselCount(NOW - timedelta(days=days), density, 100),)
    facts = {"food": Cultured.ROTIFERS, "strain": "L", "began_at": NOW - timedelta(days=20)} | more
    vessel = Vessel(vessel_id, f"R{vessel_id}", 7, counts=counts, **facts)
    return vessel_now(vessel, day_began_at=MIDNIGHT, now=NOW)


def look_ahead(demand, *vessels: VesselNow, **more) -> Outlook:
    return outlook(Cultured.ROTIFERS, demand, vessels, **more)


def kinds(found: Outlook) -> list[Do]:
    return [step.do for step in found.steps]


def test_a_crashed_vessel_gives_nothing_on_any_day():
    whole = look_ahead(flat(5e5), counted(1, 300), counted(2, 300))
    lost = look_ahead(flat(5e5), counted(1, 300), counted(2, 300, lost_at=NOW))
    assert whole.likely[5].bears > 1.8 * lost.likely[5].bears
    assert lost.left_out == (("R2", "lost"),)


def test_a_vessel_nobody_counted_gives_nothing_and_is_to_be_counted():
    found = look_ahead(flat(5e5), counted(1, 300, days=4))
    assert found.likely[0].bears == 0
    assert Do.COUNT in kinds(found)


def test_the_bands_hold_the_likely_supply():
    found = look_ahead(flat(5e5), counted(1, 300), counted(2, 200))
    for band, likely in zip(found.bears, found.likely, strict=True):
        assert band.low < band.best == likely.bears < band.high


def test_a_single_vessel_asks_for_a_second_before_it_matters():
    found = look_ahead(flat(1e5, begins=12), counted(1, 300), places=[Place(9, "R9", 7)])
    (step,) = [step for step in found.steps if step.is_spare]
    assert step.label == "R9"
    assert TODAY < step.by < on(12)
    two = look_ahead(flat(1e5, begins=12), counted(1, 300), counted(2, 300))
    assert not any(step.is_spare for step in two.steps)
    assert not look_ahead(flat(0), counted(1, 300)).steps


def test_cool_stock_is_seed_and_is_not_fed():
    cool = counted(3, 200, kept_as=KeptAs.COOL_STOCK)
    found = look_ahead(flat(2e5, begins=9), cool, places=[Place(9, "R9", 7)])
    assert found.likely[12].bears == 0
    (step,) = [step for step in found.steps if step.do is Do.START]
    assert (step.from_label, step.label) == ("R3", "R9")
    assert found.still_lacking is None


def test_without_any_culture_one_is_to_be_got():
    assert kinds(look_ahead(flat(1e5, begins=9))) == [Do.GET_CULTURE]
    assert not look_ahead(flat(1e5, begins=9)).is_known


# --- Brine shrimp -------------------------------------------------------------------------


def mornings(days: int = 5) -> list[datetime]:
    return [NOW.replace(hour=8) + timedelta(days=day) for day in range(days)]


def test_tomorrows_shrimp_is_too_late_and_the_first_hour_is_said():
    days = shrimp_ahead(Food.SHRIMP_INSTAR_I, flat(6e4, 5), mornings(), usual_cysts(), NOW)
    late = first_late(days)
    assert late.on == TODAY
    assert late.lacking == 6e4
    assert late.ready_at == NOW + timedelta(hours=25)
    start = next_start(days)
    assert start.on == on(1)  # two hours late: food two hours later
    assert start.start_at == mornings()[1] - timedelta(hours=25)
    assert start.start.vessel_l == pytest.approx(start.start.grams / 2)


def test_what_hatches_already_is_not_started_again():
    coming = [HatchAhead(Food.SHRIMP_INSTAR_I, mornings()[2] - timedelta(hours=3), 5e4)]
    days = shrimp_ahead(Food.SHRIMP_INSTAR_I, flat(6e4, 5), mornings(), usual_cysts(), NOW, coming)
    assert days[2].on_its_way == 5e4
    assert days[2].start.grams == pytest.approx(days[3].start.grams / 6)
    enough = shrimp_ahead(
        Food.SHRIMP_INSTAR_I, flat(4e4, 5), mornings(), usual_cysts(), NOW, coming
    )
    assert enough[2].start is None
    other = shrimp_ahead(Food.SHRIMP_ENRICHED, flat(4e4, 5), mornings(), usual_cysts(), NOW, coming)
    assert other[2].on_its_way == 0
    assert [day.is_late for day in other] == [True, True, False, False, False]




def test_a_start_a_few_hours_late_is_not_asked_for_again_and_feeds_once():
    """Two hours late for tomorrow: wetted, it is tomorrow's food and not also the day after's."""
    wanted, hours = flat(6e4, 5), mornings()
    before = shrimp_ahead(Food.SHRIMP_INSTAR_I, wanted, hours, usual_cysts(), NOW)
    start = next_start(before)
    assert start.ready_at == NOW + timedelta(hours=25)
    wetted = [HatchAhead(Food.SHRIMP_INSTAR_I, start.ready_at, 7e4)]
    after = shrimp_ahead(Food.SHRIMP_INSTAR_I, wanted, hours, usual_cysts(), NOW, wetted)
    assert after[1].start is None
    assert after[2].on_its_way == pytest.approx(1e4)
    too_late = [HatchAhead(Food.SHRIMP_INSTAR_I, hours[1] + timedelta(hours=7), 7e4)]
    missed = shrimp_ahead(Food.SHRIMP_INSTAR_I, wanted, hours, usual_cysts(), NOW, too_late)
    assert missed[1].start is not None


def test_a_batch_that_is_behind_is_behind_once() -> None:
    """Its page and its food ahead read the same day of the plan."""
    protocol = replace(library()["amphiprion_ocellaris"].larval, behind_days=2)
    course = Course(protocol, 40)
    for dph in (4, 6, 7, 12):
        wanted = {fed.food: fed.target for fed in for_day(protocol, dph, None).foods if fed.target}
        assert Courses().day(course, dph).targets == wanted
