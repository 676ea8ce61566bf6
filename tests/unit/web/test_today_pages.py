"""Today: the answers first, the thread of rounds, the walk, and what is answered to each line."""

import re
from datetime import UTC, datetime
from urllib.parse import unquote, urlsplit

import pytest
from flask import url_for
from freezegun import freeze_time

from hatchery_app.domain.clutch.clutch import CheckKind, Sign
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import feeding_rota
from hatchery_app.services.clutch import clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.spawn import spawn
from hatchery_app.web.today.work_presenter import OPENS
from tests.builders import make_pair, make_tank, set_set_point

MORNING = "2026-11-24 09:00:00"
LAID = datetime(2026, 11, 17, 16, 0, tzinfo=UTC)
LONG_AGO = datetime(2026, 1, 3, 9, 0, tzinfo=UTC)


@pytest.fixture
def a_room(session, gannet_stair):
    """Two pairs on a rota, a clutch on night 7, a dirty larval tank."""
    for label, female, male in (("A4", "Merle", "Ditto"), ("A3", "Rusk", "Tansy")):
        tank_id = make_tank(session, label, litres=76, role=TankRole.BROODSTOCK)
        set_set_point(session, tank_id, "27", at=LONG_AGO)
        pair_id = make_pair(session, female, male, tank_id=tank_id)
    make_tank(session, "L5", state=TankState.DIRTY)
    feeding_rota.set_rota(
        session, posting=Posting(now=LONG_AGO), dry="pellets", frozen="mysis, krill",
        when=When.exactly(LONG_AGO),
    )  # fmt: skip
    return spawn.record_laying(
        session, posting=Posting(now=LAID), pair_id=pair_id, when=When.exactly(LAID)
    )


@freeze_time(MORNING)
def test_an_empty_room_says_so_and_offers_the_first_tap(client):
    page = client.get("/").text
    assert "Tuesday 24 November" in page
    assert "no eggs in the room" in page
    assert "Nothing is asked for in this round." in page
    assert 'href="/spawns/"' in page


@freeze_time(MORNING)
def test_today_opens_at_the_round_it_is_with_the_answers_first(client, a_room):
    page = client.get("/").text
    assert '<h2 id="round">Morning</h2>' in page
    tonight, food, tanks, rounds = (
        page.index(words)
        for words in ("Rusk and Tansy, ", "<dt>food</dt>", "<dt>tanks</dt>", 'class="rounds"')
    )
    assert tonight < food < tanks < rounds
    assert "1 due, 0 tanks ready, 1 could be: L5" in page


@freeze_time(MORNING)
def test_work_stands_in_walking_order_whatever_was_entered_first(client, session, a_room):
    page = client.get("/?round=morning").text
    work = page[page.index('id="round"') :]
    assert work.index(">A4<") < work.index(">A3<") < work.index(">L5<")
    assert "Feed pellets" in work
    assert "dry, by the rota" in work


@freeze_time(MORNING)
def test_done_is_one_tap_and_says_its_hour(client, a_room):
    task = f"look_at_eggs:{a_room}:2026-11-24.morning"
    assert f'value="{task}"' in client.get("/").text
    answered = client.post("/today/done", data={"task": task, "round": "morning", "key": "k"})
    assert answered.status_code == 303
    assert answered.location == "/?round=morning#round"
    page = client.get(answered.location).text
    assert "✓ 09:00" in page
    assert f'value="{task}"' not in page


@freeze_time(MORNING)
def test_a_look_that_was_written_down_has_answered_its_line(client, session, a_room):
    at = datetime(2026, 11, 24, 8, 10, tzinfo=UTC)
    clutch.record_check(
        session, posting=Posting(now=at), clutch_id=a_room, kind=CheckKind.SIGN,
        sign=Sign.SILVER, when=When.exactly(at),
    )  # fmt: skip
    page = client.get("/?round=morning").text
    assert "✓ 08:10, silver seen" in page
    assert f'value="look_at_eggs:{a_room}' not in page


@freeze_time("2026-11-24 22:30:00")
def test_a_watch_without_a_hatch_has_answered_the_line_of_its_night(client, a_room):
    assert "Go there" in client.get("/?round=tonight").text
    client.post(f"/tonight/{a_room}/nothing-yet", data={"key": "n"})
    assert "✓ 22:30, none by then" in client.get("/?round=tonight").text


@freeze_time("2026-11-24 18:00:00")
def test_a_first_fill_that_is_held_is_said_tonight(client, a_room):
    task = f"hold_first_fill:{a_room}:once"
    client.post("/today/done", data={"task": task, "key": "f"})
    assert "a first fill is held" in client.get("/?round=now").text
    with freeze_time("2026-11-24 20:31:00"):
        assert "held since 18:00" in client.get("/").text


