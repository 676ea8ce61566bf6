"""Since about when: years, months and days as keepers say them."""

from datetime import UTC, date, datetime

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.since import read_days, read_since
from hatchery_app.domain.when import RoomTime

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
LISBON = RoomTime("Europe/Lisbon")


@pytest.mark.parametrize(
    ("typed", "first", "last"),
    [
        ("2023", date(2023, 1, 1), date(2023, 12, 31)),
        ("about 2023", date(2023, 1, 1), date(2023, 12, 31)),
        ("May 2024", date(2024, 5, 1), date(2024, 5, 31)),
        ("december 2024", date(2024, 12, 1), date(2024, 12, 31)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("2024-05-12", date(2024, 5, 12), date(2024, 5, 12)),
        ("May", date(2026, 5, 1), date(2026, 5, 31)),
        ("since about December", date(2025, 12, 1), date(2025, 12, 31)),
        ("summer 2022", date(2021, 12, 1), date(2023, 2, 28)),
        ("spring 2024", date(2024, 3, 1), date(2024, 11, 30)),
        ("about 3 years", date(2023, 5, 25), date(2024, 5, 25)),
        ("two weeks ago", date(2026, 11, 6), date(2026, 11, 14)),
        ("May 2024 to July 2024", date(2024, 5, 1), date(2024, 7, 31)),
    ],
)
def test_a_year_a_month_or_a_day_is_read(typed: str, first: date, last: date) -> None:
    assert read_days(typed, NOW.date()) == (first, last)


@pytest.mark.parametrize(
    "typed", ["some time", "2024-13", "2024-02-30", "12/5/24", "July 2024 to May 2024"]
)
def test_words_that_are_no_date_are_refused_with_how_to_write_one(typed: str) -> None:
    with pytest.raises(RuleBroken, match=r"is not a date\. Write a year"):
        read_days(typed, NOW.date())


def test_this_year_ends_now_because_the_rest_has_not_come() -> None:
    since = read_since("2026", NOW, LISBON)
    assert since.latest == NOW
    assert since.from_memory
    assert since.said == "2026"


def test_nothing_typed_is_not_known_and_ends_now() -> None:
    since = read_since("", NOW, LISBON)
    assert since.said == "not known since when"
    assert since.latest == NOW
    assert since.earliest < datetime(1990, 1, 1, tzinfo=UTC)


def test_a_year_to_come_is_refused() -> None:
    with pytest.raises(RuleBroken, match="has not come yet"):
        read_since("2027", NOW, LISBON)
