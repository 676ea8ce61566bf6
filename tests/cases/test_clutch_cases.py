"""Field cases of eggs and their hatch, by number, through the services and the pages."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time
from typing import Any

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome, EggMove, HatchMethod, Sign
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.survival import NotComputable
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import Night, RoomTime, When
from hatchery_app.services.clutch import clutch, clutch_facts, clutch_page
from hatchery_app.services.clutch.clutch_watch import learned_for, load_record
from hatchery_app.services.larval_tank import larval_tank, larval_tank_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import room
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts
from tests.builders import make_pair, make_tank, read_temperature
from tests.conftest import signed_in

MAROON = "amphiprion_biaculeatus"
OCELLARIS = "amphiprion_ocellaris"
EASTERN = RoomTime("America/New_York")
LONG_AGO = datetime(2013, 1, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def eastern_room(session: Session, owner: Any) -> room.RoomNow:
    """A room in the US Northeast, lights 08:00 to 20:00."""
    room.set_up_room(
        session, posting=Posting(now=LONG_AGO, by_id=owner.id), name="Stairhead",
        zone_name="America/New_York", lights_on=time(8), lights_off=time(20),
    )  # fmt: skip
    return room.room_now(session)


def at(year: int, month: int, day: int, hour: int, minute: int = 0) -> datetime:
    """A moment of the eastern room."""
    return EASTERN.at(date(year, month, day), time(hour, minute))


def laid(
    session: Session, when: When, *, species_key: str, now: datetime, since: datetime = LONG_AGO
) -> tuple[int, int, int]:
    """A clutch of a pair in B1, and a vessel V1; gives clutch, tank and vessel."""
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=since)
    vessel = make_tank(session, "V1", role=TankRole.VESSEL, at=since)
    pair_id = make_pair(
        session, "Rusk", "Tansy", tank_id=tank_id, at=since, species_key=species_key
    )
    clutch_id = spawn.record_laying(session, posting=Posting(now=now), pair_id=pair_id, when=when)
    return clutch_id, tank_id, vessel


def page(session: Session, here: room.RoomNow, clutch_id: int, now: datetime) -> Any:
    return clutch_page.clutch_page(session, library(), room=here, clutch_id=clutch_id, now=now)


def facts(session: Session, here: room.RoomNow, clutch_id: int) -> clutch_facts.ClutchFacts:
    return clutch_facts.load_clutch(session, here, clutch_id)


def test_c01_a_date_read_after_midnight_and_a_tile_pulled_a_night_early(
    session: Session, eastern_room: room.RoomNow
) -> None:
    """C01. "Nights 6–8" is the keeper's own expectation; the maroon's constants are ours."""
    laying = at(2013, 12, 14, 17)
    clutch_id, tank_id, vessel = laid(session, When.exactly(laying), species_key=MAROON, now=laying)
    for day in range(14, 20):
        read_temperature(session, tank_id, "27.2", at=at(2013, 12, day, 18))
    midnight = at(2013, 12, 20, 0, 15)
    shown = page(session, eastern_room, clutch_id, midnight)
    assert shown.seen.tonight == Night(date(2013, 12, 19))
    assert shown.seen.night_number == 5
    forecast = shown.seen.forecast
    first, last = (night.number(shown.seen.laid_night) for night in forecast.window)
    assert first >= 5
    assert last >= 7
    assert forecast.likeliest.number(shown.seen.laid_night) in (6, 7)

    clutch.move_eggs(
        session, posting=Posting(now=midnight), clutch_id=clutch_id, why=EggMove.PULLED,
        when=When.exactly(midnight), tank_id=vessel,
    )  # fmt: skip
    for moment, share in ((at(2013, 12, 20, 8, 30), "a handful"), (at(2013, 12, 20, 23), "a few")):
        clutch.record_hatch(
            session, posting=Posting(now=moment, answers={"early_hatch": "so"}),
            clutch_id=clutch_id, when=When.exactly(moment), library=library(), share=share,
        )  # fmt: skip
    after = facts(session, eastern_room, clutch_id)
    nights = [part.nights.first.number(Night(date(2013, 12, 14))) for part in after.hatches]
    assert nights == [5, 6]
    assert after.hatches[0].found_by_day
    assert not after.hatches[0].number.is_known

    # 3 alive on the 22nd, 1 on the 26th, none on the 27th: of how many nobody knows.
    batch = larval_tank.put_larvae_in_tank(
        session, posting=Posting(now=at(2013, 12, 20, 23)), hatch_id=after.hatches[1].fact_id,
        when=When.exactly(at(2013, 12, 20, 23)),
        parts=[larval_tank.Part(make_tank(session, "L1", at=LONG_AGO), HowMany.unknown())],
    )  # fmt: skip
    for day, alive in ((22, 3), (26, 1), (27, 0)):
        counted = at(2013, 12, day, 12)
        counts.record_count(
            session, posting=Posting(now=counted), holding_id=batch,
            number=HowMany.counted(alive), when=When.exactly(counted),
        )  # fmt: skip
    ended = larval_tank_page.larval_tank_page(session, holding_id=batch, now=at(2013, 12, 28, 12))
    assert ended.balance.now == HowMany.counted(0)
    assert isinstance(ended.survival, NotComputable)
    assert "%" not in ended.survival.said()


def test_c01_the_page_says_which_night_it_is_and_warns_of_the_early_pull(
    session: Session, owner: Any, eastern_room: room.RoomNow, app: Any
) -> None:
    """C01 through the pages: at 00:15 it is still the night before, and a pull is warned of."""
    laying = at(2013, 12, 14, 17)
    clutch_id, tank_id, vessel = laid(
        session, When.exactly(laying), species_key=OCELLARIS, now=laying
    )
    for day in range(14, 20):
        read_temperature(session, tank_id, "27.0", at=at(2013, 12, day, 18))
    browser = signed_in(app, owner)
    with freeze_time(at(2013, 12, 19, 0, 15)):
        form = browser.get(f"/clutches/{clutch_id}/move").get_data(as_text=True)
        assert "Tonight is the night of Wed 18 Dec, night 4." in form
        answer = browser.post(
            f"/clutches/{clutch_id}/move",
            data={"why": "pulled", "tank_id": str(vessel), "tended_by_pair_id": "0"},
            follow_redirects=True,
        )
    assert answer.status_code == 200
    assert "this is early" in answer.get_data(as_text=True)


def test_c03_tuesday_or_wednesday_is_an_interval_and_widens_the_nights(
    session: Session, gannet_stair: room.RoomNow
) -> None:
    """C03. Found Wed 11:00, last looked Mon 21:00: both are kept, and the window widens."""
    lisbon = gannet_stair.room_time
    since = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)
    now = lisbon.at(date(2026, 11, 18), time(11, 0))
    between = When.between(lisbon.at(date(2026, 11, 16), time(21, 0)), now)
    vague, _, _ = laid(session, between, species_key=OCELLARIS, now=now, since=since)
    shown = page(session, gannet_stair, vague, now)
    assert shown.seen.clutch.laid.span == between.span
    exact_clutch = spawn.record_laying(
        session, posting=Posting(now=now, answers={"same_laying": "another"}),
        pair_id=shown.seen.clutch.pair_id, when=When.exactly(between.middle),
    )  # fmt: skip
    sharp = page(session, gannet_stair, exact_clutch, now)

    def spread(seen: Any) -> float:
        first, last = seen.forecast.window
        return float(last.number(first))

    assert spread(shown.seen) >= spread(sharp.seen)
    wide = [n.chance for n in shown.seen.forecast.nights]
    narrow = [n.chance for n in sharp.seen.forecast.nights]
    assert max(wide) < max(narrow)
    # Eyes already dark at the finding narrow it from the other side.
    before = shown.seen.forecast
    clutch.record_check(
        session, posting=Posting(now=now), clutch_id=vague, kind=CheckKind.SIGN, sign=Sign.EYES,
        seen=False, when=When.exactly(now),
    )  # fmt: skip
    after = page(session, gannet_stair, vague, now).seen.forecast
    assert [n.chance for n in after.nights] != [n.chance for n in before.nights]


def test_c05_a_hatch_over_two_nights_keeps_the_clutch_open_between(
    session: Session, eastern_room: room.RoomNow
) -> None:
    """C05. None by 05:00 is a fact; a third found by day counts to the night just past."""
    laying = at(2013, 11, 28, 16)
    clutch_id, tank_id, vessel = laid(session, When.exactly(laying), species_key=MAROON, now=laying)
    for day in range(28, 31):
        read_temperature(session, tank_id, "80.5 F", at=at(2013, 11, day, 18))
    for day in range(1, 5):
        read_temperature(session, tank_id, "81 F", at=at(2013, 12, day, 18))
    five = at(2013, 12, 5, 5)
    for kind, when in ((CheckKind.WATCHED_NONE, five),):
        clutch.record_check(
            session, posting=Posting(now=when), clutch_id=clutch_id, kind=kind,
            when=When.exactly(when),
        )  # fmt: skip
    clutch.move_eggs(
        session, posting=Posting(now=five), clutch_id=clutch_id, why=EggMove.PULLED,
        when=When.exactly(five), tank_id=vessel,
    )  # fmt: skip
    found = at(2013, 12, 5, 14)
    clutch.record_hatch(
        session, posting=Posting(now=found), clutch_id=clutch_id, when=When.exactly(found),
        library=library(), share="about a third", after_handling=True,
    )  # fmt: skip
    between = facts(session, eastern_room, clutch_id)
    assert between.is_open
    part = between.hatches[0]
    assert part.nights.first == Night(date(2013, 12, 4))
    assert part.nights.first.number(Night(date(2013, 11, 28))) == 6
    assert (part.found_by_day, part.after_handling, part.hour_known) == (True, True, False)
    assert part.method is HatchMethod.MOVED_LATE
    rest = page(session, eastern_room, clutch_id, found).seen.forecast
    assert rest.part_hatched
    assert rest.likeliest == Night(date(2013, 12, 5))
    night = at(2013, 12, 5, 21)
    clutch.record_hatch(
        session, posting=Posting(now=night), clutch_id=clutch_id, when=When.exactly(night),
        library=library(), all_hatched=True,
    )  # fmt: skip
    over = facts(session, eastern_room, clutch_id)
    assert [p.nights.first.evening.day for p in over.hatches] == [4, 5]
    assert over.ending is not None
    assert over.ending.outcome is ClutchOutcome.HATCHED


def test_c07_today_or_tomorrow_evening(session: Session, owner: Any) -> None:
    """C07. A watch in vain is a fact, the hatch belongs to the evening, 40 min are learned."""
    room.set_up_room(
        session, posting=Posting(now=LONG_AGO, by_id=owner.id), name="Blog",
        zone_name="Europe/Paris",
        lights_on=time(10), lights_off=time(22),
    )  # fmt: skip
    here = room.room_now(session)
    paris = here.room_time
    laying = paris.at(date(2015, 7, 29), time(18, 0))
    clutch_id, _, _ = laid(session, When.exactly(laying), species_key=OCELLARIS, now=laying)
    saved = paris.at(date(2015, 8, 6), time(0, 21))
    clutch.record_check(
        session, posting=Posting(now=saved), clutch_id=clutch_id, kind=CheckKind.WATCHED_NONE,
        when=When.exactly(saved),
    )  # fmt: skip
    first = paris.at(date(2015, 8, 6), time(22, 40))
    saved_later = paris.at(date(2015, 8, 7), time(1, 17))
    clutch.record_hatch(
        session, posting=Posting(now=saved_later), clutch_id=clutch_id, when=When.exactly(first),
        library=library(), number=HowMany.about(100), all_hatched=True,
    )  # fmt: skip
    seen = facts(session, here, clutch_id)
    watched = seen.checks[0]
    assert watched.kind is CheckKind.WATCHED_NONE
    assert watched.night == Night(date(2015, 8, 5))
    (part,) = seen.hatches
    assert part.nights.first == Night(date(2015, 8, 6))
    assert part.number.said() == "about 100"
    next_one = spawn.record_laying(
        session, posting=Posting(now=saved_later), pair_id=seen.pair_id,
        when=When.exactly(saved_later),
    )  # fmt: skip
    learned = page(session, here, next_one, saved_later)
    record = load_record(session, here, library(), [OCELLARIS], saved_later)
    assert learned_for(learned.seen.clutch, record).delays_minutes == (40.0,)
    assert learned.seen.forecast.pair_hatches == 1


def test_c22_eggs_given_to_another_pair_keep_their_parents(
    session: Session, gannet_stair: room.RoomNow, posted: Callable[..., Posting], now: datetime
) -> None:
    """C22. Who made the eggs and who tends them are two things."""
    since = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)
    clutch_id, _, _ = laid(
        session, When.exactly(now), species_key="amphiprion_percula", now=now, since=since
    )
    theirs = make_tank(session, "M1", role=TankRole.BROODSTOCK, at=since)
    maroons = make_pair(session, "Merle", "Ditto", tank_id=theirs, at=since, species_key=MAROON)
    before = facts(session, gannet_stair, clutch_id)
    clutch.move_eggs(
        session, posting=posted(), clutch_id=clutch_id, why=EggMove.GIVEN,
        when=When.exactly(now), tank_id=theirs, tended_by_pair_id=maroons,
    )  # fmt: skip
    after = page(session, gannet_stair, clutch_id, now).seen
    assert after.clutch.parents == before.parents
    assert after.clutch.species_key == "amphiprion_percula"
    assert after.parents_said == "Rusk and Tansy" or "Rusk" in after.parents_said
    assert after.tended_by == "Merle and Ditto"
    assert after.clutch.place.tank_label == "M1"
    assert clutch_facts.load_clutches(session, gannet_stair, pair_ids=[maroons]) == []


def test_c75_owner_and_helper_both_tell_of_the_hatch(
    session: Session, gannet_stair: room.RoomNow, posted: Callable[..., Posting]
) -> None:
    """C75. The same clutch and night: it is asked, never added."""
    lisbon = gannet_stair.room_time
    since = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)
    laying = lisbon.at(date(2026, 11, 16), time(17, 0))
    clutch_id, _, _ = laid(
        session, When.exactly(laying), species_key=OCELLARIS, now=laying, since=since
    )
    helper, owner_at = (lisbon.at(date(2026, 11, 24), time(22, 50)),
                        lisbon.at(date(2026, 11, 24), time(23, 30)))  # fmt: skip
    clutch.record_hatch(
        session, posting=posted(at=helper), clutch_id=clutch_id, when=When.exactly(helper),
        library=library(), number=HowMany.about(80),
    )  # fmt: skip
    with pytest.raises(Asked) as asked:
        clutch.record_hatch(
            session, posting=posted(at=owner_at), clutch_id=clutch_id,
            when=When.exactly(owner_at), library=library(),
        )  # fmt: skip
    assert asked.value.question == "same_hatch"
    assert "about 80" in asked.value.sentence
    assert len(facts(session, gannet_stair, clutch_id).hatches) == 1


def test_c79_a_hatch_dated_tomorrow_is_offered_as_tonight(
    client: FlaskClient, session: Session
) -> None:
    """C79. Typed at 23:50 for tonight: tomorrow's hatch can only be planned."""
    now = datetime(2026, 11, 24, 23, 50, tzinfo=UTC)
    since = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)
    laying = datetime(2026, 11, 16, 17, 0, tzinfo=UTC)
    clutch_id, _, _ = laid(
        session, When.exactly(laying), species_key=OCELLARIS, now=laying, since=since
    )
    typed = {"how_much": "all", "number": "about 60", "when_how": "at", "at_on": "2026-11-25",
             "at_time": "23:40"}  # fmt: skip
    with freeze_time(now):
        asked = client.post(f"/clutches/{clutch_id}/hatch", data=typed)
        text = asked.get_data(as_text=True)
        assert asked.status_code == 422
        assert "answer-tonight" in text
        assert 'value="about 60"' in text
        here = room.room_now(session)
        assert facts(session, here, clutch_id).hatches == ()
        value = text.split('name="answer-tonight" value="')[1].split('"')[0]
        saved = client.post(f"/clutches/{clutch_id}/hatch", data=typed | {"answer-tonight": value})
    assert saved.status_code == 303
    (part,) = facts(session, here, clutch_id).hatches
    assert part.nights.first == Night(date(2026, 11, 24))


