"""The day-book as it is read, and what can be said anew of each kind of entry."""

from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import event, select

from hatchery_app.database import db
from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import Pair
from hatchery_app.models.entry import Entry, Withdrawal
from hatchery_app.services.broodstock import fish
from hatchery_app.services.clutch import clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction, record_references, records
from hatchery_app.services.records.record_kinds import KINDS, Reads, kind_named
from hatchery_app.services.records.record_words import _SAID
from hatchery_app.services.today import task_answer
from tests.builders import LONG_AGO, make_batch, make_hatch, make_pair, make_tank, read_temperature

MONDAY = datetime(2026, 11, 23, 9, 0, tzinfo=UTC)


def models_of_entries():
    return {
        mapper.class_
        for mapper in Entry.__mapper__.self_and_descendants
        if mapper.class_ not in (Entry, Withdrawal)
    }


def test_every_kind_of_entry_says_how_it_is_corrected():
    assert {kind.model for kind in KINDS} == models_of_entries()


def test_every_kind_of_entry_has_its_words_in_the_day_book():
    assert set(_SAID) == {kind.name for kind in KINDS} | {"withdrawal"}


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_part_stands_in_a_column_of_its_kind(kind):
    columns = set(kind.model.__table__.columns.keys())
    virtual = {Reads.HOW_MANY, Reads.PARENT, Reads.READING}
    assert {p.column for p in kind.parts if p.reads not in virtual} <= columns
    assert {p.typed_in for p in kind.parts if p.typed_in} <= columns
    assert set(kind.about) <= columns


def test_a_kind_nobody_has_heard_of_is_not_known():
    with pytest.raises(NotKnown):
        kind_named("aquascape")


