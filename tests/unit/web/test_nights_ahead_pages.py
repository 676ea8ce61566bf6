"""The nights ahead on Today and on a clutch: chances, the room's sum, and what to do when."""

from datetime import UTC, datetime, timedelta

import pytest
from freezegun import freeze_time

from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import When, night_of
from hatchery_app.services.clutch import clutch, clutch_page
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.today import today, today_facts
from tests.builders import make_pair, make_tank, read_temperature, set_set_point

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
LONG_AGO = datetime(2026, 1, 3, 9, 0, tzinfo=UTC)


def a_clutch(session, number: int, laid: datetime) -> int:
    home = make_tank(session, f"A{number}", litres=76, role=TankRole.BROODSTOCK, at=LONG_AGO)
    set_set_point(session, home, "27", at=LONG_AGO)
    pair = make_pair(session, f"Rusk {number}", f"Tansy {number}", tank_id=home, at=LONG_AGO)
    return spawn.record_laying(
        session, posting=Posting(now=laid), pair_id=pair, when=When.exactly(laid)
    )


def the_day(session, room, now=NOW) -> today.TodayPage:
    session.expire_all()
    session.rollback()
    facts = today_facts.load_day(session, library(), room=room, now=now)
    return today.today_page(session, facts)


@pytest.fixture
def two_clutches(session, gannet_stair):
    """One laid a week ago, one three days ago; one larval tank ready, one dirty, one barred."""
    first = a_clutch(session, 1, NOW - timedelta(days=7) + timedelta(hours=7))
    second = a_clutch(session, 2, NOW - timedelta(days=3) + timedelta(hours=7))
    make_tank(session, "L1", state=TankState.READY)
    make_tank(session, "L2", state=TankState.DIRTY)
    make_tank(session, "L3", state=TankState.BARRED)
    return first, second


def test_the_room_sums_its_clutches_against_its_tanks(session, gannet_stair, two_clutches):
    nights = the_day(session, gannet_stair).nights
    assert [watch.clutch_id for watch in nights.clutches] == list(two_clutches)
    assert len(nights.nights) == len(nights.sum.nights) == 14
    assert nights.sum.ready == 1
    # The first may have hatched unseen last night; L2 could be scrubbed: a tank for each.
    assert nights.sum.nights[-1].come_by == (1, 2)
    assert nights.sum.nights[-1].tanks == 2
    assert nights.sum.short_from is None
    assert {tank.label: tank.from_night is None for tank in nights.tanks} == {
        "L2": False, "L3": True,
    }  # fmt: skip


def test_a_tank_with_larvae_counts_once_they_should_have_settled(
    session, gannet_stair, two_clutches
):
    nursery = make_tank(session, "L4", state=TankState.READY)
    set_set_point(session, nursery, "27", at=LONG_AGO)
    night = night_of(NOW - timedelta(days=6), gannet_stair.lights(NOW), gannet_stair.room_time)
    moment = NOW - timedelta(days=5)
    larval_tank.move_in_batch(
        session, posting=Posting(now=moment), tank_id=nursery, stage=Stage.LARVAE,
        species_key="amphiprion_ocellaris", number=HowMany.about(90), hatched=(night, night),
        when=When.exactly(moment),
    )  # fmt: skip
    found = {tank.label: tank for tank in the_day(session, gannet_stair).nights.tanks}
    settles = library()["amphiprion_ocellaris"].larval.settlement
    assert "settled" in found["L4"].why
    # Settled at the plan's own days, or a little earlier at its warmth: within the fortnight.
    assert 4 <= found["L4"].from_night.number(night) <= settles.last_dph + 1


def test_a_clutch_without_a_temperature_is_counted_apart(session, gannet_stair, two_clutches):
    cold = make_tank(session, "A9", role=TankRole.BROODSTOCK, at=LONG_AGO)
    pair = make_pair(session, "Wren", "Otter", tank_id=cold, at=LONG_AGO)
    read_temperature(session, cold, "19", at=NOW - timedelta(days=4))
    read_temperature(session, cold, "19", at=NOW - timedelta(hours=2))
    laid = NOW - timedelta(days=4)
    spawn.record_laying(session, posting=Posting(now=laid), pair_id=pair, when=When.exactly(laid))
    nights = the_day(session, gannet_stair).nights
    assert (nights.sum.clutches, nights.sum.without_figure) == (2, 1)


@freeze_time(NOW)
def test_today_draws_the_nights_with_words_and_table(client, two_clutches):
    page = client.get("/").text
    section = page[page.index('id="nights"') :]
    assert section.count("<dt>be there</dt>") == 2
    assert section.count("<dt>look at the eggs</dt>") == 2
    assert "tanks ready by then" in section
    assert "There is a tank for each clutch on every one of these nights." in section
    assert "L3 not yet: barred" in section
    assert '<a href="#nights">1–2 clutches by Mon 7 Dec' in page
    for clutch_id in two_clutches:
        assert f'href="/clutches/{clutch_id}"' in section


@freeze_time(NOW)
def test_tonights_clutches_are_asked_for_before_the_work(client, two_clutches):
    page = client.get("/").text
    assert page.index('id="of-tonight"') < page.index('class="rounds"') < page.index('id="round"')


@freeze_time(NOW)
def test_a_clutch_says_prepare_be_there_and_look_after(client, two_clutches):
    page = client.get(f"/clutches/{two_clutches[1]}").text
    for words in ("prepare from", "be there", "look at the eggs"):
        assert f"<dt>{words}</dt>" in page
    # Hours of the lamp over it: from a quarter of an hour after lights-off.
    assert ", 20:15–23:00" in page


@freeze_time(NOW)
def test_a_clutch_shows_what_was_said_a_week_ago_under_what_came(client, session, two_clutches):
    first, second = two_clutches
    watched = NOW - timedelta(hours=10)
    clutch.record_check(
        session, posting=Posting(now=watched), clutch_id=first, kind=CheckKind.WATCHED_NONE,
        when=When.exactly(watched),
    )  # fmt: skip
    page = client.get(f"/clutches/{first}").text
    assert "Said Tue 17 Nov" in page
    assert '<g class="d-faint">' in page
    row = page[page.index("<tbody>") :]
    assert '<th scope="row">Mon 23 Nov</th>' in row
    assert "<td>none</td>" in row.split("</tr>")[0] + row.split("Mon 23 Nov")[1].split("</tr>")[0]
    # A clutch of three days has as its earlier forecast the first there was.
    assert "Said Sat 21 Nov" in client.get(f"/clutches/{second}").text


def test_what_was_said_a_week_ago_rests_on_what_was_known_then(session, gannet_stair, two_clutches):
    first, _second = two_clutches

    def said() -> clutch_page.SaidBefore:
        session.expire_all()
        session.rollback()
        found = clutch_page.clutch_page(
            session, library(), room=gannet_stair, clutch_id=first, now=NOW
        )
        assert found.before is not None
        return found.before

    before = said()
    tank_id = load_clutch(session, gannet_stair, first).place.tank_id
    read_temperature(session, tank_id, "29", at=NOW - timedelta(days=1))
    after = said()
    assert after.as_of == before.as_of
    assert after.forecast.nights == before.forecast.nights

