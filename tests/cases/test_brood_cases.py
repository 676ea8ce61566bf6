"""Field cases of broods that a parent carries, and of eggs that are no clownfish's."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch_brood, clutch_page
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.today import today, today_facts
from tests.builders import make_fish, make_pair, make_tank, read_temperature

CARDINAL = "pterapogon_kauderni"
SEAHORSE = "hippocampus_erectus"
DOTTYBACK = "pseudochromis_fridmani"
GOBY = "elacatinus_figaro"
LONG_AGO = datetime(2026, 1, 2, 9, tzinfo=UTC)
Posted = Callable[..., Posting]


def at(month: int, day: int, hour: int = 10) -> datetime:
    return datetime(2026, month, day, hour, tzinfo=UTC)


def seen(
    session: Session, room: RoomNow, clutch_id: int, now: datetime
) -> clutch_page.ClutchSeen:
    return clutch_page.clutch_page(
        session, library(), room=room, clutch_id=clutch_id, now=now
    ).seen


def tasks_on(session: Session, room: RoomNow, now: datetime) -> list[str]:
    """What Today says of the day, all rounds."""
    page = today.today_page(
        session, today_facts.load_day(session, library(), room=room, now=now)
    )
    lines = [line for sheet in page.sheets for stop in sheet.stops for line in stop.lines]
    lines += [line for stop in page.overdue for line in stop.lines]
    return [f"{line.task.name.kind}: {line.task.what}" for line in lines]


def test_c14_two_statements_of_one_author_keep_their_interval(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    male = make_fish(session, "Quill", species_key=CARDINAL, tank_id=tank_id, at=LONG_AGO)
    days = gannet_stair.room_time.whole_days
    first_said = days(date(2026, 1, 5), said="stopped eating about the first Saturday")
    second_said = days(date(2026, 1, 11), said="holds at least 29 days")
    clutch_id = clutch_brood.record_holding(
        session, posting=posted(at(2, 9)), carrier_id=male, when=first_said.hull(second_said)
    )
    for day, number in ((11, 1), (12, 6), (13, 18)):
        now = at(2, day)
        clutch_brood.record_release(
            session, posting=posted(now), clutch_id=clutch_id, when=When.exactly(now),
            number=HowMany.counted(number), all_out=day == 13,
        )  # fmt: skip
    shown = seen(session, gannet_stair, clutch_id, at(2, 14))
    taken = shown.clutch.laid
    assert gannet_stair.room_time.local(taken.earliest).date() == date(2026, 1, 5)
    assert taken.latest == second_said.latest
    assert "first Saturday" in taken.said
    assert "at least 29 days" in taken.said
    brood = shown.brood
    assert brood is not None
    assert brood.carried_days == (31, 39)
    assert [part.number.best for part in brood.out] == [1, 6, 18]
    so_far = [sum(part.number.best or 0 for part in brood.out[:n]) for n in (1, 2, 3)]
    assert so_far == [1, 7, 25]
    assert brood.total == HowMany.counted(25)


def test_c58_a_mouthbrooder_that_eats_again_lost_his_brood_between_two_looks(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    pair_id = make_pair(
        session, "Bay", "Quill", tank_id=tank_id, at=LONG_AGO, species_key=CARDINAL
    )
    taken = at(6, 1, 18)
    clutch_id = spawn.record_laying(
        session, posting=posted(taken), pair_id=pair_id, when=When.exactly(taken)
    )
    now = at(6, 9)
    holding = seen(session, gannet_stair, clutch_id, now)
    assert holding.forecast is None  # no hatch night
    assert holding.brood is not None
    assert holding.brood.forecast is not None
    assert holding.brood.forecast.day_said == "day 8"
    assert not [line for line in tasks_on(session, gannet_stair, now)
                if "otifer" in line or "atch" in line or "larval" in line]  # fmt: skip
    clutch_brood.see_holding(
        session, posting=posted(now), clutch_id=clutch_id, when=When.exactly(now)
    )
    ate = at(6, 10, 19)
    clutch_brood.record_brood_lost(
        session, posting=posted(ate), clutch_id=clutch_id, feeding=When.exactly(ate)
    )
    lost = seen(session, gannet_stair, clutch_id, at(6, 20))
    ending = lost.clutch.ending
    assert ending is not None
    assert str(ending.outcome) == "brood lost (eaten or dropped)"
    assert (ending.when.earliest, ending.when.latest) == (now, ate)
    assert ending.when.said == "between last seen holding and feeding"
    assert not lost.clutch.eggs.is_known
    assert not lost.clutch.hatches
    assert lost.brood is not None
    assert lost.brood.forecast is None
    with pytest.raises(RuleBroken, match="carried nothing more"):
        clutch_brood.see_holding(
            session, posting=posted(at(6, 20)), clutch_id=clutch_id,
            when=When.exactly(at(6, 20)),
        )  # fmt: skip


def test_c58_released_young_go_to_a_cohort_and_never_to_a_larval_plan(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    nursery = make_tank(session, "G1", role=TankRole.GROW_OUT, at=LONG_AGO)
    male = make_fish(session, "Quill", species_key=CARDINAL, tank_id=tank_id, at=LONG_AGO)
    taken, out = at(6, 1), at(6, 30)
    clutch_id = clutch_brood.record_holding(
        session, posting=posted(taken), carrier_id=male, when=When.exactly(taken)
    )
    hatch_id = clutch_brood.record_release(
        session, posting=posted(out), clutch_id=clutch_id, when=When.exactly(out),
        number=HowMany.counted(17), tank_id=nursery, all_out=True,
    )  # fmt: skip
    with pytest.raises(RuleBroken, match="without a larval stage"):
        larval_tank.put_larvae_in_tank(
            session, posting=posted(out), hatch_id=hatch_id, when=When.exactly(out),
            parts=(larval_tank.Part(nursery, HowMany.counted(17)),),
        )  # fmt: skip
    facts = today_facts.load_day(session, library(), room=gannet_stair, now=at(7, 2))
    assert not facts.larvae
    assert [cohort.fish for cohort in facts.cohorts] == [17]
    lines = tasks_on(session, gannet_stair, at(7, 2))
    assert not [line for line in lines if "otifer" in line or "larva" in line]


def test_c60_a_pregnant_father_with_no_mother_and_no_start_gives_births_in_parts(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    """Lin et al. 2008: 85.4 ± 56.9 young at the first birth, 465.9 ± 136.4 at the sixth."""
    tank_id = make_tank(session, "B2", role=TankRole.BROODSTOCK, at=LONG_AGO)
    father = make_fish(session, "Ditto", species_key=SEAHORSE, tank_id=tank_id, at=LONG_AGO)
    found = at(3, 1)
    first = clutch_brood.record_holding(
        session, posting=posted(found), carrier_id=father, when=When.exactly(found),
        start_known=False,
    )  # fmt: skip
    pregnant = seen(session, gannet_stair, first, found)
    assert "unknown" in pregnant.parents_said
    assert "Ditto" in pregnant.parents_said
    brood = pregnant.brood
    assert brood is not None
    assert brood.forecast is not None
    assert brood.ahead is not None
    assert not brood.forecast.is_start_known
    assert brood.ahead.low is None  # no mean of the species
    assert "272" not in brood.ahead.said
    assert "85" not in brood.ahead.said
    born = at(3, 8)
    clutch_brood.record_release(
        session, posting=posted(born), clutch_id=first, when=When.exactly(born),
        number=HowMany.counted(60),
    )  # fmt: skip
    unseen = born - timedelta(days=1)
    clutch_brood.record_release(
        session, posting=posted(born), clutch_id=first, when=When.exactly(unseen)
    )
    told = tasks_on(session, gannet_stair, born)
    assert "say_young: Say how many young there are, and which tank they are in" in told
    assert not [line for line in told if "hatched" in line]
    with pytest.raises(Asked, match="Are these more"):
        clutch_brood.record_release(
            session, posting=posted(born), clutch_id=first, when=When.exactly(born),
            number=HowMany.counted(25),
        )  # fmt: skip
    clutch_brood.record_release(
        session, posting=posted(at(3, 10)), clutch_id=first,
        when=When.between(born, at(3, 10)), number=HowMany.counted(25), all_out=True,
    )  # fmt: skip
    again = at(4, 1)
    second = clutch_brood.record_holding(
        session, posting=posted(again), carrier_id=father, when=When.exactly(again)
    )
    ahead = seen(session, gannet_stair, second, at(4, 5)).brood
    assert ahead is not None
    assert ahead.ahead is not None
    assert ahead.forecast is not None
    assert (ahead.ahead.rank, ahead.ahead.low) == (2, None)  # one of the parts was not counted
    assert ahead.forecast.carried.own_broods == 1


def test_c60_a_father_by_the_record_pregnant_is_asked_about_before_a_second_brood(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    tank_id = make_tank(session, "B2", role=TankRole.BROODSTOCK, at=LONG_AGO)
    father = make_fish(session, "Ditto", species_key=SEAHORSE, tank_id=tank_id, at=LONG_AGO)
    now = at(3, 1)
    first = clutch_brood.record_holding(
        session, posting=posted(now), carrier_id=father, when=When.exactly(now)
    )
    with pytest.raises(Asked, match="another brood"):
        clutch_brood.record_holding(
            session, posting=posted(now), carrier_id=father, when=When.exactly(now)
        )
    second = clutch_brood.record_holding(
        session, posting=posted(now, answers={"holds_already": "another"}), carrier_id=father,
        when=When.exactly(now),
    )  # fmt: skip
    assert second != first


@pytest.mark.parametrize(
    ("species_key", "temperature", "nights"),
    [(DOTTYBACK, "27", range(3, 5)), (GOBY, "26", range(5, 9))],
    ids=["an egg ball on night 3-4", "a goby's eggs on night 6-7"],
)
def test_eggs_of_other_fish_hatch_by_their_own_days_and_not_a_clownfishs(
    session: Session, gannet_stair: RoomNow, posted: Posted, species_key: str,
    temperature: str, nights: range,
) -> None:  # fmt: skip
    tank_id = make_tank(session, "B1", role=TankRole.BROODSTOCK, at=LONG_AGO)
    pair_id = make_pair(
        session, "Bay", "Quill", tank_id=tank_id, at=LONG_AGO, species_key=species_key
    )
    laying = at(6, 1, 14)
    read_temperature(session, tank_id, temperature, at=laying - timedelta(hours=2))
    clutch_id = spawn.record_laying(
        session, posting=posted(laying), pair_id=pair_id, when=When.exactly(laying)
    )
    read_temperature(session, tank_id, temperature, at=at(6, 2))
    shown = seen(session, gannet_stair, clutch_id, at(6, 2))
    assert shown.brood is None
    assert shown.forecast is not None
    assert shown.forecast.likeliest is not None
    assert shown.forecast.likeliest.number(shown.laid_night) in nights
    with pytest.raises(RuleBroken, match="Nobody carries"):
        clutch_brood.record_brood_lost(
            session, posting=posted(at(6, 2)), clutch_id=clutch_id,
            feeding=When.exactly(at(6, 2)),
        )  # fmt: skip


def test_an_outcome_of_a_carried_brood_is_not_offered_for_eggs_on_a_tile() -> None:
    assert [each for each in ClutchOutcome if not each.is_of_eggs] == [ClutchOutcome.BROOD_LOST]
