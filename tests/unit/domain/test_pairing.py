from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.broodstock.pairing import (
    EndedBecause,
    LinkKind,
    PairLink,
    links_at,
    overlapping,
    pairs_at,
    settle_new_link,
    single_since,
)
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.when import When

START = datetime(2025, 1, 1, tzinfo=UTC)
G, P, L, W, THIRD = 1, 2, 3, 4, 5


def day(n):
    return START + timedelta(days=n)


def on(n):
    return When.exactly(day(n))


def test_one_fish_is_not_a_pair():
    with pytest.raises(RuleBroken, match="same fish"):
        PairLink(1, G, G, on(0))


def test_a_pair_ends_after_it_began_and_a_reason_needs_its_day():
    with pytest.raises(RuleBroken):
        PairLink(1, G, P, on(10), on(9))
    with pytest.raises(RuleBroken, match="not when"):
        PairLink(1, G, P, on(10), None, EndedBecause.SOLD)


def test_a_male_put_to_a_second_female_is_asked_about():
    links = [PairLink(1, G, P, on(0))]
    with pytest.raises(Asked) as asked:
        settle_new_link(PairLink(2, L, P, on(50)), links)
    assert asked.value.question == "overlapping_pairs"
    assert [value for value, _ in asked.value.answers] == ["move", "kept_with"]


def test_answered_as_a_move_the_earlier_pair_ends_that_day():
    links = [PairLink(1, G, P, on(0))]
    new = PairLink(2, L, P, on(50))
    settled = settle_new_link(new, links, answer="move")
    assert settled.link == new
    assert settled.ended == (PairLink(1, G, P, on(0), on(50), EndedBecause.SWAPPED),)


def test_answered_as_kept_with_the_earlier_pair_stands():
    links = [PairLink(1, G, P, on(0))]
    settled = settle_new_link(PairLink(2, THIRD, P, on(50)), links, answer="kept_with")
    assert settled.link.kind is LinkKind.KEPT_WITH
    assert settled.ended == ()


def test_kept_with_never_overlaps_with_a_pair():
    links = [PairLink(1, L, P, on(0))]
    third = PairLink(2, THIRD, P, on(10), kind=LinkKind.KEPT_WITH)
    assert settle_new_link(third, links).link == third
    assert pairs_at(P, [*links, third], day(20)) == (links[0],)
    assert links_at(P, [third, *links], day(20)) == (links[0], third)


def test_two_tanks_on_one_day_is_a_move():
    ended = PairLink(1, G, P, on(0), When.exactly(day(50) + timedelta(hours=15)),
                     EndedBecause.SWAPPED)
    assert overlapping(PairLink(2, L, P, When.exactly(day(50) + timedelta(hours=9))), [ended]) == ()


def test_vague_dates_that_allow_a_move_are_not_asked_about():
    ended = PairLink(1, G, P, on(0), When.between(day(20), day(60)), EndedBecause.SWAPPED)
    assert overlapping(PairLink(2, L, P, When.between(day(25), day(40))), [ended]) == ()


def test_a_late_entry_inside_an_ended_pair_can_only_be_kept_with():
    ended = PairLink(1, G, P, on(0), on(60), EndedBecause.SOLD)
    new = PairLink(2, L, P, on(20), on(40), EndedBecause.SEPARATED)
    with pytest.raises(Asked) as asked:
        settle_new_link(new, [ended], answer="move")
    assert [value for value, _ in asked.value.answers] == ["kept_with"]


def test_two_fish_that_stand_as_a_pair_are_not_paired_again():
    with pytest.raises(RuleBroken, match="already"):
        settle_new_link(PairLink(2, G, P, on(9)), [PairLink(1, G, P, on(0))], answer="move")


def test_c49_after_a_swap_each_fish_stands_in_its_own_new_pair():
    links = [PairLink(1, G, P, on(0), on(50), EndedBecause.SWAPPED),
             PairLink(2, L, P, on(50)), PairLink(3, G, W, on(52))]
    assert [k.pair_id for k in pairs_at(G, links, day(49))] == [1]
    assert pairs_at(G, links, day(51)) == ()
    assert [k.pair_id for k in pairs_at(G, links, day(53))] == [3]
    assert [k.pair_id for k in pairs_at(P, links, day(50))] == [2]
    assert links[2].mate_of(W) == G
    with pytest.raises(RuleBroken):
        links[2].mate_of(P)


def test_a_fish_is_single_since_its_last_pair_ended():
    links = [PairLink(1, G, P, on(0), on(50), EndedBecause.FEMALE_LOST)]
    assert single_since(P, links, day(60)) == on(50)
    assert single_since(P, links, day(40)) is None
    assert single_since(W, links, day(60)) is None
    assert single_since(P, [*links, PairLink(2, L, P, on(55))], day(60)) is None
