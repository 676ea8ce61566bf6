"""The pages of brine shrimp and of the shelf."""

from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.services.records.room import RoomNow
from tests.builders import count_culture, make_culture, make_hatched, make_lot, start_shrimp

AT_NINE = "2026-11-24 09:00:00"


@pytest.fixture
def lot(session: Session, gannet_stair: RoomNow, now) -> int:
    return make_lot(session, at=now - timedelta(days=40))


def told(page: str) -> str:
    return " ".join(page.split())


@freeze_time(AT_NINE)
def test_a_lot_is_entered_and_a_slip_keeps_what_was_typed(client: FlaskClient) -> None:
    typed = {"name": "tin of May", "amount": "400", "unit": "g", "how": "by its label",
             "grade": "first", "hatch_percent": "90", "nauplii_per_g": "230,000",
             "delivery_days": "7", "when_how": "now"}  # fmt: skip
    refused = client.post("/live-food/lots/new", data=typed | {"amount": "half"})
    assert refused.status_code == 422
    assert "is not an amount" in refused.text
    assert 'value="230,000"' in refused.text
    sent = client.post("/live-food/lots/new", data=typed)
    assert sent.status_code == 303
    page = told(client.get(sent.location).text)
    assert "230,000" in page
    assert "23 h" in page
    assert "by the book" in page
    assert "400 g" in told(client.get("/live-food/shelf").text)


@freeze_time(AT_NINE)
def test_a_hatch_is_started_as_the_last_one_was_in_one_tap(
    client: FlaskClient, session: Session, lot: int, now
) -> None:
    assert "Start a hatch" in client.get("/live-food/").text
    start_shrimp(session, lot, at=now - timedelta(days=3), grams=1.4)
    page = client.get("/live-food/").text
    assert "Start 1.4 g of tin of May now" in page
    assert 'value="1.4"' in client.get("/live-food/shrimp/start").text
    sent = client.post(
        "/live-food/shrimp/start",
        data={"lot_id": str(lot), "grams": "1.4", "litres": "1", "temperature": "28",
              "salinity": "28", "vessel": "cone 1", "when_how": "now"},
    )  # fmt: skip
    assert sent.status_code == 303
    shown = told(client.get(sent.location).text)
    assert "hatching" in shown
    assert "ready Wed 25 Nov" in shown
    assert "common practice" in shown


@freeze_time(AT_NINE)
def test_a_hatch_is_said_to_be_overdue_then_harvested_enriched_fed_and_over(
    client: FlaskClient, session: Session, lot: int, now
) -> None:
    start_id = start_shrimp(session, lot, at=now - timedelta(hours=50))
    page = told(client.get("/live-food/").text)
    assert '<b class="alarm">overdue</b>' in page
    here = f"/live-food/shrimp/{start_id}"
    harvest = {"counts": "118 122", "sample_ml": "0.25", "water_l": "0.8", "umbrellas": "8",
               "embryos": "24", "ripe": "hours late", "rinsed": "y", "when_how": "now"}  # fmt: skip
    assert client.post(f"{here}/harvest", data=harvest | {"counts": "1x"}).status_code == 422
    assert client.post(f"{here}/harvest", data=harvest).status_code == 303
    page = told(client.get(here).text)
    assert "0.38 million in hand, instar I until about Tue 24 Nov" in page
    assert "8 umbrellas and 24 embryos beside 240" in page
    assert "88 % (84–92) of 272 counted here" in told(client.get(f"/live-food/lots/{lot}").text)
    enrich = {"shelf_id": "0", "what": "oil", "hours": "24", "litres": "1", "when_how": "now"}
    assert client.post(f"{here}/enrich", data=enrich | {"hours": ""}).status_code == 422
    assert client.post(f"{here}/enrich", data=enrich).status_code == 303
    page = told(client.get(here).text)
    assert "in enrichment until Wed 25 Nov" in page
    assert "384 per mL in enrichment: 100–300 is usual" in page
    assert 'value="326400"' in client.get(f"{here}/fed").text
    fed = {"animals": "300 000", "into": "L3", "last_of_it": "y", "when_how": "now"}
    assert client.post(f"{here}/fed", data=fed).status_code == 303
    assert "used up" in client.get(here).text
    assert "No hatch stands now" in client.get("/live-food/").text


