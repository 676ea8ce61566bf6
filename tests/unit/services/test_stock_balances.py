"""What was held at any moment, by batch, tank, clutch, pair and species, as known at any other."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany, parse
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import fish_left, group
from hatchery_app.services.cohort import cohort, cohort_day
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.larval_tank.larval_tank import Part
from hatchery_app.services.recording import Book, Posting, use_case
from hatchery_app.services.records import correction
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.stock_book import (
    every_batch,
    stock_balances,
    stock_batch_page,
    stock_book,
    stock_book_page,
)
from hatchery_app.services.stock_book.held_beside import HeldBeside, held_beside
from hatchery_app.services.stock_book.stock_balances import Per
from tests.builders import make_batch, make_fish, make_pair, make_tank
from tests.unit.services.test_species_survival import counted, lost
from tests.unit.services.test_today_statements import statements

FIRST = datetime(2026, 3, 1, 20, 30, tzinfo=UTC)
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
Posted = Callable[..., Posting]


def day(dph: int) -> datetime:
    return FIRST + timedelta(days=dph)


def held(session: Session, per: Per, at: datetime, **more: object) -> dict[str, int | None]:
    found = stock_balances.stock_balances(session, per=per, at=at, **more)  # type: ignore[arg-type]
    return {line.name: line.balance.best for line in found.lines}


@pytest.fixture
def two_batches(session: Session, gannet_stair: RoomNow) -> tuple[int, int]:
    """Batch 1 of a pair, split over two tanks on day 10; batch 2 of nobody, sold on day 30."""
    home = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=home)
    first, second, third = (make_tank(session, label) for label in ("L1", "L2", "L3"))
    one = make_batch(session, first, number="100", hatched_at=FIRST, pair_id=pair_id)
    other = make_batch(session, second, number="40", hatched_at=FIRST)
    lost(session, one, 10, day(5))
    larval_tank.move_batch(
        session, posting=Posting(now=day(10)), holding_id=one,
        parts=[Part(third, HowMany.counted(30))], when=When.exactly(day(10)),
    )  # fmt: skip
    lost(session, other, 40, day(30), Door.SOLD)
    return one, other


def test_balances_by_batch_tank_clutch_pair_and_species_at_a_moment(
    session: Session, two_batches: tuple[int, int]
) -> None:
    at = day(20)
    assert held(session, Per.BATCH, at) == {
        "Batch 1 in L1": 60, "Batch 2 in L2": 40, "Batch 3 in L3": 30,
    }  # fmt: skip
    assert held(session, Per.TANK, at) == {"L1": 60, "L2": 40, "L3": 30}
    assert held(session, Per.CLUTCH, at) == {"Clutch 1": 90, "Clutch 2": 40}
    assert held(session, Per.PAIR, at) == {"Rusk × Tansy": 90, "parents not known": 40}
    assert held(session, Per.SPECIES, at) == {"ocellaris clownfish": 130}
    together = stock_balances.stock_balances(session, per=Per.TANK, at=at).together
    assert (together.best, together.start.best, together.lost.best) == (130, 140, 10)


def test_fish_kept_for_many_years_stay_in_the_book(session: Session, gannet_stair: RoomNow) -> None:
    came, tank_id = datetime(2021, 5, 1, 9, 0, tzinfo=UTC), make_tank(session, "G1")
    old = cohort.move_in_cohort(
        session, posting=Posting(now=came), tank_id=tank_id, when=When.exactly(came),
        species_key="amphiprion_ocellaris", number=HowMany.counted(12),
    )  # fmt: skip
    lost(session, old, 1, NOW - timedelta(days=300))
    assert held(session, Per.TANK, NOW) == {"G1": 11}
    page = stock_book_page.stock_book_page(session, now=NOW)
    assert [(one.holding.id, one.balance.best) for one in page.held] == [(old, 11)]
    assert [one.cohort_id for one in cohort_day.cohort_day(session, gannet_stair, NOW)] == [old]


def test_eggs_and_breeding_fish_are_held_beside_the_batches(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1"))
    for number, laid in (("450", 3), ("?", 1)):
        spawn.record_laying(
            session, posting=posted(), pair_id=pair_id, eggs=parse(number),
            when=When.exactly(NOW - timedelta(days=laid)),
        )  # fmt: skip
    gone = make_fish(session, "Gorse")
    fish_left.record_leaving(
        session, posting=posted(), fish_id=gone, door=WayOut.DIED, when=When.exactly(NOW)
    )
    six = group.enter_group(
        session, posting=posted(), name="the six", number=6, tank_id=make_tank(session, "B4"),
        when=When.exactly(NOW - timedelta(days=9)),
    )  # fmt: skip
    group.record_group_left(
        session, posting=posted(), group_id=six, number=2, how="sold", when=When.exactly(NOW)
    )
    assert held_beside(session) == HeldBeside(
        clutches=2, eggs_laid=450, uncounted=1, fish=2, in_groups=4
    )


def test_each_moment_has_its_own_balance_and_empty_ones_are_shown_when_asked(
    session: Session, two_batches: tuple[int, int]
) -> None:
    assert held(session, Per.BATCH, day(3)) == {"Batch 1 in L1": 100, "Batch 2 in L2": 40}
    assert held(session, Per.BATCH, day(-3)) == {}
    assert "Clutch 2" not in held(session, Per.CLUTCH, NOW)
    assert held(session, Per.CLUTCH, NOW, with_empty=True)["Clutch 2"] == 0


def test_what_was_known_then_is_asked_again_after_a_late_entry_and_a_correction(
    session: Session, two_batches: tuple[int, int], posted: Posted
) -> None:
    one, _other = two_batches
    stock_book.record_leaving(
        session, posting=posted(day(40)), holding_id=one, door=Door.DIED,
        number=HowMany.counted(7), when=When.exactly(day(15)),
    )  # fmt: skip
    at = day(20)
    assert held(session, Per.TANK, at)["L1"] == 53
    assert held(session, Per.TANK, at, known=day(39))["L1"] == 60
    assert held(session, Per.TANK, at, known=day(2)) == {"L1": 100, "L2": 40}
    assert held(session, Per.TANK, at, known=day(-30)) == {}


def test_the_book_of_a_batch_shows_its_newest_fifty_with_the_running_balance(
    session: Session, gannet_stair: RoomNow
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="200", hatched_at=FIRST)
    for number in range(59):
        lost(session, batch, 1, FIRST + timedelta(hours=number + 1))
    counted(session, batch, "130", day(10))
    book = stock_batch_page.batch_book(session, holding_id=batch)
    assert (len(book.lines), book.entries, book.has_older) == (50, 61, True)
    newest, before = book.lines[0], book.lines[1]
    assert newest.door == ""
    assert newest.after[0].number.said() == "130 counted"
    gap = newest.after[0].gap
    assert gap is not None
    assert gap.number.said() == "11 counted"  # unexplained, and shown as that
    assert before.after[0].number.best == 141
    older = stock_batch_page.batch_book(session, holding_id=batch, page=2)
    assert [line.after[0].number.best for line in older.lines] == [*range(190, 201)]
    assert not older.has_older


def test_the_book_of_a_batch_as_it_was_known_beside_what_is_known_today(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="200", hatched_at=FIRST)
    died = stock_book.record_leaving(
        session, posting=posted(day(3)), holding_id=batch, door=Door.DIED,
        number=HowMany.counted(20), when=When.exactly(day(3)),
    )  # fmt: skip
    correction.withdraw_entry(session, posting=posted(day(9)), fact_id=died)
    book = stock_batch_page.batch_book(session, holding_id=batch, known=day(5))
    assert book.then is not None
    assert (book.then.best, book.now_known.best) == (180, 200)
    early = stock_batch_page.batch_book(session, holding_id=batch, known=day(-20))
    assert (early.then, early.lines) == (None, ())
    with pytest.raises(NotKnown):
        stock_batch_page.batch_book(session, holding_id=999_999)


def test_a_book_stands_worked_out_until_something_is_written(
    session: Session, gannet_stair: RoomNow
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="200", hatched_at=FIRST)
    first = stock_batch_page.batch_book(session, holding_id=batch)
    session.rollback()  # the next page is another transaction
    with statements() as asked:
        assert stock_batch_page.batch_book(session, holding_id=batch) is first
    assert len([one for one in asked if one.startswith("SELECT")]) == 1
    lost(session, batch, 5, day(2))
    assert stock_batch_page.batch_book(session, holding_id=batch).now_known.best == 195


def test_what_a_use_case_has_not_committed_is_not_remembered(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="200", hatched_at=FIRST)

    @use_case
    def begins_and_refuses(book: Book) -> int:
        stock_book.leave(
            book, holding_id=batch, door=Door.DIED, when=When.exactly(day(2)),
            number=HowMany.counted(50),
        )  # fmt: skip
        seen = stock_batch_page.batch_book(book.session, holding_id=batch)
        assert seen.now_known.best == 150
        raise RuleBroken("No.")

    with pytest.raises(RuleBroken):
        begins_and_refuses(session, posting=posted(day(2)))
    lost(session, batch, 5, day(2))  # takes the number of the entry that came to nothing
    assert stock_batch_page.batch_book(session, holding_id=batch).now_known.best == 195


def test_the_rooms_book_holds_what_is_held_and_the_balances_ask_as_often_for_many(
    session: Session, two_batches: tuple[int, int]
) -> None:
    page = stock_book_page.stock_book_page(session, now=day(40))
    assert [one.holding.name for one in page.held] == ["Batch 1", "Batch 3"]
    asked = []
    for places in (range(1), range(1, 7)):
        for place in places:
            make_batch(session, make_tank(session, f"M{place}"), number="9", hatched_at=day(place))
        session.rollback()
        with statements() as sent:
            held(session, Per.PAIR, day(20))
        asked.append(len(sent))
    assert asked[0] == asked[1] <= 13


def test_a_batch_long_empty_is_read_again_once_something_is_written_about_it(
    session: Session, gannet_stair: RoomNow, posted: Posted, two_batches: tuple[int, int]
) -> None:
    one, other = two_batches

    def asked_anew() -> list[tuple[int, datetime | None, str]]:
        """As remembered so far, which must be what the records say to one who remembers nothing."""
        session.rollback()
        told = every_batch.every_batch(session, gannet_stair)
        every_batch.forget()
        assert told == every_batch.every_batch(session, gannet_stair)
        session.rollback()
        return [(batch.id, batch.emptied_at, batch.name) for batch in told]

    assert (other, day(30), "Batch 2") in asked_anew()
    sold = next(
        line.fact_id
        for line in stock_batch_page.batch_book(session, holding_id=other).lines
        if line.door == "sold"
    )
    correction.correct_entry(session, posting=posted(), fact_id=sold, typed={"number": "39"})
    assert (other, None, "Batch 2") in asked_anew()
    correction.correct_entry(session, posting=posted(), fact_id=sold, typed={"number": "40"})
    correction.withdraw_entry(session, posting=posted(key="a"), fact_id=sold)
    assert (other, None, "Batch 2") in asked_anew()
    correction.restore_entry(session, posting=posted(key="b"), fact_id=sold)
    correction.correct_entry(session, posting=posted(), fact_id=other, typed={"name": "The late"})
    assert (other, day(30), "The late") in asked_anew()
    with statements() as sent:
        every_batch.every_batch(session, gannet_stair)
    assert len(sent) <= 6
    lost(session, one, 60, day(40))
    assert (one, day(40), "Batch 1") in asked_anew()


def test_what_a_refused_use_case_wrote_of_a_batch_is_not_remembered(
    session: Session, gannet_stair: RoomNow, posted: Posted, two_batches: tuple[int, int]
) -> None:
    one, _other = two_batches
    before = every_batch.every_batch(session, gannet_stair)

    @use_case
    def empties_and_refuses(book: Book) -> int:
        stock_book.leave(
            book, holding_id=one, door=Door.DIED, number=None, when=When.exactly(day(50))
        )
        told = every_batch.every_batch(book.session, gannet_stair)
        assert next(batch for batch in told if batch.id == one).emptied_at == day(50)
        raise RuleBroken("not so")

    with pytest.raises(RuleBroken):
        empties_and_refuses(session, posting=posted())
    assert every_batch.every_batch(session, gannet_stair) == before
