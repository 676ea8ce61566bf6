"""Moving in: the steps of a running room, and the way to them."""

from freezegun import freeze_time
from sqlalchemy import event
from sqlalchemy.orm import Session

from hatchery_app.database import db
from tests.builders import make_pair, make_tank


@freeze_time("2026-11-24 09:00:00")
def test_an_empty_room_is_led_to_moving_in_and_tanks_come_first(client) -> None:
    assert 'href="/records/moving-in"' in client.get("/").text
    page = client.get("/records/moving-in").text
    assert page.index("Tanks</b> <span") < page.index("Pairs as they sit") < page.index("Larvae")
    for address in (
        "/tanks/new", "/broodstock/moving-in", "/broodstock/fish/new", "/broodstock/groups/new",
        "/spawns/", "/larval-tanks/here-before", "/cohorts/new", "/live-food/",
    ):  # fmt: skip
        assert f'href="{address}"' in page
        assert client.get(address).status_code == 200


@freeze_time("2026-11-24 09:00:00")
def test_each_step_says_what_stands_and_the_next_is_marked(client, session: Session) -> None:
    make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "A1"))
    page = client.get("/records/moving-in").text
    assert "1 tank so far" in page
    assert "1 pair so far" in page
    assert "single fish so far" not in page
    assert "Single fish and groups</b> <span" in page


@freeze_time("2026-11-24 09:00:00")
def test_until_it_is_over_every_page_leads_back_to_the_steps(client, session: Session) -> None:
    make_tank(session, "A1")
    way_back = "Moving in: the next step"
    assert way_back not in client.get("/").text
    client.get("/records/moving-in")
    assert way_back in client.get("/tanks/").text
    assert client.get("/records/moving-in?over=1").status_code == 302
    assert way_back not in client.get("/tanks/").text


@freeze_time("2026-11-24 09:00:00")
def test_the_steps_ask_as_much_of_a_large_room_as_of_a_small_one(client, session) -> None:
    def asked() -> int:
        seen: list[str] = []

        def note(_c, _cur, statement, *_rest) -> None:
            seen.append(statement)

        event.listen(db.engine, "before_cursor_execute", note)
        client.get("/records/moving-in")
        event.remove(db.engine, "before_cursor_execute", note)
        return len(seen)

    def enter(label: str) -> None:
        make_pair(session, f"Rusk {label}", f"Tansy {label}", tank_id=make_tank(session, label))

    enter("A1")
    small = asked()
    for label in ("A2", "A3", "A4"):
        enter(label)
    assert asked() == small
