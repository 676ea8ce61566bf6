"""Moving in: what of a room that has been running for years stands in the records already."""

from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.stock_book.stock_entry import Stage
from hatchery_app.models.broodstock import BroodGroup, Fish, Pair
from hatchery_app.models.clutch import Clutch
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.live_food import CultureStarted
from hatchery_app.models.stock_book import Holding
from hatchery_app.models.tank import Tank


@dataclass(frozen=True)
class MovingIn:
    """How many of each were entered; `fish` counts those of pairs too."""

    tanks: int
    pairs: int
    fish: int
    groups: int
    clutches: int
    batches: int
    cohorts: int
    cultures: int


def moving_in(session: Session) -> MovingIn:
    """What stands in the records, in two statements however large the room."""
    kinds = (Tank, Pair, Fish, BroodGroup, Clutch, CultureStarted)
    words = [kind.__mapper__.polymorphic_identity for kind in kinds]
    of_kinds = (
        select(Entry.kind, func.count()).where(known(), Entry.kind.in_(words)).group_by(Entry.kind)
    )
    of_stages = select(Holding.stage, func.count()).where(known()).group_by(Holding.stage)
    entered = dict(session.execute(of_kinds).all())
    held = dict(session.execute(of_stages).all())
    tanks, pairs, fish, groups, clutches, cultures = (
        entered.get(str(word), 0) for word in words
    )
    return MovingIn(
        tanks, pairs, fish, groups, clutches,
        batches=sum(number for stage, number in held.items() if stage is not Stage.COHORT),
        cohorts=held.get(Stage.COHORT, 0),
        cultures=cultures,
    )  # fmt: skip