@freeze_time(MORNING)
def test_all_of_a_stop_is_done_in_one_tap(client, a_room):
    page = client.get("/?round=morning").text
    tasks = [part.split('"')[0] for part in page.split('name="task" value="')[1:]]
    again = [task for task in tasks if task.startswith(("look_at_eggs", "feed_pair"))]
    again = [task for task in again if " " not in task]
    assert len(again) == 3
    client.post("/today/done", data={"task": " ".join(again), "key": "a", "round": "morning"})
    after = client.get("/?round=morning").text
    assert after.count("✓ 09:00") == 3
    assert not any(f'value="{task}"' in after for task in again)


@freeze_time(MORNING)
def test_after_a_tap_the_page_comes_back_at_the_next_open_line_with_its_fold_open(
    client, session, a_room
):
    """In a long walk: from the stops that stand open, from the fold of those further on."""
    for number in range(10):
        tank_id = make_tank(session, f"B{number}", litres=76, role=TankRole.BROODSTOCK)
        make_pair(session, f"F{number}", f"M{number}", tank_id=tank_id)
    for nth in (0, 9):
        page = client.get("/?round=morning").text
        forms = re.findall(
            r'value="(feed_pair[^" ]+)"><input[^>]+="round"[^>]+><input[^>]+"line" value="([^"]+)"',
            page,
        )  # fmt: skip
        task, line = forms[nth]
        sent = client.post("/today/done", data={
            "task": task, "round": "morning", "line": line, "key": f"k{nth}",
        })  # fmt: skip
        assert sent.status_code == 303
        at = f'id="{unquote(urlsplit(sent.location).fragment)}"'
        back = client.get(sent.location).text
        ahead, _, further = back.partition('<details class="folded" id="further"')
        assert (at in further) if nth else (at in ahead)
        assert further.startswith(" open>") is bool(nth)


@freeze_time(MORNING)
def test_all_pairs_are_fed_in_one_tap_and_a_round_is_put_off_in_two(client, session, a_room):
    for number in range(2):
        tank_id = make_tank(session, f"B{number}", litres=76, role=TankRole.BROODSTOCK)
        make_pair(session, f"F{number}", f"M{number}", tank_id=tank_id)

    def tapped(label: str, key: str) -> str:
        """The form whose button says that, sent as a browser sends it; the page it leads to."""
        form = next(part for part in client.get(address).text.split("<form ")
                    if f">{label}<" in part.partition("</form>")[0])  # fmt: skip
        named = r'name="([a-z_]+)" value="([^"]*)"'
        fields = re.findall(f"<input[^>]+{named}", form.partition("</form>")[0])
        fields += re.findall(f'<button class="button" {named}>{label}<', form)
        action = re.search(r'action="([^"]+)"', form)
        assert action
        sent = client.post(action[1], data={**dict(fields), "key": key})
        assert sent.status_code == 303
        return client.get(sent.location).text

    address = "/?round=morning"
    fed = tapped("All 4 pairs fed as planned", "a")
    assert fed.count("✓ 09:00") == 4
    task = re.search(r"/today/otherwise\?task=(feed_pair[^&]+)&", fed)
    assert task
    address = f"/today/otherwise?task={task[1]}"
    assert "✓ 09:00" not in tapped("Take back all 4 of that tap", "u")
    address = "/?round=morning"
    tapped("Midday", "m")
    assert client.get("/?round=midday").text.count("Feed pellets") >= 4
    assert "Feed pellets" not in client.get("/?round=morning").text


@freeze_time(MORNING)
def test_skipping_needs_a_word_and_keeps_what_was_typed(client, a_room):
    task = f"look_at_eggs:{a_room}:2026-11-24.morning"
    refused = client.post(
        "/today/otherwise", data={"task": task, "answer": "skipped", "reason": " ", "key": "k"}
    )
    assert refused.status_code == 422
    assert "Say in a word why it is skipped." in refused.text
    client.post(
        "/today/otherwise", data={"task": task, "answer": "skipped", "reason": "no time",
                                  "round": "morning", "key": "k2"},
    )  # fmt: skip
    assert "skipped: no time" in client.get("/?round=morning").text


@freeze_time(MORNING)
def test_put_off_moves_the_line_to_a_later_round(client, a_room):
    task = f"look_at_eggs:{a_room}:2026-11-24.morning"
    page = client.get(f"/today/otherwise?task={task}").text
    for later in ("Midday", "Before lights off", "Tomorrow"):
        assert later in page
    client.post(
        "/today/otherwise", data={"task": task, "answer": "put off", "key": "k",
                                  "until": "2026-11-24.midday", "round": "morning"},
    )  # fmt: skip
    assert "Look at the eggs" not in client.get("/?round=morning").text
    assert "put off until midday" in client.get("/?round=midday").text


