"""The pages of a brood that a parent carries: in its own words, with its own taps."""

from datetime import UTC, datetime

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.sex_state import Sex, SexEvidence, Standing
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import fish
from hatchery_app.services.recording import Posting
from tests.builders import make_fish, make_hatch, make_tank

TAKEN = "2026-11-01 17:00:00"
LATER = "2026-11-24 09:00:00"


@pytest.fixture
def quill(session: Session, client: FlaskClient) -> int:
    """A male cardinalfish in B1."""
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    make_tank(session, "G1", role=TankRole.GROW_OUT)
    return make_fish(session, "Quill", species_key="pterapogon_kauderni", tank_id=tank_id)


def holding(client: FlaskClient, carrier_id: int, at: str = TAKEN, **more: str) -> str:
    """Write down that he holds a brood; gives the address of its page."""
    with freeze_time(at):
        answer = client.post(
            "/clutches/carried/new",
            data={"carrier_id": str(carrier_id), "tank_id": "0", "start": "taken", **more},
        )
    assert answer.status_code == 303, answer.text
    return answer.location


def test_a_father_seen_holding_is_a_brood_with_its_days_and_its_own_taps(
    client: FlaskClient, quill: int
) -> None:
    address = holding(client, quill)
    with freeze_time(LATER):
        page, listed = client.get(address).text, client.get("/clutches/").text
    for text in (page, listed):
        assert "holding, day 23 of about 29" in text
        assert "release Wed 25 Nov to Sat 5 Dec, most likely Mon 30 Nov" in text
        assert "Spat out or swallowed" in text
        assert "Still holding" in text
        assert "It hatched" not in text
    assert "cohort" in page
    assert "not forecast by the night" not in page


def test_a_fish_of_the_other_sex_is_asked_about_before_it_becomes_the_father(
    client: FlaskClient, session: Session, quill: int
) -> None:
    fish.record_sex(
        session, posting=Posting(now=datetime(2026, 10, 1, 9, tzinfo=UTC)), fish_id=quill,
        sex=Sex.FEMALE, standing=Standing.THOUGHT, evidence=[SexEvidence.PAPILLA],
        when=When.exactly(datetime(2026, 10, 1, 9, tzinfo=UTC)),
    )  # fmt: skip
    typed = {"carrier_id": str(quill), "tank_id": "0", "start": "taken", "note": "chin full"}
    with freeze_time(TAKEN):
        asked = client.post("/clutches/carried/new", data=typed)
    assert asked.status_code == 422
    assert "Quill stands in the records as female (thought)" in asked.text
    assert "chin full" in asked.text
    assert holding(client, quill, **{"answer-carrier_sex": "so"})


def test_still_holding_is_one_tap(client: FlaskClient, quill: int) -> None:
    address = holding(client, quill)
    with freeze_time(LATER):
        answer = client.post(f"{address}/holding", follow_redirects=True)
        assert "seen holding" in answer.text
        assert "last seen holding" in answer.text


def test_young_in_parts_are_added_up_and_go_into_a_tank(client: FlaskClient, quill: int) -> None:
    address = holding(client, quill)
    for day, number in ((28, "1"), (29, "6"), (30, "18")):
        with freeze_time(f"2026-11-{day} 10:00:00"):
            answer = client.post(
                f"{address}/release",
                data={"number": number, "tank_id": "0", **({"all_out": "y"} if day == 30 else {})},
            )
            assert answer.status_code == 303, answer.text
    with freeze_time("2026-12-01 09:00:00"):
        page = client.get(address).text
    assert "25 counted released over 3 nights" in page
    assert "7 counted" in page
    assert "carried 27–29 days" in page
    assert "Still holding" not in page


def test_a_lost_brood_stands_between_two_looks(client: FlaskClient, quill: int) -> None:
    address = holding(client, quill)
    with freeze_time("2026-11-10 09:00:00"):
        asked = client.get(f"{address}/lost").text
        answer = client.post(f"{address}/lost", follow_redirects=True)
    assert "last seen holding" in asked
    assert "brood lost (eaten or dropped)" in answer.text
    assert "between Sun 1 Nov 17:00 and Tue 10 Nov 09:00" in answer.text


def test_young_seen_far_too_early_are_asked_about_with_all_that_was_typed(
    client: FlaskClient, quill: int
) -> None:
    address = holding(client, quill)
    with freeze_time("2026-11-08 09:00:00"):
        answer = client.post(f"{address}/release", data={"number": "about 20", "tank_id": "0"})
    assert answer.status_code == 422
    assert "Were live young seen?" in answer.text
    assert "about 20" in answer.text


def test_a_brood_first_seen_in_him_says_that_its_start_is_not_known(
    client: FlaskClient, quill: int
) -> None:
    address = holding(client, quill, start="first seen")
    with freeze_time("2026-11-03 09:00:00"):
        page = client.get(address).text
    assert "first seen holding" in page
    assert "not known to the day" in page
    assert "day 2–37 of about 29" in page


def test_eggs_on_a_tile_are_refused_on_the_pages_of_a_carried_brood(
    client: FlaskClient, session: Session
) -> None:
    make_hatch(session, hatched_at=datetime(2026, 11, 20, 21, tzinfo=UTC))
    with freeze_time(LATER):
        listed = client.get("/clutches/").text
        clutch_id = listed.split("/clutches/")[2].split('"')[0]
        answer = client.post(f"/clutches/{clutch_id}/holding", follow_redirects=True)
    assert "Nobody carries these eggs" in answer.text


def test_a_room_without_such_fish_says_so(client: FlaskClient) -> None:
    with freeze_time(LATER):
        assert "Enter the fish first" in client.get("/clutches/carried/new").text
