"""What a page could not read is refused in a correction: kept, it would shut every page of it."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.sex_state import Sex, SexEvidence, Standing
from hatchery_app.domain.cohort.cohort import Aside
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import FishLeft, SexSeen
from hatchery_app.models.cohort import LengthsSampled
from hatchery_app.models.entry import Entry, known
from hatchery_app.services.broodstock import feeding_rota, fish, fish_left, group
from hatchery_app.services.cohort import cohort
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import counts
from tests.builders import LONG_AGO, make_cohort, make_fish, make_tank

Posted = Callable[..., Posting]
Said = tuple[int, dict[str, str]]
A_DAY = timedelta(days=1)
DAY = LONG_AGO + 30 * A_DAY
ON_DAY = When.exactly(DAY)
BY = Posting(now=DAY)


def sex_seen(session: Session) -> int:
    return fish.record_sex(
        session, posting=BY, fish_id=make_fish(session, "Rusk"), sex=Sex.FEMALE,
        standing=Standing.PROVEN, evidence=(SexEvidence.LAYING_SEEN,), when=ON_DAY,
    )  # fmt: skip


def length(session: Session) -> int:
    return fish.record_length(
        session, posting=BY, fish_id=make_fish(session, "Rusk"), length_mm=62, when=ON_DAY
    )


def six_of_which_two_left(session: Session) -> tuple[int, int]:
    tank_id = make_tank(session, "B4")
    six = group.enter_group(
        session, posting=Posting(now=LONG_AGO), name="the six", number=6, tank_id=tank_id,
        when=When.exactly(LONG_AGO),
    )  # fmt: skip
    group.record_group_left(
        session, posting=BY, group_id=six, number=2, how="sold", when=ON_DAY
    )
    left = session.scalars(select(Entry.fact_id).where(Entry.kind == "group_left")).one()
    assert left is not None
    return six, left


def some_cohort(session: Session) -> int:
    return make_cohort(
        session, make_tank(session, "G1"), larval_tank_id=make_tank(session, "L1"), number="40",
        hatched_at=LONG_AGO, settled_at=LONG_AGO + 20 * A_DAY,
    )  # fmt: skip


def lengths(session: Session) -> int:
    return cohort.record_lengths(
        session, posting=BY, holding_id=some_cohort(session), lengths="21 22 23", when=ON_DAY
    )


def set_aside(session: Session) -> int:
    return cohort.set_aside(
        session, posting=BY, holding_id=some_cohort(session), why=Aside.NOT_FOR_SALE, number=3,
        reason="bent tails", when=ON_DAY,
    )  # fmt: skip


def rota(session: Session) -> int:
    return feeding_rota.set_rota(
        session, posting=BY, dry="pellets", frozen="mysis", when=ON_DAY
    )


def prey(session: Session) -> int:
    return counts.record_prey(
        session, posting=BY, tank_id=make_tank(session, "L1"), food="rotifers", look=Look.THIN,
        when=ON_DAY,
    )  # fmt: skip


def gone(session: Session) -> int:
    fish_id = make_fish(session, "Rusk", born_earliest_on=LONG_AGO.date())
    fish_left.record_leaving(
        session, posting=BY, fish_id=fish_id, door=WayOut.DIED, when=ON_DAY
    )
    return fish_id


def mother_of_tansy(session: Session) -> Said:
    """Rusk, said to be the young of her own daughter."""
    from hatchery_app.domain.spawn.parents import Parent, Parents

    rusk = make_fish(session, "Rusk")
    tansy = make_fish(session, "Tansy", parents=Parents(Parent.fish(rusk), Parent.unknown()))
    return rusk, {"female": f"fish:{tansy}"}


@pytest.mark.parametrize(
    "said",
    [
        lambda s: (sex_seen(s), {"evidence": "she looked fat"}),
        lambda s: (sex_seen(s), {"evidence": ""}),
        lambda s: (sex_seen(s), {"sex": "male"}),
        lambda s: (length(s), {"length_mm": "0"}),
        lambda s: (length(s), {"length_mm": "62000"}),
        lambda s: (six_of_which_two_left(s)[0], {"number": "1"}),
        lambda s: (six_of_which_two_left(s)[1], {"number": "7"}),
        lambda s: (lengths(s), {"lengths_mm": "21 22 about 23"}),
        lambda s: (lengths(s), {"lengths_mm": "0"}),
        lambda s: (set_aside(s), {"reason": ""}),
        lambda s: (rota(s), {"frozen": ""}),
        lambda s: (rota(s), {"meals_a_day": "9"}),
        lambda s: (prey(s), {"look": "a bit thin"}),
        lambda s: (prey(s), {"food": "dust"}),
        lambda s: (gone(s), {"born_earliest_on": "2026-03-01"}),
        mother_of_tansy,
        lambda s: (sale_size(s), {"length_mm": "0"}),
        lambda s: (some_cohort(s), {"hatched_last_on": "2199-03-01"}),
        lambda s: (some_cohort(s), {"hatched_first_on": "1900-03-01"}),
    ],
)
def test_what_no_page_could_read_is_refused_and_nothing_changes(
    session: Session, gannet_stair: RoomNow, posted: Posted, said: Callable[[Session], Said]
) -> None:
    fact_id, typed = said(session)
    before = session.scalar(select(func.count()).select_from(Entry))
    with pytest.raises(RuleBroken):
        correction.correct_entry(session, posting=posted(), fact_id=fact_id, typed=typed)
    assert session.scalar(select(func.count()).select_from(Entry)) == before


def sale_size(session: Session) -> int:
    return cohort.set_sale_size(
        session, posting=BY, species_key="amphiprion_ocellaris", length="30", when=ON_DAY
    )


def test_evidence_and_lengths_are_kept_as_the_pages_read_them(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    seen = sex_seen(session)
    correction.correct_entry(
        session, posting=posted(), fact_id=seen, typed={"evidence": "Laying seen,  papilla"}
    )
    assert session.scalars(select(SexSeen.evidence).where(known())).one() == "laying seen,papilla"
    measured = lengths(session)
    correction.correct_entry(
        session, posting=posted(), fact_id=measured, typed={"lengths_mm": "21,5; 22 23"}
    )
    row = session.scalars(select(LengthsSampled).where(known())).one()
    assert row.facts().lengths_mm == (21.5, 22, 23)


def test_a_leaving_is_not_said_to_be_before_the_fish_hatched(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    gone(session)
    left = session.scalars(select(FishLeft.fact_id).where(known())).one()
    assert left is not None
    with pytest.raises(RuleBroken):
        correction.correct_entry(
            session, posting=posted(), fact_id=left, typed={},
            when=When.exactly(datetime(2025, 12, 1, tzinfo=UTC)),
        )  # fmt: skip
