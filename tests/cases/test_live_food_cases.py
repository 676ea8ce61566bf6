"""Field cases of live food: what was ready, what crashed, and how early it was said."""

from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import parse
from hatchery_app.domain.live_food.live_food import PreyDensity, top_up
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank.learned_stages import learned_stages
from hatchery_app.services.live_food import live_food_page, live_food_shrimp
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts, species_survival
from hatchery_app.services.stock_book.rearing_groups import By
from hatchery_app.services.today import today, today_facts
from tests.builders import (
    count_culture,
    make_batch,
    make_culture,
    make_hatched,
    make_lot,
    make_pair,
    make_tank,
)

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
NIGHT_BEFORE = NOW - timedelta(hours=14)


def the_day(session: Session, room: RoomNow, at: datetime = NOW) -> today.TodayPage:
    facts = today_facts.load_day(session, library(), room=room, now=at)
    return today.today_page(session, facts)


@pytest.fixture
def two_tanks(session: Session, gannet_stair: RoomNow) -> tuple[int, int]:
    """Two larval tanks of 19 litres on day 3, each with its own brood."""
    hatched = NOW - timedelta(days=2, hours=12)
    tanks = tuple(make_tank(session, label, litres=19) for label in ("L1", "L2"))
    for tank_id in tanks:
        make_batch(session, tank_id, hatched_at=hatched)
    return tanks


@pytest.fixture
def crashed(session: Session, two_tanks: tuple[int, int]) -> int:
    """The only vessel, 8 litres, fallen from 180 to 20 per mL overnight."""
    vessel = make_culture(session, "R1", at=NOW - timedelta(days=6), litres=8)
    count_culture(session, vessel, 182, 179, 179, at=NIGHT_BEFORE)
    count_culture(session, vessel, 18, 22, 20, at=NOW)
    return vessel


def test_c36_the_need_is_of_the_water_and_not_of_the_larvae() -> None:
    nothing_left = PreyDensity(0, 0, 0, "counted")
    half_left = PreyDensity(7.5, 6, 9, "counted")
    assert 2 * top_up(15, nothing_left, 19).animals == pytest.approx(570_000)
    assert 2 * top_up(15, half_left, 19).animals == pytest.approx(285_000)


def test_c36_a_crashed_vessel_is_short_by_all_of_it(
    session: Session, gannet_stair: RoomNow, crashed: int
) -> None:
    page = the_day(session, gannet_stair)
    (need,) = [need for need in page.food.needs if need.food == "rotifers"]
    one = live_food_page.vessel_named(page.facts.cultures, crashed)
    assert one.standing.best == pytest.approx(160_000)
    assert need.supply.ready.best == 0
    assert need.supply.short == pytest.approx(need.best + need.held)
    assert need.supply.said().startswith("short by all of it")
    assert "R1 fell from 180 to 20 per mL" in need.supply.said()
    kinds = {line.task.kind for sheet in page.sheets for stop in sheet.stops for line in stop.lines}
    assert "sieve_culture" not in kinds


def test_c36_a_neighbour_vessel_takes_over_what_it_bears(
    session: Session, gannet_stair: RoomNow, crashed: int
) -> None:
    spare = make_culture(session, "R2", at=NOW - timedelta(days=4), litres=8)
    count_culture(session, spare, 300, at=NOW)
    (need,) = [n for n in the_day(session, gannet_stair).food.needs if n.food == "rotifers"]
    assert [sieve.label for sieve in need.supply.sieves] == ["R2"]
    assert need.supply.left_out[0][0] == "R1"


@freeze_time("2026-11-24 09:00:00")
def test_c36_today_says_it_in_one_line_and_the_vessels_page_says_why(
    client, session: Session, crashed: int
) -> None:
    assert "short by all of it" in client.get("/").text
    page = client.get(f"/live-food/{crashed}").text
    assert "Fell from 180 to 20 per mL in 14 hours" in page
    assert "Nothing of it goes to the larvae" in page
    assert "beyond the harvest and beyond both counting errors" in page
    assert "No culture of rotifers stands for harvest." in client.get("/live-food/").text


@freeze_time("2026-11-24 09:00:00")
def test_c36_the_gap_is_marked_on_both_batches_where_their_losses_are_read(
    client, session: Session, gannet_stair: RoomNow, crashed: int
) -> None:
    short = client.get("/live-food/").text
    assert "Mark the food gap" in short
    assert client.post("/live-food/gap", data={"food": "rotifers"}).status_code == 303
    for plan in today_facts.load_day(session, library(), room=gannet_stair, now=NOW).larvae:
        assert "food gap" in client.get(f"/larval-tanks/{plan.holding.id}").text


