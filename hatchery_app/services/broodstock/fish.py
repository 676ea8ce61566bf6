"""What is entered of one breeding fish: that it came, what was seen of it, where it sits."""

from collections.abc import Mapping, Sequence
from datetime import date

from sqlalchemy import select

from hatchery_app.domain.broodstock.body_length import Beside, LengthKind, LengthSeen, SizeCompared
from hatchery_app.domain.broodstock.broodstock import HealthBar, Origin
from hatchery_app.domain.broodstock.sex_state import (
    CHANGED_BACK,
    EARLIER_WRONG,
    Sex,
    SexEvidence,
    SexState,
    Standing,
    check_next_state,
    sex_at,
)
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.spawn.parents import Parents
from hatchery_app.domain.species.species import SexSystem
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import (
    Fish,
    FishPlaced,
    HealthBarLifted,
    HealthBarred,
    LengthMeasured,
    SexSeen,
    SizeLooked,
    SpeciesSeen,
)
from hatchery_app.models.entry import known
from hatchery_app.models.parents import parent_columns
from hatchery_app.models.tank import Tank
from hatchery_app.services.broodstock.stock_record import load_stock
from hatchery_app.services.clutch.brood_clutches import load_brood_clutches, parents_by_clutch
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.species.library import check_species, library

NOT_OF_THIS_ROOM = "That fish does not stand in this room's records."
NO_PARENTS = Parents.unknown()


@use_case
def enter_fish(
    book: Book,
    *,
    name: str,
    when: When,
    species_key: str = "",
    species_evidence: str = "",
    crossed_with: str = "",
    variety: str = "",
    origin: Origin = Origin.UNKNOWN,
    origin_said: str = "",
    parents: Parents = NO_PARENTS,
    born_earliest_on: date | None = None,
    born_latest_on: date | None = None,
    clutch_id: int | None = None,
    group_id: int | None = None,
    tank_id: int | None = None,
    note: str = "",
) -> int:
    """A fish stands in the records from now on; `when` is its coming. Returns its id."""
    fish = add_fish(
        book,
        Fish(
            name=name.strip(), species_key=species_key, species_evidence=species_evidence.strip(),
            crossed_with=crossed_with.strip(), variety=variety.strip(), origin=origin,
            origin_said=origin_said.strip(), born_earliest_on=born_earliest_on,
            born_latest_on=born_latest_on, clutch_id=clutch_id, group_id=group_id,
            **parent_columns(parents),
        ),
        when=when,
        tank_id=tank_id,
        note=note,
    )  # fmt: skip
    if parents != NO_PARENTS or clutch_id is not None:
        check_descent(book)
    return fish.fact


def add_fish(
    book: Book, fish: Fish, *, when: When, tank_id: int | None = None, note: str = ""
) -> Fish:
    """Write a fish down and place it. For use inside a use case."""
    check_fish(fish, when)
    book.enter(fish, when=when, note=note)
    if tank_id is not None:
        add_placing(book, fish.fact, tank_id, when)
    return fish


def check_fish(fish: Fish, when: When) -> None:
    """Refuse a fish that cannot be: no name, no such species, here before it hatched."""
    if not fish.name:
        raise RuleBroken("A fish needs a name; it need not be the only one of that name.", "name")
    check_species(fish.species_key)
    if fish.born_earliest_on and fish.born_latest_on:
        if fish.born_latest_on < fish.born_earliest_on:
            raise RuleBroken("The later hatch day is before the earlier one.", "born_latest_on")
    elif fish.born_latest_on:
        raise RuleBroken("Say the first day it can have hatched too.", "born_earliest_on")
    born = fish.born
    if born is not None and when.latest < born.earliest:
        raise RuleBroken(f"{fish.name} cannot be here before it hatched.", "born_earliest_on")


def check_descent(book: Book) -> None:
    """Refuse a pedigree that cannot be: a circle, or a parent no older than its young."""
    stock = load_stock(book.session)
    try:
        stock.pedigree(parents_by_clutch(load_brood_clutches(book.session)))
    except RuleBroken as broken:
        raise RuleBroken(_with_names(broken.sentence, stock.labels), "parents") from broken


def _with_names(sentence: str, labels: Mapping[int, str]) -> str:
    for fish_id in sorted(labels, reverse=True):
        sentence = sentence.replace(f"Fish {fish_id} ", f"{labels[fish_id]} ")
        sentence = sentence.replace(f"fish {fish_id}:", f"{labels[fish_id]}:")
    return sentence


@use_case
def correct_fish(
    book: Book,
    *,
    fish_id: int,
    name: str,
    when: When,
    variety: str = "",
    origin: Origin = Origin.UNKNOWN,
    origin_said: str = "",
    parents: Parents = NO_PARENTS,
    born_earliest_on: date | None = None,
    born_latest_on: date | None = None,
    note: str = "",
) -> int:
    """Say better who a fish is. What it was held to be stands in entries of its own."""
    old = book.find(Fish, fish_id, NOT_OF_THIS_ROOM)
    new = Fish(
        name=name.strip(), species_key=old.species_key, species_evidence=old.species_evidence,
        crossed_with=old.crossed_with, variety=variety.strip(), origin=origin,
        origin_said=origin_said.strip(), born_earliest_on=born_earliest_on,
        born_latest_on=born_latest_on, clutch_id=old.clutch_id, group_id=old.group_id,
        **parent_columns(parents),
    )  # fmt: skip
    check_fish(new, when)
    book.correct(old, new, when=when, note=note)
    check_descent(book)
    return fish_id


