"""The broodstock's list and its loaders, where pages do not reach."""

from datetime import datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.body_length import Beside
from hatchery_app.domain.broodstock.broodstock import Fish
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.pairing import EndedBecause
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.spawn.parents import Parent, Parents
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.tank.water_reading import Quantity
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import fish, fish_left, fish_removal, pair
from hatchery_app.services.broodstock.broodstock import broodstock_list
from hatchery_app.services.broodstock.fish_page import fish_page
from hatchery_app.services.broodstock.pair_page import pair_page
from hatchery_app.services.broodstock.pairs_moving_in import PairLine, move_pairs_in
from hatchery_app.services.broodstock.stock_view import load_view
from hatchery_app.services.clutch import clutch_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.records_check import check_books
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.tank import readings, tank
from tests.builders import make_fish, make_pair, make_tank


def put_together(
    session: Session, female_id: int, male_id: int, at: datetime, **answers: str
) -> int:
    return pair.enter_pair(
        session, posting=Posting(now=at, answers=answers), female_id=female_id, male_id=male_id,
        when=When.exactly(at),
    )  # fmt: skip


def test_pairs_stand_in_walking_order_whatever_order_they_were_entered_in(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    first, second = (make_tank(session, label, role=TankRole.BROODSTOCK) for label in ("A1", "A2"))
    later = make_pair(session, "Merle", "Quill", tank_id=second)
    earlier = make_pair(session, "Rusk", "Tansy", tank_id=first)
    listed = broodstock_list(session, now=now)
    assert [row.pair_id for row in listed.pairs] == [earlier, later]
    assert all(row.has_nobody for row in listed.pairs)


def test_the_list_says_the_same_of_stand_ins_as_the_whole_ranking(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    make_pair(session, "Bay", "Merle", tank_id=tank_id, species_key="amphiprion_percula")
    make_fish(session, "Ditto", tank_id=tank_id)
    view = load_view(session, now)
    whole = {p for p, a in view.breeding.before_any_loss(now).items() if a.is_nobody}
    listed = broodstock_list(session, now=now)
    assert {row.pair_id for row in listed.pairs if row.has_nobody} == whole
    assert [row.has_nobody for row in listed.pairs] == [False, True]


def test_a_loss_before_a_clutch_of_theirs_names_the_clutch(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    spawn.record_laying(
        session, posting=Posting(now=now), pair_id=pair_id, when=When.exactly(now)
    )
    facts = pair.pair_facts(session, [pair_id], now)[pair_id]
    rusk, tansy = facts.female_id, facts.male_id
    for name, fish_id in (("Rusk", rusk), ("Tansy", tansy)):
        with pytest.raises(RuleBroken, match=f"{name} has eggs laid after that .Clutch 1, Tue 24"):
            fish_left.record_leaving(
                session, posting=Posting(now=now), fish_id=fish_id, door=WayOut.DIED,
                when=When.exactly(now - timedelta(days=5)),
            )  # fmt: skip
    assert pair.pair_facts(session, [pair_id], now)[pair_id].ended is None


def test_a_loss_is_not_taken_back_over_a_newer_pair(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    facts = pair.pair_facts(session, [pair_id], now)[pair_id]
    gone = now - timedelta(days=10)
    fish_left.record_leaving(
        session, posting=Posting(now=gone), fish_id=facts.female_id, door=WayOut.MISSING,
        when=When.exactly(gone),
    )  # fmt: skip
    wren = make_fish(session, "Wren", tank_id=tank_id)
    put_together(session, facts.male_id, wren, now - timedelta(days=8))
    leaving = fish_page(session, fish_id=facts.female_id, now=now).record.leaving
    assert leaving is not None
    with pytest.raises(RuleBroken, match="there is Tansy and Wren since"):
        fish_left.take_back_leaving(session, posting=Posting(now=now), left_id=leaving.left_id)
    ended = pair.pair_facts(session, [pair_id], now)[pair_id].ended
    assert ended is EndedBecause.FEMALE_LOST


def test_a_corrected_day_of_loss_moves_the_pairs_end_along(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=tank_id)
    rusk = pair.pair_facts(session, [pair_id], now)[pair_id].female_id
    fish_left.record_leaving(
        session, posting=Posting(now=now), fish_id=rusk, door=WayOut.MISSING,
        when=When.exactly(now),
    )  # fmt: skip
    leaving = fish_page(session, fish_id=rusk, now=now).record.leaving
    assert leaving is not None
    earlier = When.exactly(now - timedelta(days=2))
    fish_left.correct_leaving(
        session, posting=Posting(now=now), left_id=leaving.left_id, door=WayOut.DIED, when=earlier
    )
    assert load_view(session, now).stock.pair_named(pair_id).link.until == earlier
    assert fish_page(session, fish_id=rusk, now=now).fish.gone_how == "died"


def test_a_fish_that_left_is_not_paired_anew(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    rusk, wren = make_fish(session, "Rusk"), make_fish(session, "Wren")
    gone = now - timedelta(days=10)
    fish_left.record_leaving(
        session, posting=Posting(now=gone), fish_id=rusk, door=WayOut.SOLD, when=When.exactly(gone)
    )
    with pytest.raises(RuleBroken, match=r"Rusk was no longer here then \(sold\)"):
        put_together(session, rusk, wren, now)


def test_half_siblings_are_said_to_be_kin_and_unknown_parents_unknown(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    dam, one, two = (
        make_fish(session, name, parents=Parents(Parent.wild(), Parent.wild()))
        for name in ("Rusk", "Tansy", "Merle")
    )
    left, right = (
        make_fish(session, name, at=now, parents=Parents(Parent.fish(dam), Parent.fish(sire)))
        for name, sire in (("Quill", one), ("Bay", two))
    )
    view = load_view(session, now)
    beside = view.breeding.step_in_for(left, now=now, is_alone=False)
    kin = {r.candidate.fish_id: r.candidate.kinship for r in beside.smaller_mate.offered}
    assert kin[right].said() == "0.125"
    bought = make_fish(session, "Ditto", parents=Parents(Parent.bought("F1"), Parent.bought("F1")))
    view = load_view(session, now)
    beside = view.breeding.step_in_for(left, now=now, is_alone=False)
    kin = {r.candidate.fish_id: r.candidate.kinship for r in beside.smaller_mate.offered}
    assert kin[bought].said() == "not known"


def test_a_circle_of_descent_is_refused_and_nothing_is_changed(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    dam = make_fish(session, "Rusk")
    young = make_fish(
        session, "Quill", at=now, parents=Parents(Parent.fish(dam), Parent.unknown())
    )
    with pytest.raises(RuleBroken, match="would be its own ancestor"):
        fish.correct_fish(
            session, posting=Posting(now=now), fish_id=dam, name="Rusk", when=When.exactly(now),
            parents=Parents(Parent.fish(young), Parent.unknown()),
        )  # fmt: skip
    assert fish_page(session, fish_id=dam, now=now).parents_said == "unknown"


def test_a_fish_entered_by_mistake_is_taken_back_with_what_was_said_of_it(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    slip = make_fish(session, "Rusk", tank_id=tank_id)
    by, said = Posting(now=now), When.exactly(now)
    bar_id = fish.bar_fish(session, posting=by, fish_id=slip, reason="thin", when=said)
    fish.lift_bar(session, posting=by, bar_id=bar_id, when=said)
    fish.record_size_beside(
        session, posting=by, fish_id=make_fish(session, "Ditto"), other_id=slip,
        beside=Beside.CLEARLY_SMALLER, when=said,
    )  # fmt: skip
    fish_removal.delete_fish(session, posting=by, fish_id=slip)
    assert [row.label for row in broodstock_list(session, now=now).single] == ["Ditto"]
    assert check_books(session).wrong == ()


def test_what_others_ask_of_a_pair_is_answered_for_many_at_once(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    tank_id = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    ids = [make_pair(session, f"F{n}", f"M{n}", tank_id=tank_id) for n in range(3)]
    facts = pair.pair_facts(session, ids, now)
    assert [facts[i].name for i in ids] == ["F0 and M0", "F1 and M1", "F2 and M2"]
    assert {f.tank_id for f in facts.values()} == {tank_id}
    assert {f.species_key for f in facts.values()} == {"amphiprion_ocellaris"}


def test_clutches_laid_before_the_records_count_wherever_the_pair_is_spoken_of(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    make_tank(session, "B1", at=now)
    line = PairLine("Ona", "Bo", "B1", "amphiprion_ocellaris", "summer 2022", "about 40")
    pair_id = move_pairs_in(session, posting=Posting(now=now), lines=[line])
    page = pair_page(session, gannet_stair, pair_id=pair_id, now=now)
    assert page.earlier_clutches == 40
    assert page.female.sex.said() == "female, proven by laying seen"
    assert "40 clutches were laid before these records began" in page.next.reasons[0]
    (row,) = broodstock_list(session, now=now).pairs
    assert row.earlier_clutches == 40
    later = now + timedelta(days=1)
    spawn.record_laying(
        session, posting=Posting(now=later), pair_id=pair_id, when=When.exactly(later)
    )
    (made,) = fish_page(session, fish_id=page.female.fish_id, now=later).made
    assert made.laying is not None
    assert made.laying.number_in_pair == 41


def test_a_pair_lays_what_its_fish_are_held_to_be_by_then(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    home = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=home, species_key="")
    for fish_id in (person.fish_id for person in _of_pair(session, pair_id, now)):
        fish.record_species(
            session, posting=Posting(now=now), fish_id=fish_id, species_key="amphiprion_percula",
            when=When.exactly(now - timedelta(days=9)),
        )  # fmt: skip
    for days in (3, 60):  # one of them before anybody said it
        spawn.record_laying(
            session, posting=Posting(now=now), pair_id=pair_id,
            when=When.exactly(now - timedelta(days=days)),
        )  # fmt: skip
    laid = load_view(session, now).by_pair[pair_id]
    assert {one.species_key for one in laid} == {"amphiprion_percula"}


def _of_pair(session: Session, pair_id: int, now: datetime) -> list[Fish]:
    link = load_view(session, now).stock.pair_named(pair_id).link
    return [load_view(session, now).stock.fish_named(one).fish for one in link.fish_ids]


def test_where_two_labels_differ_in_capitals_only_the_pair_goes_where_it_was_written(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    answers = {"capitals": "another"}
    first = make_tank(session, "b1", role=TankRole.BROODSTOCK)
    tank.add_tanks(
        session, posting=Posting(now=now, answers=answers), labels="B1", volume="40 L",
        when=When.exactly(now),
    )  # fmt: skip
    line = PairLine("", "", "b1", "amphiprion_ocellaris")
    pair_id = move_pairs_in(session, posting=Posting(now=now), lines=[line])
    found = pair.pair_facts(session, [pair_id], now)[pair_id]
    assert found.tank_id == first
    # Nobody named the fish: they are called after their tank.
    assert clutch_page.pair_names(session, [pair_id])[pair_id] == "b1 female and b1 male"


def test_the_pairs_water_is_held_to_its_range_by_nitrogen_and_while_the_test_is_fresh(
    session: Session, gannet_stair: RoomNow, now: datetime
) -> None:
    home = make_tank(session, "A1", role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=home)
    # 40 mg/L of the ion are 9 of nitrogen; the species file wants no more than 20 of the ion.
    tests = [readings.Test(Quantity.NITRATE, "40", "mg/L NO3")]
    readings.record_water_test(
        session, posting=Posting(now=now), tank_id=home, tests=tests, when=When.exactly(now)
    )

    def stands(at: datetime) -> list[str]:
        page = pair_page(session, gannet_stair, pair_id=pair_id, now=at)
        return [line.stands for line in page.water if line.quantity == "nitrate"]

    assert stands(now) == ["above"]
    assert stands(now + timedelta(days=30)) == [""]
