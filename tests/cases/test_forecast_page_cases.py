"""Field cases of the hatch forecast as a keeper meets them: typed into the pages, read off them."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app import clock
from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch
from hatchery_app.services.clutch.clutch_facts import load_clutch, load_clutches
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import room
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from tests.builders import make_pair, make_tank, read_temperature
from tests.conftest import signed_in

LONG_AGO = datetime(2013, 1, 1, 12, 0, tzinfo=UTC)


def set_up(
    session: Session, owner: Any, zone: str, *, on: time = time(8), off: time = time(20)
) -> room.RoomNow:
    room.set_up_room(
        session, posting=Posting(now=LONG_AGO, by_id=owner.id), name="Gannet Stair",
        zone_name=zone, lights_on=on, lights_off=off,
    )  # fmt: skip
    return room.room_now(session)


def nest(session: Session) -> tuple[int, int]:
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    pair_id = make_pair(
        session, "Rusk", "Tansy", tank_id=tank_id, at=LONG_AGO, species_key="amphiprion_ocellaris"
    )
    return tank_id, pair_id


def laid(session: Session, pair_id: int, at: datetime) -> int:
    return spawn.record_laying(
        session, posting=Posting(now=at), pair_id=pair_id, when=When.exactly(at)
    )


def words(answer: Any) -> str:
    assert answer.status_code in (200, 422)
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))
    return text.replace("&#39;", "'").replace("&amp;", "&")


def test_c08_the_night_of_the_tenth_day_is_asked_about_before_it_is_stored(
    session: Session, owner: Any, app: Any
) -> None:
    """C08. Day 10 on 29 Oct: laid on the 19th or the 20th; asked which, typed words kept."""
    here = set_up(session, owner, "Europe/Berlin", on=time(9), off=time(23))
    german = here.room_time
    tank_id, pair_id = nest(session)
    for day in range(18, 30):
        read_temperature(session, tank_id, "26.0", at=german.at(date(2013, 10, day), time(12)))
    browser = signed_in(app, owner)
    typed = {
        "when_how": "day_count", "day_number": "10", "day_on": "2013-10-29", "eggs": "about 200",
    }  # fmt: skip
    with freeze_time(german.at(date(2013, 10, 29), time(18))):
        asked = browser.post(f"/spawns/of/{pair_id}", data=typed)
        assert asked.status_code == 422
        assert "is the day of the laying day 0 or day 1?" in words(asked)
        assert "Day 0: laid Sat 19 Oct" in words(asked)
        assert 'value="about 200"' in asked.text
        assert load_clutches(session, here) == []
        saved = browser.post(
            f"/spawns/of/{pair_id}", data=typed | {"answer-counted_from": "0", "key": "d" * 9}
        )
        assert saved.status_code == 303
        shown = words(browser.get(saved.location))
    # Night 0 is that of the 19th, so that tonight is night 10 whatever the clocks did on the 27th.
    assert "night 10" in shown
    assert "day 10 on Tue 29 Oct, so laid Sat 19 Oct" in shown
    (one,) = load_clutches(session, here)
    assert german.local(one.laid.earliest).date() == date(2013, 10, 19)


def test_c08_who_does_not_know_how_it_was_counted_gets_a_night_more(
    session: Session, owner: Any, app: Any
) -> None:
    """C08. Either day: stored as an interval of both, said so, and the window the wider for it."""
    here = set_up(session, owner, "Europe/Berlin", on=time(9), off=time(23))
    german = here.room_time
    tank_id, pair_id = nest(session)
    for day in range(18, 26):
        read_temperature(session, tank_id, "26.0", at=german.at(date(2013, 10, day), time(12)))
    browser = signed_in(app, owner)
    spread = {}
    with freeze_time(german.at(date(2013, 10, 25), time(18))):
        for answer in ("1", "either"):
            typed = {
                "when_how": "day_count", "day_number": "6", "day_on": "2013-10-25",
                "answer-counted_from": answer, "answer-same_laying": "another",
                "key": answer * 9,
            }  # fmt: skip
            saved = browser.post(f"/spawns/of/{pair_id}", data=typed)
            assert saved.status_code == 303
            shown = words(browser.get(saved.location))
            clutch_id = int(saved.location.rsplit("/", 1)[1])
            spread[answer] = load_clutch(session, here, clutch_id).laid.span
            assert "be there" in shown
        assert "counted as 0 or as 1" in shown
    assert spread["either"] == spread["1"] + timedelta(days=1)


def test_c08_a_day_that_is_no_number_is_refused_with_all_that_was_typed(
    session: Session, owner: Any, app: Any
) -> None:
    here = set_up(session, owner, "Europe/Berlin")
    _tank_id, pair_id = nest(session)
    browser = signed_in(app, owner)
    typed = {"when_how": "day_count", "day_number": "tenth", "surface": "pot"}
    with freeze_time(here.room_time.at(date(2013, 10, 25), time(12))):
        refused = browser.post(f"/spawns/of/{pair_id}", data=typed)
    assert refused.status_code == 422
    assert "Say the day as a number: 10 for the tenth day." in words(refused)
    assert 'value="tenth"' in refused.text
    assert 'value="pot"' in refused.text


@pytest.fixture
def it_is(monkeypatch: pytest.MonkeyPatch) -> Callable[[datetime], None]:
    """Sets the program's clock alone: a frozen datetime forgets which of two hours it is."""
    return lambda at: monkeypatch.setattr(clock, "now", lambda: at)


