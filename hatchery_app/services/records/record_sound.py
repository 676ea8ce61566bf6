"""Whether an entry said anew can be at all: what reads it looks at it before it is kept.

A page builds its values from entries, and a value refuses nonsense at its birth. Kept all the
same, one such entry would shut every page that reads it.
"""

from collections.abc import Iterable, Sequence

from sqlalchemy import select

from hatchery_app.domain.broodstock.body_length import LengthKind, LengthSeen
from hatchery_app.domain.broodstock.sex_state import Sex, SexEvidence, SexState, Standing
from hatchery_app.domain.clutch.night_span import refuse_nights_outside
from hatchery_app.domain.cohort.cohort import SetApart
from hatchery_app.domain.cohort.length_sample import parse_lengths
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.stock_book.stock_checks import check_hatched
from hatchery_app.domain.stock_book.stock_entry import Door
from hatchery_app.domain.stock_book.worked_count import read_samples, recovery_of
from hatchery_app.domain.units import MILLIMETRE
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import (
    BroodGroup,
    FeedingRota,
    FishLeft,
    GroupLeft,
    LengthMeasured,
    Pair,
    SexSeen,
)
from hatchery_app.models.clutch import Hatch
from hatchery_app.models.cohort import LengthsSampled, SetAside
from hatchery_app.models.counting import RecoveryTrial
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.live_food import CultureCounted
from hatchery_app.models.parents import ParentColumns
from hatchery_app.models.room import LightHours
from hatchery_app.models.sale import ArrivalReport, Sale
from hatchery_app.models.shelf import ShelfChanged, ShelfItem
from hatchery_app.models.stock_book import Holding, Moved
from hatchery_app.models.tank import Tank
from hatchery_app.models.treatment import Treatment
from hatchery_app.services.broodstock import feeding_rota, fish
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.live_food import live_food, live_food_shelf
from hatchery_app.services.recording import Book
from hatchery_app.services.records.room import room_now
from hatchery_app.services.tank import treatment

FIRST_AND_LAST = (
    ("born_earliest_on", "born_latest_on"),
    ("hatched_first_on", "hatched_last_on"),
    ("night_on", "last_night_on"),
    ("first_on", "last_on"),
)


def refuse_nonsense(book: Book, row: Entry, fact_id: int, when: When) -> None:
    """Let the values that refuse nonsense look at one row, and bring it into the form they read.

    Raises RuleBroken, beside the part where that can be told.
    """
    match row:
        case Pair() if row.female_id == row.male_id:
            raise RuleBroken("A pair is two fish.", field="male_id")
        case SexSeen():
            _settle_sex(row, when)
        case LengthMeasured():
            LengthSeen(when, row.length_mm, LengthKind(row.measure), row.by_eye)
        case LengthsSampled():
            _settle_lengths(book, row, when)
        case SetAside():
            SetApart(row.why, row.number, row.reason)
        case FeedingRota():
            feeding_rota.check_sound(book, row, when)
        case Moved():
            _refuse_no_sale(book, row, fact_id)
        case Hatch():
            _refuse_other_nights(book, row, when)
        case Holding():
            for name in ("hatched_first_on", "hatched_last_on"):
                check_hatched(getattr(row, name), when, name)
        case LightHours():
            row.lights  # noqa: B018  (a lamp that never changes is refused at its birth)
        case Tank():
            _refuse_a_second_label(book, row, fact_id)
        case Treatment():
            treatment.check_sound(row)
        case RecoveryTrial():
            recovery_of(
                read_samples(row.counts),
                aliquot_ml=row.aliquot_ml,
                total_ml=row.total_ml,
                known=row.known_number,
            )
        case CultureCounted():
            live_food.settle_count(row)
        case ShelfItem() | ShelfChanged():
            live_food_shelf.settle_amount(row)
    if isinstance(row, ParentColumns):
        row.parents  # noqa: B018  (one fish as both is refused at its birth)
    _refuse_turned_round(row)


def refuse_impossible_stock(book: Book, rows: Iterable[Entry]) -> None:
    """Read the broodstock anew where a change speaks of its fish: who is whose parent, how many
    left a group, when each came, hatched and left. Raises RuleBroken."""
    if any(isinstance(row, (ParentColumns, FishLeft, BroodGroup, GroupLeft)) for row in rows):
        fish.check_descent(book)


def _settle_sex(row: SexSeen, when: When) -> None:
    written = [" ".join(one.split()).casefold() for one in row.evidence.split(",")]
    words = [one for one in written if one]
    unknown = [one for one in words if one not in tuple(SexEvidence)]
    if unknown:
        raise RuleBroken(
            f"“{unknown[0]}” is none of the signs of a sex: write "
            f"{', '.join(SexEvidence)}, with commas between; the rest is for the note.",
            field="evidence",
        )
    evidence = tuple(SexEvidence(one) for one in dict.fromkeys(words))
    SexState(Sex(row.sex), Standing(row.standing), when, evidence)
    row.evidence = ",".join(evidence)


def _settle_lengths(book: Book, row: LengthsSampled, when: When) -> None:
    """Lengths as any list of them is read; those of a sample that was only weighed are none."""
    if row.lengths_mm.strip():
        read = parse_lengths(row.lengths_mm, MILLIMETRE, "lengths_mm", answers=book.answers)
        row.lengths_mm = " ".join(f"{length:.6g}" for length in read)
    row.measure = LengthKind(row.measure)
    row.happened_earliest, row.happened_latest = when.earliest, when.latest
    row.said, row.from_memory = when.said, when.from_memory
    row.facts()


def _refuse_a_second_label(book: Book, row: Tank, fact_id: int) -> None:
    same: Sequence[int | None] = book.session.scalars(
        select(Tank.fact_id).where(known(), Tank.label == row.label)
    ).all()
    if any(other != fact_id for other in same):
        raise RuleBroken(f"{row.label} stands in the room already.", field="label")


def _refuse_no_sale(book: Book, row: Moved, fact_id: int) -> None:
    """What a sale names as its own stays fish sold, or sent again, so many of them."""
    for kind, door in ((Sale, Door.SOLD), (ArrivalReport, Door.REPLACED)):
        named = select(kind.seq).where(known(), kind.moved_id == fact_id)
        if book.session.scalar(named) is None:
            continue
        if row.door != door:
            raise RuleBroken("These belong to a sale: withdraw that, or let the door stand.",
                             field="door")  # fmt: skip
        if not row.number_best:
            raise RuleBroken("Fish of a sale are counted: write how many.", field="number")


def _refuse_other_nights(book: Book, row: Hatch, when: When) -> None:
    """A hatch's nights in dates: a year mistyped would be walked through night by night."""
    _refuse_turned_round(row)
    room = room_now(book.session)
    clutch = load_clutch(book.session, room, row.clutch_id, water=False)
    refuse_nights_outside(row.nights, when, clutch.stays, room.room_time, clutch.laid)


def _refuse_turned_round(row: Entry) -> None:
    for first, last in FIRST_AND_LAST:
        begins, ends = getattr(row, first, None), getattr(row, last, None)
        if begins is not None and ends is not None and ends < begins:
            raise RuleBroken("The last day lies before the first.", field=last)
