"""A clutch's page says which entry moved the nights and by how much, and what they rest on."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

import pytest
from freezegun import freeze_time

from hatchery_app.domain.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.services import room, spawn
from hatchery_app.services.recording import Posting
from tests.builders import make_pair, make_tank, read_temperature
from tests.conftest import signed_in

LONG_AGO = datetime(2026, 1, 3, 9, 0, tzinfo=UTC)
LAID = datetime(2026, 11, 16, 17, 0, tzinfo=UTC)


def words(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)).replace("&#39;", "'")


@pytest.fixture
def nest(session, gannet_stair):
    """A pair in a tank read twice a day; gives tank and clutch."""
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id, at=LONG_AGO)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=LAID), pair_id=pair_id, when=When.exactly(LAID)
    )
    for half_day in range(-2, 20):
        read_temperature(session, tank_id, "27", at=LAID + timedelta(hours=12 * half_day))
    return tank_id, clutch_id


@pytest.fixture
def look(client, nest) -> Callable[[str, datetime], None]:
    """Writes a look down on its page, just now."""
    _tank_id, clutch_id = nest

    def write(what: str, at: datetime) -> None:
        with freeze_time(at):
            sent = client.post(
                f"/clutches/{clutch_id}/check", data={"what": what, "key": f"{what}-{at:%d%H}-key"}
            )
            assert sent.status_code == 303, sent.text

    return write


def lines_of(client, clutch_id: int, at: datetime) -> list[tuple[str, str]]:
    """What was seen, each with its link and what it did."""
    with freeze_time(at):
        page = client.get(f"/clutches/{clutch_id}").text
    part = page[page.index("What was seen moved them") :].split("</ul>")[0]
    return re.findall(r'<li><a href="(/records/[^"]+)">[^<]+</a>: ([^<]+)</li>', part)


def days(number: float) -> datetime:
    return LAID + timedelta(days=number)


def test_eyes_and_silver_each_say_what_they_moved_and_lead_to_their_entry(client, nest, look):
    _tank_id, clutch_id = nest
    look("eyes", days(3))
    look("silver", days(5))
    early, silver = lines_of(client, clutch_id, days(5.1))
    assert re.match(r"\d\.\d nights earlier", early[1])
    assert re.match(r"\d\.\d nights earlier; night \d: \d to \d of 10", silver[1])
    with freeze_time(days(5.1)):
        entry = client.get(early[0])
    assert entry.status_code == 200
    assert "eyes" in entry.text


def test_a_night_watched_in_vain_moves_them_later(client, nest, look):
    _tank_id, clutch_id = nest
    night_7 = datetime(2026, 11, 23, 23, 30, tzinfo=UTC)
    look("watched", night_7)
    ((_url, by),) = lines_of(client, clutch_id, night_7 + timedelta(hours=10))
    assert re.match(r"\d\.\d nights later; night 8: \d to \d of 10", by)


def test_a_lamp_left_on_rules_its_night_out(client, nest, look):
    _tank_id, clutch_id = nest
    night_7 = datetime(2026, 11, 23, 22, 0, tzinfo=UTC)
    look("lamp", night_7)
    ((_url, by),) = lines_of(client, clutch_id, night_7 + timedelta(minutes=5))
    assert "nights later" in by
    with freeze_time(night_7 + timedelta(minutes=5)):
        page = client.get(f"/clutches/{clutch_id}").text
    assert "lamp on all night 7: no hatch in the light" in words(page)
    assert "tonight: lamp on" in page


def test_a_tile_moved_late_spreads_over_more_evenings(client, session, nest):
    _tank_id, clutch_id = nest
    vessel = make_tank(session, "V1", state=TankState.READY)
    night_7 = datetime(2026, 11, 23, 22, 0, tzinfo=UTC)
    with freeze_time(night_7):
        sent = client.post(
            f"/clutches/{clutch_id}/move",
            data={"why": "pulled", "tank_id": vessel, "key": "move-late"},
        )
    assert sent.status_code == 303, sent.text
    ((_url, by),) = lines_of(client, clutch_id, night_7 + timedelta(minutes=5))
    assert "nights later" in by
    with freeze_time(night_7 + timedelta(minutes=5)):
        page = words(client.get(f"/clutches/{clutch_id}").text)
    assert "spreads over more evenings" in page


def test_what_was_seen_stands_once_and_not_among_the_other_reasons(client, nest, look):
    _tank_id, clutch_id = nest
    look("eyes", days(3))
    with freeze_time(days(3.1)):
        page = client.get(f"/clutches/{clutch_id}").text
    assert page.count("eyes seen Thu 19 Nov") == 1


# --- What the thermal time rests on, on the page ---------------------------------------------


def test_days_that_nobody_read_are_marked_assumed(client, session, gannet_stair):
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id, at=LONG_AGO)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=LAID), pair_id=pair_id, when=When.exactly(LAID)
    )
    for hours in (0, 60):
        read_temperature(session, tank_id, "27", at=LAID + timedelta(hours=hours))
    with freeze_time(days(3)):
        page = words(client.get(f"/clutches/{clutch_id}").text)
    assert "no reading of B1 for 60 h on 16–19 Nov: assumed" in page


def test_a_timer_that_was_not_changed_stands_on_the_page_with_the_lamps_own_hour(
    session, owner, app
):
    """The clocks went back, the timer did not: dark an hour earlier by the clock on the wall."""
    room.set_up_room(
        session, posting=Posting(now=LONG_AGO, by_id=owner.id), name="Gannet Stair",
        zone_name="Europe/Berlin", lights_on=time(9), lights_off=time(23),
    )  # fmt: skip
    here = room.room_now(session).room_time
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id, at=LONG_AGO)
    laid = here.at(date(2026, 10, 19), time(18))
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=laid), pair_id=pair_id, when=When.exactly(laid)
    )
    for day in range(18, 29):
        read_temperature(session, tank_id, "27", at=here.at(date(2026, 10, day), time(12)))
    browser = signed_in(app, owner)
    with freeze_time(here.at(date(2026, 10, 26), time(18))):
        before = words(browser.get(f"/clutches/{clutch_id}").text)
        today = words(browser.get("/?round=now").text)
    assert "23:15–02:00" in before
    assert "lights off 23:00" in today
    with freeze_time(here.at(date(2026, 10, 26), time(18))):
        work = browser.get("/?round=before-lights-off").text
    assert "See whether the light timers followed the clock" in words(work)
    assert "the clocks went back on Sun 25 Oct; the lamps stand here as off at 23:00" in words(work)
    assert '/room/lamps"' in work
    change = here.at(date(2026, 10, 26), time(18, 30))
    room.set_lights(
        session, posting=Posting(now=change), lights_on=time(8), lights_off=time(22),
        when=When.exactly(change),
    )  # fmt: skip
    session.rollback()
    with freeze_time(here.at(date(2026, 10, 26), time(19))):
        after = words(browser.get(f"/clutches/{clutch_id}").text)
        work = words(browser.get("/?round=before-lights-off").text)
    assert "22:15–01:00" in after
    assert "light timers" not in work
