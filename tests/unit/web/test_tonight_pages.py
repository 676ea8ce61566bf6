"""Tonight: one clutch a screen, its four answers, the last one taken back."""

from datetime import UTC, datetime, timedelta

import pytest
from freezegun import freeze_time

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch_facts
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.tank import tank
from hatchery_app.services.today import tonight
from tests.builders import make_batch, make_pair, make_tank, set_set_point

NIGHT_7 = "2026-11-24 20:31:00"
LAID = datetime(2026, 11, 17, 16, 0, tzinfo=UTC)


def a_clutch(session, female="Rusk", male="Tansy", label="A3", laid=LAID):
    tank_id = make_tank(session, label, litres=76, role=TankRole.BROODSTOCK)
    set_set_point(session, tank_id, "27", at=datetime(2026, 1, 3, tzinfo=UTC))
    pair_id = make_pair(session, female, male, tank_id=tank_id)
    return spawn.record_laying(
        session, posting=Posting(now=laid), pair_id=pair_id, when=When.exactly(laid)
    )


def facts_of(session, room, clutch_id):
    session.expire_all()
    return clutch_facts.load_clutch(session, room, clutch_id)


@pytest.fixture
def clutch_id(session, gannet_stair):
    make_tank(session, "L4", state=TankState.READY)
    return a_clutch(session)


@freeze_time(NIGHT_7)
def test_after_lights_off_the_first_page_is_the_clutch_whose_night_it_may_be(client, clutch_id):
    page = client.get("/").text
    assert "Rusk and Tansy" in page
    assert "Tonight is the night of Tue 24 Nov, night 7. Expected night" in page
    assert "L4, filled and matched" in page
    for answer in ("Nothing yet", "Hatching", "Pulled", "Gone"):
        assert answer in page


@freeze_time("2026-11-25 00:15:00")
def test_after_midnight_it_is_still_the_night_before(client, clutch_id):
    assert "Tonight is the night of Tue 24 Nov, night 7." in client.get("/").text


@freeze_time(NIGHT_7)
def test_nothing_yet_keeps_the_watch_and_the_look(client, session, gannet_stair, clutch_id):
    answered = client.post(f"/tonight/{clutch_id}/nothing-yet", data={"key": "k1"})
    assert answered.status_code == 303
    checks = facts_of(session, gannet_stair, clutch_id).checks
    assert [str(check.kind) for check in checks] == ["watched, none hatched"]
    assert checks[0].when == When.exactly(datetime(2026, 11, 24, 20, 31, tzinfo=UTC))
    page = client.get("/").text
    assert "20:51, then every 20 min" in page
    assert "none by 20:31 is saved" in page  # on the button itself, so that nobody taps twice


@freeze_time(NIGHT_7)
def test_hatching_saves_the_hour_at_once_and_asks_how_many_in_the_morning(
    client, session, gannet_stair, clutch_id
):
    answered = client.post(f"/tonight/{clutch_id}/hatching", data={"key": "k2"})
    assert answered.status_code == 303
    (part,) = facts_of(session, gannet_stair, clutch_id).hatches
    assert part.when.earliest == datetime(2026, 11, 24, 20, 31, tzinfo=UTC)
    assert not part.number.is_known
    page = client.get(answered.location).text
    assert "Hatching since 20:31" in page
    assert "of 10" not in page  # no chance is said of what is hatching
    assert "Rest stays" not in page  # it had answered nothing; what stays is watched without it
    assert "watched again next night" in page
    assert "hatching since 20:31" in client.get("/?round=tonight").text
    assert "All hatched" in page


@freeze_time(NIGHT_7)
def test_all_hatched_ends_the_clutch_and_undo_opens_it_again(
    client, session, gannet_stair, clutch_id
):
    client.post(f"/tonight/{clutch_id}/hatching", data={"key": "k3"})
    client.post(f"/tonight/{clutch_id}/all-hatched", data={"key": "k4"})
    ending = facts_of(session, gannet_stair, clutch_id).ending
    assert ending is not None
    page = client.get("/tonight").text
    assert "Undo last: “hatched 20:31”" in page
    client.post("/tonight/undo", data={"fact_id": ending.fact_id, "key": "k5"})
    assert facts_of(session, gannet_stair, clutch_id).is_open


@freeze_time(NIGHT_7)
def test_pulled_takes_a_second_tap_for_the_tank(client, session, gannet_stair, clutch_id):
    page = client.get(f"/tonight/{clutch_id}/pulled").text
    assert "L4" in page
    assert "40 L · filled and matched" in page
    ready = tonight.tonight(
        session, library(), room=gannet_stair, now=datetime(2026, 11, 24, 20, 31, tzinfo=UTC)
    ).walk.ready[0]
    client.post(f"/tonight/{clutch_id}/pulled", data={"tank_id": ready.tank_id, "key": "k6"})
    assert "tile covered" not in client.get(f"/tonight/{clutch_id}").text  # it is pulled
    assert facts_of(session, gannet_stair, clutch_id).place.tank_label == "L4"


