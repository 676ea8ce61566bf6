"""Food ahead from the records: Today is its first day, looks teach eating, seed is one act."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.food_action import Do
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.live_food.vessel import WaterLook
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.live_food import live_food, live_food_ahead
from hatchery_app.services.live_food.live_food_ahead import FoodAhead
from hatchery_app.services.live_food.live_food_eaten import residuals
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts
from hatchery_app.services.today import today, today_facts
from hatchery_app.services.today.today_food import food_today
from tests.builders import count_culture, make_batch, make_culture, make_tank
from tests.unit.services.test_today_statements import fill_one_corner, statements

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def facts_of(session: Session, room: RoomNow, at: datetime = NOW) -> today_facts.DayFacts:
    return today_facts.load_day(session, library(), room=room, now=at)


def ahead_of(session: Session, room: RoomNow, at: datetime = NOW) -> FoodAhead:
    facts = facts_of(session, room, at)
    return live_food_ahead.food_ahead(session, facts, food_today(facts))


def look(session: Session, tank_id: int, at: datetime, *counted: int, topped: float | None = None):
    return counts.record_prey(
        session, posting=Posting(now=at), tank_id=tank_id, food="rotifers", when=When.exactly(at),
        counts=counted, topped_up_to_per_ml=topped,
    )  # fmt: skip


@pytest.fixture
def batch_in(session: Session) -> int:
    """Larvae of day 4 in 40 L: about 400."""
    tank_id = make_tank(session, "L1", litres=40)
    make_batch(session, tank_id, number="400", hatched_at=NOW - timedelta(days=3, hours=12))
    return tank_id


def test_todays_food_lines_and_the_first_day_of_the_plan_are_the_same_figures(
    session: Session, gannet_stair: RoomNow, batch_in: int
) -> None:
    other = make_tank(session, "L2", litres=30)
    make_batch(session, other, number="about 200", hatched_at=NOW - timedelta(days=1, hours=12))
    vessel = make_culture(session, "R1", at=NOW - timedelta(days=8), litres=10)
    count_culture(session, vessel, 150, at=NOW)
    look(session, batch_in, NOW, 6, 7, 6)
    page = today.today_page(session, facts_of(session, gannet_stair))
    for need in page.food.needs:
        first = page.ahead.demand[need.food][0]
        assert (first.low, first.likely, first.high, first.held) == (
            need.low, need.best, need.high, need.held,
        )  # fmt: skip
        found = page.ahead.outlook(need.food)
        if need.supply is not None:
            (day, *_) = found.likely
            assert day.need == pytest.approx(need.supply.need)
            assert day.bears == pytest.approx(need.supply.ready.best)
            assert day.short == pytest.approx(need.supply.short)
            assert found.careful[0].short == pytest.approx(need.supply.short)
    assert {need.food for need in page.food.needs} >= {"rotifers"}


def test_a_look_instead_of_a_count_counts_for_todays_need(
    session: Session, gannet_stair: RoomNow, batch_in: int
) -> None:
    counts.record_prey(
        session, posting=Posting(now=NOW), tank_id=batch_in, food="rotifers", look=Look.THIN,
        when=When.exactly(NOW),
    )  # fmt: skip
    first = ahead_of(session, gannet_stair).demand["rotifers"][0]
    assert first.low < first.likely < first.high < 12.5 * 40_000


def test_what_larvae_left_of_a_filled_tank_replaces_the_planning_curve(
    session: Session, gannet_stair: RoomNow, batch_in: int
) -> None:
    before = ahead_of(session, gannet_stair)
    assert before.grazing.looks == 0
    for days in (2, 1):
        look(session, batch_in, NOW - timedelta(days=days), topped=10)
        look(session, batch_in, NOW - timedelta(days=days - 1), 100, 110)
    looks = residuals(session, facts_of(session, gannet_stair))
    assert [one.dph for one in looks] == [2, 3]
    assert all(one.larvae == 400 for one in looks)
    teach = ahead_of(session, gannet_stair, NOW + timedelta(minutes=5))
    assert teach.grazing.looks == 0  # nothing was eaten: more than was filled is no eating
    look(session, batch_in, NOW + timedelta(minutes=10), topped=10)
    look(session, batch_in, NOW + timedelta(hours=24), 8, 9, 9)
    after = ahead_of(session, gannet_stair, NOW + timedelta(hours=24, minutes=5))
    assert after.grazing.looks == 1
    assert after.grazing.factor < 1


def test_a_vessel_is_begun_with_culture_of_another_in_one_go(
    session: Session, gannet_stair: RoomNow
) -> None:
    donor = make_culture(session, "R1", at=NOW - timedelta(days=8), litres=10, salinity=22)
    empty = make_culture(session, "R2", at=NOW - timedelta(days=20), litres=8)
    live_food.record_crash(
        session, posting=Posting(now=NOW - timedelta(days=1)), tank_id=empty,
        when=When.exactly(NOW - timedelta(days=1)),
    )  # fmt: skip
    count_culture(session, donor, 300, at=NOW)
    facts = facts_of(session, gannet_stair)
    bore = {one.vessel.label: one.gives_today for one in facts.cultures.vessels}
    later = NOW + timedelta(minutes=30)
    live_food.seed_culture(
        session, posting=Posting(now=later), tank_id=empty, from_tank_id=donor, litres=1.5,
        when=When.exactly(later),
    )  # fmt: skip
    facts = facts_of(session, gannet_stair, later + timedelta(minutes=1))
    one = {each.vessel.label: each for each in facts.cultures.vessels}
    assert one["R2"].vessel.lives
    assert facts.cultures.salinity_psu[empty] == 22
    assert one["R1"].gives_today.best < bore["R1"].best  # what was poured off is not there
    need = food_today(facts)
    supply = next((each.supply for each in need.needs if each.food == "rotifers"), None)
    assert supply is None or supply.in_hand == 0  # and no larvae get it
    with pytest.raises(RuleBroken, match="go 8 L at the most"):
        live_food.seed_culture(
            session, posting=Posting(now=later), tank_id=empty, from_tank_id=donor, litres=9,
            when=When.exactly(later),
        )  # fmt: skip


def test_a_vessel_seeded_and_not_counted_yet_is_expected_to_grow_and_no_other_is_asked_for(
    session: Session, gannet_stair: RoomNow, batch_in: int
) -> None:
    donor = make_culture(session, "R1", at=NOW - timedelta(days=8), litres=10)
    count_culture(session, donor, 300, at=NOW)
    empty = make_tank(session, "R2", litres=10, role=TankRole.CULTURE)
    asked = ahead_of(session, gannet_stair).outlook("rotifers")
    assert [step.label for step in asked.steps if step.do is Do.START] == ["R2"]
    later = NOW + timedelta(minutes=30)
    live_food.seed_culture(
        session, posting=Posting(now=later), tank_id=empty, from_tank_id=donor, litres=1.0,
        when=When.exactly(later),
    )  # fmt: skip
    found = ahead_of(session, gannet_stair, later + timedelta(days=1)).outlook("rotifers")
    begun = [day.given[place] for day in found.likely for place in (0, 1)
             if day.given[place].label == "R2"]  # fmt: skip
    assert begun[0].per_ml == pytest.approx(30 * math.exp(0.4))
    assert begun[0].bears == begun[0].reach == 0
    assert begun[6].bears > 0
    assert not [step for step in found.steps if step.do is Do.START]
    assert empty in found.expected
    unknown = ahead_of(session, gannet_stair, later + timedelta(days=3)).outlook("rotifers")
    assert "R2" in [label for label, _ in unknown.left_out]  # two days without a count: not known


def test_no_seed_is_advised_out_of_a_vessel_of_which_an_alarm_stands(
    session: Session, gannet_stair: RoomNow, batch_in: int
) -> None:
    donor = make_culture(session, "R1", at=NOW - timedelta(days=8), litres=10)
    count_culture(session, donor, 300, at=NOW)
    make_tank(session, "R2", litres=10, role=TankRole.CULTURE)
    sound = ahead_of(session, gannet_stair).outlook("rotifers")
    assert [step.from_label for step in sound.steps if step.do is Do.START] == ["R1"]
    live_food.record_water_look(
        session, posting=Posting(now=NOW), tank_id=donor, seen=[WaterLook.UNEATEN],
        when=When.exactly(NOW),
    )  # fmt: skip
    warned = ahead_of(session, gannet_stair).outlook("rotifers")
    assert not [step for step in warned.steps if step.do is Do.START]


def test_without_a_vessel_nothing_is_said_of_enough(
    session: Session, gannet_stair: RoomNow, batch_in: int
) -> None:
    found = ahead_of(session, gannet_stair).outlook("rotifers")
    assert not found.is_known
    assert [step.do for step in found.steps] == [Do.GET_CULTURE]


def test_an_unknown_number_of_larvae_is_planned_by_the_litre_and_named(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank_id = make_tank(session, "L3", litres=20)
    make_batch(session, tank_id, number="?", hatched_at=NOW - timedelta(days=2, hours=12))
    found = ahead_of(session, gannet_stair)
    assert found.assumed == ("L3",)
    tomorrow = found.demand["rotifers"][1]
    assert tomorrow.low < tomorrow.likely < tomorrow.high


def test_a_fuller_room_takes_no_more_statements(session: Session, gannet_stair: RoomNow) -> None:
    make_culture(session, "R1", at=NOW - timedelta(days=8))

    def asked() -> int:
        session.expire_all()
        facts = facts_of(session, gannet_stair)
        eaten = food_today(facts)
        with statements() as sent:
            live_food_ahead.food_ahead(session, facts, eaten)
        return len(sent)

    fill_one_corner(session, gannet_stair, 1)
    few = asked()
    for number in range(2, 5):
        fill_one_corner(session, gannet_stair, number)
    assert asked() == few