@freeze_time(AT_NINE)
def test_a_lot_shows_what_its_hatches_taught(
    client: FlaskClient, session: Session, lot: int, now
) -> None:
    for days in (4, 3, 2):
        make_hatched(session, lot, at=now - timedelta(days=days), hours=31, animals=150_000)
    page = told(client.get(f"/live-food/lots/{lot}").text)
    assert "3 harvests of its own" in page
    assert "drawn to 3 hatches of its own" in page


@freeze_time(AT_NINE)
def test_the_shelf_says_what_is_left_what_goes_and_when_to_order(
    client: FlaskClient, session: Session, lot: int, now
) -> None:
    for days in range(10, 0, -1):
        start_shrimp(session, lot, at=now - timedelta(days=days), grams=4)
    page = told(client.get("/live-food/shelf").text)
    assert "<b>360 g</b>" in page
    assert "2.9 g a day" in page
    assert "order by" in page
    (item,) = [part.split('"')[0] for part in page.split('href="/live-food/shelf/')[1:]
               if part[0].isdigit()]  # fmt: skip
    weighed = {"change": "weighed or looked", "amount": "10", "how": "weighed", "when_how": "now"}
    assert client.post(f"/live-food/shelf/{item}/change", data=weighed).status_code == 303
    assert "order now" in client.get(f"/live-food/shelf/{item}").text
    assert "order now" in told(client.get("/live-food/").text)


@freeze_time(AT_NINE)
def test_a_bottle_and_a_bag_are_put_on_the_shelf(client: FlaskClient) -> None:
    dry = {"kind": "dry food", "name": "larval grain", "amount": "?", "unit": "g",
           "how": "about", "particles": "150–250", "when_how": "now"}  # fmt: skip
    sent = client.post("/live-food/shelf/new", data=dry)
    assert sent.status_code == 303
    page = told(client.get(sent.location).text)
    assert "150–250 µm, for fish of 6–8 mm" in page
    assert "how much is left is not known: weigh it" in page
    for bad in ({"particles": "x"}, {"dry_percent": "180"}, {"name": " "}, {"amount": "lots"}):
        assert client.post("/live-food/shelf/new", data=dry | bad).status_code == 422


@freeze_time(AT_NINE)
def test_a_culture_is_fed_from_a_bottle_of_the_shelf(
    client: FlaskClient, session: Session, now
) -> None:
    paste = {"kind": "algae paste", "name": "green paste", "amount": "500", "unit": "mL",
             "how": "weighed", "when_how": "now"}  # fmt: skip
    item = client.post("/live-food/shelf/new", data=paste).location.rsplit("/", 1)[1]
    vessel = make_culture(session, "R1", at=now - timedelta(days=5))
    form = client.get(f"/live-food/{vessel}/feed").text
    assert "green paste" in form
    fed = {"shelf_id": item, "amount": "3.5", "unit": "mL", "when_how": "now"}
    both = client.post(f"/live-food/{vessel}/feed", data=fed | {"what": "yeast"})
    assert both.status_code == 422
    assert "for yeast, or leave this empty" in both.text
    assert client.post(f"/live-food/{vessel}/feed", data=fed).status_code == 303
    assert "fed 3.5 mL green paste" in client.get(f"/live-food/{vessel}").text
    page = told(client.get(f"/live-food/shelf/{item}").text)
    assert "496 mL left" in page
    assert "used, cultures" in page


@freeze_time(AT_NINE)
@pytest.mark.parametrize("address", ["shrimp/99999", "lots/99999", "shelf/99999"])
def test_what_is_not_there_is_said(client: FlaskClient, address: str) -> None:
    assert client.get(f"/live-food/{address}").status_code == 404


@freeze_time(AT_NINE)
def test_what_the_cultures_eat_brings_the_order_of_paste_forward(
    client: FlaskClient, session: Session, now
) -> None:
    paste = {"kind": "algae paste", "name": "Nannochloropsis paste", "amount": "100", "unit": "mL",
             "how": "weighed", "delivery_days": "5", "dry_percent": "18",
             "when_how": "now"}  # fmt: skip
    here = client.post("/live-food/shelf/new", data=paste).location
    assert "how much goes a day is not known" in client.get(here).text
    vessel = make_culture(session, "R1", at=now - timedelta(days=5))
    count_culture(session, vessel, 30, 31, 29, at=now, dilution=10)
    page = told(client.get(here).text)
    # 6 million at 0.3 g a million and 18 % dry are 10 mL a day: ten days, less five for the door.
    assert "10 mL a day by the plan" in page
    assert "order by Sun 29 Nov" in page
    assert "30 billion, by its dry part at 6 pg a cell" in page
