"""Culture vessels: what is written down of them, and what Today makes of it."""

from datetime import datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import Asked, NotKnown, RuleBroken
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.live_food.vessel import Cultured
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.today.schedule import State
from hatchery_app.domain.when import When
from hatchery_app.services.live_food import live_food, live_food_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts, every_batch
from hatchery_app.services.tank import readings, tank
from hatchery_app.services.today import today, today_facts
from tests.builders import count_culture as count
from tests.builders import make_batch, make_culture, make_tank
from tests.unit.services.test_today_statements import statements


def facts_at(session: Session, room: RoomNow, at: datetime) -> today_facts.DayFacts:
    return today_facts.load_day(session, library(), room=room, now=at)


def vessel(session: Session, room: RoomNow, tank_id: int, at: datetime):
    return live_food_page.vessel_named(facts_at(session, room, at).cultures, tank_id)


@pytest.fixture
def r1(session: Session, gannet_stair: RoomNow, now: datetime) -> int:
    return make_culture(session, "R1", at=now - timedelta(days=5))


def test_a_count_gives_density_with_its_error_and_the_egg_ratio(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    count(session, r1, 28, 31, 34, at=now, dilution=10, eggs=56)
    one = vessel(session, gannet_stair, r1, now)
    assert one.per_ml == pytest.approx(310)
    assert one.standing.best == pytest.approx(6.2e6)
    assert one.standing.low < 0.85 * one.standing.best
    assert one.vessel.last.egg_ratio == pytest.approx(56 / 93)


def test_a_look_counts_against_what_the_vessel_usually_holds(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    count(session, r1, 200, at=now - timedelta(days=1))
    count(session, r1, at=now, look=Look.RIGHT)
    one = vessel(session, gannet_stair, r1, now)
    assert one.per_ml == pytest.approx(200)
    assert one.intervals == 0


def test_a_restart_begins_the_count_of_days_and_keeps_the_entries(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    count(session, r1, 300, at=now - timedelta(days=1))
    other = make_culture(session, "R2", at=now - timedelta(days=3))
    live_food.start_culture(
        session, posting=Posting(now=now), tank_id=r1, food=Cultured.ROTIFERS,
        from_tank_id=other, seed="2 L", when=When.exactly(now),
    )  # fmt: skip
    page = live_food_page.vessel_page(
        session, facts_at(session, gannet_stair, now), tank_id=r1, now=now
    )
    assert page.from_label == "R2"
    assert page.found.now.vessel.counts == ()
    assert page.found.now.why_none == "not counted since it was started"
    assert [entry.what for entry in page.entries][-2:] == [
        "300 in 1 mL each", "rotifers started, L",
    ]  # fmt: skip


def test_a_vessel_said_to_stand_empty_holds_nothing(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    tank.set_state(
        session, posting=Posting(now=now), tank_id=r1, state=TankState.DIRTY,
        when=When.exactly(now),
    )  # fmt: skip
    assert vessel(session, gannet_stair, r1, now).vessel.food is None


def test_a_lost_culture_gives_nothing_until_it_is_started_again(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    count(session, r1, 300, at=now)
    live_food.record_crash(
        session, posting=Posting(now=now), tank_id=r1, reason="ciliates", when=When.exactly(now)
    )
    one = vessel(session, gannet_stair, r1, now)
    assert one.gives_today.best == 0
    assert one.why_none == "lost, ciliates"


def test_what_cannot_be_is_refused_and_what_is_odd_is_asked(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    larval = make_tank(session, "L1")
    with pytest.raises(RuleBroken, match="not for live food"):
        live_food.start_culture(
            session, posting=Posting(now=now), tank_id=larval, food=Cultured.ROTIFERS,
            when=When.exactly(now),
        )  # fmt: skip
    bare = make_tank(session, "R9", role=TankRole.CULTURE)
    with pytest.raises(RuleBroken, match="Say first what R9 holds"):
        count(session, bare, 30, at=now)
    with pytest.raises(RuleBroken) as refused:
        live_food.harvest_culture(
            session, posting=Posting(now=now), tank_id=r1, litres=21, when=When.exactly(now)
        )
    assert refused.value.field == "litres"
    with pytest.raises(RuleBroken):
        count(session, r1, at=now)
    with pytest.raises(Asked):
        count(session, r1, 20, at=now, eggs=100)
    with pytest.raises(NotKnown):
        live_food_page.vessel_label(session, larval)


def a_larval_tank(session: Session, label: str, now: datetime) -> int:
    """Larvae three days old in a tank of 40 litres."""
    tank_id = make_tank(session, label)
    make_batch(session, tank_id, hatched_at=now - timedelta(days=2, hours=12))
    return tank_id


def test_todays_food_says_what_is_there_and_from_which_vessels(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    a_larval_tank(session, "L1", now)
    count(session, r1, 300, at=now)
    page = today.today_page(session, facts_at(session, gannet_stair, now))
    (need,) = [need for need in page.food.needs if need.food == "rotifers"]
    assert need.supply.is_enough
    assert need.supply.said().endswith("million, from R1")


def test_the_morning_asks_each_vessel_and_what_was_written_answers_it(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    a_larval_tank(session, "L1", now)
    count(session, r1, 300, at=now - timedelta(hours=20))

    def lines() -> dict[str, State]:
        page = today.today_page(session, facts_at(session, gannet_stair, now))
        return {
            line.task.kind: line.state
            for sheet in page.sheets for stop in sheet.stops for line in stop.lines
            if stop.place_id == r1
        }  # fmt: skip

    assert lines() == {
        "count_culture": State.DUE, "sieve_culture": State.DUE, "feed_culture": State.DUE,
    }  # fmt: skip
    count(session, r1, 310, at=now)
    live_food.feed_culture(
        session, posting=Posting(now=now), tank_id=r1, what="paste", amount=10,
        when=When.exactly(now),
    )  # fmt: skip
    answered = lines()
    assert answered["count_culture"] is State.DONE
    assert answered["feed_culture"] is State.DONE
    assert answered["sieve_culture"] is State.DUE


def test_what_was_sieved_is_in_hand_until_it_is_poured_in(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    larval = a_larval_tank(session, "L1", now)
    count(session, r1, 300, at=now)

    def supply(at: datetime):
        page = today.today_page(session, facts_at(session, gannet_stair, at))
        (need,) = [need for need in page.food.needs if need.food == "rotifers"]
        return need.supply

    (sieve,) = supply(now).sieves
    live_food.harvest_culture(
        session, posting=Posting(now=now), tank_id=r1, litres=sieve.litres,
        when=When.exactly(now),
    )  # fmt: skip
    after = supply(now)
    assert after.is_enough
    assert after.sieves == ()
    assert after.in_hand == pytest.approx(sieve.animals)
    counts.record_prey(
        session, posting=Posting(now=now), tank_id=larval, food="rotifers",
        when=When.exactly(now + timedelta(minutes=5)), look=Look.THIN, topped_up_to_per_ml=8,
    )  # fmt: skip
    assert supply(now + timedelta(minutes=10)).in_hand == 0


@pytest.mark.parametrize("then", ["restarted", "emptied"])
def test_what_was_sieved_is_in_hand_though_the_vessel_was_cleaned_out_after_it(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime, then: str
) -> None:
    larval = a_larval_tank(session, "L1", now)
    count(session, r1, 300, at=now)
    live_food.harvest_culture(
        session, posting=Posting(now=now), tank_id=r1, litres=2, when=When.exactly(now)
    )
    later = now + timedelta(minutes=20)
    if then == "emptied":
        tank.set_state(
            session, posting=Posting(now=later), tank_id=r1, state=TankState.DIRTY,
            when=When.exactly(later),
        )  # fmt: skip
    else:
        live_food.start_culture(
            session, posting=Posting(now=later), tank_id=r1, food=Cultured.ROTIFERS,
            from_tank_id=r1, seed="1.5 L", when=When.exactly(later),
        )  # fmt: skip

    def in_hand(at: datetime) -> float:
        page = today.today_page(session, facts_at(session, gannet_stair, at))
        (need,) = [need for need in page.food.needs if need.food == "rotifers"]
        return need.supply.in_hand if need.supply is not None else 0.0

    assert in_hand(later) == pytest.approx(2 * 300_000 * 0.9)
    counts.record_prey(
        session, posting=Posting(now=later), tank_id=larval, food="rotifers",
        when=When.exactly(later + timedelta(minutes=5)), look=Look.THIN, topped_up_to_per_ml=8,
    )  # fmt: skip
    assert in_hand(later + timedelta(minutes=10)) == 0


def test_a_salinity_gap_over_five_is_warned(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    r2 = make_culture(session, "R2", at=now - timedelta(days=2), salinity=15)
    count(session, r2, 300, at=now)
    larval = a_larval_tank(session, "L1", now)
    readings.record_water_test(
        session, posting=Posting(now=now), tank_id=larval, when=When.exactly(now),
        salinity=readings.SalinityTest("30", readings.Instrument.REFRACTOMETER),
    )  # fmt: skip
    page = today.today_page(session, facts_at(session, gannet_stair, now))
    (gap,) = page.food.needs[0].gaps
    assert gap.startswith("R2: 15 in the vessel, 30 in the tank")


def test_the_statements_do_not_grow_with_the_vessels(
    session: Session, gannet_stair: RoomNow, r1: int, now: datetime
) -> None:
    count(session, r1, 300, at=now)

    def asked() -> int:
        session.expire_all()
        session.rollback()
        every_batch.forget()  # the first asking and a later one differ by one
        with statements() as sent:
            facts_at(session, gannet_stair, now)
        return len(sent)

    one = asked()
    for n in range(2, 6):
        count(session, make_culture(session, f"R{n}", at=now), 250, at=now)
    assert asked() == one
