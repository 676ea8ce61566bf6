"""What is said of a clutch keeps the order of life, in whatever order it is written down."""

from datetime import datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from tests.builders import make_pair, make_tank

A_DAY = timedelta(days=1)


@pytest.fixture
def hatched(session: Session, gannet_stair: RoomNow, now: datetime) -> int:
    """A clutch that was laid twelve days ago and hatched three days ago."""
    pair_id = make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1"))
    laid, out = now - 12 * A_DAY, now - 3 * A_DAY
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=laid), pair_id=pair_id, when=When.exactly(laid)
    )
    clutch.record_hatch(
        session, posting=Posting(now=out), clutch_id=clutch_id, when=When.exactly(out),
        library=library(), number=HowMany.about(80),
    )  # fmt: skip
    return clutch_id


def test_eggs_that_hatched_later_were_not_eaten_before(
    session: Session, gannet_stair: RoomNow, now: datetime, hatched: int
) -> None:
    with pytest.raises(RuleBroken, match="still seen after that") as refused:
        clutch.end_clutch(
            session, posting=Posting(now=now), clutch_id=hatched, outcome=ClutchOutcome.EATEN,
            when=When.exactly(now - 4 * A_DAY),
        )  # fmt: skip
    assert refused.value.field == "at_on"
    assert load_clutch(session, gannet_stair, hatched).ending is None


def test_nothing_is_written_down_before_it_happens_whoever_writes(
    session: Session, now: datetime, hatched: int
) -> None:
    with pytest.raises(RuleBroken, match="not come yet"):
        clutch.end_clutch(
            session, posting=Posting(now=now), clutch_id=hatched, outcome=ClutchOutcome.HATCHED,
            when=When.exactly(now + A_DAY),
        )  # fmt: skip
