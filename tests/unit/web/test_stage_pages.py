"""What the room learned of stages and hatches, and what moved a batch's own, on its pages."""

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from freezegun import freeze_time

from hatchery_app import locations
from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch
from hatchery_app.services.larval_tank import larval_day
from hatchery_app.services.larval_tank.learned_stages import learned_stages
from hatchery_app.services.recording import Posting
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts
from tests.builders import make_batch, make_pair, make_tank, read_temperature, set_set_point

NOW = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
LONG_AGO = datetime(2026, 1, 3, 9, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _noon():
    with freeze_time(NOW):
        yield


def words(answer) -> str:
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text)).replace("&#39;", "'")


def hatched_days_ago(days: int) -> datetime:
    """In the dark of a night so many days ago, so that the batch is as many dph now."""
    return (NOW - timedelta(days=days)).replace(hour=21)


def a_batch(session, label: str, days: int, *, degrees: str = "27.5") -> int:
    tank = make_tank(session, label)
    batch = make_batch(session, tank, hatched_at=hatched_days_ago(days))
    read_temperature(session, tank, degrees, at=NOW - timedelta(hours=3))
    return batch


def mark(session, batch: int, stage: str, at: datetime) -> None:
    counts.record_mark(
        session, posting=Posting(now=at), holding_id=batch, mark=stage, when=When.exactly(at)
    )


def looked(session, batch: int, settled: int, swimming: int, at: datetime) -> None:
    counts.record_settlement(
        session, posting=Posting(now=at), holding_id=batch, settled=settled, swimming=swimming,
        when=When.exactly(at), counted=False,
    )  # fmt: skip


def test_the_rooms_batches_are_said_on_the_larval_tank_and_on_the_species(client, session):
    for turn in range(5):
        older = a_batch(session, f"L{turn}", 30 + turn)
        mark(session, older, "first settled", hatched_days_ago(30 + turn) + timedelta(days=11))
    batch = a_batch(session, "L9", 4)
    page = words(client.get(f"/larval-tanks/{batch}"))
    assert "this room: 5 batches" in page
    assert "the plan says 8" in page
    species = words(client.get("/species/amphiprion_ocellaris"))
    assert "Stages in this room" in species
    assert "first settled: " in species
    assert "this room: 5 batches" in species


def test_a_batch_does_not_teach_itself(session, gannet_stair):
    batch = a_batch(session, "L1", 12)
    mark(session, batch, "first settled", hatched_days_ago(12) + timedelta(days=11))
    assert learned_stages(
        session, "amphiprion_ocellaris", library=library(), room=gannet_stair
    )  # fmt: skip
    (plan,) = larval_day.larval_plans(session, gannet_stair, NOW)
    first = next(each for each in plan.stages.windows if each.name == "first settled")
    assert "this room" not in first.why


def test_the_first_settled_seen_late_moves_the_rest_and_says_why(client, session, gannet_stair):
    batch = a_batch(session, "L1", 12)
    before = larval_day.larval_plans(session, gannet_stair, NOW)[0].plan.settlement
    mark(session, batch, "first settled", hatched_days_ago(12) + timedelta(days=10, hours=16))
    session.expire_all()
    after = larval_day.larval_plans(session, gannet_stair, NOW)[0].plan.settlement
    assert after.last_dph == pytest.approx(before.last_dph + 3)
    page = words(client.get(f"/larval-tanks/{batch}"))
    assert "3 days later: first settled seen 11 dph, 8 was expected" in page


def test_a_look_that_found_none_settled_moves_the_settlement(client, session):
    batch = a_batch(session, "L1", 12)
    looked(session, batch, 0, 90, NOW - timedelta(hours=1))
    page = words(client.get(f"/larval-tanks/{batch}"))
    assert "none settled on 12 dph" in page


def test_late_settlers_stay_larvae_whatever_the_day(client, session):
    batch = a_batch(session, "L1", 20)
    looked(session, batch, 0, 90, NOW - timedelta(days=12))
    looked(session, batch, 50, 35, NOW - timedelta(days=8))
    looked(session, batch, 52, 32, NOW - timedelta(hours=1))
    page = words(client.get(f"/larval-tanks/{batch}"))
    assert "84 alive: 52 settled, 32 swimming" in page
    assert "some still swam on 20 dph" in page
    assert "late ones stay larvae" in page


def test_a_first_look_that_finds_them_settled_delays_nothing(client, session):
    batch = a_batch(session, "L1", 20)
    looked(session, batch, 52, 32, NOW - timedelta(hours=1))
    page = words(client.get(f"/larval-tanks/{batch}"))
    assert "there by 20 dph, not looked at before" in page
    assert "days later: first settled" not in page


def test_first_food_two_days_late_reads_the_feeding_later(client, session, gannet_stair):
    batch = a_batch(session, "L1", 6)
    mark(session, batch, "first food", hatched_days_ago(6) + timedelta(days=2, hours=12))
    page = words(client.get(f"/larval-tanks/{batch}"))
    assert "fed as day 4 of the plan" in page
    assert "The feeding is read 2 days later: first food seen 3 dph, planned for 1." in page


def test_above_29_5_degrees_it_is_said_that_hotter_is_not_faster(client, session):
    batch = a_batch(session, "L1", 4, degrees="30.2")
    page = words(client.get(f"/larval-tanks/{batch}"))
    assert "Above 29.5 °C hotter is not faster" in page
    assert "no sooner above" in page


