"""Pictures that are counted on: kept in the records folder, marked, and bound to a number.

A picture's file has a random name and never changes. While it is being marked the marks stand
with the picture; the number that is then counted keeps them as they were.
"""

import hashlib
import os
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.database import transaction
from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.picture import Mark, look_at, read_marks, tapped, write_marks
from hatchery_app.domain.stock_book.worked_count import photo_of, worked_again
from hatchery_app.domain.when import When
from hatchery_app.models.clutch import Clutch
from hatchery_app.models.counting import Photo, PhotoMarked
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Holding
from hatchery_app.services.recording import LARGEST_WHOLE_NUMBER, Book, use_case
from hatchery_app.services.records.records_copies import PICTURES

ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}
NO_PICTURE = "That picture does not stand in this room's records."


@dataclass(frozen=True)
class PhotoShown:
    """A picture with the marks set on it. `about_id` is the batch or clutch it shows."""

    photo_id: int
    media_type: str
    width: int
    height: int
    marks: tuple[Mark, ...]
    about_id: int = 0
    file: str = ""
    sha256: str = ""


def photos_folder(folder: Path) -> Path:
    """Where the pictures of a records folder lie."""
    return folder / PICTURES


def fingerprint(content: bytes) -> str:
    """What tells one picture's bytes from another's (SHA-256)."""
    return hashlib.sha256(content).hexdigest()


@use_case
def keep_photo(book: Book, *, folder: Path, content: bytes, about_id: int) -> int:
    """Keep a picture of a batch or clutch, as it came. Returns the picture's number.

    Raises RuleBroken beside "picture" for what is no picture a tablet shows, by its bytes.
    """
    picture = look_at(content)
    find_what_it_shows(book.session, about_id)
    file = f"{secrets.token_hex(16)}.{ENDINGS[picture.media_type]}"
    row = Photo(
        file=file, media_type=picture.media_type, width=picture.width, height=picture.height,
        size_bytes=len(content), sha256=fingerprint(content), marks="", about_id=about_id,
        received_at=book.now, by_id=book.posting.by_id,
    )  # fmt: skip
    book.session.add(row)
    book.session.flush()
    _write(photos_folder(folder), file, content)  # last: a file without its row is only litter
    return row.id


def find_what_it_shows(session: Session, about_id: int) -> None:
    """Raises NotKnown where no such batch or clutch stands in the records."""
    shown = session.scalars(
        select(Entry).where(Entry.fact_id == about_id, known(), Entry.kind.in_(
            [str(kind.__mapper__.polymorphic_identity) for kind in (Holding, Clutch)]))
    ).first()  # fmt: skip
    if shown is None:
        raise NotKnown("What the picture shows does not stand in this room's records.")


def _write(folder: Path, file: str, content: bytes) -> None:
    half = folder / f"{file}.part"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with open(half, "xb") as handle:
            handle.write(content)
            handle.flush()
            os.fsync(handle.fileno())
        half.replace(folder / file)
    except OSError as reason:
        half.unlink(missing_ok=True)
        raise RuleBroken(f"The picture could not be kept: {reason}.", field="picture") from reason


def photo(session: Session, photo_id: int) -> PhotoShown:
    """One picture with the marks set so far. Raises NotKnown."""
    return _shown(_find(session, photo_id))


def photo_or_none(session: Session, photo_id: int | None) -> PhotoShown | None:
    """The same, None where there is no such picture."""
    try:
        return photo(session, photo_id) if photo_id else None
    except NotKnown:
        return None


def _find(session: Session, photo_id: int) -> Photo:
    row = session.get(Photo, photo_id) if 0 < photo_id <= LARGEST_WHOLE_NUMBER else None
    if row is None:
        raise NotKnown(NO_PICTURE)
    return row


def _shown(row: Photo, marks: str | None = None) -> PhotoShown:
    return PhotoShown(
        row.id, row.media_type, row.width, row.height,
        read_marks(row.marks if marks is None else marks), row.about_id, row.file, row.sha256,
    )  # fmt: skip


def set_marks(session: Session, photo_id: int, marks: Sequence[Mark]) -> None:
    """The marks of a picture, all anew. What a number rests on already keeps its own."""
    with transaction(session):
        _find(session, photo_id).marks = write_marks(marks)


def tap(session: Session, photo_id: int, at: Mark) -> None:
    """One tap on a picture: a mark more, or the one it met taken away."""
    with transaction(session):
        row = _find(session, photo_id)
        shape = row.height / row.width
        row.marks = write_marks(tapped(read_marks(row.marks), at, height_over_width=shape))


def keep_marks(book: Book, number_id: int, number: HowMany, when: When) -> None:
    """Bind the picture that a number was counted on to the entry that carries the number.

    For use inside another use case; does nothing for a number of no picture. Raises RuleBroken
    where the marks are others by now than those that were counted.
    """
    photo_id, worked = photo_of(number), worked_again(number)
    if photo_id is None or worked is None:
        return
    row = _find(book.session, photo_id)
    marks = read_marks(row.marks)
    if f" marks={len(marks)} " not in f"{number.raw} ":
        raise RuleBroken(f"The picture has {len(marks)} marks by now: look once more.", field="how")
    new = PhotoMarked(number_id=number_id, photo_id=photo_id, marks=row.marks)
    earlier = book.session.scalars(
        select(PhotoMarked).where(known(), PhotoMarked.number_id == number_id)
    ).first()
    if earlier is not None:
        book.correct(earlier, new, when=when)
    else:
        book.enter(new, when=when)


def photo_of_number(session: Session, number_id: int) -> PhotoShown | None:
    """The picture an entry's number was counted on, with the marks it rests on."""
    found = session.scalars(
        select(PhotoMarked).where(known(), PhotoMarked.number_id == number_id)
    ).first()
    return None if found is None else _shown(_find(session, found.photo_id), found.marks)


def wrong_photos(session: Session, folder: Path) -> tuple[str, ...]:
    """Pictures of the records whose file is missing or not what it was. Reads every file."""
    wrong = []
    for row in session.scalars(select(Photo).order_by(Photo.id)):
        path = photos_folder(folder) / row.file
        if not path.is_file():
            wrong.append(f"picture {row.id} is missing ({row.file})")
        elif fingerprint(path.read_bytes()) != row.sha256:
            wrong.append(f"picture {row.id} is not what it was ({row.file})")
    return tuple(wrong)
