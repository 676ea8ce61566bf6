"""A clutch's page says which entry moved the nights and by how much, and what they rest on."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

import pytest
from freezegun import freeze_time

from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import room
from hatchery_app.services.spawn import spawn
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


def page_at(client, clutch_id: int, at: datetime) -> str:
    with freeze_time(at):
        return client.get(f"/clutches/{clutch_id}").text


def chances_of(client, clutch_id: int, at: datetime) -> dict[str, float]:
    """Each night's chance as the page's table says it, in tenths."""
    table = page_at(client, clutch_id, at).split("<table", 1)[1].split("</table>", 1)[0]
    rows = re.findall(
        r"<t[hd][^>]*>([A-Z][a-z]{2} \d+ [A-Z][a-z]{2})</t[hd]>\s*<td[^>]*>([^<]*)", table
    )
    assert rows
    return {night: tenths_of(said) for night, said in rows}


def tenths_of(said: str) -> float:
    found = re.match(r"(\d+) of 10$", said.strip())
    return int(found[1]) / 10 if found else 0.0


def mean_night(chances: dict[str, float]) -> float:
    """The mean day of November; 31 is 1 December."""
    said = (night.split() for night in chances)
    days_on = [int(number) + 30 * (month == "Dec") for _day, number, month in said]
    whole = sum(chances.values())
    return sum(day * chance for day, chance in zip(days_on, chances.values(), strict=True)) / whole


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


# what is said, when it was seen (days after the laying), and the way it moves the nights
LOOKS = (
    ("dark", 1.8, "dark eggs seen Wed 18 Nov 12:12", "earlier"),
    ("no-eyes", 5.5, "no eyes yet Sun 22 Nov 05:00", "later"),
    ("silver", 5.0, "silver eyes seen Sat 21 Nov 17:00", "earlier"),
    ("no-silver", 7.0, "no silver eyes yet Mon 23 Nov 17:00", "later"),
)


@pytest.mark.parametrize(("what", "day", "said", "way"), LOOKS)
def test_a_sign_there_or_not_yet_moves_the_nights_its_own_way(
    client, nest, look, what, day, said, way
):
    _tank_id, clutch_id = nest
    before = chances_of(client, clutch_id, days(day))
    look(what, days(day))
    ((url, by),) = lines_of(client, clutch_id, days(day))
    after = chances_of(client, clutch_id, days(day))
    assert re.match(rf"\d\.\d nights {way}; night \d+: <?\d+ to \d+ of 10", by)
    assert (mean_night(after) < mean_night(before)) is (way == "earlier")
    with freeze_time(days(day)):
        assert said in words(client.get(f"/clutches/{clutch_id}").text)
        assert client.get(url).status_code == 200


def test_watched_until_five_in_the_morning_is_told_at_eight_and_rules_its_night_out(client, nest):
    """What is told late counts from the hour it was seen, and the morning page says that hour."""
    _tank_id, clutch_id = nest
    morning = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)
    before = chances_of(client, clutch_id, morning)
    with freeze_time(morning):
        typed = {"what": "watched", "when_how": "at", "at_on": "2026-11-24", "at_time": "05:00"}
        sent = client.post(f"/clutches/{clutch_id}/check", data=typed | {"key": "five-o-clock"})
        assert sent.status_code == 303
        page = client.get(f"/clutches/{clutch_id}").text
    ((_url, by),) = lines_of(client, clutch_id, morning)
    assert "none until 05:00 on night 7" in words(page)
    assert re.match(r"\d\.\d nights later; night 8: \d to \d of 10", by)
    after = chances_of(client, clutch_id, morning)
    assert before["Mon 23 Nov"] > 0.2
    assert after["Mon 23 Nov"] == 0


def test_a_lamp_left_on_rules_its_night_out(client, nest, look):
    _tank_id, clutch_id = nest
    night_7 = datetime(2026, 11, 23, 22, 0, tzinfo=UTC)
    look("lamp", night_7)
    ((_url, by),) = lines_of(client, clutch_id, night_7 + timedelta(minutes=5))
    assert re.match(r"\d\.\d nights later; night 8: \d to \d of 10", by)
    with freeze_time(night_7 + timedelta(minutes=5)):
        page = client.get(f"/clutches/{clutch_id}").text
    assert "lamp on all night 7: no hatch in the light" in words(page)
    assert chances_of(client, clutch_id, night_7 + timedelta(minutes=5))["Mon 23 Nov"] == 0


def test_once_a_part_has_hatched_the_rest_is_due_the_night_after(client, nest):
    _tank_id, clutch_id = nest
    found, next_morning = (datetime(2026, 11, day, 8, 30, tzinfo=UTC) for day in (23, 24))
    with freeze_time(found):
        typed = {"how_much": "about a third", "when_how": "now", "key": "a-third"}
        assert client.post(f"/clutches/{clutch_id}/hatch", data=typed).status_code == 303
        page = words(client.get(f"/clutches/{clutch_id}").text)
    assert "about a third hatched on night 6, the rest remains" in page
    ((_url, by),) = lines_of(client, clutch_id, found)
    assert re.search(r"night 7: \d to 8 of 10", by)
    assert chances_of(client, clutch_id, found)["Mon 23 Nov"] == 0.8
    assert "the rest tonight" in page
    assert "the rest tonight" in words(page_at(client, clutch_id, next_morning))

    with freeze_time(next_morning):  # what came last has left no rest
        typed = {"how_much": "all", "when_how": "now", "key": "the-rest"}
        assert client.post(f"/clutches/{clutch_id}/hatch", data=typed).status_code == 303
        page = words(client.get(f"/clutches/{clutch_id}").text)
    assert "about a third hatched on night 6, the rest remains" in page
    assert page.count("the rest remains") == 1


def test_a_pulled_tile_is_timed_by_the_water_of_its_vessel(client, session, nest):
    """Two days in a cold vessel put the hatch off; what is read of the nest after says nothing."""
    tank_id, clutch_id = nest
    vessel = make_tank(session, "V1", state=TankState.READY)
    noon = days(3.75)
    before = mean_night(chances_of(client, clutch_id, noon))
    with freeze_time(noon):
        for where, sentence in ((0, "Say to which tank"), (tank_id, "The eggs are in")):
            typed = {"why": "pulled", "tank_id": where, "key": "pulled-nowhere"}
            assert sentence in client.post(f"/clutches/{clutch_id}/move", data=typed).text
        typed = {"why": "pulled", "tank_id": vessel, "key": "pulled-by-day"}
        assert client.post(f"/clutches/{clutch_id}/move", data=typed).status_code == 303
    for hours in range(0, 49, 6):
        read_temperature(session, vessel, "24.5", at=noon + timedelta(hours=hours, minutes=5))
    cold = mean_night(chances_of(client, clutch_id, days(6)))
    assert cold > before + 0.4
    read_temperature(session, tank_id, "29", at=days(5.9))
    assert mean_night(chances_of(client, clutch_id, days(6))) == pytest.approx(cold)
    page = page_at(client, clutch_id, days(6))
    assert "spreads over more evenings" not in page  # pulled by day
    assert "24.5 °C, the mean of the last 3 days" in words(page)


def test_a_tile_moved_late_spreads_over_more_evenings(client, session, nest):
    _tank_id, clutch_id = nest
    # The vessel's rack is lit till 23:00: what disturbs them is the dark of the nest they left.
    vessel = make_tank(session, "V1", state=TankState.READY, rack="late")
    room.set_lights(
        session, posting=Posting(now=LONG_AGO), lights_on=time(11), lights_off=time(23),
        rack="late", when=When.exactly(LONG_AGO),
    )  # fmt: skip
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