def test_c09_an_hour_that_came_twice_is_asked_about_on_the_page(
    session: Session, owner: Any, app: Any, it_is: Callable[[datetime], None]
) -> None:
    """C09. 01:30 on 1 Nov 2026, US Eastern: asked which, kept as the instant that was meant."""
    here = set_up(session, owner, "America/New_York")
    eastern = here.room_time
    _tank_id, pair_id = nest(session)
    clutch_id = laid(session, pair_id, eastern.at(date(2026, 10, 24), time(17)))
    browser = signed_in(app, owner)
    it_is(eastern.at(date(2026, 11, 1), time(7)))
    typed = {"how_much": "all", "when_how": "at", "at_on": "2026-11-01", "at_time": "01:30"}
    asked = browser.post(f"/clutches/{clutch_id}/hatch", data=typed)
    assert asked.status_code == 422
    assert "01:30 on Sun 1 Nov came twice. Which one was it?" in words(asked)
    assert load_clutch(session, here, clutch_id).hatches == ()
    saved = browser.post(
        f"/clutches/{clutch_id}/hatch", data=typed | {"answer-fold": "1", "key": "t" * 9}
    )
    assert saved.status_code == 303
    (part,) = load_clutch(session, here, clutch_id).hatches
    assert part.when.earliest == datetime(2026, 11, 1, 6, 30, tzinfo=UTC)
    assert part.nights.first.label == "Sat 31 Oct"


def test_c09_an_hour_that_never_came_is_asked_about_on_the_page(
    session: Session, owner: Any, app: Any, it_is: Callable[[datetime], None]
) -> None:
    """C09. 02:30 on 8 Mar 2026 did not exist: which time is meant, and what was typed stays."""
    here = set_up(session, owner, "America/New_York")
    eastern = here.room_time
    _tank_id, pair_id = nest(session)
    clutch_id = laid(session, pair_id, eastern.at(date(2026, 2, 28), time(17)))
    browser = signed_in(app, owner)
    it_is(eastern.at(date(2026, 3, 8), time(12)))
    typed = {"how_much": "all", "when_how": "at", "at_on": "2026-03-08", "at_time": "02:30"}
    asked = browser.post(f"/clutches/{clutch_id}/hatch", data=typed)
    assert asked.status_code == 422
    assert 'value="02:30"' in asked.text
    assert "02:30 on Sun 8 Mar never came. Which time is meant?" in words(asked)
    assert load_clutch(session, here, clutch_id).hatches == ()


def test_c10_the_owner_from_afar_sees_the_rooms_nights(
    session: Session, owner: Any, app: Any
) -> None:
    """C10. At 22:30 on the west coast it is past midnight in the room: still Saturday's night."""
    here = set_up(session, owner, "America/New_York")
    _tank_id, pair_id = nest(session)
    clutch_id = laid(session, pair_id, here.room_time.at(date(2026, 11, 13), time(17)))
    browser = signed_in(app, owner)
    with freeze_time(datetime(2026, 11, 22, 6, 30, tzinfo=UTC)):  # 01:30 Sunday in the room
        shown = words(browser.get(f"/clutches/{clutch_id}"))
        today = words(browser.get("/?round=now"))
    assert "room time 01:30" in shown
    assert "tonight night 8" in shown
    assert "Tonight is the night of Sat 21 Nov." in today


def cold_spell(session: Session, tank_id: int, laying: datetime) -> None:
    failed = laying + timedelta(days=3)
    for hour in range(0, 24 * 8, 6):
        at = laying + timedelta(hours=hour)
        cold = failed <= at < failed + timedelta(hours=30)
        for moment in (at, at + timedelta(hours=5, minutes=59)):
            read_temperature(session, tank_id, "23.5" if cold else "27.0", at=moment)


