"""The door: who may come in, from where, by which name, and that no form is lost at it."""

from datetime import UTC, datetime, timedelta

import pytest
from freezegun import freeze_time
from sqlalchemy import select
from werkzeug.security import generate_password_hash

from hatchery_app.models.account import LoginAttempt
from hatchery_app.models.tank import Tank
from hatchery_app.services.records import account
from hatchery_app.web.host_names import is_ours
from hatchery_app.web.records import pages

AT_NINE = freeze_time("2026-11-24 09:00:00")
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
PASSWORD = "tiles at dusk"


@pytest.fixture
def stranger(app, gannet_stair, session, owner, monkeypatch):
    """A browser that nobody signed in, at a room whose owner has a password."""
    quickly = generate_password_hash(PASSWORD, "scrypt:1024:8:1")
    monkeypatch.setattr(pages, "_nobody", lambda: quickly)
    account.change_password(session, account_id=owner.id, password_hash=quickly)
    return app.test_client()


def sign_in(browser, password=PASSWORD, then="", **environ):
    url = f"/sign-in?then={then}" if then else "/sign-in"
    return browser.post(url, data={"name": "Ines", "password": password}, environ_base=environ)


@AT_NINE
def test_a_stranger_is_led_to_the_door_and_back_to_where_they_wanted(stranger):
    asked = stranger.get("/records?room=tank")
    assert asked.location == "/sign-in?then=/records?room%3Dtank"
    assert sign_in(stranger, then="/records").location == "/records"
    assert stranger.get("/records").status_code == 200


@AT_NINE
def test_a_wrong_password_says_no_more_than_that(stranger):
    wrong = sign_in(stranger, "tiles at dawn")
    nobody = stranger.post("/sign-in", data={"name": "Nobody", "password": "x"})
    assert wrong.status_code == nobody.status_code == 422
    for answer in (wrong, nobody):
        assert "do not belong together" in answer.text


@AT_NINE
def test_five_wrong_tries_close_the_door_for_a_quarter_of_an_hour(stranger, session):
    for _ in range(5):
        sign_in(stranger, "wrong")
    assert "Wait a quarter of an hour" in sign_in(stranger).text
    with freeze_time(NOW + timedelta(minutes=16)):
        assert sign_in(stranger).status_code == 303


@AT_NINE
def test_an_address_that_tries_many_names_is_kept_out(stranger, session):
    for number in range(20):
        stranger.post("/sign-in", data={"name": f"name {number}", "password": "x"})
    assert "Too many tries" in sign_in(stranger).text
    tried = session.scalars(select(LoginAttempt.address)).all()
    assert set(tried) == {"127.0.0.1"}


@AT_NINE
@pytest.mark.parametrize(
    "elsewhere",
    ["https://example.org/", "//example.org/", "/\\example.org", "javascript:alert(1)", "/a//b"],
)
def test_the_door_leads_nowhere_but_into_the_room(stranger, elsewhere):
    assert sign_in(stranger, then=elsewhere).location == "/"


@AT_NINE
def test_before_the_password_only_this_machine_is_served(app):
    browser = app.test_client()
    there = browser.get("/first", environ_base={"REMOTE_ADDR": "192.168.1.40"})
    assert there.status_code == 403
    assert "Until the owner" in there.text
    assert browser.get("/first").status_code == 200
    assert browser.get("/health", environ_base={"REMOTE_ADDR": "192.168.1.40"}).status_code == 200


FIRST_PAGE = {
    "owner_name": "Élodie", "password": PASSWORD, "again": PASSWORD, "name": "Gannet Stair",
    "zone_name": "Europe/Lisbon", "lights_on": "08:00", "lights_off": "20:00",
    "temperature_unit": "C", "volume_unit": "L", "gallon": "us",
}  # fmt: skip


@AT_NINE
def test_a_room_that_was_refused_has_no_owner_and_is_no_other_machines_to_take(app, session):
    refused = app.test_client().post("/first", data=FIRST_PAGE | {"lights_off": "08:00"})
    assert refused.status_code == 422
    assert account.find_owner(session) is None
    stranger = app.test_client().post(
        "/first", data=FIRST_PAGE, environ_overrides={"REMOTE_ADDR": "192.168.1.77"}
    )
    assert stranger.status_code == 403
    assert app.test_client().post("/first", data=FIRST_PAGE).status_code == 303


