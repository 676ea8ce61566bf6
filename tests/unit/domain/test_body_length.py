from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.broodstock.body_length import (
    Beside,
    LengthKind,
    LengthSeen,
    SizeCompared,
    compared_at,
    length_at,
    rank_ladder_mm,
    size_ratio,
)
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import When

NOW = datetime(2025, 3, 1, tzinfo=UTC)


def ago(days):
    return When.exactly(NOW - timedelta(days=days))


def measured(mm, days=10, kind=LengthKind.TOTAL, **more):
    return LengthSeen(ago(days), mm, kind, **more)


def test_a_length_by_eye_is_legal_and_said_as_such():
    assert measured(80, by_eye=True).said() == "about 80 mm total by eye"
    assert measured(68).said() == "68 mm total"


@pytest.mark.parametrize("mm", [0, -4, 900])
def test_a_length_no_fish_here_can_have_is_refused(mm):
    with pytest.raises(RuleBroken):
        measured(mm)


def test_the_newest_length_known_at_a_moment_is_taken():
    lengths = [measured(60, 300), measured(72, 20), measured(75, 1)]
    assert length_at(lengths, NOW - timedelta(days=5)).length_mm == 72
    assert length_at([], NOW) is None


def test_a_ratio_carries_what_it_rests_on():
    size = size_ratio(measured(78), measured(60), None, NOW)
    assert size.ratio == pytest.approx(1.3)
    assert size.is_larger is True
    assert size.is_clear(1.2)
    assert size.words == "1.30 times (78 mm total against 60 mm total)"


def test_total_and_standard_length_give_no_ratio():
    size = size_ratio(measured(78), measured(60, kind=LengthKind.STANDARD), None, NOW)
    assert size.ratio is None
    assert not size.is_known
    assert "one length is total, the other standard" in size.words


def test_clearly_bigger_by_eye_is_evidence_where_a_length_is_not_known():
    size = size_ratio(None, measured(60), Beside.CLEARLY_BIGGER, NOW)
    assert size.is_known
    assert size.is_clear(1.2)
    assert size.words == "clearly bigger by eye, one length not known"
    assert size_ratio(None, None, None, NOW).words == "size not compared: neither length known"


def test_ranges_that_meet_do_not_say_which_is_larger():
    size = size_ratio(measured(70, low_mm=60, high_mm=80), measured(65), None, NOW)
    assert size.is_larger is None
    assert "between 0.92 and 1.23" in size.words


def test_the_eye_of_today_is_believed_before_a_length_of_last_year():
    size = size_ratio(measured(50, 300), measured(60, 300), Beside.CLEARLY_BIGGER, NOW)
    assert size.old
    assert size.is_larger is True
    assert "over half a year old" in size.words


def test_fish_that_look_alike_are_neither_larger_nor_smaller():
    assert size_ratio(None, None, Beside.ALIKE, NOW).is_larger is None


def test_a_comparison_by_eye_is_read_from_either_side():
    seen = [SizeCompared(ago(5), 1, 2, Beside.CLEARLY_BIGGER)]
    assert compared_at(seen, 1, 2, NOW) is Beside.CLEARLY_BIGGER
    assert compared_at(seen, 2, 1, NOW) is Beside.CLEARLY_SMALLER
    assert compared_at(seen, 1, 3, NOW) is None
    with pytest.raises(RuleBroken):
        SizeCompared(ago(5), 1, 1, Beside.ALIKE)


def test_the_ladder_of_ranks_is_known_for_groups_of_two_to_six():
    assert len(rank_ladder_mm(80, 6)) == 6
    with pytest.raises(RuleBroken):
        rank_ladder_mm(80, 7)
