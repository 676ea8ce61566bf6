"""What the room learned is worked out anew only where something new bears on it."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import CheckKind, Sign
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch, clutch_watch
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.clutch.clutch_watch import Told, load_record
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction, room
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from tests.builders import make_pair, make_tank, read_temperature
from tests.unit.services.test_clutch_score import BEGAN, NOW, OCELLARIS, hatch, make_clutches
from tests.unit.services.test_today_statements import statements

SINCE = Posting(now=NOW)


def record(session: Session, here: RoomNow) -> list[Told]:
    return load_record(session, here, library(), [OCELLARIS], NOW)


def another_pair(session: Session) -> int:
    tank_id = make_tank(session, "B2", role=TankRole.BROODSTOCK)
    return make_pair(session, "Merle", "Ditto", tank_id=tank_id)


def look(session: Session, clutch_id: int) -> None:
    clutch.record_check(
        session, posting=SINCE, clutch_id=clutch_id, kind=CheckKind.SIGN, sign=Sign.EYES,
        when=When.exactly(BEGAN + timedelta(days=6)),
    )  # fmt: skip


def lay_later(session: Session, clutch_id: int, by: timedelta) -> None:
    laying_id = load_clutch(session, room.room_now(session), clutch_id).laying_id
    correction.correct_entry(
        session, posting=SINCE, fact_id=laying_id, when=When.exactly(BEGAN + by), typed={}
    )


def read_then(session: Session, clutch_id: int) -> None:
    facts = load_clutch(session, room.room_now(session), clutch_id)
    read_temperature(session, facts.place.tank_id, "24", at=BEGAN + timedelta(days=3, hours=9))


@pytest.mark.parametrize(
    "happens",
    [
        lambda session, first: look(session, first),
        lambda session, first: lay_later(session, first, timedelta(hours=-5)),
        lambda session, first: read_then(session, first),
        lambda session, first: lay_and_hatch(session, first),
    ],
    ids=["a look", "a correction", "a reading", "another clutch"],
)
def test_what_is_written_about_a_clutch_is_learned_whatever_was_remembered(
    session: Session, gannet_stair: RoomNow, happens: Callable[[Session, int], None]
) -> None:
    first, *_others = make_clutches(session, 3)
    before = record(session, gannet_stair)
    happens(session, first)
    remembered = record(session, gannet_stair)
    clutch_watch.forget()
    assert remembered == record(session, gannet_stair)
    assert len(remembered) >= len(before) == 3


def lay_and_hatch(session: Session, _first: int) -> None:
    pair_id = another_pair(session)
    laid = BEGAN + timedelta(days=4)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=laid), pair_id=pair_id, when=When.exactly(laid)
    )
    hatch(session, clutch_id, laid + timedelta(days=9, hours=4))


def test_a_look_at_open_eggs_reads_none_of_the_finished_clutches_again(
    session: Session, gannet_stair: RoomNow
) -> None:
    make_clutches(session, 4)
    pair_id = another_pair(session)
    open_one = spawn.record_laying(
        session, posting=SINCE, pair_id=pair_id, when=When.exactly(NOW - timedelta(hours=2))
    )
    before = record(session, gannet_stair)
    clutch.record_check(
        session, posting=SINCE, clutch_id=open_one, kind=CheckKind.LOOKS_WELL,
        when=When.exactly(NOW),
    )  # fmt: skip
    with statements() as asked:
        assert record(session, gannet_stair) == before
    assert not [one for one in asked if "reading" in one or "eggs_moved" in one]


def test_the_room_is_asked_for_once_in_a_transaction_and_anew_when_it_changes(
    session: Session, gannet_stair: RoomNow
) -> None:
    session.rollback()
    room.remembered.forget()
    with statements() as asked:
        assert room.room_now(session) == room.room_now(session)
    assert len([one for one in asked if "room_facts" in one]) == 1
    room.change_room(
        session, posting=SINCE, name="Gannet Loft", zone_name="Europe/Lisbon",
        temperature_unit="F", volume_unit="L", gallon="", when=When.exactly(NOW),
    )  # fmt: skip
    assert room.room_now(session).name == "Gannet Loft"
