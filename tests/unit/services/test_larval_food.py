"""Food history from the records: looks, answered lines, marks, and the list's own figures."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.live_food import Look
from hatchery_app.domain.schedule import Outcome
from hatchery_app.domain.stock_book import Door
from hatchery_app.domain.when import When
from hatchery_app.services import (
    counts,
    larval_tank_page,
    stock_book,
    task_answer,
)
from hatchery_app.services.recording import Posting
from hatchery_app.services.room import RoomNow
from tests.builders import make_batch, make_tank
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
