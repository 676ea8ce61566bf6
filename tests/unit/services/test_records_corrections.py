"""Any entry corrected, withdrawn and restored; what rests on it is shown and taken along."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import func, select

from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.when import When
from hatchery_app.models.clutch import Clutch, EggsMoved, Hatch, Laying
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Holding, HoldingPlaced, Moved
from hatchery_app.models.tank import Reading
from hatchery_app.services.clutch import clutch
from hatchery_app.services.records import correction, records
from hatchery_app.services.records.record_in_the_way import LaterEntries, LaterEntriesAsked
from hatchery_app.services.spawn import spawn
from hatchery_app.services.stock_book import stock_book
from hatchery_app.services.tank import tank
from tests.builders import (
    LONG_AGO,
    make_batch,
    make_cohort,
    make_fish,
    make_hatch,
    make_pair,
    make_tank,
    read_temperature,
)

LAID = datetime(2026, 11, 10, 17, 0, tzinfo=UTC)
HATCHED = LAID + timedelta(days=8, hours=4)


@pytest.fixture
def nest(session, gannet_stair):
    return make_tank(session, "B1")


@pytest.fixture
def rusk_and_tansy(session, nest):
    return make_pair(session, "Rusk", "Tansy", tank_id=nest, at=LONG_AGO + timedelta(days=1))


@pytest.fixture
def eggs(session, rusk_and_tansy, posted):
    """A laying of Rusk and Tansy, as its clutch."""
    return spawn.record_laying(
        session, posting=posted(LAID, key="laying"), pair_id=rusk_and_tansy,
        when=When.exactly(LAID), eggs=HowMany.about(200),
    )  # fmt: skip


def current(session, model):
    return session.scalars(select(model).where(known())).all()


def entries(session):
    return session.scalar(select(func.count()).select_from(Entry))


def laying_of(session, clutch_id):
    return session.scalars(
        select(Clutch.laying_id).where(known(), Clutch.fact_id == clutch_id)
    ).one()


def test_a_number_said_anew_stands_and_the_old_one_stays_readable(session, eggs, posted):
    laying_id = laying_of(session, eggs)
    same = correction.correct_entry(
        session, posting=posted(), fact_id=laying_id, typed={"number": "about 350"}
    )
    assert same == laying_id
    page = records.entry_page(session, fact_id=laying_id)
    assert [line.words for line in page.versions] == [
        "Clutch 1: Rusk and Tansy laid, about 350 eggs",
        "Clutch 1: Rusk and Tansy laid, about 200 eggs",
    ]
    assert [line.is_replaced for line in page.versions] == [False, True]
    assert page.now.is_correction
    (laying,) = current(session, Laying)
    assert laying.when == When.exactly(LAID)  # what was not said anew was copied


def test_nothing_changed_is_no_correction(session, eggs, posted):
    laying_id = laying_of(session, eggs)
    before = entries(session)
    with pytest.raises(RuleBroken, match="Nothing is changed"):
        correction.correct_entry(
            session, posting=posted(), fact_id=laying_id, typed={"number": "about 200"}
        )
    assert entries(session) == before


def test_a_laying_dated_anew_takes_what_was_written_with_it_along(session, eggs, posted):
    day_before = When.exactly(LAID - timedelta(days=1))
    correction.correct_entry(
        session, posting=posted(), fact_id=laying_of(session, eggs), typed={}, when=day_before
    )
    assert [row.when for row in current(session, Laying)] == [day_before]
    assert [row.when for row in current(session, EggsMoved)] == [day_before]
    assert [row.when for row in current(session, Clutch)] == [day_before]


def test_a_laying_moved_after_its_hatch_shows_the_hatch_and_changes_nothing(
    session, eggs, posted
):
    make_hatch(session, hatched_at=HATCHED, clutch_id=eggs)
    before = entries(session)
    with pytest.raises(LaterEntries, match="Clutch 1: hatched the night of Wed 18 Nov") as shown:
        correction.correct_entry(
            session, posting=posted(), fact_id=laying_of(session, eggs), typed={},
            when=When.exactly(HATCHED + timedelta(hours=7)),
        )  # fmt: skip
    assert len(shown.value.entries) == 1
    assert entries(session) == before


def test_later_entries_move_along_by_the_same_days_when_that_is_answered(session, eggs, posted):
    clutch.record_check(
        session, posting=posted(LAID + timedelta(days=1)), clutch_id=eggs,
        kind=CheckKind.LOOKS_WELL, when=When.exactly(LAID + timedelta(days=1)),
    )  # fmt: skip
    facts = {
        "fact_id": laying_of(session, eggs), "typed": {},
        "when": When.exactly(LAID + timedelta(days=2)),
    }  # fmt: skip
    with pytest.raises(LaterEntriesAsked, match="looks well") as asked:
        correction.correct_entry(session, posting=posted(), **facts)
    (answer, label), *_ = asked.value.answers
    assert label == "Move these 2 days later with it"
    correction.correct_entry(
        session, posting=posted(answers={asked.value.question: answer}), **facts
    )
    page = records.day_book(session, room_word="clutch")
    moved = [line for line in page.lines if "looks well" in line.words and not line.is_replaced]
    assert [line.when for line in moved] == [When.exactly(LAID + timedelta(days=3))]


def test_a_hatch_dated_anew_belongs_to_its_new_night(session, eggs, posted):
    hatch_id = make_hatch(session, hatched_at=HATCHED, clutch_id=eggs)
    by_day = When.exactly(HATCHED + timedelta(hours=15))  # noon of the 19th
    correction.correct_entry(session, posting=posted(), fact_id=hatch_id, typed={}, when=by_day)
    (hatch,) = current(session, Hatch)
    assert (hatch.night_on.day, hatch.found_by_day) == (18, True)


def test_a_pair_cannot_have_ended_before_its_laying(session, eggs, rusk_and_tansy, posted):
    from hatchery_app.domain.broodstock.pairing import EndedBecause
    from hatchery_app.services.broodstock import pair

    ended = pair.end_pair(
        session, posting=posted(LAID + timedelta(days=3)), pair_id=rusk_and_tansy,
        because=EndedBecause.SEPARATED, when=When.exactly(LAID + timedelta(days=3)),
    )  # fmt: skip
    end_id = next(
        line.fact_id
        for line in records.day_book(session).lines
        if "no longer a pair" in line.words
    )
    with pytest.raises(LaterEntries, match="Rusk and Tansy laid"):
        correction.correct_entry(
            session, posting=posted(), fact_id=end_id, typed={},
            when=When.exactly(LAID - timedelta(hours=3)),
        )  # fmt: skip
    assert ended


def test_a_laying_just_written_is_withdrawn_with_its_clutch(session, eggs, posted):
    correction.withdraw_entry(session, posting=posted(), fact_id=laying_of(session, eggs))
    assert current(session, Laying) == current(session, Clutch) == current(session, EggsMoved) == []


def test_what_hangs_on_a_clutch_is_shown_and_withdrawn_with_it(session, eggs, posted):
    clutch.record_check(
        session, posting=posted(LAID + timedelta(days=1)), clutch_id=eggs,
        kind=CheckKind.LOOKS_WELL, when=When.exactly(LAID + timedelta(days=1)),
    )  # fmt: skip
    with pytest.raises(LaterEntriesAsked, match="looks well") as asked:
        correction.withdraw_entry(session, posting=posted(), fact_id=eggs)
    assert len(current(session, Clutch)) == 1
    answers = {asked.value.question: asked.value.answers[0][0]}
    correction.withdraw_entry(session, posting=posted(answers=answers), fact_id=eggs)
    standing = {row.kind for row in current(session, Entry)} - {"withdrawal"}
    assert standing & {"laying", "clutch", "clutch_check", "eggs_moved"} == set()


def test_a_withdrawn_act_is_restored_whole(session, eggs, posted):
    correction.withdraw_entry(session, posting=posted(key="undo"), fact_id=eggs)
    page = records.entry_page(session, fact_id=eggs)
    assert page.is_withdrawn
    assert page.now.words == "Clutch 1 begins"
    correction.restore_entry(session, posting=posted(key="redo"), fact_id=eggs)
    assert clutch.record_check(
        session, posting=posted(), clutch_id=eggs, kind=CheckKind.LOOKS_WELL,
        when=When.exactly(LAID + timedelta(days=1)),
    )  # fmt: skip


def test_a_fish_with_descendants_is_not_withdrawn(session, eggs, posted):
    rusk = next(
        line.fact_id for line in records.day_book(session).lines if line.words.startswith("Rusk c")
    )
    with pytest.raises(LaterEntries, match=r"Rusk cannot be withdrawn .* say how it left"):
        correction.withdraw_entry(session, posting=posted(), fact_id=rusk)


def test_a_fish_on_which_nothing_rests_is_withdrawn_with_its_place(session, nest, posted):
    ditto = make_fish(session, "Ditto", tank_id=nest, at=LONG_AGO + timedelta(days=5))
    correction.withdraw_entry(session, posting=posted(), fact_id=ditto)
    assert records.entry_page(session, fact_id=ditto).is_withdrawn


def test_a_tank_with_eggs_in_it_stays(session, eggs, nest, posted):
    with pytest.raises(LaterEntries, match="other entries rest on it"):
        correction.withdraw_entry(session, posting=posted(), fact_id=nest)


def test_what_rests_on_a_withdrawn_entry_is_not_restored_before_it(session, posted, gannet_stair):
    tank_id = make_tank(session, "L9")
    reading = read_temperature(session, tank_id, "26.1", at=LAID)
    correction.withdraw_entry(session, posting=posted(LAID, key="a"), fact_id=reading)
    correction.withdraw_entry(session, posting=posted(LAID, key="b"), fact_id=tank_id)
    with pytest.raises(LaterEntries, match="Restore first"):
        correction.restore_entry(session, posting=posted(), fact_id=reading)


def test_a_withdrawn_entry_is_not_corrected(session, posted, gannet_stair):
    tank_id = make_tank(session, "L9")
    correction.withdraw_entry(session, posting=posted(), fact_id=tank_id)
    with pytest.raises(RuleBroken, match="Restore it first"):
        correction.correct_entry(session, posting=posted(), fact_id=tank_id, typed={"label": "L8"})


def test_a_reading_said_anew_changes_the_water_and_keeps_the_old(session, posted, gannet_stair):
    tank_id = make_tank(session, "L9")
    reading = read_temperature(session, tank_id, "25.6", at=LAID)
    correction.correct_entry(session, posting=posted(), fact_id=reading, typed={"value": "26.5"})
    water = tank.temperatures_of(session, [tank_id], LAID, LAID)[tank_id]
    assert [one.temperature_c for one in water] == [26.5]
    assert session.scalars(select(Reading.value).order_by(Reading.id)).all() == [25.6, 26.5]


def test_a_reading_follows_the_hour_and_the_tank_it_is_said_to_be_of(session, posted, gannet_stair):
    wrong, right = make_tank(session, "L1"), make_tank(session, "L2")
    reading = read_temperature(session, wrong, "26.5", at=LAID)
    earlier = LAID - timedelta(hours=3)
    correction.correct_entry(
        session, posting=posted(), fact_id=reading, typed={"tank_id": str(right)},
        when=When.exactly(earlier),
    )  # fmt: skip
    water = tank.temperatures_of(session, [wrong, right], earlier, LAID)
    assert {k: [one.at for one in v] for k, v in water.items()} == {right: [earlier]}


def test_fewer_larvae_than_were_sold_later_are_refused_with_what_was_sold(session, posted, eggs):
    batch = make_batch(
        session, make_tank(session, "L1"), number="100", hatched_at=HATCHED, clutch_id=eggs
    )
    sold_at = HATCHED + timedelta(days=2)
    stock_book.record_leaving(
        session, posting=posted(sold_at), holding_id=batch, door=Door.SOLD,
        number=HowMany.counted(60), when=When.exactly(sold_at),
    )  # fmt: skip
    came = next(row for row in current(session, Moved) if row.door is Door.HATCHED)
    with pytest.raises(RuleBroken, match=r"60 sold"):
        correction.correct_entry(
            session, posting=posted(), fact_id=came.fact, typed={"number": "40"}
        )
    sold = next(row for row in current(session, Moved) if row.door is Door.SOLD)
    correction.correct_entry(session, posting=posted(), fact_id=sold.fact, typed={"number": "30"})
    correction.correct_entry(session, posting=posted(), fact_id=came.fact, typed={"number": "40"})


def test_larvae_withdrawn_take_those_sold_of_them_along(session, posted, eggs):
    batch = make_batch(
        session, make_tank(session, "L1"), number="100", hatched_at=HATCHED, clutch_id=eggs,
        put_at=HATCHED + timedelta(hours=1),
    )  # fmt: skip
    sold_at = HATCHED + timedelta(days=2)
    stock_book.record_leaving(
        session, posting=posted(sold_at), holding_id=batch, door=Door.SOLD,
        number=HowMany.counted(60), when=When.exactly(sold_at),
    )  # fmt: skip
    came = next(row for row in current(session, Moved) if row.door is Door.HATCHED)
    with pytest.raises(LaterEntriesAsked, match="60 sold") as asked:
        correction.withdraw_entry(session, posting=posted(), fact_id=came.fact)
    correction.withdraw_entry(
        session, posting=posted(answers={asked.value.question: "withdraw"}), fact_id=came.fact
    )
    assert current(session, Moved) == []
    (place,) = current(session, HoldingPlaced)
    with pytest.raises(RuleBroken, match="in no tank then"):
        correction.withdraw_entry(session, posting=posted(), fact_id=place.fact)
    correction.withdraw_entry(session, posting=posted(), fact_id=batch)  # its place goes along
    assert current(session, HoldingPlaced) == []


def test_an_ending_written_with_its_hatch_goes_with_it(session, eggs, posted, gannet_stair):
    from hatchery_app.services.species import library

    hatch_id = clutch.record_hatch(
        session, posting=posted(HATCHED, key="all"), clutch_id=eggs, when=When.exactly(HATCHED),
        library=library.library(), all_hatched=True,
    )  # fmt: skip
    correction.withdraw_entry(session, posting=posted(), fact_id=hatch_id)
    clutch.end_clutch(
        session, posting=posted(), clutch_id=eggs, outcome=ClutchOutcome.EATEN,
        when=When.exactly(HATCHED),
    )  # fmt: skip


def test_a_sale_withdrawn_gives_its_fish_back(session, posted, eggs):
    from hatchery_app.services.records.room import room_now
    from hatchery_app.services.sale import sale
    from hatchery_app.services.stock_book.holding_facts import load_stock

    settled_at = datetime(2026, 8, 20, 9, 0, tzinfo=UTC)
    cohort_id = make_cohort(
        session, make_tank(session, "G1"), larval_tank_id=make_tank(session, "L1"), number="40",
        hatched_at=settled_at - timedelta(days=20), settled_at=settled_at,
    )  # fmt: skip

    def alive() -> int | None:
        stock = load_stock(session, room_now(session), holding_ids=[cohort_id])
        return stock.balance(cohort_id).best

    sale_id = sale.record_sale(
        session, posting=posted(key="sold"), holding_id=cohort_id, number=10,
        for_whom="Harbour Street", when=When.exactly(LAID),
    )  # fmt: skip
    assert alive() == 30
    correction.withdraw_entry(session, posting=posted(), fact_id=sale_id)
    assert alive() == 40


@pytest.mark.parametrize("put_after", [timedelta(0), timedelta(hours=1)])
def test_a_hatch_dated_after_the_deaths_of_its_larvae_is_refused_with_them(
    session, eggs, posted, put_after
):
    hatch_id = make_hatch(session, hatched_at=HATCHED, clutch_id=eggs, number="100")
    batch = make_batch(
        session, make_tank(session, "L1"), number="100", hatched_at=HATCHED, hatch_id=hatch_id,
        put_at=HATCHED + put_after,
    )  # fmt: skip
    died_at = HATCHED + timedelta(hours=14)
    stock_book.record_leaving(
        session, posting=posted(died_at), holding_id=batch, door=Door.DIED,
        number=HowMany.counted(60), when=When.exactly(died_at),
    )  # fmt: skip
    before = entries(session)
    with pytest.raises(RuleBroken, match="60 died"):
        correction.correct_entry(
            session, posting=posted(answers={"together": "shift"}), fact_id=hatch_id, typed={},
            when=When.exactly(HATCHED + timedelta(days=2)),
        )  # fmt: skip
    assert entries(session) == before


def test_the_nights_of_a_hatch_found_late_are_corrected_and_follow_the_moment(
    session, eggs, posted, gannet_stair
):
    from hatchery_app.services.species import library

    looked, found = HATCHED - timedelta(days=2), HATCHED
    hatch_id = clutch.record_hatch(
        session, posting=posted(HATCHED, key="late"), clutch_id=eggs,
        when=When.between(looked, found), library=library.library(),
    )  # fmt: skip

    def nights():
        (row,) = current(session, Hatch)
        return row.night_on, row.last_night_on

    first, last = nights()
    assert (last - first).days == 2
    batch = make_batch(
        session, make_tank(session, "L1"), hatched_at=HATCHED, hatch_id=hatch_id,
        put_at=HATCHED + timedelta(hours=1),
    )  # fmt: skip

    def of_batch():
        (row,) = current(session, Holding)
        assert row.fact == batch
        return row.hatched_first_on, row.hatched_last_on

    assert of_batch() == (first, last)
    earlier = {"last_night_on": (first - timedelta(days=1)).isoformat()}
    with pytest.raises(RuleBroken, match="before the first"):
        correction.correct_entry(session, posting=posted(), fact_id=hatch_id, typed=earlier)
    correction.correct_entry(
        session, posting=posted(), fact_id=hatch_id,
        typed={"night_on": last.isoformat(), "last_night_on": ""},
    )  # fmt: skip
    assert nights() == (last, None)  # the keeper knows it, whatever the two looks leave open
    assert of_batch() == (last, last)
    correction.correct_entry(
        session, posting=posted(key="again"), fact_id=hatch_id, typed={},
        when=When.between(looked + timedelta(days=1), found),
    )  # fmt: skip
    assert nights() == (last - timedelta(days=1), last)
    assert of_batch() == nights()
    typed = {"hatched_first_on": first.isoformat()}
    correction.correct_entry(session, posting=posted(key="age"), fact_id=batch, typed=typed)
    correction.correct_entry(
        session, posting=posted(key="sure"), fact_id=hatch_id, typed={"last_night_on": ""}
    )
    assert of_batch() == (first, last)  # what the keeper said of the batch itself stands


def test_a_pairs_fish_said_anew_takes_the_parents_of_its_eggs_along_once_that_was_answered(
    session, eggs, rusk_and_tansy, posted
):
    ditto = make_fish(session, "Ditto")
    facts = {"fact_id": rusk_and_tansy, "typed": {"female_id": str(ditto)}}
    with pytest.raises(Asked, match="Clutch 1") as asked:
        correction.correct_entry(session, posting=posted(), **facts)
    answers = {asked.value.question: asked.value.answers[0][0]}
    correction.correct_entry(session, posting=posted(answers=answers), **facts)
    (laying,) = current(session, Laying)
    assert laying.parents.female.fish_ids == (ditto,)
    assert laying.parents.male.fish_ids != (ditto,)
