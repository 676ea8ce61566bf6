"""How a pair's clutches hatch: how many of those that could, when, and how soon after dark."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.clutch.failed_hatch import ClutchEnd, PairShare, pair_share
from hatchery_app.domain.shrinkage import Shrunk, usual_delay
from hatchery_app.domain.species.species import Species
from hatchery_app.models.clutch import ClutchCheck
from hatchery_app.models.entry import known
from hatchery_app.services.clutch.brood_clutches import BroodClutch
from hatchery_app.services.clutch.clutch_watch import load_record
from hatchery_app.services.records.room import RoomNow

A_DAY = timedelta(days=1)


@dataclass(frozen=True)
class PairHatches:
    """A pair's own record of hatches.

    `days`: from laying to first hatch of each clutch, at the shortest and at the longest that what
    was said of both leaves open, shortest first. `delays_minutes`: from
    lights-off to the first larvae, where the hour is known; `delay` draws them to the usual.
    `taught`: clutches that move its forecast; `kept_out`: doubted ones that do not.
    """

    share: PairShare
    days: tuple[tuple[float, float], ...]
    delays_minutes: tuple[float, ...]
    delay: Shrunk
    taught: int
    kept_out: int


def pair_hatches(
    session: Session,
    room: RoomNow,
    library: Mapping[str, Species],
    *,
    pair_id: int,
    clutches: Sequence[BroodClutch],
    now: datetime,
) -> PairHatches:
    """What the pair's clutches showed. One statement, and the room's record where not at hand."""
    keys = {clutch.species_key for clutch in clutches}
    record = load_record(session, room, library, keys, now, pair_ids=[pair_id]) if keys else []
    own = [told for told in record if told.pair_id == pair_id]
    delays = tuple(told.delay_minutes for told in own if told.delay_minutes is not None)
    lit = _lamp_was_on(session, [clutch.clutch_id for clutch in clutches])
    ends = [
        ClutchEnd(clutch.outcome, clutch.clutch_id in lit)
        for clutch in clutches
        if clutch.outcome is not None
    ]
    return PairHatches(
        share=pair_share(ends),
        days=tuple(sorted(_days(clutch) for clutch in clutches if clutch.hatched)),
        delays_minutes=tuple(sorted(delays)),
        delay=usual_delay(delays),
        taught=sum(told.interval is not None and told.interval.is_hatch for told in own),
        kept_out=sum(told.is_kept_out for told in own),
    )


def _days(clutch: BroodClutch) -> tuple[float, float]:
    first = min(when.earliest for when in clutch.hatched)
    by = min(when.latest for when in clutch.hatched)
    shortest, longest = first - clutch.laid.latest, by - clutch.laid.earliest
    return max(shortest / A_DAY, 0.0), max(longest / A_DAY, 0.0)


def _lamp_was_on(session: Session, clutch_ids: Sequence[int]) -> set[int]:
    rows = session.scalars(
        select(ClutchCheck.clutch_id).where(
            known(),
            ClutchCheck.clutch_id.in_(clutch_ids),
            ClutchCheck.check_kind == CheckKind.LAMP_ON,
        )
    )
    return set(rows)
