"""When this room's batches of a species reached their stages, from the keeper's marks."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from hatchery_app.domain.larval_tank import learned_stages as domain
from hatchery_app.domain.larval_tank.learned_stages import LearnedStage, Stage, StageTold
from hatchery_app.domain.larval_tank.settlement_split import SettlementSplit, settlement_dates
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.when import Night, When, night_of
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import StageMark, StageSeen
from hatchery_app.models.stock_book import Holding
from hatchery_app.services.records.room import RoomNow

BATCH = aliased(Holding, flat=True)
SETTLING = (Stage.FIRST_SETTLED, Stage.HALF_SETTLED, Stage.LAST_SETTLED)


@dataclass(frozen=True)
class MarkTold:
    """One mark of the room: of which batch and species, and when in its life."""

    holding_id: int
    species_key: str
    told: StageTold


def marks_of_room(
    session: Session, species_keys: Iterable[str], *, room: RoomNow
) -> tuple[MarkTold, ...]:
    """Every mark of the batches of these species, oldest first. One statement.

    A batch of unknown hatch night tells nothing; one of two nights tells its middle.
    """
    rows = session.execute(
        select(StageSeen, BATCH)
        .join(BATCH, BATCH.fact_id == StageSeen.holding_id)
        .where(
            known(of=StageSeen),
            known(of=BATCH),
            BATCH.species_key.in_(sorted(set(species_keys))),
            StageSeen.mark != StageMark.FOOD_GAP,  # a gap is no stage of development
        )
        .order_by(StageSeen.seq)
    ).all()
    return tuple(
        MarkTold(mark.holding_id, held.species_key, told)
        for mark, held in rows
        if (told := stage_told(Stage(mark.mark.value), mark.when, held.hatched, room)) is not None
    )


def learned_stages(
    session: Session, species_key: str, *, library: Mapping[str, Species], room: RoomNow
) -> tuple[LearnedStage, ...]:
    """What the room learned of a species' stages: "this room: 5 batches". One statement."""
    species = library.get(species_key)
    marks = marks_of_room(session, [species_key], room=room)
    plan = species.larval if species is not None else None
    return domain.learned_stages([mark.told for mark in marks], plan)


def learned_from(
    marks: Sequence[MarkTold], species: Species, *, without: int
) -> tuple[LearnedStage, ...]:
    """What the room's other batches of a species say of one of them."""
    others = [
        mark.told for mark in marks
        if mark.species_key == species.key and mark.holding_id != without
    ]  # fmt: skip
    return domain.learned_stages(others, species.larval)


def stage_told(
    stage: Stage, when: When, hatched: tuple[Night, Night] | None, room: RoomNow
) -> StageTold | None:
    """A stage in days of a batch's life; None where its hatch night is not known."""
    if hatched is None:
        return None
    first, last = hatched
    oldest = _dph(first, when.latest, room)
    youngest = max(_dph(first, when.earliest, room) - last.number(first), 0)
    return StageTold(stage, min(youngest, oldest), oldest)


@dataclass(frozen=True)
class BatchShowed:
    """What one batch showed: stages seen, those its last look lacked, those its first had."""

    seen: tuple[StageTold, ...]
    not_by: Mapping[Stage, int]
    there_by: Mapping[Stage, int]


def showed(
    marks: Iterable[MarkTold],
    looks: Sequence[SettlementSplit],
    hatched: tuple[Night, Night] | None,
    room: RoomNow,
) -> BatchShowed:
    """What one batch showed by its marks and by the looks at it, oldest first.

    A stage that a look found and the one before did not came between the two.
    """
    seen = {mark.told.stage: mark.told for mark in marks}
    not_by: dict[Stage, int] = {}
    there_by: dict[Stage, int] = {}
    dates = settlement_dates(looks)
    if hatched is None:
        return BatchShowed((), {}, {})
    for stage, when in zip(SETTLING, (dates.first, dates.half, dates.last), strict=True):
        lacked = [look for look in looks if look.alive and not _shows(look, stage)]
        if when is None and lacked:
            not_by[stage] = _dph(hatched[0], lacked[-1].when.latest, room)
        if when is None or stage in seen:
            continue
        told = stage_told(stage, when, hatched, room)
        if told is not None and lacked and lacked[0].when.latest <= when.latest:
            seen[stage] = told
        elif told is not None:
            there_by[stage] = told.high_dph
    return BatchShowed(tuple(seen.values()), not_by, there_by)


def _shows(look: SettlementSplit, stage: Stage) -> bool:
    if stage is Stage.FIRST_SETTLED:
        return look.settled > 0
    return 2 * look.settled >= look.alive if stage is Stage.HALF_SETTLED else look.swimming == 0


def _dph(night: Night, at: datetime, room: RoomNow) -> int:
    return max(night_of(at, room.lights(at), room.room_time).number(night), 0)
