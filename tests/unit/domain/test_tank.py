"""Labels in a row, and how a tank stands."""

from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.tank import (
    STEPS_TO_READY,
    TankState,
    labels_in,
    rows_of_tanks,
    state_now,
)

SAID = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("typed", "labels"),
    [
        ("L1–L3", ("L1", "L2", "L3")),
        ("A3-A5", ("A3", "A4", "A5")),
        ("L1-3", ("L1", "L2", "L3")),
        ("L08–L11", ("L08", "L09", "L10", "L11")),
        ("G-1 to G-2", ("G-1", "G-2")),
        ("Q1, Q2", ("Q1", "Q2")),
        ("Q1,Q2; Nook", ("Q1", "Q2", "Nook")),
        ("7–9", ("7", "8", "9")),
        ("GO-4", ("GO-4",)),
    ],
)
def test_labels_are_read_as_keepers_write_them(typed, labels):
    assert labels_in(typed) == labels


@pytest.mark.parametrize(
    ("typed", "rows"),
    [
        ("L1–L2, 40 L", [(("L1", "L2"), "40 L")]),
        ("L1-L2 40L", [(("L1", "L2"), "40L")]),
        ("B1, B2, 10 US gal each", [(("B1", "B2"), "10 US gal")]),
        ("B1, 37,5 L", [(("B1",), "37,5 L")]),
        ("Q1, Q2", [(("Q1", "Q2"), "")]),
        ("L1-L2 40L, G1-G2 200 l", [(("L1", "L2"), "40L"), (("G1", "G2"), "200 l")]),
        ("L1: 40 L; G1 (200 L)\nQ1", [(("L1",), "40 L"), (("G1",), "200 L"), (("Q1",), "")]),
    ],
)
def test_the_water_may_stand_behind_each_row_of_labels(typed, rows):
    assert rows_of_tanks(typed, {}) == tuple(rows)


@pytest.mark.parametrize("typed", ["L1-L6 40 L tall", "L1-L6 rack two", "back 40 l shelf, Q1"])
def test_what_looks_like_more_than_a_label_is_asked_about(typed):
    with pytest.raises(Asked) as asked:
        rows_of_tanks(typed, {})
    assert asked.value.question == "one_label"
    assert rows_of_tanks(typed, {"one_label": "one"})


def test_two_rows_may_not_share_a_label():
    with pytest.raises(RuleBroken, match="L2 was given twice"):
        rows_of_tanks("L1-L2 40 L, L2-L3 60 L", {})


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("L9–L3", "runs backwards"),
        ("L1–M3", "runs from one name to another"),
        ("L1, L1", "given twice"),
        (" , ", "how the tank is labelled"),
        ("L1–L900", "more than 200"),
    ],
)
def test_a_row_that_cannot_be_is_refused(typed, sentence):
    with pytest.raises(RuleBroken, match=sentence):
        labels_in(typed)


def test_empty_is_not_ready_until_somebody_cleaned_it():
    stood = state_now(None, None, lived_in=False, last_left_at=None)
    assert stood is TankState.DIRTY
    assert STEPS_TO_READY[stood] == "scrub, rinse, fill, match"


def test_a_tank_is_in_use_while_something_lives_there_and_dirty_once_it_left():
    after = SAID + timedelta(days=1)
    lived = state_now(TankState.READY, SAID, lived_in=True, last_left_at=None)
    left = state_now(TankState.READY, SAID, lived_in=False, last_left_at=after)
    cleaned = state_now(TankState.READY, after, lived_in=False, last_left_at=SAID)
    assert (lived, left, cleaned) == (TankState.IN_USE, TankState.DIRTY, TankState.READY)


def test_a_bar_stands_whoever_comes_or_goes():
    for lived_in in (True, False):
        barred = state_now(TankState.BARRED, SAID, lived_in=lived_in, last_left_at=SAID)
        assert barred is TankState.BARRED
