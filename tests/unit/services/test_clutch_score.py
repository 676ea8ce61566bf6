"""Forecasts worked out again from what was known, and scored."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.cli.score import lines
from hatchery_app.domain.clutch.clutch import ClutchOutcome, Incubated
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch, clutch_score
from hatchery_app.services.clutch.clutch_facts import load_clutch, load_clutches
from hatchery_app.services.clutch.clutch_history import ClutchHistory
from hatchery_app.services.clutch.clutch_watch import learned_for, load_record, watch
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from tests.builders import make_pair, make_tank, read_temperature
from tests.unit.services.test_today_statements import statements

OCELLARIS = "amphiprion_ocellaris"
BEGAN = datetime(2026, 8, 3, 17, tzinfo=UTC)
FORTNIGHT = timedelta(days=14)
NOW = datetime(2026, 11, 24, 9, tzinfo=UTC)


def make_clutches(
    session: Session, how_many: int, *, names: tuple[str, str] = ("Rusk", "Tansy"),
    tank: str = "B1", nights: int = 8,
) -> list[int]:  # fmt: skip
    """So many clutches of one pair, a fortnight apart, each hatched on the same night."""
    tank_id = make_tank(session, tank, role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, *names, tank_id=tank_id)
    made = []
    for turn in range(how_many):
        laying = BEGAN + turn * FORTNIGHT
        made.append(
            spawn.record_laying(
                session, posting=Posting(now=laying), pair_id=pair_id, when=When.exactly(laying)
            )
        )
        for day in range(nights):
            read_temperature(session, tank_id, "27", at=laying + timedelta(days=day, hours=1))
        hatch(session, made[-1], laying + timedelta(days=nights, hours=4))
    return made


def hatch(session: Session, clutch_id: int, at: datetime, **answers: str) -> None:
    clutch.record_hatch(
        session, posting=Posting(now=at, answers=answers), clutch_id=clutch_id,
        when=When.exactly(at), library=library(), all_hatched=True,
    )  # fmt: skip


def scored(session: Session, room: RoomNow, now: datetime = NOW) -> clutch_score.Score:
    return clutch_score.score(session, library(), room=room, now=now)


def test_an_evening_is_forecast_from_what_had_been_written_down_by_then(
    session: Session, gannet_stair: RoomNow
) -> None:
    *_earlier, last = make_clutches(session, 3)
    history = ClutchHistory(session, gannet_stair, library())
    found = clutch_score.replay(
        session, library(), room=gannet_stair, clutch_id=last, now=NOW
    )
    for each in found.evenings:
        seq = history.seq_by(each.as_of)
        (then,) = load_clutches(session, gannet_stair, clutch_ids=[last], at_seq=seq)
        (asked,) = watch(
            session, gannet_stair, library(), [then], now=each.as_of, at_seq=seq
        )
        assert each.forecast == asked.forecast
    assert [len(e.forecast.nights) > 0 for e in found.evenings if e.forecast] == [True] * 9
    assert all(e.forecast.pair_hatches == 2 for e in found.evenings if e.forecast)


def test_a_correction_made_since_does_not_change_what_was_said(
    session: Session, gannet_stair: RoomNow
) -> None:
    (clutch_id,) = make_clutches(session, 1)
    before = clutch_score.replay(
        session, library(), room=gannet_stair, clutch_id=clutch_id, now=NOW
    )
    laying_id = load_clutch(session, gannet_stair, clutch_id).laying_id
    at = BEGAN - timedelta(days=1)
    correction.correct_entry(
        session, posting=Posting(now=NOW), fact_id=laying_id, when=When.exactly(at), typed={}
    )
    after = clutch_score.replay(
        session, library(), room=gannet_stair, clutch_id=clutch_id, now=NOW
    )
    said = {each.night: each.forecast for each in before.evenings}
    again = {each.night: each.forecast for each in after.evenings}
    assert all(again[night] == forecast for night, forecast in said.items())
    assert after.laid_night == before.laid_night.plus(-1)
    assert after.evenings[0].why_not == clutch_score.NOT_YET_WRITTEN


def test_a_clutch_written_down_after_its_hatch_is_left_out_with_the_reason(
    session: Session, gannet_stair: RoomNow
) -> None:
    make_clutches(session, 1)
    tank_id = make_tank(session, "B2", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Merle", "Ditto", tank_id=tank_id)
    late = BEGAN + timedelta(days=20)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=late), pair_id=pair_id, when=When.exactly(BEGAN)
    )
    clutch.record_hatch(
        session, posting=Posting(now=late), clutch_id=clutch_id, library=library(),
        when=When.exactly(BEGAN + timedelta(days=8, hours=4)), all_hatched=True,
    )  # fmt: skip
    found = scored(session, gannet_stair)
    assert found.verdict is not None
    assert found.verdict.hatches == 1
    assert found.skipped == ((clutch_score.NOT_YET_WRITTEN, 1),)


def test_the_score_takes_the_same_statements_however_many_clutches(
    session: Session, gannet_stair: RoomNow
) -> None:
    make_clutches(session, 2)
    with statements() as few:
        scored(session, gannet_stair)
    make_clutches(session, 3, names=("Quill", "Bay"), tank="B2")
    with statements() as more:
        found = scored(session, gannet_stair)
    assert found.verdict is not None
    assert found.verdict.hatches == 5
    assert len(more) == len(few)
    with statements() as again:
        assert scored(session, gannet_stair) is found
    assert len(again) == 1


def test_the_command_ends_with_hatches_windows_nights_and_log_score(
    session: Session, gannet_stair: RoomNow
) -> None:
    make_clutches(session, 3)
    *_each, hatches, windows, nights, score, few = lines(scored(session, gannet_stair))
    assert hatches == "3 hatches"
    assert windows.startswith("inside their windows: 3 of 3 (100.0%); the windows stated 9")
    assert nights.startswith("likeliest night: early ")
    assert "the plain rule “night 8”" in score
    assert few == "too few to judge"


def test_an_empty_room_has_no_hatches_to_score(session: Session, gannet_stair: RoomNow) -> None:
    assert list(lines(scored(session, gannet_stair)))[-1] == "0 hatches"


@pytest.mark.parametrize(("answer", "teaches"), [("so", False), ("sure", True)])
def test_a_hatch_too_early_teaches_only_when_laying_and_hatch_are_sure(
    session: Session, gannet_stair: RoomNow, answer: str, teaches: bool
) -> None:
    pair_id, first = odd_clutch(session, answer)
    seen = load_clutch(session, gannet_stair, first)
    assert seen.hatches[0].incubated is (Incubated.CONFIRMED if teaches else Incubated.DOUBTED)
    assert intervals(session, gannet_stair, pair_id) == (1 if teaches else 0)


def test_a_doubted_incubation_teaches_once_it_is_confirmed(
    session: Session, gannet_stair: RoomNow
) -> None:
    pair_id, first = odd_clutch(session, "so")
    assert intervals(session, gannet_stair, pair_id) == 0
    clutch.confirm_incubation(session, posting=Posting(now=NOW), clutch_id=first)
    assert intervals(session, gannet_stair, pair_id) == 1
    found = clutch_score.replay(session, library(), room=gannet_stair, clutch_id=first, now=NOW)
    assert not found.is_kept_out


def test_an_incubation_far_too_long_is_kept_out_unasked(
    session: Session, gannet_stair: RoomNow
) -> None:
    pair_id, first = odd_clutch(session, "", nights=14)
    found = clutch_score.replay(session, library(), room=gannet_stair, clutch_id=first, now=NOW)
    assert found.is_kept_out
    assert intervals(session, gannet_stair, pair_id) == 0


def test_nothing_is_confirmed_of_a_clutch_that_did_not_hatch(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=BEGAN), pair_id=pair_id, when=When.exactly(BEGAN)
    )
    with pytest.raises(RuleBroken):
        clutch.confirm_incubation(session, posting=Posting(now=NOW), clutch_id=clutch_id)


def odd_clutch(session: Session, answer: str, nights: int = 3) -> tuple[int, int]:
    """A pair and its clutch that hatched after so many nights at 27 °C, ended since."""
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=BEGAN), pair_id=pair_id, when=When.exactly(BEGAN)
    )
    for day in range(nights):
        read_temperature(session, tank_id, "27", at=BEGAN + timedelta(days=day, hours=1))
    hatch(session, clutch_id, BEGAN + timedelta(days=nights, hours=4), early_hatch=answer)
    return pair_id, clutch_id


def intervals(session: Session, room: RoomNow, pair_id: int) -> int:
    """How many of the pair's clutches teach its next one."""
    now = NOW + timedelta(minutes=1)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=now, answers={"same_laying": "another"}), pair_id=pair_id,
        when=When.exactly(now),
    )  # fmt: skip
    record = load_record(session, room, library(), [OCELLARIS], now)
    found = learned_for(load_clutch(session, room, clutch_id), record)
    clutch.end_clutch(
        session, posting=Posting(now=now), clutch_id=clutch_id, outcome=ClutchOutcome.EATEN,
        when=When.exactly(now),
    )  # fmt: skip
    return len(found.pair)


def test_the_pages_say_the_score_and_each_evening(client: Any, session: Session) -> None:
    (*_others, last) = make_clutches(session, 2)
    with freeze_time(NOW):
        score = client.get("/clutches/score")
        replay = client.get(f"/clutches/{last}/replay")
        assert client.get("/clutches/999999/replay").status_code == 404
    words = score.get_data(as_text=True)
    assert score.status_code == 200
    assert "2 of 2 hatches came on the nights said: too few to judge." in words
    assert "spreads as a normal about night 8" in words
    words = replay.get_data(as_text=True)
    assert replay.status_code == 200
    assert "Each evening" in words
    assert "from this pair: 1 hatch" in words


def test_a_doubted_clutch_is_confirmed_in_one_tap(client: Any, session: Session) -> None:
    _pair_id, first = odd_clutch(session, "so")
    with freeze_time(NOW):
        shown = client.get(f"/clutches/{first}/replay").get_data(as_text=True)
        assert "learns nothing from" in shown
        saved = client.post(f"/clutches/{first}/confirm", data={"key": "k" * 24})
        assert saved.status_code == 303
        assert "learns nothing from" not in client.get(
            f"/clutches/{first}/replay"
        ).get_data(as_text=True)
