"""Field cases of tanks and water: units as typed, a slipped decimal, readings that stay behind."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from hatchery_app.domain import units
from hatchery_app.domain.clutch.clutch import EggMove
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.typed_amounts import parse_between, parse_length, parse_temperature
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch
from hatchery_app.services.clutch.clutch_facts import load_clutches
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import room
from hatchery_app.services.spawn import spawn
from hatchery_app.services.tank import readings, tank
from tests.builders import make_pair, make_tank, read_temperature

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def stored_c(session, tank_id):
    facts = tank.tank_facts(session, [tank_id], NOW, since=NOW - timedelta(days=9))[tank_id]
    return [round(one.temperature_c, 2) for one in facts.readings]


def read(session, posted, tank_id, typed, **answers):
    return readings.record_temperature(
        session, posting=posted(answers=answers), tank_id=tank_id, temperature=typed,
        when=When.exactly(NOW),
    )  # fmt: skip


def test_c62_fahrenheit_gallons_and_inches_keep_what_was_typed(session, gannet_stair, posted):
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    read(session, posted, tank_id, "78 F")
    act = readings.acts_of(session, tank_id)[0]
    assert (round(act.value, 2), act.typed) == (25.56, "78 F")
    assert parse_temperature("78 F").said() == "about 25.6 °C (78 °F)"
    low, high = parse_between("80–82 F", parse_temperature)
    assert (low.rounded, high.rounded) == (Decimal("26.7"), Decimal("27.8"))
    other = make_tank(session, "B2", role=TankRole.BROODSTOCK)
    read(session, posted, other, "80–82 F")
    act = readings.acts_of(session, other)[0]
    assert (round(act.value, 1), act.typed) == (27.2, "80–82 F")
    with pytest.raises(RuleBroken, match="Write the unit"):
        read(session, posted, other, "80-82")
    assert parse_length("1.25 in").rounded == Decimal("31.8")
    small, large = parse_between("0.33–0.75 in", parse_length)
    assert (small.rounded, large.rounded) == (Decimal("8.4"), Decimal("19.0"))
    warming = units.convert_difference(Decimal(2), units.FAHRENHEIT, units.CELSIUS)
    assert round(warming, 1) == Decimal("1.1")


@pytest.mark.parametrize(("answer", "litres"), [("us", 37.9), ("imperial", 45.5)])
def test_c62_which_gallon_is_asked_once_for_the_room(
    session, gannet_stair, posted, answer, litres
):
    with pytest.raises(Asked) as asked:
        tank.add_tanks(
            session, posting=posted(), labels="B1, 10 gal", when=When.exactly(NOW)
        )
    assert [value for value, _ in asked.value.answers] == ["us", "imperial"]
    for labels, given in (("B1, 10 gal", {"gallon": answer}), ("B2, 10 gal", {})):
        tank.add_tanks(
            session, posting=posted(answers=given), labels=labels, when=When.exactly(NOW)
        )
    assert [round(one.litres, 1) for one in tank.tank_choices(session)] == [litres, litres]
    assert room.room_now(session).gallon == answer


def test_c63_265_is_never_stored_and_asks_for_26_5(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    with pytest.raises(Asked) as asked:
        read(session, posted, tank_id, "265")
    assert ("26.5 C", "26.5 °C") in asked.value.answers
    assert "as typed" not in dict(asked.value.answers)
    assert stored_c(session, tank_id) == []
    read(session, posted, tank_id, "265", temperature="26.5 C")
    assert stored_c(session, tank_id) == [26.5]
    assert readings.acts_of(session, tank_id)[0].typed == "265"


def test_c63_a_decimal_comma_is_a_decimal(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    read(session, posted, tank_id, "26,5")
    assert stored_c(session, tank_id) == [26.5]


def test_c63_2_65_and_79_7_are_asked_about(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    with pytest.raises(Asked) as slipped:
        read(session, posted, tank_id, "2.65")
    assert "26.5 °C" in dict(slipped.value.answers).values()
    with pytest.raises(Asked) as scale:
        read(session, posted, tank_id, "79.7")
    assert dict(scale.value.answers)["79.7 F"] == "79.7 °F (26.5 °C)"
    assert stored_c(session, tank_id) == []


def test_c63_the_real_accident_of_53_fahrenheit_can_be_entered(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    read(session, posted, tank_id, "53 F")
    assert stored_c(session, tank_id) == [11.67]


def test_c63_a_boiling_tank_cannot(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    with pytest.raises(RuleBroken, match="cannot be the water"):
        read(session, posted, tank_id, "1000")


def test_c65_fish_move_and_the_temperature_stays_with_the_tank(session, gannet_stair, posted):
    cool = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    warm = make_tank(session, "B2", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=cool)
    laid = NOW - timedelta(days=4)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=laid), pair_id=pair_id, when=When.exactly(laid)
    )
    moved = NOW - timedelta(days=2)
    for day in range(1, 5):
        read_temperature(session, cool, "25", at=NOW - timedelta(days=day))
        read_temperature(session, warm, "28", at=NOW - timedelta(days=day))
    clutch.move_eggs(
        session, posting=Posting(now=moved), clutch_id=clutch_id, why=EggMove.MOVED,
        tank_id=warm, when=When.exactly(moved),
    )  # fmt: skip
    facts = load_clutches(session, gannet_stair, clutch_ids=[clutch_id])[0]
    first, second = facts.stays
    assert {one.temperature_c for one in first.readings} == {25.0}
    assert {one.temperature_c for one in second.readings} == {28.0}
    assert (first.until_at, second.from_at) == (moved, moved)
    assert stored_c(session, cool) == [25.0] * 4
    assert stored_c(session, warm) == [28.0] * 4
