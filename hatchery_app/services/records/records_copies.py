"""Copies of the records' file: one a day, thinned with age, and one put back.

A copy goes through SQLite itself (a plain copy of the file lacks what still stands in its log),
is checked under another name, flushed, and only then given its own. PostgreSQL has its own tools.

Pictures are files beside the records that never change; beside a copy stand those it had by then.
"""

import os
import re
import shutil
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from hatchery_app.domain.errors import RuleBroken

DAILY_KEPT, WEEKLY_KEPT, MONTHLY_KEPT = 7, 5, 12
PICTURES = "photos"
VERSION_TABLE = "alembic_version"
OWN_TOOLS = "These records stand on a PostgreSQL server; its own tools (pg_dump) make the copies."
_NAMED = re.compile(r"hatchery-(\d{4}-\d{2}-\d{2})\.db")


@dataclass(frozen=True)
class Copy:
    """One kept copy, of the day it was made."""

    made_on: date
    path: Path
    size_bytes: int


def copies_folder(folder: Path) -> Path:
    """Where the copies of a records folder are kept."""
    return folder / "copies"


def copies_in(folder: Path) -> tuple[Copy, ...]:
    """The daily copies of a records folder, newest first."""
    found = [
        Copy(date.fromisoformat(named[1]), path, path.stat().st_size)
        for path in copies_folder(folder).glob("hatchery-*.db")
        if (named := _NAMED.fullmatch(path.name))
    ]
    return tuple(sorted(found, key=lambda copy: copy.made_on, reverse=True))


def copy_of_the_day(database_file: Path, folder: Path, today: date) -> Path | None:
    """Make today's copy if it is not there yet, and thin out the old ones.

    Returns the new copy, None where today has one. Raises OSError or sqlite3.Error where there
    is no room for it.
    """
    wanted = copies_folder(folder) / f"hatchery-{today.isoformat()}.db"
    if wanted.exists():
        return None
    copy_to(database_file, wanted)
    copy_pictures(folder, wanted.parent)
    thin_out(folder)
    return wanted


def copy_now(database_file: Path, folder: Path, now: datetime) -> Path:
    """A copy on demand, beside the daily ones and never thinned out."""
    wanted = copies_folder(folder) / f"by-hand-{now:%Y-%m-%dT%H%M%S}.db"
    copy_to(database_file, wanted)
    copy_pictures(folder, wanted.parent)
    return wanted


def copy_pictures(folder: Path, beside: Path) -> int:
    """Copy the pictures that are not there yet to the folder a copy stands in. Returns how many.

    One store serves all copies of a folder: a picture never changes, so none stands there twice.
    """
    source, target = folder / PICTURES, beside / PICTURES
    made = 0
    for picture in sorted(source.glob("*")) if source.is_dir() else ():
        wanted = target / picture.name
        if picture.suffix == ".part" or wanted.exists():
            continue
        target.mkdir(parents=True, exist_ok=True)
        half = wanted.with_name(f"{wanted.name}.part")
        shutil.copyfile(picture, half)
        _flush(half)
        half.replace(wanted)
        made += 1
    return made


def copy_to(database_file: Path, wanted: Path) -> Path:
    """Copy the records to a file that did not stand there, or whole in place of it."""
    wanted.parent.mkdir(parents=True, exist_ok=True)
    half = wanted.with_name(f"{wanted.name}.{os.getpid()}.part")
    try:
        with _opened(database_file) as source, closing(sqlite3.connect(half)) as target:
            source.backup(target, pages=-1)  # in one step: a writer between two begins it anew
            target.execute("PRAGMA journal_mode=DELETE")  # one file, without a log beside it
        trouble = file_trouble(half)
        if trouble:
            raise sqlite3.DatabaseError(f"The copy is not sound: {trouble[0]}")
        _flush(half)
        half.replace(wanted)
    finally:
        half.unlink(missing_ok=True)
    return wanted