def test_a_pair_shows_its_own_share_and_delay(client, session):
    home = make_tank(session, "A1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    set_set_point(session, home, "27", at=LONG_AGO)
    pair = make_pair(session, "Rusk", "Tansy", tank_id=home, at=LONG_AGO)
    assert "How right the nights were" not in words(client.get(f"/broodstock/pairs/{pair}"))
    for turn, hour in ((29, 21), (14, 20)):
        laid = (NOW - timedelta(days=turn)).replace(hour=17)
        clutch_id = spawn.record_laying(
            session, posting=Posting(now=laid), pair_id=pair, when=When.exactly(laid)
        )
        seen = (laid + timedelta(days=8)).replace(hour=hour, minute=40)
        clutch.record_hatch(
            session, posting=Posting(now=seen), clutch_id=clutch_id, when=When.exactly(seen),
            library=library(), all_hatched=True,
        )  # fmt: skip
    laid = (NOW - timedelta(days=22)).replace(hour=17)
    lit = spawn.record_laying(
        session, posting=Posting(now=laid), pair_id=pair, when=When.exactly(laid)
    )
    late = (laid + timedelta(days=9)).replace(hour=23)
    clutch.record_check(
        session, posting=Posting(now=late), clutch_id=lit, kind=CheckKind.LAMP_ON,
        when=When.exactly(late),
    )  # fmt: skip
    gone = laid + timedelta(days=12)
    clutch.end_clutch(
        session, posting=Posting(now=gone), clutch_id=lit, outcome=ClutchOutcome.DID_NOT_HATCH,
        when=When.exactly(gone),
    )  # fmt: skip
    page = words(client.get(f"/broodstock/pairs/{pair}"))
    assert "2 of 2 clutches that ended; 1 with a lamp on kept out" in page
    # Lights go off at 20:00: 40 and 100 minutes later, drawn to the usual hour: (60/1600+140/400)…
    assert "about 69 min (seen 40–100, 2 hatches" in page
    assert "8.2 days (2 hatches)" in page
    assert "moved by 2 hatches" in page


# --- Re-planning ---------------------------------------------------------------------------

OCELLARIS = "amphiprion_ocellaris.toml"


@pytest.fixture
def own_file(app) -> Iterator[Callable[..., None]]:
    """Writes the keeper's own file of ocellaris, ours with one line changed."""
    folder = Path(app.config["HATCHERY"].folder) / "species"
    folder.mkdir(exist_ok=True)

    def write(old: str, new: str) -> None:
        text = (locations.SPECIES / OCELLARIS).read_text(encoding="utf-8")
        assert old in text
        (folder / OCELLARIS).write_text(text.replace(old, new), encoding="utf-8")

    yield write
    for file in folder.glob("*.toml"):
        file.unlink()


ROTIFERS = "{ from = 5, to = 7, low = 10, high = 10 }"
FEWER = "{ from = 5, to = 7, low = 4, high = 6 }"


def test_a_batch_that_follows_todays_file_has_nothing_to_re_plan(client, session):
    batch = a_batch(session, "L1", 4)
    page = client.get(f"/larval-tanks/{batch}/replan")
    assert "there is nothing to re-plan" in words(page)
    assert "Follow today" not in page.text
    sent = client.post(f"/larval-tanks/{batch}/replan", data={"key": "a" * 9, "mark": "x"})
    assert sent.status_code == 422
    assert "nothing would change" in sent.text


def test_re_planning_shows_what_changes_before_it_does(client, session, own_file):
    batch = a_batch(session, "L1", 5)
    own_file(ROTIFERS, FEWER)
    shown = words(client.get(f"/larval-tanks/{batch}"))
    assert "the species file has changed since" in shown
    page = client.get(f"/larval-tanks/{batch}/replan")
    assert "rotifers 5–7 dph 10 per mL 4–6 per mL" in words(page)
    # Not yet: the batch is still fed by the plan it began with.
    assert "10 per mL wanted" in shown
    mark_shown = re.search(r'name="mark"[^>]*value="([^"]+)"', page.text)
    sent = client.post(
        f"/larval-tanks/{batch}/replan", data={"key": "b" * 9, "mark": mark_shown[1]}
    )
    assert sent.status_code == 303
    after = words(client.get(f"/larval-tanks/{batch}"))
    assert "5 per mL wanted (4–6)" in after
    assert "the species file has changed since" not in after


def test_a_plan_that_was_not_looked_at_is_not_followed(client, session, own_file):
    batch = a_batch(session, "L1", 4)
    own_file(ROTIFERS, FEWER)
    page = client.get(f"/larval-tanks/{batch}/replan")
    mark_shown = re.search(r'name="mark"[^>]*value="([^"]+)"', page.text)
    own_file(ROTIFERS, FEWER.replace("4", "2"))
    sent = client.post(
        f"/larval-tanks/{batch}/replan", data={"key": "c" * 9, "mark": mark_shown[1]}
    )
    assert sent.status_code == 422
    assert "Look at what changes first" in sent.text


def test_what_lies_behind_a_batch_is_no_change(client, session, own_file):
    batch = a_batch(session, "L1", 12)
    own_file(ROTIFERS, FEWER)
    page = words(client.get(f"/larval-tanks/{batch}/replan"))
    assert "in nothing that is still ahead of this batch" in page
    assert "Follow today" in page
