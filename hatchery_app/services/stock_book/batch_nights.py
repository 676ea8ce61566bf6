"""The hatch nights of batches follow their hatches: one corrected, one narrowed by a later word.

A batch keeps the nights it began with, as its age hangs on them and the keeper may say them
better. Where they are still what its hatches said, they go along when the hatches say otherwise.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.stock_book.batch_descent import Flow, follows, gathered
from hatchery_app.domain.when import Night
from hatchery_app.models.clutch import Clutch, ClutchCheck, Hatch, Laying
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Holding, Moved
from hatchery_app.services.clutch.clutch_facts import nights_of
from hatchery_app.services.recording import Book, said_anew
from hatchery_app.services.records.room import room_now

Nights = dict[int, tuple[Night, Night]]


@contextmanager
def following(book: Book, clutch_ids: Collection[int]) -> Iterator[None]:
    """Let the batches of these clutches follow whatever is written of them inside."""
    before = _worked_out(book, clutch_ids) if clutch_ids else {}
    yield
    if not before:
        return
    after = _worked_out(book, clutch_ids)
    for row in book.session.scalars(
        select(Holding).where(known(), Holding.fact_id.in_(sorted(before)))
    ).all():
        nights = after.get(row.fact)
        if nights is None or nights == before[row.fact] or row.hatched != before[row.fact]:
            continue
        first, last = nights
        new = said_anew(row, hatched_first_on=first.evening, hatched_last_on=last.evening)
        book.correct(row, new, when=row.when, note=row.note)


def clutches_spoken_of(session: Session, rows: Iterable[Entry]) -> set[int]:
    """The clutches whose hatch nights these entries bear on."""
    found = {row.clutch_id for row in rows if isinstance(row, Hatch | ClutchCheck)}
    layings = [row.fact for row in rows if isinstance(row, Laying)]
    if layings:
        eggs = select(Clutch.fact_id).where(known(), Clutch.laying_id.in_(layings))
        found |= {clutch_id for clutch_id in session.scalars(eggs) if clutch_id is not None}
    return found


def _worked_out(book: Book, clutch_ids: Collection[int]) -> Nights:
    """The first and last night of every batch with fish of these clutches, by all its hatches.

    One statement where none of them went into a tank.
    """
    ours = select(Hatch.fact_id).where(known(), Hatch.clutch_id.in_(sorted(clutch_ids)))
    roots = select(Moved.into_id).where(known(), Moved.hatch_id.in_(ours)).distinct()
    begun = [into for into in book.session.scalars(roots) if into is not None]
    if not begun:
        return {}
    # The ends of the moves alone, as columns: this is asked in the dark, with each look.
    moves = book.session.execute(
        select(Moved.into_id, Moved.out_of_id, Moved.hatch_id)
        .where(known(), Moved.into_id.is_not(None))
        .order_by(Moved.fact_id)
    ).all()
    flows = [Flow(row.into_id, row.out_of_id) for row in moves]
    affected = sorted({one for root in begun for one in follows(flows, root)})
    hatched = [row for row in moves if row.hatch_id is not None and row.into_id in affected]
    hatches = select(Hatch).where(known(), Hatch.fact_id.in_({row.hatch_id for row in hatched}))
    nights = nights_of(book.session, room_now(book.session), book.session.scalars(hatches).all())
    own: dict[int, frozenset[Night]] = defaultdict(frozenset)
    for row in hatched:
        span = nights.get(row.hatch_id or 0)
        if span is not None and row.into_id is not None:
            own[row.into_id] |= {span.first, span.last}
    standing = {
        fact: frozenset(Night(on) for on in (first, last or first) if on is not None)
        for fact, first, last in book.session.execute(
            select(Holding.fact_id, Holding.hatched_first_on, Holding.hatched_last_on).where(
                known()
            )
        )
        if fact is not None
    }
    held = gathered(flows, affected, own, standing)
    return {one: (min(found), max(found)) for one, found in held.items() if found}
