"""The pages of survival: reached from the book, with a table beside every drawing."""

from datetime import UTC, datetime, timedelta

from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.services.records.room import RoomNow
from tests.builders import make_batch, make_tank
from tests.unit.services.test_species_survival import FIRST, OCELLARIS, rear

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
PAGE = f"/stock-book/survival/{OCELLARIS}"


def opened(client: FlaskClient, address: str, status: int = 200) -> str:
    with freeze_time(NOW):
        answer = client.get(address)
    assert answer.status_code == status
    return answer.get_data(as_text=True)


def test_the_keeper_finds_survival_from_the_book_the_species_and_the_batch(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    batch = rear(session, "L1", 0)
    for address in ("/stock-book/survival", f"/species/{OCELLARIS}", f"/larval-tanks/{batch}"):
        assert f'href="{PAGE}"' in opened(client, address), address
    assert 'href="/stock-book/survival"' in opened(client, "/stock-book/")


def test_below_five_batches_the_page_says_why_there_is_no_curve(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    rear(session, "L1", 0, dies=100, on=3, counts_on=4)
    make_batch(session, make_tank(session, "L2"), number="?", hatched_at=FIRST)
    page = opened(client, PAGE)
    assert "come from 5 batches on" in page
    assert "So far 1: with so few" in page
    assert "0 % alive (0 counted of 100 counted" in page  # none left, and still in the row
    assert "Not computable: how many there were at the start is not known." in page
    assert "By age" not in page
    assert "Tanks compared" not in page


def test_from_five_on_each_drawing_has_its_table(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    for place in range(6):
        rear(session, f"L{place}", place, rack="A" if place % 2 else "B")
    page = opened(client, f"{PAGE}?by=rack&dph=12&percent=60")
    assert "In 6 of 6 batches a tenth or more was lost between 8 and 10 dph." in page
    for heading in ("All batches", "By age", "Losses by age", "Tanks compared"):
        assert f"<h2>{heading}</h2>" in page
    assert page.count("<summary>The numbers</summary>") == 4
    assert "40 died, 40 % of those there" in page
    assert "Too few to conclude anything: 3 and 3 tanks, and it takes 5 a side." in page
    assert "points of a hundred" not in page


def test_what_the_address_cannot_mean_is_left_out(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    for place in range(5):
        rear(session, f"L{place}", place)
    odd = "?by=moon&dph=-3&percent=900&one=%00&other=%3Cscript%3E"
    page = opened(client, PAGE + odd)
    assert "A tank did well when at least 60 % of its fish lived to 16 dph" in page
    assert "<script>" not in page.split("</head>")[1].split("groups")[-1]
    assert "No tank was followed to 5000 dph." in opened(client, PAGE + "?dph=5000")


def test_a_species_that_nobody_knows_has_no_page(
    client: FlaskClient, gannet_stair: RoomNow
) -> None:
    opened(client, "/stock-book/survival/no_such_fish", 404)
    assert "No batch of it stands in the book yet." in opened(
        client, "/stock-book/survival/amphiprion_frenatus"
    )


def test_a_batch_moved_on_is_shown_where_it_began(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    rear(session, "L1", 0, number="60", dies=60, on=2, counts_on=3)
    page = opened(client, PAGE)
    by = FIRST + timedelta(days=3)
    assert f"none left by {by:%a} {by.day} {by:%b}" in page
