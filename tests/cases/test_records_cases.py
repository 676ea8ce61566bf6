"""Field cases of the day-book: written up later, and written ahead of time."""

from datetime import UTC, datetime, timedelta

import pytest
from freezegun import freeze_time
from sqlalchemy import select

from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.when import When
from hatchery_app.models.clutch import Laying
from hatchery_app.services.clutch import clutch
from hatchery_app.services.records import records
from hatchery_app.services.spawn import spawn
from tests.builders import LONG_AGO, make_pair, make_tank

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)


@pytest.fixture
def rusk_and_tansy(session, gannet_stair):
    nest = make_tank(session, "B1")
    return make_pair(session, "Rusk", "Tansy", tank_id=nest, at=LONG_AGO + timedelta(days=1))


def test_c13_a_week_written_up_on_sunday_keeps_both_its_days(session, rusk_and_tansy, posted):
    """Eggs of Monday and a look of Wednesday come into the book on Sunday evening, in any order:
    each keeps when it happened, and the book says that it was written later."""
    sunday = datetime(2026, 11, 22, 19, 30, tzinfo=UTC)
    monday, wednesday = sunday - timedelta(days=6), sunday - timedelta(days=4)
    clutch_id = spawn.record_laying(
        session, posting=posted(sunday), pair_id=rusk_and_tansy, eggs=HowMany.about(300),
        when=When.between(monday - timedelta(hours=3), monday, from_memory=True),
    )  # fmt: skip
    clutch.record_check(
        session, posting=posted(sunday + timedelta(minutes=5)), clutch_id=clutch_id,
        kind=CheckKind.LOOKS_WELL, when=When.exactly(wednesday, from_memory=True),
    )  # fmt: skip
    lines = {line.words: line for line in records.day_book(session).lines}
    laid = lines["Clutch 1: Rusk and Tansy laid, about 300 eggs"]
    looked = lines["Clutch 1: looks well"]
    assert (laid.when.latest, laid.received_at) == (monday, sunday)
    assert laid.when.from_memory
    assert (looked.when.latest, looked.received_at) == (wednesday, sunday + timedelta(minutes=5))


def test_c13_what_was_written_up_later_is_read_so_on_the_page(client, session, posted):
    nest = make_tank(session, "B1")
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=nest, at=LONG_AGO + timedelta(days=1))
    spawn.record_laying(
        session, posting=posted(NOON), pair_id=pair_id,
        when=When.exactly(NOON - timedelta(days=6), from_memory=True),
    )  # fmt: skip
    with freeze_time(NOON):
        page = client.get("/records?room=spawn&day=2026-11-18").text
    assert "Wed 18 Nov 12:00, from memory" in page
    assert "6 days later" in page


@pytest.mark.parametrize(("days", "sentence"), [(3, "has not come yet"), (400, "has not come yet")])
def test_c79_no_entry_is_corrected_into_the_future(
    client, session, rusk_and_tansy, posted, days, sentence
):
    spawn.record_laying(
        session, posting=posted(NOON), pair_id=rusk_and_tansy, when=When.exactly(NOON)
    )
    laying_id = session.scalars(select(Laying.fact_id)).one()
    ahead = (NOON + timedelta(days=days)).date().isoformat()
    with freeze_time(NOON):
        answer = client.post(
            f"/records/{laying_id}/correct",
            data={"when_how": "at", "at_on": ahead, "at_time": "10:00", "number": "about 90",
                  "species_key": "amphiprion_ocellaris", "female": "unknown", "male": "unknown",
                  "pair_id": "", "tank_id": str(session.scalars(select(Laying.tank_id)).one())},
        )  # fmt: skip
    assert answer.status_code == 422
    assert sentence in answer.text
    assert 'value="about 90"' in answer.text
    assert session.scalars(select(Laying.seq)).all() == [laying_id]


def test_c79_a_fact_of_five_minutes_ahead_counts_as_now(session, gannet_stair):
    from hatchery_app.domain.when import happened

    soon = When.exactly(NOON + timedelta(minutes=4))
    assert happened(soon, NOON, gannet_stair.room_time) == When.exactly(NOON)
    with pytest.raises(RuleBroken):
        happened(When.exactly(NOON + timedelta(days=3)), NOON, gannet_stair.room_time)
