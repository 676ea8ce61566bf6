"""The stock book's pages: the room's, one batch's, and the balances of any moment."""

from datetime import UTC, datetime, timedelta

from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.services.records.room import RoomNow
from tests.builders import make_batch, make_tank
from tests.unit.services.test_species_survival import counted, lost

FIRST = datetime(2026, 3, 1, 20, 30, tzinfo=UTC)
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def opened(client: FlaskClient, address: str, status: int = 200) -> str:
    with freeze_time(NOW):
        answer = client.get(address)
    assert answer.status_code == status
    return answer.get_data(as_text=True)


def a_long_batch(session: Session) -> int:
    batch = make_batch(session, make_tank(session, "L1"), number="200", hatched_at=FIRST)
    for number in range(55):
        lost(session, batch, 1, FIRST + timedelta(hours=number + 1))
    counted(session, batch, "140", FIRST + timedelta(days=10))
    return batch


def test_a_batch_opens_on_its_newest_fifty_and_the_unexplained_is_shown_as_such(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    batch = a_long_batch(session)
    book = opened(client, f"/stock-book/batches/{batch}")
    assert "newest first, 1–50 of 57" in book
    assert "5 counted unexplained" in book
    assert ">then 140 counted</p>" in book
    assert f'href="/stock-book/batches/{batch}?page=2">Older' in book
    older = opened(client, f"/stock-book/batches/{batch}?page=2")
    assert "newest first, 51–57 of 57" in older
    assert "Newer" in older
    assert "Older" not in older
    assert f'href="/stock-book/batches/{batch}"' in opened(client, f"/larval-tanks/{batch}")


def test_a_look_stands_in_the_book_in_its_own_words_and_not_as_a_count(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="200", hatched_at=FIRST)
    counted(session, batch, "180", FIRST + timedelta(days=2))
    for day, said in ((3, "a few"), (4, "about half")):
        with freeze_time(FIRST + timedelta(days=day)):
            form = {"how": "a_look", "look": said, "when_how": "now"}
            assert client.post(f"/larval-tanks/{batch}/count", data=form).status_code == 303
    book = opened(client, f"/stock-book/batches/{batch}")
    assert "counted Batch 1 in L1: 180 counted" in book
    assert "looked at Batch 1 in L1: “a few”" in book
    assert "looked at Batch 1 in L1: about 90 (“about half of 180”)" in book
    assert book.count("then 180 counted") == 3  # a look takes nothing from what was counted


def test_a_batch_as_it_was_known_says_what_the_records_say_today(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    batch = a_long_batch(session)
    page = opened(client, f"/stock-book/batches/{batch}?known_on=2026-03-02&known_time=09:00")
    assert "As known Mon 2 Mar 2026 09:00. Today the records say 140 counted." in page
    assert ">188 counted</b>" in page
    early = opened(client, f"/stock-book/batches/{batch}?known_on=2026-02-01")
    assert "nothing of it was written down by then" in early


def test_balances_of_a_day_by_clutch_stand_with_their_sum(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    a_long_batch(session)
    page = opened(client, "/stock-book/balances?per=clutch&at_on=2026-03-02")
    assert "Clutch 1: <b>173 counted</b>" in page
    assert "Batch 1 in L1" in page
    assert "Held Tue 3 Mar 2026 00:00" in page
    assert 'href="/stock-book/balances"' in opened(client, "/stock-book/")
    for per in ("batch", "tank", "pair", "species"):
        assert "140 counted" in opened(client, f"/stock-book/balances?per={per}")


def test_a_day_that_cannot_be_read_is_refused_beside_its_field_and_stays_typed(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    batch = a_long_batch(session)
    page = opened(client, "/stock-book/balances?at_on=yesterdayish&known_time=09:00", 422)
    assert 'value="yesterdayish"' in page
    assert "Say the day as well." in page
    page = opened(client, f"/stock-book/batches/{batch}?known_on=31.31.31", 422)
    assert 'value="31.31.31"' in page
    opened(client, "/stock-book/batches/999999", 404)
