"""Field cases of the hatch forecast, by number: what it says, what moves it, what it learns."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome
from hatchery_app.domain.clutch.failed_hatch import DARKNESS
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import Night, RoomTime, When
from hatchery_app.services.clutch import clutch, clutch_page, clutch_score
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import room
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from tests.builders import make_pair, make_tank, read_temperature
from tests.conftest import signed_in

LONG_AGO = datetime(2013, 1, 1, 12, 0, tzinfo=UTC)
OCELLARIS = "amphiprion_ocellaris"


def set_up(
    session: Session, owner: Any, zone: str, *, on: time = time(8), off: time = time(20)
) -> room.RoomNow:
    room.set_up_room(
        session, posting=Posting(now=LONG_AGO, by_id=owner.id), name="Gannet Stair",
        zone_name=zone, lights_on=on, lights_off=off,
    )  # fmt: skip
    return room.room_now(session)


def nest(session: Session, label: str = "B1", names: tuple[str, str] = ("Rusk", "Tansy")) -> Any:
    """A tank with a pair in it; gives both."""
    tank_id = make_tank(session, label, role=TankRole.BROODSTOCK, at=LONG_AGO)
    return tank_id, make_pair(session, *names, tank_id=tank_id, at=LONG_AGO, species_key=OCELLARIS)


def laid(session: Session, pair_id: int, at: datetime, when: When | None = None) -> int:
    return spawn.record_laying(
        session, posting=Posting(now=at, answers={"same_laying": "another"}), pair_id=pair_id,
        when=when or When.exactly(at),
    )  # fmt: skip


def hatched(session: Session, clutch_id: int, at: datetime, **answers: str) -> int:
    """All of it hatched, seen at that moment and written down."""
    return clutch.record_hatch(
        session, posting=Posting(now=at, answers=answers), clutch_id=clutch_id,
        when=When.exactly(at), library=library(), all_hatched=True,
    )  # fmt: skip


def page(session: Session, clutch_id: int, now: datetime) -> clutch_page.ClutchPage:
    here = room.room_now(session)
    return clutch_page.clutch_page(session, library(), room=here, clutch_id=clutch_id, now=now)


def forecast(session: Session, clutch_id: int, now: datetime) -> Any:
    found = page(session, clutch_id, now).seen.forecast
    assert found is not None
    return found


def test_c08_daylight_saving_ends_inside_incubation(session: Session, owner: Any) -> None:
    """C08. Elapsed time from instants, one night for 23:00–01:00, dark by the lamp's own clock."""
    here = set_up(session, owner, "Europe/Berlin", on=time(9), off=time(23))
    german = here.room_time
    tank_id, pair_id = nest(session)
    laying = german.at(date(2013, 10, 19), time(18))
    either = When.between(laying, german.at(date(2013, 10, 20), time(18)), said="19 or 20 Oct")
    clutch_id = laid(session, pair_id, german.at(date(2013, 10, 20), time(19)), either)
    kept = load_clutch(session, here, clutch_id).laid
    assert kept.said == "19 or 20 Oct"
    assert kept.span == timedelta(days=1)
    spawned = laid(session, pair_id, german.at(date(2013, 10, 20), time(20)), When.exactly(laying))
    for day in range(19, 32):
        read_temperature(session, tank_id, "26.0", at=german.at(date(2013, 10, day), time(12)))
    evening = german.at(date(2013, 10, 29), time(23))
    assert evening - laying == timedelta(days=10, hours=6)
    seen = forecast(session, spawned, evening)
    assert seen.reached_dd == pytest.approx(10 * 10.25)
    night = seen.on(Night(date(2013, 10, 29)))
    assert night.number == 10
    assert german.local(night.watch_from).strftime("%d %H:%M") == "29 23:15"
    assert german.local(night.watch_until).date() == date(2013, 10, 30)
    late = german.at(date(2013, 10, 30), time(0, 40))
    hatched(session, spawned, late)
    (part,) = load_clutch(session, here, spawned).hatches
    assert part.nights.first == Night(date(2013, 10, 29))


