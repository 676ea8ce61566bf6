"""Copies of the records: made whole, thinned with age, put back; and the books looked through."""

import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import update

from hatchery_app.database import transaction
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.models.entry import Entry
from hatchery_app.models.stock_book import Moved
from hatchery_app.services.records import records_copies
from hatchery_app.services.records.records_check import check_books
from hatchery_app.services.stock_book import photo_count
from tests.builders import make_batch, make_photo, make_tank, read_temperature

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
TODAY = date(2026, 11, 24)


@pytest.fixture
def kept(tmp_path):
    """A records file in a folder, written to and not yet out of its log."""
    file = tmp_path / "hatchery.db"
    with closing(sqlite3.connect(file)) as writer:
        writer.execute("PRAGMA journal_mode=WAL")
        writer.execute("CREATE TABLE entry (seq INTEGER PRIMARY KEY, note TEXT)")
        writer.execute("CREATE TABLE alembic_version (version_num TEXT)")
        write(writer, "eggs on the tile")
        yield file


def write(writer, note):
    writer.execute("INSERT INTO entry (note) VALUES (?)", (note,))
    writer.commit()


def notes(file: Path) -> list[str]:
    with closing(sqlite3.connect(file)) as reader:
        return [row[0] for row in reader.execute("SELECT note FROM entry ORDER BY seq")]


def test_a_copy_holds_what_still_stands_in_the_log(kept):
    made = records_copies.copy_of_the_day(kept, kept.parent, TODAY)
    assert made is not None
    assert made.name == "hatchery-2026-11-24.db"
    assert notes(made) == ["eggs on the tile"]
    assert [path.name for path in made.parent.iterdir()] == [made.name]  # no log, no half copy


def test_a_day_is_copied_once(kept):
    assert records_copies.copy_of_the_day(kept, kept.parent, TODAY)
    assert records_copies.copy_of_the_day(kept, kept.parent, TODAY) is None
    assert records_copies.copy_of_the_day(kept, kept.parent, TODAY + timedelta(days=1))


def test_of_two_years_of_copies_seven_days_five_weeks_and_twelve_months_are_kept():
    days = [TODAY - timedelta(days=n) for n in range(730)]
    kept_days = records_copies.days_kept(days)
    assert {TODAY - timedelta(days=n) for n in range(7)} <= kept_days
    sundays = {date(2026, 11, 22) - timedelta(weeks=n) for n in range(4)}
    assert sundays <= kept_days
    assert {date(2026, 10, 31), date(2026, 1, 31), date(2025, 12, 31)} <= kept_days
    assert date(2025, 11, 30) not in kept_days
    assert len(kept_days) <= 7 + 5 + 12


def test_old_copies_are_removed_and_those_made_by_hand_are_not(kept):
    folder = kept.parent
    by_hand = records_copies.copy_now(kept, folder, NOON)
    for n in range(60):
        (folder / "copies" / f"hatchery-{TODAY - timedelta(days=n)}.db").touch()
    records_copies.thin_out(folder)
    assert by_hand.exists()
    assert len(records_copies.copies_in(folder)) < 16


def test_a_copy_put_back_leaves_what_stood_there_aside(kept):
    copy = records_copies.copy_now(kept, kept.parent, NOON)
    with closing(sqlite3.connect(kept)) as writer:
        write(writer, "written since")
    aside = records_copies.put_back(copy, kept, kept.parent, NOON)
    assert notes(kept) == ["eggs on the tile"]
    assert aside is not None
    assert notes(aside) == ["eggs on the tile", "written since"]


def test_a_file_that_is_no_copy_is_not_put_back(kept, tmp_path):
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear Ines, " * 200)
    for wrong in (letter, tmp_path / "not-there.db"):
        with pytest.raises(RuleBroken, match="cannot be put back"):
            records_copies.put_back(wrong, kept, kept.parent, NOON)
    assert notes(kept) == ["eggs on the tile"]


