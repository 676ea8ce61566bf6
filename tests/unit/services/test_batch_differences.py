"""What the records say of the days of a loss, beside siblings or the room's other batches."""

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta

from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.stock_book.what_differed import Beside, Matter
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.larval_tank.larval_tank import Part
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction, room
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.stock_book import batch_differences, counts
from hatchery_app.services.stock_book.holding_facts import load_stock
from hatchery_app.services.tank import treatment
from tests.builders import make_batch, make_hatch, make_tank, read_temperature, set_state
from tests.unit.services.test_species_survival import lost
from tests.unit.services.test_today_statements import statements

HATCHED = datetime(2026, 3, 1, 20, 30, tzinfo=UTC)
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def day(dph: int, hour: int = 12) -> datetime:
    return HATCHED.replace(hour=hour, minute=0) + timedelta(days=dph)


def beside(session: Session, batch: int) -> tuple[Beside, ...]:
    room = room_now(session)
    stock = load_stock(session, room, holding_ids=(batch,))
    found = batch_differences.losses_beside(session, room, stock, stock.holding(batch), NOW)
    return tuple(one.beside for one in found)


def three_siblings(session: Session) -> tuple[Sequence[int], Sequence[int]]:
    """One clutch over three tanks, 100 each; A loses 40 on day 5. Tanks, then batches."""
    tanks = [make_tank(session, label) for label in ("A", "B", "C")]
    for tank in tanks:
        set_state(session, tank, TankState.READY, at=HATCHED - timedelta(hours=5))
    larval_tank.put_larvae_in_tank(
        session, posting=Posting(now=HATCHED), hatch_id=make_hatch(session, hatched_at=HATCHED),
        when=When.exactly(HATCHED), parts=[Part(tank, HowMany.counted(100)) for tank in tanks],
    )  # fmt: skip
    stock = load_stock(session, room_now(session))
    batches = sorted(stock.holdings)
    lost(session, batches[0], 40, day(5))
    return tanks, batches


def test_a_hot_tank_and_a_food_gap_are_named_beside_the_siblings_without(
    session: Session, gannet_stair: RoomNow
) -> None:
    tanks, batches = three_siblings(session)
    for dph in range(3, 6):
        for tank, read in zip(tanks, ("26.8", "27.0", "27.1"), strict=True):
            hot = "30.4" if tank == tanks[0] and dph == 4 else read
            read_temperature(session, tank, hot, at=day(dph))
        for tank in tanks:
            look = Look.NONE if tank == tanks[0] and dph == 3 else Look.RIGHT
            counts.record_prey(
                session, posting=Posting(now=day(dph)), tank_id=tank, food="rotifers", look=look,
                when=When.exactly(day(dph)),
            )  # fmt: skip
    (found,) = beside(session, batches[0])
    assert (found.episode.number, found.episode.from_dph) == (40, 5)
    assert len(found.others) == 2
    assert {one.matter: one.here for one in found.different} == {
        Matter.TEMPERATURE: "26.8–30.4 °C; its band is 26–28 °C",
        Matter.FOOD_GAP: "rotifers: none left at a look",
    }
    assert found.not_compared == ()


def test_a_reading_long_before_the_loss_is_not_brought_up(
    session: Session, gannet_stair: RoomNow
) -> None:
    tanks, batches = three_siblings(session)
    for tank in tanks:
        read_temperature(session, tank, "27", at=day(4))
    read_temperature(session, tanks[0], "30.4", at=day(1))
    (found,) = beside(session, batches[0])
    assert found.different == ()
    assert found.not_compared == ("food gap: nobody looked at the food here",)


def test_a_move_into_colder_unmatched_water_stands_beside_the_loss(
    session: Session, gannet_stair: RoomNow
) -> None:
    tanks, batches = three_siblings(session)
    cold = make_tank(session, "D")
    set_state(session, cold, TankState.READY, at=HATCHED)
    read_temperature(session, tanks[0], "27", at=day(4, 9))
    read_temperature(session, cold, "24.2", at=day(4, 9))
    larval_tank.move_batch(
        session, posting=Posting(now=day(4)), holding_id=batches[0],
        parts=[Part(cold, None)], when=When.exactly(day(4)),
    )  # fmt: skip
    (found,) = beside(session, batches[0])
    said = {one.matter: one.here for one in found.different}
    assert said[Matter.MOVE] == "moved from A to D"
    assert said[Matter.UNMATCHED] == "from 27.0 into 24.2 °C"


def test_without_siblings_the_rooms_other_batches_of_that_age_stand_in(
    session: Session, gannet_stair: RoomNow
) -> None:
    first = make_batch(session, make_tank(session, "L1"), number="100", hatched_at=HATCHED)
    later = HATCHED + timedelta(days=30)
    crowded = make_batch(session, make_tank(session, "L2"), number="400", hatched_at=later)
    lost(session, crowded, 100, later + timedelta(days=6))
    (found,) = beside(session, crowded)
    assert found.others == ("Batch 1 in L1",)
    assert {one.matter: one.here for one in found.different} == {
        Matter.CROWDING: "10 fish to the litre"
    }
    lost(session, first, 100, HATCHED + timedelta(days=2))  # gone before that age
    (found,) = beside(session, crowded)
    assert found.others == ()


