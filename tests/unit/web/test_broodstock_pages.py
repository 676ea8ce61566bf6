"""The pages of the broodstock, tapped through as a keeper does."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy import event, select
from sqlalchemy.orm import Session

from hatchery_app.database import db
from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.parents import Parent, Parents
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import Fish
from hatchery_app.models.entry import known
from hatchery_app.services.broodstock import fish, pair
from hatchery_app.services.broodstock.broodstock import broodstock_list
from hatchery_app.services.clutch import clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.spawn import spawn
from tests.builders import (
    LONG_AGO,
    make_fish,
    make_pair,
    make_tank,
    read_temperature,
    set_set_point,
)

MORNING = "2026-11-24 09:00:00"
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
ADDRESS = re.compile(r"/(\d+)(?:/|$)")


def words(answer: object) -> str:
    text: str = answer.get_data(as_text=True)  # type: ignore[attr-defined]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)).replace("&#39;", "'")


def id_in(location: str) -> int:
    found = ADDRESS.search(location)
    assert found is not None, location
    return int(found[1])


@pytest.fixture
def rusk_and_tansy(client: FlaskClient, session: Session) -> dict[str, int]:
    tank_id = make_tank(session, "B1", litres=80, role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    facts = pair.pair_facts(session, [pair_id], NOW)[pair_id]
    return {
        "pair": pair_id, "female": facts.female_id, "male": facts.male_id, "tank": tank_id,
    }  # fmt: skip


def lay_and_lose(session: Session, pair_id: int, times: int, last: datetime) -> None:
    for n in reversed(range(times)):
        at = last - timedelta(days=14 * n)
        clutch_id = spawn.record_laying(
            session, posting=Posting(now=at), pair_id=pair_id, when=When.exactly(at),
            eggs=HowMany.about(300),
        )  # fmt: skip
        gone = at + timedelta(days=3)
        clutch.end_clutch(
            session, posting=Posting(now=gone), clutch_id=clutch_id,
            outcome=ClutchOutcome.EATEN, when=When.exactly(gone),
        )  # fmt: skip


@freeze_time(MORNING)
def test_a_female_is_lost_in_two_taps_from_her_pair(
    client: FlaskClient, session: Session, rusk_and_tansy: dict[str, int]
) -> None:
    laid = NOW - timedelta(days=2)
    spawn.record_laying(
        session, posting=Posting(now=laid), pair_id=rusk_and_tansy["pair"],
        when=When.exactly(laid),
    )  # fmt: skip
    make_fish(session, "Wren", tank_id=rusk_and_tansy["tank"])
    page = client.get(f"/broodstock/pairs/{rusk_and_tansy['pair']}")
    first_tap = f"/broodstock/fish/{rusk_and_tansy['female']}/left"
    assert f'href="{first_tap}"' in page.text
    confirm = client.get(first_tap)
    assert 'value="died" checked' in confirm.text
    assert 'value="now" checked' in confirm.text
    second_tap = client.post(first_tap, data={"door": "died", "when_how": "now", "key": "k1"})
    assert second_tap.status_code == 303
    after = client.get(second_tap.location)
    said = words(after)
    assert "Tansy is single since Tue 24 Nov 09:00" in said
    assert "the clutch keeps its mother" in said
    assert "The hatch watch stays." in said
    assert "No next spawn: the pair has ended (female lost)." in said
    assert "No date can be said for a change of sex" in said
    assert "Wren" in said
    shown = words(client.get(f"/broodstock/pairs/{rusk_and_tansy['pair']}"))
    assert "Female lost, Tue 24 Nov 09:00" in shown
    assert "may lay" not in shown


@freeze_time(MORNING)
def test_a_loss_taken_back_lets_the_pair_stand_again(
    client: FlaskClient, rusk_and_tansy: dict[str, int]
) -> None:
    female = rusk_and_tansy["female"]
    client.post(f"/broodstock/fish/{female}/left", data={"door": "missing", "when_how": "now"})
    form = client.get(f"/broodstock/fish/{female}/left")
    back = re.search(r"/broodstock/leavings/(\d+)/back", form.text)
    assert back is not None
    client.post(back[0], data={"fish_id": str(female), "key": "k2"})
    shown = words(client.get(f"/broodstock/pairs/{rusk_and_tansy['pair']}"))
    assert "Female lost ," not in shown
    assert "Laid" in shown
    assert client.get(f"/broodstock/fish/{female}/after").status_code == 302


@freeze_time(MORNING)
def test_a_vague_loss_is_accepted_and_shown_as_such(
    client: FlaskClient, rusk_and_tansy: dict[str, int]
) -> None:
    gone = client.post(
        f"/broodstock/fish/{rusk_and_tansy['male']}/left",
        data={
            "door": "missing", "when_how": "between", "from_on": "2026-11-20",
            "until_on": "2026-11-22", "from_memory": "y",
        },
    )  # fmt: skip
    said = words(client.get(gone.location))
    assert "Rusk is single since between Fri 20 and Sun 22 Nov, from memory" in said
    assert "(male lost)" in said


@freeze_time(MORNING)
def test_a_fish_in_two_pairs_is_asked_about_and_a_move_ends_the_first(
    client: FlaskClient, session: Session, rusk_and_tansy: dict[str, int]
) -> None:
    merle = make_fish(session, "Merle", tank_id=rusk_and_tansy["tank"])
    typed = {
        "female_id": str(merle), "male_id": str(rusk_and_tansy["male"]), "link": "pair",
        "since": "2026-11-24", "name": "", "key": "k3",
    }  # fmt: skip
    asked = client.post("/broodstock/pairs/new", data=typed)
    assert asked.status_code == 422
    assert "Is this a move, or are they kept together but not paired?" in words(asked)
    assert f'<option selected value="{merle}">' in asked.text
    made = client.post(
        "/broodstock/pairs/new", data=typed | {"answer-overlapping_pairs": "move"}
    )
    assert made.status_code == 303
    old = words(client.get(f"/broodstock/pairs/{rusk_and_tansy['pair']}"))
    assert "Moved to another mate" in old


@freeze_time(MORNING)
def test_pairs_move_in_by_lines_and_nothing_is_half_saved(
    client: FlaskClient, session: Session
) -> None:
    make_tank(session, "B1", role=TankRole.BROODSTOCK)
    make_tank(session, "B2", role=TankRole.BROODSTOCK)
    typed = {
        "species_key": "amphiprion_ocellaris",
        "female-0": "Rusk", "male-0": "Tansy", "tank-0": "b1", "since-0": "about 2024",
        "clutches_before-0": "20",
        "female-1": "Merle", "male-1": "", "tank-1": "B9", "since-1": "some time",
    }  # fmt: skip
    refused = client.post("/broodstock/moving-in", data=typed)
    assert refused.status_code == 422
    said = words(refused)
    assert "1 line needs another look. Nothing is saved yet." in said
    assert "The male needs a name" in said
    assert "No tank is labelled B9" in said
    assert "“some time” is not a date" in said
    assert 'value="Rusk"' in refused.text
    assert "No breeding fish stand in the records yet" in words(client.get("/broodstock/"))
    typed |= {"male-1": "Quill", "tank-1": "B2", "since-1": ""}
    assert client.post("/broodstock/moving-in", data=typed).status_code == 303
    listed = words(client.get("/broodstock/"))
    assert listed.index("Rusk and Tansy") < listed.index("Merle and Quill")
    assert len(broodstock_list(session, now=NOW).pairs) == 2


@freeze_time(MORNING)
def test_a_pairs_page_shows_row_window_tank_and_water(
    client: FlaskClient, session: Session, rusk_and_tansy: dict[str, int]
) -> None:
    read_temperature(session, rusk_and_tansy["tank"], "29.5", at=NOW - timedelta(hours=3))
    lay_and_lose(session, rusk_and_tansy["pair"], 5, NOW - timedelta(days=8))
    page = client.get(f"/broodstock/pairs/{rusk_and_tansy['pair']}")
    said = words(page)
    assert re.search(r"May lay \w+ \d+ \w+ to \w+ \d+ \w+, most likely", said)
    assert "from the day the nest became empty" in said
    assert said.count("eaten") >= 5
    assert "B1, 80 L" in said
    assert "76–114 L (20–30 US gal; common practice)" in said
    assert "25–27.8 °C" in said
    assert re.search(r"29\.5 °C, Tue 24 Nov above", said)
    assert "Too few to say" in said


@freeze_time(MORNING)
def test_the_rota_keeps_dry_food_among_every_days_meals(
    client: FlaskClient, rusk_and_tansy: dict[str, int]
) -> None:
    one_food = client.post("/broodstock/rota", data={"dry": "pellets", "meals_a_day": "2"})
    assert one_food.status_code == 422
    assert "single food" in words(one_food)
    client.post(
        "/broodstock/rota",
        data={"dry": "pellets", "frozen": "mysis, clam", "fresh": "roe", "meals_a_day": "2"},
    )
    said = words(client.get(f"/broodstock/pairs/{rusk_and_tansy['pair']}"))
    fed = said[said.index("Fed by the rota") :]
    assert fed.count("pellets (dry)") == 3
    assert "(frozen)" in fed
    assert "(fresh)" in fed


@freeze_time(MORNING)
def test_a_fish_is_entered_with_one_of_two_fathers_and_shown_so(
    client: FlaskClient, rusk_and_tansy: dict[str, int], session: Session
) -> None:
    bay = make_fish(session, "Bay")
    entered = client.post(
        "/broodstock/fish/new",
        data={
            "name": "Ditto", "species_key": "amphiprion_ocellaris", "since": "2026-11-24",
            "origin": "captive bred", "mother": f"fish:{rusk_and_tansy['female']}",
            "father": f"fish:{rusk_and_tansy['male']}", "father_or": f"fish:{bay}",
        },
    )  # fmt: skip
    assert entered.status_code == 303
    said = words(client.get(entered.location))
    assert "female Rusk, male one of Tansy and Bay" in said
    itself = client.post(
        f"/broodstock/fish/{id_in(entered.location)}/change",
        data={
            "name": "Ditto", "since": "2026-11-24", "origin": "captive bred",
            "mother": f"fish:{id_in(entered.location)}",
        },
    )  # fmt: skip
    assert itself.status_code == 422
    assert "cannot be its own parent" in words(itself)


@freeze_time(MORNING)
def test_a_fish_called_otherwise_keeps_its_parents_and_the_days_it_can_have_hatched(
    client: FlaskClient, session: Session
) -> None:
    mothers = [make_fish(session, name) for name in ("Rusk", "Bay", "Wren")]
    born = (date(2025, 5, 1), date(2025, 5, 20))
    ditto = make_fish(
        session, "Ditto", born_earliest_on=born[0], born_latest_on=born[1],
        parents=Parents(Parent.one_of(*mothers), Parent.bought("the seller's pair 7")),
    )  # fmt: skip
    url = f"/broodstock/fish/{ditto}/change"
    hatched = "2025-05-01 to 2025-05-20"
    assert f'value="{hatched}"' in client.get(url).get_data(as_text=True)
    sent = client.post(
        url,
        data={
            "name": "Ditta", "since": LONG_AGO.date().isoformat(), "origin": "not known",
            "hatched": hatched, "mother": f"fish:{mothers[0]}", "mother_or": f"fish:{mothers[1]}",
            "father": "bought",
        },
    )  # fmt: skip
    assert sent.status_code == 303
    row = session.scalars(select(Fish).where(known(), Fish.fact_id == ditto)).one()
    assert row.parents == Parents(Parent.one_of(*mothers), Parent.bought("the seller's pair 7"))
    assert (row.name, row.born_earliest_on, row.born_latest_on) == ("Ditta", *born)


@freeze_time(MORNING)
@pytest.mark.parametrize(
    ("typed", "shown"), [("2.5 in", "63.5 mm total"), ("68", "68 mm total")]
)
def test_a_length_is_taken_as_typed(
    client: FlaskClient, rusk_and_tansy: dict[str, int], typed: str, shown: str
) -> None:
    female = rusk_and_tansy["female"]
    client.post(
        f"/broodstock/fish/{female}/length",
        data={"length": typed, "measure": "total", "when_how": "now"},
    )
    assert shown in words(client.get(f"/broodstock/fish/{female}"))


@freeze_time(MORNING)
def test_a_bar_keeps_a_fish_from_being_offered_until_it_is_lifted(
    client: FlaskClient, session: Session, rusk_and_tansy: dict[str, int]
) -> None:
    wren = make_fish(session, "Wren", tank_id=rusk_and_tansy["tank"])
    male = rusk_and_tansy["male"]
    bar_id = fish.bar_fish(
        session, posting=Posting(now=NOW), fish_id=wren, reason="in quarantine",
        when=When.exactly(NOW),
    )  # fmt: skip
    assert "Barred: in quarantine" in words(client.get(f"/broodstock/fish/{male}/step-in"))
    back = f"/broodstock/fish/{wren}"
    lifted = client.post(f"/broodstock/bars/{bar_id}/lift", data={"back": back, "key": "k4"})
    assert lifted.location == back
    assert "Barred:" not in words(client.get(f"/broodstock/fish/{male}/step-in"))


@freeze_time(MORNING)
def test_a_pair_forms_in_a_group_and_the_group_becomes_fewer(
    client: FlaskClient, session: Session
) -> None:
    tank_id = make_tank(session, "B7", role=TankRole.BROODSTOCK)
    made = client.post(
        "/broodstock/groups/new",
        data={
            "name": "six in B7", "number": "6", "tank_id": str(tank_id), "since": "2026-02-01",
            "species_key": "amphiprion_ocellaris",
        },
    )  # fmt: skip
    formed = client.post(
        f"{made.location}/pair",
        data={"female_name": "Sorrel", "male_name": "Bramble", "when_how": "now"},
    )
    assert "Sorrel and Bramble" in words(client.get(formed.location))
    too_many = client.post(
        f"{made.location}/left", data={"number": "5", "how": "died", "when_how": "now"}
    )
    assert too_many.status_code == 422
    assert "4 fish, not told apart" in words(client.get(made.location))


@freeze_time(MORNING)
def test_a_fish_with_clutches_is_offered_a_merge_and_stays(
    client: FlaskClient, session: Session, rusk_and_tansy: dict[str, int]
) -> None:
    lay_and_lose(session, rusk_and_tansy["pair"], 3, NOW - timedelta(days=8))
    again = make_fish(session, "Rusk")
    refused = client.post(f"/broodstock/fish/{rusk_and_tansy['female']}/delete", data={})
    assert refused.status_code == 422
    assert "has 3 clutches and cannot be deleted" in words(refused)
    assert f'name="answer-merge_with" value="{again}"' in refused.text


@freeze_time(MORNING)
def test_every_page_of_the_broodstock_opens(
    client: FlaskClient, rusk_and_tansy: dict[str, int]
) -> None:
    female, pair_id = rusk_and_tansy["female"], rusk_and_tansy["pair"]
    addresses = ["/broodstock/", "/broodstock/moving-in", "/broodstock/rota"]
    addresses += [f"/broodstock/{what}/new" for what in ("fish", "pairs", "groups")]
    addresses += [f"/broodstock/pairs/{pair_id}", f"/broodstock/pairs/{pair_id}/end"]
    addresses.append(f"/broodstock/fish/{female}")
    addresses += [
        f"/broodstock/fish/{female}/{what}"
        for what in ("change", "sex", "species", "length", "beside", "tank", "bar", "delete",
                     "left", "step-in")
    ]  # fmt: skip
    answered = {address: client.get(address).status_code for address in addresses}
    assert answered == dict.fromkeys(addresses, 200)
    assert client.get("/broodstock/fish/999999").status_code == 404


def statements(session: Session) -> int:
    """How many statements the list of the broodstock takes."""
    session.rollback()
    seen: list[str] = []

    def note(_c: object, _cur: object, statement: str, *_rest: object) -> None:
        seen.append(statement)

    event.listen(db.engine, "before_cursor_execute", note)
    try:
        broodstock_list(session, now=NOW)
    finally:
        event.remove(db.engine, "before_cursor_execute", note)
    return sum(1 for statement in seen if statement.startswith("SELECT"))


def test_the_list_takes_as_many_statements_for_one_pair_as_for_six(
    session: Session, rusk_and_tansy: dict[str, int]
) -> None:
    lay_and_lose(session, rusk_and_tansy["pair"], 1, NOW - timedelta(days=8))
    few = statements(session)
    for n in range(5):
        tank_id = make_tank(session, f"B{n + 2}", role=TankRole.BROODSTOCK)
        set_set_point(session, tank_id, "26.5", at=NOW)
        more = make_pair(session, f"F{n}", f"M{n}", tank_id=tank_id)
        lay_and_lose(session, more, 2, NOW - timedelta(days=8))
    assert statements(session) == few
    assert 0 < few <= 22


@freeze_time(MORNING)
def test_a_list_left_unchosen_is_asked_for_and_the_rest_stays_typed(client, session) -> None:
    bay = make_fish(session, "Bay", tank_id=make_tank(session, "A1"))
    for address, typed in (
        (f"/broodstock/fish/{bay}/tank", {"note": "by hand", "when_how": "now"}),
        ("/broodstock/groups/new", {"name": "by hand", "number": "6", "since": "2026-11-01"}),
        ("/broodstock/pairs/new", {"note": "by hand", "since": "2026-11-01", "link": "pair"}),
        ("/spawns/other", {"species_key": "amphiprion_ocellaris", "note": "by hand",
                           "when_how": "now", "parents_said": "unknown", "eggs_how": "written"}),
    ):  # fmt: skip
        refused = client.post(address, data=typed)
        assert refused.status_code == 422
        assert "Choose one from the list." in refused.text, address
        assert "by hand" in refused.text
