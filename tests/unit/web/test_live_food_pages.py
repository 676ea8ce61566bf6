"""The pages of the culture vessels."""

from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.services.records.room import RoomNow
from tests.builders import count_culture, make_batch, make_culture, make_tank

AT_NINE = "2026-11-24 09:00:00"


@pytest.fixture
def r1(session: Session, gannet_stair: RoomNow, now) -> int:
    tank_id = make_culture(session, "R1", at=now - timedelta(days=20))
    count_culture(session, tank_id, 60, 65, 62, at=now - timedelta(days=1), dilution=3, eggs=120)
    count_culture(session, tank_id, 99, 104, 101, at=now, dilution=3, eggs=45)
    return tank_id


@freeze_time(AT_NINE)
def test_the_list_says_what_stands_there_and_that_there_is_no_spare(
    client: FlaskClient, r1: int
) -> None:
    page = client.get("/live-food/").text
    assert "rotifers L" in page
    assert "per mL" in page
    assert "gives" in page
    assert "No spare: R1" in page
    assert 'href="/live-food"' in page


@freeze_time(AT_NINE)
def test_a_vessels_page_shows_counts_eggs_growth_and_warnings(
    client: FlaskClient, r1: int
) -> None:
    page = client.get(f"/live-food/{r1}").text
    assert "<svg" in page
    assert "from 1 interval of its own" in page
    assert "breaks even at 0.13" in page
    assert "18–24 hours" in page
    assert "20 days since it was cleaned out" in page
    assert "41 days" in page


@freeze_time(AT_NINE)
def test_a_vessel_nobody_spoke_of_is_started_from_its_page(
    client: FlaskClient, session: Session, r1: int
) -> None:
    bare = make_tank(session, "R2", role=TankRole.CULTURE)
    assert "Start a culture" in client.get(f"/live-food/{bare}").text
    assert "R1" in client.get(f"/live-food/{bare}/start").text
    sent = client.post(
        f"/live-food/{bare}/start",
        data={"food": "rotifers", "strain": "L", "kept_as": "for harvest", "salinity": "20",
              "from_tank": str(r1), "seed": "2 L", "when_how": "now"},
    )  # fmt: skip
    assert sent.status_code == 303
    page = client.get(f"/live-food/{bare}").text
    assert "from R1, 2 L" in page
    assert "not counted since it was started" in page


@freeze_time(AT_NINE)
def test_a_count_is_typed_as_samples_and_a_slip_keeps_what_was_typed(
    client: FlaskClient, r1: int
) -> None:
    address = f"/live-food/{r1}/count"
    refused = client.post(address, data={"counts": "28, 3i, 34", "eggs": "60"})
    assert refused.status_code == 422
    assert "28, 3i, 34" in refused.text
    asked = client.post(address, data={"counts": "28 31 34", "eggs": "600", "when_how": "now"})
    assert asked.status_code == 422
    assert "very many" in asked.text
    data = {"counts": "28, 31, 34", "eggs": "60", "sample_ml": "1", "dilution": "10"}
    assert client.post(address, data=data | {"when_how": "now"}).status_code == 303
    assert "310 (" in client.get(f"/live-food/{r1}").text


@freeze_time(AT_NINE)
def test_what_the_larvae_need_is_sieved_and_written_in_one_tap(
    client: FlaskClient, session: Session, r1: int, now
) -> None:
    larval = make_tank(session, "L1")
    make_batch(session, larval, hatched_at=now - timedelta(days=2, hours=12))
    today = client.get("/").text
    assert "million, from R1" in today
    assert "Sieve, rinse, make up again" in today
    page = client.get(f"/live-food/{r1}").text
    assert "Sieved" in page
    data = {"litres": "1.5", "when_how": "now"}
    assert client.post(f"/live-food/{r1}/harvest", data=data).status_code == 303
    assert "sieved 1.5 L" in client.get(f"/live-food/{r1}").text
    assert "from what is sieved" in client.get("/").text


@freeze_time(AT_NINE)
@pytest.mark.parametrize("part", ["feed", "harvest", "lost", "start", "count"])
def test_every_form_opens(client: FlaskClient, r1: int, part: str) -> None:
    assert client.get(f"/live-food/{r1}/{part}").status_code == 200


@freeze_time(AT_NINE)
def test_a_larval_tank_is_no_vessel(client: FlaskClient, session: Session, r1: int) -> None:
    larval = make_tank(session, "L1")
    assert client.get(f"/live-food/{larval}").status_code == 404
    assert client.get(f"/live-food/{larval}/count").status_code == 404
