"""The broodstock's feeding rota: what foods are in the house, and so what a pair gets today."""

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.rota import Rota
from hatchery_app.domain.when import When, night_of
from hatchery_app.models.broodstock import FeedingRota
from hatchery_app.models.entry import known
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import RoomNow, room_now


@use_case
def set_rota(
    book: Book,
    *,
    dry: str,
    frozen: str = "",
    fresh: str = "",
    meals_a_day: int = 2,
    when: When,
    note: str = "",
) -> int:
    """From now on the pairs are fed these in turn. Dry food is always among it."""
    row = FeedingRota(
        dry=_listed(dry), frozen=_listed(frozen), fresh=_listed(fresh), meals_a_day=meals_a_day
    )
    check_sound(book, row, when)
    return book.enter(row, when=when, note=note).fact


def check_sound(book: Book, row: FeedingRota, when: When) -> None:
    """Raises RuleBroken for what no rota can be: a single food, no dry food, one meal a day."""
    _rota(row, room_now(book.session), when.latest)


def rota_now(session: Session, room: RoomNow, now: datetime) -> Rota | None:
    """The rota that stands, None where none was set. One statement."""
    row = session.scalars(
        select(FeedingRota)
        .where(known(), FeedingRota.happened_latest <= now)
        .order_by(FeedingRota.happened_latest.desc(), FeedingRota.seq.desc())
        .limit(1)
    ).first()
    return None if row is None else _rota(row, room, row.happened_latest)


def _rota(row: FeedingRota, room: RoomNow, since: datetime) -> Rota:
    return Rota(
        from_on=night_of(since, room.lights(since), room.room_time).evening,
        dry=_split(row.dry),
        frozen=_split(row.frozen),
        fresh=_split(row.fresh),
        meals_a_day=row.meals_a_day,
    )


def _split(listed: str) -> tuple[str, ...]:
    return tuple(food.strip() for food in listed.split(",") if food.strip())


def _listed(typed: str) -> str:
    return ", ".join(_split(typed.replace(";", ",").replace("\n", ",")))
