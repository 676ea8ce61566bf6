"""The tanks' pages: the walk, one tap for a state, readings with their questions, a logger."""

import io
import re

import pytest
from freezegun import freeze_time

from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.services.tank import readings, tank
from tests.builders import make_pair, make_tank, read_temperature, set_state
from tests.conftest import NOW


@pytest.fixture(autouse=True)
def _nine_in_the_morning():
    with freeze_time("2026-11-24 09:00:00"):
        yield


def words(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.get_data(as_text=True)))


def test_the_walk_answers_first_which_tanks_are_ready(client, session):
    for label, state in (("L1", TankState.READY), ("L2", TankState.READY), ("L3", TankState.DIRTY)):
        make_tank(session, label, state=state)
    page = words(client.get("/tanks/"))
    assert "2 ready: L1, L2 · 1 could be, needs scrub, rinse, fill, match: L3" in page


def test_the_walk_says_what_lives_at_each_stop(client, session):
    home = make_tank(session, "B1", litres=90, role=TankRole.BROODSTOCK)
    make_pair(session, "Rusk", "Tansy", tank_id=home)
    barred = make_tank(session, "G1", role=TankRole.GROW_OUT)
    set_state(session, barred, TankState.BARRED, at=NOW, reason="white spots")
    page = words(client.get("/tanks/"))
    assert "90 L · Rusk and Tansy" in page
    assert "G1 is barred: white spots" in page


def test_a_rack_of_tanks_goes_in_with_one_line(client, session):
    answer = client.post("/tanks/new", data={"labels": "L1–L12, 40 L", "role": "larval"})
    assert answer.status_code == 303
    assert [one.label for one in tank.tank_choices(session)] == [f"L{n}" for n in range(1, 13)]


def test_which_gallon_is_asked_with_everything_typed_still_there(client, session):
    data = {"labels": "B1, B2", "volume": "20 gal", "role": "broodstock"}
    asked = client.post("/tanks/new", data=data)
    assert asked.status_code == 422
    page = asked.get_data(as_text=True)
    assert "Which gallon is meant" in page
    assert 'value="B1, B2"' in page
    assert tank.tank_choices(session) == ()
    answered = client.post("/tanks/new", data=data | {"answer-gallon": "us"})
    assert answered.status_code == 303
    assert round(tank.tank_choices(session)[0].litres, 1) == 75.7


def test_a_state_is_one_tap_from_the_tanks_page(client, session):
    tank_id = make_tank(session, "L1", state=TankState.CLEANING)
    page = client.get(f"/tanks/{tank_id}").get_data(as_text=True)
    assert 'name="state" value="filled and matched"' in page
    client.post(
        f"/tanks/{tank_id}/state", data={"state": "filled and matched", "when_how": "now"}
    )
    assert "filled and matched" in words(client.get(f"/tanks/{tank_id}"))


def test_a_bar_without_its_reason_comes_back_beside_the_field(client, session):
    tank_id = make_tank(session, "L1")
    refused = client.post(f"/tanks/{tank_id}/state", data={"state": "barred", "when_how": "now"})
    assert refused.status_code == 422
    assert "Say why the tank is barred" in words(refused)


def test_265_asks_for_26_5_and_the_answer_is_stored_as_typed(client, session):
    tank_id = make_tank(session, "L1")
    path, data = f"/tanks/{tank_id}/temperature", {"temperature": "265", "when_how": "now"}
    asked = client.post(path, data=data)
    assert asked.status_code == 422
    assert "26.5 °C" in words(asked)
    assert client.post(path, data=data | {"answer-temperature": "26.5 C"}).status_code == 303
    page = words(client.get(f"/tanks/{tank_id}"))
    assert "Temperature 26.5 °C typed 265" in page