@use_case
def record_sex(
    book: Book,
    *,
    fish_id: int,
    sex: Sex,
    standing: Standing,
    when: When,
    evidence: Sequence[SexEvidence] = (),
    note: str = "",
) -> int:
    """What a fish is thought or proven to be from then on. Earlier states stay as they were."""
    book.find(Fish, fish_id, NOT_OF_THIS_ROOM)
    state = SexState(sex, standing, when, tuple(evidence), note)
    stock = load_stock(book.session)
    held = library().get(stock.species_key(fish_id, when.latest))
    history, answer = stock.fish_named(fish_id).fish.sexes, book.answers.get(CHANGED_BACK)
    if answer is None:
        check_next_state(history, state, held.sex.system if held else SexSystem.UNDETERMINED)
    elif answer == EARLIER_WRONG:
        _take_back_sex(book, fish_id, sex_at(history, when.earliest).sex)
    return add_sex(book, fish_id, state).fact


def _take_back_sex(book: Book, fish_id: int, sex: Sex) -> None:
    """It was never of that sex: what was entered so is withdrawn. What eggs showed stays."""
    rows = book.session.scalars(
        select(SexSeen).where(known(), SexSeen.fish_id == fish_id, SexSeen.sex == sex)
    ).all()
    for row in rows:
        book.withdraw(row)


def add_sex(book: Book, fish_id: int, state: SexState) -> SexSeen:
    """Write a sex state down. For use inside a use case."""
    row = SexSeen(
        fish_id=fish_id,
        sex=state.sex,
        standing=state.standing,
        evidence=",".join(state.evidence),
    )
    return book.enter(row, when=state.when, note=state.note)


@use_case
def record_species(
    book: Book,
    *,
    fish_id: int,
    species_key: str,
    when: When,
    evidence: str = "",
    crossed_with: str = "",
    note: str = "",
) -> int:
    """What somebody holds a fish to be from then on: an opinion with its evidence."""
    book.find(Fish, fish_id, NOT_OF_THIS_ROOM)
    check_species(species_key)
    row = SpeciesSeen(
        fish_id=fish_id,
        species_key=species_key,
        evidence=evidence.strip(),
        crossed_with=crossed_with.strip(),
    )
    return book.enter(row, when=when, note=note).fact


@use_case
def record_length(
    book: Book,
    *,
    fish_id: int,
    length_mm: float,
    when: When,
    measure: LengthKind = LengthKind.UNKNOWN,
    by_eye: bool = False,
    typed: str = "",
    note: str = "",
) -> int:
    """A fish's length that day, measured or by eye, as typed and in mm."""
    book.find(Fish, fish_id, NOT_OF_THIS_ROOM)
    LengthSeen(when, length_mm, measure, by_eye)
    row = LengthMeasured(
        fish_id=fish_id, length_mm=length_mm, measure=measure, by_eye=by_eye, typed=typed.strip()
    )
    return book.enter(row, when=when, note=note).fact


@use_case
def record_size_beside(
    book: Book, *, fish_id: int, other_id: int, beside: Beside, when: When, note: str = ""
) -> int:
    """How a fish looked beside another: evidence of size where nothing was measured."""
    book.find(Fish, fish_id, NOT_OF_THIS_ROOM)
    book.find(Fish, other_id, NOT_OF_THIS_ROOM)
    SizeCompared(when, fish_id, other_id, beside)
    row = SizeLooked(fish_id=fish_id, other_id=other_id, beside=beside)
    return book.enter(row, when=when, note=note).fact


@use_case
def place_fish(book: Book, *, fish_id: int, tank_id: int, when: When, note: str = "") -> int:
    """A fish sits in another tank from then on."""
    book.find(Fish, fish_id, NOT_OF_THIS_ROOM)
    return add_placing(book, fish_id, tank_id, when, note).fact


def add_placing(
    book: Book, fish_id: int, tank_id: int, when: When, note: str = ""
) -> FishPlaced:
    """Write down where a fish is. For use inside a use case."""
    book.find(Tank, tank_id, "That tank does not stand in this room's records.")
    return book.enter(FishPlaced(fish_id=fish_id, tank_id=tank_id), when=when, note=note)


@use_case
def bar_fish(book: Book, *, fish_id: int, reason: str, when: When, note: str = "") -> int:
    """A reason not to breed from or move a fish, until it is lifted."""
    book.find(Fish, fish_id, NOT_OF_THIS_ROOM)
    HealthBar(reason, when)
    row = HealthBarred(fish_id=fish_id, reason=reason.strip())
    return book.enter(row, when=when, note=note).fact


@use_case
def lift_bar(book: Book, *, bar_id: int, when: When, note: str = "") -> int:
    """The bar no longer holds. Returns the fish it was set on."""
    bar = book.find(HealthBarred, bar_id, "That bar does not stand in this room's records.")
    HealthBar(bar.reason, bar.when, when)
    book.enter(HealthBarLifted(bar_id=bar_id), when=when, note=note)
    return bar.fish_id

