"""What is left on the shelf, how long it lasts, and by when to order."""

from datetime import UTC, date, datetime, timedelta

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.shelf import (
    Change,
    HowGot,
    ShelfChange,
    ShelfItem,
    Stock,
    StockKind,
    outlook,
    parse_stock,
    paste_cells_per_ml,
    use_by_record,
)

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
TODAY = date(2026, 11, 24)


def ago(days: float) -> datetime:
    return NOW - timedelta(days=days)


def weighed(amount: float) -> Stock:
    return Stock(amount, amount, amount, HowGot.WEIGHED)


def used(days_ago: float, amount: float | None) -> ShelfChange:
    stock = Stock.unknown() if amount is None else weighed(amount)
    return ShelfChange(ago(days_ago), Change.USED, stock)


def paste(*changes: ShelfChange, **more: object) -> ShelfItem:
    facts = {"came": weighed(500), "delivery_days": 5} | more
    return ShelfItem(1, StockKind.PASTE, "paste", "mL", ago(20), changes=changes, **facts)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "best", "ends", "how"),
    [
        ("340", 340, (340, 340), HowGot.WEIGHED),
        ("340,5", 340.5, (340.5, 340.5), HowGot.WEIGHED),
        ("about 300", 300, (None, None), HowGot.ABOUT),
        ("250–400", 325, (250, 400), HowGot.ABOUT),
        ("empty", 0, (0, 0), HowGot.WEIGHED),
        ("?", None, (None, None), HowGot.UNKNOWN),
    ],
)
def test_what_is_left_is_read_as_a_keeper_writes_it(text, best, ends, how):
    stock = parse_stock(text)
    assert (stock.best, (stock.low, stock.high), stock.how) == (best, ends, how)


@pytest.mark.parametrize("text", ["-3", "half a tin", "400-250", "1e9", "99999999"])
def test_what_is_no_amount_is_refused_in_a_sentence(text):
    with pytest.raises(RuleBroken) as refused:
        parse_stock(text)
    assert refused.value.field == "amount"


def test_what_was_taken_goes_off_what_came_and_a_weighing_sets_it_right():
    item = paste(used(3, 20), used(2, 20))
    assert item.left.best == 460
    later = ShelfChange(ago(1), Change.COUNTED, weighed(430))
    assert paste(used(3, 20), used(2, 20), later, used(0.5, 10)).left == weighed(420)


def test_a_feeding_without_an_amount_leaves_only_the_upper_end():
    left = paste(used(2, 20), used(1, None)).left
    assert (left.best, left.low, left.high) == (None, None, 480)
    assert left.said("mL") == "at most 480 mL"


def test_more_that_came_is_added_with_its_own_vagueness():
    about = Stock(500, None, None, HowGot.ABOUT)
    left = paste(ShelfChange(ago(1), Change.CAME, about)).left
    assert (left.best, left.low, left.how) == (1000, None, HowGot.ABOUT)


def test_use_a_day_is_what_was_taken_over_the_days_of_its_record():
    item = paste(*(used(days, 10) for days in range(10, 0, -1)))
    assert use_by_record(item, NOW).per_day == pytest.approx(100 / 14)
    young = ShelfItem(1, StockKind.PASTE, "paste", "mL", ago(5), weighed(500),
                      changes=(used(4, 20), used(1, 30)))  # fmt: skip
    assert use_by_record(young, NOW).per_day == pytest.approx(10)


def test_two_weighings_tell_what_nobody_wrote_down():
    item = paste(ShelfChange(ago(10), Change.COUNTED, weighed(400)))
    assert use_by_record(item, NOW).per_day == pytest.approx(10)
    assert use_by_record(paste(), NOW).per_day is None


@pytest.mark.parametrize("days_later", [0, 3, 10, 14])
def test_what_nobody_writes_down_goes_on_going_and_its_order_day_comes_due(days_later):
    """10 kg, then 9 kg six days later: 9 kg are gone 54 days after the second weighing."""
    salt = ShelfItem(
        1, StockKind.SALT, "salt", "kg", ago(6), weighed(10), delivery_days=5,
        changes=(ShelfChange(ago(0), Change.COUNTED, weighed(9)),),
    )  # fmt: skip
    by = timedelta(days=days_later)
    found = outlook(salt, now=NOW + by, today=TODAY + by)
    assert found.order_on == TODAY + timedelta(days=54 - 5)
    assert found.left.best == pytest.approx(9 - days_later / 6)


def test_it_is_ordered_its_delivery_before_it_runs_out():
    item = paste(*(used(days, 14) for days in range(14, 0, -1)))
    found = outlook(item, now=NOW, today=TODAY)
    # 500 − 196 left at 14 a day last 21 whole days; five of them are the delivery's.
    assert found.lasts_until_on == TODAY + timedelta(days=21)
    assert found.order_on == TODAY + timedelta(days=16)
    assert not found.is_due(TODAY)
    assert found.is_due(TODAY + timedelta(days=16))


def test_the_plan_of_a_hatch_to_come_brings_the_order_forward():
    item = paste(*(used(days, 14) for days in range(14, 0, -1)))
    found = outlook(item, now=NOW, today=TODAY, planned_per_day=38)
    assert found.order_on == TODAY + timedelta(days=8 - 5)


def test_a_tin_goes_off_before_it_is_empty():
    item = paste(used(10, 5), best_before_on=TODAY + timedelta(days=7))
    assert outlook(item, now=NOW, today=TODAY).order_on == TODAY + timedelta(days=2)
    gone = paste(best_before_on=TODAY - timedelta(days=1))
    assert outlook(gone, now=NOW, today=TODAY).is_past_best


def test_an_order_day_is_not_made_up():
    nobody_said = paste(*(used(days, 14) for days in range(14, 0, -1)), delivery_days=None)
    found = outlook(nobody_said, now=NOW, today=TODAY)
    assert (found.order_on, found.why) == (None, "say how many days a delivery takes")
    unknown = outlook(paste(came=Stock.unknown()), now=NOW, today=TODAY)
    assert unknown.lasts_until_on is None
    assert "weigh it" in unknown.why


def test_a_paste_is_as_strong_as_its_label_says_by_cells_or_by_dry_weight():
    assert paste_cells_per_ml(0.18, 6.0, None) == pytest.approx(3.0e10)
    assert paste_cells_per_ml(0.18, 6.0, 6.8e10) == 6.8e10
    assert paste_cells_per_ml(None, 6.0, None) is None
