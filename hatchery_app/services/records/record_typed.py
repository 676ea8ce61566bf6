"""What stands in an entry as text for its form, and what was typed back, read into its columns."""

from dataclasses import dataclass
from datetime import date, time
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import parse
from hatchery_app.domain.spawn.parents import KnownAs
from hatchery_app.domain.when import RoomTime, check_day
from hatchery_app.models.broodstock import BroodGroup, Fish
from hatchery_app.models.columns import number_columns
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.tank import Reading, Readings
from hatchery_app.services.recording import Book
from hatchery_app.services.records.record_kinds import EntryKind, Part, Reads
from hatchery_app.services.records.record_names import Names, load_names
from hatchery_app.services.species.library import species_names
from hatchery_app.services.tank import tank

YES, NO = "yes", ""
AS_IT_STANDS = "as it stands"
LONGEST_TEXT = 4000

Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class PartNow:
    """One field of a correction: what it is called, how it is asked, what stands in it."""

    name: str
    label: str
    reads: str
    text: str
    choices: Choices = ()


def parts_now(
    session: Session, kind: EntryKind, row: Entry, room_time: RoomTime
) -> tuple[PartNow, ...]:
    """The fields of an entry's correction, filled with what stands."""
    return tuple(
        PartNow(part.column, part.label, part.reads.name, text_of(session, part, row),
                _choices(session, part, row, room_time))
        for part in kind.parts
        if not (part.reads is Reads.READING and getattr(row, "how_many", 1) > 1)
    )  # fmt: skip


def text_of(session: Session, part: Part, row: Any) -> str:
    """What stands in one part, as its field would send it."""
    if part.reads is Reads.HOW_MANY:
        number = row.how_many
        return number.written or (number.said() if number.is_known else "")
    if part.reads is Reads.PARENT:
        return _parent_text(row, part.column)
    if part.reads is Reads.READING:
        reading = _only_reading(session, row)
        return "" if reading is None else reading.typed or f"{reading.value:g}"
    value = getattr(row, part.column)
    if part.typed_in and getattr(row, part.typed_in):
        return str(getattr(row, part.typed_in))
    return _plain(value)


def _plain(value: Any) -> str:
    match value:
        case None | False:
            return ""
        case True:
            return YES
        case time():
            return value.strftime("%H:%M")
        case date():
            return value.isoformat()
        case float():
            return f"{value:.10g}"
    return str(value)


def read_part(book: Book, part: Part, text: str, row: Entry) -> dict[str, Any]:
    """The column values that a changed text means. Raises RuleBroken or Asked beside its field."""
    written = text.strip()
    if not written and part.needed:
        raise RuleBroken(f"{part.label} cannot be left empty.", field=part.column)
    if part.reads is Reads.HOW_MANY:
        return number_columns(parse(written, part.column))
    if part.reads is Reads.PARENT:
        return _parent_columns(part.column, written)
    if part.reads is Reads.VOLUME:
        volume = tank.read_volume(book, written, part.column)
        return {part.column: float(volume.canonical), part.typed_in: volume.typed}
    if part.reads is Reads.TEMPERATURE:
        amount = tank.read_temperature(book, written, part.column)
        return {part.column: float(amount.canonical), part.typed_in: amount.typed}
    if part.reads is Reads.READING:
        return {}  # it stands in a row of its own: see `readings_along`
    value = _READ[part.reads](part, written)
    stored = {part.column: value}
    return stored | ({part.typed_in: written} if part.typed_in else {})


def _text(part: Part, written: str) -> str:
    if len(written) > LONGEST_TEXT:
        raise RuleBroken(f"{part.label} is too long.", field=part.column)
    return written


def _whole(part: Part, written: str) -> int | None:
    if not written:
        return None
    least = 1 if part.column == "number" else 0
    if not (written.isascii() and written.isdigit()) or not least <= int(written) <= 10**8:
        raise RuleBroken(f"{part.label}: write a whole number, {least} or more.", field=part.column)
    return int(written)


