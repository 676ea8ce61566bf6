from datetime import UTC, datetime, timedelta
from types import MappingProxyType

import pytest

from hatchery_app.domain.broodstock.body_length import Beside, LengthKind, LengthSeen, SizeCompared
from hatchery_app.domain.broodstock.broodstock import Fish, HealthBar, SpeciesOpinion
from hatchery_app.domain.broodstock.kinship import Birth, Pedigree
from hatchery_app.domain.broodstock.pairing import EndedBecause, LinkKind, PairLink
from hatchery_app.domain.broodstock.sex_state import Sex, SexEvidence, SexState, Standing
from hatchery_app.domain.broodstock.step_in import pairs_with_nobody
from hatchery_app.domain.broodstock.stock_step_in import BreedingStock
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.species.species import (
    BroodMode,
    Growth,
    PairRule,
    ReportedTime,
    SexSystem,
    Species,
    Water,
)
from hatchery_app.domain.species.species import Sex as SexOfSpecies
from hatchery_app.domain.when import When

NOW = datetime(2025, 6, 9, 10, tzinfo=UTC)
OCELLARIS = "amphiprion_ocellaris"
MAROON = "amphiprion_biaculeatus"


def ago(days):
    return When.exactly(NOW - timedelta(days=days))


def species(key, ratio):
    reports = (ReportedTime("over a year", "keepers' accounts", "common practice"),)
    return Species(
        key, key, key, (), BroodMode.GUARDED_EGGS, "male", None, None, None, None,
        SexOfSpecies(SexSystem.PROTANDROUS, "male first", change=reports),
        PairRule(size_ratio_caution=ratio), Water(), Growth(),
    )


LIBRARY = MappingProxyType({OCELLARIS: species(OCELLARIS, 1.2), MAROON: species(MAROON, 1.5)})


def fish(fish_id, name, sex, mm, *, key=OCELLARIS, **more):
    evidence = (SexEvidence.FERTILE_EGGS,) if sex in (Sex.MALE, Sex.FEMALE) else ()
    standing = Standing.PROVEN if evidence else Standing.THOUGHT
    return Fish(
        fish_id, name,
        opinions=(SpeciesOpinion(key, ago(300), ("bred here",)),),
        sexes=(SexState(sex, standing, ago(200), evidence),),
        lengths=(LengthSeen(ago(30), mm, LengthKind.TOTAL),) if mm else (),
        **more,
    )


TANSY, MERLE = fish(1, "Tansy", Sex.FEMALE, 80), fish(2, "Merle", Sex.MALE, 62)
BAY, RUSK = fish(3, "Bay", Sex.FEMALE, 78, key=MAROON), fish(4, "Rusk", Sex.MALE, 50, key=MAROON)
QUILL = fish(5, "Quill", Sex.JUVENILE, 45)
ELM = fish(6, "Elm", Sex.JUVENILE, 44)
LINKS = (PairLink(1, 1, 2, ago(400)), PairLink(2, 3, 4, ago(100)))
DESCENT = Pedigree((Birth(1, is_founder=True), Birth(2, is_founder=True),
                    Birth(5, is_founder=True), Birth(6, (2,), (1,))))


def stock(*fish_here, links=LINKS, compared=()):
    here = {f.fish_id for f in fish_here}
    links = tuple(k for k in links if k.fish_ids <= here)
    return BreedingStock(fish_here, links, DESCENT, LIBRARY, compared, {5: "L4", 6: "G2"})


def names(ranked):
    return [r.candidate.name for r in ranked]


def test_before_any_loss_each_pair_has_its_ranking_and_pairs_with_nobody_are_named():
    answers = stock(TANSY, MERLE, BAY, RUSK, QUILL, ELM).before_any_loss(NOW)
    assert names(answers[1].smaller_mate.offered) == ["Quill", "Elm"]
    assert pairs_with_nobody(answers) == (2,)
    refused = {r.candidate.name: r.refused for r in answers[2].smaller_mate.not_offered}
    assert refused["Quill"] == "Another species (amphiprion_ocellaris): the young would be a cross."
    assert "Tansy" not in refused or "cross" in refused["Tansy"]


