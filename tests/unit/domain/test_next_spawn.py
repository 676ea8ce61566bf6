from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.broodstock.pairing import EndedBecause
from hatchery_app.domain.spawn.next_spawn import Outlook, next_spawn
from hatchery_app.domain.spawn.pooled_rhythm import rhythm_across_pairs
from hatchery_app.domain.spawn.spawn_rhythm import CountedFrom, NestEmptied, Spawn
from hatchery_app.domain.species.species import Spawning
from hatchery_app.domain.when import When

START = datetime(2025, 1, 1, 15, tzinfo=UTC)
OCELLARIS = Spawning(10, 21, interval_median_days=14)


def day(n):
    return START + timedelta(days=n)


def on(n):
    return When.exactly(day(n))


def steady(count, every=13, stays=8):
    return [
        Spawn(i, 1, on(every * i), on(every * i + stays), NestEmptied.HATCHED)
        for i in range(count)
    ]


def ahead(answer, now):
    return [(at - now) / timedelta(days=1) for at in
            (answer.earliest, answer.likeliest, answer.latest)]


def test_after_a_hatch_the_window_counts_from_the_empty_nest():
    now = day(9 * 13 + 9)
    answer = next_spawn(steady(10), OCELLARIS, now=now)
    assert answer.outlook is Outlook.WINDOW
    assert answer.rhythm.counted_from is CountedFrom.NEST_EMPTY
    assert answer.rhythm.mean_days == pytest.approx(5, abs=0.2)
    assert 0 <= ahead(answer, now)[0] < 2
    assert 3 < ahead(answer, now)[1] < 5
    assert answer.reasons[0].startswith("From this pair: 7 gaps")


def test_with_eggs_still_in_the_nest_it_counts_from_the_laying():
    spawns = [*steady(9), Spawn(99, 1, on(9 * 13))]
    answer = next_spawn(spawns, OCELLARIS, now=day(9 * 13 + 1))
    assert answer.rhythm.counted_from is CountedFrom.LAYING
    assert ahead(answer, day(9 * 13 + 1))[1] == pytest.approx(12, abs=0.3)


def test_a_pair_that_lays_beside_old_eggs_counts_from_the_laying_too():
    spawns = [Spawn(i, 1, on(7 * i), on(7 * i + 9), NestEmptied.HATCHED) for i in range(8)]
    answer = next_spawn(spawns, OCELLARIS, now=day(7 * 7 + 9.5))
    assert answer.outlook is Outlook.WINDOW
    assert answer.rhythm.counted_from is CountedFrom.LAYING


@pytest.mark.parametrize("waited", [0, 3, 8, 10, 13, 16, 18, 19, 19.4])
def test_no_date_ever_lies_in_the_past(waited):
    now = day(9 * 13 + waited)
    answer = next_spawn(steady(10), OCELLARIS, now=now)
    if answer.outlook is Outlook.WINDOW:
        assert now <= answer.earliest <= answer.likeliest <= answer.latest
    else:
        assert answer.outlook is Outlook.OVERDUE
        assert answer.earliest is answer.likeliest is answer.latest is None


def test_overdue_at_one_and_a_half_and_stopped_at_three_times_its_own_median():
    laid = 9 * 13
    assert next_spawn(steady(10), OCELLARIS, now=day(laid + 19.6)).outlook is Outlook.OVERDUE
    assert next_spawn(steady(10), OCELLARIS, now=day(laid + 38.9)).outlook is Outlook.OVERDUE
    stopped = next_spawn(steady(10), OCELLARIS, now=day(laid + 39))
    assert stopped.outlook is Outlook.STOPPED
    assert stopped.earliest is None
    assert "its own median is 13" in stopped.reasons[0]


def test_the_species_factors_come_before_the_usual_ones():
    patient = Spawning(10, 21, interval_median_days=14, overdue_factor=2.5, stopped_factor=5)
    answer = next_spawn(steady(1), patient, now=day(22), nest_days=8)
    assert answer.outlook is not Outlook.STOPPED
    assert next_spawn(steady(1), OCELLARIS, now=day(22)).outlook is Outlook.OVERDUE


@pytest.mark.parametrize("why", [EndedBecause.FEMALE_LOST, EndedBecause.SWAPPED])
def test_there_is_no_next_spawn_of_a_pair_that_has_ended(why):
    answer = next_spawn(steady(10), OCELLARIS, now=day(120), ended=why)
    assert answer.outlook is Outlook.NONE
    assert answer.earliest is None
    assert str(why) in answer.reasons[0]


def test_a_pair_that_never_laid_has_published_ranges_and_no_date():
    answer = next_spawn([], OCELLARIS, now=day(3))
    assert answer.outlook is Outlook.NONE
    assert "6–18 months" in answer.reasons[1]


def test_a_species_of_no_known_rhythm_has_no_window():
    assert next_spawn(steady(3), None, now=day(30)).outlook is Outlook.NONE


def test_a_spawn_entered_for_later_is_not_known_yet():
    assert next_spawn(steady(10), OCELLARIS, now=day(14)).rhythm.own_gaps == 0


def test_a_vague_laying_widens_the_window():
    exact = next_spawn([Spawn(1, 1, on(0))], OCELLARIS, now=day(3))
    vague = next_spawn([Spawn(1, 1, When.between(day(-3), day(3)))], OCELLARIS, now=day(3))
    width = [a.latest - a.earliest for a in (exact, vague)]
    assert width[0] < width[1]


def test_the_room_s_other_pairs_speak_before_the_book():
    room = {CountedFrom.LAYING: rhythm_across_pairs({1: [19, 20, 19], 2: [20, 21], 3: [19, 20]})}
    answer = next_spawn([Spawn(1, 1, on(0))], OCELLARIS, now=day(1), room=room)
    assert ahead(answer, day(1))[1] == pytest.approx(room[CountedFrom.LAYING].mean - 1, abs=0.1)


def test_everything_shifts_with_the_days():
    later = [
        Spawn(s.clutch_id, 1, s.laid.shift(timedelta(days=40)),
              s.emptied.shift(timedelta(days=40)), s.how) for s in steady(10)
    ]
    one = next_spawn(steady(10), OCELLARIS, now=day(127))
    two = next_spawn(later, OCELLARIS, now=day(167))
    assert two.likeliest - one.likeliest == timedelta(days=40)