def test_a_loggers_bad_lines_stand_in_a_table_and_nothing_is_stored(client, session):
    tank_id = make_tank(session, "L1")
    text = "2026-11-20 10:00;26,5\n2026-11-20 10:10;wet"
    refused = client.post(f"/tanks/{tank_id}/logger", data={"text": text})
    assert refused.status_code == 422
    page = words(refused)
    assert "Line 2 cannot be stored, so nothing is stored yet" in page
    assert "2026-11-20 10:10;wet" in page
    assert readings.acts_of(session, tank_id) == ()
    stored = client.post(
        f"/tanks/{tank_id}/logger", data={"text": text, "answer-bad_rows": "leave out"},
        follow_redirects=True,
    )  # fmt: skip
    assert "1 reading pasted, read as room time, °C; 1 line left out." in words(stored)


def test_a_loggers_file_is_read_like_a_paste(client, session):
    tank_id = make_tank(session, "L1")
    file = (io.BytesIO("\ufefftime;°C\n20.11.2026 10:00;26,5\n".encode()), "l1.csv")
    answer = client.post(f"/tanks/{tank_id}/logger", data={"text": "", "file": file})
    assert answer.status_code == 303
    assert readings.acts_of(session, tank_id)[0].value == 26.5


def test_a_water_test_keeps_what_was_typed_and_shows_the_range_it_falls_out_of(client, session):
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    read_temperature(session, tank_id, "26", at=NOW)
    sent = client.post(
        f"/tanks/{tank_id}/water-test",
        data={
            "when_how": "now", "salinity_psu": "33", "instrument": "refractometer", "ph": "7.7",
            "total_ammonia_mg_l": "0.25", "total_ammonia_unit": "mg/L NH4",
        },
    )  # fmt: skip
    assert sent.status_code == 303
    page = words(client.get(f"/tanks/{tank_id}"))
    assert "beside what ocellaris clownfish need, broodstock" in page
    assert "8–8.4, outside" in page
    assert "typed 0.25 mg/L NH4" in page
    assert "Un-ionised ammonia" in page
    assert "for pH ±0.1" in page


def test_an_empty_water_test_is_refused(client, session):
    tank_id = make_tank(session, "L1")
    refused = client.post(f"/tanks/{tank_id}/water-test", data={"when_how": "now"})
    assert refused.status_code == 422
    assert "give at least one figure" in words(refused)


def test_a_racks_lamp_is_set_for_all_its_tanks(client, session):
    first = make_tank(session, "L1", rack="A")
    second = make_tank(session, "L2", rack="A")
    client.post(
        f"/tanks/{first}/lights",
        data={"lights_on": "10:00", "lights_off": "22:00", "whose": "rack", "when_how": "now"},
    )
    page = words(client.get(f"/tanks/{second}"))
    assert "Lamp 10:00 to 22:00" in page
    assert "rack A" in page


def test_what_the_heater_was_set_to_stays_readable(client, session):
    tank_id = make_tank(session, "L1")
    for typed in ("26", "80 F"):
        client.post(f"/tanks/{tank_id}/set-point", data={"set_point": typed, "when_how": "now"})
    page = words(client.get(f"/tanks/{tank_id}"))
    assert "Heater set to 26.0 °C" in page
    assert "Heater set to 26.7 °C" in page


def test_a_new_label_leaves_the_old_one_readable(client, session):
    tank_id = make_tank(session, "L3")
    client.post(
        f"/tanks/{tank_id}/change",
        data={"label": "Nook", "volume": "55 L", "role": "grow-out", "when_how": "now"},
    )
    page = words(client.get(f"/tanks/{tank_id}"))
    assert "Tank Nook" in page
    assert "L3, 40 L, larval until Tue 24 Nov 09:00" in page


def test_the_walk_is_put_in_the_keepers_order(client, session):
    for label in ("L1", "L2", "B1"):
        make_tank(session, label)
    client.post("/tanks/walk", data={"order": "B1, L1–L2"})
    assert [one.label for one in tank.tank_choices(session)] == ["B1", "L1", "L2"]


@pytest.mark.parametrize(
    "part", ["state", "temperature", "water-test", "logger", "set-point", "lights", "change"]
)
def test_every_form_of_a_tank_opens(client, session, part):
    tank_id = make_tank(session, "L1", rack="A")
    assert client.get(f"/tanks/{tank_id}/{part}").status_code == 200


def test_a_tank_that_never_was_is_not_known(client):
    assert client.get("/tanks/999").status_code == 404
