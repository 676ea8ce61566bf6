"""The room's calendar for a telephone: what is coming, under an address nobody can guess.

Whoever has the address can read the calendar, so it can be revoked; it says nothing that is not
the room's own word for a clutch, a batch or a tank.
"""

import hashlib
import secrets
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.today.room_calendar import (
    BatchAhead,
    CalendarEvent,
    batch_events,
    brood_events,
    hatch_events,
    hold_event,
    hours_event,
    still_ahead,
)
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.larval_tank import StageMark, StageSeen
from hatchery_app.models.room import CalendarKey, RoomFacts
from hatchery_app.services.clutch import clutch_page
from hatchery_app.services.clutch.clutch_facts import load_clutches
from hatchery_app.services.clutch.clutch_watch import watch
from hatchery_app.services.cohort import cohort_facts
from hatchery_app.services.larval_tank import larval_day
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book.holding_facts import load_stock

TOKEN_BYTES = 24  # 192 bits: not to be guessed


@dataclass(frozen=True)
class CalendarAddress:
    """The one address that opens the calendar now."""

    key_id: int
    token: str
    made_at: datetime


@dataclass(frozen=True)
class RoomCalendar:
    """The room's events. `revision` never falls: it rises with each entry and each day.

    `mark` tells this room's events from any other's; `changed_at` is when the newest entry came.
    """

    name: str
    mark: str
    zone_name: str
    revision: int
    changed_at: datetime
    now: datetime
    events: tuple[CalendarEvent, ...]


# --- The address --------------------------------------------------------------------------


@use_case
def make_address(book: Book) -> int:
    """A new address; an older one stops working. Returns the key."""
    _revoke_all(book)
    key = CalendarKey(
        token=secrets.token_urlsafe(TOKEN_BYTES), made_at=book.now, made_by_id=book.posting.by_id
    )
    book.session.add(key)
    book.session.flush()
    return key.id


@use_case
def revoke_address(book: Book) -> int:
    """Nobody can read the calendar any more. Returns the key that was revoked."""
    revoked = _revoke_all(book)
    if not revoked:
        raise RuleBroken("There is no address to revoke.")
    return revoked[-1]


def _revoke_all(book: Book) -> list[int]:
    rows = book.session.scalars(
        select(CalendarKey).where(CalendarKey.revoked_at.is_(None))
    ).all()
    for row in rows:
        row.revoked_at = book.now
    return [row.id for row in rows]


def address_now(session: Session) -> CalendarAddress | None:
    """The address that works now; None where none was made or it was revoked."""
    row = session.scalars(
        select(CalendarKey)
        .where(CalendarKey.revoked_at.is_(None))
        .order_by(CalendarKey.id.desc())
        .limit(1)
    ).first()
    return CalendarAddress(row.id, row.token, row.made_at) if row is not None else None


def check_token(session: Session, token: str) -> None:
    """Raises NotKnown unless it is the address that works now: no hint whether it ever did."""
    address = address_now(session)
    if address is None or not secrets.compare_digest(address.token.encode(), token.encode()):
        raise NotKnown("There is no such calendar.")


# --- The events ---------------------------------------------------------------------------


def room_calendar(
    session: Session, library: Mapping[str, Species], *, room: RoomNow, now: datetime
) -> RoomCalendar:
    """All that is coming, soonest first, in a fixed number of statements."""
    newest, changed_at = session.execute(
        select(func.max(Entry.seq), func.max(Entry.received_at))
    ).one()
    today = room.room_time.local(now).date()
    events = [
        *_eggs(session, library, room, now),
        *_larvae(session, room, now),
        *_holds(session, room),
    ]
    ahead = [event for event in events if still_ahead(event, now, today)]
    return RoomCalendar(
        name=room.name,
        mark=_mark(session),
        zone_name=room.room_time.zone_name,
        revision=(newest or 0) + today.toordinal(),
        changed_at=changed_at or now,
        now=now,
        events=tuple(sorted(ahead, key=lambda e: (e.begins.isoformat(), e.name))),
    )


def _mark(session: Session) -> str:
    """A word for this room that no correction of its name changes and that tells nothing."""
    first = session.execute(
        select(RoomFacts.seq, RoomFacts.received_at).order_by(RoomFacts.seq).limit(1)
    ).one()
    return hashlib.sha256(f"{first[0]} {first[1].isoformat()}".encode()).hexdigest()[:16]


def _eggs(
    session: Session, library: Mapping[str, Species], room: RoomNow, now: datetime
) -> Iterator[CalendarEvent]:
    clutches = load_clutches(session, room, open_only=True)
    watched = watch(session, room, library, clutches, now=now)
    for seen in clutch_page.see(session, room, library, watched, now):
        name, place = f"{seen.clutch.name}, {seen.whose}", seen.clutch.place.tank_label
        if seen.forecast is not None:
            yield from hatch_events(seen.clutch.id, name, place, seen.forecast)
        elif seen.hours is not None:
            yield from hours_event(seen.clutch.id, name, place, seen.hours, room.room_time)
        elif seen.brood is not None and seen.brood.forecast is not None:
            coming = seen.brood.words.coming
            yield from brood_events(seen.clutch.id, name, place, coming, seen.brood.forecast)


def _larvae(session: Session, room: RoomNow, now: datetime) -> Iterator[CalendarEvent]:
    plans = larval_day.larval_plans(session, room, now)
    ids = [plan.holding.id for plan in plans]
    given = set(
        session.scalars(
            select(StageSeen.holding_id).where(
                known(), StageSeen.holding_id.in_(ids), StageSeen.mark == StageMark.FIRST_SHRIMP
            )
        )
    )
    for plan in plans:
        held, species = plan.holding, plan.species
        if held.hatched is None or plan.plan is None or species is None or species.larval is None:
            continue
        yield from batch_events(
            BatchAhead(
                held.id, held.name, held.place.label, held.hatched[0], species.larval,
                plan.plan.settlement, plan.mean_c, held.id in given, held.hatched[1],
            )
        )  # fmt: skip


def _holds(session: Session, room: RoomNow) -> Iterator[CalendarEvent]:
    stock = load_stock(session, room, stage=Stage.COHORT)
    open_now = {held.id: held for held in stock.open()}
    promises = cohort_facts.load_promises(session, open_now)
    for held in open_now.values():
        for line in promises.holds_of(held.id):
            if line.hold.until_on is not None and held.places:
                yield hold_event(
                    line.held_id, line.hold.number, held.name, line.hold.until_on,
                    held.place.label,
                )  # fmt: skip
