"""Field cases of the day: no free larval tank, and no food ready at the hatch."""

from datetime import UTC, datetime

import pytest
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.larval_tank import larval_tank, larval_tank_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts
from hatchery_app.services.tank import tank
from hatchery_app.services.today import today, today_facts
from tests.builders import make_pair, make_tank, set_set_point, set_state

MORNING = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
LONG_AGO = datetime(2026, 1, 3, 9, 0, tzinfo=UTC)
IN_OCTOBER = datetime(2026, 10, 20, 9, 0, tzinfo=UTC)
OCELLARIS = "amphiprion_ocellaris"


def at(moment: datetime) -> Posting:
    return Posting(now=moment)


def a_pair(session: Session, number: int, species_key: str = OCELLARIS) -> int:
    home = make_tank(session, f"P{number}", litres=76, role=TankRole.BROODSTOCK)
    set_set_point(session, home, "27", at=LONG_AGO)
    return make_pair(
        session, f"Rusk {number}", f"Tansy {number}", tank_id=home, species_key=species_key
    )


def laid(session: Session, pair_id: int, moment: datetime) -> int:
    return spawn.record_laying(
        session, posting=at(moment), pair_id=pair_id, when=When.exactly(moment)
    )


def fish_in(session: Session, tank_id: int, number: int, stage: Stage) -> int:
    return larval_tank.move_in_batch(
        session, posting=at(IN_OCTOBER), tank_id=tank_id, species_key=OCELLARIS,
        number=HowMany.about(number), when=When.exactly(IN_OCTOBER), stage=stage,
    )  # fmt: skip


def the_day(session: Session, room: RoomNow, now: datetime) -> today.TodayPage:
    session.expire_all()
    session.rollback()
    facts = today_facts.load_day(session, library(), room=room, now=now)
    return today.today_page(session, facts)


@pytest.fixture
def a_full_room(session: Session, gannet_stair: RoomNow) -> RoomNow:
    """Pairs 3, 5, 10 due tonight, 7 and 12 laid today; no larval tank free; grow-out 1 sick."""
    hours = {3: 15, 5: 16, 10: 17}
    pairs = {number: a_pair(session, number) for number in (3, 5, 7, 10, 12)}
    for number, hour in hours.items():
        laid(session, pairs[number], datetime(2026, 11, 17, hour, tzinfo=UTC))
    for number in (7, 12):
        laid(session, pairs[number], datetime(2026, 11, 24, 8, 30, tzinfo=UTC))
    for number in range(1, 6):
        tank_id = make_tank(session, f"larval {number}")
        if number in (1, 3, 5):
            set_state(session, tank_id, TankState.DIRTY, at=LONG_AGO)
        else:
            settled = fish_in(session, tank_id, 60, Stage.LARVAE)
            counts.record_settlement(
                session, posting=at(MORNING), holding_id=settled, settled=60, swimming=0,
                when=When.exactly(MORNING),
            )  # fmt: skip
    for number in (1, 4, 5):
        tank_id = make_tank(session, f"grow-out {number}", litres=120, role=TankRole.GROW_OUT)
        fish_in(session, tank_id, 80, Stage.COHORT)
        if number == 1:
            set_state(session, tank_id, TankState.BARRED, at=LONG_AGO, reason="white spots")
    return gannet_stair


def test_c66_three_are_due_no_tank_is_ready_and_the_steps_stand_in_order(
    session: Session, a_full_room: RoomNow
) -> None:
    afternoon = datetime(2026, 11, 24, 17, 52, tzinfo=UTC)
    tanks = the_day(session, a_full_room, afternoon).tanks
    # Cleaning takes 4 h and does not fit any more; shipping, moving and siphoning does.
    assert tanks.answer.said() == "3 due, 0 tanks ready, 2 could be: larval 2, larval 4"
    assert [way.steps for way in tanks.answer.ready_if] == [
        (
            "pack and ship from grow-out 4",
            "move the fish of larval 2 to grow-out 4",
            "siphon and match larval 2",
        ),
        (
            "pack and ship from grow-out 5",
            "move the fish of larval 4 to grow-out 5",
            "siphon and match larval 4",
        ),
    ]
    assert tanks.answer.not_tonight == ("larval 1", "larval 3", "larval 5")
    assert tanks.answer.barred == ("grow-out 1: white spots",)
    assert tanks.answer.short_after_all_steps == 1


def test_c66_the_clutches_that_could_stay_are_named_and_none_is_chosen(
    session: Session, a_full_room: RoomNow
) -> None:
    page = the_day(session, a_full_room, datetime(2026, 11, 24, 17, 52, tzinfo=UTC))
    due = {watch.name for watch in page.tonight.watches}
    assert due == {"Rusk 3 and Tansy 3", "Rusk 5 and Tansy 5", "Rusk 10 and Tansy 10"}
    assert {watch.name for watch in page.tanks.may_stay} <= due
    assert not any(stop.state is TankState.READY for stop in page.facts.walk.larval)


