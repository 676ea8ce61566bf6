"""Field cases of growing fish: bars, sales in pieces, grades in the keeper's own words."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.cohort.cohort import Aside, GradedOut
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.stock_book.survival import Survival
from hatchery_app.domain.when import When
from hatchery_app.services.cohort import cohort, cohort_leaving, cohort_page
from hatchery_app.services.cohort.cohort import GradeSaid
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.sale import sale, sale_page
from tests.builders import make_batch, make_cohort, make_tank

Posted = Callable[..., Posting]

HATCHED = datetime(2026, 8, 3, 20, 30, tzinfo=UTC)
SETTLED = datetime(2026, 8, 14, 11, 0, tzinfo=UTC)
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
FRIDAY = date(2026, 11, 27)


def a_cohort(session: Session, number: str = "84") -> int:
    larval, grow_out = make_tank(session, "L1"), make_tank(session, "G1", litres=100)
    return make_cohort(
        session, grow_out, number=number, hatched_at=HATCHED, settled_at=SETTLED,
        larval_tank_id=larval,
    )  # fmt: skip


def page(session: Session, holding_id: int, at: datetime = NOW) -> cohort_page.CohortPage:
    return cohort_page.cohort_page(session, holding_id=holding_id, now=at)


def test_c56_a_practice_batch_is_in_no_saleable_stock_and_is_put_down_not_dead(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="30", hatched_at=HATCHED)
    cohort.set_aside(
        session, posting=posted(HATCHED), holding_id=batch, why=Aside.NEITHER,
        reason="practice clutch, two local forms", when=When.exactly(HATCHED),
    )  # fmt: skip
    growing = larval_tank.move_settled(
        session, posting=posted(SETTLED), holding_id=batch, tank_id=make_tank(session, "G1"),
        number=None, when=When.exactly(SETTLED),
    )  # fmt: skip
    shown = page(session, growing)
    assert shown.free.free == 0
    assert "practice clutch" in shown.free.said()
    assert [one.free.free for one in sale_page.sale_list(session, now=NOW).for_sale] == [0]
    with pytest.raises(RuleBroken, match="practice clutch"):
        sale.record_sale(
            session, posting=posted(NOW), holding_id=growing, number=1, when=When.exactly(NOW)
        )
    with pytest.raises(RuleBroken, match="bred from"):
        cohort_leaving.keep_as_breeders(
            session, posting=posted(NOW), holding_id=growing, names=["Bay"],
            when=When.exactly(NOW),
        )  # fmt: skip
    with pytest.raises(RuleBroken, match="why they were put down"):
        cohort_leaving.leave_cohort(
            session, posting=posted(NOW), holding_id=growing, door=Door.PUT_DOWN,
            when=When.exactly(NOW),
        )  # fmt: skip
    cohort_leaving.leave_cohort(
        session, posting=posted(NOW), holding_id=growing, door=Door.PUT_DOWN,
        reason="end of the practice", when=When.exactly(NOW),
    )  # fmt: skip
    doors = {line.row.entry.door for line in page(session, growing).came
             if line.row is not None and hasattr(line.row.entry, "door")}  # fmt: skip
    assert Door.PUT_DOWN in doors
    assert Door.DIED not in doors
    assert page(session, growing).balance.best == 0


def test_c56_a_barred_cohort_split_in_two_is_barred_in_both_tanks(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = a_cohort(session)
    cohort.set_aside(
        session, posting=posted(SETTLED), holding_id=growing, why=Aside.NOT_FOR_SALE,
        reason="practice", when=When.exactly(SETTLED),
    )  # fmt: skip
    large = cohort.grade_out(
        session, posting=posted(NOW), holding_id=growing, tank_id=make_tank(session, "G2"),
        number=HowMany.counted(20), which=GradedOut.LARGEST, when=When.exactly(NOW),
    )  # fmt: skip
    assert (page(session, growing).free.free, page(session, large).free.free) == (0, 0)
    aside_id = page(session, large).apart[0].set_aside_id
    cohort.set_free(session, posting=posted(NOW), set_aside_id=aside_id, when=When.exactly(NOW))
    assert (page(session, growing).free.free, page(session, large).free.free) == (64, 20)


def sold_in_pieces(session: Session, posted: Posted) -> tuple[int, int]:
    """84: 20 sold, 1 of them dead on arrival and replaced, 12 held, 2 kept, 4 put down."""
    growing = a_cohort(session)
    sold = sale.record_sale(
        session, posting=posted(NOW), holding_id=growing, number=20, for_whom="Harbour Row",
        when=When.exactly(NOW - timedelta(days=3)),
    )  # fmt: skip
    sale.report_arrival(
        session, posting=posted(NOW), sale_id=sold, dead=1, replaced=1,
        when=When.exactly(NOW - timedelta(days=2)),
    )  # fmt: skip
    sale.place_hold(
        session, posting=posted(NOW), holding_id=growing, number=12, for_whom="T. B.",
        until_on=FRIDAY, when=When.exactly(NOW),
    )  # fmt: skip
    cohort.set_aside(
        session, posting=posted(NOW), holding_id=growing, why=Aside.KEPT, number=2,
        when=When.exactly(NOW),
    )  # fmt: skip
    cohort_leaving.leave_cohort(
        session, posting=posted(NOW), holding_id=growing, door=Door.PUT_DOWN,
        number=HowMany.counted(4), reason="bent spine", when=When.exactly(NOW),
    )  # fmt: skip
    return growing, sold


def test_c68_a_batch_sold_in_pieces_adds_up_and_46_are_refused_with_the_sum(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing, sold = sold_in_pieces(session, posted)
    shown = page(session, growing)
    assert shown.balance.best == 59
    assert (shown.free.held, shown.free.kept, shown.free.free) == (12, 2, 45)
    assert shown.free.sum_said() == "59 alive − 12 held − 2 kept = 45 free"
    with pytest.raises(RuleBroken) as refused:
        sale.record_sale(
            session, posting=posted(NOW), holding_id=growing, number=46, when=When.exactly(NOW)
        )
    assert "59 alive − 12 held − 2 kept = 45 free" in refused.value.sentence
    assert "Release a hold first" in refused.value.sentence
    assert refused.value.field == "number"
    # The one dead at the buyer's is no death in the room.
    assert shown.balance.lost == HowMany.counted(4)
    assert isinstance(shown.survival, Survival)
    assert (shown.survival.alive.best, shown.survival.start.best) == (80, 84)
    loss = sale_page.sale_page(session, sale_id=sold).loss
    assert loss is not None
    assert loss.percent == 5.0
    assert loss.said().startswith("1 of 20 dead on arrival, 5 %: at")


def test_c68_with_the_hold_released_46_can_be_sold(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing, _ = sold_in_pieces(session, posted)
    (hold,) = page(session, growing).holds
    sale.release_hold(session, posting=posted(NOW), held_id=hold.held_id, when=When.exactly(NOW))
    sale.record_sale(
        session, posting=posted(NOW), holding_id=growing, number=46, when=When.exactly(NOW)
    )
    shown = page(session, growing)
    assert (shown.balance.best, shown.free.free) == (13, 11)


def test_c70_grades_are_the_keepers_own_words_and_dated_and_a_later_look_replaces_them(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = a_cohort(session, "40")
    early, late = SETTLED + timedelta(days=9), NOW
    cohort.record_grades(
        session, posting=posted(early), holding_id=growing, when=When.exactly(early),
        grades=[GradeSaid("bars not finished", 30), GradeSaid("gills open", 10, False)],
    )  # fmt: skip
    assert page(session, growing, early).free.barred == 10
    cohort.record_grades(
        session, posting=posted(late), holding_id=growing, when=When.exactly(late),
        grades=[GradeSaid("clean", 31), GradeSaid("slight", 6), GradeSaid("bent spine", 3, False)],
    )  # fmt: skip
    shown = page(session, growing)
    assert shown.free.sum_said() == "40 alive − 3 barred = 37 free"
    assert [(one.grade, one.number, one.when.latest) for one in shown.grades] == [
        ("clean", 31, late), ("slight", 6, late), ("bent spine", 3, late),
        ("bars not finished", 30, early), ("gills open", 10, early),
    ]  # fmt: skip
    (line,) = shown.apart
    cohort_leaving.leave_cohort(
        session, posting=posted(late), holding_id=growing, door=Door.PUT_DOWN,
        number=HowMany.counted(3), reason="bent spine", set_aside_id=line.set_aside_id,
        when=When.exactly(late),
    )  # fmt: skip
    assert page(session, growing).free.sum_said() == "37 alive = 37 free"