def test_a_batch_without_a_notable_loss_asks_nothing_more(
    session: Session, gannet_stair: RoomNow
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="100", hatched_at=HATCHED)
    lost(session, batch, 5, day(3))
    room = room_now(session)
    stock = load_stock(session, room, holding_ids=(batch,))
    with statements() as asked:
        assert not batch_differences.losses_beside(
            session, room, stock, stock.holding(batch), NOW
        )
    assert asked == []


def test_the_records_are_asked_as_often_for_many_others_as_for_few(
    session: Session, gannet_stair: RoomNow
) -> None:
    tanks, batches = three_siblings(session)
    read_temperature(session, tanks[0], "27", at=day(4))
    session.expire_all()
    with statements() as few:
        beside(session, batches[0])
    for place in range(6):
        make_batch(
            session, make_tank(session, f"M{place}"), number="90", hatched_at=day(place + 30, 20)
        )
    lost(session, batches[0], 20, day(12))
    session.expire_all()
    with statements() as many:
        beside(session, batches[0])
    assert len(many) == len(few)


def test_the_batchs_page_says_what_differed_and_that_it_is_no_cause(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    tanks, batches = three_siblings(session)
    for tank, read in zip(tanks, ("29.6", "27.0", "27.1"), strict=True):
        read_temperature(session, tank, read, at=day(4))
    with freeze_time(NOW):
        page = client.get(f"/larval-tanks/{batches[0]}").get_data(as_text=True)
    assert "What was different" in page
    assert "different, which is not yet the cause" in page
    assert "5 dph: 40 died, 40 % of those there" in page
    assert "29.6 °C; its band is 26–28 °C" in page
    assert "beside 2 sibling tanks at that age" in page
    assert "Not compared: food gap: nobody looked at the food here" in page


def test_a_treatment_of_one_tank_or_of_its_shared_water_stands_beside_the_loss(
    session: Session, gannet_stair: RoomNow
) -> None:
    tanks, batches = three_siblings(session)
    treatment_id = treatment.record_treatment(
        session, posting=Posting(now=day(5)), tank_id=tanks[0], what="Copper, green bottle",
        amount="two caps", when=When.exactly(day(4)), over=When.exactly(day(4, 15)),
    )  # fmt: skip
    (found,) = beside(session, batches[0])
    assert {one.matter: (one.here, one.others) for one in found.different} == {
        Matter.TREATMENT: (
            "Copper, green bottle, two caps in A, Thu 5 Mar", "not so with 2 of 2 others",
        )
    }  # fmt: skip
    for tank in tanks[1:]:
        treatment.record_treatment(
            session, posting=Posting(now=day(4)), tank_id=tank, what="copper,  green BOTTLE",
            when=When.exactly(day(4)),
        )  # fmt: skip
    assert beside(session, batches[0])[0].different == ()
    correction.withdraw_entry(session, posting=Posting(now=NOW), fact_id=treatment_id)
    (found,) = beside(session, batches[0])
    assert [(one.matter, one.here) for one in found.different] == [
        (Matter.TREATMENT, "none written down")
    ]


def test_a_treatment_over_before_those_days_or_begun_after_is_not_brought_up(
    session: Session, gannet_stair: RoomNow
) -> None:
    tanks, batches = three_siblings(session)
    for began, over in ((day(1), day(2)), (day(7), None)):
        treatment.record_treatment(
            session, posting=Posting(now=day(8)), tank_id=tanks[0], what="salt dip",
            when=When.exactly(began), over=When.exactly(over) if over else None,
        )  # fmt: skip
    assert beside(session, batches[0])[0].different == ()


def test_longer_light_over_one_tank_stands_beside_the_loss(
    session: Session, gannet_stair: RoomNow
) -> None:
    tanks, batches = three_siblings(session)
    room.set_lights(
        session, posting=Posting(now=day(2)), lights_on=time(6), lights_off=time(22),
        when=When.exactly(day(2)), tank_id=tanks[0],
    )  # fmt: skip
    (found,) = beside(session, batches[0])
    assert {one.matter: (one.here, one.others) for one in found.different} == {
        Matter.LIGHT: ("16 hours a day", "12 hours with 2 of 2 others")
    }


def test_a_bar_of_its_tank_and_fish_put_in_with_them_stand_beside_the_loss(
    session: Session, gannet_stair: RoomNow
) -> None:
    tanks, batches = three_siblings(session)
    set_state(session, tanks[0], TankState.BARRED, at=day(4), reason="white spots next door")
    spare = make_tank(session, "D")
    set_state(session, spare, TankState.READY, at=HATCHED)
    larval_tank.move_batch(
        session, posting=Posting(now=day(4)), holding_id=batches[0],
        parts=[Part(spare, HowMany.counted(10))], when=When.exactly(day(4)),
    )  # fmt: skip
    (found,) = beside(session, batches[0])
    said = {one.matter: one.here for one in found.different}
    assert said[Matter.BARRED] == "A was barred: white spots next door"
    assert said[Matter.MOVE] == "10 were moved out"
