"""Brine shrimp and the shelf as they are recorded and answered."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.live_food.shelf import Change, StockKind, parse_stock
from hatchery_app.domain.live_food.shrimp_hatch import EndedAs, HatchState, Ripe
from hatchery_app.domain.when import When
from hatchery_app.services.live_food import live_food, live_food_shelf, live_food_shrimp
from hatchery_app.services.live_food.live_food_shelf_facts import shelf_items
from hatchery_app.services.live_food.live_food_shrimp_facts import shrimp_now
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.records.room import RoomNow
from tests.builders import make_culture, make_hatched, make_lot, start_shrimp
from tests.unit.services.test_today_statements import statements

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def ago(hours: float) -> datetime:
    return NOW - timedelta(hours=hours)


def at(hours_ago: float, **more: str) -> dict[str, object]:
    moment = ago(hours_ago)
    return {"posting": Posting(now=NOW, answers=more), "when": When.exactly(moment)}


def test_a_lot_learns_from_its_own_hatches(session: Session, gannet_stair: RoomNow) -> None:
    lot_id = make_lot(session, at=ago(24 * 30))
    for days in (4, 3, 2):
        make_hatched(session, lot_id, at=ago(24 * days), hours=31, animals=150_000)
    (kept,) = shrimp_now(session, NOW).lots
    assert kept.hours.hatches == 3
    assert kept.hours.at(28).best > 27  # by the book 23
    assert kept.gives.hatches == 3


def test_a_hatch_goes_from_wet_to_fed(session: Session, gannet_stair: RoomNow) -> None:
    lot_id = make_lot(session, at=ago(24 * 30))
    start_id = start_shrimp(session, lot_id, at=ago(60))
    live_food_shrimp.harvest_shrimp(
        session, start_id=start_id, counts=(118, 122), sample_ml=0.25, water_l=0.8, umbrellas=8,
        embryos=24, **at(36),
    )  # fmt: skip
    (one,) = shrimp_now(session, NOW).standing
    assert one.in_hand == pytest.approx(120 * 4 * 800)
    assert one.lot.percent == (pytest.approx(100 * 240 / 272), 272)
    live_food_shrimp.enrich_shrimp(session, start_id=start_id, hours=24, litres=1.5, **at(34))
    (one,) = shrimp_now(session, NOW).standing
    assert (one.food(), one.state(NOW)) == (Food.SHRIMP_ENRICHED, HatchState.ENRICHED)
    live_food_shrimp.feed_shrimp(
        session, start_id=start_id, animals=100_000, into="L3", last_of_it=True, **at(1)
    )
    assert shrimp_now(session, NOW).standing == ()
    with pytest.raises(RuleBroken, match="over"):
        live_food_shrimp.feed_shrimp(session, start_id=start_id, **at(0))


def test_what_cannot_be_is_refused_and_what_is_odd_is_asked(
    session: Session, gannet_stair: RoomNow
) -> None:
    lot_id = make_lot(session, at=ago(24 * 30))
    facts = {"lot_id": lot_id, "grams": 9.0, "litres": 1.0, "temperature_c": 28.0}
    with pytest.raises(Asked, match="at most 5 g/L"):
        live_food_shrimp.start_cysts(session, **facts, **at(1))
    start_id = live_food_shrimp.start_cysts(session, **facts, **at(1, cysts_so="so"))
    with pytest.raises(RuleBroken, match="Harvest it first"):
        live_food_shrimp.enrich_shrimp(session, start_id=start_id, hours=24, **at(0))
    with pytest.raises(RuleBroken, match="before the cysts"):
        live_food_shrimp.harvest_shrimp(session, start_id=start_id, animals=9e4, **at(5))
    with pytest.raises(RuleBroken, match="how many litres"):
        live_food_shrimp.harvest_shrimp(session, start_id=start_id, counts=(100,), **at(0))
    with pytest.raises(Asked, match="1 h after the cysts were wetted; at 28 °C they take about 24"):
        live_food_shrimp.harvest_shrimp(session, start_id=start_id, **at(0))
    early = live_food_shrimp.harvest_shrimp(session, start_id=start_id, **at(0, so_soon="so"))
    assert early > start_id
    with pytest.raises(RuleBroken, match="holds about 330,000"):
        live_food_shrimp.enter_lot(
            session, name="x", came=parse_stock("100"), nauplii_per_g=2.3e6, **at(1)
        )


def test_hatches_feedings_and_enrichment_draw_on_the_shelf_and_a_weighing_sets_it_right(
    session: Session, gannet_stair: RoomNow
) -> None:
    lot_id = make_lot(session, at=ago(24 * 30), came="450")
    for days in (3, 2, 1):
        start_shrimp(session, lot_id, at=ago(24 * days), grams=1.5)
    paste_id = live_food_shelf.put_on_shelf(
        session, kind=StockKind.PASTE, name="green paste", unit="L", came=parse_stock("1"),
        **at(100),
    )  # fmt: skip
    vessel = make_culture(session, "R1", at=ago(24 * 5))
    fed = live_food.feed_culture(
        session, tank_id=vessel, what="", amount=3.5, shelf_id=paste_id, **at(20)
    )
    paste, cysts = shelf_items(session, NOW)
    assert (paste.name, paste.left.best) == ("green paste", pytest.approx(0.9965))
    assert cysts.left.best == pytest.approx(445.5)
    correction.correct_entry(session, posting=Posting(now=NOW), fact_id=fed, typed={"amount": "35"})
    assert shelf_items(session, NOW)[0].left.best == pytest.approx(0.965)
    correction.withdraw_entry(session, posting=Posting(now=NOW), fact_id=fed)
    assert shelf_items(session, NOW)[0].left.best == pytest.approx(1.0)
    live_food_shelf.change_stock(
        session, shelf_id=cysts.id, change=Change.COUNTED, stock=parse_stock("400"), **at(0)
    )
    assert shelf_items(session, NOW)[1].left.best == 400


def test_the_end_of_a_hatch_is_taken_back_and_a_lot_goes_with_its_tin(
    session: Session, gannet_stair: RoomNow
) -> None:
    lot_id = make_lot(session, at=ago(24 * 30))
    start_id = start_shrimp(session, lot_id, at=ago(50))
    over = live_food_shrimp.end_hatch(
        session, start_id=start_id, ended_as=EndedAs.FAILED, reason="cold", **at(2)
    )
    assert shrimp_now(session, NOW).standing == ()
    correction.withdraw_entry(session, posting=Posting(now=NOW), fact_id=over)
    assert len(shrimp_now(session, NOW).standing) == 1
    answers = {"together": "withdraw"}
    correction.withdraw_entry(session, posting=Posting(now=NOW, answers=answers), fact_id=lot_id)
    assert shrimp_now(session, NOW).lots == ()
    assert shelf_items(session, NOW) == ()


def test_the_statements_do_not_grow_with_the_hatches(
    session: Session, gannet_stair: RoomNow
) -> None:
    lot_id = make_lot(session, at=ago(24 * 30))
    make_hatched(session, lot_id, at=ago(48), hours=24, animals=2e5)
    with statements() as few:
        shrimp_now(session, NOW)
        shelf_items(session, NOW)
    other = make_lot(session, at=ago(24 * 20), name="another tin")
    for hours in range(50, 90, 10):
        make_hatched(session, other, at=ago(hours), hours=24, animals=2e5, ripe=Ripe.LATE)
    with statements() as many:
        shrimp_now(session, NOW)
        shelf_items(session, NOW)
    assert len(many) == len(few)
