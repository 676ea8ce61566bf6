"""Any entry corrected, withdrawn, restored. The old one stays readable under the same fact.

Nothing derived is stored, so everything that follows is worked out anew by itself. A change that
would make later entries impossible shows those entries and takes them along, or nothing changes.
"""

from collections.abc import Iterable, Mapping
from datetime import timedelta
from typing import Any

from sqlalchemy import select

from hatchery_app.domain.clutch.night_span import nights_found
from hatchery_app.domain.clutch.temperature_course import stay_at
from hatchery_app.domain.errors import Asked, NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.parents import Parent, Parents
from hatchery_app.domain.stock_book.stock_checks import LaterEntriesImpossible
from hatchery_app.domain.when import When, is_dark, night_just_past
from hatchery_app.models.broodstock import Fish, Pair, PairEnded
from hatchery_app.models.clutch import Clutch, ClutchCheck, Hatch, Laying, night_columns
from hatchery_app.models.columns import HowManyColumns, number_columns
from hatchery_app.models.entry import Entry, Withdrawal, known
from hatchery_app.models.parents import parent_columns
from hatchery_app.models.stock_book import OtherClutch
from hatchery_app.services.broodstock import pair
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.recording import Book, said_anew, use_case
from hatchery_app.services.records.record_in_the_way import (
    TOGETHER,
    LaterEntries,
    LaterEntriesAsked,
    in_words,
    listed,
    refuse_stock_since,
    refuse_stock_without,
    refuse_without_a_place,
)
from hatchery_app.services.records.record_kinds import EntryKind, Reads, kind_named
from hatchery_app.services.records.record_order import clashes
from hatchery_app.services.records.record_references import (
    current_rows,
    facts_named_by,
    hanging_on,
    references_to,
    whole_entries,
)
from hatchery_app.services.records.record_sound import refuse_impossible_stock, refuse_nonsense
from hatchery_app.services.records.record_typed import read_part, readings_along, text_of
from hatchery_app.services.records.room import room_now
from hatchery_app.services.remembering import newest_entry
from hatchery_app.services.stock_book import batch_nights, other_clutch, photo_count

WITHDRAW, SHIFT = "withdraw", "shift"
EGGS_FOLLOW, FOLLOW, STAY = "eggs_follow", "follow", "stay"


@use_case
def correct_entry(
    book: Book,
    *,
    fact_id: int,
    typed: Mapping[str, str],
    when: When | None = None,
    note: str | None = None,
) -> int:
    """Say an entry anew: the parts typed, when it happened (None: as it stands), its note.

    Raises RuleBroken beside the part, LaterEntries where what is entered later does not bear it,
    LaterEntriesAsked where it can move along. Returns the fact.
    """
    old = standing(book, fact_id)
    kind = kind_named(old.kind)
    changed = _changed_parts(book, kind, old, typed)
    when_now = old.when if when is None or not kind.is_dated else when
    note_now = old.note if note is None else note.strip()
    if not changed and when_now == old.when and note_now == old.note:
        raise RuleBroken("Nothing is changed yet.")
    values = _values(book, kind, old, typed, changed)
    new = said_anew(old, **(values | _follows(book, old, values, when_now)))
    refuse_nonsense(book, new, old.fact, when_now)
    as_one = _entered_as_one(book, old) if when_now != old.when else []
    eggs = _eggs_of_the_two(book, old, values) if isinstance(old, Pair) else []
    touched = [type(old), *(type(row) for row in as_one)]
    before, at_seq = clashes(book.session, touched), newest_entry(book.session)
    reading = typed.get("value") if "value" in changed else None
    with batch_nights.following(book, batch_nights.clutches_spoken_of(book.session, [old])):
        _replace(book, old, new, when_now, note_now, reading)
        for row in as_one:
            _replace(book, row, said_anew(row), when_now, row.note)
        for laying, parents in eggs:
            _replace(book, laying, said_anew(laying, **parents), laying.when, laying.note)
        moved = _settle_order(book, before, touched, old, when_now)
    refuse_stock_since(book, at_seq, [new, *as_one, *moved], old.fact)
    refuse_impossible_stock(book, [new, *as_one, *moved, *(laying for laying, _ in eggs)])
    if isinstance(new, Pair | PairEnded):
        pair.settle_standing_again(book, [new.fact if isinstance(new, Pair) else new.pair_id])
    return old.fact


