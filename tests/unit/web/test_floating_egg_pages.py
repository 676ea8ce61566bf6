"""A clutch of floating eggs on the pages: its hours, no ten eggs, no night, no clownfish's plan."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from freezegun import freeze_time

from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species import library as named
from hatchery_app.services.today import today_calendar
from tests.builders import floating_species, make_pair, make_tank, read_temperature

LONG_AGO = datetime(2026, 1, 3, 9, 0, tzinfo=UTC)
LAID = datetime(2026, 11, 24, 21, 0, tzinfo=UTC)


def words(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)).replace("&#39;", "'")


@pytest.fixture
def clutch_id(session, gannet_stair, monkeypatch):
    """Laid at nine in the evening in water of 25 °C: 35 hours."""
    ours = named.library()
    with_one = dict(ours) | {"quill_grouper": floating_species(ours)}
    monkeypatch.setattr(named, "library_now", lambda: with_one)
    tank_id = make_tank(session, "T1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    pair_id = make_pair(
        session, "Rusk", "Tansy", tank_id=tank_id, at=LONG_AGO, species_key="quill_grouper"
    )
    for hours in (-3, 0, 6, 12):
        read_temperature(session, tank_id, "25", at=LAID + timedelta(hours=hours))
    return spawn.record_laying(
        session, posting=Posting(now=LAID), pair_id=pair_id, when=When.exactly(LAID)
    )


@freeze_time(LAID + timedelta(hours=13))
def test_its_page_list_and_today_say_the_hours_and_no_night(client, session, clutch_id):
    page = client.get(f"/clutches/{clutch_id}").text
    assert "Floating eggs, at any hour: hatches Thu 26 Nov 0" in words(page)
    assert "439 degree-hours above 12.5 °C" in words(page)
    assert "be there" not in words(page)
    assert "tile-edge" not in page
    assert "hatches Thu 26 Nov 0" in words(client.get("/clutches/").text)
    today = words(client.get("/?round=tonight").text)
    assert "Watch for the hatch Thu 07:00 to Thu 09:30" in today
    assert "hatches Thu 26 Nov 07:00 to 09:30, most likely 08:00" in today
    assert "tonight Rusk and Tansy, floating eggs: hatches Thu 26 Nov 07:00" in today
    assert "No clutch is to be watched" not in today
    assert "1 due, 0 tanks ready" in today
    assert "overdue" not in today
    assert client.post("/today/calendar/make").status_code == 303
    feed = client.get(f"/calendar/{today_calendar.address_now(session).token}.ics").text
    assert "SUMMARY:Floating eggs hatch: Clutch 1" in feed.replace("\r\n ", "")
    assert "DTSTART:20261126T0700" in feed


def test_its_hatch_by_day_is_taken_without_asking_for_a_night_and_teaches(
    client, session, gannet_stair, clutch_id
):
    by_day = LAID + timedelta(hours=36)
    with freeze_time(by_day):
        assert "be there · Floating eggs" in words(client.get(f"/clutches/{clutch_id}").text)
        sent = client.post(
            f"/clutches/{clutch_id}/hatch", data={"how_much": "all", "key": "all-of-them"}
        )
        assert sent.status_code == 303, words(sent.text)
        page = words(client.get(f"/clutches/{clutch_id}").text)
    assert "hatched" in page
    assert "Floating eggs" not in page
    laid = by_day + timedelta(days=3)
    pair_id = load_clutch(session, gannet_stair, clutch_id).pair_id
    spawn_id = spawn.record_laying(
        session, posting=Posting(now=laid), pair_id=pair_id, when=When.exactly(laid)
    )
    with freeze_time(laid):
        page = words(client.get(f"/clutches/{spawn_id}").text)
    assert "from this pair: 1 hatch" in page