def test_c19_the_page_says_why_it_is_later_and_keeps_the_old_window(
    session: Session, gannet_stair: room.RoomNow, app: Any, owner: Any
) -> None:
    """C19. The reason in words, and under the new chances those of before the heater failed."""
    tank_id, pair_id = nest(session)
    laying = gannet_stair.room_time.at(date(2026, 11, 9), time(17))
    clutch_id = laid(session, pair_id, laying)
    cold_spell(session, tank_id, laying)
    with freeze_time(laying + timedelta(days=6)):
        page = signed_in(app, owner).get(f"/clutches/{clutch_id}")
    assert "30 h at 23.5 °C" in words(page)
    assert "Said Mon 9 Nov" in words(page)
    assert '<g class="d-faint">' in page.text


def test_c20_n_stands_beside_the_window_on_the_page(
    session: Session, gannet_stair: room.RoomNow, app: Any, owner: Any
) -> None:
    """C20. "from this pair: n hatches", on the clutch, on Today and on the pair."""
    lisbon = gannet_stair.room_time
    _tank_id, pair_id = nest(session)
    for turn in range(3):
        at = lisbon.at(date(2026, 10, 1), time(17)) + timedelta(days=13 * turn)
        hatch = at + timedelta(days=8, hours=4)
        clutch.record_hatch(
            session, posting=Posting(now=hatch), clutch_id=laid(session, pair_id, at),
            when=When.exactly(hatch), library=library(), all_hatched=True,
        )  # fmt: skip
    last = lisbon.at(date(2026, 11, 10), time(17))
    clutch_id = laid(session, pair_id, last)
    browser = signed_in(app, owner)
    with freeze_time(last + timedelta(days=7)):
        assert "from this pair: 3 hatches" in words(browser.get(f"/clutches/{clutch_id}"))
        assert "from this pair: 3 hatches" in words(browser.get("/?round=now"))
        assert "moved by 3 hatches" in words(browser.get(f"/broodstock/pairs/{pair_id}"))


def test_c24_the_check_list_stands_on_the_page_and_the_pair_keeps_its_share(
    session: Session, gannet_stair: room.RoomNow, app: Any, owner: Any
) -> None:
    """C24. Watched in vain on the nights it was due: darkness first; the lamp not held against
    the pair."""
    lisbon = gannet_stair.room_time
    tank_id, pair_id = nest(session)
    laying = lisbon.at(date(2026, 9, 15), time(17))
    clutch_id = laid(session, pair_id, laying)
    for day in range(11):
        read_temperature(session, tank_id, "27.0", at=laying + timedelta(days=day, hours=-5))
    for day in (7, 8, 9):
        watched = laying + timedelta(days=day, hours=6, minutes=30)
        clutch.record_check(
            session, posting=Posting(now=watched), clutch_id=clutch_id,
            kind=CheckKind.WATCHED_NONE, when=When.exactly(watched),
        )  # fmt: skip
    morning = laying + timedelta(days=9, hours=16)
    browser = signed_in(app, owner)
    with freeze_time(morning):
        shown = words(browser.get(f"/clutches/{clutch_id}"))
        assert "It did not hatch when due" in shown
        looks = shown[shown.index("It did not hatch when due") :]
        assert looks.index("Darkness: any lamp") < looks.index("The light timer")
        for kind in (CheckKind.LAMP_ON,):
            clutch.record_check(
                session, posting=Posting(now=morning), clutch_id=clutch_id, kind=kind,
                when=When.exactly(morning),
            )  # fmt: skip
        clutch.end_clutch(
            session, posting=Posting(now=morning), clutch_id=clutch_id,
            outcome=ClutchOutcome.DID_NOT_HATCH, when=When.exactly(morning),
        )  # fmt: skip
        pair = words(browser.get(f"/broodstock/pairs/{pair_id}"))
    assert "0 of 0 clutches that ended; 1 with a lamp on kept out" in pair


@pytest.mark.parametrize("hour", ["21:00", "01:00"])
def test_c08_the_window_is_one_night_whatever_side_of_midnight(
    session: Session, owner: Any, app: Any, hour: str
) -> None:
    """C08. 23:00–01:00 is one night of the wall clock's 29 Oct, dark by the lamp's own hours."""
    here = set_up(session, owner, "Europe/Berlin", on=time(9), off=time(23))
    german = here.room_time
    tank_id, pair_id = nest(session)
    laying = german.at(date(2013, 10, 19), time(18))
    clutch_id = laid(session, pair_id, laying)
    for day in range(19, 30):
        read_temperature(session, tank_id, "24.6", at=german.at(date(2013, 10, day), time(12)))
    day = date(2013, 10, 29) if hour == "21:00" else date(2013, 10, 30)
    with freeze_time(german.at(day, time.fromisoformat(hour))):
        shown = words(signed_in(app, owner).get(f"/clutches/{clutch_id}"))
    assert "tonight night 10" in shown
    assert "23:15–02:00" in shown
