"""Food ahead on its page, and the morning's feeding in one tap a line on Today."""

import re
from datetime import datetime, timedelta

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.models.live_food import CultureHarvested
from tests.builders import count_culture, make_batch, make_culture, make_lot, make_tank

AT_NINE = "2026-11-24 09:00:00"


@pytest.fixture
def fed(session: Session, now: datetime, gannet_stair: object) -> int:
    """One vessel, and larvae on their second day who eat of it."""
    make_batch(
        session, make_tank(session, "L1", litres=40), number="400",
        hatched_at=now - timedelta(days=1, hours=12),
    )  # fmt: skip
    vessel = make_culture(session, "R1", at=now - timedelta(days=20), litres=20)
    count_culture(session, vessel, 95, 102, 98, at=now - timedelta(hours=1), dilution=3, eggs=120)
    return vessel


@freeze_time(AT_NINE)
def test_the_page_says_what_is_needed_what_the_vessels_bear_and_what_if_one_is_lost(
    client: FlaskClient, fed: int
) -> None:
    page = client.get("/live-food/ahead")
    assert page.status_code == 200
    assert "vessels bear" in page.text
    assert "<svg" in page.text
    assert "<table" in page.text
    assert "If R1 were lost today" in page.text
    assert 'href="/live-food/ahead"' in client.get("/live-food/").text


@freeze_time(AT_NINE)
def test_where_food_lacks_the_tanks_are_named_first_feeders_first(
    client: FlaskClient, session: Session, now: datetime, fed: int
) -> None:
    tank = make_tank(session, "L2", litres=400)
    make_batch(session, tank, number="900", hatched_at=now - timedelta(days=6, hours=12))
    page = client.get("/live-food/ahead").text
    assert "first feeders first (common practice): L1 (2 dph), then L2 (7 dph)" in page
    assert "first feeders first: L1, then L2" in client.get("/").text


@freeze_time(AT_NINE)
def test_one_tap_on_today_writes_down_what_was_sieved(
    client: FlaskClient, session: Session, fed: int
) -> None:
    today = client.get("/?round=morning").text
    form = re.search(rf'<form[^>]*action="/live-food/{fed}/harvest".*?</form>', today, re.S)
    assert form is not None
    sent = dict(re.findall(r'name="([\w-]+)" value="([^"]*)"', form[0]))
    litres = float(sent["litres"])
    assert litres > 0
    answer = client.post(f"/live-food/{fed}/harvest", data=sent)
    assert answer.status_code == 303
    (row,) = session.scalars(select(CultureHarvested))
    assert (row.tank_id, row.litres) == (fed, litres)
    again = client.get("/?round=morning").text
    assert f'action="/live-food/{fed}/harvest"' not in again


@freeze_time(AT_NINE)
def test_after_a_crash_today_and_the_days_ahead_say_one_shortfall(
    client: FlaskClient, session: Session, now: datetime, gannet_stair: object
) -> None:
    """Two tanks to be filled, R2 lost: what the other bears is short by one figure on both
    pages, and what is to be taken of R1 today is never over half of it."""
    for label in ("L1", "L2"):
        make_batch(
            session, make_tank(session, label, litres=120), number="1200",
            hatched_at=now - timedelta(days=1, hours=12),
        )  # fmt: skip
    for label, counted in (("R1", (150, 151, 149)), ("R2", (160, 158, 162))):
        vessel = make_culture(session, label, at=now - timedelta(days=20), litres=20)
        count_culture(session, vessel, *counted, at=now - timedelta(days=1))
        left = counted if label == "R1" else (21, 18, 24)
        count_culture(session, vessel, *left, at=now - timedelta(hours=1))
    on_today = re.search(r"short by ([\d.,]+ million)", client.get("/").text)
    ahead = client.get("/live-food/ahead").text
    on_ahead = re.search(r"short today by ([\d.,]+ million)", ahead)
    assert on_today is not None
    assert on_ahead is not None
    assert on_today[1] == on_ahead[1]
    taken = [
        float(litres) for litres in re.findall(r"<b>([\d.]+) L</b> (?:of|more of <b>)\s*R1", ahead)
    ]
    assert taken
    bears = re.search(r"R1: sieve ([\d.]+) L", client.get("/live-food/").text)
    assert bears is not None
    assert sum(taken) + float(bears[1]) <= 0.5 * 20 + 0.1  # each is said in two figures


@freeze_time(AT_NINE)
@pytest.mark.parametrize("counted_days_ago", [None, 3])
def test_what_nobody_counted_for_two_days_is_not_known_on_any_page_and_never_short(
    client: FlaskClient, session: Session, now: datetime, gannet_stair: object,
    counted_days_ago: int | None,
) -> None:
    """Larvae want rotifers, and no vessel of them is known: every page says so, none "short"."""
    make_batch(
        session, make_tank(session, "L1", litres=40), number="400",
        hatched_at=now - timedelta(days=1, hours=12),
    )  # fmt: skip
    if counted_days_ago is not None:
        vessel = make_culture(session, "R1", at=now - timedelta(days=20), litres=20)
        count_culture(session, vessel, 150, at=now - timedelta(days=counted_days_ago))
    today, vessels = client.get("/").text, client.get("/live-food/").text
    ahead = client.get("/live-food/ahead").text
    assert "No larvae want live food" not in vessels
    ready = "is not recorded" if counted_days_ago is None else "is not known"
    for page in (today, vessels, ahead):
        assert f"stands ready {ready}" in page
        assert "short by" not in page


def test_cysts_are_started_in_one_tap_only_when_their_hour_is_near(
    client: FlaskClient, session: Session, fed: int, now: datetime
) -> None:
    make_lot(session, at=now - timedelta(days=30))

    def taps(at: datetime) -> list[str]:
        with freeze_time(at):
            page = client.get("/live-food/ahead").text
        assert "of cysts in" in page
        return re.findall(r">(Started [\d.]+ g|Start a hatch now)<", page)

    assert taps(now) == ["Start a hatch now"] * len(taps(now))  # wanted in three days
    assert any(tap.startswith("Started") for tap in taps(now + timedelta(days=1, hours=18)))
