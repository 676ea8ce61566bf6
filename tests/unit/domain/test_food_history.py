"""Food day by day: what is a gap, what is only not written, and what was lost after."""

from datetime import UTC, date, datetime

import pytest

from hatchery_app.domain.larval_tank.food_history import (
    FoodSaid,
    FoodSeen,
    GapMarked,
    Span,
    food_days,
    gaps,
    losses_after,
    unwritten,
)
from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.live_food.live_food import Look, density_from_count, density_from_look
from hatchery_app.domain.stock_book.reared import Fate, Going
from hatchery_app.services.species.library import library

AT = datetime(2026, 11, 20, 8, 0, tzinfo=UTC)
HATCHED_ON = date(2026, 11, 18)
PLAN = library()["amphiprion_ocellaris"].larval
SHRIMP = Food.SHRIMP_INSTAR_I.value


def looked(dph: int, word: Look, food: str = "rotifers", target: float = 10.0) -> FoodSeen:
    return FoodSeen(AT, dph, food, density_from_look(word, target), target, is_look=True)


def counted(dph: int, number: int, topped: float | None = None) -> FoodSeen:
    return FoodSeen(AT, dph, "rotifers", density_from_count([number], 10), 10.0, topped)


def days(*, until: int = 5, seen=(), said=(), marked=(), over: int | None = None):
    return food_days(HATCHED_ON, until, PLAN, None, seen, said, marked, over_until_dph=over)


@pytest.mark.parametrize(
    ("seen", "gap"),
    [
        ([looked(3, Look.NONE)], "rotifers: none left at a look"),
        ([looked(3, Look.THIN)], ""),
        ([counted(3, 9)], "rotifers: 0.9 per mL left of 10 wanted"),  # under a tenth
        ([counted(3, 10)], ""),
        ([looked(3, Look.NONE), looked(3, Look.RIGHT, SHRIMP, 1)], ""),  # other food was there
        ([looked(3, Look.NONE), looked(3, Look.NONE, SHRIMP, 1)], "rotifers: none left at a look"),
        ([looked(3, Look.NONE, SHRIMP, 1)], ""),  # given by the meal, eaten up
        ([looked(0, Look.NONE)], ""),  # nothing is eaten on the hatch night
    ],
)
def test_larvae_that_had_nothing_left_had_a_gap(seen, gap) -> None:
    found = days(seen=seen)
    assert [day.gap for day in found if day.gap] == ([gap] if gap else [])


def test_a_day_without_an_entry_is_not_written_and_no_gap() -> None:
    found = days(seen=[counted(1, 80), counted(4, 90)], over=4)
    assert gaps(found) == ()
    assert unwritten(found) == (Span(2, 3, "not written"),)  # today is not over yet
    assert [day.on.day for day in found if day.is_unwritten] == [20, 21]


def test_what_was_said_not_to_be_fed_is_a_gap_unless_it_was_fed_after_all() -> None:
    not_fed = FoodSaid(AT, 2, "rotifers", why_not="vessel lost")
    assert gaps(days(said=[not_fed])) == (Span(2, 2, "rotifers not fed: vessel lost"),)
    assert gaps(days(said=[not_fed, FoodSaid(AT, 2, "microdiet", given="microdiet given")])) == ()
    assert gaps(days(said=[not_fed], seen=[counted(2, 60, topped=10)])) == ()


def test_a_gap_that_was_marked_stands_whatever_was_seen_and_days_on_end_are_one() -> None:
    marked = [GapMarked(AT, day, "short of rotifers") for day in (3, 4)]
    found = gaps(days(marked=marked, seen=[counted(3, 80)]))
    assert found == (Span(3, 4, "short of rotifers"),)
    assert found[0].dph == "3–4 dph"


def test_losses_of_the_days_after_a_gap_are_read_beside_it() -> None:
    """C36: a gap on day 3 is to be seen when deaths come on days 4 to 6."""
    gone = [
        Going(1, 1, 5, Fate.DIED), Going(4, 4, 30, Fate.DIED), Going(6, 6, 12, Fate.DIED),
        Going(5, 9, 8, Fate.MISSING), Going(7, 7, 99, Fate.DIED), Going(5, 5, 40, Fate.LEFT),
    ]  # fmt: skip
    found = losses_after(Span(3, 3, "short of rotifers"), gone)
    assert (found.low, found.high) == (42, 50)  # the missing may all be of later days


def test_what_a_top_up_brought_is_known_only_beside_what_was_left() -> None:
    assert counted(2, 62, topped=10).added_per_ml == pytest.approx(3.8)
    assert FoodSeen(AT, 2, "rotifers", None, 10.0, 10.0).added_per_ml is None
