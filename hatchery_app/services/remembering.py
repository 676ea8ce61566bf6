"""Answers worked out once a process for each newest entry of the records, or once a transaction.

Nothing derived is stored: what is remembered here is gone with the process, and asked anew as soon
as anything at all has been written down since.
"""

from collections.abc import Callable, Hashable
from datetime import datetime
from threading import Lock
from typing import Generic, TypeVar

from sqlalchemy import event, func, select
from sqlalchemy.orm import Session, SessionTransaction

from hatchery_app.models.entry import Entry

Answer = TypeVar("Answer")
_ENTRIES = Entry.__table__


# --- Within one transaction ---------------------------------------------------------------

_WRITTEN = "entries written in this transaction"
_until: dict[str, tuple[type[Entry], ...]] = {}


def remember(name: str, *, until: tuple[type[Entry], ...]) -> str:
    """A name under which `session.info` keeps an answer until its transaction ends.

    The first entry of these kinds that is written meanwhile puts an end to it, too.
    """
    _until[name] = until
    return name


def note_written(session: Session, row: Entry) -> None:
    """An entry was written: what rested on others of its kind is forgotten."""
    session.info.setdefault(_WRITTEN, []).append(row)
    for name, kinds in _until.items():
        if isinstance(row, kinds):
            session.info.pop(name, None)


def has_written(session: Session) -> bool:
    """Whether the transaction at hand wrote an entry that may yet come to nothing."""
    return bool(session.info.get(_WRITTEN))


@event.listens_for(Session, "after_transaction_end")
def _forget_at_the_end(session: Session, ended: SessionTransaction) -> None:
    if ended.parent is None:
        for name in (*_until, _WRITTEN):
            session.info.pop(name, None)


@event.listens_for(Session, "after_rollback")
def _let_go_of_what_was_not_kept(session: Session) -> None:
    for row in session.info.pop(_WRITTEN, ()):
        session.expunge(row)  # its number goes to the next


# --- Once for each newest entry -----------------------------------------------------------

_NEWEST = select(func.max(_ENTRIES.c.seq))
_ASKED = remember("the newest entry", until=(Entry,))


def newest_entry(session: Session) -> int:
    """The `seq` of the newest entry, 0 in empty records, as a transaction that only reads first
    saw it. One statement, read off the key."""
    if _ASKED not in session.info:
        session.info[_ASKED] = session.scalar(_NEWEST) or 0
    found: int = session.info[_ASKED]
    return found


def is_writing(session: Session) -> bool:
    """Whether the transaction at hand writes: what it has not committed may yet come to nothing,
    and its numbers be handed out again."""
    return bool(session.connection().get_execution_options().get("write", False))


class Remembered(Generic[Answer]):
    """The last answers of one kind, by what was asked and the newest entry they rest on."""

    def __init__(self, most: int = 16) -> None:
        self._most = most
        self._answers: dict[tuple[Hashable, ...], Answer] = {}
        self._lock = Lock()

    def answer(
        self, session: Session, asked: tuple[Hashable, ...], work: Callable[[], Answer]
    ) -> Answer:
        """The remembered answer, else what `work` gives; while something is being written, that."""
        if is_writing(session):
            return work()
        key = (str(session.get_bind().engine.url), newest_entry(session), *asked)
        with self._lock:  # between a look and a grasp another page may let go of it
            if key in self._answers:
                return self._answers[key]
        found = work()
        with self._lock:
            self._answers[key] = found
            while len(self._answers) > self._most:
                self._answers.pop(next(iter(self._answers)))
        return found

    def forget(self) -> None:
        """Forget everything: the records were put back, or emptied."""
        with self._lock:
            self._answers.clear()


def known_at(session: Session, moment: datetime) -> int:
    """The newest entry that had reached these records by a moment, 0 for none. One statement."""
    return session.scalar(select(func.max(Entry.seq)).where(Entry.received_at <= moment)) or 0
