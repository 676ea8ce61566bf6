from datetime import UTC, datetime

import pytest

from hatchery_app.domain.broodstock.breeding_stock import (
    effective_size,
    founder_equivalents,
    founder_shares,
    stock_kinship,
)
from hatchery_app.domain.broodstock.kinship import (
    Birth,
    Pedigree,
    births_of_clutch,
    expected_inbreeding,
    inbreeding_of,
    kinship_of,
    relationship_matrix,
)
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.spawn.parents import KnownAs, Parent, Parents
from hatchery_app.domain.when import When


def wild(*ids):
    return tuple(Birth(i, is_founder=True) for i in ids)


def young(fish_id, sires, dams):
    as_ids = [(x,) if isinstance(x, int) else tuple(x) for x in (sires, dams)]
    return Birth(fish_id, *as_ids)


def test_two_wild_fish_are_taken_as_unrelated():
    kinship = kinship_of(Pedigree(wild(1, 2)), 1, 2)
    assert kinship.is_unrelated
    assert kinship.said() == "0"


def test_two_bought_fish_are_not_known_to_be_unrelated():
    kinship = kinship_of(Pedigree((Birth(1), Birth(2))), 1, 2)
    assert not kinship.is_known
    assert not kinship.is_unrelated
    assert kinship.said() == "not known"
    assert kinship.unknown_through == (1, 2)


def test_a_wild_fish_new_to_the_room_is_unrelated_even_to_a_bought_one():
    assert kinship_of(Pedigree((*wild(1), Birth(2))), 1, 2).is_unrelated


def test_a_wild_fish_with_young_here_may_be_behind_an_unknown_parent():
    pedigree = Pedigree((*wild(1, 2), young(3, 1, 2), Birth(4)))
    assert not kinship_of(pedigree, 1, 4).is_known


def test_with_one_parent_unknown_the_least_kinship_is_said():
    pedigree = Pedigree((*wild(1), young(3, 1, ()), young(4, 1, ())))
    kinship = kinship_of(pedigree, 3, 4)
    assert kinship.said() == "not known, at least 0.125"
    assert kinship.unknown_through == (3, 4)


def test_one_of_two_fathers_gives_a_range():
    pedigree = Pedigree((*wild(1, 2, 3), young(4, 1, 3), young(5, (1, 2), 3)))
    kinship = kinship_of(pedigree, 4, 5)
    assert (kinship.low, kinship.high) == (0.125, 0.25)
    assert kinship.is_known
    assert kinship.said() == "0.125–0.25"


def test_two_of_a_group_are_never_one_fish_twice():
    pedigree = Pedigree((*wild(1, 2), young(3, (1, 2), (1, 2))))
    assert inbreeding_of(pedigree, 3).high == 0.0
    assert kinship_of(pedigree, 3, 1).said() == "0.25"


def test_too_many_candidates_are_not_guessed_at():
    group = tuple(range(1, 30))
    pedigree = Pedigree((*wild(*group), young(40, group, group), young(41, group, group)))
    kinship = kinship_of(pedigree, 40, 41)
    assert kinship.too_many
    assert kinship.said() == "not known"
    assert not stock_kinship(pedigree, [40, 41]).mean.is_known


def test_the_young_of_one_clutch_have_one_father_whichever_it_was():
    parents = Parents(Parent.fish(3), Parent.one_of(1, 2))
    pedigree = Pedigree((*wild(1, 2, 3), *births_of_clutch(50, parents, [10, 11])))
    assert kinship_of(pedigree, 10, 11).said() == "0.25"
    assert kinship_of(pedigree, 10, 1).said() == "0–0.25"


def test_the_young_of_nameless_wild_parents_are_full_siblings_and_known_to_be():
    parents = Parents(Parent(KnownAs.WILD), Parent(KnownAs.WILD))
    pedigree = Pedigree((*wild(1), *births_of_clutch(50, parents, [10, 11])))
    assert kinship_of(pedigree, 10, 11).said() == "0.25"
    assert kinship_of(pedigree, 10, 1).is_unrelated


