"""Readings: one by one, as a water test, and as a logger's column that is stored whole or not."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import func, select

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.seawater import Instrument
from hatchery_app.domain.tank.water_reading import Quantity
from hatchery_app.domain.when import When
from hatchery_app.models.tank import Reading
from hatchery_app.services.records import correction
from hatchery_app.services.species import library
from hatchery_app.services.tank import readings, tank, tank_page
from hatchery_app.services.tank.readings import SalinityTest, Test
from tests.builders import make_pair, make_tank, read_temperature

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
JUST_NOW = When.exactly(NOW)


def paste(session, posted, tank_id, text, **answers):
    return readings.paste_temperatures(
        session, posting=posted(answers=answers), tank_id=tank_id, text=text
    )


def stored(session):
    return session.scalar(select(func.count()).select_from(Reading))


def test_a_pasted_column_is_one_act_and_says_how_it_was_read(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    act = paste(session, posted, tank_id, "2026-11-20 10:00;26,5\n2026-11-20 10:10;26,6")
    said = readings.act_in_words(session, act_id=act)
    assert said == "2 readings pasted, read as room time, °C"
    assert readings.acts_of(session, tank_id)[0].how_many == 2


def test_what_stands_there_already_is_left_out_and_said(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    paste(session, posted, tank_id, "2026-11-20 10:00,26.5\n2026-11-20 10:10,26.6")
    act = paste(session, posted, tank_id, "2026-11-20 10:10,26.6\n2026-11-20 10:20,26.7")
    assert "1 stood there already" in readings.act_in_words(session, act_id=act)
    assert stored(session) == 3
    with pytest.raises(RuleBroken, match="All 2 readings stand in this tank's records already"):
        paste(session, posted, tank_id, "2026-11-20 10:10,26.6\n2026-11-20 10:20,26.7")


def test_nothing_is_stored_while_one_line_is_bad(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    text = "2026-11-20 10:00,26.5\n2026-11-20 10:10,265"
    with pytest.raises(Asked, match="Line 2 cannot be stored"):
        paste(session, posted, tank_id, text)
    assert stored(session) == 0
    paste(session, posted, tank_id, text, bad_rows="leave out")
    assert stored(session) == 1


def test_five_thousand_readings_come_in_one_paste(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    first = datetime(2026, 11, 1, tzinfo=UTC)
    lines = (f"{first + timedelta(minutes=6 * n):%Y-%m-%dT%H:%MZ},26.4" for n in range(5000))
    paste(session, posted, tank_id, "time,temperature\n" + "\n".join(lines))
    assert stored(session) == 5000


def test_a_withdrawn_paste_takes_its_readings_along(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    act = paste(session, posted, tank_id, "2026-11-24 08:00,26.5")
    correction.withdraw_entry(session, posting=posted(), fact_id=act)
    facts = tank.tank_facts(session, [tank_id], NOW, since=NOW - timedelta(days=2))[tank_id]
    assert facts.readings == ()


def test_a_hydrometer_is_worth_nothing_without_the_temperature_it_is_made_for(
    session, gannet_stair, posted
):
    tank_id = make_tank(session, "L1")
    glass = SalinityTest("1.025", Instrument.GLASS_HYDROMETER, sample="25")
    with pytest.raises(RuleBroken, match="Which temperature is the hydrometer marked for"):
        readings.record_water_test(
            session, posting=posted(), tank_id=tank_id, salinity=glass, when=JUST_NOW
        )
    marked = SalinityTest("1.025", Instrument.GLASS_HYDROMETER, sample="25", marked_at="25")
    readings.record_water_test(
        session, posting=posted(), tank_id=tank_id, salinity=marked, when=JUST_NOW
    )
    salinity = readings.water_at(session, tank_id, NOW)[Quantity.SALINITY]
    assert salinity == pytest.approx(33.2, abs=0.1)


def test_a_test_is_kept_as_typed_and_in_the_unit_of_the_glossary(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    tests = (Test(Quantity.NITRATE, "20", "mg/L NO3"), Test(Quantity.ALKALINITY, "8", "dKH"))
    readings.record_water_test(
        session, posting=posted(), tank_id=tank_id, tests=tests, when=JUST_NOW
    )
    page = tank_page.tank_page(session, tank_id=tank_id, now=NOW)
    measured = {line.quantity: line.measured for line in page.water if line.measured}
    assert measured[Quantity.NITRATE].typed == "20 mg/L NO3"
    assert measured[Quantity.NITRATE].value == pytest.approx(4.518, abs=0.001)
    assert measured[Quantity.ALKALINITY].value == pytest.approx(2.853, abs=0.001)


def test_a_ph_of_82_is_asked_about(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    slipped = {"tank_id": tank_id, "tests": (Test(Quantity.PH, "77"),), "when": JUST_NOW}
    with pytest.raises(Asked) as asked:
        readings.record_water_test(session, posting=posted(), **slipped)
    assert asked.value.answers == (("a tenth", "7.7"),)
    readings.record_water_test(session, posting=posted(answers={"ph": "a tenth"}), **slipped)
    assert readings.water_at(session, tank_id, NOW)[Quantity.PH] == 7.7


def test_oxygen_in_percent_needs_the_salinity_and_temperature_of_the_water(
    session, gannet_stair, posted
):
    tank_id = make_tank(session, "L1")
    percent = {"tank_id": tank_id, "when": JUST_NOW}
    tests = (Test(Quantity.OXYGEN, "95", "% of saturation"),)
    with pytest.raises(RuleBroken, match="salinity and temperature"):
        readings.record_water_test(session, posting=posted(), tests=tests, **percent)
    read_temperature(session, tank_id, "26", at=NOW)
    readings.record_water_test(
        session, posting=posted(), tests=tests, **percent,
        salinity=SalinityTest("33", Instrument.REFRACTOMETER),
    )  # fmt: skip
    oxygen = readings.water_at(session, tank_id, NOW)[Quantity.OXYGEN]
    assert 6.2 < oxygen < 6.6


def test_un_ionised_ammonia_stands_beside_total_with_its_band(session, gannet_stair, posted):
    tank_id = make_tank(session, "B1")
    make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    total = (Test(Quantity.TOTAL_AMMONIA, "0.5", "mg/L N"),)
    readings.record_water_test(
        session, posting=posted(), tank_id=tank_id, tests=total, when=JUST_NOW
    )
    bare = tank_page.tank_page(session, tank_id=tank_id, now=NOW)
    assert bare.ammonia.found is None
    assert bare.ammonia.missing == "needs pH and temperature and salinity of the same day"
    read_temperature(session, tank_id, "26", at=NOW)
    readings.record_water_test(
        session, posting=posted(), tank_id=tank_id, tests=(Test(Quantity.PH, "8.2"),),
        salinity=SalinityTest("33", Instrument.REFRACTOMETER), when=JUST_NOW,
    )  # fmt: skip
    page = tank_page.tank_page(session, tank_id=tank_id, now=NOW, library=library.library())
    found = page.ammonia.found
    assert found.low_mg_l < found.nh3_mg_l < found.high_mg_l
    assert [(n.range.quantity, n.inside) for n in page.ammonia.needed] == [
        ("ammonia", False), ("ammonia_alarm", True),
    ]  # fmt: skip


def test_the_water_of_a_pair_stands_beside_what_its_species_needs(session, gannet_stair, posted):
    tank_id = make_tank(session, "B1")
    make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    read_temperature(session, tank_id, "29.5", at=NOW)
    page = tank_page.tank_page(session, tank_id=tank_id, now=NOW, library=library.library())
    warmth = page.water[0]
    assert (warmth.quantity, warmth.measured.value) == (Quantity.TEMPERATURE, 29.5)
    assert [(n.stage, n.range.quantity, n.inside) for n in warmth.needed] == [
        ("broodstock", "temperature", False),
        ("broodstock", "temperature_usual", False),
        ("broodstock", "temperature_target", None),
    ]
