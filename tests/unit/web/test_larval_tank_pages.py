"""The larval tanks' pages, as a browser meets them."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy import event, select
from sqlalchemy.orm import Session

from hatchery_app.database import db
from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.when import When
from hatchery_app.models.stock_book import Moved, StockCount
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import every_batch, stock_book
from hatchery_app.services.stock_book.holding_facts import load_stock
from tests.builders import make_batch, make_hatch, make_tank, read_temperature

NOON = "2026-11-24 12:00:00"
HATCHED = datetime(2026, 11, 20, 20, 40, tzinfo=UTC)  # a Friday; 4 dph on Tuesday the 24th


@pytest.fixture(autouse=True)
def _noon():  # type: ignore[no-untyped-def]
    with freeze_time(NOON):
        yield


def four_days_old(session: Session, number: str = "about 120") -> tuple[int, int]:
    tank = make_tank(session, "L1")
    batch = make_batch(session, tank, number=number, hatched_at=HATCHED)
    read_temperature(session, tank, "27.5", at=datetime(2026, 11, 24, 8, tzinfo=UTC))
    return tank, batch


def page(client: FlaskClient, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return answer.text


def statements(client: FlaskClient, address: str) -> int:
    made: list[str] = []

    def note(_c: object, _cursor: object, statement: str, *_more: object) -> None:
        made.append(statement)

    event.listen(db.engine, "before_cursor_execute", note)
    page(client, address)
    event.remove(db.engine, "before_cursor_execute", note)
    return len(made)


def test_the_list_shows_age_number_and_what_comes_next_in_walking_order(
    client: FlaskClient, session: Session
) -> None:
    four_days_old(session)
    make_batch(session, make_tank(session, "L2"), number="?", hatched_at=HATCHED)
    text = page(client, "/larval-tanks/")
    assert "4 dph · about 120" in text
    assert "look at the rotifers" in text
    assert text.index(">L1<") < text.index(">L2<")


def test_a_hatch_without_a_tank_waits_on_the_list_and_goes_into_two_tanks_in_one_form(
    client: FlaskClient, session: Session, gannet_stair: RoomNow
) -> None:
    hatch = make_hatch(session, hatched_at=HATCHED + timedelta(days=2), number="about 200")
    one, two = make_tank(session, "L1"), make_tank(session, "L2")
    assert f"put?hatch_id={hatch}" in page(client, "/larval-tanks/")
    assert "about 200" in page(client, f"/larval-tanks/put?hatch_id={hatch}")
    sent = client.post(
        "/larval-tanks/put",
        data={
            "hatch_id": hatch, "tank_1": one, "number_1": "120", "tank_2": two,
            "number_2": "about 80", "note_2": "poured", "when_how": "now", "key": "a" * 20,
        },
    )  # fmt: skip
    assert sent.status_code == 303
    stock = load_stock(session, gannet_stair, tank_ids=(one, two))
    assert [stock.balance(held.id).now.said() for held in stock.open()] == [
        "120 counted", "about 80",
    ]  # fmt: skip
    assert "put?hatch_id=" not in page(client, "/larval-tanks/")


def test_a_hatch_nobody_numbered_says_on_its_clutch_what_was_put_in_tanks_of_it(
    client: FlaskClient, session: Session
) -> None:
    batch = make_batch(session, make_tank(session, "L2"), number="150", hatched_at=HATCHED)
    said = session.scalars(select(Moved).where(Moved.into_id == batch)).one()
    text = page(client, f"/clutches/{said.clutch_id}")
    assert "hatched, night of Fri 20 Nov: 150 counted put in L2" in text
    assert "number not known" not in text


def test_larvae_put_in_a_tank_are_worked_out_from_samples_before_anything_is_saved(
    client: FlaskClient, session: Session, gannet_stair: RoomNow
) -> None:
    hatch = make_hatch(session, hatched_at=HATCHED + timedelta(days=2), number="about 200")
    tank = make_tank(session, "L1")
    typed = {
        "hatch_id": hatch, "tank_1": tank, "how": "aliquots", "counts": "5, 7, 4, 6, 5",
        "aliquot_ml": "500", "total_ml": "18 L", "when_how": "now",
    }  # fmt: skip
    tried = client.post("/larval-tanks/put", data=typed | {"work_out": "yes"})
    assert tried.status_code == 200
    shown = tried.get_data(as_text=True)
    assert "194 (" in shown
    assert 'value="5, 7, 4, 6, 5"' in shown
    assert load_stock(session, gannet_stair).holdings == {}
    nowhere = client.post("/larval-tanks/put", data=typed | {"tank_1": "0", "tank_2": tank})
    assert nowhere.status_code == 422
    assert "which tank it is that was counted" in nowhere.get_data(as_text=True)
    assert client.post("/larval-tanks/put", data=typed).status_code == 303
    stock = load_stock(session, gannet_stair)
    (held,) = stock.open()
    number = stock.balance(held.id).now
    assert (number.basis, number.best) == (Basis.ESTIMATED, 194)
    assert number.low < 194 < number.high


def test_larvae_counted_minutes_after_they_were_put_in_may_be_the_start(
    client: FlaskClient, session: Session, gannet_stair: RoomNow
) -> None:
    put_at = datetime(2026, 11, 24, 11, 40, tzinfo=UTC)
    tank = make_tank(session, "L1")
    batch = make_batch(session, tank, number="?", hatched_at=HATCHED, put_at=put_at)
    typed = {"number": "143", "when_how": "now", "key": "s" * 20}
    asked = client.post(f"/larval-tanks/{batch}/count", data=typed)
    assert asked.status_code == 422
    assert "Is this the number that was put in?" in asked.text
    assert 'value="143"' in asked.text
    assert load_stock(session, gannet_stair).balance(batch).start == HowMany.unknown()
    told = client.post(f"/larval-tanks/{batch}/count", data=typed | {"answer-put_in": "is_it"})
    assert told.status_code == 303
    text = page(client, f"/larval-tanks/{batch}")
    assert "it is the number that was put in" in text
    assert "100 % alive (143 counted of 143 counted" in text
    (count,) = session.scalars(select(StockCount)).all()
    correction.withdraw_entry(
        session, posting=Posting(now=datetime(2026, 11, 24, 13, tzinfo=UTC)), fact_id=count.fact
    )
    assert load_stock(session, gannet_stair).balance(batch).start == HowMany.unknown()
    no = typed | {"answer-put_in": "not_it", "key": "t" * 20}
    assert client.post(f"/larval-tanks/{batch}/count", data=no).status_code == 303
    balance = load_stock(session, gannet_stair).balance(batch)
    assert (balance.start, balance.now) == (HowMany.unknown(), HowMany.counted(143))


def test_one_tap_on_a_look_says_what_to_add_and_the_room_remembers_its_concentrate(
    client: FlaskClient, session: Session
) -> None:
    _tank, batch = four_days_old(session)
    address = f"/larval-tanks/{batch}"
    assert "look first" in page(client, address)
    look = {"food": "rotifers", "look": "thin", "key": "b" * 9}
    tapped = client.post(f"{address}/prey", data=look)
    assert tapped.status_code == 303
    shown = page(client, address)
    assert "300,000 animals" in shown  # 12.5 per mL wanted, 40 % there, 40 L
    said = client.post(
        "/larval-tanks/concentrates",
        data={"food": "rotifers", "per_ml": "2000", "key": "c" * 9},
    )
    assert said.status_code == 303
    assert "150 mL" in page(client, address)


def test_the_plan_of_the_day_stands_with_its_temperature_change_light_and_window(
    client: FlaskClient, session: Session
) -> None:
    _tank, batch = four_days_old(session)
    shown = page(client, f"/larval-tanks/{batch}")
    assert "40 L at 27.5 °C (one reading)" in shown
    assert "4 L" in shown  # 10 % of 40 L
    assert "16–24 h" in shown
    assert "6–10 dph, about 8" in shown
    assert "common practice" in shown


def test_more_dead_than_counted_comes_back_beside_the_number_with_all_that_was_typed(
    client: FlaskClient, session: Session
) -> None:
    _tank, batch = four_days_old(session, number="20")
    sent = client.post(
        f"/larval-tanks/{batch}/left",
        data={"door": "died", "number": "21", "reason": "flow stopped", "key": "d" * 9},
    )
    assert sent.status_code == 422
    assert "held 20 counted" in sent.text
    assert "flow stopped" in sent.text


def test_a_count_above_the_book_asks_and_the_answer_saves_it(
    client: FlaskClient, session: Session
) -> None:
    _tank, batch = four_days_old(session, number="20")
    facts = {"number": "23", "how": "one_by_one", "key": "e" * 9}
    asked = client.post(f"/larval-tanks/{batch}/count", data=facts)
    assert asked.status_code == 422
    assert "Missed earlier, or a new arrival" in asked.text
    saved = client.post(
        f"/larval-tanks/{batch}/count", data=facts | {"answer-count_above": "missed_earlier"}
    )
    assert saved.status_code == 303
    assert "23 counted" in page(client, f"/larval-tanks/{batch}")


def test_a_count_from_samples_of_the_water_carries_its_interval(
    client: FlaskClient, session: Session
) -> None:
    _tank, batch = four_days_old(session, number="?")
    sent = client.post(
        f"/larval-tanks/{batch}/count",
        data={"how": "aliquots", "counts": "3, 5, 4", "aliquot_ml": "500", "total_ml": "40000",
              "key": "f" * 9},
    )  # fmt: skip
    assert sent.status_code == 303
    shown = page(client, f"/larval-tanks/{batch}")
    assert "3 samples of 500 mL from 40 L" in shown
    assert "320 (" in shown


def test_settled_fish_go_on_and_the_late_ones_stay(
    client: FlaskClient, session: Session, gannet_stair: RoomNow
) -> None:
    grow_out = make_tank(session, "G1")
    _tank, batch = four_days_old(session, number="84")
    looked = client.post(
        f"/larval-tanks/{batch}/settled",
        data={"settled": "52", "swimming": "32", "how": "counted", "key": "g" * 9},
    )
    assert looked.status_code == 303
    assert "52 settled, 32 swimming" in page(client, f"/larval-tanks/{batch}")
    assert 'value="52"' in page(client, f"/larval-tanks/{batch}/grow-out?number=52")
    gone = client.post(
        f"/larval-tanks/{batch}/grow-out",
        data={"tank_1": grow_out, "number": "52", "key": "h" * 9},
    )
    assert gone.status_code == 303
    stock = load_stock(session, gannet_stair, tank_ids=(grow_out,))
    assert [stock.balance(held.id).best for held in stock.open()] == [52]
    assert "32 counted" in page(client, f"/larval-tanks/{batch}")


def test_two_clutches_put_together_are_asked_for_and_then_marked_as_mixed(
    client: FlaskClient, session: Session
) -> None:
    tank, batch = four_days_old(session, number="22")
    other = make_batch(session, make_tank(session, "L2"), number="19", hatched_at=HATCHED)
    assert "Batch 2 in L2" in page(client, f"/larval-tanks/{batch}/together")
    sent = client.post(
        f"/larval-tanks/{batch}/together",
        data={"batch": [other], "tank_1": tank, "key": "i" * 9},
    )
    assert sent.status_code == 303
    shown = page(client, sent.headers["Location"])
    assert "mixed batch" in shown
    assert "41 counted" in shown


def test_a_batch_of_nobody_known_moves_in_and_has_no_plan_until_its_night_is_said(
    client: FlaskClient, session: Session
) -> None:
    tank = make_tank(session, "L1")
    assert page(client, "/larval-tanks/here-before")
    sent = client.post(
        "/larval-tanks/here-before",
        data={"species_key": "amphiprion_ocellaris", "tank_1": tank, "number": "", "key": "j" * 9},
    )
    assert sent.status_code == 303
    shown = page(client, sent.headers["Location"])
    assert "Nobody knows which night they hatched" in shown
    assert "Not computable" in shown
    say = re.search(r'href="(/records/\d+/correct)">Say which night<', shown)
    assert say is not None
    said = client.post(
        say[1],
        data={
            "hatched_first_on": "2026-11-20", "species_key": "amphiprion_ocellaris",
            "key": "k" * 9,
        },
    )  # fmt: skip
    assert said.status_code == 303
    shown = page(client, sent.headers["Location"])
    assert "4 dph" in shown
    assert "survival since they came in" in shown  # of the hatch nothing is known


@pytest.mark.parametrize("form", ["count", "left", "found", "prey", "settled", "mark", "move",
                                  "grow-out", "together"])  # fmt: skip
def test_every_form_of_a_batch_opens(client: FlaskClient, session: Session, form: str) -> None:
    _tank, batch = four_days_old(session)
    assert "<form" in page(client, f"/larval-tanks/{batch}/{form}")


def test_a_mark_a_found_fish_and_a_move_are_saved_from_their_forms(
    client: FlaskClient, session: Session
) -> None:
    _tank, batch = four_days_old(session, number="20")
    elsewhere = make_tank(session, "L9")
    for form, facts in (
        ("mark", {"mark": "first food"}),
        ("found", {"number": "2", "reason": "behind the sponge"}),
        ("move", {"tank_1": elsewhere, "number_1": ""}),
    ):
        sent = client.post(f"/larval-tanks/{batch}/{form}", data=facts | {"key": form * 4})
        assert sent.status_code == 303, sent.text
    shown = page(client, f"/larval-tanks/{batch}")
    assert "behind the sponge" in shown
    assert "first food" in shown
    assert "moved to L9" in shown


def test_a_batch_that_ended_stays_on_the_list_and_readable(
    client: FlaskClient, session: Session
) -> None:
    _tank, batch = four_days_old(session, number="?")
    gone = client.post(
        f"/larval-tanks/{batch}/left", data={"door": "died", "everyone": "y", "key": "k" * 9}
    )
    assert gone.status_code == 303
    assert "none left by 24 Nov 2026" in page(client, "/larval-tanks/")
    assert "none left" in page(client, f"/larval-tanks/{batch}")


def test_the_pages_ask_the_same_number_of_questions_however_many_batches_there_are(
    client: FlaskClient, session: Session
) -> None:
    _tank, batch = four_days_old(session)
    few = statements(client, "/larval-tanks/"), statements(client, "/stock-book/")
    for number in range(2, 6):
        make_batch(session, make_tank(session, f"L{number}"), hatched_at=HATCHED)
    every_batch.forget()  # the first asking and a later one differ by one
    many = statements(client, "/larval-tanks/"), statements(client, "/stock-book/")
    assert many == few
    assert statements(client, f"/larval-tanks/{batch}") < 60


def test_the_stock_book_shows_the_running_balance_and_what_no_count_explains(
    client: FlaskClient, session: Session
) -> None:
    _tank, batch = four_days_old(session, number="61")
    client.post(
        f"/larval-tanks/{batch}/count",
        data={"number": "48", "bodies": "5", "key": "l" * 9},
    )
    shown = page(client, "/stock-book/")
    assert "8 counted unexplained" in shown
    assert "Batch 1 then 48 counted" in shown
    assert "61 counted hatched into Batch 1 in L1" in shown


def test_the_stock_book_turns_its_pages_after_fifty_lines(
    client: FlaskClient, session: Session, posted: Callable[..., Posting]
) -> None:
    _tank, batch = four_days_old(session, number="100")
    for minute in range(51):
        at = HATCHED + timedelta(minutes=minute + 1)
        stock_book.record_leaving(
            session, posting=posted(at), holding_id=batch, door=Door.DIED,
            number=HowMany.counted(1), when=When.exactly(at),
        )  # fmt: skip
    first, second = page(client, "/stock-book/"), page(client, "/stock-book/?page=2")
    assert "Batch 1 then 49 counted" in first
    assert "Older" in first
    assert "100 counted hatched" not in first
    assert "100 counted hatched" in second
    assert "Older" not in second


def test_no_such_batch_is_not_found(client: FlaskClient) -> None:
    assert client.get("/larval-tanks/4711").status_code == 404
