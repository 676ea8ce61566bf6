"""Larvae found to be of another clutch: all that followed goes with them, and comes back."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import Fish
from hatchery_app.models.clutch import Hatch
from hatchery_app.models.entry import known
from hatchery_app.models.stock_book import Moved
from hatchery_app.services.cohort import cohort_leaving
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.larval_tank.larval_tank import Part
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import other_clutch
from hatchery_app.services.stock_book.holding_facts import load_stock
from tests.builders import make_batch, make_hatch, make_pair, make_tank

Posted = Callable[..., Posting]
HATCHED = datetime(2026, 10, 1, 20, 30, tzinfo=UTC)
LATER = HATCHED + timedelta(days=40)
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Room:
    """A batch of one clutch, split, settled, kept from and mixed; and the hatch of another."""

    batch: int
    part: int
    cohort: int
    breeder: int
    mixed: int
    third: int
    hatch: int
    clutch: int
    other_hatch: int
    other_clutch: int


def clutch_of(session: Session, hatch_id: int) -> int:
    return session.scalars(select(Hatch).where(known(), Hatch.fact_id == hatch_id)).one().clutch_id


@pytest.fixture
def room(session: Session, gannet_stair: RoomNow, posted: Posted) -> Room:
    tanks = {label: make_tank(session, label) for label in ("B1", "B2", "B3", "L1", "L2", "L3",
                                                            "L4", "L5", "G1")}  # fmt: skip
    hatches = [
        make_hatch(
            session, hatched_at=HATCHED + timedelta(days=day), number="200",
            pair_id=make_pair(session, *names, tank_id=tanks[label]),
        )
        for day, names, label in ((0, ("Rusk", "Tansy"), "B1"), (-1, ("Bay", "Ditto"), "B2"),
                                  (0, ("Merle", "Quill"), "B3"))
    ]  # fmt: skip
    put_at = HATCHED + timedelta(hours=1)
    batch, third = (
        make_batch(session, tanks[label], number="143", hatched_at=put_at, hatch_id=hatch)
        for label, hatch in (("L1", hatches[0]), ("L4", hatches[2]))
    )
    day = {n: posted(HATCHED + timedelta(days=n)) for n in (5, 20, 30, 40)}
    part = larval_tank.move_batch(
        session, posting=day[5], holding_id=batch, when=When.exactly(day[5].now),
        parts=[Part(tanks["L2"], HowMany.counted(60))],
    )  # fmt: skip
    cohort = larval_tank.move_settled(
        session, posting=day[20], holding_id=part, tank_id=tanks["G1"],
        number=HowMany.counted(30), when=When.exactly(day[20].now),
    )  # fmt: skip
    mixed = larval_tank.merge_batches(
        session, posting=day[30], holding_ids=(part, third), tank_id=tanks["L5"],
        when=When.exactly(day[30].now),
    )  # fmt: skip
    breeder = cohort_leaving.keep_as_breeders(
        session, posting=day[40], holding_id=cohort, names=["Sorrel"],
        when=When.exactly(day[40].now), tank_id=tanks["B1"],
    )  # fmt: skip
    return Room(
        batch, part, cohort, breeder, mixed, third, hatches[0], clutch_of(session, hatches[0]),
        hatches[1], clutch_of(session, hatches[1]),
    )  # fmt: skip


def clutches(session: Session, room_now: RoomNow, *holding_ids: int) -> list[tuple[int, ...]]:
    stock = load_stock(session, room_now, holding_ids=holding_ids)
    return [stock.holding(one).clutch_ids for one in holding_ids]


def breeder(session: Session, fact_id: int) -> Fish:
    return session.scalars(select(Fish).where(known(), Fish.fact_id == fact_id)).one()


def moved_to(session: Session, room: Room, posted: Posted, **answers: str) -> int:
    at = LATER + timedelta(days=1)
    return other_clutch.record_other_clutch(
        session, posting=posted(at, answers=answers), holding_id=room.batch,
        hatch_id=room.other_hatch, when=When.exactly(at),
    )  # fmt: skip


def test_all_that_follows_is_shown_before_anything_is_changed(
    session: Session, gannet_stair: RoomNow, posted: Posted, room: Room
) -> None:
    with pytest.raises(other_clutch.MovesAlong) as asked:
        moved_to(session, room, posted)
    told = "\n".join(asked.value.lines)
    assert "Batch 1: of Clutch 2 (Bay × Ditto) instead of Clutch 1 (Rusk × Tansy)" in told
    assert "Batch 3: of Clutch 2" in told
    assert "Cohort 1: of Clutch 2" in told
    assert "of Clutch 2 (Bay × Ditto) or Clutch 3 (Merle × Quill) instead of" in told
    assert "Sorrel: its parents follow" in told
    assert clutches(session, gannet_stair, room.batch, room.cohort) == [(room.clutch,)] * 2


def test_split_cohort_mixed_batch_and_breeders_go_along(
    session: Session, gannet_stair: RoomNow, posted: Posted, room: Room
) -> None:
    moved_to(session, room, posted, moves_along="move")
    (third,) = clutches(session, gannet_stair, room.third)
    new = (room.other_clutch,)
    assert clutches(session, gannet_stair, room.batch, room.part, room.cohort) == [new] * 3
    (mixed,) = clutches(session, gannet_stair, room.mixed)
    assert set(mixed) == {room.other_clutch, *third}
    assert breeder(session, room.breeder).clutch_id == room.other_clutch
    stock = load_stock(session, gannet_stair, holding_ids=[room.batch])
    assert stock.holding(room.batch).hatched is not None
    assert stock.holding(room.batch).hatched[0].evening == datetime(2026, 9, 30).date()
    assert stock.balance(room.batch).best == 83  # no fish moved by it
    put = session.scalars(select(Moved).where(known(), Moved.hatch_id == room.other_hatch)).all()
    assert [row.into_id for row in put] == [room.batch]


def test_withdrawn_all_of_it_goes_back_and_restored_it_holds_again(
    session: Session, gannet_stair: RoomNow, posted: Posted, room: Room
) -> None:
    before = clutches(session, gannet_stair, room.batch, room.part, room.cohort, room.mixed)
    fact = moved_to(session, room, posted, moves_along="move")
    after = clutches(session, gannet_stair, room.batch, room.part, room.cohort, room.mixed)
    at = LATER + timedelta(days=2)
    correction.withdraw_entry(session, posting=posted(at), fact_id=fact)
    back = clutches(session, gannet_stair, room.batch, room.part, room.cohort, room.mixed)
    assert back == before
    assert breeder(session, room.breeder).clutch_id == room.clutch
    night = load_stock(session, gannet_stair, holding_ids=[room.batch]).holding(room.batch).hatched
    assert night is not None
    assert night[0].evening == HATCHED.date()
    correction.restore_entry(session, posting=posted(at + timedelta(days=1)), fact_id=fact)
    again = clutches(session, gannet_stair, room.batch, room.part, room.cohort, room.mixed)
    assert again == after != before
    assert breeder(session, room.breeder).clutch_id == room.other_clutch
    correction.withdraw_entry(session, posting=posted(at + timedelta(days=2)), fact_id=fact)
    assert clutches(session, gannet_stair, room.batch)[0] == (room.clutch,)


def test_the_first_of_two_changes_is_withdrawn_last(
    session: Session, gannet_stair: RoomNow, posted: Posted, room: Room
) -> None:
    first = moved_to(session, room, posted, moves_along="move")
    at = LATER + timedelta(days=2)
    second = other_clutch.record_other_clutch(
        session, posting=posted(at, answers={"moves_along": "move"}), holding_id=room.batch,
        hatch_id=room.hatch, when=When.exactly(at),
    )  # fmt: skip
    with pytest.raises(RuleBroken, match="Withdraw that first"):
        correction.withdraw_entry(session, posting=posted(at), fact_id=first)
    for step, fact in enumerate((second, first), start=1):
        correction.withdraw_entry(
            session, posting=posted(at + timedelta(days=step)), fact_id=fact
        )
    assert clutches(session, gannet_stair, room.batch)[0] == (room.clutch,)


def test_a_breeder_whose_clutch_was_said_otherwise_stays_as_it_was_said(
    session: Session, gannet_stair: RoomNow, posted: Posted, room: Room
) -> None:
    correction.correct_entry(
        session, posting=posted(LATER), fact_id=room.breeder, typed={"clutch_id": ""}
    )
    moved_to(session, room, posted, moves_along="move")
    assert breeder(session, room.breeder).clutch_id is None


def test_a_part_follows_the_batch_it_came_from(
    session: Session, gannet_stair: RoomNow, posted: Posted, room: Room
) -> None:
    with pytest.raises(RuleBroken, match="came out of another batch"):
        other_clutch.record_other_clutch(
            session, posting=posted(LATER), holding_id=room.part, hatch_id=room.other_hatch,
            when=When.exactly(LATER),
        )  # fmt: skip


def test_larvae_are_not_of_a_hatch_that_came_later_or_had_too_few(
    session: Session, gannet_stair: RoomNow, posted: Posted, room: Room
) -> None:
    pair = make_pair(session, "Rue", "Yarrow", tank_id=make_tank(session, "B9"))
    late = make_hatch(session, hatched_at=HATCHED + timedelta(days=3), pair_id=pair)
    few = make_hatch(session, hatched_at=HATCHED - timedelta(days=2), pair_id=pair, number="20")
    for hatch, sentence in ((late, "before that hatch"), (few, "20 counted hatched")):
        with pytest.raises(RuleBroken, match=sentence):
            other_clutch.record_other_clutch(
                session, posting=posted(LATER), holding_id=room.batch, hatch_id=hatch,
                when=When.exactly(LATER),
            )  # fmt: skip


def test_a_batch_that_was_here_before_is_given_a_clutch_and_loses_it_again(
    session: Session, gannet_stair: RoomNow, posted: Posted, room: Room
) -> None:
    at = HATCHED + timedelta(days=3)
    here = larval_tank.move_in_batch(
        session, posting=posted(at), tank_id=make_tank(session, "L8"),
        species_key="amphiprion_ocellaris", number=HowMany.counted(50), when=When.exactly(at),
    )  # fmt: skip
    split = larval_tank.move_batch(
        session, posting=posted(at), holding_id=here, when=When.exactly(at),
        parts=[Part(make_tank(session, "L9"), HowMany.counted(20))],
    )  # fmt: skip
    fact = other_clutch.record_other_clutch(
        session, posting=posted(LATER, answers={"moves_along": "move"}), holding_id=here,
        hatch_id=room.hatch, when=When.exactly(LATER),
    )  # fmt: skip
    assert clutches(session, gannet_stair, here, split) == [(room.clutch,)] * 2
    later = LATER + timedelta(days=1)
    correction.withdraw_entry(session, posting=posted(later), fact_id=fact)
    stock = load_stock(session, gannet_stair, holding_ids=[here])
    assert clutches(session, gannet_stair, here, split) == [(), ()]
    assert stock.holding(here).hatched is None


def test_of_a_cohort_it_is_said_of_the_batch_as_which_it_came_in(
    client: FlaskClient, session: Session, gannet_stair: RoomNow, room: Room
) -> None:
    with freeze_time(NOW):
        at = f"/cohorts/{room.cohort}/other-clutch"
        assert at in client.get(f"/cohorts/{room.cohort}").text
        assert "came in as Batch 1: that batch changes" in client.get(at).text
        facts = {"hatch_id": str(room.other_hatch), "note": "jugs were mixed up"}
        unchosen = client.post(at, data=facts | {"hatch_id": "0"})
        assert unchosen.status_code == 422
        assert "jugs were mixed up" in unchosen.text
        asked = client.post(at, data=facts)
        assert asked.status_code == 422
        assert "Batch 1: of Clutch 2 (Bay × Ditto) instead of Clutch 1" in asked.text
        assert "Cohort 1: of Clutch 2" in asked.text
        assert clutches(session, gannet_stair, room.batch, room.cohort) == [(room.clutch,)] * 2
        done = client.post(at, data=facts | {"answer-moves_along": "move"})
        assert done.status_code == 303
        session.rollback()
        new = (room.other_clutch,)
        assert clutches(session, gannet_stair, room.batch, room.cohort) == [new] * 2


def test_a_mixed_batch_came_in_as_several_and_each_is_offered(
    session: Session, gannet_stair: RoomNow, room: Room
) -> None:
    came = other_clutch.came_as(session, gannet_stair, holding_id=room.mixed)
    assert {one.id for one in came} == {room.batch, room.third}
    (alone,) = other_clutch.came_as(session, gannet_stair, holding_id=room.batch)
    assert alone.id == room.batch


def test_through_the_pages_it_is_shown_confirmed_and_withdrawn(
    client: FlaskClient, session: Session, room: Room
) -> None:
    with freeze_time(NOW):
        at = f"/larval-tanks/{room.batch}/other-clutch"
        form = client.get(at).text
        assert "Clutch 2, Bay × Ditto" in form
        assert "Of another clutch?" in client.get(f"/larval-tanks/{room.batch}").text
        facts = {"hatch_id": str(room.other_hatch), "note": "jugs were mixed up"}
        asked = client.post(at, data=facts)
        assert asked.status_code == 422
        assert "Cohort 1: of Clutch 2" in asked.text
        assert "jugs were mixed up" in asked.text
        done = client.post(at, data=facts | {"answer-moves_along": "move"})
        assert done.status_code == 303
        assert "of Clutch 2 instead" in client.get(done.location).text
        assert "Bay × Ditto" in client.get(f"/larval-tanks/{room.batch}").text
        back = client.post(f"{done.location}/withdraw", data={"note": "no, they were not"})
        assert back.status_code == 303
        assert "Rusk × Tansy" in client.get(f"/larval-tanks/{room.batch}").text
