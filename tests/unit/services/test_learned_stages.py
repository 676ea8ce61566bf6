"""Stages learned from the marks in the records."""

from datetime import UTC, datetime, timedelta

from sqlalchemy.orm import Session

from hatchery_app.domain.larval_tank.learned_stages import Stage
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank.learned_stages import learned_stages
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts
from tests.builders import make_batch, make_tank

HATCHED = datetime(2026, 9, 1, 21, tzinfo=UTC)


def test_marks_of_the_rooms_batches_are_learned_by_species(
    session: Session, gannet_stair: RoomNow
) -> None:
    for turn, day in enumerate((9, 11)):
        hatched = HATCHED + timedelta(days=14 * turn)
        batch = make_batch(session, make_tank(session, f"L{turn}"), hatched_at=hatched)
        seen = hatched + timedelta(days=day - 1, hours=12)
        counts.record_mark(
            session, posting=Posting(now=seen), holding_id=batch, mark="first settled",
            when=When.exactly(seen),
        )  # fmt: skip
    (found,) = learned_stages(
        session, "amphiprion_ocellaris", library=library(), room=gannet_stair
    )
    assert found.stage is Stage.FIRST_SETTLED
    assert (found.batches, found.low_dph, found.high_dph) == (2, 9, 11)
    others = learned_stages(session, "amphiprion_clarkii", library=library(), room=gannet_stair)
    assert others == ()
