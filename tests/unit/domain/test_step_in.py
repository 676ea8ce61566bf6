import re
from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.broodstock.body_length import Beside, LengthKind, LengthSeen, size_ratio
from hatchery_app.domain.broodstock.kinship import Kinship
from hatchery_app.domain.broodstock.sex_state import Sex, SexAt, SexEvidence, SexState, Standing
from hatchery_app.domain.broodstock.step_in import (
    Candidate,
    Route,
    Survivor,
    pairs_with_nobody,
    step_in,
)
from hatchery_app.domain.species.species import ReportedTime, SexSystem
from hatchery_app.domain.when import When

LOST = datetime(2025, 6, 6, 8, tzinfo=UTC)
UNRELATED = Kinship(0, 0)
NOT_KNOWN = Kinship(0, 0, (9,))


def after(days):
    return LOST + timedelta(days=days)


def sex(kind, proven=False):
    evidence = (SexEvidence.FERTILE_EGGS,) if proven else (SexEvidence.SIZE_RANK,)
    standing = Standing.PROVEN if proven else Standing.THOUGHT
    return SexAt(SexState(kind, standing, When.exactly(after(-400)), evidence))


def length(mm):
    if mm is None:
        return None
    return LengthSeen(When.exactly(after(-20)), mm, LengthKind.TOTAL)


def fish(fish_id, name, kind, mm, *, his_mm=60, eye=None, proven=False, kinship=UNRELATED, **more):
    """A candidate beside Merle, who measures 60 mm."""
    turned = eye.turned_round if eye else None
    return Candidate(
        fish_id, name, sex(kind, proven), more.pop("species_key", "amphiprion_ocellaris"),
        larger_by=size_ratio(length(mm), length(his_mm), eye, LOST),
        smaller_by=size_ratio(length(his_mm), length(mm), turned, LOST),
        kinship=kinship, place=more.pop("place", "L4"), **more,
    )


MERLE = Survivor(1, "Merle", sex(Sex.MALE, proven=True), "amphiprion_ocellaris",
                 alone_since=When.exactly(LOST))
SMALL = fish(2, "Quill", Sex.JUVENILE, 45)
LARGE = fish(3, "Tansy", Sex.FEMALE, 78, proven=True)


def ask(*candidates, survivor=MERLE, days=3, system=SexSystem.PROTANDROUS, **more):
    return step_in(survivor, candidates, now=after(days), system=system, **more)


def names(ranked):
    return [r.candidate.name for r in ranked]


def test_the_two_routes_are_kept_apart():
    answer = ask(SMALL, LARGE)
    assert names(answer.smaller_mate.offered) == ["Quill"]
    assert names(answer.larger_female.offered) == ["Tansy"]
    assert answer.smaller_mate.words == "A smaller mate, so that Merle may become the female."
    assert answer.larger_female.words == "A ready, larger female, so that Merle stays male."


@pytest.mark.parametrize(("days", "barred"), [(0, False), (17.9, False), (18, True), (400, True)])
def test_a_female_is_barred_once_he_may_have_begun_to_change(days, barred):
    way = ask(LARGE, days=days).larger_female
    assert bool(way.barred) is barred
    assert names(way.offered) == ([] if barred else ["Tansy"])
    if barred:
        assert "some to the death" in way.barred
        assert "Casadevall et al. 2009" in way.barred
        assert way.not_offered[0].refused == way.barred


def test_of_a_loss_between_two_days_the_earliest_counts():
    vague = Survivor(1, "Merle", MERLE.sex, MERLE.species_key,
                     alone_since=When.between(after(-20), after(0)))
    assert "up to 21 days" in ask(LARGE, survivor=vague, days=1).larger_female.barred


def test_a_loss_nobody_can_date_bars_the_female_at_once():
    undated = Survivor(1, "Merle", MERLE.sex, MERLE.species_key)
    assert "not known" in ask(LARGE, survivor=undated, days=0).larger_female.barred


def test_before_a_loss_nothing_has_begun_to_change():
    still = Survivor(1, "Merle", MERLE.sex, MERLE.species_key, is_alone=False)
    assert names(ask(LARGE, survivor=still, days=999).larger_female.offered) == ["Tansy"]


def test_a_survivor_who_may_be_female_already_is_given_no_female():
    turned = Survivor(1, "Merle", sex(Sex.FEMALE), MERLE.species_key,
                      alone_since=When.exactly(LOST))
    answer = ask(LARGE, SMALL, survivor=turned)
    assert "may be, female" in answer.larger_female.barred
    assert names(answer.smaller_mate.offered) == ["Quill"]
    assert "male beside Merle" in answer.smaller_mate.words


def test_kinship_not_known_never_ranks_above_known_unrelated():
    unknown = fish(4, "Ash", Sex.MALE, 45, proven=True, kinship=NOT_KNOWN)
    unrelated = fish(5, "Zinc", Sex.UNKNOWN, None)
    distant = fish(6, "Fern", Sex.JUVENILE, 45, kinship=Kinship(0.03125, 0.03125))
    sister = fish(7, "Elm", Sex.JUVENILE, 45, kinship=Kinship(0.25, 0.25))
    way = ask(unknown, sister, distant, unrelated).smaller_mate
    assert names(way.offered) == ["Zinc", "Fern", "Ash", "Elm"]
    assert "not known" in way.offered[2].reasons[1]
    assert "As close as half siblings or closer." in way.offered[3].cautions


