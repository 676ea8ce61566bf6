"""The pages of cohorts and sales, as a keeper taps through them."""

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.when import When
from hatchery_app.services.cohort import cohort_page
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.sale.sale_page import sale_list
from hatchery_app.services.stock_book.holding_facts import load_stock
from tests.builders import make_batch, make_cohort, make_pair, make_tank

HATCHED = datetime(2026, 8, 3, 20, 30, tzinfo=UTC)
SETTLED = datetime(2026, 8, 14, 11, 0, tzinfo=UTC)
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def in_november() -> Iterator[None]:
    with freeze_time("2026-11-24 09:00:00"):
        yield


@pytest.fixture
def growing(session: Session, gannet_stair: RoomNow) -> int:
    pair = make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1"))
    return make_cohort(
        session, make_tank(session, "G1", litres=100), number="59", hatched_at=HATCHED,
        settled_at=SETTLED, larval_tank_id=make_tank(session, "L1"), pair_id=pair,
    )  # fmt: skip


def text(client: FlaskClient, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, address
    return " ".join(answer.get_data(as_text=True).split())


def send(client: FlaskClient, address: str, **said: str) -> tuple[int, str]:
    answer = client.post(address, data={"key": f"{address} {sorted(said.items())}"[-64:], **said})
    return answer.status_code, " ".join(answer.get_data(as_text=True).split())


def test_the_walk_says_age_number_and_what_is_free(client: FlaskClient, growing: int) -> None:
    page = text(client, "/cohorts/")
    assert "59 counted · 113 dph · Rusk × Tansy" in page
    assert "up to 59 free to sell" in page
    assert page.count("unknown how many have sale size") == 1


def test_every_form_of_a_cohort_opens(client: FlaskClient, growing: int) -> None:
    for word in ("count", "lengths", "grades", "sale-size", "set-aside", "gone", "move", "keep"):
        assert "59 alive = 59 free" in text(client, f"/cohorts/{growing}/{word}")
    for address in ("/cohorts/new", "/cohorts/young", f"/sales/from/{growing}",
                    f"/sales/hold/{growing}", "/sales/"):  # fmt: skip
        text(client, address)


def test_about_60_fish_of_25_mm_hatched_about_may_come_in_with_all_that_is_vague(
    client: FlaskClient, session: Session, gannet_stair: RoomNow
) -> None:
    tank = make_tank(session, "G4")
    status, _ = send(
        client, "/cohorts/new", tank_1=str(tank), species_key="amphiprion_ocellaris",
        number="about 60", hatched="about May", lengths="25 mm", by_eye="y",
    )  # fmt: skip
    assert status == 303
    (cohort,) = cohort_page.cohort_list(session, now=NOW).open
    page = text(client, f"/cohorts/{cohort.holding.id}")
    assert "up to 60 free to sell" in page
    assert "unknown how many have sale size" in page
    assert "177–207 dph" in page
    assert "one fish of 25 mm by eye" in page
    assert "parents</dt><dd>not known" in page


def test_pasted_lengths_give_mean_spread_and_a_window_for_the_day_of_sale_size(
    client: FlaskClient, growing: int
) -> None:
    address = f"/cohorts/{growing}/lengths"
    first = {"when_how": "at", "at_on": "2026-10-20"}
    assert send(client, address, lengths="17 18 18,5 19 16 17.5", **first)[0] == 303
    assert "not known: it takes 3 or more" in text(client, f"/cohorts/{growing}")
    assert send(client, address, lengths="21 23 22.5 22 20 22", measure="total")[0] == 303
    page = text(client, f"/cohorts/{growing}")
    assert "6 fish, mean 21.8 mm (20–23)" in page
    assert "half of them at 25 mm" in page
    assert "90 % of them at 25 mm" in page
    assert "true only if they go on growing as they did" in page
    assert "6 of the 6 measured" in page


def test_a_length_far_off_the_others_is_asked_about_and_stays_typed(
    client: FlaskClient, growing: int
) -> None:
    status, page = send(client, f"/cohorts/{growing}/lengths", lengths="21 225 22", measure="total")
    assert status == 422
    assert "225 mm stands among lengths of about 22 mm" in page
    assert "21 225 22" in page


def test_one_sold_more_than_are_free_is_refused_with_the_sum_beside_the_number(
    client: FlaskClient, growing: int
) -> None:
    status, _ = send(client, f"/sales/hold/{growing}", number="12", for_whom="T. B.",
                     held_until="2026-11-20")  # fmt: skip
    assert status == 303
    status, page = send(client, f"/sales/from/{growing}", number="48")
    assert status == 422
    assert "48 cannot be sold: 59 alive − 12 held = 47 free. Release a hold first." in page
    assert "past its end" in text(client, "/sales/")
    assert "past its end: sell them or release them" in text(client, f"/cohorts/{growing}")


def test_a_hold_is_sold_and_one_dead_on_arrival_is_sent_again(
    client: FlaskClient, session: Session, growing: int
) -> None:
    send(client, f"/sales/hold/{growing}", number="12", for_whom="T. B.", held_until="2026-11-27")
    (held,) = sale_list(session, now=NOW).holds
    status, _ = send(client, f"/sales/from/{growing}", number="12", out_of=str(held.line.held_id))
    assert status == 303
    (sold,) = sale_list(session, now=NOW).sales
    assert (sold.number, sold.for_whom, sold.out_of_hold) == (12, "T. B.", True)
    assert sale_list(session, now=NOW).holds == ()
    assert send(client, f"/sales/{sold.sale_id}/arrival", dead="1", replaced="1")[0] == 303
    page = text(client, f"/sales/{sold.sale_id}")
    assert "1 of 12 dead on arrival, 8.3 %: above the 5 %" in page
    status, page = send(client, f"/sales/{sold.sale_id}/arrival", dead="12")
    assert status == 422
    assert "13 dead of 12 sent cannot be" in page


def test_a_line_of_origin_goes_back_to_the_first_stock_and_says_where_it_ends(
    client: FlaskClient, session: Session, growing: int
) -> None:
    send(client, f"/sales/from/{growing}", number="5", for_whom="Harbour Row")
    (sold,) = sale_list(session, now=NOW).sales
    page = text(client, f"/sales/{sold.sale_id}/origin")
    assert "Cohort 1 in G1" in page
    assert "Clutch 1" in page
    assert "Mother Rusk" in page
    assert "what was before is not recorded" in page
    assert "2 gaps are shown as gaps" in page
    assert "check the law" in page
    assert "generation not known" in page


def test_fish_are_kept_with_names_and_leave_the_cohort_by_that_door(
    client: FlaskClient, session: Session, gannet_stair: RoomNow, growing: int
) -> None:
    assert send(client, f"/cohorts/{growing}/keep", names="Ditto, Quill")[0] == 303
    balance = load_stock(session, gannet_stair, holding_ids=[growing]).balance(growing)
    assert (balance.best, balance.left_alive.best) == (57, 2)
    assert "2 kept: kept as Ditto, Quill" in text(client, f"/cohorts/{growing}")


def test_the_largest_are_graded_into_another_tank_and_the_book_says_so(
    client: FlaskClient, session: Session, growing: int
) -> None:
    tank = make_tank(session, "G2")
    status, _ = send(
        client, f"/cohorts/{growing}/move", which="graded up: the largest", number="20",
        tank_1=str(tank),
    )  # fmt: skip
    assert status == 303
    numbers = [one.balance.now for one in cohort_page.cohort_list(session, now=NOW).open]
    assert sorted(number.best or 0 for number in numbers) == [20, 39]
    assert HowMany.counted(39) in numbers
    page = text(client, f"/cohorts/{growing}")
    assert "20 moved to Cohort 2 in G2: graded up: the largest" in page


def test_a_move_without_a_tank_is_refused_beside_the_tank(
    client: FlaskClient, growing: int
) -> None:
    status, page = send(client, f"/cohorts/{growing}/move", which="moved", number="20")
    assert status == 422
    assert "Choose the tank." in page


def test_grades_offer_the_words_of_before_and_those_not_sold_are_taken_off(
    client: FlaskClient, growing: int
) -> None:
    status, _ = send(
        client, f"/cohorts/{growing}/grades", grade_1="clean", number_1="50", sold_1="y",
        grade_2="gills open", number_2="4",
    )  # fmt: skip
    assert status == 303
    page = text(client, f"/cohorts/{growing}")
    assert "59 alive − 4 barred = 55 free" in page
    assert "4 not for sale: graded gills open" in page
    assert 'value="gills open"' in text(client, f"/cohorts/{growing}/grades")


def test_a_batch_of_larvae_is_barred_by_its_page_and_no_cohort_of_it_is_for_sale(
    client: FlaskClient, session: Session, gannet_stair: RoomNow
) -> None:
    batch = make_batch(session, make_tank(session, "L1"), number="30", hatched_at=HATCHED)
    status, page = send(client, f"/cohorts/larvae/{batch}/set-aside", why="not for sale")
    assert status == 422
    assert "Say why" in page
    assert send(client, f"/cohorts/larvae/{batch}/set-aside", why="not for sale",
                reason="practice", when_how="at", at_on="2026-08-05")[0] == 303  # fmt: skip
    growing = larval_tank.move_settled(
        session, posting=Posting(now=SETTLED), holding_id=batch,
        tank_id=make_tank(session, "G1"), number=None, when=When.exactly(SETTLED),
    )  # fmt: skip
    assert "none free: all not for sale: practice (with Batch 1)" in text(
        client, f"/cohorts/{growing}"
    )


def test_larvae_and_batches_that_do_not_exist_have_no_cohort_page(client: FlaskClient) -> None:
    assert client.get("/cohorts/9999").status_code == 404
    assert client.get("/sales/9999").status_code == 404


def test_fish_measured_below_sale_size_are_not_free_and_no_list_says_they_are(
    client: FlaskClient, growing: int
) -> None:
    lengths = "12.8 12 13 12.5 12.8 13.1 12.6 12.9 13 12.7"
    assert send(client, f"/cohorts/{growing}/lengths", lengths=lengths)[0] == 303
    said = "about 0 of 59 have sale size (0–16; 0 of 10 measured Tue 24 Nov had 25 mm)"
    for page in (text(client, "/cohorts/"), text(client, "/sales/")):
        assert "about 0 free" in page
        assert said in page
    status, page = send(client, f"/sales/from/{growing}", number="4")
    assert status == 422
    assert "Are 4 to be sold all the same?" in page
    answer = {"answer-below_sale_size": "sell"}
    assert send(client, f"/sales/from/{growing}", number="4", **answer)[0] == 303
