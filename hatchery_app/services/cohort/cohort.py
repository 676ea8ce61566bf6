"""What is entered of a cohort: that it came, its lengths and grades, what is set aside, who left.

Counts, deaths and moves are those of the stock book; a cohort adds only what is its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select

from hatchery_app.domain.broodstock.body_length import LengthKind
from hatchery_app.domain.cohort.cohort import Aside, GradedOut, SetApart
from hatchery_app.domain.cohort.length_sample import LengthSample, parse_lengths
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Balance, Door, Stage
from hatchery_app.domain.typed_amounts import parse_length, parse_mass
from hatchery_app.domain.units import CENTIMETRE, INCH, MILLIMETRE, Unit
from hatchery_app.domain.when import Night, When
from hatchery_app.models.clutch import Clutch, Hatch, Laying
from hatchery_app.models.cohort import Graded, LengthsSampled, SaleSize, SetAside, SetAsideEnded
from hatchery_app.models.entry import known
from hatchery_app.models.stock_book import Holding
from hatchery_app.services.clutch.clutch_facts import nights_of
from hatchery_app.services.cohort import cohort_facts
from hatchery_app.services.larval_tank import joining
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.species import library
from hatchery_app.services.stock_book import batch_origin, stock_book
from hatchery_app.services.tank import tank_receiving

NOT_HERE = "That cohort does not stand in this room's records."
LENGTH_UNITS: dict[str, Unit] = {"mm": MILLIMETRE, "cm": CENTIMETRE, "in": INCH}


@dataclass(frozen=True)
class GradeSaid:
    """So many fish of one grade, in the keeper's words, and whether such fish are sold."""

    grade: str
    number: int | None = None
    may_be_sold: bool = True


def length_unit(room: RoomNow) -> Unit:
    """The unit of lengths typed without one."""
    return LENGTH_UNITS.get(room.length_unit, MILLIMETRE)


def find_cohort(book: Book, holding_id: int) -> Holding:
    """The cohort's entry. Raises NotKnown, RuleBroken for larvae."""
    row = book.find(Holding, holding_id, NOT_HERE)
    if row.stage is not Stage.COHORT:
        raise RuleBroken("These are larvae still: move the settled fish to grow-out first.")
    return row


def alive_in(book: Book, holding_id: int) -> Balance:
    """The book of a cohort inside this use case."""
    return stock_book.stock_of(book, (holding_id,)).balance(holding_id)


# --- Coming in ----------------------------------------------------------------------------


@use_case
def move_in_cohort(
    book: Book,
    *,
    tank_id: int,
    species_key: str,
    number: HowMany,
    when: When,
    hatched: tuple[Night, Night] | None = None,
    lengths: str = "",
    by_eye: bool = False,
    name: str = "",
    note: str = "",
) -> int:
    """Settled fish that were here before the records began: no clutch is known. Returns them.

    All but the tank may be vague: "about 60 fish, 25 mm, hatched about May, parents unknown".
    """
    library.check_species(species_key)
    here_on = room_now(book.session).room_time.local(when.latest).date()
    if hatched is not None and here_on < hatched[0].evening:
        raise RuleBroken("They cannot be here before they hatched.", field="hatched")
    tank_receiving.check(book, tank_id, when)
    batch = stock_book.begin_holding(
        book, stage=Stage.COHORT, tank_id=tank_id, species_key=species_key, clutch_ids=(),
        hatched=hatched, protocol=batch_origin.protocol_now(species_key), when=when, name=name,
        note=note,
    )  # fmt: skip
    stock_book.enter_movement(
        book, out_of=None, into=batch.fact, number=number, door=Door.ARRIVED, when=when,
        reason="here when the records began",
    )  # fmt: skip
    if lengths.strip():
        enter_lengths(book, batch.fact, lengths, when, LengthKind.TOTAL, by_eye=by_eye)
    return batch.fact


@use_case
def put_young_in_cohort(
    book: Book,
    *,
    hatch_id: int,
    tank_id: int,
    number: HowMany,
    when: When,
    name: str = "",
    note: str = "",
) -> int:
    """Young of a species without larvae go straight into a cohort. Returns it."""
    return put_young(
        book, hatch_id=hatch_id, tank_id=tank_id, number=number, when=when, name=name, note=note
    )