def test_a_hatch_before_the_laying_is_refused_with_both_dates(
    session: Session, gannet_stair: room.RoomNow, posted: Callable[..., Posting], now: datetime
) -> None:
    since = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)
    clutch_id, _, _ = laid(session, When.exactly(now), species_key=OCELLARIS, now=now, since=since)
    with pytest.raises(RuleBroken, match="before the eggs were laid"):
        clutch.record_hatch(
            session, posting=posted(), clutch_id=clutch_id, library=library(),
            when=When.exactly(datetime(2026, 11, 20, 22, 0, tzinfo=UTC)),
        )  # fmt: skip


def test_a_hatch_before_the_earliest_night_is_asked_about(
    session: Session, gannet_stair: room.RoomNow, posted: Callable[..., Posting], now: datetime
) -> None:
    since = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)
    clutch_id, tank_id, _ = laid(
        session, When.exactly(now), species_key=OCELLARIS, now=now, since=since
    )
    read_temperature(session, tank_id, "26.5", at=now)
    two_days_on = datetime(2026, 11, 26, 22, 0, tzinfo=UTC)
    with pytest.raises(Asked, match="earliest night"):
        clutch.record_hatch(
            session, posting=posted(at=two_days_on), clutch_id=clutch_id, library=library(),
            when=When.exactly(two_days_on),
        )  # fmt: skip
