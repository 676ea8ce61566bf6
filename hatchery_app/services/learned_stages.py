"""When this room's batches of a species reached their stages, from the keeper's marks."""

from collections.abc import Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from hatchery_app.domain import learned_stages as domain
from hatchery_app.domain.learned_stages import LearnedStage, Stage, StageTold
from hatchery_app.domain.species import Species
from hatchery_app.domain.when import dph
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import StageMark, StageSeen
from hatchery_app.models.stock_book import Holding
from hatchery_app.services.room import RoomNow


def learned_stages(
    session: Session, species_key: str, *, library: Mapping[str, Species], room: RoomNow
) -> tuple[LearnedStage, ...]:
    """What the room learned of a species' stages: "this room: 5 batches". One statement.

    A batch of unknown hatch night teaches nothing; one of two nights teaches its middle.
    """
    batch = aliased(Holding, flat=True)
    marks = session.execute(
        select(StageSeen, batch)
        .join(batch, batch.fact_id == StageSeen.holding_id)
        .where(
            known(of=StageSeen),
            known(of=batch),
            batch.species_key == species_key,
            StageSeen.mark != StageMark.FOOD_GAP,  # a gap is no stage of development
        )
        .order_by(StageSeen.seq)
    ).all()
    species = library.get(species_key)
    told = [each for mark, held in marks if (each := _told(mark, held, room)) is not None]
    return domain.learned_stages(told, species.larval if species is not None else None)


def _told(mark: StageSeen, held: Holding, room: RoomNow) -> StageTold | None:
    hatched, at = held.hatched, mark.when.middle
    if hatched is None:
        return None
    lights = room.lights(at)
    first, last = hatched
    oldest = dph(first, at, lights, room.room_time)
    youngest = max(oldest - last.number(first), 0)
    return StageTold(Stage(mark.mark.value), youngest, oldest)
