"""Batches by age: losses in bands, removals that lived, tanks as the unit, stages from eggs on."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.loss_ages import bad_days, losses_of
from hatchery_app.domain.stock_book.reared import (
    Fate,
    Going,
    Reared,
    batch_curve,
    descents,
    pooled_curve,
    reared,
    share_alive_at,
)
from hatchery_app.domain.stock_book.stage_survival import ClutchStages, Reached, over_all
from hatchery_app.domain.stock_book.stock_book import (
    Count,
    Door,
    Holding,
    Movement,
    Stage,
    StockBook,
)
from hatchery_app.domain.stock_book.tanks_compared import TankFared, compare, groups, middle_of_all
from hatchery_app.domain.when import When

HATCHED = datetime(2026, 3, 1, 22, tzinfo=UTC)


def day(dph: float) -> datetime:
    return HATCHED + timedelta(days=dph)


def dph_at(moment: datetime) -> int:
    return (moment - HATCHED).days


def moved(
    seq: int, dph: float, number: int, out_of: int | None, into: int | None, door: Door
) -> Movement:
    return Movement(seq, When.exactly(day(dph)), HowMany.counted(number), out_of, into, door)


def counted(seq: int, dph: float, number: int, holding: int = 1) -> Count:
    return Count(seq, When.exactly(day(dph)), HowMany.counted(number), holding)


def book_of(*entries: Movement | Count, holdings: int = 4) -> StockBook:
    book = StockBook(tuple(Holding(n, f"L{n}", Stage.LARVAE) for n in range(1, holdings + 1)))
    for entry in entries:
        book = book.with_entry(entry)
    return book


# The hatchery example: alive, died, left alive between looks on these days.
LOOKS = ((1, 60, 0), (3, 85, 0), (7, 40, 0), (14, 15, 50), (30, 6, 100), (60, 2, 54))


def hatchery_example() -> Reared:
    """The example as a keeper enters it: a count at every look, nothing seen dead."""
    entries: list[Movement | Count] = [moved(1, 0, 412, None, 1, Door.HATCHED)]
    alive = 412
    for seq, (until, died, left) in enumerate(LOOKS):
        if left:
            entries.append(moved(10 + seq, until - 0.5, left, 1, None, Door.SOLD))
        alive -= died + left
        entries.append(counted(20 + seq, until, alive))
    batch = reared(book_of(*entries), (1,), dph_at)
    assert batch is not None
    return batch


def test_the_hatchery_example_through_the_books_own_curve() -> None:
    points = {point.day: point for point in batch_curve(hatchery_example())}
    expected = {1: 0.8544, 3: 0.6481, 7: 0.5510, 14: 0.5101, 30: 0.4827, 60: 0.4494}
    assert {at: round(points[at].survival, 4) for at in expected} == expected
    interval = points[60].interval
    assert interval is not None
    assert (interval.low, interval.high) == pytest.approx((0.3836, 0.5130), abs=5e-5)


def test_deaths_found_late_are_a_band_of_days_and_no_step_on_the_day_of_the_count() -> None:
    book = book_of(
        moved(1, 0, 61, None, 1, Door.HATCHED),
        Movement(
            2, When.between(day(2), day(20)), HowMany.counted(5), 1, None, Door.DIED, "bodies"
        ),
        counted(3, 20, 48),
    )
    batch = reared(book, (1,), dph_at)
    assert batch is not None
    assert [(one.from_dph, one.until_dph, one.number) for one in batch.goings] == [
        (0, 20, 8),
        (2, 20, 5),
    ]
    assert share_alive_at(batch, 10) == pytest.approx((48 / 61, 1.0))
    assert share_alive_at(batch, 20) == pytest.approx((48 / 61, 48 / 61))
    assert share_alive_at(batch, 21) is None  # nobody has looked since


def test_a_batch_of_unknown_number_has_no_curve() -> None:
    unknown = Movement(1, When.exactly(day(0)), HowMany.unknown(), None, 1, Door.HATCHED)
    assert reared(book_of(unknown), (1,), dph_at) is None


def test_those_sold_lived_and_those_put_down_are_dead_unless_asked_otherwise() -> None:
    book = book_of(
        moved(1, 0, 100, None, 1, Door.HATCHED),
        Movement(2, When.exactly(day(10)), HowMany.counted(20), 1, None, Door.PUT_DOWN, "bent"),
        moved(3, 20, 80, 1, None, Door.SOLD),
    )
    batch = reared(book, (1,), dph_at)
    assert batch is not None
    assert batch_curve(batch)[-1].survival == pytest.approx(0.8)
    assert batch_curve(batch, culls_died=False)[-1].survival == pytest.approx(1.0)


def test_a_batch_is_followed_into_the_tanks_that_only_its_own_fish_went_on_to() -> None:
    moves = (
        moved(1, 0, 100, None, 1, Door.HATCHED),
        moved(2, 20, 60, 1, 2, Door.MOVED),
        moved(3, 25, 30, 2, 3, Door.MOVED),
        moved(4, 0, 50, None, 4, Door.HATCHED),
    )
    assert descents((1, 2, 3, 4), moves) == {1: (1, 2, 3), 4: (4,)}
    mixed = (*moves, moved(5, 30, 10, 4, 3, Door.MOVED))
    assert descents((1, 2, 3, 4), mixed) == {1: (1, 2), 3: (3,), 4: (4,)}


def went(*ends: tuple[int | None, int]) -> list[Movement]:
    """Ten fish from each to each, day by day; from None they hatched."""
    return [
        moved(seq, seq, 10, out_of, into, Door.HATCHED if out_of is None else Door.MOVED)
        for seq, (out_of, into) in enumerate(ends, start=1)
    ]


def test_fish_that_go_round_and_come_home_are_still_one_batch() -> None:
    home = went((None, 1), (1, 2), (2, 3), (3, 1))
    assert descents((1, 2, 3), home) == {1: (1, 2, 3)}
    to_and_fro = went((None, 1), (1, 2), (2, 3), (3, 2))
    assert descents((1, 2, 3), to_and_fro) == {1: (1, 2, 3)}


def test_a_ring_that_none_came_into_from_outside_begins_with_its_first_holding() -> None:
    ring = went((5, 2), (2, 1), (1, 5))
    assert descents((1, 2, 5, 7), ring) == {1: (1, 2, 5), 7: (7,)}
    joined = went((5, 2), (2, 1), (1, 5), (None, 7), (7, 2))
    assert descents((1, 2, 5, 7), joined) == {7: (7, 1, 2, 5)}


def test_fish_moved_within_the_line_have_not_left_it() -> None:
    book = book_of(
        moved(1, 0, 100, None, 1, Door.HATCHED),
        moved(2, 20, 60, 1, 2, Door.MOVED),
        moved(3, 30, 6, 2, None, Door.DIED),
        moved(4, 40, 10, 2, 4, Door.MOVED),
    )
    batch = reared(book, (1, 2), dph_at)
    assert batch is not None
    assert [(one.number, one.fate) for one in batch.goings] == [(6, Fate.DIED), (10, Fate.LEFT)]
    assert batch.left_over == 84


def five_batches(died_on: int = 10, died: int = 40) -> list[Reared]:
    return [
        Reared(key, 100, (Going(died_on, died_on, died, Fate.DIED),), 0, 30) for key in range(5)
    ]


def test_there_is_no_curve_of_fewer_than_five_batches() -> None:
    assert pooled_curve(five_batches()[:4]) == ()
    assert pooled_curve(five_batches())[-1].best == pytest.approx(0.6)


def test_the_curve_ends_where_fewer_than_five_are_followed_but_the_dead_stay_in_it() -> None:
    batches = [*five_batches()[:3], Reared(8, 100, (), 0, 12)]
    dead = Reared(9, 100, (Going(4, 4, 100, Fate.DIED),), 0, 4)
    points = pooled_curve([*batches, dead])
    assert points[-1].dph == 12
    assert points[4].best == pytest.approx(0.8)


def test_the_band_holds_losses_at_their_first_and_at_their_last_day() -> None:
    batches = [Reared(n, 200, (Going(2, 20, 100, Fate.MISSING),), 0, 30) for n in range(5)]
    points = {point.dph: point for point in pooled_curve(batches)}
    assert points[5].low < 0.5 < points[5].best < points[5].high == pytest.approx(1.0)
    assert points[20].best == pytest.approx(0.5)
    assert points[20].high - points[20].low < 0.08


def test_the_age_at_which_batch_after_batch_loses_fish_shows() -> None:
    batches = [Reared(n, 200, (Going(10, 10 + n % 2, 60, Fate.DIED),), 0, 30) for n in range(6)]
    batches.append(Reared(7, 200, (Going(3, 3, 60, Fate.DIED),), 0, 30))
    worst = bad_days(batches)[0]
    assert (worst.batches, worst.of) == (6, 7)
    assert worst.first <= 10
    assert worst.last >= 11
    assert worst.said().startswith("In 6 of 7 batches a tenth or more was lost between")


def test_a_loss_between_looks_far_apart_points_to_no_age() -> None:
    batches = [Reared(n, 200, (Going(1, 20, 60, Fate.MISSING),), 0, 30) for n in range(6)]
    assert bad_days(batches) == ()
    assert losses_of(batches[0]).marks[0].share == pytest.approx(0.3)


def fared(group: str, *shares: float) -> list[TankFared]:
    return [TankFared(n, group, share, share) for n, share in enumerate(shares)]


def test_tanks_and_not_fish_are_compared_and_four_a_side_say_nothing() -> None:
    few = groups([*fared("A1", 0.9, 0.9, 0.9, 0.9), *fared("A2", 0.1, 0.1, 0.1, 0.1, 0.1)], 0.5)
    a2, a1 = few
    compared = compare(a1, a2)
    assert compared.best == 1.0
    assert compared.verdict.startswith("Too few to conclude anything: 4 and 5 tanks")


def test_five_a_side_may_differ_or_show_nothing() -> None:
    apart = groups([*fared("A1", *[0.9] * 8), *fared("A2", *[0.1] * 8)], 0.5)
    assert compare(*apart).verdict.startswith("More tanks did well in “A1”")
    mixed = groups(
        [*fared("A1", 0.9, 0.9, 0.9, 0.2, 0.2), *fared("A2", 0.9, 0.9, 0.1, 0.1, 0.1)], 0.5
    )
    found = compare(*mixed)
    assert found.verdict.startswith("No difference shown")
    assert found.difference is not None
    assert found.difference.low < 0 < found.difference.high


def test_a_tank_whose_losses_straddle_the_line_is_not_decided() -> None:
    tanks = [*fared("A1", 0.8, 0.2), TankFared(9, "A1", 0.3, 0.7)]
    group = groups(tanks, 0.5)[0]
    assert (group.well, group.of, group.undecided) == (1, 2, 1)
    assert middle_of_all(tanks) == pytest.approx(0.5)


def test_each_step_from_eggs_to_sale_says_of_how_many_clutches() -> None:
    one = ClutchStages(
        1,
        {
            Reached.EGGS: HowMany.estimated(400, 350, 450),
            Reached.HATCHED: HowMany.about(300),
            Reached.IN_TANKS: HowMany.about(300),
            Reached.SETTLED: HowMany.counted(150),
        },
    )
    other = ClutchStages(
        2, {Reached.IN_TANKS: HowMany.unknown(), Reached.SETTLED: HowMany.counted(9)}
    )
    eggs, settled, sixty, sold = over_all((one, other))
    assert (eggs.began, eggs.reached, eggs.clutches, eggs.of) == (400, 300, 1, 2)
    assert settled.best == pytest.approx(0.5)
    assert settled.is_about
    assert (sixty.clutches, sold.best) == (0, None)
