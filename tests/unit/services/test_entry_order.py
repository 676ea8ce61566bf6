"""What is entered late lies in the order of life like what was entered at once."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.pairing import EndedBecause
from hatchery_app.domain.cohort.cohort import Aside
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import Pair, PairEnded
from hatchery_app.models.clutch import Laying
from hatchery_app.models.entry import known
from hatchery_app.services.broodstock import fish, fish_left, pair
from hatchery_app.services.cohort import cohort
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import records_check
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.sale import sale
from hatchery_app.services.spawn import spawn
from tests.builders import make_cohort, make_pair, make_tank

Posted = Callable[..., Posting]


def day(of_november: int, hour: int = 9) -> datetime:
    return datetime(2026, 11, of_november, hour, tzinfo=UTC)


NOW = day(24)


@pytest.fixture
def rusk_and_tansy(session: Session, gannet_stair: RoomNow) -> Pair:
    made = make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1"))
    return session.scalars(select(Pair).where(known(), Pair.fact_id == made)).one()


def lay(session: Session, posting: Posting, of_pair: int, at: datetime) -> int:
    return spawn.record_laying(session, posting=posting, pair_id=of_pair, when=When.exactly(at))


def part(session: Session, posting: Posting, of_pair: int, at: datetime) -> int:
    return pair.end_pair(
        session, posting=posting, pair_id=of_pair, because=EndedBecause.SWAPPED,
        when=When.exactly(at),
    )  # fmt: skip


def test_a_pair_does_not_lay_after_it_was_parted_whichever_is_told_first(
    session: Session, posted: Posted, rusk_and_tansy: Pair
) -> None:
    one = rusk_and_tansy.fact
    lay(session, posted(NOW), one, day(12, 17))
    with pytest.raises(RuleBroken, match="after it was parted"):
        part(session, posted(NOW), one, day(5))
    part(session, posted(NOW), one, day(14))
    with pytest.raises(RuleBroken, match="after it was parted"):
        lay(session, posted(NOW), one, day(20, 17))
    assert records_check.check_books(session).wrong == ()


def test_a_female_lost_before_her_mate_ends_the_pair_and_lays_no_more(
    session: Session, posted: Posted, rusk_and_tansy: Pair
) -> None:
    """Her death is found out later than his: the pair ended with hers."""
    one, her, him = rusk_and_tansy.fact, rusk_and_tansy.female_id, rusk_and_tansy.male_id
    for who, at in ((him, day(19)), (her, day(4))):
        fish_left.record_leaving(
            session, posting=posted(NOW), fish_id=who, door=WayOut.DIED, when=When.exactly(at)
        )
    end = session.scalars(select(PairEnded).where(known(), PairEnded.pair_id == one)).one()
    assert end.happened_latest == day(4)
    assert end.because is EndedBecause.FEMALE_LOST
    with pytest.raises(RuleBroken, match="Rusk was no longer here"):
        lay(session, posted(NOW), one, day(12, 17))


def test_what_is_held_or_set_aside_is_not_let_go_before(
    session: Session, posted: Posted, gannet_stair: RoomNow
) -> None:
    grown = make_cohort(
        session, make_tank(session, "G1"), number="30",
        hatched_at=datetime(2026, 8, 1, 21, tzinfo=UTC),
        settled_at=datetime(2026, 8, 20, 9, tzinfo=UTC), larval_tank_id=make_tank(session, "L1"),
    )  # fmt: skip
    held = sale.place_hold(
        session, posting=posted(NOW), holding_id=grown, number=10, when=When.exactly(day(14))
    )
    with pytest.raises(RuleBroken, match="held before they are let go"):
        sale.release_hold(session, posting=posted(NOW), held_id=held, when=When.exactly(day(4)))
    aside = cohort.set_aside(
        session, posting=posted(NOW), holding_id=grown, why=Aside.NOT_FOR_SALE, number=5,
        when=When.exactly(day(20)), reason="for show",
    )  # fmt: skip
    with pytest.raises(RuleBroken, match="set aside before they are freed"):
        cohort.set_free(
            session, posting=posted(NOW), set_aside_id=aside, when=When.exactly(day(15))
        )


def test_a_laying_told_late_lies_where_the_pair_was_then(
    session: Session, posted: Posted, rusk_and_tansy: Pair
) -> None:
    first, second = make_tank(session, "B8"), make_tank(session, "B9")
    for tank, at in ((first, day(10)), (second, day(20))):
        for one in (rusk_and_tansy.female_id, rusk_and_tansy.male_id):
            fish.place_fish(
                session, posting=posted(NOW), fish_id=one, tank_id=tank, when=When.exactly(at)
            )
    for at, tank in ((day(14, 18), first), (day(22, 18), second)):
        lay(session, posted(NOW), rusk_and_tansy.fact, at)
        newest = session.scalars(select(Laying).order_by(Laying.seq.desc())).first()
        assert newest is not None
        assert newest.tank_id == tank


def test_one_laying_told_by_two_is_asked_about_and_kept_once(
    session: Session, posted: Posted, rusk_and_tansy: Pair
) -> None:
    """C75, eggs: the owner at noon, the helper in the evening, of the same nest."""
    one = rusk_and_tansy.fact
    clutch = lay(session, posted(NOW), one, day(22, 12))
    with pytest.raises(Asked, match="stands already"):
        lay(session, posted(NOW), one, day(22, 19))
    assert lay(session, posted(NOW, answers={"same_laying": "same"}), one, day(22, 19)) == clutch
    assert lay(session, posted(NOW, answers={"same_laying": "another"}), one, day(22, 19)) != clutch
    assert lay(session, posted(NOW), one, day(8, 12)) != clutch
