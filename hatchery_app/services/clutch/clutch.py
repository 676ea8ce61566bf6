"""What is done with a clutch and seen on it: checks, moves, hatch in parts, its end."""

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import select

from hatchery_app.domain.clutch.clutch import (
    CheckKind,
    ClutchOutcome,
    EggMove,
    HatchMethod,
    Incubated,
    Sign,
)
from hatchery_app.domain.clutch.hatch_window import night_of_laying
from hatchery_app.domain.clutch.night_span import NightSpan, nights_found
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import FIRMNESS, HowMany
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.when import (
    Lights,
    Night,
    RoomTime,
    When,
    is_dark,
    night_just_past,
    say_when,
)
from hatchery_app.models.clutch import (
    ClutchCheck,
    ClutchEnded,
    EggsMoved,
    Hatch,
    night_columns,
)
from hatchery_app.models.columns import number_columns
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank
from hatchery_app.services.clutch.clutch_facts import ClutchFacts, HatchPart, load_clutch
from hatchery_app.services.clutch.clutch_watch import earliest_night, learned_for, load_record
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.stock_book import batch_nights, photo_count

UNKNOWN = HowMany.unknown()
# A hatch too early for its eggs is taken as it was said; it teaches only once it is sure.
EARLY_ANSWERS = {"so": Incubated.DOUBTED, "sure": Incubated.CONFIRMED}


@use_case
def record_check(
    book: Book,
    *,
    clutch_id: int,
    kind: CheckKind,
    when: When,
    sign: Sign | None = None,
    seen: bool = True,
    night: Night | None = None,
    number: HowMany = UNKNOWN,
    note: str = "",
) -> int:
    """One look at a clutch. Returns the clutch.

    "Watched, none hatched" is until `when`; it and a lamp left on belong to a night, which is
    worked out from the hour unless given.
    """
    clutch = _open_clutch(book, clutch_id, when)
    if kind is CheckKind.SIGN and sign is None:
        raise RuleBroken("Say what was seen: colour, dark, eyes or silver.", field="sign")
    if kind in (CheckKind.WATCHED_NONE, CheckKind.LAMP_ON) and night is None:
        night = _night_of_check(clutch, kind, when, room_now(book.session).room_time)
    late = {clutch_id} if any(not part.nights.is_sure for part in clutch.hatches) else ()
    with batch_nights.following(book, late):
        row = book.enter(
            ClutchCheck(
                clutch_id=clutch_id, check_kind=kind, sign=sign.value if sign else "", seen=seen,
                night_on=night.evening if night else None, **number_columns(number),
            ),
            when=when,
            note=note,
        )  # fmt: skip
    photo_count.keep_marks(book, row.fact, number, when)
    return clutch_id


@use_case
def move_eggs(
    book: Book,
    *,
    clutch_id: int,
    why: EggMove,
    when: When,
    tank_id: int,
    tended_by_pair_id: int | None = None,
    note: str = "",
) -> int:
    """The eggs went to another tank: pulled to a vessel, given to another pair, moved.

    Returns the clutch. Who made the eggs does not change with who tends them.
    """
    clutch = _open_clutch(book, clutch_id, when)
    book.find(Tank, tank_id, "That tank does not stand in this room's records.")
    if why is EggMove.GIVEN and tended_by_pair_id is None:
        raise RuleBroken("Say which pair the eggs were given to.", field="tended_by_pair_id")
    if why is not EggMove.GIVEN and tank_id == clutch.place.tank_id:
        raise RuleBroken(f"The eggs are in {clutch.place.tank_label} already.", field="tank_id")
    if when.latest < clutch.place.since.earliest:
        raise RuleBroken(
            f"The eggs came to {clutch.place.tank_label} only later "
            f"({_said(book, clutch.place.since)}).",
            field="at_on",
        )
    book.enter(
        EggsMoved(
            clutch_id=clutch_id, tank_id=tank_id, why=why, tended_by_pair_id=tended_by_pair_id
        ),
        when=when,
        note=note,
    )
    return clutch_id


