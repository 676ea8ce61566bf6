from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.spawn.pooled_rhythm import rhythm_across_pairs
from hatchery_app.domain.spawn.spawn_rhythm import (
    CountedFrom,
    NestEmptied,
    Spawn,
    across_mates,
    gap_days,
    gaps,
    mean_interval_days,
    rhythm,
)
from hatchery_app.domain.species.species import Spawning
from hatchery_app.domain.when import When

START = datetime(2025, 1, 1, 15, tzinfo=UTC)
OCELLARIS = Spawning(10, 21, interval_median_days=14)


def day(n):
    return START + timedelta(days=n)


def on(n):
    return When.exactly(day(n))


def spawn(n, laid, emptied=None, how=NestEmptied.HATCHED, pair=1):
    return Spawn(n, pair, on(laid), None if emptied is None else on(emptied), how)


def steady(count, every=13, stays=8):
    return [spawn(i, every * i, every * i + stays) for i in range(count)]


def test_a_gap_counts_from_the_day_the_nest_became_empty():
    for how in NestEmptied:
        (gap,) = gaps([spawn(1, 0, 8, how), spawn(2, 13)])
        assert (gap.days, gap.laying_days) == (5, 13)
        assert gap.counted_from is CountedFrom.NEST_EMPTY
        assert gap.note == f"nest {how}"


def test_a_pair_that_lays_beside_old_eggs_is_counted_from_laying_to_laying():
    (gap,) = gaps([spawn(1, 0, 9), spawn(2, 7)])
    assert gap.days == 7
    assert gap.counted_from is CountedFrom.LAYING
    assert gap.note == "laid beside old eggs"


def test_a_nest_nobody_saw_empty_is_counted_from_laying_to_laying_and_said():
    (gap,) = gaps([spawn(1, 0), spawn(2, 14)])
    assert gap.counted_from is CountedFrom.LAYING
    assert "not known" in gap.note


def test_n_spawns_give_one_gap_less():
    assert len(gaps(steady(7))) == 6
    assert gaps(steady(1)) == ()
    assert gaps([]) == ()


def test_vague_days_give_a_gap_with_its_range():
    first = Spawn(1, 1, on(0), When.between(day(7), day(9)), NestEmptied.EATEN)
    (gap,) = gaps([first, spawn(2, 13)])
    assert (gap.low_days, gap.days, gap.high_days) == (4, 5, 6)


def test_the_order_of_entry_does_not_matter():
    assert gaps(reversed(steady(5))) == gaps(steady(5))


def test_first_clutches_are_not_counted_before_the_third():
    assert [g.counts for g in gaps(steady(5))] == [False, False, True, True]
    assert all(g.counts for g in gaps(steady(5), earlier_clutches=40))


def test_a_gap_nearly_twice_the_usual_may_hide_a_clutch_and_is_not_dropped():
    spawns = [*steady(8), spawn(9, 7 * 13 + 26)]
    flagged = gaps(spawns)
    assert [g.perhaps_missed for g in flagged] == [False] * 7 + [True]
    assert len(gap_days(flagged, CountedFrom.LAYING)) == 6


def test_gaps_are_never_taken_across_two_pairs():
    with pytest.raises(RuleBroken, match="one pair"):
        gaps([spawn(1, 0), spawn(2, 13, pair=2)])


def test_c49_the_first_clutch_with_a_new_mate_is_the_first_of_a_new_pair():
    rows = across_mates([spawn(1, 0), spawn(2, 14), spawn(3, 20, pair=3)])
    assert [(r.pair_id, r.number_in_pair, r.days_since_last, r.new_mate) for r in rows] == [
        (1, 1, None, False), (1, 2, 14, False), (3, 1, 6, True),
    ]


def test_a_nest_is_not_empty_before_it_is_laid_in():
    with pytest.raises(RuleBroken):
        spawn(1, 5, 4)


def test_without_gaps_of_its_own_a_pair_has_the_species_window():
    found = rhythm([], CountedFrom.LAYING, OCELLARIS)
    low, high = found.window_days(0.9)
    assert found.mean_days == 14
    assert found.weight == 0
    assert 7 < low < 10
    assert 18 < high < 21


def test_its_own_gaps_draw_the_rhythm_away_from_the_species():
    own = gaps(steady(12, every=19))
    found = rhythm(own, CountedFrom.LAYING, OCELLARIS)
    assert found.own_gaps == 9
    assert 18.5 < found.mean_days < 19
    assert found.own_median
    assert found.sd_days < rhythm([], CountedFrom.LAYING, OCELLARIS).sd_days


def test_from_the_empty_nest_the_time_in_the_nest_is_taken_off():
    assert rhythm([], CountedFrom.NEST_EMPTY, OCELLARIS, nest_days=8).mean_days == 6
    assert rhythm([], CountedFrom.NEST_EMPTY, OCELLARIS, nest_days=30).mean_days == 1
    with pytest.raises(RuleBroken):
        rhythm([], CountedFrom.NEST_EMPTY, OCELLARIS)


def test_the_room_comes_before_the_book():
    room = rhythm_across_pairs({1: [11, 12, 11], 2: [12, 13], 3: [11, 11]})
    found = rhythm([], CountedFrom.LAYING, OCELLARIS, room=room)
    assert found.mean_days == pytest.approx(room.mean)


def test_pairs_that_cannot_be_compared_give_no_pooled_rhythm():
    assert rhythm_across_pairs({1: [12, 13, 14]}) is None
    assert rhythm_across_pairs({1: [12], 2: [15]}) is None
    assert rhythm_across_pairs({1: [12, 12], 2: [12, 12]}) is None


def test_a_mean_interval_wants_two_events():
    with pytest.raises(RuleBroken):
        mean_interval_days(day(0), day(10), 1)
