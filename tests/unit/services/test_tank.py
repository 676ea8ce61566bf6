"""Tanks: what they are called, hold and are for, and how they stand."""

from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank import tanks_offered
from hatchery_app.services.records import correction, room
from hatchery_app.services.tank import tank, tank_walk
from tests.builders import make_batch, make_hatch, make_tank, read_temperature, set_set_point

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def test_a_row_of_labels_enters_the_whole_rack_in_walking_order(session, gannet_stair, posted):
    first = tank.add_tanks(
        session, posting=posted(), labels="L1–L12, 40 L", rack="A", when=When.exactly(NOW)
    )
    standing = tank.tank_choices(session)
    assert [t.label for t in standing] == [f"L{n}" for n in range(1, 13)]
    assert {t.litres for t in standing} == {40.0}
    assert standing[0].tank_id == first


def test_a_label_that_stands_already_is_refused_and_nothing_is_entered(
    session, gannet_stair, posted
):
    make_tank(session, "L3")
    with pytest.raises(RuleBroken, match="L3 stands in the room already"):
        tank.add_tanks(
            session, posting=posted(), labels="L1–L5", volume="40 L", when=When.exactly(NOW)
        )
    assert [t.label for t in tank.tank_choices(session)] == ["L3"]


def test_the_gallon_is_asked_once_and_the_room_remembers_it(session, gannet_stair, posted):
    facts = {"labels": "P1", "volume": "10 gal", "when": When.exactly(NOW)}
    with pytest.raises(Asked) as asked:
        tank.add_tanks(session, posting=posted(), **facts)
    assert asked.value.question == "gallon"
    tank.add_tanks(session, posting=posted(answers={"gallon": "us"}), **facts)
    assert room.room_now(session).gallon == "us"
    tank.add_tanks(session, posting=posted(), **(facts | {"labels": "P2"}))
    assert [t.litres for t in tank.tank_choices(session)] == [37.85411784, 37.85411784]


def test_a_tank_keeps_its_identity_when_it_gets_another_label(session, gannet_stair, posted):
    tank_id = make_tank(session, "L3")
    same = tank.change_tank(
        session, posting=posted(), tank_id=tank_id, label="Nook", volume="55 L",
        role=TankRole.GROW_OUT, when=When.exactly(NOW),
    )  # fmt: skip
    assert same == tank_id
    now = tank.one_tank(session, tank_id, NOW)
    assert (now.label, now.litres, now.role) == ("Nook", 55.0, TankRole.GROW_OUT)


def test_a_bar_needs_its_reason(session, gannet_stair, posted):
    tank_id = make_tank(session, "G1")
    with pytest.raises(RuleBroken, match="why the tank is barred"):
        tank.set_state(
            session, posting=posted(), tank_id=tank_id, state=TankState.BARRED,
            when=When.exactly(NOW),
        )  # fmt: skip


def test_facts_for_forecasts_hold_set_points_by_date_and_readings_since(session, gannet_stair):
    tank_id = make_tank(session, "L1")
    set_set_point(session, tank_id, "26", at=NOW - timedelta(days=9))
    set_set_point(session, tank_id, "28", at=NOW - timedelta(days=2))
    for days, typed in ((8, "26.1"), (3, "26.2"), (1, "27.9")):
        read_temperature(session, tank_id, typed, at=NOW - timedelta(days=days))
    facts = tank.tank_facts(session, [tank_id], NOW, since=NOW - timedelta(days=4))[tank_id]
    assert [r.temperature_c for r in facts.readings] == [26.2, 27.9]
    assert facts.set_point_c == 28.0
    assert facts.set_point_at(NOW - timedelta(days=5)) == 26.0
    assert facts.lights == gannet_stair.lights(NOW)


def test_the_walk_is_the_keepers_own_order(session, gannet_stair, posted):
    for label in ("L1", "L2", "B1", "Q1"):
        make_tank(session, label)
    tank.set_walk(session, posting=posted(), order="B1, L2")
    assert [t.label for t in tank.tank_choices(session)] == ["B1", "L2", "L1", "Q1"]


def test_rows_with_their_own_litres_are_entered_and_a_wrong_one_can_be_taken_out(
    session, gannet_stair, posted
):
    first = tank.add_tanks(
        session, posting=posted(), labels="L1-L2 40L, G1 200 l", state=TankState.READY,
        set_point="27", when=When.exactly(NOW),
    )  # fmt: skip
    listed = [(t.label, t.litres) for t in tank.tank_choices(session)]
    assert listed == [("L1", 40.0), ("L2", 40.0), ("G1", 200.0)]
    together = posted(answers={"together": "withdraw"})
    correction.withdraw_entry(session, posting=together, fact_id=first)
    assert [t.label for t in tank.tank_choices(session)] == ["L2", "G1"]


def test_a_label_that_differs_in_capitals_only_is_asked_about(session, gannet_stair, posted):
    make_tank(session, "L3")
    facts = {"labels": "l3 40 L", "when": When.exactly(NOW)}
    with pytest.raises(Asked, match="differ in capitals only"):
        tank.add_tanks(session, posting=posted(), **facts)
    tank.add_tanks(session, posting=posted(answers={"capitals": "another"}), **facts)
    assert [t.label for t in tank.tank_choices(session)] == ["L3", "l3"]


def test_no_larvae_are_put_where_none_can_live_and_siblings_come_first(
    session, gannet_stair, posted
):
    apart, stands = make_tank(session, "L1"), make_tank(session, "L2")
    make_tank(session, "R1", role=TankRole.CULTURE)
    ready = make_tank(session, "L3", state=TankState.READY)
    with_siblings = make_tank(session, "L4")
    hatch = make_hatch(session, hatched_at=NOW - timedelta(days=1))
    make_batch(session, with_siblings, hatch_id=hatch, hatched_at=NOW - timedelta(days=1))
    tank.set_state(
        session, posting=posted(), tank_id=apart, state=TankState.APART, when=When.exactly(NOW)
    )
    offered = tanks_offered.tanks_for_fish(
        session, first=TankRole.LARVAL, hatch_id=hatch, now=NOW
    )
    larval = [one for one in offered if one.standing.role is TankRole.LARVAL]
    assert [one.standing.tank_id for one in larval] == [with_siblings, ready, stands]
    assert [one.has_siblings for one in larval] == [True, False, False]
    assert [one.said.split(" · ")[2] for one in larval] == [
        "with its siblings, larvae 2 dph", "filled and matched", "nothing in it yet"
    ]  # fmt: skip
    assert TankRole.CULTURE not in {one.standing.role for one in offered}
    assert apart not in {one.tank_id for one in tank_walk.walk(session, NOW).larval}