@use_case
def record_hatch(
    book: Book,
    *,
    clutch_id: int,
    when: When,
    library: Mapping[str, Species],
    number: HowMany = UNKNOWN,
    share: str = "",
    all_hatched: bool = False,
    after_handling: bool = False,
    hour_known: bool = True,
    note: str = "",
) -> int:
    """A part of the clutch hatched, or the last of it (`all_hatched`). Returns the hatch.

    Found by day it counts to the night just past, found between two looks to any night that they
    leave open. The clutch stays open until all hatched or it is ended: the rest is still on the
    tile.
    """
    room = room_now(book.session)
    clutch = load_clutch(book.session, room, clutch_id, water=True)
    nights = nights_found(when, clutch.stays, room.room_time, clutch.laid)
    by_day = not is_dark(when.latest, _lights_at(clutch, when.latest), room.room_time)
    reported = _ask_if_reported(book, room, clutch, nights)
    if reported is not None:
        return _join_reports(book, clutch, reported, number, note, all_hatched, when)
    _refuse_before_or_after(book, clutch, when)
    incubated = _ask_if_early(book, room, library, clutch, nights)
    hatch = book.enter(
        Hatch(
            clutch_id=clutch_id, **night_columns(nights), share=share.strip(),
            method=_method(clutch), found_by_day=by_day,
            after_handling=after_handling, hour_known=hour_known and not by_day,
            incubated=incubated,
            **number_columns(number),
        ),
        when=when,
        note=note,
    )  # fmt: skip
    photo_count.keep_marks(book, hatch.fact, number, when)
    if all_hatched:
        book.enter(ClutchEnded(clutch_id=clutch_id, outcome=ClutchOutcome.HATCHED), when=when)
    return hatch.fact


@use_case
def end_clutch(
    book: Book,
    *,
    clutch_id: int,
    outcome: ClutchOutcome,
    when: When,
    reason: str = "",
    note: str = "",
) -> int:
    """No eggs are left: hatched, eaten, dropped, fungus, given up. Returns the clutch."""
    clutch = _open_clutch(book, clutch_id, when)
    if outcome is ClutchOutcome.HATCHED and not clutch.hatches:
        raise RuleBroken("Record the hatch first: which night, and how many.", field="outcome")
    _refuse_seen_since(book, clutch, when)
    book.enter(
        ClutchEnded(clutch_id=clutch_id, outcome=outcome, reason=reason.strip()),
        when=when,
        note=note,
    )
    return clutch_id


def _refuse_seen_since(book: Book, clutch: ClutchFacts, when: When) -> None:
    """Eggs that hatched, or were looked at, later were not gone by then."""
    seen = [hatch.when for hatch in clutch.hatches] + [check.when for check in clutch.checks]
    last = max(seen, key=lambda one: one.earliest, default=when)
    if last.earliest > when.latest:
        raise RuleBroken(
            f"Its eggs were still seen after that ({_said(book, last)}): correct the day, or that "
            "entry first.",
            field="at_on",
        )


def _open_clutch(
    book: Book, clutch_id: int, when: When, *, water: bool = False
) -> ClutchFacts:
    """The clutch, if what is said of it can be: it was laid, and eggs were left, by then."""
    clutch = load_clutch(book.session, room_now(book.session), clutch_id, water=water)
    _refuse_before_or_after(book, clutch, when)
    return clutch


def _refuse_before_or_after(book: Book, clutch: ClutchFacts, when: When) -> None:
    if when.latest < clutch.laid.earliest:
        raise RuleBroken(
            f"That is before the eggs were laid ({_said(book, clutch.laid)}).", field="at_on"
        )
    if clutch.ending is not None and when.earliest > clutch.ending.when.latest:
        raise RuleBroken(
            f"No eggs were left by then: {clutch.ending.outcome}, "
            f"{_said(book, clutch.ending.when)}. Correct that entry if it is wrong.",
            field="at_on",
        )


def _night_of_check(
    clutch: ClutchFacts, kind: CheckKind, when: When, room_time: RoomTime
) -> Night:
    """The night that was watched or lit; a lamp on "on the 29th" burnt the night of the 29th."""
    day = room_time.local(when.middle).date()
    whole = room_time.whole_days(day)
    if kind is CheckKind.LAMP_ON and (when.earliest, when.latest) == (whole.earliest, whole.latest):
        return Night(day)
    return _night_at(clutch, when.middle, room_time)


def _night_at(clutch: ClutchFacts, at: datetime, room_time: RoomTime) -> Night:
    """The night a look belongs to: the one going on, or by day the one just past."""
    return night_just_past(at, _lights_at(clutch, at), room_time)


def _lights_at(clutch: ClutchFacts, at: datetime) -> Lights:
    stays = [stay for stay in clutch.stays if stay.from_at <= at]
    return (stays[-1] if stays else clutch.stays[0]).lights


def _method(clutch: ClutchFacts) -> HatchMethod:
    if clutch.place.why is not EggMove.PULLED:
        return HatchMethod.LEFT
    return HatchMethod.MOVED_LATE if clutch.place.in_the_dark else HatchMethod.PULLED


