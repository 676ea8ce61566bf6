"""Field cases of broods that a parent carries, typed into the pages and read off them."""

import re
from datetime import UTC, datetime

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.tank.tank import TankRole
from tests.builders import make_fish, make_tank

LONG_AGO = datetime(2026, 1, 2, 9, tzinfo=UTC)


def words(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)).replace("&#39;", "'")


def a_father(session: Session, species_key: str) -> int:
    home = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    make_tank(session, "G1", role=TankRole.GROW_OUT, at=LONG_AGO)
    return make_fish(session, "Quill", species_key=species_key, tank_id=home, at=LONG_AGO)


def held(client: FlaskClient, carrier_id: int, at: str, **typed: str) -> str:
    with freeze_time(at):
        sent = client.post(
            "/clutches/carried/new",
            data={"carrier_id": str(carrier_id), "tank_id": "0", "start": "taken", **typed},
        )
    assert sent.status_code == 303, sent.text
    return sent.location


def released(client: FlaskClient, address: str, at: str, number: str, **more: str) -> None:
    with freeze_time(at):
        sent = client.post(
            f"{address}/release", data={"number": number, "tank_id": "0", **more}
        )
    assert sent.status_code == 303, sent.text


def test_c14_a_start_between_two_statements_stays_an_interval(
    client: FlaskClient, session: Session
) -> None:
    """C14. Taken up between 5 and 11 Jan; 1, 6 and 18 out: 25 in all, carried 31–39 days."""
    quill = a_father(session, "pterapogon_kauderni")
    address = held(
        client, quill, "2026-02-09 10:00:00", when_how="between", from_on="2026-01-05",
        until_on="2026-01-11",
    )  # fmt: skip
    for day, number in ((11, "1"), (12, "6"), (13, "18")):
        last = {"all_out": "y"} if day == 13 else {}
        released(client, address, f"2026-02-{day} 10:00:00", number, **last)
    with freeze_time("2026-02-14 10:00:00"):
        page = words(client.get(address).text)
    assert "taken up between Mon 5 and Sun 11 Jan" in page
    assert "25 counted released over 3 nights" in page
    assert "carried 31–39 days" in page
    assert "7 counted" in page  # so far, after the second


def test_c58_he_eats_again_the_brood_is_lost_and_no_larvae_are_asked_for(
    client: FlaskClient, session: Session
) -> None:
    """C58. Lost between last seen holding and feeding; his days are counted no further."""
    quill = a_father(session, "pterapogon_kauderni")
    address = held(client, quill, "2026-06-01 17:00:00")
    with freeze_time("2026-06-09 10:00:00"):
        client.post(f"{address}/holding")
        today = words(client.get("/?round=now").text)
        page = words(client.get(address).text)
    assert "holding, day 8" in page
    assert "they have no larval stage and go into a cohort" in page
    for word in ("rotifers", "It hatched", "The nights it may hatch"):
        assert word not in page
    assert "be there" not in today
    with freeze_time("2026-06-10 19:00:00"):
        sent = client.post(f"{address}/lost", follow_redirects=True)
    assert "brood lost (eaten or dropped)" in words(sent.text)
    with freeze_time("2026-06-20 10:00:00"):
        after = words(client.get(address).text)
    assert "between Tue 9 Jun 11:00 and Wed 10 Jun 20:00" in after  # summer time in the room
    assert "day 18" not in after
    assert "hatched" not in after.lower()


@pytest.mark.parametrize("births", [(90,), (90, 300)])
def test_c60_a_father_whose_start_nobody_knows_gives_births_in_parts(
    client: FlaskClient, session: Session, births: tuple[int, ...]
) -> None:
    """C60. Mother and start unknown are normal; young are found over days and added up."""
    quill = a_father(session, "hippocampus_erectus")
    address = held(client, quill, "2026-06-01 09:00:00", start="first seen")
    with freeze_time("2026-06-02 09:00:00"):
        page = words(client.get(address).text)
    assert "not known" in page
    assert "It hatched" not in page
    for turn, number in enumerate(births):
        last = {"all_out": "y"} if turn == len(births) - 1 else {}
        released(client, address, f"2026-06-{20 + turn} 09:00:00", f"about {number}", **last)
    with freeze_time("2026-06-25 09:00:00"):
        after = words(client.get(address).text)
    assert f"about {sum(births)}" in after
    assert "hatch rate" not in after
