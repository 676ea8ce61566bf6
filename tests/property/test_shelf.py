"""What holds for any shelf: nothing below nothing, a weighing settles all, days shift along."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from hatchery_app.domain.live_food.shelf import (
    Change,
    HowGot,
    ShelfChange,
    ShelfItem,
    Stock,
    StockKind,
    outlook,
)

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)

amounts = st.floats(0, 1000, allow_nan=False)
stocks = st.one_of(
    st.just(Stock.unknown()),
    amounts.map(lambda x: Stock(x, x, x, HowGot.WEIGHED)),
    amounts.map(lambda x: Stock(x, None, None, HowGot.ABOUT)),
    st.tuples(amounts, amounts, amounts).map(
        lambda three: Stock(sorted(three)[1], min(three), max(three), HowGot.ABOUT)
    ),
)
changes = st.lists(
    st.builds(
        lambda hours, change, stock: ShelfChange(NOW - timedelta(hours=hours), change, stock),
        st.integers(1, 900), st.sampled_from(Change), stocks,
    ),
    max_size=12,
).map(lambda all_of_them: tuple(sorted(all_of_them, key=lambda one: one.at)))  # fmt: skip


def item(came: Stock, said: tuple[ShelfChange, ...]) -> ShelfItem:
    return ShelfItem(
        1, StockKind.PASTE, "paste", "mL", NOW - timedelta(days=60), came, delivery_days=7,
        changes=said,
    )  # fmt: skip


@given(stocks, changes)
def test_what_is_left_is_never_below_nothing_and_its_ends_hold_it(came, said) -> None:
    left = item(came, said).left
    known = [each for each in (left.low, left.best, left.high) if each is not None]
    assert known == sorted(known)
    assert all(each >= 0 for each in known)


@given(stocks, changes, amounts)
def test_a_weighing_settles_whatever_was_before(came, said, weighed) -> None:
    last = ShelfChange(NOW, Change.COUNTED, Stock(weighed, weighed, weighed, HowGot.WEIGHED))
    assert item(came, (*said, last)).left == last.stock


@given(stocks, changes, st.integers(1, 400))
def test_days_later_the_same_shelf_is_ordered_days_later(came, said, days) -> None:
    by = timedelta(days=days)
    later = tuple(ShelfChange(one.at + by, one.change, one.stock) for one in said)
    moved = ShelfItem(
        1, StockKind.PASTE, "paste", "mL", NOW - timedelta(days=60) + by, came, delivery_days=7,
        changes=later,
    )  # fmt: skip
    first = outlook(item(came, said), now=NOW, today=NOW.date())
    second = outlook(moved, now=NOW + by, today=NOW.date() + by)
    assert (first.order_on is None) == (second.order_on is None)
    if first.order_on is not None:
        assert second.order_on == first.order_on + by
