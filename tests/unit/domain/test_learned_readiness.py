"""What hatches teach of readiness: intervals, the species giving way to room and pair."""

import pytest

from hatchery_app.domain.clutch.learned_readiness import (
    Learned,
    ReadinessInterval,
    default_readiness,
    pooled_spread_dd,
    readiness,
)
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.shrinkage import shrunk, shrunk_together, usual_delay
from hatchery_app.domain.species.species import Incubation

OCELLARIS = Incubation(16, 87.3, 9, 3.5, 25, 28, 22, 31, 15, 3, 24, 30)


def told(*middles, width=11.0):
    return tuple(ReadinessInterval(m - width / 2, m + width / 2) for m in middles)


def test_the_species_default_leaves_out_half_a_days_wait_for_dark():
    default = default_readiness(OCELLARIS)
    assert default.mean_dd == pytest.approx(87.3 - 5.25)
    assert default.said() == ("from the species default",)


def test_without_a_record_the_default_stands():
    assert readiness(OCELLARIS, Learned()) == readiness(OCELLARIS, None)


def test_the_first_hatch_of_a_pair_already_pulls_the_default_and_is_counted():
    first = readiness(OCELLARIS, Learned(pair=told(70)))
    assert 70 < first.mean_dd < 79
    assert first.sd_dd < default_readiness(OCELLARIS).sd_dd
    assert first.said() == ("from this pair: 1 hatch",)


def test_more_hatches_of_a_pair_pull_further_and_narrow():
    few = readiness(OCELLARIS, Learned(pair=told(70)))
    more = readiness(OCELLARIS, Learned(pair=told(*[70] * 5)))
    assert more.mean_dd < few.mean_dd
    assert more.sd_dd < few.sd_dd


def test_other_pairs_of_the_room_pull_a_new_pair_but_less_than_its_own_hatches():
    room = readiness(OCELLARIS, Learned(room=(told(72, 72, 72), told(73, 73))))
    own = readiness(OCELLARIS, Learned(pair=told(72, 72, 72, 73, 73)))
    assert own.mean_dd < room.mean_dd < default_readiness(OCELLARIS).mean_dd
    assert room.sd_dd > own.sd_dd
    assert room.said() == ("from pairs of this species in this room: 5 hatches",)


def test_a_night_watched_in_vain_teaches_that_readiness_lies_beyond():
    late = readiness(OCELLARIS, Learned(pair=(ReadinessInterval(90, None),)))
    assert late.mean_dd > default_readiness(OCELLARIS).mean_dd
    assert late.pair_hatches == 0


def test_a_hatch_teaches_only_its_interval():
    wide = readiness(OCELLARIS, Learned(pair=(ReadinessInterval(40, 125),)))
    default = default_readiness(OCELLARIS)
    assert wide.mean_dd == pytest.approx(default.mean_dd, abs=0.2)
    assert wide.sd_dd == pytest.approx(default.sd_dd, abs=0.3)


def test_narrow_intervals_agree_with_the_normal_sum():
    """Grid against closed form, m0 112, s0 12, s 4, clutches 104, 107, 101, 106."""
    species = Incubation(12, 112 + 0.5 * 15, 12, 4, 26, 28, 22, 31, 15, 3)
    pair = told(104, 107, 101, 106, width=0.05)
    spread = pooled_spread_dd(species, (pair,), odd_share=0)
    closed = shrunk(112, 12, [104, 107, 101, 106], spread)
    grid = readiness(species, Learned(pair=pair), odd_share=0)
    assert grid.mean_dd == pytest.approx(closed.mean, abs=0.02)
    assert grid.sd_dd == pytest.approx(closed.next_sd, abs=0.02)


def test_one_odd_clutch_cannot_take_over():
    steady = readiness(OCELLARIS, Learned(pair=told(*[80] * 6)))
    with_odd = readiness(OCELLARIS, Learned(pair=told(*[80] * 6, 130)))
    assert with_odd.mean_dd == pytest.approx(steady.mean_dd, abs=1.0)
    assert with_odd.clutch_spread_dd <= 2 * OCELLARIS.spread_clutch_to_clutch_dd


def test_pairs_that_scatter_widen_the_pooled_spread_and_steady_ones_narrow_it():
    assert pooled_spread_dd(OCELLARIS, (told(70, 90, 80, 65, 95, width=5),)) > 3.5
    assert pooled_spread_dd(OCELLARIS, (told(80, 80, 80, 80, 80, width=5),)) < 3.5
    assert pooled_spread_dd(OCELLARIS, (told(70), told(95))) == 3.5  # one each tells nothing


def test_an_interval_must_hold_something():
    with pytest.raises(RuleBroken):
        ReadinessInterval(80, 80)


def test_a_pairs_delay_is_drawn_from_the_usual_hour_to_its_own():
    assert usual_delay(()).mean == 60
    assert 40 < usual_delay((40,)).mean < 50
    assert usual_delay((40,) * 10).mean == pytest.approx(40, abs=1)


def test_values_without_scatter_stay_where_they_are():
    assert shrunk_together([3, 3, 3, 3], 1) == (0.0, (3, 3, 3, 3))
    with pytest.raises(RuleBroken):
        shrunk_together([1, 2, 3], 1)
    with pytest.raises(RuleBroken):
        shrunk(1, 0, [], 1)
