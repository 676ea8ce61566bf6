from datetime import UTC, datetime

import pytest

from hatchery_app.domain.broodstock.broodstock import (
    BroodGroup,
    Fish,
    HealthBar,
    LeftGroup,
    NameHeld,
    SpeciesOpinion,
    bars_at,
    check_may_be_deleted,
    dorsal_spines_say,
    species_at,
    told_apart,
    who_was,
)
from hatchery_app.domain.broodstock.pairing import PairLink, pair_from_group
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.when import When


def at(year, month, day):
    return datetime(year, month, day, 12, tzinfo=UTC)


def on(year, month, day):
    return When.exactly(at(year, month, day))


def test_species_is_an_opinion_and_the_newest_one_holds():
    opinions = [
        SpeciesOpinion("amphiprion_percula", on(2023, 1, 1), ("bought as percula",)),
        SpeciesOpinion("amphiprion_ocellaris", on(2024, 1, 1), ("11 dorsal spines",)),
    ]
    assert species_at(opinions, at(2023, 6, 1)).species_key == "amphiprion_percula"
    assert species_at(opinions, at(2024, 6, 1)).evidence == ("11 dorsal spines",)
    assert species_at([], at(2024, 6, 1)) is None


def test_a_count_of_dorsal_spines_that_says_nothing_says_so():
    assert "says nothing" in dorsal_spines_say(12)
    with pytest.raises(Asked):
        dorsal_spines_say(110)


def test_a_bar_holds_until_it_is_lifted_for_certain():
    lifted = When.between(at(2025, 2, 1), at(2025, 2, 10))
    bars = [HealthBar("white spots", on(2025, 1, 1), lifted), HealthBar("thin", on(2025, 2, 5))]
    assert bars_at(bars, at(2024, 12, 1)) == ()
    assert bars_at(bars, at(2025, 2, 6)) == ("white spots", "thin")
    assert bars_at(bars, at(2025, 2, 10)) == ("thin",)
    with pytest.raises(RuleBroken):
        HealthBar(" ", on(2025, 1, 1))


def test_age_is_a_range_when_the_hatch_is_vague_and_not_known_without_one():
    fish = Fish(1, "Rusk", born=When.between(at(2024, 1, 1), at(2024, 1, 11)))
    assert fish.age_days(at(2024, 2, 10)) == (30, 40)
    assert fish.age_days(at(2024, 1, 5)) is None
    assert Fish(2, "Tansy").age_days(at(2024, 1, 5)) is None


def test_a_fish_cannot_be_gone_before_it_hatched():
    with pytest.raises(RuleBroken):
        Fish(1, "Rusk", born=on(2024, 5, 1), gone=on(2024, 4, 1))


def test_a_fish_is_here_from_its_arrival_until_it_is_gone():
    fish = Fish(1, "Rusk", arrived=on(2024, 1, 1), gone=on(2024, 6, 1))
    assert [fish.is_here_at(at(2024, m, 2)) for m in (1, 5, 6)] == [True, True, False]
    assert not fish.is_here_at(at(2023, 12, 1))


def test_c51_a_group_of_six_forms_its_own_pair_and_one_goes_missing():
    group = BroodGroup(9, "the six from Bay", 6, on(2025, 2, 1))
    link = PairLink(1, female_id=21, male_id=22, since=on(2025, 5, 20))
    left, pair = pair_from_group(group.number_at(at(2025, 5, 20)), link, (21, 22))
    assert (left, pair) == (4, link)
    later = BroodGroup(9, group.name, 6, group.since, (
        LeftGroup(on(2025, 5, 20), 2, "pair formed", (21, 22)),
        LeftGroup(on(2025, 7, 1), 1, "missing"),
    ))
    assert later.number_at(at(2025, 5, 19)) == 6
    assert later.number_at(at(2025, 6, 11)) == 4
    assert later.number_at(at(2025, 7, 1)) == 3
    accounted = later.accounted_at(at(2025, 7, 1))
    assert accounted == {"pair formed": 2, "missing": 1}
    assert later.number_at(at(2025, 7, 1)) + sum(accounted.values()) == 6


def test_no_more_fish_leave_a_group_than_there_were():
    with pytest.raises(RuleBroken, match="there were 2"):
        BroodGroup(9, "two", 2, on(2025, 1, 1), (LeftGroup(on(2025, 2, 1), 3, "died"),))
    link = PairLink(1, 21, 22, on(2025, 5, 20))
    with pytest.raises(RuleBroken):
        pair_from_group(1, link, (21, 22))
    with pytest.raises(RuleBroken):
        pair_from_group(6, link, (21, 99))


RUBY = (
    NameHeld(1, "Ditto", on(2020, 3, 1), on(2023, 4, 1)),
    NameHeld(2, "Ditto", on(2025, 1, 1)),
)


def test_one_name_twice_is_told_by_the_date():
    assert who_was("ditto ", at(2022, 1, 1), RUBY) == 1
    assert who_was("Ditto", at(2025, 6, 1), RUBY) == 2
    with pytest.raises(RuleBroken, match="other dates"):
        who_was("Ditto", at(2024, 1, 1), RUBY)
    with pytest.raises(RuleBroken):
        who_was("Quill", at(2024, 1, 1), RUBY)


def test_it_is_asked_where_two_of_one_name_fit():
    both = (*RUBY, NameHeld(3, "Ditto", on(2025, 1, 1)))
    with pytest.raises(Asked) as asked:
        who_was("Ditto", at(2025, 6, 1), both)
    assert asked.value.answers == (("2", "Ditto (since 2025, no. 2)"),
                                   ("3", "Ditto (since 2025, no. 3)"))


def test_lists_add_years_only_where_a_name_stands_twice():
    labels = told_apart([*RUBY, NameHeld(4, "Merle", None)])
    assert labels == {1: "Ditto (2020–2023)", 2: "Ditto (since 2025)", 4: "Merle"}


def test_c77_a_fish_with_descendants_is_not_deleted_but_may_be_merged():
    check_may_be_deleted("Rusk", 0, ())
    with pytest.raises(RuleBroken, match="3 clutches"):
        check_may_be_deleted("Rusk", 3, ())
    with pytest.raises(Asked) as asked:
        check_may_be_deleted("Rusk", 3, [(4, "Rusk (since 2024)")])
    assert asked.value.answers == (("4", "Merge with Rusk (since 2024)"),)
