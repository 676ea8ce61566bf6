"""Larvae into tanks, moved, split, put together, and out by a named door."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import Basis, HowMany, parse
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.stock_book.stock_book import Door, Stage
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import pair
from hatchery_app.services.larval_tank import larval_tank, larval_tank_page
from hatchery_app.services.larval_tank.larval_tank import Part
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import counts, stock_book
from hatchery_app.services.stock_book.holding_facts import load_stock
from tests.builders import make_batch, make_fish, make_hatch, make_pair, make_tank, set_state

HATCHED = datetime(2026, 11, 20, 20, 40, tzinfo=UTC)
LATER = HATCHED + timedelta(days=3)
Posted = Callable[..., Posting]


def test_larvae_put_in_a_tank_are_a_batch_with_their_night_and_the_plan_they_began_with(
    session: Session, gannet_stair: RoomNow
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="about 80", hatched_at=HATCHED)
    stock = load_stock(session, gannet_stair, holding_ids=[batch])
    held = stock.holding(batch)
    assert (held.full_name, held.stage) == ("Batch 1 in L1", Stage.LARVAE)
    assert held.hatched is not None
    assert held.hatched[0].evening.isoformat() == "2026-11-20"
    assert stock.balance(batch).now.said() == "about 80"


def test_two_parts_of_one_clutch_in_one_tank_stay_that_clutch_over_both_nights(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank = make_tank(session, "L1")
    pair = make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1"))
    first = make_hatch(session, hatched_at=HATCHED, pair_id=pair)
    batch = make_batch(session, tank, number="60", hatched_at=HATCHED, hatch_id=first)
    clutch_id = load_stock(session, gannet_stair, holding_ids=[batch]).holding(batch).clutch_ids[0]
    next_night = HATCHED + timedelta(days=1)
    again = make_batch(session, tank, number="20", hatched_at=next_night, clutch_id=clutch_id)
    assert again == batch
    stock = load_stock(session, gannet_stair, holding_ids=[batch])
    first_night, last_night = stock.holding(batch).hatched or (None, None)
    assert first_night is not None
    assert last_night is not None
    assert last_night.number(first_night) == 1
    assert stock.balance(batch).now == HowMany.counted(80)


def test_larvae_of_another_clutch_in_the_tank_are_asked_about_and_make_a_mixed_batch(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank = make_tank(session, "L1")
    first = make_batch(session, tank, number="30", hatched_at=HATCHED)
    hatch = make_hatch(session, hatched_at=LATER)
    with pytest.raises(Asked) as asked:
        make_batch(session, tank, number="10", hatched_at=LATER, hatch_id=hatch)
    assert asked.value.question == "other_clutch"
    mixed = make_batch(
        session, tank, number="10", hatched_at=LATER, hatch_id=hatch, other_clutch="mix"
    )
    stock = load_stock(session, gannet_stair, holding_ids=[first, mixed])
    assert stock.holding(mixed).is_mixed
    assert stock.balance(mixed).best == 40
    assert stock.is_empty(first)


def test_a_look_at_the_tank_after_they_left_is_the_next_batchs(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank_id, second = make_tank(session, "L1"), make_tank(session, "L2")
    batch = make_batch(session, tank_id, number="30", hatched_at=HATCHED)
    set_state(session, second, TankState.READY, at=HATCHED)
    for hours, where in ((10, tank_id), (30, tank_id), (30, second), (60, second)):
        at = HATCHED + timedelta(hours=hours)
        if hours == 30 and where == tank_id:
            larval_tank.move_batch(
                session, posting=Posting(now=at), holding_id=batch, parts=[Part(second, None)],
                when=When.exactly(at - timedelta(hours=1)),
            )  # fmt: skip
        if hours == 60:
            stock_book.record_leaving(
                session, posting=Posting(now=at), holding_id=batch, door=Door.DIED, number=None,
                when=When.exactly(at - timedelta(hours=1)),
            )  # fmt: skip
        counts.record_prey(
            session, posting=Posting(now=at), tank_id=where, food="rotifers", look=Look.RIGHT,
            when=When.exactly(at),
        )  # fmt: skip
    page = larval_tank_page.larval_tank_page(session, holding_id=batch, now=LATER)
    looked = [line.when.latest - HATCHED for line in page.entries if line.prey]
    assert looked == [timedelta(hours=30), timedelta(hours=10)]


def of_line(session: Session, variety: str, label: str, *, species_key: str) -> int:
    """A batch of thirty in a tank of its own, of two parents of that variety."""
    home = make_tank(session, f"B {label}")
    facts = {"tank_id": home, "variety": variety, "species_key": species_key}
    female, male = (make_fish(session, f"{sex} {label}", **facts) for sex in ("she", "he"))
    pair_id = pair.enter_pair(
        session, posting=Posting(now=HATCHED - timedelta(days=60)), female_id=female,
        male_id=male, when=When.exactly(HATCHED - timedelta(days=60)),
    )  # fmt: skip
    return make_batch(
        session, make_tank(session, label), number="30", hatched_at=HATCHED, pair_id=pair_id
    )


@pytest.mark.parametrize(
    ("question", "varieties", "species"),
    [
        ("mixed_species", ("", ""), ("amphiprion_ocellaris", "amphiprion_percula")),
        ("mixed_lines", ("snowflake", "black"), ("amphiprion_ocellaris",) * 2),
    ],
)
@pytest.mark.parametrize("way", ["moved in", "put together"])
def test_unlike_fish_are_asked_about_stored_only_once_answered_and_marked_mixed(
    session: Session, gannet_stair: RoomNow, way: str, question: str,
    varieties: tuple[str, str], species: tuple[str, str],
) -> None:  # fmt: skip
    there, coming = (
        of_line(session, variety, label, species_key=key)
        for variety, label, key in zip(varieties, ("L1", "L2"), species, strict=True)
    )
    into = load_stock(session, gannet_stair).holding(there).place.tank_id

    def mix(**answers: str) -> int:
        facts = {"posting": Posting(now=LATER, answers=answers), "when": When.exactly(LATER)}
        if way == "moved in":
            return larval_tank.move_batch(
                session, holding_id=coming, parts=[Part(into, HowMany.counted(10))], **facts
            )
        return larval_tank.merge_batches(
            session, holding_ids=(there, coming), tank_id=into, **facts
        )

    with pytest.raises(Asked) as asked:
        mix(other_clutch="mix")
    assert asked.value.question == question
    assert "cannot be told apart afterwards" in asked.value.sentence
    untouched = load_stock(session, gannet_stair)
    assert {one: untouched.balance(one).best for one in untouched.holdings} == {
        there: 30, coming: 30,
    }  # fmt: skip
    mixed = mix(other_clutch="mix", **{question: "mix"})
    stock = load_stock(session, gannet_stair)
    assert stock.holding(mixed).is_mixed
    left = 20 if way == "moved in" else 0
    assert [stock.balance(one).best for one in (there, coming, mixed)] == [0, left, 60 - left]


def test_a_barred_tank_takes_no_larvae_and_a_dirty_one_is_asked_about(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank = make_tank(session, "L1")
    set_state(session, tank, TankState.BARRED, at=HATCHED - timedelta(days=2), reason="velvet")
    hatch = make_hatch(session, hatched_at=HATCHED)
    with pytest.raises(RuleBroken, match=r"barred .velvet."):
        make_batch(session, tank, hatched_at=HATCHED, hatch_id=hatch)
    set_state(session, tank, TankState.DIRTY, at=HATCHED - timedelta(days=1))
    with pytest.raises(Asked) as asked:
        make_batch(session, tank, hatched_at=HATCHED, hatch_id=hatch)
    assert asked.value.question == "tank_not_ready"
    assert make_batch(session, tank, hatched_at=HATCHED, hatch_id=hatch, tank_not_ready="put")


def test_no_more_larvae_go_into_tanks_than_were_counted_at_the_hatch(
    session: Session, gannet_stair: RoomNow
) -> None:
    hatch = make_hatch(session, hatched_at=HATCHED, number="90")
    make_batch(session, make_tank(session, "L1"), number="60", hatched_at=HATCHED, hatch_id=hatch)
    with pytest.raises(RuleBroken, match="90 counted hatched"):
        make_batch(
            session, make_tank(session, "L2"), number="40", hatched_at=HATCHED, hatch_id=hatch
        )


def test_a_part_moved_is_a_batch_of_the_same_clutch_and_all_of_it_the_same_batch(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    one, two, three = (make_tank(session, label) for label in ("L1", "L2", "L3"))
    batch = make_batch(session, one, number="100", hatched_at=HATCHED)
    moved = larval_tank.move_batch(
        session, posting=posted(LATER), holding_id=batch, when=When.exactly(LATER),
        parts=(Part(two, HowMany.counted(40), "by the jug"),),
    )  # fmt: skip
    same = larval_tank.move_batch(
        session, posting=posted(LATER), holding_id=batch, parts=(Part(three, None),),
        when=When.exactly(LATER),
    )  # fmt: skip
    stock = load_stock(session, gannet_stair, holding_ids=[batch, moved])
    assert same == batch
    assert stock.holding(batch).place.label == "L3"
    assert stock.holding(moved).clutch_ids == stock.holding(batch).clutch_ids
    assert stock.holding(moved).note == "by the jug"
    assert (stock.balance(batch).best, stock.balance(moved).best) == (60, 40)


def test_an_emptied_tank_is_dirty_for_the_next_larvae(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    tank = make_tank(session, "L1", state=TankState.READY)
    batch = make_batch(session, tank, number="about 50", hatched_at=HATCHED)
    larval_tank.move_batch(
        session, posting=posted(LATER), holding_id=batch, when=When.exactly(LATER),
        parts=(Part(make_tank(session, "L2"), None),),
    )  # fmt: skip
    with pytest.raises(Asked, match="empty and dirty"):
        make_batch(session, tank, hatched_at=LATER + timedelta(hours=1))


def test_all_that_are_left_of_an_unknown_number_can_die_and_none_remain(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="?", hatched_at=HATCHED)
    stock_book.record_leaving(
        session, posting=posted(LATER), holding_id=batch, door=Door.DIED,
        when=When.between(LATER - timedelta(days=2), LATER),
    )  # fmt: skip
    balance = load_stock(session, gannet_stair, holding_ids=[batch]).balance(batch)
    assert balance.best == 0
    assert balance.start.basis is Basis.UNKNOWN


def test_more_dying_than_were_counted_is_refused_and_more_than_estimated_is_asked(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    counted = make_batch(session, make_tank(session, "L1"), number="20", hatched_at=HATCHED)
    about = make_batch(session, make_tank(session, "L2"), number="200 (150-260)",
                       hatched_at=HATCHED)  # fmt: skip

    def die(batch: int, number: str, **answers: str) -> int:
        return stock_book.record_leaving(
            session, posting=posted(LATER, answers=answers), holding_id=batch, door=Door.DIED,
            number=parse(number), when=When.exactly(LATER),
        )  # fmt: skip

    with pytest.raises(RuleBroken, match="held 20 counted") as refused:
        die(counted, "21")
    assert refused.value.field == "number"
    with pytest.raises(RuleBroken):
        die(about, "261")
    with pytest.raises(Asked) as asked:
        die(about, "230")
    assert asked.value.question == "more_than_best"
    assert die(about, "230", more_than_best="raise")


def test_a_late_entry_that_makes_a_later_one_impossible_is_refused_and_names_it(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="20", hatched_at=HATCHED)
    stock_book.record_leaving(
        session, posting=posted(LATER), holding_id=batch, door=Door.SAMPLED,
        number=HowMany.counted(15), when=When.exactly(LATER),
    )  # fmt: skip
    with pytest.raises(RuleBroken, match="15 sampled"):
        stock_book.record_leaving(
            session, posting=posted(LATER + timedelta(days=1)), holding_id=batch, door=Door.DIED,
            number=HowMany.counted(8), when=When.exactly(HATCHED + timedelta(days=1)),
        )  # fmt: skip


def test_a_movement_can_be_corrected_and_taken_back_and_the_balance_follows(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="20", hatched_at=HATCHED)
    died = stock_book.record_leaving(
        session, posting=posted(LATER), holding_id=batch, door=Door.DIED,
        number=HowMany.counted(5), when=When.exactly(LATER),
    )  # fmt: skip
    correction.correct_entry(
        session, posting=posted(LATER), fact_id=died, typed={"number": "3"}
    )
    assert load_stock(session, gannet_stair, holding_ids=[batch]).balance(batch).best == 17
    correction.withdraw_entry(session, posting=posted(LATER), fact_id=died)
    assert load_stock(session, gannet_stair, holding_ids=[batch]).balance(batch).best == 20


def test_taking_back_what_a_later_entry_rests_on_is_refused(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="20", hatched_at=HATCHED)
    found = stock_book.record_coming(
        session, posting=posted(LATER), holding_id=batch, door=Door.FOUND,
        number=HowMany.counted(5), when=When.exactly(LATER),
    )  # fmt: skip
    stock_book.record_leaving(
        session, posting=posted(LATER), holding_id=batch, door=Door.SAMPLED,
        number=HowMany.counted(24), when=When.exactly(LATER),
    )  # fmt: skip
    with pytest.raises(RuleBroken, match="too few fish would be left"):
        correction.withdraw_entry(session, posting=posted(LATER), fact_id=found)


def test_larvae_are_not_in_a_tank_before_they_hatched(
    session: Session, gannet_stair: RoomNow
) -> None:
    with pytest.raises(RuleBroken, match="before they were seen hatched"):
        make_batch(
            session, make_tank(session, "L1"), hatched_at=HATCHED,
            put_at=HATCHED - timedelta(hours=3),
        )  # fmt: skip


def test_a_look_that_is_only_at_the_settled_does_not_change_the_number(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="84", hatched_at=HATCHED)
    counts.record_settlement(
        session, posting=posted(LATER), holding_id=batch, settled=10, swimming=None,
        when=When.exactly(LATER),
    )  # fmt: skip
    assert load_stock(session, gannet_stair, holding_ids=[batch]).balance(batch).best == 84
