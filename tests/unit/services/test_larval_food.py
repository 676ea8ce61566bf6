"""Food history from the records: looks, answered lines, marks, and the list's own figures."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.live_food.shelf import StockKind, parse_stock
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.today.schedule import Outcome
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank import larval_tank_page
from hatchery_app.services.live_food import live_food_ahead, live_food_shelf, live_food_shrimp_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts, stock_book
from hatchery_app.services.today import task_answer, today_facts
from hatchery_app.services.today.today_food import food_today
from tests.builders import make_batch, make_lot, make_tank
from tests.unit.services.test_today_statements import statements

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
HATCHED = NOW - timedelta(days=4, hours=12)  # the evening of the 19th: 5 dph now


def look(session: Session, tank_id: int, days_ago: float, word: Look | None, **more) -> None:
    at = NOW - timedelta(days=days_ago)
    counts.record_prey(
        session, posting=Posting(now=at), tank_id=tank_id, food="rotifers", look=word,
        when=When.exactly(at), **more,
    )  # fmt: skip


def history(session: Session, holding_id: int):
    return larval_tank_page.larval_tank_page(session, holding_id=holding_id, now=NOW).food


def test_a_batch_has_its_food_its_gap_and_its_losses_by_day(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank_id, other = make_tank(session, "L1", litres=40), make_tank(session, "L2", litres=40)
    holding_id = make_batch(session, tank_id, number="400", hatched_at=HATCHED)
    look(session, other, 3, Look.NONE)  # not its tank
    look(session, tank_id, 3, Look.NONE, topped_up_to_per_ml=10)  # 2 dph
    look(session, tank_id, 1, None, counts=[60, 66], sample_ml=10, topped_up_to_per_ml=12.5)
    task_answer.answer_task(
        session, posting=Posting(now=NOW), task=f"microdiet:{holding_id}:2026-11-24.morning",
        outcome=Outcome.DIFFERENTLY, really="three dustings",
    )  # fmt: skip
    stock_book.record_leaving(
        session, posting=Posting(now=NOW - timedelta(days=2)), holding_id=holding_id,
        door=Door.DIED, number=HowMany.counted(60), when=When.exactly(NOW - timedelta(days=2)),
    )  # fmt: skip
    found = history(session, holding_id)
    assert [(gap.from_dph, gap.words) for gap in found.gaps] == [
        (2, "rotifers: none left at a look")
    ]
    assert [(one.low, one.high) for one in found.losses] == [(60, 60)]
    assert [span.dph for span in found.unwritten] == ["1 dph", "3 dph"]
    day = {one.dph: one for one in found.days}
    assert day[4].seen[0].topped_up_to_per_ml == 12.5
    assert [one.given for one in day[5].said] == ["microdiet: three dustings"]


def test_a_feeding_left_out_with_a_reason_is_a_gap_of_its_own_day_and_of_its_batch_alone(
    session: Session, gannet_stair: RoomNow
) -> None:
    ids = [
        make_batch(session, make_tank(session, label, litres=40), hatched_at=HATCHED)
        for label in ("L1", "L2")
    ]
    for holding_id in ids:
        task_answer.answer_task(
            session, posting=Posting(now=NOW), outcome=Outcome.SKIPPED, reason="vessel lost",
            task=f"top_up_rotifers:{holding_id}:2026-11-22.morning",  # written two days late
        )  # fmt: skip
    task_answer.answer_task(
        session, posting=Posting(now=NOW), outcome=Outcome.DONE,
        task=f"top_up_rotifers:{ids[1]}:2026-11-22.before-lights-off",
    )  # fmt: skip
    task_answer.let_go_of(
        session, posting=Posting(now=NOW), tasks=[f"top_up_rotifers:{ids[1]}:2026-11-23.morning"]
    )
    listed = larval_tank_page.larval_tank_list(session, now=NOW)
    gaps = {line.holding_id: [gap.dph for gap in line.gaps] for line in listed.open}
    assert gaps == {ids[0]: ["3 dph"], ids[1]: []}
    assert [gap.dph for gap in history(session, ids[0]).gaps] == ["3 dph"]
    assert history(session, ids[1]).gaps == ()


@freeze_time(NOW)
def test_the_page_and_the_list_say_the_gap_and_what_is_not_written(
    client, session: Session, gannet_stair: RoomNow
) -> None:
    tank_id = make_tank(session, "L1", litres=40)
    holding_id = make_batch(session, tank_id, number="400", hatched_at=HATCHED)
    look(session, tank_id, 3, Look.NONE)
    page = client.get(f"/larval-tanks/{holding_id}").text
    assert "Food gap, 2 dph" in page
    assert "Not written: 1 dph, 3–4 dph. That is not “not fed”." in page
    assert "SRAC 701" in page
    assert "food gap 2 dph" in client.get("/larval-tanks/").text


def test_the_list_asks_as_often_for_many_batches_as_for_one(
    session: Session, gannet_stair: RoomNow
) -> None:
    def asked() -> int:
        session.expire_all()
        with statements() as sent:
            larval_tank_page.larval_tank_list(session, now=NOW)
        return len(sent)

    def fill(label: str) -> None:
        holding_id = make_batch(session, make_tank(session, label), hatched_at=HATCHED)
        task_answer.answer_task(
            session, posting=Posting(now=NOW), outcome=Outcome.SKIPPED, reason="vessel lost",
            task=f"top_up_rotifers:{holding_id}:2026-11-22.morning",
        )  # fmt: skip

    fill("L1")
    one = asked()
    for label in ("L2", "L3", "L4"):
        fill(label)
    assert asked() == one


@freeze_time(NOW)
def test_larvae_that_were_measured_are_fed_by_their_length_on_their_page_and_ahead(
    client, session: Session, gannet_stair: RoomNow
) -> None:
    tank_id = make_tank(session, "L1", litres=40)
    holding_id = make_batch(session, tank_id, number="400", hatched_at=HATCHED)
    page = client.get(f"/larval-tanks/{holding_id}").text
    assert "Brine shrimp, just hatched" in page
    assert "go by age here" in page
    refused = client.post(
        f"/larval-tanks/{holding_id}/lengths", data={"lengths": "5.1 long", "when_how": "now"}
    )
    assert refused.status_code == 422
    assert "5.1 long" in refused.text
    sent = client.post(
        f"/larval-tanks/{holding_id}/lengths", data={"lengths": "5.1 5.3 5.2", "when_how": "now"}
    )
    assert sent.status_code == 303
    page = client.get(f"/larval-tanks/{holding_id}").text
    assert "Brine shrimp, just hatched" not in page
    assert "brine shrimp, instar I waits for 6 mm, about 8 dph" in page
    facts = today_facts.load_day(session, library(), room=gannet_stair, now=NOW)
    ahead = live_food_ahead.food_ahead(session, facts, food_today(facts))
    begins = [day.likely > 0 for day in ahead.demand["brine shrimp, instar I"]]
    assert begins[:5] == [False, False, False, True, True]


def test_the_plan_of_the_days_ahead_says_by_when_cysts_dry_food_and_salt_are_to_be_ordered(
    session: Session, gannet_stair: RoomNow
) -> None:
    long_ago = Posting(now=NOW - timedelta(days=30))
    came = {"posting": long_ago, "when": When.exactly(NOW - timedelta(days=30))}
    lot_id = make_lot(session, at=NOW - timedelta(days=30))
    salt, fine = (
        live_food_shelf.put_on_shelf(
            session, kind=kind, name=name, unit=unit, came=parse_stock(amount), delivery_days=4,
            particle_um=grain, **came,
        )
        for kind, name, unit, amount, grain in (
            (StockKind.SALT, "Salt", "kg", "10", None),
            (StockKind.DRY_FOOD, "Fine", "g", "5", (150.0, 250.0)),
        )
    )  # fmt: skip
    make_batch(session, make_tank(session, "L1", litres=40), number="300", hatched_at=HATCHED)
    facts = today_facts.load_day(session, library(), room=gannet_stair, now=NOW)
    listed = live_food_shrimp_page.shrimp_list(session, gannet_stair, NOW, facts)
    by_item = {one.item.id: one for one in listed.shelf}
    tin = by_item[next(lot.shelf_id for lot in listed.shrimp.lots if lot.id == lot_id)]
    starts = [
        day.start.grams
        for one in live_food_ahead.food_ahead(session, facts, food_today(facts)).shrimp
        for day in one.days if day.start is not None and not day.is_late
    ]  # fmt: skip
    assert tin.outlook.by_plan == pytest.approx(sum(starts) / 21)
    for item_id, most in ((salt, 2.0), (fine, 5.0)):  # kg and g a day
        one = by_item[item_id]
        assert 0 < one.outlook.by_plan < most
        assert one.planned_by
        assert one.outlook.order_on is not None
    assert by_item[fine].outlook.lasts_until_on > NOW.date()
