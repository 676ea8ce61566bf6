"""Ends taken back and put back: one fish is in one pair at a time, and a clutch ends once."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.pairing import EndedBecause, LinkKind
from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.errors import Asked
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import FishLeft, Pair, PairEnded
from hatchery_app.models.clutch import ClutchEnded
from hatchery_app.models.entry import known
from hatchery_app.services.broodstock import fish_left, pair
from hatchery_app.services.clutch import clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.records.record_in_the_way import LaterEntries
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from tests.builders import make_fish, make_pair, make_tank

Posted = Callable[..., Posting]
DAY = {n: datetime(2026, 9, n, 9, 0, tzinfo=UTC) for n in range(1, 25)}


def kinds(session: Session, *pair_ids: int) -> list[LinkKind]:
    rows = {row.fact: row.link for row in session.scalars(select(Pair).where(known()))}
    return [rows[one] for one in pair_ids]


@pytest.fixture
def swapped(session: Session, gannet_stair: RoomNow, posted: Posted) -> tuple[int, int, int]:
    """Rusk and Tansy ended; Tansy has been with Ditto since. The two pairs, and the end."""
    home = make_tank(session, "B1")
    first = make_pair(session, "Rusk", "Tansy", tank_id=home)
    pair.end_pair(
        session, posting=posted(DAY[1]), pair_id=first, because=EndedBecause.SWAPPED,
        when=When.exactly(DAY[1]),
    )  # fmt: skip
    tansy = session.scalars(select(Pair).where(known(), Pair.fact_id == first)).one().male_id
    second = pair.enter_pair(
        session, posting=posted(DAY[2]), male_id=tansy, when=When.exactly(DAY[2]),
        female_id=make_fish(session, "Ditto", tank_id=home),
    )  # fmt: skip
    end = session.scalars(select(PairEnded).where(known())).one().fact
    return first, second, end


@pytest.mark.parametrize(
    ("answer", "now"),
    [
        ("kept_with", [LinkKind.KEPT_WITH, LinkKind.PAIR]),
        ("other_kept_with", [LinkKind.PAIR, LinkKind.KEPT_WITH]),
    ],
)
def test_an_end_taken_back_asks_about_the_pair_that_came_after(
    session: Session, posted: Posted, swapped: tuple[int, int, int],
    answer: str, now: list[LinkKind],
) -> None:  # fmt: skip
    first, second, end = swapped
    with pytest.raises(Asked, match="one pair at a time"):
        correction.withdraw_entry(session, posting=posted(DAY[3]), fact_id=end)
    assert session.scalars(select(PairEnded).where(known())).one().fact == end
    correction.withdraw_entry(
        session, posting=posted(DAY[3], answers={"stands_again": answer}), fact_id=end
    )
    assert kinds(session, first, second) == now
    assert session.scalars(select(PairEnded).where(known())).all() == []


def test_the_pairs_own_page_asks_the_same(
    session: Session, posted: Posted, swapped: tuple[int, int, int]
) -> None:
    with pytest.raises(Asked, match="Rusk and Tansy"):
        pair.reopen_pair(session, posting=posted(DAY[3]), pair_id=swapped[0])


def test_an_end_that_leaves_no_pair_beside_another_is_taken_back_unasked(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    alone = make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1"))
    pair.end_pair(
        session, posting=posted(DAY[1]), pair_id=alone, because=EndedBecause.SWAPPED,
        when=When.exactly(DAY[1]),
    )  # fmt: skip
    end = session.scalars(select(PairEnded).where(known())).one().fact
    correction.withdraw_entry(session, posting=posted(DAY[3]), fact_id=end)
    assert kinds(session, alone) == [LinkKind.PAIR]


def test_a_loss_taken_back_asks_about_the_pair_that_came_after(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    home = make_tank(session, "B1")
    first = make_pair(session, "Rusk", "Tansy", tank_id=home)
    row = session.scalars(select(Pair).where(known(), Pair.fact_id == first)).one()
    rusk, tansy = row.female_id, row.male_id
    fish_left.record_leaving(
        session, posting=posted(DAY[1]), fish_id=rusk, door=WayOut.DIED, when=When.exactly(DAY[1])
    )
    pair.enter_pair(
        session, posting=posted(DAY[2]), male_id=tansy, when=When.exactly(DAY[2]),
        female_id=make_fish(session, "Ditto", tank_id=home),
    )  # fmt: skip
    loss = session.scalars(select(FishLeft).where(known())).one().fact
    with pytest.raises(Asked, match="one pair at a time"):
        correction.withdraw_entry(session, posting=posted(DAY[3]), fact_id=loss)


def test_a_clutch_that_ended_otherwise_since_does_not_end_twice(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    laid = DAY[1]
    eggs = spawn.record_laying(
        session, posting=posted(laid), when=When.exactly(laid),
        pair_id=make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1")),
    )  # fmt: skip
    ends = []
    for day, outcome in ((4, ClutchOutcome.EATEN), (5, ClutchOutcome.FUNGUS)):
        clutch.end_clutch(
            session, posting=posted(DAY[day]), clutch_id=eggs, outcome=outcome,
            when=When.exactly(DAY[day]),
        )  # fmt: skip
        ends.append(session.scalars(select(ClutchEnded).where(known())).one().fact)
        if day == 4:
            correction.withdraw_entry(session, posting=posted(DAY[4]), fact_id=ends[0])
    with pytest.raises(LaterEntries, match=r"said anew since.*over, lost to fungus"):
        correction.restore_entry(session, posting=posted(DAY[6]), fact_id=ends[0])
    correction.withdraw_entry(session, posting=posted(DAY[7]), fact_id=ends[1])
    correction.restore_entry(session, posting=posted(DAY[8]), fact_id=ends[0])
    assert session.scalars(select(ClutchEnded).where(known())).one().outcome is ClutchOutcome.EATEN


def test_a_withdrawn_pair_comes_back_beside_no_other(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    home = make_tank(session, "B1")
    first = make_pair(session, "Rusk", "Tansy", tank_id=home)
    tansy = session.scalars(select(Pair).where(known(), Pair.fact_id == first)).one().male_id
    correction.withdraw_entry(session, posting=posted(DAY[1]), fact_id=first)
    pair.enter_pair(
        session, posting=posted(DAY[2]), male_id=tansy, when=When.exactly(DAY[2]),
        female_id=make_fish(session, "Ditto", tank_id=home),
    )  # fmt: skip
    with pytest.raises(Asked, match="one pair at a time"):
        correction.restore_entry(
            session, posting=posted(DAY[2] + timedelta(hours=2)), fact_id=first
        )


def test_a_pair_dated_anew_into_another_of_its_fish_is_asked_about(
    session: Session, swapped: tuple[int, int, int], posted: Posted
) -> None:
    first, second, end = swapped
    with pytest.raises(Asked) as asked:
        correction.correct_entry(
            session, posting=posted(DAY[9]), fact_id=end, typed={}, when=When.exactly(DAY[8])
        )
    answers = {asked.value.question: "kept_with"}
    correction.correct_entry(
        session, posting=posted(DAY[9], answers=answers), fact_id=end, typed={},
        when=When.exactly(DAY[8]),
    )  # fmt: skip
    assert kinds(session, first, second) == [LinkKind.KEPT_WITH, LinkKind.PAIR]
