"""The day-book's pages: read, corrected, withdrawn, restored; the room and its keepers."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from freezegun import freeze_time
from sqlalchemy import select

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.when import RoomTime, When
from hatchery_app.models.clutch import Laying
from hatchery_app.models.entry import known
from hatchery_app.services.records import account, room
from hatchery_app.services.spawn import spawn
from hatchery_app.web.when_fields import WHEN, when_as_typed
from tests.builders import LONG_AGO, make_hatch, make_pair, make_tank, read_temperature

AT_NINE = freeze_time("2026-11-24 09:00:00")
LAID = datetime(2026, 11, 10, 17, 0, 33, tzinfo=UTC)


@pytest.fixture
def laying_id(session, gannet_stair, posted, owner):
    pair_id = make_pair(
        session, "Rusk", "Tansy", tank_id=make_tank(session, "B1"), at=LONG_AGO + timedelta(days=1)
    )
    spawn.record_laying(
        session, posting=posted(LAID + timedelta(days=3), key="laid", by_id=owner.id),
        pair_id=pair_id, when=When.exactly(LAID), eggs=HowMany.about(200),
    )  # fmt: skip
    return session.scalars(select(Laying.fact_id)).one()


def sent(client, url, **changed):
    """The form at this address sent back as a browser would, some fields changed."""
    page = client.get(url).text
    form = page[page.index('<form method="post"', page.index("<main")) :]
    form = form[: form.index("</form>")]
    filled = {}
    for given in re.findall(r"<input[^>]*>", form):
        named, value = re.search(r'name="([^"]+)"', given), re.search(r'value="([^"]*)"', given)
        if not re.search("checkbox|radio", given) or " checked" in given:
            filled[named[1]] = value[1]
    for name, options in re.findall(r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', form, re.S):
        chosen = re.search(r'<option selected value="([^"]*)"', options)
        filled[name] = chosen[1] if chosen else ""
    written = dict(re.findall(r'<textarea[^>]*name="([^"]+)"[^>]*>([^<]*)<', form))
    return client.post(url, data=filled | written | changed)


@AT_NINE
def test_the_day_book_shows_what_was_written_late_by_whom(client, laying_id):
    page = client.get("/records").text
    assert "Clutch 1: Rusk and Tansy laid, about 200 eggs" in page
    assert "by Ines, 3 days later" in page
    assert "Tue 10 Nov 17:00" in page


@AT_NINE
def test_the_day_book_is_read_by_room_and_by_day(client, laying_id):
    assert "Rusk and Tansy laid" in client.get("/records?room=spawn&day=2026-11-10").text
    assert "Rusk and Tansy laid" not in client.get("/records?room=tank").text
    assert "Rusk and Tansy laid" not in client.get("/records?day=2026-11-11").text
    refused = client.get("/records?day=yesterday")
    assert (refused.status_code, "is not a date" in refused.text) == (200, True)


@AT_NINE
def test_a_correction_begins_with_what_stands_and_keeps_what_stood(client, session, laying_id):
    answer = sent(client, f"/records/{laying_id}/correct", number="about 350")
    assert (answer.status_code, answer.location) == (303, f"/records/{laying_id}")
    page = client.get(answer.location).text
    assert "about 350 eggs" in page
    assert "about 200 eggs" in page.split("What it said before")[-1]
    (laying,) = session.scalars(select(Laying).where(known())).all()
    assert laying.when == When.exactly(LAID)  # not touched, so its seconds are not lost
    assert laying.number_best == 350


@AT_NINE
def test_a_moment_becomes_an_interval_without_typing_dates(client, session, laying_id):
    """Found at that hour, last looked the day before: both days stand filled in."""
    answer = sent(client, f"/records/{laying_id}/correct", when_how="between")
    assert answer.status_code == 303
    (laying,) = session.scalars(select(Laying).where(known())).all()
    assert laying.when.latest == LAID.replace(second=0, microsecond=0)
    assert timedelta(days=1) <= laying.when.latest - laying.when.earliest < timedelta(days=2)


def test_whole_days_stand_in_a_correction_as_they_were_said():
    lisbon = RoomTime("Europe/Lisbon")
    said = lisbon.whole_days(date(2026, 11, 19), date(2026, 11, 20))
    typed = when_as_typed(said, lisbon)
    assert [typed[name] for name in WHEN] == [
        "between", "", "", "2026-11-19", "", "2026-11-20", ""
    ]  # fmt: skip


@AT_NINE
def test_a_form_sent_back_as_it_stood_corrects_nothing(client, laying_id):
    answer = sent(client, f"/records/{laying_id}/correct")
    assert answer.status_code == 422
    assert "Nothing is changed yet." in answer.text


@AT_NINE
def test_a_wrong_number_is_refused_beside_its_field_with_all_that_was_typed(client, laying_id):
    answer = sent(client, f"/records/{laying_id}/correct", number="2.5", surface="tile by the wall")
    assert answer.status_code == 422
    assert "Fish are counted whole" in answer.text
    assert 'value="tile by the wall"' in answer.text
    assert 'value="2.5"' in answer.text


@AT_NINE
def test_tomorrow_is_refused_in_a_correction_too(client, laying_id):
    answer = sent(client, f"/records/{laying_id}/correct", at_on="2026-12-01")
    assert answer.status_code == 422
    assert "has not come yet" in answer.text
    # Said where it is seen: the fields of "At a time" are hidden while "Between" is chosen.
    between = {"when_how": "between", "from_on": "2026-12-01", "until_on": "2026-12-02"}
    page = sent(client, f"/records/{laying_id}/correct", **between).text
    assert page.index("has not come yet") < page.index('data-when-part="at"')


@AT_NINE
def test_a_laying_moved_after_its_hatch_leads_to_the_hatch(client, session, laying_id):
    from hatchery_app.models.clutch import Clutch

    clutch_id = session.scalars(select(Clutch.fact_id)).one()
    hatched_at = LAID + timedelta(days=8, hours=4)
    hatch_id = make_hatch(session, hatched_at=hatched_at, clutch_id=clutch_id)
    answer = sent(client, f"/records/{laying_id}/correct", at_on="2026-11-20", at_time="17:00")
    assert answer.status_code == 422
    assert f'href="/records/{hatch_id}"' in answer.text
    assert "Move these 10 days later with it" not in answer.text  # that would lie ahead of now


@AT_NINE
def test_a_reading_withdrawn_is_restored_from_its_page(client, session, gannet_stair):
    reading = read_temperature(session, make_tank(session, "L1"), "26.4", at=LAID)
    assert sent(client, f"/records/{reading}/withdraw", note="wrong tank").status_code == 303
    page = client.get(f"/records/{reading}").text
    assert "withdrawn" in page
    assert "“wrong tank”" in page
    assert client.post(f"/records/{reading}/restore", data={"key": "k"}).status_code == 303
    assert f'href="/records/{reading}/correct"' in client.get(f"/records/{reading}").text


@AT_NINE
def test_a_tank_with_eggs_in_it_is_not_withdrawn_and_says_what_rests_on_it(
    client, session, laying_id
):
    tank_id = session.scalars(select(Laying.tank_id)).one()
    answer = sent(client, f"/records/{tank_id}/withdraw")
    assert answer.status_code == 422
    assert f'href="/records/{laying_id}"' in answer.text


@AT_NINE
def test_an_entry_that_never_was_is_not_found(client):
    assert client.get("/records/99999").status_code == 404


@AT_NINE
def test_the_room_page_says_where_the_tablet_finds_it_and_when_it_was_copied(client, app):
    page = client.get("/records/room").text
    assert "Europe/Lisbon" in page
    assert "hatchery --host" in page
    assert "the room: on 08:00, off 20:00" in page


@AT_NINE
def test_the_owner_gives_accounts_and_nobody_else_does(client, session):
    url = "/records/room/add-keeper"
    added = sent(client, url, keeper_name="Bram", role="helper", password="eight-long",
                 again="eight-long")  # fmt: skip
    assert added.status_code == 303
    assert [one.name for one in account.keepers(session)] == ["Ines", "Bram"]
    twice = sent(client, url, keeper_name="bram", password="eight-long", again="eight-long")
    assert "bram has an account already." in twice.text
    bram = account.keepers(session)[1]
    with client.session_transaction() as cookie:
        cookie["keeper"], cookie["epoch"] = bram.id, bram.epoch
    assert client.get(url).status_code == 403
    assert client.get("/records/room/change-room").status_code == 403
    assert url not in client.get("/records/room").text


@AT_NINE
def test_the_room_is_renamed_from_a_day_on_and_its_old_name_stays_in_the_day_book(client, session):
    answer = sent(client, "/records/room/change-room", name="Gannet Loft")
    assert answer.status_code == 303
    assert room.room_now(session).name == "Gannet Loft"
    assert "The room: Gannet Stair" in client.get("/records?room=records").text


@AT_NINE
def test_a_racks_lamps_are_set_from_then_on(client, session):
    answer = sent(client, "/records/room/lamps", rack="A", lights_on="10:00", lights_off="22:00")
    assert answer.status_code == 303
    now = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
    lights = room.room_now(session).lamps.over(now, rack="A")
    assert (lights.on.hour, lights.off.hour) == (10, 22)
