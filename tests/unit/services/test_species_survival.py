"""Every batch of a species in its row; curves, ages of loss and groups only from five on."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.how_many import HowMany, parse
from hatchery_app.domain.stock_book.stage_survival import Reached
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.stock_book.survival import NotComputable, Survival
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import counts, species_survival, stock_book
from hatchery_app.services.stock_book.rearing_groups import By
from hatchery_app.services.stock_book.species_survival import Asking, SpeciesSurvival
from tests.builders import make_batch, make_hatch, make_pair, make_tank
from tests.unit.services.test_today_statements import statements

OCELLARIS = "amphiprion_ocellaris"
FIRST = datetime(2026, 3, 1, 20, 30, tzinfo=UTC)
Posted = Callable[..., Posting]


def fared(session: Session, **asking: object) -> SpeciesSurvival:
    return species_survival.species_survival(
        session,
        species_key=OCELLARIS,
        asking=Asking(**asking),  # type: ignore[arg-type]
    )


def lost(session: Session, batch: int, number: int, at: datetime, door: Door = Door.DIED) -> None:
    stock_book.record_leaving(
        session, posting=Posting(now=at), holding_id=batch, door=door, when=When.exactly(at),
        number=HowMany.counted(number), reason="weak" if door is Door.PUT_DOWN else "",
    )  # fmt: skip


def counted(session: Session, batch: int, number: str, at: datetime) -> None:
    counts.record_count(
        session, posting=Posting(now=at), holding_id=batch, number=parse(number),
        when=When.exactly(at),
    )  # fmt: skip


def rear(
    session: Session,
    label: str,
    place: int,
    *,
    number: str = "100",
    dies: int = 40,
    on: int = 10,
    rack: str = "",
    counts_on: int = 20,
) -> int:
    """A batch a week apart from the next that loses `dies` at `on` dph and is counted later."""
    hatched = FIRST + timedelta(days=7 * place)
    batch = make_batch(
        session, make_tank(session, label, rack=rack), number=number, hatched_at=hatched
    )
    if dies:
        lost(session, batch, dies, hatched + timedelta(days=on))
    left = parse(number).best
    if left is not None:
        counted(session, batch, str(left - dies), hatched + timedelta(days=counts_on))
    return batch


def test_every_batch_stands_in_the_row_with_both_numbers_and_none_left_stays_there(
    session: Session, gannet_stair: RoomNow
) -> None:
    rear(session, "L1", 0, number="about 80", dies=20)
    rear(session, "L2", 1, number="several thousand", dies=3)
    rear(session, "L3", 2, number="60", dies=60, on=4, counts_on=5)
    none_left, unknown, about = fared(session).rows
    assert none_left.survival.said() == "0 % alive (0 counted of 60 counted; 0–6 %)"
    assert none_left.ended_at is not None
    assert isinstance(unknown.survival, NotComputable)
    assert unknown.not_followed == "a number of it is not known"
    assert about.survival.said() == "about 75 % alive (60 counted of about 80)"


def test_an_estimated_start_widens_the_interval_by_its_own_error(
    session: Session, gannet_stair: RoomNow
) -> None:
    rear(session, "L1", 0, number="2440 (1950-2930)", dies=0)
    counted(session, fared(session).rows[0].holding.id, "640 (552-728)", FIRST + timedelta(days=30))
    survival = fared(session).rows[0].survival
    assert isinstance(survival, Survival)
    assert survival.interval_by == "log-normal ratio"
    assert survival.low == pytest.approx(0.2056, abs=0.001)
    assert survival.high == pytest.approx(0.3346, abs=0.001)


def test_fewer_than_five_batches_give_the_row_only(session: Session, gannet_stair: RoomNow) -> None:
    for place in range(4):
        rear(session, f"L{place}", place)
    found = fared(session)
    assert (found.followed, found.curve, found.groups, found.losses) == (4, None, None, ())
    rear(session, "L9", 9)
    found = fared(session)
    assert found.curve is not None
    assert found.curve.points[-1].best == pytest.approx(0.6)
    assert found.bad_days[0].said() == (
        "In 5 of 5 batches a tenth or more was lost between 8 and 10 dph."
    )


def test_fish_sold_are_censored_and_those_put_down_are_shown_both_ways(
    session: Session, gannet_stair: RoomNow
) -> None:
    for place in range(5):
        batch = rear(session, f"L{place}", place, dies=0)
        at = FIRST + timedelta(days=7 * place + 30)
        lost(session, batch, 50, at, Door.SOLD)
        lost(session, batch, 20, at + timedelta(days=5), Door.PUT_DOWN)
        counted(session, batch, "30", at + timedelta(days=6))
    found = fared(session)
    assert found.curve is not None
    assert found.curve.points[-1].best == pytest.approx(0.6)  # 30 of the 50 that stayed
    assert found.curve.without_culls is not None
    assert found.curve.without_culls[-1].best == pytest.approx(1.0)
    row = found.rows[0]
    assert row.survival.said().startswith("80 % alive (80 counted of 100 counted")
    assert row.without_culls is not None
    assert row.without_culls.said().startswith("100 % alive")


def test_tanks_are_compared_by_rack_from_five_a_side(
    session: Session, gannet_stair: RoomNow
) -> None:
    for place in range(5):
        rear(session, f"M{place}", place, dies=70, rack="A")
        rear(session, f"N{place}", place, dies=10, rack="B")
    found = fared(session, by=By.RACK, percent=50).groups
    assert found is not None
    assert found.compared is not None
    assert {g.group: (g.well, g.of) for g in found.groups} == {
        "rack A": (0, 5), "rack B": (5, 5),
    }  # fmt: skip
    assert found.compared.verdict.startswith("More tanks did well in “rack B”")
    pairs = fared(session, by=By.PAIR).groups
    assert pairs is not None
    assert [group.group for group in pairs.groups] == ["not recorded"]
    assert pairs.compared is None


def test_groups_follow_what_was_recorded(session: Session, gannet_stair: RoomNow) -> None:
    for place in range(5):
        batch = rear(session, f"L{place}", place)
        at = FIRST + timedelta(days=7 * place, hours=12)
        if place:
            counts.record_mark(
                session, posting=Posting(now=at), holding_id=batch, mark="first food",
                when=When.exactly(at),
            )  # fmt: skip
        if place == 1:
            counts.record_mark(
                session, posting=Posting(now=at), holding_id=batch, mark="first brine shrimp",
                when=When.exactly(at),
            )  # fmt: skip

    def sizes(by: By) -> dict[str, int]:
        found = fared(session, by=by).groups
        assert found is not None
        return {group.group: len(group.tanks) for group in found.groups}

    assert sizes(By.FIRST_FOOD) == {
        "smaller food first": 3, "brine shrimp first": 1, "not recorded": 1,
    }  # fmt: skip
    assert sizes(By.SEASON) == {"March to May": 5}
    assert sizes(By.METHOD) == {"left with the parents": 5}


def test_a_batch_is_followed_on_to_grow_out_and_from_eggs_to_sale(
    session: Session, gannet_stair: RoomNow
) -> None:
    home = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=home)
    hatch = make_hatch(session, hatched_at=FIRST, pair_id=pair_id, number="300")
    batch = make_batch(
        session, make_tank(session, "L1"), number="200", hatched_at=FIRST, hatch_id=hatch
    )
    lost(session, batch, 50, FIRST + timedelta(days=3))
    grown = make_tank(session, "G1", role=TankRole.GROW_OUT)
    moved_at = FIRST + timedelta(days=20)
    cohort_id = larval_tank.move_settled(
        session, posting=Posting(now=moved_at), holding_id=batch, tank_id=grown, number=None,
        when=When.exactly(moved_at),
    )  # fmt: skip
    lost(session, cohort_id, 30, FIRST + timedelta(days=40))
    lost(session, cohort_id, 120, FIRST + timedelta(days=90), Door.SOLD)
    (row,) = fared(session).rows
    assert row.survival.said().startswith("60 % alive (120 counted of 200 counted")
    (clutch,) = fared(session).stages
    said = {stage: number.best for stage, number in clutch.numbers.items()}
    assert said == {
        Reached.HATCHED: 300, Reached.IN_TANKS: 200, Reached.SETTLED: 150, Reached.STAYED: 150,
        Reached.SIXTY_DAYS: 120, Reached.SOLD: 120,
    }  # fmt: skip
    steps = {step.end: step.best for step in fared(session).steps}
    assert steps[Reached.HATCHED] is None  # nobody counted the eggs
    assert steps[Reached.SIXTY_DAYS] == pytest.approx(0.8)


def test_fish_given_away_early_say_nothing_of_sixty_days(
    session: Session, gannet_stair: RoomNow
) -> None:
    batch = rear(session, "L1", 0, dies=0)
    at = FIRST + timedelta(days=22)
    stock_book.record_leaving(
        session, posting=Posting(now=at), holding_id=batch, door=Door.GIVEN_AWAY, number=None,
        when=When.exactly(at),
    )  # fmt: skip
    (clutch,) = fared(session).stages
    assert Reached.SIXTY_DAYS not in clutch.numbers
    assert clutch.numbers[Reached.SOLD].best == 100


def test_a_mixed_batch_is_in_the_row_and_in_no_curve(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    one, other = rear(session, "L1", 0), rear(session, "L2", 1)
    at = FIRST + timedelta(days=31)
    larval_tank.merge_batches(
        session, posting=posted(at), holding_ids=(one, other),
        tank_id=make_tank(session, "L3"), when=When.exactly(at),
    )  # fmt: skip
    mixed = fared(session).rows[0]
    assert mixed.holding.is_mixed
    assert mixed.not_followed == "a mixed batch: followed from the merge only"
    assert mixed.balance.best == 120


def test_a_species_nobody_knows_is_not_found(session: Session, gannet_stair: RoomNow) -> None:
    with pytest.raises(NotKnown):
        species_survival.species_survival(session, species_key="no_such", asking=Asking())


def test_the_page_asks_the_records_as_often_for_nine_batches_as_for_one(
    session: Session, gannet_stair: RoomNow
) -> None:
    rear(session, "L0", 0)
    session.expire_all()
    with statements() as for_one:
        fared(session)
    for place in range(1, 9):
        rear(session, f"L{place}", place)
    session.expire_all()
    with statements() as for_nine:
        fared(session)
    assert len(for_nine) == len(for_one) <= 20
