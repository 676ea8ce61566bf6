from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.broodstock.sex_state import (
    Role,
    RoleInClutch,
    Sex,
    SexEvidence,
    SexState,
    Standing,
    check_next_state,
    may_become,
    roles_by_size,
    roles_said,
    sex_at,
    state_shown_by,
)
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.species.species import SexSystem
from hatchery_app.domain.when import When

START = datetime(2024, 5, 1, 10, tzinfo=UTC)


def day(n):
    return START + timedelta(days=n)


def on(n):
    return When.exactly(day(n))


def thought(sex, n, *evidence):
    return SexState(sex, Standing.THOUGHT, on(n), evidence)


def proven(sex, n, evidence=SexEvidence.FERTILE_EGGS):
    return SexState(sex, Standing.PROVEN, on(n), (evidence,))


def test_a_fish_nobody_spoke_of_has_a_sex_not_known():
    assert sex_at([], day(0)).sex is Sex.UNKNOWN
    assert sex_at([], day(0)).said() == "sex not known"


def test_the_newest_state_begun_by_a_moment_is_the_one_that_holds():
    states = [proven(Sex.FEMALE, 500, SexEvidence.LAYING_SEEN), proven(Sex.MALE, 10)]
    assert sex_at(states, day(9)).sex is Sex.UNKNOWN
    assert sex_at(states, day(10)).sex is Sex.MALE
    assert sex_at(states, day(499)).sex is Sex.MALE
    assert sex_at(states, day(500)).said() == "female, proven by laying seen"


def test_a_change_between_two_days_is_perhaps_in_between():
    states = [proven(Sex.MALE, 0), SexState(Sex.FEMALE, Standing.THOUGHT,
                                            When.between(day(100), day(140)))]
    seen = sex_at(states, day(120))
    assert seen.sex is Sex.MALE
    assert seen.may_be_female
    assert seen.said() == "male, proven by fertile eggs; perhaps already female, thought"
    assert sex_at(states, day(140)).sex is Sex.FEMALE


def test_a_vague_entry_of_the_same_sex_is_not_a_change():
    vague = SexState(Sex.MALE, Standing.THOUGHT, When.between(day(3), day(9)))
    states = [proven(Sex.MALE, 5), vague]
    assert sex_at(states, day(6)).perhaps is None


def test_a_sex_is_proven_by_eggs_and_by_nothing_else():
    for weak in (SexEvidence.SIZE_RANK, SexEvidence.PAPILLA, SexEvidence.BEHAVIOUR,
                 SexEvidence.SELLER_SAYS):
        with pytest.raises(RuleBroken, match="not proven by"):
            proven(Sex.FEMALE, 0, weak)
    with pytest.raises(RuleBroken):
        SexState(Sex.JUVENILE, Standing.PROVEN, on(0), (SexEvidence.FERTILE_EGGS,))


def test_a_fish_seen_laying_is_no_male():
    with pytest.raises(RuleBroken, match="seen laying"):
        thought(Sex.MALE, 0, SexEvidence.LAYING_SEEN)


def test_thought_by_size_then_by_behaviour_then_proven_keeps_its_whole_history():
    states = [
        thought(Sex.FEMALE, 0, SexEvidence.SIZE_RANK),
        thought(Sex.MALE, 40, SexEvidence.BEHAVIOUR),
        proven(Sex.FEMALE, 700, SexEvidence.LAYING_SEEN),
    ]
    assert [sex_at(states, day(n)).said() for n in (1, 41, 701)] == [
        "female, thought (size rank)",
        "male, thought (behaviour)",
        "female, proven by laying seen",
    ]


def test_a_female_called_male_is_asked_about_in_a_species_that_is_male_first():
    history = [thought(Sex.FEMALE, 0, SexEvidence.SIZE_RANK)]
    with pytest.raises(Asked) as asked:
        check_next_state(history, thought(Sex.MALE, 40), SexSystem.PROTANDROUS)
    assert [value for value, _ in asked.value.answers] == ["earlier_wrong", "as_seen"]
    check_next_state(history, thought(Sex.MALE, 40), SexSystem.BOTH_WAYS)


def test_a_male_that_becomes_a_female_is_not_asked_about():
    check_next_state([proven(Sex.MALE, 0)], thought(Sex.FEMALE, 90), SexSystem.PROTANDROUS)
    with pytest.raises(Asked):
        check_next_state([proven(Sex.MALE, 0)], thought(Sex.FEMALE, 90), SexSystem.SEPARATE)


def test_sire_once_and_dam_now_are_two_roles_of_one_fish_in_order():
    roles = [RoleInClutch(10 + i, Role.DAM, on(800 + 14 * i)) for i in range(2)]
    roles += [RoleInClutch(i, Role.SIRE, on(14 * i), eggs_were_fertile=True) for i in range(9)]
    assert roles_said(roles) == "sire of 9 clutches, then dam of 2 clutches"
    assert roles_said([]) == "no clutch yet"
    states = [state_shown_by(part) for part in roles]
    assert sex_at(states, day(100)).said() == "male, proven by fertile eggs"
    assert sex_at(states, day(900)).said() == "female, proven by laying seen"


def test_a_sire_of_eggs_that_never_developed_is_only_thought_male():
    part = RoleInClutch(1, Role.SIRE, on(0), eggs_were_fertile=False)
    assert state_shown_by(part).standing is Standing.THOUGHT


def test_by_size_alone_the_largest_is_thought_female_and_the_next_male():
    assert roles_by_size([7, 3, 9], SexSystem.PROTANDROUS) == {
        7: Sex.FEMALE, 3: Sex.MALE, 9: Sex.JUVENILE,
    }


def test_size_says_nothing_of_a_fish_alone_or_of_a_species_with_separate_sexes():
    assert roles_by_size([7], SexSystem.PROTANDROUS) == {7: Sex.UNKNOWN}
    assert set(roles_by_size([7, 3], SexSystem.SEPARATE).values()) == {Sex.UNKNOWN}
    assert may_become(Sex.MALE, SexSystem.SEPARATE) == frozenset()