def test_a_fish_of_the_pair_itself_does_not_step_in_for_its_own_mate():
    answer = stock(TANSY, MERLE, QUILL).before_any_loss(NOW)[1]
    assert names(answer.larger_female.offered) == []
    assert names(answer.smaller_mate.offered) == ["Quill"]


def test_his_own_daughter_ranks_below_a_wild_fish_with_the_inbreeding_said():
    answer = stock(TANSY, MERLE, ELM, QUILL).before_any_loss(NOW)[1]
    elm = answer.smaller_mate.offered[1]
    assert elm.reasons[1] == "Kinship, and expected inbreeding of the young: 0.25."
    assert elm.reasons[-1] == "Now in G2."


def test_after_the_loss_the_female_that_died_is_no_candidate():
    gone = fish(1, "Tansy", Sex.FEMALE, 80, gone=ago(3), gone_how="died")
    ended = PairLink(1, 1, 2, ago(400), ago(3), EndedBecause.FEMALE_LOST)
    room = stock(gone, MERLE, BAY, RUSK, QUILL, links=(ended, LINKS[1]))
    answer = room.step_in_for(2, now=NOW, alone_since=ago(3))
    listed = {r.candidate.name for r in answer.larger_female.not_offered}
    assert listed == {"Bay", "Rusk", "Quill"}
    assert answer.change_may_take[0].words == "over a year"


def test_a_fish_in_another_pair_is_shown_as_what_it_would_break_up():
    rival = fish(8, "Ash", Sex.FEMALE, 82)
    mate = fish(9, "Fern", Sex.MALE, 58)
    room = stock(TANSY, MERLE, rival, mate, links=(LINKS[0], PairLink(3, 8, 9, ago(50))))
    answer = room.before_any_loss(NOW)[1]
    assert names(answer.larger_female.would_part) == ["Ash"]
    assert answer.larger_female.would_part[0].candidate.mate == "Fern"


def test_a_fish_only_kept_with_another_is_free():
    rival = fish(8, "Ash", Sex.FEMALE, 82)
    held = PairLink(3, 8, 5, ago(50), kind=LinkKind.KEPT_WITH)
    answer = stock(TANSY, MERLE, rival, QUILL, links=(LINKS[0], held)).before_any_loss(NOW)[1]
    assert names(answer.larger_female.offered) == ["Ash"]


def test_the_maroon_s_own_ratio_is_asked_for():
    small = fish(8, "Ash", Sex.JUVENILE, 40, key=MAROON)
    answer = stock(BAY, RUSK, small, links=(LINKS[1],)).before_any_loss(NOW)[2]
    assert "below 1.5" in answer.smaller_mate.offered[0].cautions[0]


def test_a_look_by_eye_stands_in_for_a_length():
    unmeasured = fish(8, "Ash", Sex.FEMALE, None)
    seen = SizeCompared(ago(2), 2, 8, Beside.CLEARLY_SMALLER)
    answer = stock(TANSY, MERLE, unmeasured, compared=(seen,)).before_any_loss(NOW)[1]
    assert answer.larger_female.offered[0].reasons[0].startswith("Size: clearly bigger by eye")


def test_a_bar_that_holds_today_is_the_reason_a_fish_is_not_offered():
    ill = fish(8, "Ash", Sex.JUVENILE, 45, bars=(HealthBar("thin", ago(5)),))
    answer = stock(TANSY, MERLE, ill).before_any_loss(NOW)[1]
    assert answer.smaller_mate.not_offered[0].refused == "Barred: thin."


def test_a_fish_whose_species_nobody_gave_has_no_rule_to_go_by():
    nameless = Fish(8, "Ash")
    answer = stock(nameless, QUILL, links=()).step_in_for(8, now=NOW, alone_since=ago(1))
    assert answer.smaller_mate.barred
    with pytest.raises(NotKnown):
        stock(MERLE).step_in_for(99, now=NOW)
