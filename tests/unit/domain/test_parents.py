"""Who made a clutch, as far as it is known."""

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.spawn.parents import KnownAs, Parent, Parents

RUSK, TANSY, MERLE, DITTO, GROUP_B4 = 1, 2, 3, 4, 9
NAMES = {RUSK: "Rusk", TANSY: "Tansy", MERLE: "Merle", DITTO: "Ditto", GROUP_B4: "the group in B4"}


@pytest.mark.parametrize(
    ("parent", "words"),
    [
        (Parent.fish(RUSK), "Rusk"),
        (Parent.one_of(RUSK, MERLE), "one of Rusk and Merle"),
        (Parent.one_of(RUSK, MERLE, DITTO), "one of Rusk, Merle and Ditto"),
        (Parent.group(GROUP_B4), "one of the group in B4"),
        (Parent.bought("a proven female"), "bought, seller says a proven female"),
        (Parent.bought(), "bought"),
        (Parent.wild("a reef off the cape"), "wild, a reef off the cape"),
        (Parent.wild(), "wild"),
        (Parent.unknown(), "unknown"),
    ],
)
def test_a_parent_is_said_as_far_as_it_is_known(parent: Parent, words: str) -> None:
    assert parent.said(NAMES) == words


@pytest.mark.parametrize(
    ("parents", "words"),
    [
        (Parents(Parent.fish(TANSY), Parent.fish(RUSK)), "female Tansy, male Rusk"),
        (
            Parents(Parent.fish(TANSY), Parent.one_of(RUSK, MERLE)),
            "female Tansy, male one of Rusk and Merle",
        ),
        (Parents(Parent.group(GROUP_B4), Parent.group(GROUP_B4)), "two of the group in B4"),
        (
            Parents(Parent.one_of(RUSK, MERLE), Parent.one_of(RUSK, MERLE)),
            "Rusk and Merle, which is which not known",
        ),
        (
            Parents(Parent.one_of(RUSK, MERLE, DITTO), Parent.one_of(RUSK, MERLE, DITTO)),
            "two of Rusk, Merle and Ditto",
        ),
        (Parents(Parent.wild(), Parent.wild()), "wild"),
        (Parents.unknown(), "unknown"),
        (Parents(Parent.fish(TANSY), Parent.unknown()), "female Tansy, male unknown"),
    ],
)
def test_both_parents_are_said_together(parents: Parents, words: str) -> None:
    assert parents.said(NAMES) == words


def test_one_fish_cannot_be_both_parents() -> None:
    with pytest.raises(RuleBroken, match="both mother and father") as refused:
        Parents(Parent.fish(RUSK), Parent.fish(RUSK))
    assert refused.value.field == "parents"


def test_the_father_of_one_clutch_may_be_the_mother_of_another() -> None:
    earlier = Parents(Parent.fish(TANSY), Parent.fish(RUSK))
    later = Parents(Parent.fish(RUSK), Parent.fish(MERLE))
    assert earlier.male == later.female


def test_the_certain_mother_is_no_candidate_for_the_father() -> None:
    parents = Parents(Parent.fish(RUSK), Parent.one_of(RUSK, MERLE, DITTO))
    assert parents.male_candidates == (MERLE, DITTO)
    assert parents.candidates == (RUSK, MERLE, DITTO)


def test_two_that_may_each_be_either_are_both_candidates_twice_over() -> None:
    parents = Parents(Parent.one_of(RUSK, MERLE), Parent.one_of(RUSK, MERLE))
    assert parents.female_candidates == parents.male_candidates == (RUSK, MERLE)
    assert parents.candidates == (RUSK, MERLE)


def test_a_group_or_the_sea_names_no_fish() -> None:
    assert Parents(Parent.group(GROUP_B4), Parent.wild()).candidates == ()


@pytest.mark.parametrize(
    ("known_as", "fish_ids", "group_id"),
    [
        (KnownAs.FISH, (), None),
        (KnownAs.FISH, (RUSK, MERLE), None),
        (KnownAs.ONE_OF, (RUSK,), None),
        (KnownAs.ONE_OF, (RUSK, RUSK), None),
        (KnownAs.GROUP, (), None),
        (KnownAs.GROUP, (RUSK,), GROUP_B4),
        (KnownAs.WILD, (RUSK,), None),
        (KnownAs.UNKNOWN, (), GROUP_B4),
    ],
)
def test_fish_that_do_not_fit_what_is_known_are_refused(
    known_as: KnownAs, fish_ids: tuple[int, ...], group_id: int | None
) -> None:
    with pytest.raises(RuleBroken):
        Parent(known_as, fish_ids, group_id)
