"""What lives where, and how each tank stands on the walk."""

from datetime import UTC, date, datetime, timedelta

from sqlalchemy import event, select

from hatchery_app.database import db
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.clutch.clutch import EggMove
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.tank.residents import Kind
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import Night, When
from hatchery_app.models.broodstock import Pair
from hatchery_app.services.broodstock import fish_left
from hatchery_app.services.clutch import clutch, clutch_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import room
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import every_batch, stock_book
from hatchery_app.services.tank import tank_page, tank_walk
from tests.builders import make_batch, make_fish, make_pair, make_tank, set_state

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
NOON_18TH = datetime(2026, 11, 18, 12, 0, tzinfo=UTC)


def standing(session, tank_id, now=NOW):
    return next(stop for stop in tank_walk.walk(session, now).stops if stop.tank_id == tank_id)


def lay(session, pair_id, at):
    return spawn.record_laying(
        session, posting=Posting(now=at), pair_id=pair_id, when=When.exactly(at)
    )


def test_a_pair_and_its_eggs_stand_in_one_line_with_the_night(session, gannet_stair):
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    lay(session, pair_id, NOON_18TH)
    living = tank_walk.what_lives_where(session, NOW)[tank_id]
    assert living.words == "Rusk and Tansy, eggs night 6"
    assert living.kinds == {Kind.PAIR, Kind.EGGS}


def test_a_night_has_one_number_on_every_page_however_vague_the_laying(session, gannet_stair):
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=NOW), pair_id=pair_id,
        when=When(NOON_18TH - timedelta(days=2), NOON_18TH + timedelta(days=2)),
    )  # fmt: skip
    seen = clutch_page.clutch_page(
        session, library(), room=room.room_now(session), clutch_id=clutch_id, now=NOW
    ).seen
    assert seen.laid_night == seen.forecast.laid_night == Night(date(2026, 11, 18))
    assert seen.night_number == 6
    assert "nights are numbered from Wed 18 Nov" in " ".join(seen.forecast.reasons)
    assert tank_walk.what_lives_where(session, NOW)[tank_id].words.endswith("eggs night 6")


def test_eggs_pulled_to_a_vessel_live_there_and_no_longer_with_the_pair(session, gannet_stair):
    home = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    vessel = make_tank(session, "V1", litres=4, role=TankRole.VESSEL)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=home)
    clutch_id = lay(session, pair_id, NOON_18TH)
    clutch.move_eggs(
        session, posting=Posting(now=NOW), clutch_id=clutch_id, why=EggMove.PULLED,
        tank_id=vessel, when=When.exactly(NOW - timedelta(hours=1)),
    )  # fmt: skip
    lives = tank_walk.what_lives_where(session, NOW)
    assert lives[home].words == "Rusk and Tansy"
    assert lives[vessel].words == "eggs night 6"


def test_larvae_stand_with_their_days_post_hatch(session, gannet_stair):
    tank_id = make_tank(session, "L1")
    make_batch(session, tank_id, hatched_at=NOW.replace(hour=21) - timedelta(days=4))
    assert tank_walk.what_lives_where(session, NOW)[tank_id].words == "larvae 4 dph"


def test_a_tank_whose_larvae_have_left_is_dirty_whatever_was_said_before(session, gannet_stair):
    tank_id = make_tank(session, "L1")
    set_state(session, tank_id, TankState.READY, at=NOON_18TH)
    ready = tank_walk.walk(session, NOW)
    assert [stop.label for stop in ready.ready] == ["L1"]
    batch = make_batch(
        session, tank_id, number="200", hatched_at=NOON_18TH + timedelta(hours=9)
    )
    assert standing(session, tank_id).state is TankState.IN_USE
    stock_book.record_leaving(
        session, posting=Posting(now=NOW), holding_id=batch, door=Door.DIED,
        number=HowMany.counted(200), when=When.exactly(NOW - timedelta(hours=1)),
    )  # fmt: skip
    assert standing(session, tank_id).state is TankState.DIRTY
    assert [stop.label for stop in tank_walk.walk(session, NOW).could_be] == ["L1"]


def test_a_widow_stands_alone_and_the_pair_stands_in_what_lived_there_before(
    session, gannet_stair
):
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    female_id = session.scalars(select(Pair.female_id)).one()
    fish_left.record_leaving(
        session, posting=Posting(now=NOW), fish_id=female_id, door=WayOut.DIED,
        when=When.exactly(NOW),
    )  # fmt: skip
    lives = tank_walk.what_lives_where(session, NOW + timedelta(hours=1))[tank_id]
    assert lives.words == "Tansy"
    page = tank_page.tank_page(session, tank_id=tank_id, now=NOW + timedelta(hours=1))
    assert [(s.resident.kind, s.resident.fact_id) for s in page.lived_before] == [
        (Kind.PAIR, pair_id)
    ]


def test_fish_that_are_no_pair_stand_by_their_names(session, gannet_stair):
    tank_id = make_tank(session, "Q1", role=TankRole.QUARANTINE)
    make_fish(session, "Bay", tank_id=tank_id)
    make_fish(session, "Quill", tank_id=tank_id)
    assert tank_walk.what_lives_where(session, NOW)[tank_id].words == "Bay, Quill"


def test_the_walk_asks_the_same_number_of_statements_for_one_tank_and_for_twelve(
    session, gannet_stair
):
    def fill(numbers):
        for number in numbers:
            home = make_tank(session, f"B{number}", role=TankRole.BROODSTOCK)
            pair_id = make_pair(session, f"Rusk {number}", f"Tansy {number}", tank_id=home)
            lay(session, pair_id, NOON_18TH)
            make_batch(session, make_tank(session, f"L{number}"), hatched_at=NOON_18TH)

    asked = []
    event.listen(db.engine, "before_cursor_execute", lambda *given: asked.append(given[2]))
    fill((1,))
    counts = []
    for more in ((), range(2, 7)):
        fill(more)
        session.rollback()
        every_batch.forget()  # the first asking and a later one differ by one
        asked.clear()
        tank_walk.walk(session, NOW)
        counts.append(len([statement for statement in asked if "SELECT" in statement]))
    assert counts[0] == counts[1] <= 30