def _figure(part: Part, written: str) -> float | None:
    if not written:
        return None
    try:
        value = float(written.replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0 <= value < 1e12:  # refuses nan too: it compares with nothing
        raise RuleBroken(f"“{written}” is not a figure of 0 or more.", field=part.column)
    return value


def _word(part: Part, written: str) -> str:
    if written not in dict(part.words):
        raise RuleBroken(f"{part.label}: pick one of the list.", field=part.column)
    return written


def _day(part: Part, written: str) -> date | None:
    try:
        return check_day(date.fromisoformat(written), part.column) if written else None
    except ValueError as reason:
        raise RuleBroken(
            f"“{written}” is not a date; write it like 2026-11-24.", field=part.column
        ) from reason


def _clock(part: Part, written: str) -> time:
    try:
        return time.fromisoformat(written.replace(".", ":").zfill(5))
    except ValueError as reason:
        raise RuleBroken(
            f"“{written}” is not a time; write it like 21:30.", field=part.column
        ) from reason


def _fact(part: Part, written: str) -> int | None:
    return int(written) if written.isascii() and written.isdigit() else None


_READ: dict[Reads, Any] = {
    Reads.TEXT: _text, Reads.WHOLE: _whole, Reads.FIGURE: _figure, Reads.WORD: _word,
    Reads.DAY: _day, Reads.CLOCK: _clock, Reads.FACT: _fact, Reads.SPECIES: _text,
    Reads.YES_NO: lambda _part, written: written == YES,
}  # fmt: skip


def _parent_text(row: Any, role: str) -> str:
    known_as, ids = getattr(row, f"{role}_known_as"), getattr(row, f"{role}_ids")
    if known_as in (KnownAs.FISH, KnownAs.GROUP):
        return f"{known_as}:{ids}"
    return AS_IT_STANDS if known_as == KnownAs.ONE_OF else str(known_as)


def _parent_columns(role: str, written: str) -> dict[str, Any]:
    known_as, _, ids = written.partition(":")
    if known_as not in tuple(KnownAs) or (ids and not ids.isdigit()):
        raise RuleBroken("Pick the parent from the list.", field=role)
    return {f"{role}_known_as": known_as, f"{role}_ids": ids, f"{role}_claim": ""}


def _choices(session: Session, part: Part, row: Entry, room_time: RoomTime) -> Choices:
    if part.reads is Reads.WORD:
        return part.words
    if part.reads is Reads.FACT and part.of is not None:
        empty: Choices = () if part.needed else (("", "none"),)
        return empty + _named(session, part.of, "", room_time)
    if part.reads is Reads.SPECIES:
        # What stands may be of the keeper's own library, which other rooms read.
        held = {str(getattr(row, part.column)): ""} | ({} if part.needed else {"": "not said"})
        return tuple((key, name or key) for key, name in (held | species_names()).items())
    if part.reads is Reads.PARENT:
        stays = _parent_text(row, part.column) == AS_IT_STANDS
        return (
            (((AS_IT_STANDS, AS_IT_STANDS),) if stays else ())
            + tuple((word, word) for word in (KnownAs.UNKNOWN, KnownAs.WILD, KnownAs.BOUGHT))
            + _named(session, Fish, "fish:", room_time)
            + tuple((v, f"of {w}") for v, w in _named(session, BroodGroup, "group:", room_time))
        )
    return ()


def _named(session: Session, model: type[Entry], before: str, room_time: RoomTime) -> Choices:
    rows = list(session.scalars(select(model).where(known()).order_by(model.seq.desc())))
    names: Names = load_names(session, rows, room_time)
    listed = [(f"{before}{row.fact}", names.of_row(row)) for row in rows]
    return tuple(sorted(listed, key=lambda choice: choice[1].casefold()))


def _only_reading(session: Session, row: Entry) -> Reading | None:
    return session.scalars(
        select(Reading).where(Reading.readings_seq == row.seq).order_by(Reading.id).limit(1)
    ).first()


def readings_along(book: Book, old: Entry, new: Entry, typed: str | None) -> None:
    """Copy the readings of an act to its correction: in its tank, and a single one as typed."""
    if not isinstance(old, Readings) or not isinstance(new, Readings):
        return
    rows = book.session.scalars(select(Reading).where(Reading.readings_seq == old.seq)).all()
    moved = new.when.middle - old.when.middle
    for row in rows:
        value, written = row.value, row.typed
        if typed is not None and len(rows) == 1:
            value, written = _read_again(book, new.quantity, typed)
        book.session.add(
            Reading(
                readings_seq=new.seq, tank_id=new.tank_id, quantity=row.quantity,
                at=row.at + moved, value=value, typed=written,
            )
        )  # fmt: skip
    book.session.flush()


def _read_again(book: Book, quantity: str, typed: str) -> tuple[float, str]:
    if quantity == tank.TEMPERATURE:
        amount = tank.read_temperature(book, typed, "value")
        return float(amount.canonical), amount.typed
    figure = _figure(Part("value", "Value", Reads.FIGURE), typed.strip())
    if figure is None:
        raise RuleBroken("Value cannot be left empty.", field="value")
    return figure, typed.strip()