@AT_NINE
@pytest.mark.parametrize("typed", ["Élodie", "élodie", "ÉLODIE ", "E\u0301lodie"])
def test_a_name_opens_the_door_however_its_letters_are_typed(app, typed):
    app.test_client().post("/first", data=FIRST_PAGE)
    signed = app.test_client().post("/sign-in", data={"name": typed, "password": PASSWORD})
    assert signed.status_code == 303


@AT_NINE
def test_signing_out_everywhere_ends_every_session_of_the_account(client, stranger, session):
    sign_in(stranger)
    assert stranger.get("/records").status_code == 200
    assert stranger.post("/records/room/sign-out-everywhere").location == "/sign-in"
    assert client.get("/records").status_code == 302


@AT_NINE
def test_a_new_password_signs_out_other_devices_but_not_this_one(app, stranger, session):
    tablet = app.test_client()
    for browser in (stranger, tablet):
        sign_in(browser)
    changed = stranger.post(
        "/records/room/change-password",
        data={"present": PASSWORD, "password": "eyes at dawn", "again": "eyes at dawn"},
    )
    assert changed.status_code == 303
    assert stranger.get("/records").status_code == 200
    assert tablet.get("/records").status_code == 302
    assert sign_in(tablet, "eyes at dawn").status_code == 303


@AT_NINE
def test_the_present_password_is_asked_before_a_new_one_is_taken(stranger):
    sign_in(stranger)
    refused = stranger.post(
        "/records/room/change-password",
        data={"present": "guessed", "password": "eyes at dawn", "again": "eyes at dawn"},
    )
    assert refused.status_code == 422
    assert "not your present password" in refused.text


@AT_NINE
def test_a_name_of_elsewhere_is_not_answered(client):
    """A page elsewhere may point its own name at this machine; its name gives it away."""
    rebound = client.get("/records", headers={"Host": "tank-photos.example:8642"})
    assert rebound.status_code == 403
    assert "do not answer to that name" in rebound.text
    for own in ("192.168.1.5:8642", "[::1]:8642"):  # led to the door: its cookie is another's
        assert client.get("/records", headers={"Host": own}).status_code == 302


@pytest.mark.parametrize(
    ("host", "ours"),
    [
        ("localhost", True), ("LOCALHOST:8642", True), ("fishroom.local:80", True),
        ("127.0.0.1", True), ("[fe80::1]:80", True), ("[::1]", True),
        ("fishroom.local.example.org", False), ("localhost.example.org:80", False), ("", False),
    ],
)  # fmt: skip
def test_an_address_of_numbers_and_the_names_of_the_house_are_ours(host, ours):
    assert is_ours(host, frozenset({"localhost", "fishroom.local"})) is ours


@AT_NINE
def test_a_form_without_its_token_comes_back_with_all_that_was_typed(app, client, session):
    app.config["WTF_CSRF_ENABLED"] = True
    try:
        answer = client.post("/tanks/new", data={"labels": "L1–L4", "volume": "40 L",
                                                 "role": "larval"})  # fmt: skip
    finally:
        app.config["WTF_CSRF_ENABLED"] = False
    assert answer.status_code == 422
    assert "Nothing is lost: send it once more." in answer.text
    assert 'value="L1–L4"' in answer.text
    assert session.scalars(select(Tank)).all() == []


@AT_NINE
def test_a_key_used_for_other_contents_brings_the_form_back_with_a_fresh_key(client, session):
    filled = {"labels": "L1, 40 L", "role": "larval", "key": "key-1"}
    assert client.post("/tanks/new", data=filled).status_code == 303
    assert client.post("/tanks/new", data=filled).status_code == 303  # a repeat is answered
    other = client.post("/tanks/new", data=filled | {"labels": "L2, 40 L"})
    assert other.status_code == 422
    assert "saved already with other contents" in other.text
    assert 'value="L2, 40 L"' in other.text
    assert 'value="key-1"' not in other.text
    assert [one.label for one in session.scalars(select(Tank))] == ["L1"]


@pytest.mark.parametrize("elsewhere", ["/\t/else.example", "/\n/else.example", "/\r"])
def test_an_address_a_browser_reads_otherwise_is_not_followed(client, elsewhere):
    # It reads a tab or a line end as nothing, so that /<tab>/name is another machine.
    answer = client.post("/screen", data={"to": "red", "back": elsewhere})
    assert (answer.status_code, answer.location) == (303, "/")