def test_the_newest_entry_stands_first_in_words(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    read_temperature(session, tank_id, "26.4", at=MONDAY)
    words = [line.words for line in records.day_book(session).lines]
    assert words[:2] == ["L1: one reading of temperature", "L1: a larval tank of 40 L"]


def test_the_day_book_turns_its_pages(session, gannet_stair):
    make_tank(session, "T1–T60")
    first, second = (records.day_book(session, number=number) for number in (1, 2))
    assert (len(first.lines), first.has_more) == (records.LINES_A_PAGE, True)
    assert second.lines[0].words == "T10: a larval tank of 40 L"
    assert not second.has_more


def test_the_day_book_of_one_room_keeps_its_withdrawals(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    correction.withdraw_entry(session, posting=posted(), fact_id=tank_id, note="never stood here")
    lines = records.day_book(session, room_word="tank").lines
    assert [(line.words, line.takes_back, line.is_replaced) for line in lines] == [
        ("L1: a larval tank of 40 L", True, False),
        ("L1: a larval tank of 40 L", False, True),
    ]
    assert lines[0].note == "never stood here"
    assert records.day_book(session, room_word="cohort").lines == ()


def test_the_day_book_of_a_day_holds_what_may_have_happened_on_it(session, gannet_stair, posted):
    tank_id = make_tank(session, "L1")
    read_temperature(session, tank_id, "26.4", at=MONDAY)
    read_temperature(session, tank_id, "26.6", at=MONDAY + timedelta(days=1))
    lines = records.day_book(session, day=date(2026, 11, 23)).lines
    assert [line.when.latest for line in lines] == [MONDAY]


def test_who_wrote_it_when_stands_beside_when_it_happened(session, gannet_stair, owner, posted):
    from hatchery_app.domain.tank.tank import TankRole
    from hatchery_app.services.tank import tank

    tank.add_tanks(
        session, posting=posted(MONDAY + timedelta(days=3), by_id=owner.id), labels="L1, 40 L",
        role=TankRole.LARVAL, when=When.exactly(MONDAY),
    )  # fmt: skip
    line = records.day_book(session).lines[0]
    assert (line.by, line.when.latest, line.received_at) == (
        "Ines", MONDAY, MONDAY + timedelta(days=3),
    )  # fmt: skip


def test_a_watch_reads_with_its_hour_in_room_time(session, gannet_stair, posted):
    laid = MONDAY - timedelta(days=8)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1"))
    make_hatch(session, hatched_at=MONDAY + timedelta(hours=12), pair_id=pair_id)
    clutch_id = next(
        line.fact_id for line in records.day_book(session).lines if "begins" in line.words
    )
    clutch.record_check(
        session, posting=posted(laid + timedelta(days=7)), clutch_id=clutch_id,
        kind=CheckKind.WATCHED_NONE,
        when=When.exactly(laid + timedelta(days=6, hours=14, minutes=10)),
    )  # fmt: skip
    assert records.day_book(session).lines[0].words == (
        "Clutch 1: watched, none hatched until Sat 21 Nov 23:10 (the night of Sat 21 Nov)"
    )


def test_work_that_was_done_names_whom_it_was_for_and_the_tank_of_that_day(
    session, gannet_stair
):
    b1, b2, l5 = (make_tank(session, label) for label in ("B1", "B2", "L5"))
    pair_id = make_pair(session, "Merle", "Ditto", tank_id=b1)
    batch_id = make_batch(session, l5, hatched_at=MONDAY - timedelta(days=3))
    work = [f"feed_pair:{pair_id}:2026-11-23.morning", f"siphon:{batch_id}:2026-11-23.morning"]
    work += [f"clean_tank:{l5}:once", f"check_timers:{b1}:2026-11-23.morning"]
    task_answer.answer_done(session, posting=Posting(now=MONDAY), tasks=work)
    later = MONDAY + timedelta(hours=2)
    for (female_id,) in session.execute(select(Pair.female_id)):
        fish.place_fish(
            session, posting=Posting(now=later), fish_id=female_id, tank_id=b2,
            when=When.exactly(later),
        )  # fmt: skip
    told = {line.words for line in records.day_book(session).lines}
    assert "Feed pair, Merle and Ditto in B1: done" in told
    assert "Siphon, Batch 1 in L5: done" in told
    assert "Clean tank, L5: done" in told
    assert "Check timers: done" in told


def test_a_page_of_the_day_book_asks_no_more_for_many_entries(session, gannet_stair):
    def asked() -> int:
        count = 0

        def one_more(*_args):
            nonlocal count
            count += 1

        session.rollback()
        session.expunge_all()
        event.listen(db.engine, "before_cursor_execute", one_more)
        records.day_book(session)
        event.remove(db.engine, "before_cursor_execute", one_more)
        return count

    def a_spawn(name: str, days: int) -> None:
        at = LONG_AGO + timedelta(days=days)
        pair_id = make_pair(session, name, f"{name}'s mate", tank_id=nest, at=at)
        make_batch(
            session, make_tank(session, f"L{days}"), hatched_at=at + timedelta(days=20),
            pair_id=pair_id,
        )  # fmt: skip

        fed = f"feed_pair:{pair_id}:2026-11-23.morning"
        task_answer.answer_done(session, posting=Posting(now=MONDAY), tasks=[fed])

    nest = make_tank(session, "B1")
    a_spawn("Rusk", 1)
    few = asked()
    a_spawn("Merle", 2)
    assert asked() == few


def test_what_hangs_on_thousands_of_entries_is_found_in_several_statements(
    session, gannet_stair, monkeypatch
):
    # SQLite takes 32,766 figures in a statement, 1,000 choices in a row (sqlite.org/limits.html).
    assert record_references.FACTS_ASKED_AT_ONCE * len(record_references.pointers()) < 32_766
    assert record_references.FACTS_ASKED_AT_ONCE < 1000
    first, second = make_tank(session, "L1"), make_tank(session, "L2")
    for tank_id in (first, second):
        read_temperature(session, tank_id, "26.4", at=MONDAY)
    monkeypatch.setattr(record_references, "FACTS_ASKED_AT_ONCE", 1)
    found = record_references.references_to(session, [first, second])
    assert [(one.kind, one.column) for one in found] == [("readings", "tank_id")] * 2
