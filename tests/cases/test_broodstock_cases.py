"""The field cases of the broodstock: pairs that swap, fish that change, mates that are lost."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.after_loss import PendingKind
from hatchery_app.domain.broodstock.broodstock import NameHeld, who_was
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.pairing import EndedBecause, LinkKind
from hatchery_app.domain.broodstock.sex_state import Sex, SexEvidence, Standing
from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.next_spawn import Outlook
from hatchery_app.domain.spawn.parents import Parent, Parents
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import fish, fish_left, fish_removal, group, pair
from hatchery_app.services.broodstock.after_loss import after_loss_page
from hatchery_app.services.broodstock.broodstock import broodstock_list
from hatchery_app.services.broodstock.fish_page import fish_page
from hatchery_app.services.broodstock.pair_page import pair_page
from hatchery_app.services.clutch import clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from tests.builders import make_fish, make_pair, make_tank

ALONE = timedelta(hours=1)
Posted = Callable[..., Posting]


def day(month: int, on: int, hour: int = 12) -> datetime:
    return datetime(2026, month, on, hour, tzinfo=UTC)


def lay(session: Session, pair_id: int, at: datetime, eggs: int | None = None) -> int:
    return spawn.record_laying(
        session, posting=Posting(now=at), pair_id=pair_id, when=When.exactly(at),
        eggs=HowMany.about(eggs) if eggs else HowMany.unknown(),
    )  # fmt: skip


def end(session: Session, clutch_id: int, outcome: ClutchOutcome, at: datetime) -> None:
    clutch.end_clutch(
        session, posting=Posting(now=at), clutch_id=clutch_id, outcome=outcome,
        when=When.exactly(at),
    )  # fmt: skip


def hatch(session: Session, clutch_id: int, at: datetime, larvae: int) -> None:
    clutch.record_hatch(
        session, posting=Posting(now=at, answers={"early_hatch": "so"}), clutch_id=clutch_id,
        when=When.exactly(at), library=library(), number=HowMany.about(larvae),
        all_hatched=True,
    )  # fmt: skip


def lose(session: Session, fish_id: int, at: datetime, door: WayOut = WayOut.DIED) -> None:
    fish_left.record_leaving(
        session, posting=Posting(now=at), fish_id=fish_id, door=door, when=When.exactly(at)
    )


def test_c45_a_female_lost_with_eggs_in_the_tank_leaves_them_their_mother(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank_id = make_tank(session, "B1", litres=80, role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    page = pair_page(session, gannet_stair, pair_id=pair_id, now=day(6, 1))
    rusk, tansy = page.female.fish_id, page.male.fish_id
    clutch_id = lay(session, pair_id, day(6, 3))
    lose(session, rusk, day(6, 6))

    after = after_loss_page(session, fish_id=rusk, now=day(6, 7))
    assert after is not None
    (loss,) = after.losses
    assert loss.is_female_lost
    assert [c.clutch_id for c in loss.open_clutches] == [clutch_id]
    assert loss.open_clutches[0].parents.female == Parent.fish(rusk)
    assert loss.after.single_since == When.exactly(day(6, 6))
    kinds = [part.kind for part in loss.after.pending]
    assert kinds == [
        PendingKind.EGGS_TO_HATCH, PendingKind.HATCH_WATCH, PendingKind.SURVIVOR_SINGLE,
        PendingKind.RE_PAIR,
    ]  # fmt: skip
    assert "tended by Tansy" in loss.after.pending[0].sentence
    assert loss.step_in is not None
    assert loss.step_in.change_may_take
    page = pair_page(session, gannet_stair, pair_id=pair_id, now=day(6, 7))
    assert page.link.until == When.exactly(day(6, 6))
    assert page.link.ended_because is EndedBecause.FEMALE_LOST
    assert page.next.outlook is Outlook.NONE
    assert page.next.earliest is None

    hatch(session, clutch_id, day(6, 10, 21), 90)
    (line,) = pair_page(session, gannet_stair, pair_id=pair_id, now=day(6, 11)).clutches
    assert line.clutch.larvae is not None
    assert line.clutch.larvae.best == 90
    assert line.clutch.parents == Parents(Parent.fish(rusk), Parent.fish(tansy))
    later = after_loss_page(session, fish_id=rusk, now=day(6, 11))
    assert later is not None
    kinds = [part.kind for part in later.losses[0].after.pending]
    assert kinds == [PendingKind.SURVIVOR_SINGLE, PendingKind.RE_PAIR]


def test_c45_the_dead_mother_can_still_be_named_as_a_parent(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    rusk = pair_page(session, gannet_stair, pair_id=pair_id, now=day(6, 1)).female.fish_id
    lose(session, rusk, day(6, 6))
    late = spawn.record_laying(
        session, posting=Posting(now=day(6, 8)), pair_id=pair_id, when=When.exactly(day(6, 3))
    )
    (line,) = pair_page(session, gannet_stair, pair_id=pair_id, now=day(6, 8)).clutches
    assert line.clutch.clutch_id == late
    assert line.clutch.parents.female == Parent.fish(rusk)


def test_c45_taking_the_loss_back_lets_fish_and_pair_stand_again(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    lay(session, pair_id, day(11, 20))
    rusk = pair_page(session, gannet_stair, pair_id=pair_id, now=now).female.fish_id
    lose(session, rusk, now)
    found = after_loss_page(session, fish_id=rusk, now=now)
    assert found is not None
    fish_left.take_back_leaving(
        session, posting=Posting(now=now + ALONE), left_id=found.leaving.left_id
    )
    assert after_loss_page(session, fish_id=rusk, now=now + ALONE) is None
    page = pair_page(session, gannet_stair, pair_id=pair_id, now=now + ALONE)
    assert page.link.until is None
    assert page.next.outlook is Outlook.WINDOW


def test_c46_sire_once_and_dam_now_is_one_fish_in_two_roles(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "B2", role=TankRole.BROODSTOCK)
    first = make_pair(session, "Old Bay", "Merle", tank_id=tank_id)
    page = pair_page(session, gannet_stair, pair_id=first, now=now)
    old_bay, merle = page.female.fish_id, page.male.fish_id
    for n in range(9):
        laid = day(2, 1) + timedelta(days=14 * n)
        hatch(session, lay(session, first, laid), laid + timedelta(days=7, hours=9), 100)
    lose(session, old_bay, day(6, 8))
    quill = make_fish(session, "Quill", tank_id=tank_id, at=day(6, 20))
    second = pair.enter_pair(
        session, posting=Posting(now=day(6, 20)), female_id=merle, male_id=quill,
        when=When.exactly(day(6, 20)),
    )  # fmt: skip
    lay(session, second, day(11, 1))
    lay(session, second, day(11, 15))

    seen = fish_page(session, fish_id=merle, now=now)
    assert seen.roles == "sire of 9 clutches, then dam of 2 clutches"
    assert seen.sex.sex is Sex.FEMALE
    assert seen.sex.is_proven
    assert [s.sex for s in seen.history if s.when.latest < day(6, 1)][-1] is Sex.MALE
    nine = pair_page(session, gannet_stair, pair_id=first, now=now).clutches
    assert [line.clutch.parents.male for line in nine] == [Parent.fish(merle)] * 9
    assert [row.laying.number_in_pair for row in reversed(seen.made) if row.laying] == [1, 2]


def test_c47_a_sex_is_thought_or_proven_and_its_history_is_kept(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank_id = make_tank(session, "B3", role=TankRole.BROODSTOCK)
    ditto = make_fish(session, "Ditto", tank_id=tank_id)

    def say(sex: Sex, on: datetime, *evidence: SexEvidence, standing: Standing) -> None:
        fish.record_sex(
            session, posting=Posting(now=on), fish_id=ditto, sex=sex, standing=standing,
            when=When.exactly(on), evidence=evidence,
        )  # fmt: skip

    assert fish_page(session, fish_id=ditto, now=day(1, 3)).sex.said() == "sex not known"
    say(Sex.MALE, day(8, 1), SexEvidence.BEHAVIOUR, standing=Standing.THOUGHT)
    seen = fish_page(session, fish_id=ditto, now=day(8, 2))
    assert seen.sex.said() == "male, thought (behaviour)"
    with pytest.raises(RuleBroken, match="not proven by size rank"):
        say(Sex.FEMALE, day(9, 1), SexEvidence.SIZE_RANK, standing=Standing.PROVEN)
    say(Sex.FEMALE, day(10, 1), SexEvidence.LAYING_SEEN, standing=Standing.PROVEN)
    seen = fish_page(session, fish_id=ditto, now=day(10, 2))
    assert seen.sex.said() == "female, proven by laying seen"
    assert [s.sex for s in seen.history] == [Sex.MALE, Sex.FEMALE]
    with pytest.raises(Asked) as asked:
        say(Sex.MALE, day(11, 1), SexEvidence.BEHAVIOUR, standing=Standing.THOUGHT)
    assert asked.value.question == "sex_changed_back"
    again = Posting(now=day(11, 2), answers={"sex_changed_back": "earlier_wrong"})
    fish.record_sex(
        session, posting=again, fish_id=ditto, sex=Sex.MALE, standing=Standing.THOUGHT,
        evidence=(SexEvidence.BEHAVIOUR,), when=When.exactly(day(11, 1)),
    )  # fmt: skip
    seen = fish_page(session, fish_id=ditto, now=day(11, 3))
    assert {s.sex for s in seen.history} == {Sex.MALE}  # it was never a female, as was answered


def test_c49_a_swap_begins_a_new_pair_with_its_own_first_clutch(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    one, two = (make_tank(session, label, role=TankRole.BROODSTOCK) for label in ("B4", "B5"))
    old = make_pair(session, "Gale", "Perry", tank_id=one)
    page = pair_page(session, gannet_stair, pair_id=old, now=now)
    gale, perry = page.female.fish_id, page.male.fish_id
    end(session, lay(session, old, day(9, 1)), ClutchOutcome.EATEN, day(9, 4))
    lark = make_fish(session, "Lark", tank_id=two)
    wren = make_fish(session, "Wren", tank_id=one, at=day(10, 1))
    swap = {
        "female_id": lark, "male_id": perry, "tank_id": two, "when": When.exactly(day(10, 1)),
    }  # fmt: skip
    with pytest.raises(Asked) as asked:
        pair.enter_pair(session, posting=Posting(now=day(10, 1)), **swap)
    assert asked.value.question == "overlapping_pairs"
    assert [value for value, _ in asked.value.answers] == ["move", "kept_with"]
    pair.enter_pair(
        session,
        posting=Posting(now=day(10, 1), answers={"overlapping_pairs": "move"}),
        **swap,
    )
    new = pair.enter_pair(
        session, posting=Posting(now=day(10, 1)), female_id=gale, male_id=wren, tank_id=one,
        when=When.exactly(day(10, 1)),
    )  # fmt: skip
    lay(session, new, day(10, 6))

    ended = pair_page(session, gannet_stair, pair_id=old, now=now)
    assert ended.link.ended_because is EndedBecause.SWAPPED
    assert len(ended.clutches) == 1
    (first,) = pair_page(session, gannet_stair, pair_id=new, now=now).clutches
    assert first.gap is None
    assert first.clutch.parents.male == Parent.fish(wren)
    layings = [row.laying for row in reversed(fish_page(session, fish_id=gale, now=now).made)]
    assert [(row.number_in_pair, row.new_mate) for row in layings if row] == [
        (1, False), (1, True),
    ]  # fmt: skip


def test_c49_kept_with_but_not_paired_is_a_legal_relation(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "B6", role=TankRole.BROODSTOCK)
    stands = make_pair(session, "Lark", "Perry", tank_id=tank_id)
    perry = pair_page(session, gannet_stair, pair_id=stands, now=now).male.fish_id
    third = make_fish(session, "Boulder", tank_id=tank_id)
    held = pair.enter_pair(
        session, posting=Posting(now=now, answers={"overlapping_pairs": "kept_with"}),
        female_id=third, male_id=perry, when=When.exactly(now),
    )  # fmt: skip
    assert pair_page(session, gannet_stair, pair_id=held, now=now).link.kind is LinkKind.KEPT_WITH
    assert pair_page(session, gannet_stair, pair_id=stands, now=now).link.until is None
    listed = broodstock_list(session, now=now)
    assert [row.pair_id for row in listed.pairs] == [stands]
    assert [(row.label, row.kept_with) for row in listed.single] == [("Boulder", "Perry")]


def test_c51_a_pair_forms_in_a_group_of_six_and_the_group_adds_up(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "B7", role=TankRole.BROODSTOCK)
    six = group.enter_group(
        session, posting=Posting(now=day(2, 1)), name="six in B7", number=6, tank_id=tank_id,
        when=When.exactly(day(2, 1)), species_key="amphiprion_ocellaris",
    )  # fmt: skip
    formed = group.form_pair_in_group(
        session, posting=Posting(now=day(5, 20)), group_id=six, female_name="Sorrel",
        male_name="Bramble", when=When.exactly(day(5, 20)),
    )  # fmt: skip
    spawn.record_laying_without_pair(
        session, posting=Posting(now=day(6, 11)), tank_id=tank_id,
        species_key="amphiprion_ocellaris", when=When.exactly(day(6, 11)),
        parents=Parents(Parent.group(six), Parent.group(six)),
    )  # fmt: skip
    group.record_group_left(
        session, posting=Posting(now=day(7, 1)), group_id=six, number=1, how="missing",
        when=When.exactly(day(7, 1)),
    )  # fmt: skip
    page = group.group_page(session, group_id=six, now=now)
    assert page.number == 3
    assert page.accounted == {"pair formed": 2, "missing": 1}
    assert page.clutches[0][1] == "two of the group six in B7"
    assert [row.pair_id for row in broodstock_list(session, now=now).pairs] == [formed]
    with pytest.raises(RuleBroken, match="cannot"):
        group.record_group_left(
            session, posting=Posting(now=day(7, 2)), group_id=six, number=4, how="died",
            when=When.exactly(day(7, 2)),
        )  # fmt: skip


def test_c54_two_fish_of_one_name_are_told_apart_by_their_dates(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    old = make_fish(session, "Ruby", at=datetime(2021, 3, 1, tzinfo=UTC))
    lose(session, old, datetime(2023, 5, 2, tzinfo=UTC))
    new = make_fish(session, "Ruby", at=datetime(2025, 4, 1, tzinfo=UTC))
    listed = broodstock_list(session, now=now)
    assert [(row.fish_id, row.label) for row in listed.single] == [(new, "Ruby (since 2025)")]
    assert [(row.fish_id, row.label) for row in listed.gone] == [(old, "Ruby (2021–2023)")]
    held = [
        NameHeld(old, "Ruby", When.exactly(datetime(2021, 3, 1, tzinfo=UTC)),
                 When.exactly(datetime(2023, 5, 2, tzinfo=UTC))),
        NameHeld(new, "Ruby", When.exactly(datetime(2025, 4, 1, tzinfo=UTC))),
    ]  # fmt: skip
    assert who_was("ruby", datetime(2022, 1, 1, tzinfo=UTC), held) == old
    assert who_was("Ruby", now, held) == new


def test_c77_a_fish_with_descendants_is_merged_and_never_deleted(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "B8", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    twice = pair_page(session, gannet_stair, pair_id=pair_id, now=now).female.fish_id
    for n in range(3):
        end(session, lay(session, pair_id, day(9, 1 + 9 * n)), ClutchOutcome.EATEN,
            day(9, 3 + 9 * n))  # fmt: skip
    true = make_fish(session, "Rusk", tank_id=tank_id)
    with pytest.raises(Asked, match="has 3 clutches and cannot be deleted") as asked:
        fish_removal.delete_fish(session, posting=Posting(now=now), fish_id=twice)
    assert asked.value.question == "merge_with"
    assert asked.value.answers[0][0] == str(true)
    assert fish_page(session, fish_id=twice, now=now).roles == "dam of 3 clutches"

    kept = fish_removal.delete_fish(
        session, posting=Posting(now=now, answers={"merge_with": str(true)}), fish_id=twice
    )
    assert kept == true
    assert fish_page(session, fish_id=true, now=now).roles == "dam of 3 clutches"
    assert pair_page(session, gannet_stair, pair_id=pair_id, now=now).female.fish_id == true
    with pytest.raises(RuleBroken, match="does not stand"):
        fish_page(session, fish_id=twice, now=now)