def test_the_young_of_bought_parents_are_siblings_at_least():
    parents = Parents(Parent(KnownAs.BOUGHT), Parent(KnownAs.UNKNOWN))
    pedigree = Pedigree(births_of_clutch(50, parents, [10, 11]))
    assert kinship_of(pedigree, 10, 11).said() == "not known, at least 0.25"


def test_one_clutch_has_not_two_sets_of_parents():
    with pytest.raises(RuleBroken, match="different parents"):
        Pedigree((Birth(4, (1,), clutch_id=50), Birth(5, (2,), clutch_id=50)))


def test_a_fish_once_sire_and_once_dam_makes_half_siblings():
    pedigree = Pedigree((*wild(1, 5, 7), young(6, 1, 5), young(8, 7, 1)))
    assert expected_inbreeding(pedigree, 6, 8).said() == "0.125"


@pytest.mark.parametrize("make", [
    lambda: young(3, 3, 1),
    lambda: young(3, 1, 1),
    lambda: Birth(3, (1,), is_founder=True),
    lambda: Pedigree((young(1, 2, 3), young(2, 1, 4))),
    lambda: Pedigree((young(1, (8, 9), 3), young(9, 4, 1))),
    lambda: Pedigree((Birth(1), Birth(1))),
])
def test_a_pedigree_that_cannot_be_is_refused(make):
    with pytest.raises(RuleBroken):
        make()


def test_selfing_is_refused():
    with pytest.raises(RuleBroken, match="both parents"):
        expected_inbreeding(Pedigree(wild(1)), 1, 1)


def test_a_parent_younger_than_its_young_is_refused():
    old, new = (When.exactly(datetime(y, 1, 1, tzinfo=UTC)) for y in (2020, 2024))
    with pytest.raises(RuleBroken, match="hatched no earlier"):
        Pedigree((Birth(1, born=new), Birth(2, born=old), Birth(3, (1,), (2,), born=old)))
    vague = When.between(old.earliest, new.latest)
    Pedigree((Birth(1, born=vague), Birth(3, (1,), born=When.exactly(new.latest))))


def test_many_paths_to_one_ancestor_are_no_circle():
    pedigree = Pedigree((*wild(1, 2), young(3, 1, 2), young(4, 3, 1), young(5, 4, 3)))
    assert set(pedigree.parents_first([5])) == {1, 2, 3, 4, 5}


def test_the_matrix_wants_parents_before_their_young():
    with pytest.raises(RuleBroken):
        relationship_matrix((3, 1), {3: (1, None), 1: (None, None)})


def test_a_deep_pedigree_is_walked_without_running_out_of_stack():
    births = [young(i, i - 2, i - 1) for i in range(2, 400)]
    assert len(Pedigree(tuple(births)).parents_first([399])) == 400


def test_founders_shares_add_up_with_what_came_through_unknown_parents():
    pedigree = Pedigree((*wild(1, 2), young(3, 1, 2), young(4, 3, ())))
    shares = {s.fish_id: s.low for s in founder_shares(pedigree, [3, 4])}
    assert shares == {1: 0.375, 2: 0.375, None: 0.25}
    assert sum(shares.values()) == 1


def test_founders_shares_run_from_least_to_most_over_candidates():
    pedigree = Pedigree((*wild(1, 2, 3), young(4, (1, 2), 3)))
    shares = {s.fish_id: (s.low, s.high) for s in founder_shares(pedigree, [4])}
    assert shares == {1: (0.0, 0.5), 2: (0.0, 0.5), 3: (0.5, 0.5)}


def test_mean_kinship_carries_along_what_is_not_known():
    stock = stock_kinship(Pedigree((*wild(1), Birth(2))), [1, 2])
    assert stock.of_fish[1].low == 0.25
    assert not stock.mean.is_known
    with pytest.raises(RuleBroken):
        stock_kinship(Pedigree(()), [])


def test_numbers_that_make_no_stock_are_refused():
    with pytest.raises(RuleBroken):
        effective_size(0, 4)
    with pytest.raises(RuleBroken):
        founder_equivalents([0.5, 0.6])