def test_broken_records_can_be_replaced_and_are_kept_as_they_are(kept):
    copy = records_copies.copy_now(kept, kept.parent, NOON)
    with closing(sqlite3.connect(kept)) as writer:
        writer.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    kept.write_bytes(b"water got in" * 500)
    for log in ("-wal", "-shm"):
        kept.with_name(kept.name + log).unlink(missing_ok=True)
    aside = records_copies.put_back(copy, kept, kept.parent, NOON)
    assert aside is not None
    assert aside.read_bytes().startswith(b"water got in")
    assert notes(kept) == ["eggs on the tile"]


def test_sound_books_have_nothing_wrong(session, gannet_stair):
    for label, days in (("L1", 19), ("L2", 9)):  # the later batch is not read as the earlier's
        make_batch(session, make_tank(session, label), hatched_at=NOON - timedelta(days=days))
    checked = check_books(session)
    assert checked.wrong == ()
    assert checked.entries >= checked.facts > 5


@pytest.mark.parametrize(
    ("harm", "complaint"),
    [
        ({"fact_id": None}, "entries without a fact"),
        ({"superseded_seq": Entry.seq}, "facts without a current entry"),
        ({"kind": "tank"}, "entries without their tank"),
    ],
)
def test_a_harmed_entry_is_found(session, gannet_stair, harm, complaint):
    reading = read_temperature(session, make_tank(session, "L1"), "26.4", at=NOON)
    with transaction(session):
        session.execute(
            update(Entry.__table__).where(Entry.__table__.c.seq == reading).values(**harm)
        )
    assert any(complaint in one for one in check_books(session).wrong)


def test_more_fish_gone_than_came_is_found(session, gannet_stair):
    from hatchery_app.domain.how_many import HowMany
    from hatchery_app.domain.stock_book.stock_book import Door
    from hatchery_app.domain.when import When
    from hatchery_app.services.recording import Posting
    from hatchery_app.services.stock_book import stock_book

    batch = make_batch(session, make_tank(session, "L1"), hatched_at=NOON - timedelta(days=9))
    moved_id = stock_book.record_leaving(
        session, posting=Posting(now=NOON), holding_id=batch, door=Door.SOLD,
        number=HowMany.counted(10), when=When.exactly(NOON),
    )  # fmt: skip
    table = Moved.__table__
    with transaction(session):
        session.execute(
            update(table).where(table.c.seq == moved_id).values(number_best=999, number_low=999,
                                                                number_high=999)
        )  # fmt: skip
    session.expire_all()
    assert any("more fish left than were there" in one for one in check_books(session).wrong)


def test_pictures_stand_beside_every_copy_and_come_back_with_it(kept, tmp_path):
    pictures = kept.parent / "photos"
    pictures.mkdir()
    (pictures / "a1.png").write_bytes(b"first")
    (pictures / "half.png.part").write_bytes(b"broken off")
    made = records_copies.copy_now(kept, kept.parent, NOON)
    (pictures / "b2.png").write_bytes(b"second")
    assert records_copies.copy_pictures(kept.parent, made.parent) == 1
    beside = {one.name: one.read_bytes() for one in (made.parent / "photos").iterdir()}
    assert beside == {"a1.png": b"first", "b2.png": b"second"}
    elsewhere = tmp_path / "new machine"
    elsewhere.mkdir()
    records_copies.put_back(made, elsewhere / "hatchery.db", elsewhere, NOON)
    assert (elsewhere / "photos" / "a1.png").read_bytes() == b"first"


def test_a_picture_that_is_lost_or_changed_is_told(session, gannet_stair, tmp_path):
    batch = make_batch(session, make_tank(session, "L1"), number="20", hatched_at=NOON)
    first, second = (make_photo(session, tmp_path, batch, at=NOON) for _ in range(2))
    assert photo_count.wrong_photos(session, tmp_path) == ()
    files = {one: photo_count.photo(session, one).file for one in (first, second)}
    (tmp_path / "photos" / files[first]).unlink()
    (tmp_path / "photos" / files[second]).write_bytes(b"something else")
    assert photo_count.wrong_photos(session, tmp_path) == (
        f"picture {first} is missing ({files[first]})",
        f"picture {second} is not what it was ({files[second]})",
    )