@freeze_time("2026-11-21 00:15:00")
def test_pulling_before_the_first_night_is_warned_of_and_still_taken(client, clutch_id):
    page = client.get(f"/tonight/{clutch_id}/pulled").text
    assert "Tonight is the night of Fri 20 Nov, night 3. Expected night" in page
    assert "Pulled now they lie without their parents" in page


@freeze_time(NIGHT_7)
def test_gone_says_how_and_ends_the_clutch(client, session, gannet_stair, clutch_id):
    assert "Eaten" in client.get(f"/tonight/{clutch_id}/gone").text
    client.post(f"/tonight/{clutch_id}/gone", data={"outcome": "eaten", "key": "k7"})
    ending = facts_of(session, gannet_stair, clutch_id).ending
    assert ending is not None
    assert str(ending.outcome) == "eaten"


@freeze_time(NIGHT_7)
def test_a_tap_that_arrives_twice_is_one_look(client, session, gannet_stair, clutch_id):
    for _ in range(2):
        client.post(f"/tonight/{clutch_id}/nothing-yet", data={"key": "same"})
    assert len(facts_of(session, gannet_stair, clutch_id).checks) == 1


@freeze_time(NIGHT_7)
def test_two_clutches_are_walked_one_after_the_other(client, session, clutch_id):
    other = a_clutch(session, "Merle", "Ditto", "A4", datetime(2026, 11, 18, 16, tzinfo=UTC))
    page = client.get("/").text
    assert "tonight, 1 of 2" in page
    assert "Next: Merle and Ditto" in page
    answered = client.post(f"/tonight/{clutch_id}/nothing-yet", data={"key": "k8"})
    assert answered.location.endswith(f"/tonight/{other}")


@freeze_time(NIGHT_7)
def test_a_night_without_a_clutch_says_so(client, session):
    page = client.get("/tonight").text
    assert "No eggs in the room" in page
    assert "night of Tue 24 Nov" in page


@freeze_time(NIGHT_7)
def test_only_an_answer_given_at_the_eggs_is_taken_back_here(client, session, clutch_id):
    assert client.post("/tonight/undo", data={"fact_id": "99999", "key": "k9"}).status_code == 404
    refused = client.post("/tonight/undo", data={"fact_id": clutch_id, "key": "k10"})
    assert refused.status_code == 422
    assert "Only an answer given at the eggs" in refused.text


@freeze_time(NIGHT_7)
def test_a_hatch_whose_larvae_are_in_a_tank_is_not_taken_back_here(
    client, session, gannet_stair, clutch_id
):
    client.post(f"/tonight/{clutch_id}/hatching", data={"key": "k11"})
    (part,) = facts_of(session, gannet_stair, clutch_id).hatches
    tank_id = tank.tank_choices(session, role=TankRole.LARVAL)[0].tank_id
    now = datetime(2026, 11, 24, 20, 40, tzinfo=UTC)
    larval_tank.put_larvae_in_tank(
        session, posting=Posting(now=now), hatch_id=part.fact_id, when=When.exactly(now),
        parts=(larval_tank.Part(tank_id, HowMany.about(200)),),
    )  # fmt: skip
    refused = client.post("/tonight/undo", data={"fact_id": part.fact_id, "key": "k12"})
    assert refused.status_code == 422
    assert "Larvae of this hatch are in a tank already" in refused.text
    assert facts_of(session, gannet_stair, clutch_id).hatches


def test_the_second_night_of_a_hatch_offers_the_tank_of_its_siblings(
    client, session, gannet_stair
):
    """And where nothing is free, the first food is for no tank that holds older larvae."""
    make_batch(session, make_tank(session, "L1"), hatched_at=LAID - timedelta(days=8))
    clutch_id = a_clutch(session)
    night_6 = datetime(2026, 11, 23, 20, 40, tzinfo=UTC)
    with freeze_time(NIGHT_7):
        page = client.get(f"/tonight/{clutch_id}").text
        assert "no larval tank is free" in page
        assert "for a tank of" in page
        assert "for L1" not in page
    make_batch(
        session, make_tank(session, "L8", litres=40), number="150", clutch_id=clutch_id,
        hatched_at=night_6,
    )  # fmt: skip
    with freeze_time(NIGHT_7):
        page = client.get(f"/tonight/{clutch_id}").text
    assert "L8, with its siblings (150 counted in 40 L)" in page
    assert "no larval tank is free" not in page
