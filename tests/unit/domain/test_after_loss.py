from datetime import UTC, datetime

import pytest

from hatchery_app.domain.broodstock.after_loss import (
    OpenClutch,
    PendingKind,
    after_loss,
    end_pair_by_loss,
)
from hatchery_app.domain.broodstock.pairing import EndedBecause, PairLink
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import When


def on(month, day):
    return When.exactly(datetime(2025, month, day, 9, tzinfo=UTC))


FEMALE, MALE, OTHER = 1, 2, 3
PAIR = PairLink(7, FEMALE, MALE, on(1, 1))
EGGS = OpenClutch(70, 7, FEMALE, on(6, 3), tended_by="Merle")


LOST = on(6, 6)


def page(*links, clutches=(EGGS,), now=LOST):
    ended = end_pair_by_loss(PAIR, FEMALE, on(6, 6))
    return after_loss(ended, FEMALE, clutches, (ended, *links), survivor_name="Merle",
                      now=now.latest)


def test_c45_the_clutch_stays_open_with_its_mother_and_its_hatch_watch():
    answer = page()
    kinds = [(p.kind, p.subject_id) for p in answer.pending]
    assert kinds == [
        (PendingKind.EGGS_TO_HATCH, 70),
        (PendingKind.HATCH_WATCH, 70),
        (PendingKind.SURVIVOR_SINGLE, MALE),
        (PendingKind.RE_PAIR, MALE),
    ]
    assert "keeps its mother" in answer.pending[0].sentence
    assert EGGS.mother_id == FEMALE


def test_c45_the_pair_ends_the_male_is_single_since_and_the_next_spawn_stops():
    answer = page()
    assert answer.pair.until == on(6, 6)
    assert answer.pair.ended_because is EndedBecause.FEMALE_LOST
    assert answer.single_since == on(6, 6)
    assert answer.next_spawn == "No next spawn: the pair has ended (female lost)."


def test_c45_no_sentence_gives_a_date_for_a_sex_change():
    said = " ".join(p.sentence for p in page().pending)
    assert "change" not in said
    assert "female" not in said


def test_without_a_male_beside_them_nobody_tends_the_eggs():
    lone = OpenClutch(70, 7, FEMALE, on(6, 3))
    assert "nobody tends them" in page(clutches=(lone,)).pending[0].sentence


def test_eggs_of_other_pairs_are_not_pending_here():
    assert page(clutches=(OpenClutch(71, 8, OTHER, on(6, 4)),)).pending[0].kind is (
        PendingKind.SURVIVOR_SINGLE
    )


def test_once_he_is_paired_again_only_the_eggs_are_pending():
    answer = page(PairLink(8, MALE, OTHER, on(6, 20)), now=on(6, 21))
    assert answer.single_since is None
    assert {p.subject_id for p in answer.pending} == {70}


def test_a_lost_male_ends_the_pair_under_his_own_reason():
    ended = end_pair_by_loss(PAIR, MALE, on(6, 6))
    assert ended.ended_because is EndedBecause.MALE_LOST


def test_a_fish_of_another_pair_ends_nothing():
    with pytest.raises(RuleBroken):
        end_pair_by_loss(PAIR, OTHER, on(6, 6))
    with pytest.raises(RuleBroken, match="already"):
        end_pair_by_loss(end_pair_by_loss(PAIR, MALE, on(6, 6)), FEMALE, on(6, 7))
    with pytest.raises(RuleBroken, match="before it began"):
        end_pair_by_loss(PairLink(7, FEMALE, MALE, on(6, 10)), FEMALE, on(6, 6))


def test_the_page_wants_the_loss_entered_first():
    with pytest.raises(RuleBroken, match="still stands"):
        after_loss(PAIR, FEMALE, (), (PAIR,), survivor_name="Merle", now=on(6, 6).latest)