def put_young(
    book: Book,
    *,
    hatch_id: int,
    tank_id: int,
    number: HowMany,
    when: When,
    name: str = "",
    note: str = "",
) -> int:
    """What `put_young_in_cohort` does, inside another use case."""
    hatch = book.find(Hatch, hatch_id, "That hatch does not stand in this room's records.")
    clutch = book.find(Clutch, hatch.clutch_id)
    laying = book.find(Laying, clutch.laying_id)
    species = library.species_or_none(laying.species_key)
    if species is None or not species.brood_mode.is_carried:
        raise RuleBroken("This species has larvae: put them in a larval tank.", field="tank_1")
    if when.latest < hatch.happened_earliest:
        raise RuleBroken("They cannot be in a tank before they were seen.", field="at_on")
    nights = nights_of(book.session, room_now(book.session), [hatch])[hatch.fact]
    coming = joining.Coming(
        clutch_ids=(clutch.fact,), hatched=(nights.first, nights.last),
        species_key=laying.species_key,
        protocol=batch_origin.protocol_now(laying.species_key), stage=Stage.COHORT, name=name,
    )  # fmt: skip
    into = joining.holding_for(book, tank_id, coming, when, note=note)
    stock_book.enter_movement(
        book, out_of=None, into=into, number=number, door=Door.HATCHED, when=when, note=note,
        clutch_id=clutch.fact, hatch_id=hatch_id,
    )  # fmt: skip
    return into


@use_case
def grade_out(
    book: Book,
    *,
    holding_id: int,
    tank_id: int,
    number: HowMany,
    which: GradedOut,
    when: When,
    note: str = "",
) -> int:
    """The largest or smallest go to another tank. Returns the cohort they are in there."""
    old = find_cohort(book, holding_id)
    here = stock_book.stock_of(book, (holding_id,)).holding(holding_id)
    if here.place.tank_id == tank_id:
        raise RuleBroken("They are in that tank already.", field="tank_1")
    coming = joining.Coming(
        clutch_ids=old.clutches, hatched=old.hatched, species_key=old.species_key,
        protocol=old.protocol, stage=Stage.COHORT,
    )  # fmt: skip
    into = joining.holding_for(book, tank_id, coming, when, note=note, without=holding_id)
    stock_book.enter_movement(
        book, out_of=holding_id, into=into, number=number, door=Door.MOVED, when=when,
        reason=which.value, note=note,
        clutch_id=old.clutches[0] if len(old.clutches) == 1 else None,
    )  # fmt: skip
    return into


# --- Lengths and grades -------------------------------------------------------------------


@use_case
def record_lengths(
    book: Book,
    *,
    holding_id: int,
    lengths: str,
    when: When,
    measure: LengthKind = LengthKind.TOTAL,
    by_eye: bool = False,
    weighed: str = "",
    weighed_fish: int | None = None,
    note: str = "",
) -> int:
    """Lengths of some fish, as pasted, or what some weighed together. Returns the entry."""
    find_cohort(book, holding_id)
    return enter_lengths(
        book, holding_id, lengths, when, measure, by_eye=by_eye, weighed=weighed,
        weighed_fish=weighed_fish, note=note,
    )  # fmt: skip


