"""What is needed to open the records: folder, address, database, secret.

The room's own settings (name, time zone, lights, units) are dated facts in the database.
A bad value stops the start with a sentence; it is never replaced by a guess.
"""

import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

LOOPBACK = "127.0.0.1"
DEFAULT_PORT = 8642


class SettingsRefused(Exception):
    """A setting that cannot be used; the sentence says which, and what would do."""


@dataclass(frozen=True)
class Settings:
    """One frozen answer to "which records, where served".

    `folder` holds database, secret and copies; `database_url` is SQLAlchemy's form;
    `demo` is the made-up hatchery, which opens signed in and may pretend its clock.
    """

    folder: Path
    database_url: str
    secret: str
    host: str = LOOPBACK
    port: int = DEFAULT_PORT
    demo: bool = False
    pretend_now: datetime | None = None

    @property
    def is_sqlite(self) -> bool:
        return self.database_url.startswith("sqlite")

    @property
    def database_file(self) -> Path | None:
        return self.folder / "hatchery.db" if self.is_sqlite else None


def read_settings(
    environ: Mapping[str, str],
    *,
    folder: Path,
    host: str | None = None,
    port: int | None = None,
    demo: bool = False,
) -> Settings:
    """Settings from the command line, else from HATCHERY_*, else their defaults.

    Makes the folder and its secret where they do not stand yet. Raises SettingsRefused.
    """
    if environ.get("HATCHERY_PRETEND_NOW") and not demo:
        raise SettingsRefused(
            "HATCHERY_PRETEND_NOW moves the clock and is for the demo only; unset it."
        )
    folder = folder.expanduser().resolve()
    _make_folder(folder)
    url = "" if demo else environ.get("HATCHERY_DATABASE_URL", "")
    return Settings(
        folder=folder,
        database_url=url or f"sqlite:///{folder / 'hatchery.db'}",
        secret=_secret_in(folder),
        host=host or environ.get("HATCHERY_HOST") or LOOPBACK,
        port=port or _port(environ.get("HATCHERY_PORT", "")),
        demo=demo,
        pretend_now=_moment(environ.get("HATCHERY_PRETEND_NOW", "")),
    )


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as reason:
        raise SettingsRefused(f"The records folder {folder} cannot be made: {reason}.") from reason


def _secret_in(folder: Path) -> str:
    """The secret that signs sessions, made once: a new one at each start would sign all out."""
    file = folder / "secret"
    try:
        if not file.exists():
            handle = os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
            with os.fdopen(handle, "w") as fresh:
                fresh.write(secrets.token_hex(32))
        secret = file.read_text().strip()
    except OSError as reason:
        raise SettingsRefused(f"The secret in {folder} cannot be read: {reason}.") from reason
    if len(secret) < 32:
        raise SettingsRefused(f"{file} is too short to be a secret; delete it to have one made.")
    return secret


def _port(text: str) -> int:
    if not text:
        return DEFAULT_PORT
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise SettingsRefused(f"HATCHERY_PORT is {text!r}; a port is a number from 1 to 65535.")
    return int(text)


def _moment(text: str) -> datetime | None:
    if not text:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as reason:
        raise SettingsRefused(
            f"HATCHERY_PRETEND_NOW is {text!r}; it wants a form like 2026-11-24T20:30+00:00."
        ) from reason
    if moment.tzinfo is None:
        raise SettingsRefused("HATCHERY_PRETEND_NOW needs its offset, such as +00:00.")
    return moment
