"""A small room in which one of every kind of fact stands, for tests that walk all addresses."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.cohort.cohort import Aside
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.today.chores import Rhythm
from hatchery_app.domain.today.schedule import Round
from hatchery_app.domain.when import When
from hatchery_app.models.entry import Entry, known
from hatchery_app.services.broodstock import fish, group
from hatchery_app.services.cohort import cohort
from hatchery_app.services.recording import Posting
from hatchery_app.services.sale import sale
from hatchery_app.services.spawn import spawn
from hatchery_app.services.today import chore
from tests.builders import (
    make_batch,
    make_cohort,
    make_culture,
    make_fish,
    make_hatch,
    make_lot,
    make_pair,
    make_photo,
    make_tank,
    make_treatment,
    read_temperature,
    set_set_point,
    start_shrimp,
)

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def at(moment: datetime = NOW) -> Posting:
    """A post received then."""
    return Posting(now=moment)


@dataclass(frozen=True)
class WholeRoom:
    """What an address may name, by the word it is named with; every fact's id beside it."""

    named: dict[str, int | str]
    every_fact: tuple[int, ...]


def furnish(session: Session, client: FlaskClient) -> WholeRoom:
    """Fill the room of these tests, as a keeper would have by 24 November 2026, 09:00."""
    home = make_tank(session, "B1", role=TankRole.BROODSTOCK, litres=90)
    nursery, second = make_tank(session, "L1"), make_tank(session, "L2")
    grow = make_tank(session, "G1", litres=200, role=TankRole.GROW_OUT)
    set_set_point(session, home, "27", at=NOW - timedelta(days=200))
    for day in range(12):
        read_temperature(session, home, "26.8", at=NOW - timedelta(days=day))
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=home)
    hatched = NOW - timedelta(days=12, hours=12)
    hatch_id = make_hatch(session, hatched_at=hatched, pair_id=pair_id, number="about 200")
    holding_id = make_batch(session, nursery, number="120", hatched_at=hatched, hatch_id=hatch_id)
    cohort_id = make_cohort(
        session, grow, number="59", hatched_at=NOW - timedelta(days=100),
        settled_at=NOW - timedelta(days=85), larval_tank_id=second,
    )  # fmt: skip
    laid = NOW - timedelta(days=6, hours=16)
    clutch_id = spawn.record_laying(
        session, posting=at(laid), pair_id=pair_id, when=When.exactly(laid)
    )
    sold = sale.record_sale(
        session, posting=at(), holding_id=cohort_id, number=10, when=When.exactly(NOW)
    )
    held = sale.place_hold(
        session, posting=at(), holding_id=cohort_id, number=5, when=When.exactly(NOW)
    )
    aside = cohort.set_aside(
        session, posting=at(), holding_id=cohort_id, why=Aside.KEPT, number=2,
        when=When.exactly(NOW),
    )  # fmt: skip
    barred = make_fish(session, "Merle", tank_id=home)
    bar = fish.bar_fish(
        session, posting=at(), fish_id=barred, reason="white spots", when=When.exactly(NOW)
    )
    lot = group.enter_group(
        session, posting=at(), name="Six young", number=6, tank_id=make_tank(session, "B2"),
        when=When.exactly(NOW), species_key="amphiprion_ocellaris",
    )  # fmt: skip
    swept = chore.add_chore(
        session, posting=at(), what="Sweep the floor", rhythm=Rhythm(every_days=1),
        in_round=Round.MORNING,
    )  # fmt: skip
    cysts = make_lot(session, at=NOW - timedelta(days=30))
    started = start_shrimp(session, cysts, at=NOW - timedelta(days=1))
    (tin,) = session.scalars(select(Entry.fact_id).where(Entry.kind == "shelf_item", known()))
    vessel = make_culture(session, "R1", at=NOW - timedelta(days=4))
    brood, left = _brood_and_loss(session, client, home)
    photo = make_photo(session, Path(client.application.instance_path), clutch_id, at=NOW)
    named: dict[str, int | str] = {
        "bar_id": bar, "fish_id": barred, "group_id": lot, "left_id": left, "pair_id": pair_id,
        "clutch_id": clutch_id, "brood_id": brood, "cohort_id": cohort_id,
        "set_aside_id": aside, "holding_id": holding_id, "fact_id": clutch_id, "sale_id": sold,
        "held_id": held, "tank_id": home, "home_id": home, "chore_id": swept,
        "key": "amphiprion_ocellaris", "treatment_id": make_treatment(session, home, at=NOW),
        "lot_id": cysts, "start_id": started, "shelf_id": tin or 0, "vessel_id": vessel,
        "photo_id": photo, "about_id": clutch_id,
        "token": "no-such-token", "filename": "css/base.css",
    }  # fmt: skip
    facts = session.scalars(select(Entry.fact_id).where(known()).order_by(Entry.seq)).all()
    return WholeRoom(named, tuple(fact for fact in facts if fact is not None))


def _brood_and_loss(session: Session, client: FlaskClient, home: int) -> tuple[int, int]:
    """A father who has held a brood for 20 days, and a fish that died today."""
    with freeze_time(NOW - timedelta(days=20)):
        quill = make_fish(session, "Quill", species_key="pterapogon_kauderni", tank_id=home)
        brood = client.post(
            "/clutches/carried/new",
            data={"carrier_id": str(quill), "tank_id": "0", "start": "taken"},
        ).location.rsplit("/", 1)[1]
    with freeze_time(NOW):
        gone = make_fish(session, "Ditto", tank_id=home)
        client.post(f"/broodstock/fish/{gone}/left", data={"door": "died"})
    left = session.scalars(select(Entry.fact_id).where(Entry.kind == "fish_left", known())).first()
    assert left is not None
    return int(brood), left