def test_c66_in_the_morning_the_dirty_tanks_can_still_be_cleaned(
    session: Session, a_full_room: RoomNow
) -> None:
    answer = the_day(session, a_full_room, MORNING).tanks.answer
    assert [way.label for way in answer.ready_if] == [f"larval {n}" for n in range(1, 6)]
    assert answer.ready_if[0].steps == (
        "clean and rinse larval 1", "fill and match larval 1",
    )  # fmt: skip
    assert answer.short == 3
    assert answer.short_after_all_steps == 0


@freeze_time("2026-11-24 17:52:00")
def test_c66_one_page_says_it_all(client, session: Session, a_full_room: RoomNow) -> None:
    page = client.get("/").text
    for words in (
        "3 due, 0 tanks ready, 2 could be: larval 2, larval 4",
        "larval 2 could be ready if: pack and ship from grow-out 4, then move the fish of "
        "larval 2 to grow-out 4, then siphon and match larval 2",
        "Barred, grow-out 1: white spots.",
        "could stay with the parents another night",
        "1 of 3 clutches has no tank even so",
        "The choice is yours.",
    ):
        assert words in page


def test_c66_a_tank_made_ready_counts_from_then_on(
    session: Session, a_full_room: RoomNow
) -> None:
    first = next(
        t for t in tank.tank_choices(session, role=TankRole.LARVAL) if t.label == "larval 1"
    )
    set_state(session, first.tank_id, TankState.READY, at=MORNING)
    answer = the_day(session, a_full_room, MORNING).tanks.answer
    assert answer.ready == ("larval 1",)
    assert answer.short == 2


def test_c35_on_the_day_eggs_are_seen_the_first_food_is_asked_about(
    session: Session, gannet_stair: RoomNow
) -> None:
    seen = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
    make_tank(session, "L1")
    laid(session, a_pair(session, 1, "amphiprion_frenatus"), seen)
    (first,) = the_day(session, gannet_stair, seen).food.first
    assert first.food == "rotifers"
    assert first.nights[0] >= 5
    assert first.nights[1] > first.nights[0]
    assert first.standing == "culture density unknown"
    assert first.animals == 400_000
    assert not first.now


@freeze_time("2026-11-24 12:00:00")
def test_c35_the_page_never_takes_food_for_granted(
    client, session: Session, gannet_stair: RoomNow
) -> None:
    make_tank(session, "L1")
    laid(session, a_pair(session, 1, "amphiprion_frenatus"), MORNING)
    page = client.get("/").text
    assert "first food needed from night" in page
    assert "culture density unknown" in page
    counts.set_concentrate(
        session, posting=at(MORNING), food="rotifers", per_ml=180, when=When.exactly(MORNING)
    )
    page = client.get("/").text
    assert "stock of 180 per mL stated; how much of it is not recorded" in page


def test_c35_first_food_two_days_late_is_written_with_its_hour_and_not_judged(
    session: Session, gannet_stair: RoomNow
) -> None:
    laid_at = datetime(2026, 11, 14, 16, 0, tzinfo=UTC)
    hatched = datetime(2026, 11, 22, 20, 30, tzinfo=UTC)
    fed = datetime(2026, 11, 24, 20, 30, tzinfo=UTC)
    nursery = make_tank(session, "L1")
    clutch_id = laid(session, a_pair(session, 1, "amphiprion_frenatus"), laid_at)
    clutch.record_hatch(
        session, posting=Posting(now=hatched, answers={"early_hatch": "so"}), clutch_id=clutch_id,
        when=When.exactly(hatched), library=library(), number=HowMany.about(150),
    )  # fmt: skip
    (part,) = load_clutch(session, gannet_stair, clutch_id).hatches
    batch = larval_tank.put_larvae_in_tank(
        session, posting=at(hatched), hatch_id=part.fact_id, when=When.exactly(hatched),
        parts=(larval_tank.Part(nursery, None),),
    )  # fmt: skip
    counts.record_mark(
        session, posting=at(fed), holding_id=batch, mark="first food", when=When.exactly(fed),
        note="newly hatched brine shrimp",
    )  # fmt: skip
    page = larval_tank_page.larval_tank_page(session, holding_id=batch, now=fed)
    (entry,) = [entry for entry in page.entries if entry.mark == "first food"]
    assert entry.when == When.exactly(fed)
    assert entry.note == "newly hatched brine shrimp"
    need = {need.food: need for need in the_day(session, gannet_stair, fed).food.needs}
    assert need["rotifers"].not_looked == ("L1",)
    assert need["rotifers"].stock_per_ml is None