def test_c08_a_timer_that_was_not_changed_is_an_hour_off_the_wall_clock(
    session: Session, owner: Any
) -> None:
    """C08. The lamp still goes off at what was 23:00 in summer: the dark begins at 22:00."""
    here = set_up(session, owner, "Europe/Berlin", on=time(9), off=time(23))
    german = here.room_time
    _tank_id, pair_id = nest(session)
    spawned = laid(session, pair_id, german.at(date(2013, 10, 19), time(18)))
    change = german.at(date(2013, 10, 27), time(12))
    room.set_lights(
        session, posting=Posting(now=change), lights_on=time(8), lights_off=time(22),
        when=When.exactly(change),
    )  # fmt: skip
    now = german.at(date(2013, 10, 28), time(12))
    nights = forecast(session, spawned, now)
    unchanged = nights.on(Night(date(2013, 10, 29)))
    # The eggs came under the lamp before the change, so its hours are theirs from the change on.
    assert german.local(unchanged.dark_from).strftime("%H:%M") == "22:00"


def test_c09_the_hour_that_happens_twice_or_never(session: Session, owner: Any) -> None:
    """C09. It is asked which, kept as an instant, and order and durations come from instants."""
    here = set_up(session, owner, "America/New_York")
    eastern = here.room_time
    with pytest.raises(Asked) as twice:
        eastern.at(date(2026, 11, 1), time(1, 30))
    assert len(twice.value.answers) == 2
    with pytest.raises(RuleBroken):
        eastern.at(date(2026, 3, 8), time(2, 30))
    _tank_id, pair_id = nest(session)
    clutch_id = laid(session, pair_id, eastern.at(date(2026, 10, 24), time(17)))
    first = eastern.at(date(2026, 11, 1), time(1, 50), fold=0)
    second = eastern.at(date(2026, 11, 1), time(1, 10), fold=1)
    assert second - first == timedelta(minutes=20)
    for at in (second, first):
        clutch.record_hatch(
            session, posting=Posting(now=second, answers={"same_hatch": "another"}),
            clutch_id=clutch_id, when=When.exactly(at), library=library(), share="a part",
        )  # fmt: skip
    parts = load_clutch(session, here, clutch_id).hatches
    assert [part.when.earliest for part in parts] == [first, second]
    assert {part.nights.first for part in parts} == {Night(date(2026, 10, 31))}


def test_c10_an_owner_three_hours_west_writes_in_room_time(
    session: Session, owner: Any, app: Any
) -> None:
    """C10. 20:30 at home on the west coast is 23:30 in the room: the night of Saturday."""
    set_up(session, owner, "America/New_York")
    _tank_id, pair_id = nest(session)
    eastern, pacific = RoomTime("America/New_York"), RoomTime("America/Los_Angeles")
    clutch_id = laid(session, pair_id, eastern.at(date(2026, 11, 13), time(17)))
    now = pacific.at(date(2026, 11, 21), time(20, 30))
    browser = signed_in(app, owner)
    with freeze_time(now):
        shown = browser.get(f"/clutches/{clutch_id}/hatch").get_data(as_text=True)
        assert "room time" in shown
        assert "23:30" in shown
        typed = {"how_much": "all", "when_how": "at", "at_on": "2026-11-21", "at_time": "23:20"}
        saved = browser.post(f"/clutches/{clutch_id}/hatch", data=typed)
    assert saved.status_code == 303
    (part,) = load_clutch(session, room.room_now(session), clutch_id).hatches
    assert part.when.earliest == eastern.at(date(2026, 11, 21), time(23, 20))
    assert part.nights.first == Night(date(2026, 11, 21))


def test_c19_a_failed_heater_delays_the_window_and_the_old_one_stays_visible(
    session: Session, gannet_stair: room.RoomNow
) -> None:
    """C19. 30 h at 23.5 °C: later and wider than next door, said why; the old one is replayed."""
    lisbon = gannet_stair.room_time
    laying = lisbon.at(date(2026, 11, 9), time(17))
    failed = laying + timedelta(days=3)
    replays = []
    for label, names, fails in (("B1", ("Rusk", "Tansy"), True), ("B2", ("Quill", "Bay"), False)):
        tank_id, pair_id = nest(session, label, names)
        clutch_id = laid(session, pair_id, laying)
        for hour in range(0, 24 * 8, 6):
            at = laying + timedelta(hours=hour)
            cold = fails and failed <= at < failed + timedelta(hours=30)
            for moment in (at, at + timedelta(hours=5, minutes=59)):
                read_temperature(session, tank_id, "23.5" if cold else "27.0", at=moment)
        found = clutch_score.replay(
            session, library(), room=gannet_stair, clutch_id=clutch_id,
            now=laying + timedelta(days=7, hours=6),
        )  # fmt: skip
        replays.append({each.night: each.forecast for each in found.evenings})
    before, after = (replays[0][Night(date(2026, 11, day))] for day in (11, 16))
    steady = replays[1][Night(date(2026, 11, 16))]
    assert None not in (before, after, steady)
    assert not any("23.5" in reason for reason in before.reasons)
    assert any("30 h at 23.5 °C" in reason for reason in after.reasons)
    # 30 h at 3.5 degrees less are 4.4 degree-days, 0.4 of a day at 27 °C.
    assert 0.3 < mean_night(after) - mean_night(steady) < 0.6
    assert mean_night(after) > mean_night(before) + 0.3
    assert spread_of(after) > spread_of(steady)