@freeze_time(MORNING)
def test_done_differently_keeps_the_keepers_words_and_can_be_taken_back(client, a_room):
    task = f"look_at_eggs:{a_room}:2026-11-24.morning"
    client.post(
        "/today/otherwise", data={"task": task, "answer": "differently", "key": "k",
                                  "really": "looked through the side glass"},
    )  # fmt: skip
    assert "✓ 09:00, looked through the side glass" in client.get("/?round=morning").text
    page = client.get(f"/today/otherwise?task={task}").text
    fact_id = page.split('name="fact_id" value="')[1].split('"')[0]
    client.post("/today/undo", data={"fact_id": fact_id, "key": "u"})
    assert f'value="{task}"' in client.get("/?round=morning").text


@freeze_time(MORNING)
def test_matching_the_water_of_a_tank_says_that_it_is_ready(client, session, a_room):
    page = client.get("/?round=before-lights-off").text
    assert "Match temperature and salinity" in page
    task = page.split('name="task" value="match_water:')[1].split('"')[0]
    client.post("/today/done", data={"task": f"match_water:{task}", "key": "k"})
    assert "L5, filled and matched" in client.get(f"/tonight/{a_room}").text


@freeze_time("2026-11-25 06:30:00")
def test_the_rest_of_yesterday_is_let_go_in_one_tap(client, a_room):
    page = client.get("/?round=now").text
    assert "Let the rest of yesterday go" in page
    client.post("/today/let-go", data={"key": "k"})
    after = client.get("/?round=now").text
    assert "Let the rest of yesterday go" not in after


@freeze_time("2026-11-25 09:00:00")
def test_the_morning_asks_how_many_hatched_in_the_night(client, a_room):
    with freeze_time("2026-11-24 20:31:00"):
        client.post(f"/tonight/{a_room}/hatching", data={"key": "h"})
    page = client.get("/").text
    assert "Say how many hatched, and which tank they are in" in page
    assert "clutch 1, hatching seen Tue 24 Nov 20:31" in page


@freeze_time("2026-11-25 09:00:00")
def test_a_night_on_which_nobody_looked_is_asked_about_in_the_morning(client, a_room):
    page = client.get("/").text
    assert "Look whether it hatched last night" in page
    assert "nothing is written of the night of Tue 24 Nov" in page


@freeze_time(MORNING)
def test_a_round_that_no_day_has_is_not_found(client):
    assert client.get("/?round=teatime").status_code == 404


@freeze_time(MORNING)
def test_a_line_that_is_not_asked_for_is_not_found(client):
    assert client.get("/today/otherwise?task=look_at_eggs:7:2026-11-24.morning").status_code == 404


@freeze_time(MORNING)
def test_a_chore_stands_in_the_list_and_can_be_stopped(client, session, gannet_stair):
    tank_id = make_tank(session, "R1", role=TankRole.CULTURE)
    data = {"what": "Restart the vessel", "every": "days", "every_days": "7", "key": "k",
            "in_round": "morning", "tank_id": str(tank_id), "first_on": "2026-11-24"}  # fmt: skip
    assert client.post("/today/chores/new", data=data).status_code == 303
    assert "Restart the vessel" in client.get("/").text
    listed = client.get("/today/chores").text
    assert "every 7 days · morning · R1" in listed
    chore_id = listed.split("/today/chores/")[2].split("/")[0]
    client.post(f"/today/chores/{chore_id}/stop", data={"key": "s"})
    assert "stopped Tue 24 Nov" in client.get("/today/chores").text
    with freeze_time("2026-12-02 09:00:00"):
        assert "Restart the vessel" not in client.get("/").text


@freeze_time(MORNING)
def test_a_chore_that_comes_never_is_refused_with_all_that_was_typed(client):
    data = {"what": "Check the probe", "every": "monthly", "day_of_month": "40", "key": "k",
            "in_round": "midday", "first_on": "2026-11-24"}  # fmt: skip
    refused = client.post("/today/chores/new", data=data)
    assert refused.status_code == 422
    assert "A month has the days 1 to 31." in refused.text
    assert "Check the probe" in refused.text


def test_every_line_that_leads_to_a_page_can_name_its_address(app):
    with app.test_request_context():
        for kind, (endpoint, fact) in OPENS.items():
            assert url_for(endpoint, **{fact: 7}).startswith("/"), kind
        assert url_for("larval_tank.prey", holding_id=7).startswith("/")
