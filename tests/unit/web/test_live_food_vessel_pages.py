"""A vessel's page: algae and copepods counted, what was seen, its record drawn."""

import re
from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.live_food.vessel import Cultured
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.live_food import live_food
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from tests.builders import count_culture, make_batch, make_culture, make_tank
from tests.unit.web.test_no_page_breaks import Typed

AT_NINE = "2026-11-24 09:00:00"


@pytest.fixture
def started(session: Session, gannet_stair: RoomNow, now):
    def start(label: str, food: Cultured, strain: str = "") -> int:
        tank_id = make_tank(session, label, litres=10, role=TankRole.CULTURE)
        at = now - timedelta(days=5)
        return live_food.start_culture(
            session, posting=Posting(now=at), tank_id=tank_id, food=food, strain=strain,
            when=When.exactly(at),
        ) and tank_id  # fmt: skip

    return start


def told(page: str) -> str:
    return " ".join(page.split())


@freeze_time(AT_NINE)
def test_algae_are_counted_by_squares_and_dose_the_larval_tanks(
    client: FlaskClient, session: Session, started, now
) -> None:
    make_batch(session, make_tank(session, "L1"), hatched_at=now - timedelta(days=2, hours=12))
    vessel = started("N1", Cultured.ALGAE, "Nannochloropsis")
    form = client.get(f"/live-food/{vessel}/count").text
    assert "small squares" in form
    assert "Eggs on these" not in form
    count = {"counts": "42 37 45 40 36", "squares": "SMALL_SQUARE", "dilution": "2",
             "when_how": "now"}  # fmt: skip
    assert client.post(f"/live-food/{vessel}/count", data=count).status_code == 303
    for litres, status in (("900 mL", 422), ("0.9 L", 303)):  # its own unit, and no other
        sieved = {"litres": litres, "when_how": "now"}
        assert client.post(f"/live-food/{vessel}/harvest", data=sieved).status_code == status
    again = client.get(f"/live-food/{vessel}/count").text  # is begun as the last was made
    assert re.search(r'name="dilution"[^>]*value="2"', again)
    page = told(client.get(f"/live-food/{vessel}").text)
    assert "20 million per mL" in page
    assert "42 37 45 40 36 in a small square each, diluted 1:2" in page
    assert "0.12 g per L, at 6 pg a cell (from memory)" in page
    # 200,000 wanted and nobody looked: 40 L × 0.2 ÷ (20 − 0.2) is 404 mL.
    assert "L1: 400 mL, 40 L from 0, not looked at to 200,000 per mL" in page


@freeze_time(AT_NINE)
def test_green_water_is_refused_where_the_stock_is_thinner_than_the_target(
    client: FlaskClient, session: Session, started, now
) -> None:
    make_batch(session, make_tank(session, "L1"), hatched_at=now - timedelta(days=2, hours=12))
    vessel = started("N1", Cultured.ALGAE, "Nannochloropsis")
    count = {"counts": "10 12", "squares": "LARGE_SQUARE", "when_how": "now"}
    assert client.post(f"/live-food/{vessel}/count", data=count).status_code == 303
    assert "no amount of it reaches that" in client.get(f"/live-food/{vessel}").text


@freeze_time(AT_NINE)
def test_copepods_are_counted_by_stage(client: FlaskClient, started) -> None:
    vessel = started("C1", Cultured.COPEPODS, "Parvocalanus")
    assert "Copepodites" in client.get(f"/live-food/{vessel}/count").text
    typed = {"nauplii": "60", "copepodites": "12", "adults": "8", "sample_ml": "10",
             "when_how": "now"}  # fmt: skip
    count = f"/live-food/{vessel}/count"
    assert client.post(count, data=typed | {"adults": "x"}).status_code == 422
    assert client.post(count, data=typed).status_code == 303
    page = told(client.get(f"/live-food/{vessel}").text)
    assert "8.0 per mL" in page
    assert "75 % nauplii" in page
    assert "60 nauplii, 12 copepodites, 8 adults in 10 mL" in page


@freeze_time(AT_NINE)
def test_a_look_at_the_water_is_several_ticks_and_warns(
    client: FlaskClient, session: Session, gannet_stair: RoomNow, now
) -> None:
    vessel = make_culture(session, "R1", at=now - timedelta(days=5))
    look = f"/live-food/{vessel}/look"
    assert client.post(look, data={"when_how": "now"}).status_code == 422
    assert client.post(look, data={"well": "y", "foam": "y", "when_how": "now"}).status_code == 422
    ticked = {"uneaten": "y", "ciliates": "y", "when_how": "now"}
    assert client.post(look, data=ticked).status_code == 303
    page = told(client.get(f"/live-food/{vessel}").text)
    assert "Still green when fed again: it does not eat" in page
    assert "seen: ciliates" in page


@freeze_time(AT_NINE)
def test_a_count_is_corrected_and_what_cannot_be_is_refused(
    client: FlaskClient, session: Session, gannet_stair: RoomNow, now
) -> None:
    vessel = make_culture(session, "R1", at=now - timedelta(days=5))
    fact = count_culture(session, vessel, 28, 31, 34, at=now, eggs=60, dilution=10)
    page = client.get(f"/records/{fact}/correct")
    assert page.status_code == 200
    assert 'value="28 31 34"' in page.text
    typed = Typed(page.text).fields | {"counts": "38, 41, 44", "look": ""}
    refused = client.post(f"/records/{fact}/correct", data=typed | {"counts": "38, 4x"})
    assert refused.status_code == 422
    assert "28, 31, 34" in refused.text
    assert client.post(f"/records/{fact}/correct", data=typed).status_code == 303
    assert "410 per mL" in client.get(f"/live-food/{vessel}").text


@freeze_time(AT_NINE)
def test_the_record_is_drawn_with_harvests_and_eggs_and_told_in_a_table(
    client: FlaskClient, session: Session, gannet_stair: RoomNow, now
) -> None:
    vessel = make_culture(session, "R1", at=now - timedelta(days=9))
    for days, eggs in ((4, 120), (3, 90), (2, 60), (1, 30)):
        count_culture(session, vessel, 60, 62, at=now - timedelta(days=days), eggs=eggs, dilution=5)
        live_food.harvest_culture(
            session, posting=Posting(now=now), tank_id=vessel, litres=5, into="L1",
            when=When.exactly(now - timedelta(days=days, hours=-1)),
        )  # fmt: skip
    page = client.get(f"/live-food/{vessel}").text
    assert page.count('class="d-bar"') == 3 * 4  # four harvests at three widths
    assert "eggs each" in page
    assert "5.0 L" in page
    assert "0.98" in page
    assert "Growth between counts" in page
    assert "Eggs fell two counts running" in page