def test_a_fish_clearly_smaller_goes_before_one_that_is_nearly_as_large():
    near = fish(8, "Ash", Sex.JUVENILE, 56)
    way = ask(near, SMALL).smaller_mate
    assert names(way.offered) == ["Quill", "Ash"]
    assert "1.2 is a caution, not a law" in way.offered[1].cautions[0]
    assert way.offered[0].cautions == ()


def test_the_maroon_asks_for_more_of_a_difference():
    assert ask(SMALL).smaller_mate.offered[0].cautions == ()
    wary = ask(SMALL, ratio_wanted=1.5).smaller_mate.offered[0]
    assert "below 1.5" in wary.cautions[0]


def test_clearly_bigger_by_eye_is_enough_and_an_unknown_length_is_said():
    seen = fish(9, "Bay", Sex.FEMALE, None, eye=Beside.CLEARLY_BIGGER, proven=True)
    unseen = fish(10, "Ash", Sex.FEMALE, None, proven=True)
    way = ask(unseen, seen).larger_female
    assert names(way.offered) == ["Bay", "Ash"]
    assert way.offered[0].reasons[0] == "Size: clearly bigger by eye, one length not known."
    assert "side by side first" in way.offered[1].cautions[0]


def test_a_larger_fish_is_no_smaller_mate_and_a_smaller_one_no_larger_female():
    answer = ask(fish(11, "Ash", Sex.MALE, 70), fish(12, "Elm", Sex.FEMALE, 55))
    refused = {r.candidate.name: r.refused for r in answer.smaller_mate.not_offered}
    assert refused["Ash"] == "Not the smaller of the two."
    assert refused["Elm"].startswith("Is, or may be, female.")
    refused = {r.candidate.name: r.refused for r in answer.larger_female.not_offered}
    assert refused["Elm"] == "Not the larger of the two."
    assert refused["Ash"] == "Not known to be a female that is ready."


def test_a_health_bar_keeps_a_fish_on_the_list_with_its_reason_and_off_the_offer():
    ill = fish(13, "Ash", Sex.JUVENILE, 45, bars=("white spots",))
    answer = ask(ill)
    assert answer.is_nobody
    assert answer.smaller_mate.not_offered[0].refused == "Barred: white spots."


def test_a_proven_female_goes_before_one_only_thought_to_be():
    thought = fish(14, "Ash", Sex.FEMALE, 78)
    way = ask(thought, LARGE).larger_female
    assert names(way.offered) == ["Tansy", "Ash"]
    assert "Thought female, not proven by eggs." in way.offered[1].cautions


def test_a_fish_that_is_paired_is_shown_apart_with_what_it_would_break_up():
    paired = fish(15, "Ash", Sex.JUVENILE, 45, mate="Elm")
    answer = ask(paired)
    assert answer.smaller_mate.offered == ()
    assert names(answer.smaller_mate.would_part) == ["Ash"]
    assert answer.is_nobody
    assert "paired with Elm" in answer.smaller_mate.would_part[0].cautions[0]


def test_another_species_is_listed_but_not_offered():
    other = fish(16, "Ash", Sex.JUVENILE, 45, species_key="amphiprion_percula")
    assert "would be a cross" in ask(other).smaller_mate.not_offered[0].refused
    unsaid = fish(17, "Elm", Sex.JUVENILE, 45, species_key="")
    assert "species of one of the two" in ask(unsaid).smaller_mate.offered[0].cautions[0]


def test_age_line_and_place_stand_beside_each_fish():
    shown = fish(18, "Ash", Sex.FEMALE, 78, age_days=(200, 260), variety="black", place="R2 left")
    ranked = ask(shown).larger_female.offered[0]
    assert ranked.reasons[3:] == (
        "Age 7–9 months.",
        "amphiprion_ocellaris, black (another line).",
        "Now in R2 left.",
    )
    assert "Under a year old: females rarely work before 12 to 24 months." in ranked.cautions


def test_ranges_for_the_change_are_text_with_sources_and_never_a_date():
    report = ReportedTime("first signs after 18 days in one male", "Casadevall et al. 2009",
                          "published")
    answer = ask(SMALL, LARGE, change_may_take=(report,))
    assert answer.change_may_take == (report,)
    ranked = (*answer.smaller_mate.offered, *answer.larger_female.offered)
    said = " ".join(text for r in ranked for text in (*r.reasons, *r.cautions))
    assert not re.search(r"\d+ (days|weeks)|20\d\d-", said)


def test_in_a_species_with_separate_sexes_only_a_female_helps_and_size_does_not_decide():
    answer = ask(SMALL, fish(19, "Ash", Sex.FEMALE, 50), system=SexSystem.SEPARATE)
    assert "not male first" in answer.smaller_mate.barred
    assert names(answer.larger_female.offered) == ["Ash"]


def test_pairs_for_which_nobody_could_step_in_are_named():
    assert pairs_with_nobody({1: ask(SMALL), 2: ask(), 3: ask(LARGE)}) == (2,)


def test_the_survivor_is_no_candidate_for_itself():
    himself = fish(1, "Merle", Sex.MALE, 60)
    answer = ask(himself)
    assert answer.smaller_mate.not_offered == ()
    assert answer.larger_female.route is Route.LARGER_FEMALE