@use_case
def correct_number(book: Book, *, fact_id: int, number: HowMany) -> int:
    """The number of an entry anew, with its figures or marks. The old one stays readable.

    Raises what `correct_entry` does where later entries do not bear it. Returns the fact.
    """
    old = standing(book, fact_id)
    if not isinstance(old, HowManyColumns):
        raise RuleBroken("That entry carries no number.")
    new, at_seq = said_anew(old, **number_columns(number)), newest_entry(book.session)
    refuse_nonsense(book, new, old.fact, old.when)
    _replace(book, old, new, old.when, old.note)
    refuse_stock_since(book, at_seq, [new], old.fact)
    photo_count.keep_marks(book, old.fact, number, old.when)
    return old.fact


@use_case
def withdraw_entry(book: Book, *, fact_id: int, note: str = "") -> int:
    """Take an entry back, with what was entered about it.

    What was written in the same act goes along; more is asked about first. Raises LaterEntries
    where something else rests on it: a fish with descendants, a tank that eggs were laid in.
    """
    old = standing(book, fact_id)
    rows = _goes_along(book, old)
    _ask_together(book, old, [row for row in rows if row is not old])
    rows = _with_what_the_stock_lacks(book, rows)
    refuse_without_a_place(book, rows)
    if isinstance(old, OtherClutch):
        other_clutch.take_back(book, old)
    with batch_nights.following(book, batch_nights.clutches_spoken_of(book.session, [old])):
        for row in sorted(rows, key=lambda row: -row.seq):
            book.withdraw(row, note=note.strip() if row is old else "")
    ended = [row.pair_id for row in rows if isinstance(row, PairEnded)]
    if ended:
        pair.settle_standing_again(book, ended)
    return old.fact


@use_case
def restore_entry(book: Book, *, fact_id: int) -> int:
    """Put a withdrawn entry back as it last stood, with all that was withdrawn in that act."""
    taken = book.find(Withdrawal, fact_id, "That entry stands; there is nothing to restore.")
    acts = [row for row in book.session.scalars(select(Withdrawal).where(known()))
            if same_act(row, taken)]  # fmt: skip
    pairs = [(row, _last_said(book, row.fact)) for row in sorted(acts, key=lambda r: r.fact)]
    standing_after = {row.fact for row, _ in pairs}
    for _, last in pairs:
        _refuse_without_ground(book, last, standing_after)
        _refuse_a_second(book, last)
    kinds = [type(last) for _, last in pairs]
    before, at_seq = clashes(book.session, kinds), newest_entry(book.session)
    spoken_of = batch_nights.clutches_spoken_of(book.session, [last for _, last in pairs])
    with batch_nights.following(book, spoken_of):
        restored = [_put_back(book, row, last) for row, last in pairs]
    for row in restored:
        if isinstance(row, OtherClutch):
            other_clutch.apply_again(book, row)
    again = [row.fact for row in restored if isinstance(row, Pair)]
    if again:
        pair.settle_standing_again(book, again)
    _refuse_clashes(book, clashes(book.session, kinds) - before, {row.fact for row in restored})
    refuse_stock_since(book, at_seq, restored, fact_id)
    refuse_impossible_stock(book, restored)
    return fact_id


def standing(book: Book, fact_id: int) -> Entry:
    """The current entry of a fact, whole. Raises NotKnown, RuleBroken where it is withdrawn."""
    rows = current_rows(book.session, [fact_id])
    if not rows:
        raise NotKnown("That entry does not stand in this room's records.")
    if isinstance(rows[0], Withdrawal):
        raise RuleBroken("This entry is withdrawn. Restore it first.")
    return rows[0]


