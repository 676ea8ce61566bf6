"""One post, one key, one receipt: a repeat is answered, never entered twice; a failure leaves
nothing behind."""

import sqlite3
import threading
from datetime import UTC, datetime

import pytest
from sqlalchemy import event, func, select
from sqlalchemy.exc import OperationalError

from hatchery_app.database import db
from hatchery_app.domain.errors import NotKept, RuleBroken
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.models.entry import Entry, Receipt
from hatchery_app.models.tank import Tank
from hatchery_app.services.recording import KeyUsedAgain, Posting, use_case
from hatchery_app.services.records import correction
from hatchery_app.services.tank import tank

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)


def add(session, label, key, **more):
    posting = Posting(now=NOON, key=key, body={"label": label}, **more)
    return tank.add_tanks(
        session, posting=posting, labels=label, volume="40 L", role=TankRole.LARVAL,
        when=When.exactly(NOON),
    )  # fmt: skip


def number_of(session, model):
    return session.scalar(select(func.count()).select_from(model))


def test_the_same_post_twice_is_one_entry_and_one_answer(session, gannet_stair):
    first, second = (add(session, "L1", "key-1") for _ in range(2))
    assert first == second
    assert number_of(session, Tank) == 1


def test_a_used_key_with_other_contents_says_what_is_saved_and_enters_nothing(
    session, gannet_stair
):
    saved = add(session, "L1", "key-1")
    with pytest.raises(KeyUsedAgain, match="saved already with other contents") as again:
        add(session, "L2", "key-1")
    assert again.value.answer == saved
    assert number_of(session, Tank) == 1
    add(session, "L2", "key-2")
    assert number_of(session, Tank) == 2


def test_the_devices_clock_does_not_make_a_repeat_a_new_fact(session, gannet_stair):
    first = add(session, "L1", "key-1", noted_at=NOON)
    assert add(session, "L1", "key-1", noted_at=NOON.replace(minute=3)) == first


def test_a_refused_post_leaves_no_entry_and_no_receipt(session, gannet_stair):
    entries = number_of(session, Entry)

    @use_case
    def two_tanks_and_a_stumble(book):
        book.enter(
            Tank(label="L1", volume_l=40, role=TankRole.LARVAL), when=When.exactly(book.now)
        )
        raise RuleBroken("No.")

    with pytest.raises(RuleBroken):
        two_tanks_and_a_stumble(session, posting=Posting(now=NOON, key="key-1"))
    assert (number_of(session, Entry), number_of(session, Receipt)) == (entries, 0)
    assert add(session, "L1", "key-1")  # only success is remembered: the mended form may use it


def test_an_entry_points_to_the_receipt_it_was_answered_with(session, gannet_stair):
    tank_id = add(session, "L1", "key-1")
    receipt = session.scalars(select(Receipt)).one()
    assert session.get_one(Entry, tank_id).receipt_id == receipt.id
    assert receipt.answer == tank_id


def test_two_posts_of_one_key_at_one_moment_are_one_entry(app, session, gannet_stair):
    session.rollback()
    gate, answers = threading.Barrier(2), []

    def post():
        with app.app_context():
            gate.wait()
            answers.append(add(db.session(), "L1", "key-1"))
            db.session.remove()

    threads = [threading.Thread(target=post) for _ in range(2)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(set(answers)) == 1
    assert len(answers) == 2
    assert number_of(session, Tank) == 1


def test_writers_take_turns_before_the_first_number_is_handed_out(session, gannet_stair):
    """The order of numbers is the order of commits: what was known at one of them rests on it."""
    said = []

    def listen(_connection, _cursor, statement, *_rest):
        said.append(statement.split("(")[0].split("\n")[0].strip())

    event.listen(db.engine, "before_cursor_execute", listen)
    add(session, "L1", "key-1")
    event.remove(db.engine, "before_cursor_execute", listen)
    if db.engine.dialect.name == "sqlite":
        turn = "BEGIN IMMEDIATE"
    else:
        turn = "SELECT pg_advisory_xact_lock"
    assert turn in said
    first_insert = next(place for place, one in enumerate(said) if one.startswith("INSERT"))
    assert said.index(turn) < first_insert


def test_a_fact_has_one_current_entry_after_any_number_of_corrections(session, gannet_stair):
    tank_id = add(session, "L1", "key-1")
    for label in ("L2", "L3", "L4"):
        correction.correct_entry(
            session, posting=Posting(now=NOON), fact_id=tank_id, typed={"label": label}
        )
    current = session.scalars(
        select(Tank.label).where(Tank.fact_id == tank_id, Tank.superseded_seq.is_(None))
    ).all()
    assert current == ["L4"]
    assert number_of(session, Tank) == 4


def test_what_was_known_at_a_number_is_asked_again_after_a_correction(session, gannet_stair):
    from hatchery_app.models.entry import known

    tank_id = add(session, "L1", "key-1")
    then = session.scalar(select(func.max(Entry.seq)))
    correction.correct_entry(
        session, posting=Posting(now=NOON), fact_id=tank_id, typed={"label": "L2"}
    )
    assert session.scalars(select(Tank.label).where(known(then))).all() == ["L1"]
    assert session.scalars(select(Tank.label).where(known())).all() == ["L2"]


@pytest.mark.parametrize(
    ("label", "said"), [("L" * 41, "too long"), ("L\0", "cannot be kept")], ids=["long", "nul"]
)
def test_what_no_column_holds_is_refused_in_words_by_both_engines(
    session, gannet_stair, label, said
):
    @use_case
    def stand(book) -> int:
        row = Tank(label=label, volume_l=40.0, role=TankRole.LARVAL)
        return book.enter(row, when=When.exactly(NOON)).fact

    with pytest.raises(RuleBroken, match=said) as refused:
        stand(session, posting=Posting(now=NOON))
    assert refused.value.field == "label"
    assert number_of(session, Tank) == 0


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        ("database or disk is full", "disk of the machine that keeps the records is full"),
        ("database is locked", "Another program is holding the records"),
        ("attempt to write a readonly database", "cannot be written to"),
        ("disk I/O error", "fails"),
    ],
)
def test_a_disk_that_cannot_keep_it_is_said_and_nothing_is_half_kept(
    session, gannet_stair, reason, said
):
    """The words are SQLite's own (its list of result codes)."""
    before = number_of(session, Entry)

    @use_case
    def half_kept(book):
        book.enter(Tank(label="L1", volume_l=40, role=TankRole.LARVAL), when=When.exactly(NOON))
        raise OperationalError("INSERT", {}, sqlite3.OperationalError(reason))

    with pytest.raises(NotKept, match=said):
        half_kept(session, posting=Posting(now=NOON, key="key-full"))
    assert (number_of(session, Entry), number_of(session, Receipt)) == (before, 0)
