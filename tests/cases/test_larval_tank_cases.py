"""Field cases of larvae: what keepers really write down, and what must come of it."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import Basis, HowMany, parse
from hatchery_app.domain.stock_book.stock_book import Door, Stage
from hatchery_app.domain.stock_book.survival import NotComputable, Survival, say_percent
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank import larval_tank, larval_tank_page
from hatchery_app.services.larval_tank.larval_tank import Part
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import counts, stock_book
from hatchery_app.services.stock_book.holding_facts import load_stock
from tests.builders import make_batch, make_hatch, make_pair, make_tank

Posted = Callable[..., Posting]


def page(session: Session, batch: int, at: datetime) -> larval_tank_page.LarvalTankPage:
    return larval_tank_page.larval_tank_page(session, holding_id=batch, now=at)


def test_c28_one_clutch_over_three_tanks_and_one_does_badly(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    night = datetime(2026, 9, 4, 20, 15, tzinfo=UTC)
    morning = datetime(2026, 9, 5, 8, 30, tzinfo=UTC)
    hatch = make_hatch(session, hatched_at=night)
    tanks = [make_tank(session, label) for label in ("A", "B", "C")]
    numbers = (40, 60, 60)
    notes = ("poured in, the neck is narrow", "under water", "under water")
    first = larval_tank.put_larvae_in_tank(
        session, posting=posted(night), hatch_id=hatch, when=When.exactly(night),
        parts=[Part(tank, HowMany.counted(number), note)
               for tank, number, note in zip(tanks, numbers, notes, strict=True)],
    )  # fmt: skip
    stock_book.record_leaving(
        session, posting=posted(morning), holding_id=first, door=Door.DIED,
        number=HowMany.counted(17), when=When.exactly(morning),
    )  # fmt: skip
    shown = page(session, first, morning)
    assert isinstance(shown.survival, Survival)
    assert say_percent(shown.survival.best or 0) == "58"
    assert (shown.survival.alive.best, shown.survival.start.best) == (23, 40)
    (clutch,) = shown.clutches
    assert isinstance(clutch.survival, Survival)
    assert (clutch.survival.alive.best, clutch.survival.start.best) == (143, 160)
    assert say_percent(clutch.survival.best or 0) == "89"
    assert [(one.label, one.balance.best) for one in clutch.batches] == [
        ("A", 23), ("B", 60), ("C", 60),
    ]  # fmt: skip
    assert any("narrow" in entry.note for entry in shown.entries)
    others = [page(session, one.holding_id, morning) for one in clutch.batches[1:]]
    assert not any("narrow" in entry.note for other in others for entry in other.entries)


@pytest.mark.parametrize(
    ("start", "left", "basis", "said"),
    [
        ("several thousand", "3", Basis.UNKNOWN, "Not computable"),
        (">300", "at least 340", Basis.AT_LEAST, "Not computable"),
        ("close to 100", "61", Basis.ABOUT, "about 61 % alive (61 counted of about 100)"),
        ("at least 1000", "3", Basis.AT_LEAST, "under 0.3 %"),
    ],
)
def test_c29_a_start_nobody_counted_gives_a_bound_or_none(
    start: str, left: str, basis: Basis, said: str,
    session: Session, gannet_stair: RoomNow, posted: Posted,
) -> None:  # fmt: skip
    hatched, later = (datetime(2026, 9, day, 21, tzinfo=UTC) for day in (4, 24))
    batch = make_batch(session, make_tank(session, "L1"), number=start, hatched_at=hatched)
    counts.record_count(
        session, posting=posted(later), holding_id=batch, number=parse(left),
        when=When.exactly(later),
    )  # fmt: skip
    shown = page(session, batch, later)
    assert shown.balance.start.basis is basis
    assert shown.survival.said().startswith(said)


def test_c29_more_than_300_are_no_limit_to_a_later_count(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    hatched, later = (datetime(2026, 9, day, 21, tzinfo=UTC) for day in (4, 6))
    batch = make_batch(session, make_tank(session, "L1"), number=">300", hatched_at=hatched)
    counts.record_count(
        session, posting=posted(later), holding_id=batch, number=HowMany.counted(340),
        when=When.exactly(later),
    )  # fmt: skip
    assert page(session, batch, later).balance.now == HowMany.counted(340)


def seven_young_one_dead(session: Session, posted: Posted) -> tuple[int, datetime]:
    hatched = datetime(2026, 9, 4, 21, tzinfo=UTC)
    batch = make_batch(session, make_tank(session, "L1"), number="7", hatched_at=hatched)
    died = hatched + timedelta(days=1)
    stock_book.record_leaving(
        session, posting=posted(died), holding_id=batch, door=Door.DIED,
        number=HowMany.counted(1), when=When.exactly(died),
    )  # fmt: skip
    return batch, died + timedelta(days=1)


def test_c30_a_count_above_the_book_asks_and_raises_the_start(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch, next_day = seven_young_one_dead(session, posted)

    def count(**answers: str) -> None:
        counts.record_count(
            session, posting=posted(next_day, answers=answers), holding_id=batch,
            number=HowMany.counted(7), when=When.exactly(next_day),
        )  # fmt: skip

    with pytest.raises(Asked, match="Missed earlier, or a new arrival"):
        count()
    count(count_above="missed_earlier")
    shown = page(session, batch, next_day)
    assert isinstance(shown.survival, Survival)
    assert (shown.survival.alive.best, shown.survival.start.best) == (7, 8)
    assert say_percent(shown.survival.best or 0) == "88"


def test_c30_a_new_arrival_has_a_line_of_its_own(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    batch, next_day = seven_young_one_dead(session, posted)
    counts.record_count(
        session, posting=posted(next_day, answers={"count_above": "new_arrival"}),
        holding_id=batch, number=HowMany.counted(7), when=When.exactly(next_day),
    )  # fmt: skip
    stock = load_stock(session, gannet_stair, holding_ids=[batch])
    doors = [one.door for one in stock.book.movements]
    assert doors.count(Door.FOUND) == 1
    assert (stock.balance(batch).best, stock.balance(batch).start.best) == (7, 8)


def test_c32_zero_survivors_twice_and_a_third_try(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    pair = make_pair(session, "Merle", "Quill", tank_id=make_tank(session, "B1"))
    first_hatch = datetime(2026, 6, 10, 21, 30, tzinfo=UTC)
    first = make_batch(
        session, make_tank(session, "L1"), number="?", hatched_at=first_hatch, pair_id=pair
    )
    noted = datetime(2026, 6, 18, 12, tzinfo=UTC)
    band = When.between(
        datetime(2026, 6, 14, tzinfo=UTC), datetime(2026, 6, 17, tzinfo=UTC),
        said="a couple of days ago",
    )  # fmt: skip
    stock_book.record_leaving(
        session, posting=posted(noted), holding_id=first, door=Door.DIED, when=band
    )
    second_hatch = datetime(2026, 6, 20, 21, 30, tzinfo=UTC)
    second = make_batch(
        session, make_tank(session, "L2"), number="5", hatched_at=second_hatch, pair_id=pair
    )
    shown = larval_tank_page.larval_tank_list(session, now=datetime(2026, 6, 30, tzinfo=UTC))
    assert [one.holding_id for one in shown.open] == [second]
    ended = {one.holding_id: one for one in shown.ended}
    assert ended[first].balance.best == 0
    assert isinstance(ended[first].survival, NotComputable)
    died = page(session, first, noted).entries[0]
    assert (died.when.earliest, died.when.latest) == (band.earliest, band.latest)


def test_c38_late_settlers_stay_alive_in_one_batch(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    hatched = datetime(2026, 9, 4, 20, 15, tzinfo=UTC)
    early, tenth = hatched + timedelta(days=8, hours=14), hatched + timedelta(days=9, hours=14)
    batch = make_batch(session, make_tank(session, "L1"), number="84", hatched_at=hatched)
    for at, settled, swimming in ((early, 0, 84), (tenth, 52, 32)):
        counts.record_settlement(
            session, posting=posted(at), holding_id=batch, settled=settled, swimming=swimming,
            when=When.exactly(at),
        )  # fmt: skip
    shown = page(session, batch, tenth)
    assert shown.split is not None
    assert shown.split.said() == "84 alive: 52 settled, 32 swimming"
    assert shown.age is not None
    assert (shown.age.youngest, shown.age.oldest) == (10, 10)
    assert shown.settled.first is not None
    assert shown.settled.first.latest == tenth
    assert shown.settled.half is not None
    assert shown.settled.last is None
    cohort = larval_tank.move_settled(
        session, posting=posted(tenth), holding_id=batch, tank_id=make_tank(session, "G1"),
        number=HowMany.counted(52), when=When.exactly(tenth),
    )  # fmt: skip
    stock = load_stock(session, gannet_stair, holding_ids=[batch, cohort])
    assert (stock.balance(batch).best, stock.balance(cohort).best) == (32, 52)
    assert stock.holding(cohort).stage is Stage.COHORT
    assert stock.balance(batch).lost == HowMany.counted(0)
    after = page(session, batch, tenth)
    assert isinstance(after.survival, Survival)
    assert after.survival.best == 1.0


def test_c40_deaths_discovered_late_are_a_band_and_not_a_spike(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    second, twentieth = (datetime(2026, 5, day, 12, tzinfo=UTC) for day in (2, 20))
    batch = make_batch(
        session, make_tank(session, "L1"), number="61",
        hatched_at=datetime(2026, 4, 20, 20, 30, tzinfo=UTC),
    )  # fmt: skip
    counts.record_count(
        session, posting=posted(second), holding_id=batch, number=HowMany.counted(61),
        when=When.exactly(second),
    )  # fmt: skip
    counts.record_count(
        session, posting=posted(twentieth), holding_id=batch, number=HowMany.counted(48),
        bodies=5, when=When.exactly(twentieth),
    )  # fmt: skip
    balance = page(session, batch, twentieth).balance
    assert (balance.best, balance.lost.best, balance.unexplained.best) == (48, 5, 8)
    (gap,) = balance.gaps
    assert (gap.when.earliest, gap.when.latest) == (second, twentieth)


def two_batches(session: Session, hatched: datetime) -> tuple[int, int]:
    pairs = [
        make_pair(session, *names, tank_id=make_tank(session, label))
        for names, label in ((("Bay", "Ditto"), "B3"), (("Rusk", "Tansy"), "B5"))
    ]
    older, younger = (
        make_batch(
            session, make_tank(session, label), number=str(number), pair_id=pair,
            hatched_at=hatched + timedelta(days=days),
        )
        for label, number, pair, days in (("L1", 22, pairs[0], 0), ("L2", 19, pairs[1], 3))
    )  # fmt: skip
    return older, younger


def test_c42_merged_batches_are_one_mixed_batch_with_each_survival_frozen(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    hatched = datetime(2026, 6, 1, 20, 30, tzinfo=UTC)
    merged_at = datetime(2026, 7, 2, 10, tzinfo=UTC)
    older, younger = two_batches(session, hatched)
    mixed = larval_tank.merge_batches(
        session, posting=posted(merged_at), holding_ids=(older, younger),
        tank_id=make_tank(session, "L3"), when=When.exactly(merged_at),
    )  # fmt: skip
    later = merged_at + timedelta(days=20)
    counts.record_count(
        session, posting=posted(later), holding_id=mixed, number=HowMany.counted(38),
        when=When.exactly(later),
    )  # fmt: skip
    stock_book.record_leaving(
        session, posting=posted(later), holding_id=mixed, door=Door.SOLD,
        number=HowMany.counted(12), when=When.exactly(later),
    )  # fmt: skip
    at_merge, shown = page(session, mixed, merged_at), page(session, mixed, later)
    assert at_merge.age is not None
    assert at_merge.age.said == "28–31 dph"
    assert (shown.balance.start.best, shown.balance.unexplained.best, shown.balance.best) == (
        41, 3, 26,
    )  # fmt: skip
    assert shown.parents == "Bay × Ditto or Rusk × Tansy"
    frozen = {one.name: one.survival for one in shown.put_together}
    assert {label: one.said() for label, one in frozen.items()} == {
        "Batch 1": "100 % alive (22 counted of 22 counted; 85–100 %)",
        "Batch 2": "100 % alive (19 counted of 19 counted; 83–100 %)",
    }


def test_c42_unlike_species_are_asked_about_before_they_are_mixed(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    hatched = datetime(2026, 6, 1, 20, 30, tzinfo=UTC)
    one = make_batch(session, make_tank(session, "L1"), number="22", hatched_at=hatched)
    clarkii = make_hatch(session, hatched_at=hatched, species_key="amphiprion_clarkii")
    other = make_batch(
        session, make_tank(session, "L2"), number="19", hatched_at=hatched, hatch_id=clarkii
    )
    at = hatched + timedelta(days=30)
    facts = {"holding_ids": (one, other), "tank_id": make_tank(session, "L3"),
             "when": When.exactly(at)}  # fmt: skip
    with pytest.raises(Asked, match="different species"):
        larval_tank.merge_batches(session, posting=posted(at), **facts)
    assert larval_tank.merge_batches(
        session, posting=posted(at, answers={"mixed_species": "mix"}), **facts
    )
    with pytest.raises(RuleBroken, match="is empty"):
        larval_tank.merge_batches(session, posting=posted(at), **facts)
