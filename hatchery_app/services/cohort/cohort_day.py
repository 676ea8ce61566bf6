"""What each cohort asks for today: feed, count, grade. Asked by Today."""

from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.cohort.cohort import has_published_ration
from hatchery_app.domain.cohort.length_sample import mean_weight
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.today.day_work import CohortDay
from hatchery_app.models.cohort import Graded
from hatchery_app.models.entry import known
from hatchery_app.services.cohort import cohort_facts
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book.every_batch import batches_held
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, Stock, load_stock

GRADE_EVERY_DAYS = 7  # the largest are graded out weekly; common practice


def cohort_day(session: Session, room: RoomNow, now: datetime) -> tuple[CohortDay, ...]:
    """Every cohort with fish, in walking order. A fixed number of statements, however many.

    Grading is asked for again once a cohort has been graded; one never graded is left alone.
    """
    stock = load_stock(session, room, holding_ids=batches_held(session, room, Stage.COHORT))
    held = [one for one in stock.open() if one.places]
    ids = [one.id for one in held]
    samples = cohort_facts.samples_of(session, ids)
    graded = _last_graded(session, room, ids)
    return tuple(
        _day(one, stock, room, samples.get(one.id, ()), graded.get(one.id)) for one in held
    )


def _last_graded(session: Session, room: RoomNow, ids: list[int]) -> dict[int, date]:
    rows = session.execute(
        select(Graded.holding_id, func.max(Graded.happened_latest))
        .where(known(), Graded.holding_id.in_(ids))
        .group_by(Graded.holding_id)
    )
    return {holding_id: room.room_time.local(at).date() for holding_id, at in rows}


def _day(
    held: HoldingFacts,
    stock: Stock,
    room: RoomNow,
    samples: tuple[cohort_facts.SampleLine, ...],
    graded_on: date | None,
) -> CohortDay:
    local = room.room_time.local
    counted = [
        entry.when.latest
        for entry in stock.book.counts
        if entry.holding == held.id and entry.number.is_known
    ]
    weight = None
    if samples and has_published_ration(held.species_key):
        weight = mean_weight(samples[-1].sample, held.species_key).weight_g
    return CohortDay(
        cohort_id=held.id,
        place_id=held.place.tank_id,
        began_on=local(held.began.latest).date(),
        fish=stock.balance(held.id).best,
        mean_weight_g=weight,
        last_counted_on=local(max(counted)).date() if counted else None,
        last_graded_on=graded_on,
        grade_every_days=GRADE_EVERY_DAYS if graded_on is not None else None,
    )