def _ask_if_early(
    book: Book,
    room: RoomNow,
    library: Mapping[str, Species],
    clutch: ClutchFacts,
    nights: NightSpan,
) -> Incubated:
    """Ask of a hatch surely before the earliest night; what it then is for the learning."""
    species = library.get(clutch.species_key)
    if species is None or clutch.hatches:
        return Incubated.ORDINARY
    record = load_record(book.session, room, library, [clutch.species_key], book.now)
    earliest = earliest_night(clutch, room, species, learned_for(clutch, record), book.now)
    if earliest is None or nights.last >= earliest:
        return Incubated.ORDINARY
    answer = book.answers.get("early_hatch")
    if answer in EARLY_ANSWERS:
        return EARLY_ANSWERS[answer]
    night_0 = night_of_laying(clutch.laid, clutch.stays, room.room_time)
    raise Asked(
        f"The night of {nights.last.said(night_0)}, is before the earliest night for these eggs "
        f"({earliest.said(night_0)}). Did it really hatch then?",
        question="early_hatch",
        answers=(
            ("so", "Yes, it hatched then; learn nothing from it yet"),
            ("sure", "Yes, and the laying is right too: learn from it"),
        ),
        field="at_on",
    )


def _ask_if_reported(
    book: Book, room: RoomNow, clutch: ClutchFacts, nights: NightSpan
) -> HatchPart | None:
    """Two people may tell of one hatch: it is joined or kept apart, never silently doubled.

    Returns the report that this one joins, None where it is one of its own.
    """
    same = [part for part in clutch.hatches if part.nights.meets(nights)]
    answer = book.answers.get("same_hatch")
    if not same or answer == "another":
        return None
    if answer == "same":
        return same[-1]
    said = f"{same[-1].number.said()}, {say_when(same[-1].when, room.room_time)}"
    raise Asked(
        f"A hatch of this night stands already ({said}). Is this the same one?"
        if nights.is_sure and same[-1].nights.is_sure
        else f"A hatch that may be of the same night stands already ({said}). Is it this one?",
        question="same_hatch",
        answers=(("same", "Yes, the same: keep one"),
                 ("another", "No, another part of the clutch")),
        field="number",
    )  # fmt: skip


def _join_reports(
    book: Book,
    clutch: ClutchFacts,
    reported: HatchPart,
    number: HowMany,
    note: str,
    all_hatched: bool,
    when: When,
) -> int:
    """One hatch told of twice: the firmer number stands, both notes, the earlier moment.

    Where the one found late leaves several nights, those stand that both leave open.
    """
    old = book.find(Hatch, reported.fact_id)
    room = room_now(book.session)
    columns = [column.name for column in Hatch.__table__.columns if column.name != "seq"]
    joined = {name: getattr(old, name) for name in columns}
    firmness = [FIRMNESS.index(one.basis) for one in (old.how_many, number)]
    if firmness[1] < firmness[0]:
        joined |= number_columns(number)
    notes = "; ".join(dict.fromkeys(one.strip() for one in (old.note, note) if one.strip()))
    seen = old.when
    if not old.nights.is_sure and seen.overlaps(when):
        seen = When(max(seen.earliest, when.earliest), min(seen.latest, when.latest),
                    seen.said or when.said, seen.from_memory and when.from_memory)  # fmt: skip
        joined |= night_columns(nights_found(seen, clutch.stays, room.room_time, clutch.laid))
        dark = is_dark(seen.latest, _lights_at(clutch, seen.latest), room.room_time)
        joined["found_by_day"] = not dark
    with batch_nights.following(book, () if old.nights.is_sure else {clutch.id}):
        row = book.correct(old, Hatch(**joined), when=seen, note=notes)
    if firmness[1] < firmness[0]:
        photo_count.keep_marks(book, row.fact, number, when)
    if all_hatched and clutch.ending is None:
        book.enter(ClutchEnded(clutch_id=clutch.id, outcome=ClutchOutcome.HATCHED), when=when)
    return row.fact


def _said(book: Book, when: When) -> str:
    return say_when(when, room_now(book.session).room_time)


@use_case
def confirm_incubation(book: Book, *, clutch_id: int) -> int:
    """Laying and hatch are right, odd as they are together: the clutch teaches from now on.

    Returns the clutch. Raises RuleBroken where nothing hatched of it.
    """
    hatches = book.session.scalars(
        select(Hatch).where(known(), Hatch.clutch_id == clutch_id).order_by(Hatch.seq)
    ).all()
    if not hatches:
        raise RuleBroken("Nothing hatched of this clutch: there is nothing to confirm.")
    for old in hatches:
        columns = [column.name for column in Hatch.__table__.columns if column.name != "seq"]
        again = Hatch(**{name: getattr(old, name) for name in columns})
        again.incubated = Incubated.CONFIRMED
        book.correct(old, again, when=old.when, note=old.note)
    return clutch_id
