"""Broods that a parent carries: taken up, still held, released or born in parts, or lost.

Such a brood is a clutch like any other; its releases and births stand where hatches stand. It has
no hatch forecast and no larvae: its young go straight into a cohort.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.sex_state import Sex
from hatchery_app.domain.clutch.carried_brood import (
    BroodForecast,
    BroodWords,
    EarlierBrood,
    NumberAhead,
    brood_forecast,
    days_between,
    first_seen_holding,
    lost_between,
    night_of_release,
    number_ahead,
    words_of,
)
from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome, HatchMethod
from hatchery_app.domain.clutch.night_span import nights_found
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.parents import Parent, Parents
from hatchery_app.domain.species.species import Brood, Species
from hatchery_app.domain.when import When, is_dark, say_when
from hatchery_app.models.broodstock import Fish, SexSeen
from hatchery_app.models.clutch import (
    Clutch,
    ClutchCheck,
    ClutchEnded,
    Hatch,
    Laying,
    night_columns,
)
from hatchery_app.models.columns import number_columns
from hatchery_app.models.entry import known
from hatchery_app.services.clutch.clutch_facts import (
    ClutchFacts,
    HatchPart,
    load_clutch,
    load_clutches,
)
from hatchery_app.services.cohort import cohort
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species import library

UNKNOWN = HowMany.unknown()
NEWEST = 60  # broods of the room that teach; Today must not read ten years
NOT_CARRIED = "Nobody carries these eggs: write down the hatch on the clutch's page."


@dataclass(frozen=True)
class BroodNow:
    """A carried brood as it stands. `forecast` and `ahead` are None once it is over.

    `out` are the parts that left so far, `total` all of them; `earlier` are this father's own.
    `carried_days`: from the latest start to the first young, from the earliest to the last.
    """

    brood: Brood
    words: BroodWords
    forecast: BroodForecast | None
    ahead: NumberAhead | None
    out: tuple[HatchPart, ...]
    total: HowMany | None
    earlier: tuple[EarlierBrood, ...]
    last_seen_holding: When | None
    carried_days: tuple[int, int] | None


@dataclass(frozen=True)
class CarrierChoice:
    """A fish that may carry a brood: a male, or one of unknown sex, of such a species."""

    fish_id: int
    name: str
    species_name: str
    holding: str


# --- Writing down -------------------------------------------------------------------------


@use_case
def record_holding(
    book: Book,
    *,
    carrier_id: int,
    when: When,
    tank_id: int | None = None,
    start_known: bool = True,
    eggs: HowMany = UNKNOWN,
    note: str = "",
) -> int:
    """A father was seen with a brood; the mother may be unknown. Returns the clutch.

    `start_known` False: `when` is when he was first seen holding, and the brood may be any age
    its species allows.
    """
    fish = book.find(Fish, carrier_id, "That fish does not stand in this room's records.")
    species = _carrying(fish.species_key)
    place = tank_id or spawn.tank_of(book.session, carrier_id, at=when.latest)
    if place is None:
        raise RuleBroken("Say in which tank he is.", field="tank_id")
    _check_not_holding(book, carrier_id)
    _ask_if_of_the_other_sex(book, fish, species)
    assert species.brood is not None  # such a species has one
    taken = when if start_known else first_seen_holding(when, species.brood)
    carrier = Parent.fish(carrier_id)
    mother_carries = species.brood.carried_by == "female"
    parents = (
        Parents(carrier, Parent.unknown()) if mother_carries
        else Parents(Parent.unknown(), carrier)
    )  # fmt: skip
    return spawn.lay(
        book, when=taken, tank_id=place, parents=parents, species_key=fish.species_key,
        eggs=eggs, surface=str(species.brood_mode), pair_id=None, note=note,
    )  # fmt: skip


@use_case
def see_holding(book: Book, *, clutch_id: int, when: When, note: str = "") -> int:
    """He still holds it. Returns the clutch."""
    clutch, _species = _open_brood(book, clutch_id, when)
    book.enter(
        ClutchCheck(
            clutch_id=clutch.id, check_kind=CheckKind.HOLDING, seen=True,
            **number_columns(UNKNOWN),
        ),
        when=when,
        note=note,
    )  # fmt: skip
    return clutch_id


@use_case
def record_release(
    book: Book,
    *,
    clutch_id: int,
    when: When,
    number: HowMany = UNKNOWN,
    all_out: bool = False,
    tank_id: int | None = None,
    note: str = "",
) -> int:
    """Young were released or born, or the last of them (`all_out`). Returns the release.

    `number` is of this part alone. With `tank_id` they go into a cohort there at once.
    """
    clutch, species = _open_brood(book, clutch_id, when)
    room = room_now(book.session)
    lights = clutch.stays[-1].lights
    nights = nights_found(when, clutch.stays, room.room_time, clutch.laid)
    words = words_of(species.brood_mode)
    _ask_if_early(book, room, clutch, species, when)
    same = [part for part in clutch.hatches if part.nights.meets(nights)]
    if same and book.answers.get("same_release") != "more":
        raise Asked(
            f"{same[-1].number.said()} stand already as {words.out} {same[-1].nights.of_night}. "
            "Are these more?",
            "same_release",
            (("more", "Yes, more of that night"),),
            field="number",
        )
    by_day = not is_dark(when.latest, lights, room.room_time)
    hatch = book.enter(
        Hatch(
            clutch_id=clutch_id, **night_columns(nights), method=HatchMethod.LEFT,
            found_by_day=by_day, hour_known=when.is_exact and not by_day,
            share="" if all_out else "a part", **number_columns(number),
        ),
        when=when,
        note=note,
    )  # fmt: skip
    if tank_id is not None:
        cohort.put_young(
            book, hatch_id=hatch.fact, tank_id=tank_id, number=number, when=When.exactly(book.now)
        )
    if all_out:
        book.enter(ClutchEnded(clutch_id=clutch_id, outcome=ClutchOutcome.HATCHED), when=when)
    return hatch.fact


@use_case
def record_all_out(book: Book, *, clutch_id: int, when: When, note: str = "") -> int:
    """He carries nothing more, and the young that came are written down. Returns the clutch."""
    clutch, species = _open_brood(book, clutch_id, when)
    if not clutch.hatches:
        words = words_of(species.brood_mode)
        raise RuleBroken(
            f"No {words.coming} is written down: write it first, or that the brood was lost.",
            field="at_on",
        )
    book.enter(
        ClutchEnded(clutch_id=clutch_id, outcome=ClutchOutcome.HATCHED), when=when, note=note
    )
    return clutch_id


@use_case
def record_brood_lost(book: Book, *, clutch_id: int, feeding: When, note: str = "") -> int:
    """He was seen feeding, or empty, and there are no young: eaten or dropped. Returns the clutch.

    It was lost between when he was last seen holding and then; neither is turned into a day.
    """
    clutch, species = _open_brood(book, clutch_id, feeding)
    if clutch.hatches:
        raise RuleBroken(
            f"Young of it were {words_of(species.brood_mode).out}: say that all are out.",
            field="at_on",
        )
    held = [check.when for check in clutch.checks if check.kind is CheckKind.HOLDING]
    book.enter(
        ClutchEnded(clutch_id=clutch_id, outcome=ClutchOutcome.BROOD_LOST),
        when=lost_between(clutch.laid, held, feeding),
        note=note,
    )
    return clutch_id


def _carrying(species_key: str) -> Species:
    species = library.species_or_none(species_key)
    if species is None or not species.brood_mode.is_carried or species.brood is None:
        raise RuleBroken(NOT_CARRIED, field="carrier_id")
    return species


def _open_brood(book: Book, clutch_id: int, when: When) -> tuple[ClutchFacts, Species]:
    room = room_now(book.session)
    clutch = load_clutch(book.session, room, clutch_id)
    species = _carrying(clutch.species_key)
    if when.latest < clutch.laid.earliest:
        taken = say_when(clutch.laid, room.room_time)
        raise RuleBroken(f"That is before he took the brood up ({taken}).", field="at_on")
    if clutch.ending is not None and when.earliest > clutch.ending.when.latest:
        raise RuleBroken(
            f"He carried nothing more by then: {_ending_said(clutch, species)}, "
            f"{say_when(clutch.ending.when, room.room_time)}. Correct that entry if it is wrong.",
            field="at_on",
        )
    return clutch, species


def _ending_said(clutch: ClutchFacts, species: Species) -> str:
    if clutch.ending is None or clutch.ending.outcome is not ClutchOutcome.HATCHED:
        return str(clutch.ending.outcome) if clutch.ending else ""
    return f"all {words_of(species.brood_mode).out}"


def _check_not_holding(book: Book, carrier_id: int) -> None:
    for clutch in load_clutches(book.session, room_now(book.session), open_only=True):
        species = library.species_or_none(clutch.species_key)
        if species is None or species.brood is None:
            continue
        carried = _one(_carrier(clutch, species.brood)) == carrier_id
        if carried and book.answers.get("holds_already") != "another":
            raise Asked(
                f"He carries {clutch.name} by the record. Is this another brood?",
                "holds_already",
                (("another", "Yes, another brood"),),
                field="carrier_id",
            )


def _ask_if_of_the_other_sex(book: Book, fish: Fish, species: Species) -> None:
    """A wrong tap in a list of names would make a mother the father: asked, not refused."""
    assert species.brood is not None  # such a species has one
    carries = species.brood.carried_by
    seen = book.session.scalars(
        select(SexSeen)
        .where(known(), SexSeen.fish_id == fish.fact)
        .order_by(SexSeen.happened_latest.desc(), SexSeen.seq.desc())
        .limit(1)
    ).first()
    if seen is None or seen.sex not in (Sex.MALE, Sex.FEMALE) or seen.sex.value == carries:
        return
    if book.answers.get("carrier_sex") == "so":
        return
    raise Asked(
        f"{fish.name} stands in the records as {seen.sex} ({seen.standing}), and in this species "
        f"the {carries} carries. Was it {fish.name} that was seen with the brood?",
        "carrier_sex",
        (("so", f"Yes, {fish.name} carries it"),),
        field="carrier_id",
    )


def _ask_if_early(
    book: Book, room: RoomNow, clutch: ClutchFacts, species: Species, when: When
) -> None:
    if clutch.hatches or book.answers.get("early_release") == "so":
        return
    now = broods_now(book.session, room, library.library(), [clutch], now=book.now)[clutch.id]
    if now.forecast is None:
        return
    night = night_of_release(when.latest, clutch.stays[-1].lights, room.room_time)
    if night < now.forecast.earliest_believed:
        raise Asked(
            f"The night of {night.said()} is before young of this brood are expected at all "
            f"({now.forecast.earliest_believed.said()}). Were live young seen?",
            "early_release",
            (("so", "Yes, live young"),),
            field="at_on",
        )


# --- Asking -------------------------------------------------------------------------------


def broods_now(
    session: Session,
    room: RoomNow,
    species_by_key: Mapping[str, Species],
    clutches: Sequence[ClutchFacts],
    *,
    now: datetime,
) -> dict[int, BroodNow]:
    """Those of the clutches that a parent carries, each with its window of release or birth.

    Statements in a fixed number, none where no such clutch is among them.
    """
    carried = [c for c in clutches if _is_carried(species_by_key.get(c.species_key))]
    if not carried:
        return {}
    record = _record(session, room, {clutch.species_key for clutch in carried})
    return {
        clutch.id: _brood_now(clutch, species_by_key[clutch.species_key], record, room, now)
        for clutch in carried
    }


def carrier_choices(
    session: Session, species_by_key: Mapping[str, Species]
) -> tuple[CarrierChoice, ...]:
    """The fish of carrying species, by name, for "seen holding"."""
    keys = {key: each for key, each in species_by_key.items() if _is_carried(each)}
    rows = session.execute(
        select(Fish.fact_id, Fish.name, Fish.species_key)
        .where(known(), Fish.species_key.in_(sorted(keys)))
        .order_by(Fish.name)
    )
    return tuple(
        CarrierChoice(
            fish_id, name, keys[key].common_name, words_of(keys[key].brood_mode).holding
        )
        for fish_id, name, key in rows
        if fish_id is not None
    )


def _is_carried(species: Species | None) -> bool:
    return species is not None and species.brood is not None and species.brood_mode.is_carried


def _record(session: Session, room: RoomNow, keys: Iterable[str]) -> list[ClutchFacts]:
    """The room's newest broods of these species that are over or have given young."""
    of_species = select(Laying.fact_id).where(known(), Laying.species_key.in_(sorted(keys)))
    ids = session.scalars(
        select(Clutch.fact_id)
        .where(known(), Clutch.laying_id.in_(of_species))
        .order_by(Clutch.number.desc())
        .limit(NEWEST)
    ).all()
    return load_clutches(session, room, clutch_ids=[each for each in ids if each is not None])


