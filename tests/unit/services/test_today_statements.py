"""Today asks the records a fixed number of times, however full the room is."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

from freezegun import freeze_time
from sqlalchemy import event

from hatchery_app.database import db
from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.today.chores import Rhythm
from hatchery_app.domain.today.schedule import Outcome, Round
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import feeding_rota
from hatchery_app.services.clutch import clutch
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import every_batch
from hatchery_app.services.today import chore, task_answer, today, today_facts
from tests.builders import make_pair, make_tank, read_temperature, set_set_point

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
LONG_AGO = datetime(2026, 1, 3, 9, 0, tzinfo=UTC)


@contextmanager
def statements() -> Iterator[list[str]]:
    """The statements sent to the database meanwhile, transactions' own words left out."""
    sent: list[str] = []

    def note(_connection, _cursor, statement, *_rest) -> None:
        sent.append(statement)

    event.listen(db.engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(db.engine, "before_cursor_execute", note)


def at(moment: datetime) -> Posting:
    return Posting(now=moment)


def fill_one_corner(session, room, number: int) -> None:
    """A pair with a clutch on its way and one that hatched, its larvae in a tank, and a chore."""
    home = make_tank(session, f"A{number}", role=TankRole.BROODSTOCK)
    set_set_point(session, home, "27", at=LONG_AGO)
    read_temperature(session, home, "26.8", at=NOW - timedelta(days=2))
    nursery = make_tank(session, f"L{number}")
    pair_id = make_pair(session, f"Rusk {number}", f"Tansy {number}", tank_id=home)
    first_laid = datetime(2026, 11, 1, 16, 0, tzinfo=UTC)
    hatched = datetime(2026, 11, 8, 21, 0, tzinfo=UTC)
    earlier = spawn.record_laying(
        session, posting=at(first_laid), pair_id=pair_id, when=When.exactly(first_laid)
    )
    clutch.record_hatch(
        session, posting=at(hatched), clutch_id=earlier, when=When.exactly(hatched),
        library=library(), number=HowMany.about(200),
    )  # fmt: skip
    (part,) = load_clutch(session, room, earlier).hatches
    larval_tank.put_larvae_in_tank(
        session, posting=at(hatched), hatch_id=part.fact_id, when=When.exactly(hatched),
        parts=(larval_tank.Part(nursery, HowMany.about(180)),),
    )  # fmt: skip
    clutch.end_clutch(
        session, posting=at(hatched), clutch_id=earlier, outcome=ClutchOutcome.HATCHED,
        when=When.exactly(hatched),
    )  # fmt: skip
    laid = datetime(2026, 11, 17, 16, number % 60, tzinfo=UTC)
    coming = spawn.record_laying(
        session, posting=at(laid), pair_id=pair_id, when=When.exactly(laid)
    )
    looked = NOW - timedelta(days=1)
    clutch.record_check(
        session, posting=at(looked), clutch_id=coming, kind=CheckKind.LOOKS_WELL,
        when=When.exactly(looked),
    )  # fmt: skip
    chore.add_chore(
        session, posting=at(LONG_AGO), what=f"Clean filter {number}",
        rhythm=Rhythm(every_days=1), in_round=Round.MORNING, tank_id=home,
    )  # fmt: skip
    task_answer.answer_task(
        session, posting=at(NOW), task=f"look_at_eggs:{coming}:2026-11-24.morning",
        outcome=Outcome.DONE,
    )  # fmt: skip


def a_rota(session) -> None:
    feeding_rota.set_rota(
        session, posting=at(LONG_AGO), dry="pellets", frozen="mysis", when=When.exactly(LONG_AGO)
    )


def asked(session, room) -> tuple[int, today.TodayPage]:
    session.expire_all()
    session.rollback()
    every_batch.forget()
    with statements() as sent:
        facts = today_facts.load_day(session, library(), room=room, now=NOW)
        page = today.today_page(session, facts)
    return len(sent), page


def test_today_asks_as_often_for_six_clutches_as_for_one(session, gannet_stair):
    a_rota(session)
    fill_one_corner(session, gannet_stair, 1)
    for_one, one = asked(session, gannet_stair)
    for number in range(2, 7):
        fill_one_corner(session, gannet_stair, number)
    for_six, six = asked(session, gannet_stair)

    assert (len(one.tonight.watches), len(six.tonight.watches)) == (1, 6)
    assert (len(one.facts.larvae), len(six.facts.larvae)) == (1, 6)
    assert (len(one.facts.walk.stops), len(six.facts.walk.stops)) == (2, 12)
    assert for_six == for_one
    assert for_one > 20


@freeze_time(NOW)
def test_the_page_itself_asks_no_more_for_a_full_room(client, session, gannet_stair):
    a_rota(session)
    fill_one_corner(session, gannet_stair, 1)
    with statements() as for_one:
        assert client.get("/").status_code == 200
    for number in range(2, 5):
        fill_one_corner(session, gannet_stair, number)
    session.expire_all()
    session.rollback()
    every_batch.forget()  # the first asking and a later one differ by one
    with statements() as for_four:
        assert client.get("/").status_code == 200
    assert len(for_four) == len(for_one)