def thin_out(folder: Path) -> tuple[Path, ...]:
    """Remove old daily copies. Returns what was removed."""
    copies = copies_in(folder)
    kept = days_kept(copy.made_on for copy in copies)
    gone = tuple(copy.path for copy in copies if copy.made_on not in kept)
    for path in gone:
        path.unlink(missing_ok=True)
    return gone


def days_kept(days: Iterable[date]) -> frozenset[date]:
    """Of all days with a copy: the last 7, the last day of 5 weeks, and of 12 months."""
    newest_first = sorted(set(days), reverse=True)
    kept = set(newest_first[:DAILY_KEPT])
    for turn, number in (
        (lambda day: day.isocalendar()[:2], WEEKLY_KEPT),
        (lambda day: (day.year, day.month), MONTHLY_KEPT),
    ):
        last: dict[object, date] = {}
        for day in newest_first:
            last.setdefault(turn(day), day)
        kept |= set(list(last.values())[:number])
    return frozenset(kept)


def file_trouble(path: Path) -> tuple[str, ...]:
    """What SQLite finds wrong with a records file; nothing where it is sound."""
    try:
        with _opened(path) as connection:
            said = [row[0] for row in connection.execute("PRAGMA quick_check").fetchall()]
            tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
            broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.Error as reason:
        return (f"{path.name} cannot be read as records: {reason}",)
    trouble = [] if said == ["ok"] else said
    if not {"entry", VERSION_TABLE} <= tables:
        trouble.append(f"{path.name} holds no day-book of this program")
    if broken:
        trouble.append(f"{len(broken)} references lead nowhere")
    return tuple(trouble)


def tables_of(path: Path) -> str:
    """Which revision the tables of a sound copy are at; "" where it does not say."""
    with _opened(path) as connection:
        row = connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchone()
    return str(row[0]) if row else ""


def put_back(copy: Path, database_file: Path, folder: Path, now: datetime) -> Path | None:
    """Put a copy in the place of the records; what stood there is kept aside.

    Returns where that is kept, None where there was nothing. Raises RuleBroken for a file that
    is no sound copy, or while something writes. Run when nobody is served.
    """
    trouble = file_trouble(copy) if copy.is_file() else (f"{copy} is not there",)
    if trouble:
        raise RuleBroken(f"That cannot be put back: {'; '.join(trouble)}.")
    aside = None
    if database_file.exists():
        aside = copies_folder(folder) / f"before-restore-{now:%Y-%m-%dT%H%M%S}.db"
        _keep_aside(database_file, aside)
    try:
        with _opened(copy) as source, closing(sqlite3.connect(database_file)) as target:
            source.backup(target, pages=-1)
    except sqlite3.OperationalError as busy:
        raise RuleBroken(
            f"The records are in use ({busy}). Stop the program that serves them first."
        ) from busy
    copy_pictures(copy.parent, folder)  # those that stand here already stay
    return aside


def _keep_aside(database_file: Path, aside: Path) -> None:
    try:
        copy_to(database_file, aside)
    except sqlite3.DatabaseError:
        # It is broken, which may be why it is replaced: kept byte by byte, its log with it.
        aside.parent.mkdir(parents=True, exist_ok=True)
        database_file.replace(aside)
        for log in ("-wal", "-shm"):
            beside = database_file.with_name(database_file.name + log)
            if beside.exists():
                beside.replace(aside.with_name(aside.name + log))


def empty_the_log(database_file: Path) -> None:
    """Write everything into the file itself, so that it can be carried away alone."""
    with _opened(database_file) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a file that is there; a missing one is an error, not a new one."""
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=rw", uri=True)) as connection:
        connection.execute("PRAGMA busy_timeout=5000")
        yield connection


def _flush(path: Path) -> None:
    for place, how in ((path, os.O_RDWR), (path.parent, os.O_RDONLY)):
        try:
            handle = os.open(place, how)
        except OSError:
            continue  # a folder cannot be opened everywhere, and need not be
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
