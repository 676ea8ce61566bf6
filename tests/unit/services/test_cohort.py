"""Cohorts through the services: what Today asks, what stays fixed, what goes on to breed."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import event
from sqlalchemy.orm import Session

from hatchery_app.domain.cohort.cohort import Aside
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.parents import KnownAs
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import pair, stock_record
from hatchery_app.services.cohort import cohort, cohort_day, cohort_leaving, cohort_page
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import account, correction
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.sale import sale, sale_origin, sale_page
from hatchery_app.services.stock_book import counts, every_batch
from tests.builders import make_cohort, make_pair, make_tank

Posted = Callable[..., Posting]
HATCHED = datetime(2026, 8, 3, 20, 30, tzinfo=UTC)
SETTLED = datetime(2026, 8, 14, 11, 0, tzinfo=UTC)
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


@contextmanager
def statements(session: Session) -> Iterator[list[str]]:
    """The SQL statements sent meanwhile."""
    sent: list[str] = []

    def note(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
        sent.append(statement)

    engine = session.get_bind()
    event.listen(engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(engine, "before_cursor_execute", note)


def grown(
    session: Session, label: str, *, names: tuple[str, str] = ("Rusk", "Tansy"), number: str = "40"
) -> int:
    pair = make_pair(session, *names, tank_id=make_tank(session, f"B-{label}"))
    return make_cohort(
        session, make_tank(session, label), number=number, hatched_at=HATCHED,
        settled_at=SETTLED, larval_tank_id=make_tank(session, f"L-{label}"), pair_id=pair,
    )  # fmt: skip


def test_today_is_told_when_a_cohort_was_counted_and_graded_and_what_a_fish_weighs(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = grown(session, "G1")
    (fresh,) = cohort_day.cohort_day(session, gannet_stair, NOW)
    assert (fresh.fish, fresh.last_counted_on, fresh.grade_every_days) == (40, None, None)
    assert fresh.began_on == date(2026, 8, 14)
    day = When.exactly(NOW - timedelta(days=2))
    counts.record_count(
        session, posting=posted(NOW), holding_id=growing, number=HowMany.counted(38), when=day
    )
    cohort.record_lengths(
        session, posting=posted(NOW), holding_id=growing, lengths="20 21 22", when=day
    )
    cohort.record_grades(
        session, posting=posted(NOW), holding_id=growing, when=day,
        grades=[cohort.GradeSaid("clean", 38)],
    )  # fmt: skip
    (told,) = cohort_day.cohort_day(session, gannet_stair, NOW)
    assert (told.fish, told.last_counted_on, told.last_graded_on) == (
        38, date(2026, 11, 22), date(2026, 11, 22),
    )  # fmt: skip
    assert told.mean_weight_g == pytest.approx(0.22, abs=0.02)


def test_pages_and_today_ask_as_many_statements_of_five_cohorts_as_of_one(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    def asked() -> list[int]:
        every_batch.forget()  # the first asking and a later one differ by one
        counted = []
        for ask in (
            lambda: cohort_day.cohort_day(session, gannet_stair, NOW),
            lambda: cohort_page.cohort_list(session, now=NOW),
            lambda: cohort_page.cohort_page(session, holding_id=first, now=NOW),
            lambda: sale_page.sale_list(session, now=NOW),
            lambda: sale_origin.origin_page(session, sale_id=sold),
        ):
            with statements(session) as sent:
                ask()
            counted.append(len(sent))
        return counted

    first = grown(session, "G1")
    sold = sale.record_sale(
        session, posting=posted(NOW), holding_id=first, number=2, when=When.exactly(NOW)
    )
    alone = asked()
    for number in range(2, 6):
        more = grown(session, f"G{number}")
        cohort.set_aside(
            session, posting=posted(NOW), holding_id=more, why=Aside.KEPT, number=1,
            when=When.exactly(NOW),
        )  # fmt: skip
        sale.place_hold(
            session, posting=posted(NOW), holding_id=more, number=3, when=When.exactly(NOW)
        )
    assert asked() == alone


def test_a_breeder_kept_out_of_one_clutch_descends_from_its_pair(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = grown(session, "G1")
    kept = cohort.set_aside(
        session, posting=posted(NOW), holding_id=growing, why=Aside.KEPT, number=2,
        when=When.exactly(NOW),
    )  # fmt: skip
    fish_id = cohort_leaving.keep_as_breeders(
        session, posting=posted(NOW), holding_id=growing, names=["Quill"], set_aside_id=kept,
        when=When.exactly(NOW), tank_id=make_tank(session, "B9"),
    )  # fmt: skip
    page = cohort_page.cohort_page(session, holding_id=growing, now=NOW)
    assert page.free.sum_said() == "39 alive − 1 kept = 38 free"
    record = stock_record.load_stock(session).fish_named(fish_id)
    assert record.clutch_id == page.holding.clutch_ids[0]
    assert record.fish.born is not None
    assert record.tank_at(NOW) is not None


def test_a_breeder_kept_out_of_a_mixed_batch_has_one_of_the_parents_and_no_guess(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    one = grown(session, "G1")
    two = grown(session, "G2", names=("Bay", "Ditto"))
    mixed = larval_tank.merge_batches(
        session, posting=posted(NOW), holding_ids=(one, two), tank_id=make_tank(session, "G3"),
        when=When.exactly(NOW),
    )  # fmt: skip
    fish_id = cohort_leaving.keep_as_breeders(
        session, posting=posted(NOW), holding_id=mixed, names=["Merle"], when=When.exactly(NOW)
    )
    record = stock_record.load_stock(session).fish_named(fish_id)
    assert record.clutch_id is None
    assert record.parents.female.known_as is KnownAs.ONE_OF
    assert len(record.parents.female.fish_ids) == 2


def test_held_fish_are_not_kept_as_breeders_by_mistake(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = grown(session, "G1", number="10")
    sale.place_hold(
        session, posting=posted(NOW), holding_id=growing, number=9, when=When.exactly(NOW)
    )
    with pytest.raises(RuleBroken, match="9 are held"):
        cohort_leaving.keep_as_breeders(
            session, posting=posted(NOW), holding_id=growing, names=["Bay", "Merle"],
            when=When.exactly(NOW),
        )  # fmt: skip


def test_a_sale_taken_back_gives_the_fish_and_their_hold_back(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = grown(session, "G1")
    held = sale.place_hold(
        session, posting=posted(NOW), holding_id=growing, number=12, when=When.exactly(NOW)
    )
    sold = sale.record_sale(
        session, posting=posted(NOW), holding_id=growing, number=12, held_id=held,
        when=When.exactly(NOW),
    )  # fmt: skip
    line = sale_page.sale_page(session, sale_id=sold)
    assert cohort_page.cohort_page(session, holding_id=growing, now=NOW).holds == ()
    correction.withdraw_entry(session, posting=posted(NOW), fact_id=line.moved_id)
    page = cohort_page.cohort_page(session, holding_id=growing, now=NOW)
    assert page.free.sum_said() == "40 alive − 12 held = 28 free"
    assert sale_page.sale_list(session, now=NOW).sales == ()


def test_no_more_is_sold_out_of_a_hold_than_it_has_and_none_of_a_released_one(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = grown(session, "G1")
    held = sale.place_hold(
        session, posting=posted(NOW), holding_id=growing, number=5, for_whom="T. B.",
        when=When.exactly(NOW),
    )  # fmt: skip

    def sell(number: int) -> int:
        return sale.record_sale(
            session, posting=posted(NOW), holding_id=growing, number=number, held_id=held,
            when=When.exactly(NOW),
        )  # fmt: skip

    with pytest.raises(RuleBroken, match=r"5 are held for T\. B\."):
        sell(6)
    sale.release_hold(session, posting=posted(NOW), held_id=held, when=When.exactly(NOW))
    with pytest.raises(RuleBroken, match="does not stand any more"):
        sell(1)


def test_bred_parents_make_a_second_generation_in_the_line_of_origin(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = grown(session, "G1")
    early = When.exactly(SETTLED + timedelta(days=1))
    tank = make_tank(session, "B9")
    female, male = (
        cohort_leaving.keep_as_breeders(
            session, posting=posted(NOW), holding_id=growing, names=[name], when=early,
            tank_id=tank,
        )
        for name in ("Quill", "Merle")
    )  # fmt: skip
    bred = pair.enter_pair(session, posting=posted(NOW), female_id=female, male_id=male, when=early)
    later = SETTLED + timedelta(days=60)
    young = make_cohort(
        session, make_tank(session, "G2"), number="20", hatched_at=later,
        settled_at=later + timedelta(days=12), larval_tank_id=make_tank(session, "L9"),
        pair_id=bred,
    )  # fmt: skip
    sold = sale.record_sale(
        session, posting=posted(NOW), holding_id=young, number=3, when=When.exactly(NOW)
    )
    line = sale_origin.origin_page(session, sale_id=sold)
    assert line.generation.startswith("second generation")
    assert [step.what for step in line.steps if step.depth == 4] == ["Mother Rusk", "Father Tansy"]
    assert any("see above" in step.said for step in line.steps)


def test_nothing_is_measured_before_it_hatched_nor_held_before_it_was_a_cohort(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = grown(session, "G1")
    with pytest.raises(RuleBroken, match="measured before they hatched") as refused:
        cohort.record_lengths(
            session, posting=posted(NOW), holding_id=growing, lengths="20 21 22",
            when=When.exactly(HATCHED - timedelta(days=2)),
        )  # fmt: skip
    assert refused.value.field == "at_on"
    with pytest.raises(RuleBroken, match="held before they were a cohort"):
        sale.place_hold(
            session, posting=posted(NOW), holding_id=growing, number=3,
            when=When.exactly(SETTLED - timedelta(days=1)),
        )  # fmt: skip
    held = sale.place_hold(
        session, posting=posted(NOW), holding_id=growing, number=3, when=When.exactly(SETTLED)
    )
    assert held


def test_the_same_dead_told_by_two_people_are_asked_about_and_counted_once(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    growing = grown(session, "G1")
    mae = account.add_keeper(session, name="Mae", role="keeper", password_hash="x", now=NOW).id
    died = {"holding_id": growing, "door": Door.DIED, "number": HowMany.counted(5)}
    first = cohort_leaving.leave_cohort(
        session, posting=Posting(now=NOW, by_id=mae), when=When.exactly(NOW), **died
    )
    later = When.exactly(NOW + timedelta(hours=1))

    def again(**answers: str) -> int:
        posting = Posting(now=NOW + timedelta(hours=1), answers=answers)
        return cohort_leaving.leave_cohort(session, posting=posting, when=later, **died)

    with pytest.raises(Asked, match="Mae said 5 counted died") as asked:
        again()
    assert asked.value.question == "told_twice"
    assert again(told_twice="same") == first
    assert cohort_page.cohort_page(session, holding_id=growing, now=NOW).balance.best == 35
    assert again(told_twice="more") != first
    sold = sale.record_sale(
        session, posting=posted(NOW), holding_id=growing, number=9, when=When.exactly(NOW)
    )
    arrived = {"sale_id": sold, "dead": 2, "replaced": 2, "when": When.exactly(NOW)}
    report = sale.report_arrival(session, posting=posted(NOW), **arrived)
    with pytest.raises(Asked, match="2 dead on arrival"):
        sale.report_arrival(session, posting=posted(NOW), **arrived)
    same = Posting(now=NOW, answers={"told_twice": "same"})
    assert sale.report_arrival(session, posting=same, **arrived) == report
    loss = sale_page.sale_page(session, sale_id=sold).loss
    assert loss is not None
    assert loss.dead == 2


def test_fish_are_not_sold_out_of_another_cohorts_hold(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    held_id = sale.place_hold(
        session, posting=posted(NOW), holding_id=grown(session, "G1"), number=30,
        when=When.exactly(NOW),
    )  # fmt: skip
    other = grown(session, "G2", names=("Merle", "Quill"), number="5")
    with pytest.raises(RuleBroken, match="another cohort"):
        sale.record_sale(
            session, posting=posted(NOW), holding_id=other, held_id=held_id, number=5,
            when=When.exactly(NOW),
        )  # fmt: skip


@pytest.mark.parametrize("typed", [{"door": "died"}, {"number": "a few"}])
def test_the_movement_of_a_sale_stays_fish_sold_and_counted(
    session: Session, gannet_stair: RoomNow, posted: Posted, typed: dict[str, str]
) -> None:
    sale_id = sale.record_sale(
        session, posting=posted(NOW), holding_id=grown(session, "G1"), number=3,
        when=When.exactly(NOW), note="",
    )  # fmt: skip
    moved_id = sale_page.sale_page(session, sale_id=sale_id).moved_id
    with pytest.raises(RuleBroken, match="sale"):
        correction.correct_entry(session, posting=posted(NOW), fact_id=moved_id, typed=typed)
    correction.correct_entry(session, posting=posted(NOW), fact_id=moved_id, typed={"number": "4"})
    assert sale_page.sale_page(session, sale_id=sale_id).number == 4