def same_act(one: Entry, other: Entry) -> bool:
    """Whether two entries were written by one person in one post."""
    if one.receipt_id is not None or other.receipt_id is not None:
        return one.receipt_id == other.receipt_id
    return (one.received_at, one.by_id) == (other.received_at, other.by_id)


# --- what is said anew ----------------------------------------------------------------------


def _changed_parts(
    book: Book, kind: EntryKind, old: Entry, typed: Mapping[str, str]
) -> frozenset[str]:
    return frozenset(
        part.column
        for part in kind.parts
        if part.column in typed
        and typed[part.column].strip() != text_of(book.session, part, old).strip()
    )


def _values(
    book: Book, kind: EntryKind, old: Entry, typed: Mapping[str, str], changed: frozenset[str]
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for part in kind.parts:
        if part.column not in changed:
            continue
        values |= read_part(book, part, typed[part.column], old)
        if part.reads is Reads.FACT and part.of is not None and values[part.column] is not None:
            book.find(part.of, values[part.column], f"{part.label}: pick one of the list.")
    return values


def _follows(book: Book, old: Entry, values: dict[str, Any], when: When) -> dict[str, Any]:
    """What goes with a change by itself: the night with the hour, the parents with the pair."""
    if isinstance(old, Laying) and values.get("pair_id") is not None:
        pair = book.find(Pair, values["pair_id"])
        parents = pair_parents(pair)
        return {name: v for name, v in parents.items() if not _says(values, name)}
    if isinstance(old, Hatch | ClutchCheck) and old.night_on is not None:
        said = "night_on" in values or "last_night_on" in values
        return {} if when == old.when or said else _night_again(book, old, when)
    return {}


def _says(values: Mapping[str, Any], column: str) -> bool:
    return column.split("_")[0] + "_known_as" in values


def pair_parents(pair: Pair) -> dict[str, Any]:
    """The parents that a pair gives its laying, as columns."""
    return parent_columns(Parents(Parent.fish(pair.female_id), Parent.fish(pair.male_id)))


def _eggs_of_the_two(
    book: Book, old: Pair, values: Mapping[str, Any]
) -> list[tuple[Laying, dict[str, Any]]]:
    """The layings that have their parents of a pair's fish, with those that follow once the two
    are said anew. Raises Asked until it was said whether they do."""
    layings = book.session.scalars(
        select(Laying).where(known(), Laying.pair_id == old.fact).order_by(Laying.seq)
    ).all()
    found: list[tuple[Laying, dict[str, Any]]] = []
    for laying in layings:
        two = {"female": laying.parents.female, "male": laying.parents.male}
        follow = {
            role: Parent.fish(values[f"{role}_id"])
            for role in two
            if f"{role}_id" in values and two[role] == Parent.fish(getattr(old, f"{role}_id"))
        }
        if follow:
            found.append((laying, parent_columns(Parents(**(two | follow)))))
    answer = book.answers.get(EGGS_FOLLOW)
    if found and answer not in (FOLLOW, STAY):
        told = listed(in_words(book, [row for row, _ in found]))
        raise Asked(
            f"Whose are the eggs that were entered as theirs? {told}", EGGS_FOLLOW,
            ((FOLLOW, "Of the two as they are said now"), (STAY, "Of the two as they stood")),
        )  # fmt: skip
    return found if answer == FOLLOW else []


def _night_again(book: Book, old: Hatch | ClutchCheck, when: When) -> dict[str, Any]:
    room_time = room_now(book.session).room_time
    clutch = load_clutch(book.session, room_now(book.session), old.clutch_id)
    stays = clutch.stays
    if isinstance(old, Hatch):
        dark = is_dark(when.latest, stay_at(stays, when.latest).lights, room_time)
        nights = nights_found(when, stays, room_time, clutch.laid)
        return night_columns(nights) | {"found_by_day": not dark}
    at = when.middle
    return {"night_on": night_just_past(at, stay_at(stays, at).lights, room_time).evening}


def _replace(
    book: Book, old: Entry, new: Entry, when: When, note: str, typed: str | None = None
) -> None:
    book.correct(old, new, when=when, note=note)
    readings_along(book, old, new, typed)


# --- what is entered about it ---------------------------------------------------------------


def _entered_as_one(book: Book, old: Entry) -> list[Entry]:
    """What was written in the same act, of the same moment, and hangs on this entry."""
    hanging = hanging_on(book.session, [old.fact]).values()
    along = [*hanging, *_siblings(book, old), *_carried(book, [old])]
    return [row for row in along if row.when == old.when and _begun_together(book, row, old)]


def _begun_together(book: Book, one: Entry, other: Entry) -> bool:
    """Whether two facts were first written in the same act, corrected since or not."""
    first, second = (book.session.get_one(Entry, row.fact) for row in (one, other))
    return same_act(first, second)


def _siblings(book: Book, old: Entry) -> list[Entry]:
    found: list[Entry] = []
    for model, column in kind_named(old.kind).as_one:
        about = getattr(model, column) == getattr(old, column)
        rows = book.session.scalars(select(model).where(known(), about))
        found += [row for row in rows if _begun_together(book, row, old)]
    return found


def _carried(book: Book, rows: Iterable[Entry]) -> list[Entry]:
    """The entries that these name as their own: the movement of a sale."""
    named = {getattr(row, column) for row in rows for column in kind_named(row.kind).carries}
    return current_rows(book.session, named - {None})


def _goes_along(book: Book, old: Entry) -> list[Entry]:
    """The entry with all that is about it. Raises LaterEntries where something else rests on it."""
    roots = [old]
    if isinstance(old, Clutch):
        parts = book.session.scalars(
            select(Clutch).where(known(), Clutch.laying_id == old.laying_id)
        ).all()
        roots += [book.find(Laying, old.laying_id)] if len(parts) == 1 else []
    roots += _siblings(book, old)
    hanging = hanging_on(book.session, [row.fact for row in roots])
    roots += _carried(book, [*roots, *hanging.values()])
    rows = {row.fact: row for row in roots}
    rows |= hanging_on(book.session, rows.keys())
    resting = [one for one in references_to(book.session, rows.keys()) if one.fact_id not in rows]
    if resting:
        entries = in_words(book, current_rows(book.session, {one.fact_id for one in resting}))
        raise LaterEntries(_why_it_stays(old), entries)
    return list(rows.values())


def _why_it_stays(old: Entry) -> str:
    if isinstance(old, Fish):
        return (
            f"{old.name} cannot be withdrawn while clutches, pairs or young rest on it. "
            "If it is gone, say how it left instead. On it rest:"
        )
    return "This cannot be withdrawn while other entries rest on it. Correct or withdraw first:"


def _ask_together(book: Book, old: Entry, along: list[Entry]) -> None:
    more = [row for row in along if not _begun_together(book, row, old)]
    if more and book.answers.get(TOGETHER) != WITHDRAW:
        raise LaterEntriesAsked(
            "Without it these mean nothing:", in_words(book, along), WITHDRAW, _together(along)
        )


def _together(along: list[Entry]) -> str:
    many = f"these {len(along)} entries" if len(along) > 1 else "this entry"
    return f"Withdraw it together with {many}"


def _with_what_the_stock_lacks(book: Book, rows: list[Entry]) -> list[Entry]:
    """These entries, and those for which too few fish would be left, once that was answered."""
    while True:
        try:
            refuse_stock_without(book, rows)
        except LaterEntriesImpossible as impossible:
            later = current_rows(book.session, {row.entry.seq for row in impossible.rows})
            if book.answers.get(TOGETHER) != WITHDRAW:
                raise LaterEntriesAsked(
                    "Then too few fish would be left for these:", in_words(book, later),
                    WITHDRAW, _together(later),
                ) from impossible  # fmt: skip
            rows = [*rows, *later]
        else:
            return rows


# --- what cannot be -------------------------------------------------------------------------


def _settle_order(
    book: Book, before: frozenset[tuple[int, int]], kinds: list[type[Entry]], old: Entry, when: When
) -> list[Entry]:
    """Let later entries move along by the same whole days, once that was answered. Returns them."""
    new = clashes(book.session, kinds) - before
    if not new:
        return []
    others = {fact for clash in new for fact in clash} - {old.fact}
    rows = current_rows(book.session, others)
    room_time = room_now(book.session).room_time
    days = (room_time.local(when.earliest).date() - room_time.local(old.when.earliest).date()).days
    moved = [row.when.shift_days(days, room_time) for row in rows]
    fits = (
        days != 0
        and old.when.shift_days(days, room_time).earliest == when.earliest
        and all(one.latest <= book.now for one in moved)
    )
    if fits and book.answers.get(TOGETHER) != SHIFT:
        raise LaterEntriesAsked(
            "Then these could not have happened when they are entered:", in_words(book, rows),
            SHIFT,
            f"Move these {abs(days)} day{'s' if abs(days) > 1 else ''} "
            f"{'later' if days > 0 else 'earlier'} with it",
        )  # fmt: skip
    for row, then in zip(rows, moved, strict=True) if fits else ():
        nights = {name: getattr(row, name, None) for name in ("night_on", "last_night_on")}
        shifted = {name: on + timedelta(days=days) for name, on in nights.items() if on is not None}
        _replace(book, row, said_anew(row, **shifted), then, row.note)
    left = clashes(book.session, [*kinds, *(type(row) for row in rows)]) - before
    _refuse_clashes(book, left, {old.fact})
    return rows


def _refuse_clashes(book: Book, new: frozenset[tuple[int, int]], touched: set[int]) -> None:
    others = {fact for clash in new for fact in clash} - touched
    if new:
        rows = current_rows(book.session, others or {fact for clash in new for fact in clash})
        raise LaterEntries(
            "That cannot be with what is entered. Correct these first:",
            in_words(book, rows), field="at_on",
        )  # fmt: skip


# --- restoring ------------------------------------------------------------------------------


def _last_said(book: Book, fact_id: int) -> Entry:
    return book.session.scalars(
        select(Entry)
        .options(whole_entries())
        .where(Entry.fact_id == fact_id, Entry.kind != "withdrawal")
        .order_by(Entry.seq.desc())
        .limit(1)
    ).one()


def _refuse_without_ground(book: Book, last: Entry, standing_after: set[int]) -> None:
    named = set(facts_named_by(last)) - standing_after
    stands = {row.fact for row in current_rows(book.session, named)
              if not isinstance(row, Withdrawal)}  # fmt: skip
    gone = named - stands
    if gone:
        rows = [_last_said(book, fact_id) for fact_id in sorted(gone)]
        raise LaterEntries("It rests on what is withdrawn. Restore first:", in_words(book, rows))


def _refuse_a_second(book: Book, last: Entry) -> None:
    """A clutch, a pair, a stay in the room ends once: another end was entered since."""
    column = kind_named(last.kind).once
    if not column:
        return
    model = type(last)
    about = getattr(model, column) == getattr(last, column)
    rows = book.session.scalars(select(model).where(known(), about)).all()
    if rows:
        raise LaterEntries("That was said anew since. Withdraw first:", in_words(book, rows))


def _put_back(book: Book, taken: Withdrawal, last: Entry) -> Entry:
    new = said_anew(last)
    refuse_nonsense(book, new, taken.fact, last.when)
    book.correct(taken, new, when=last.when, note=last.note)
    readings_along(book, last, new, None)
    return new