def _brood_now(
    clutch: ClutchFacts, species: Species, record: Sequence[ClutchFacts], room: RoomNow,
    now: datetime,
) -> BroodNow:  # fmt: skip
    assert species.brood is not None  # asked by _is_carried
    earlier = _earlier(clutch, species.brood, record)
    held = [check.when for check in clutch.checks if check.kind is CheckKind.HOLDING]
    last = max(held, key=lambda when: when.latest, default=None)
    forecast, ahead = None, None
    if clutch.is_open:
        forecast = brood_forecast(
            taken=clutch.laid, brood=species.brood, earlier=earlier,
            held_at=last.earliest if last is not None else None,
            lights=clutch.stays[-1].lights, room_time=room.room_time, now=now,
        )  # fmt: skip
        mother = clutch.parents.male if _is_female(species.brood) else clutch.parents.female
        ahead = number_ahead(earlier, species.brood_mode, _one(mother))
    return BroodNow(
        species.brood, words_of(species.brood_mode), forecast, ahead, clutch.hatches,
        _total(clutch.hatches), earlier, last,
        days_between(clutch.laid, [part.when for part in clutch.hatches], room.room_time),
    )  # fmt: skip


def _earlier(
    clutch: ClutchFacts, brood: Brood, record: Sequence[ClutchFacts]
) -> tuple[EarlierBrood, ...]:
    """This father's broods before this one, oldest first; none where he is not known for sure."""
    carrier = _one(_carrier(clutch, brood))
    if carrier is None:
        return ()
    return tuple(
        EarlierBrood(
            each.laid,
            each.hatches[0].when if each.hatches else None,
            _total(each.hatches) or UNKNOWN,
            _one(each.parents.male if _is_female(brood) else each.parents.female),
        )
        for each in record
        if each.id != clutch.id
        and _one(_carrier(each, brood)) == carrier
        and each.laid.earliest < clutch.laid.earliest
        and (each.hatches or not each.is_open)
    )


def _carrier(clutch: ClutchFacts, brood: Brood) -> Parent:
    return clutch.parents.female if _is_female(brood) else clutch.parents.male


def _is_female(brood: Brood) -> bool:
    return brood.carried_by == "female"


def _one(parent: Parent) -> int | None:
    return parent.fish_ids[0] if len(parent.fish_ids) == 1 else None


def _total(parts: Sequence[HatchPart]) -> HowMany | None:
    """All young so far; the parts are added, never the last one taken for all."""
    if not parts:
        return None
    total = parts[0].number
    for part in parts[1:]:
        total = total + part.number
    return total
