"""Settlement as a split inside one batch."""

from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.settlement_split import (
    SettlementSplit,
    settlement_dates,
    split_of,
)
from hatchery_app.domain.when import When

FIRST_LOOK = datetime(2026, 5, 1, 20, tzinfo=UTC)


def day(number: int) -> When:
    return When.exactly(FIRST_LOOK + timedelta(days=number))


def days(first: int, last: int) -> When:
    return When.between(day(first).earliest, day(last).latest)


def test_late_settlers_stay_in_their_batch_c38() -> None:
    look = split_of(day(10), alive=84, settled=52)
    assert look.swimming == 32
    assert look.said() == "84 alive: 52 settled, 32 swimming"
    dates = settlement_dates(
        [SettlementSplit(day(8), 0, 86), look, SettlementSplit(day(16), 80, 0)]
    )
    assert dates.first == days(8, 10)
    assert dates.half == days(8, 10)
    assert dates.last == days(10, 16)
    assert settlement_dates([look]).last is None
    with pytest.raises(RuleBroken):
        split_of(day(10), alive=84, settled=85)