def test_c35_the_day_eggs_are_seen_says_what_the_cultures_stand_at(
    session: Session, gannet_stair: RoomNow
) -> None:
    make_tank(session, "L1")
    home = make_pair(session, "Rusk", "Tansy", species_key="amphiprion_frenatus",
                     tank_id=make_tank(session, "A1"))  # fmt: skip
    spawn.record_laying(
        session, posting=Posting(now=NOW), pair_id=home, when=When.exactly(NOW)
    )

    def standing() -> str:
        (first,) = the_day(session, gannet_stair).food.first
        return first.standing

    assert standing() == "culture density unknown"
    vessel = make_culture(session, "R1", at=NOW - timedelta(days=3))
    assert standing() == "R1 not counted since it was started"
    count_culture(session, vessel, 120, at=NOW)
    assert standing().startswith("R1 can give 0.71 million today")
    counts.set_concentrate(
        session, posting=Posting(now=NOW), food="rotifers", per_ml=1500, when=When.exactly(NOW)
    )
    assert standing().startswith("R1 can give")


def reared(session: Session, label: str, hatched: datetime, shrimp_on: int) -> int:
    """A batch that was fed from its first morning and given brine shrimp so many days old."""
    batch = make_batch(session, make_tank(session, label), number="100", hatched_at=hatched)
    for mark, days in (("first food", 1), ("first brine shrimp", shrimp_on)):
        at = hatched + timedelta(days=days - 1, hours=14)
        counts.record_mark(
            session, posting=Posting(now=at), holding_id=batch, mark=mark, when=When.exactly(at)
        )
    return batch


@freeze_time("2026-11-24 09:00:00")
def test_c37_shrimp_begun_before_the_rooms_own_day_is_a_quiet_note(
    client, session: Session, gannet_stair: RoomNow
) -> None:
    hatched = NOW - timedelta(days=12, hours=12)
    usual = [reared(session, f"L{n}", hatched, 6 + n % 2) for n in range(3)]
    early, late = reared(session, "L8", hatched, 1), reared(session, "L9", hatched, 7)
    page = client.get(f"/larval-tanks/{early}").text
    assert "begun 5.5 days before this room's usual 6.5 dph (4 batches)" in unescape(page)
    assert "shrimp alone kept 24 %" in unescape(page)
    for batch in (*usual, late):
        assert "before this room's usual" not in unescape(client.get(f"/larval-tanks/{batch}").text)


def test_c37_own_batches_are_compared_by_what_they_were_fed_first(
    session: Session, gannet_stair: RoomNow
) -> None:
    hatched = NOW - timedelta(days=40, hours=12)
    batches = [reared(session, f"L{n}", hatched, 1 if n < 2 else 6) for n in range(5)]
    for n, batch in enumerate(batches):
        at, alive = NOW - timedelta(days=3), "24" if n < 2 else "68"
        counts.record_count(
            session, posting=Posting(now=at), holding_id=batch, number=parse(alive),
            when=When.exactly(at),
        )  # fmt: skip
    asking = species_survival.Asking(by=By.FIRST_FOOD)
    found = species_survival.species_survival(
        session, species_key="amphiprion_ocellaris", asking=asking
    ).groups
    assert found is not None
    sizes = {group.group: len(group.tanks) for group in found.groups}
    assert sizes == {"brine shrimp first": 2, "smaller food first": 3}


def test_c37_the_first_feeding_of_shrimp_marks_the_day_of_the_batch(
    session: Session, gannet_stair: RoomNow
) -> None:
    batch = make_batch(
        session, make_tank(session, "L1"), hatched_at=NOW - timedelta(days=5, hours=12)
    )
    start = make_hatched(
        session, make_lot(session, at=NOW - timedelta(days=30)), at=NOW - timedelta(hours=20),
        hours=24, animals=2e5,
    )  # fmt: skip
    for hours in (18, 6):
        live_food_shrimp.feed_shrimp(
            session, posting=Posting(now=NOW), start_id=start, animals=5e4, into="L1",
            holding_id=batch, when=When.exactly(NOW - timedelta(hours=hours)),
        )  # fmt: skip
    (learned,) = learned_stages(
        session, "amphiprion_ocellaris", library=library(), room=gannet_stair
    )
    assert (learned.stage, learned.batches, learned.high_dph) == ("first brine shrimp", 1, 5)