def mean_night(said: Any) -> float:
    return float(sum(n.number * n.chance for n in said.nights))


def spread_of(said: Any) -> float:
    """The variance of the hatch night."""
    return float(sum((n.number - mean_night(said)) ** 2 * n.chance for n in said.nights))


def test_c20_the_default_is_a_night_either_side_and_the_first_hatch_pulls_it(
    session: Session, gannet_stair: room.RoomNow
) -> None:
    """C20. From the first hatch on the pair's own record draws the window; n stands beside it."""
    lisbon = gannet_stair.room_time
    tank_id, pair_id = nest(session)
    mean_nights, windows, reasons = [], [], []
    for turn in range(4):
        laying = lisbon.at(date(2026, 8, 3), time(17)) + timedelta(days=14 * turn)
        clutch_id = laid(session, pair_id, laying)
        for day in range(11):
            read_temperature(session, tank_id, "27.0", at=laying + timedelta(days=day, hours=-5))
        said = forecast(session, clutch_id, laying + timedelta(hours=1))
        first, last = said.window
        windows.append(last.number(first))
        mean_nights.append(mean_night(said))
        reasons.append(said.reasons[0])
        hatched(session, clutch_id, laying + timedelta(days=9, hours=4))
    assert windows[0] >= 2
    assert mean_nights[1] > mean_nights[0] + 0.2
    assert mean_nights == sorted(mean_nights)
    assert mean_nights[3] < 9
    assert reasons[0] == "from the species default"
    assert reasons[1] == "from this pair: 1 hatch"
    assert reasons[3] == "from this pair: 3 hatches"


def test_c24_a_lamp_in_the_room_is_looked_for_first_and_not_held_against_the_pair(
    session: Session, gannet_stair: room.RoomNow
) -> None:
    """C24. Failed when due: darkness first. The clutch is kept out of the pair's figure."""
    lisbon = gannet_stair.room_time
    tank_id, pair_id = nest(session)
    good = laid(session, pair_id, lisbon.at(date(2026, 9, 1), time(17)))
    hatched(session, good, lisbon.at(date(2026, 9, 9), time(21)))
    laying = lisbon.at(date(2026, 9, 15), time(17))
    lost = laid(session, pair_id, laying)
    for day in range(11):
        read_temperature(session, tank_id, "27.0", at=laying + timedelta(days=day, hours=-5))
    early = page(session, lost, laying + timedelta(days=5))
    assert early.check_list == ()
    for day in (7, 8, 9):
        watched = laying + timedelta(days=day, hours=6, minutes=30)
        clutch.record_check(
            session, posting=Posting(now=watched), clutch_id=lost, kind=CheckKind.WATCHED_NONE,
            when=When.exactly(watched),
        )  # fmt: skip
    morning = laying + timedelta(days=9, hours=16)
    assert page(session, lost, morning).check_list[0] == DARKNESS
    clutch.record_check(
        session, posting=Posting(now=morning), clutch_id=lost, kind=CheckKind.LAMP_ON,
        when=lisbon.whole_days(date(2026, 9, 24)),  # a day and no hour: the night that began on it
    )  # fmt: skip
    clutch.end_clutch(
        session, posting=Posting(now=morning), clutch_id=lost,
        outcome=ClutchOutcome.DID_NOT_HATCH, when=When.exactly(morning),
    )  # fmt: skip
    found = clutch_score.replay(
        session, library(), room=gannet_stair, clutch_id=lost, now=morning
    )
    assert found.check_list[0].startswith("Darkness: a lamp was on the night of Thu 24 Sep")
    share = found.pair_share
    assert share is not None
    assert (share.hatched, share.could, share.kept_out) == (1, 1, 1)
