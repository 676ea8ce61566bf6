"""How a number was counted, what a count can rest on, and trials with a known number."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.species.species import BroodMode
from hatchery_app.domain.stock_book.worked_count import (
    Recovery,
    Sampled,
    WorkedCount,
    recovery_of,
    worked_again,
)
from hatchery_app.domain.when import When
from hatchery_app.models.clutch import ClutchCheck, Hatch, Laying
from hatchery_app.models.columns import HowManyColumns
from hatchery_app.models.counting import RecoveryTrial
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Moved, StockCount
from hatchery_app.services.clutch.clutch_facts import ClutchFacts
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.record_names import load_names
from hatchery_app.services.records.record_references import whole_entries
from hatchery_app.services.records.record_words import said
from hatchery_app.services.records.room import room_now
from hatchery_app.services.species import library
from hatchery_app.services.stock_book import photo_count
from hatchery_app.services.stock_book.holding_facts import load_stock
from hatchery_app.services.stock_book.photo_count import PhotoShown

CARRY_A_NUMBER = (StockCount, ClutchCheck, Hatch, Laying, Moved)


@dataclass(frozen=True)
class Trial:
    """A known number counted as such animals always are here, and the recovery it showed."""

    trial_id: int
    when: When
    sampled: Sampled
    known_number: int
    counts: tuple[int, ...]
    aliquot_ml: float
    total_ml: float
    recovery: Recovery
    note: str = ""


@dataclass(frozen=True)
class CountGround:
    """What a count may rest on: what was known before, the room's trial, a marked picture.

    `sampled` is what samples of this water hold; `loose_eggs` whether eggs can be weighed.
    `about_id` is the batch or clutch that is counted.
    """

    before: HowMany | None = None
    trial: Trial | None = None
    photo: PhotoShown | None = None
    sampled: Sampled = Sampled.LARVAE
    loose_eggs: bool = False
    about_id: int = 0


@dataclass(frozen=True)
class CountShown:
    """One entry's number with its raw figures and picture. `worked` None: it was only said."""

    fact_id: int
    words: str
    when: When
    number: HowMany
    worked: WorkedCount | None
    photo: PhotoShown | None


def ground_of_batch(
    session: Session, *, holding_id: int, now: datetime, photo_id: int = 0
) -> CountGround:
    """What a count of a batch may rest on. A fixed number of statements."""
    stock = load_stock(session, room_now(session), holding_ids=(holding_id,))
    stock.holding(holding_id)
    return CountGround(
        before=stock.balance(holding_id, now).now,
        trial=newest_trial(session, Sampled.LARVAE),
        photo=_picture_of(session, photo_id, holding_id),
        about_id=holding_id,
    )


def ground_of_eggs(session: Session, clutch: ClutchFacts, *, photo_id: int = 0) -> CountGround:
    """What a count of a clutch's eggs may rest on. Only eggs that lie loose can be weighed."""
    species = library.species_or_none(clutch.species_key)
    loose = species is not None and species.brood_mode is BroodMode.PELAGIC
    counted = [one.number for one in clutch.checks if one.kind is CheckKind.EGGS]
    seen = [number for number in counted if number.is_known]
    return CountGround(
        before=seen[-1] if seen else clutch.eggs,
        trial=newest_trial(session, Sampled.LOOSE_EGGS) if loose else None,
        photo=_picture_of(session, photo_id, clutch.id),
        sampled=Sampled.LOOSE_EGGS,
        loose_eggs=loose,
        about_id=clutch.id,
    )


def ground_of_hatch(session: Session, clutch: ClutchFacts, *, photo_id: int = 0) -> CountGround:
    """What a count of larvae just hatched may rest on."""
    return CountGround(
        trial=newest_trial(session, Sampled.LARVAE),
        photo=_picture_of(session, photo_id, clutch.id),
        about_id=clutch.id,
    )


def ground_of_water(session: Session) -> CountGround:
    """What a count of larvae that go into their first tank may rest on: the room's own trial."""
    return CountGround(trial=newest_trial(session, Sampled.LARVAE))


def _picture_of(session: Session, photo_id: int, about_id: int) -> PhotoShown | None:
    """A picture that shows this batch or clutch; another's is not counted on here."""
    found = photo_count.photo_or_none(session, photo_id)
    return found if found is not None and found.about_id == about_id else None


def newest_trial(session: Session, sampled: Sampled) -> Trial | None:
    """The room's last trial with such animals, None where none was made."""
    return next((one for one in trials(session) if one.sampled is sampled), None)


def trials(session: Session) -> tuple[Trial, ...]:
    """Every trial of the room, newest first."""
    rows = session.scalars(
        select(RecoveryTrial)
        .where(known())
        .order_by(RecoveryTrial.happened_latest.desc(), RecoveryTrial.seq.desc())
    )
    return tuple(_trial(row) for row in rows)


def _trial(row: RecoveryTrial) -> Trial:
    counts = tuple(int(one) for one in row.counts.replace(",", " ").split() if one.isdigit())
    recovery = recovery_of(
        counts, aliquot_ml=row.aliquot_ml, total_ml=row.total_ml, known=row.known_number
    )
    return Trial(
        row.fact, row.when, row.sampled, row.known_number, counts, row.aliquot_ml, row.total_ml,
        recovery, row.note,
    )  # fmt: skip


@use_case
def record_trial(
    book: Book,
    *,
    sampled: Sampled,
    known_number: int,
    counts: Sequence[int],
    aliquot_ml: float,
    total_ml: float,
    when: When,
    note: str = "",
) -> int:
    """A known number was put into water and counted from samples. Returns the trial."""
    if known_number < 1:
        raise RuleBroken("Say how many were put in; at least one.", field="known_number")
    recovery_of(counts, aliquot_ml=aliquot_ml, total_ml=total_ml, known=known_number)
    row = RecoveryTrial(
        sampled=sampled, known_number=known_number, counts=" ".join(str(one) for one in counts),
        aliquot_ml=aliquot_ml, total_ml=total_ml,
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


def count_shown(session: Session, *, fact_id: int) -> CountShown:
    """How the number of an entry came about. Raises NotKnown for an entry without one."""
    row = session.scalars(
        select(Entry).options(whole_entries()).where(Entry.fact_id == fact_id, known())
    ).one_or_none()
    if not isinstance(row, CARRY_A_NUMBER) or not isinstance(row, HowManyColumns):
        raise NotKnown("No count stands at this address.")
    names = load_names(session, [row], room_now(session).room_time)
    return CountShown(
        fact_id, said(row, names), row.when, row.how_many, worked_again(row.how_many),
        photo_count.photo_of_number(session, fact_id),
    )  # fmt: skip