def enter_lengths(
    book: Book,
    holding_id: int,
    lengths: str,
    when: When,
    measure: LengthKind,
    *,
    by_eye: bool = False,
    weighed: str = "",
    weighed_fish: int | None = None,
    note: str = "",
) -> int:
    """Lengths within another act, read in the room's unit. Returns the entry."""
    room = room_now(book.session)
    _refuse_before_hatch(book, holding_id, when, room)
    unit = length_unit(room)
    read = parse_lengths(lengths, unit, answers=book.answers)
    grams = float(parse_mass(weighed, field="weighed_g").canonical) if weighed.strip() else None
    sample = LengthSample(when, read, measure, by_eye, grams, weighed_fish)
    row = LengthsSampled(
        holding_id=holding_id, measure=measure,
        lengths_mm=" ".join(f"{length:.6g}" for length in sample.lengths_mm),
        typed=" ".join(lengths.split())[:4000], by_eye=by_eye, weighed_g=grams,
        weighed_fish=weighed_fish,
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


def _refuse_before_hatch(book: Book, holding_id: int, when: When, room: RoomNow) -> None:
    hatched = book.find(Holding, holding_id, NOT_HERE).hatched
    if hatched is not None and room.room_time.local(when.latest).date() < hatched[0].evening:
        raise RuleBroken(
            f"They cannot be measured before they hatched (night of {hatched[0].said()}).",
            field="at_on",
        )


@use_case
def record_grades(
    book: Book, *, holding_id: int, grades: Sequence[GradeSaid], when: When, note: str = ""
) -> int:
    """A grading of that day, in the keeper's own words. Returns its first grade.

    Grades that are not sold are set aside; the newest grading replaces what an earlier one set
    aside. Raises RuleBroken for more fish graded than there can be.
    """
    find_cohort(book, holding_id)
    _check_grades(grades, alive_in(book, holding_id))
    earlier = cohort_facts.grades_of(book.session, holding_id)
    is_newest = not earlier or when.latest >= earlier[0].when.latest
    if is_newest:
        _end_graded(book, holding_id, when)
    entered = []
    for said in grades:
        row = Graded(
            holding_id=holding_id, grade=said.grade.strip(), number=said.number,
            may_be_sold=said.may_be_sold,
        )  # fmt: skip
        entered.append(book.enter(row, when=when, note=note))
        if is_newest and not said.may_be_sold:
            book.enter(
                SetAside(
                    holding_id=holding_id, why=Aside.NOT_FOR_SALE, number=said.number,
                    reason=f"graded {said.grade.strip()}", graded_id=row.fact,
                ),
                when=when,
            )  # fmt: skip
    return entered[0].fact


def _check_grades(grades: Sequence[GradeSaid], alive: Balance) -> None:
    if not grades:
        raise RuleBroken("Write at least one grade, in your own words.", field="grade_1")
    for place, said in enumerate(grades, start=1):
        if not said.grade.strip():
            raise RuleBroken("Say which grade these are.", field=f"grade_{place}")
        if said.number is not None and said.number < 1:
            raise RuleBroken("A grade has at least one fish.", field=f"number_{place}")
        if said.number is None and not said.may_be_sold:
            raise RuleBroken(
                "Say how many, so that they are not sold by mistake.", field=f"number_{place}"
            )
    graded = sum(said.number or 0 for said in grades)
    most = alive.now.most
    if most is not None and graded > most:
        raise RuleBroken(
            f"{graded} graded, and there are {alive.now.said()}: count them, or mend a number.",
            field="number_1",
        )


def _end_graded(book: Book, holding_id: int, when: When) -> None:
    promises = cohort_facts.load_promises(book.session, (holding_id,))
    standing = {line.set_aside_id for line in promises.apart_of(holding_id)}
    rows = book.session.scalars(
        select(SetAside).where(
            known(), SetAside.fact_id.in_(standing), SetAside.holding_id == holding_id,
            SetAside.graded_id.is_not(None),
        )
    ).all()  # fmt: skip
    for row in rows:
        book.enter(SetAsideEnded(set_aside_id=row.fact), when=when, note="graded anew")


@use_case
def set_sale_size(book: Book, *, species_key: str, length: str, when: When) -> int:
    """From which length this room sells a species, from then on. Returns the entry."""
    library.check_species(species_key)
    if not species_key:
        raise RuleBroken("Say first what species they are.", field="length")
    amount = parse_length(length, length_unit(room_now(book.session)), field="length")
    row = SaleSize(
        species_key=species_key, length_mm=float(amount.canonical), typed=length.strip()[:40]
    )
    return book.enter(row, when=when).fact


# --- Set aside ----------------------------------------------------------------------------


@use_case
def set_aside(
    book: Book,
    *,
    holding_id: int,
    why: Aside,
    when: When,
    number: int | None = None,
    reason: str = "",
    note: str = "",
) -> int:
    """Fish of a batch or cohort are kept, barred, in quarantine or too small. Returns the entry.

    `number` None: all of them, wherever they are moved to from then on.
    """
    book.find(Holding, holding_id, NOT_HERE)
    SetApart(why, number, reason)
    most = alive_in(book, holding_id).now.most
    if number is not None and most is not None and number > most:
        raise RuleBroken(f"At most {most} are alive; {number} cannot be set aside.", field="number")
    row = SetAside(holding_id=holding_id, why=why, number=number, reason=reason.strip()[:200])
    return book.enter(row, when=when, note=note).fact


@use_case
def set_free(
    book: Book, *, set_aside_id: int, when: When, number: int | None = None, note: str = ""
) -> int:
    """Fish set aside are free again, all or some of them. Returns the holding."""
    row = book.find(SetAside, set_aside_id, "Those fish are not set aside.")
    if number is not None:
        end_aside(book, row.holding_id, set_aside_id, number, when)
    else:
        book.enter(SetAsideEnded(set_aside_id=set_aside_id), when=when, note=note)
    return row.holding_id


def end_aside(
    book: Book,
    holding_id: int,
    set_aside_id: int,
    number: int,
    when: When,
    *,
    moved_id: int | None = None,
) -> None:
    """So many of those set aside are free, or have left by a movement. Inside a use case."""
    check_aside(book, holding_id, set_aside_id, number)
    stored = None if moved_id is not None else number
    book.enter(
        SetAsideEnded(set_aside_id=set_aside_id, number=stored, moved_id=moved_id), when=when
    )


def check_aside(book: Book, holding_id: int, set_aside_id: int, number: int) -> None:
    """Refuse more than are still set aside under an entry."""
    lines = cohort_facts.load_promises(book.session, (holding_id,)).apart_of(holding_id)
    found = [line.apart for line in lines if line.set_aside_id == set_aside_id]
    if not found:
        raise RuleBroken("Those fish are no longer set aside.", field="out_of")
    if number < 1:
        raise RuleBroken("Say how many; at least one.", field="number")
    if found[0].number is not None and number > found[0].number:
        raise RuleBroken(f"Only {found[0].said()}; {number} is more.", field="number")
