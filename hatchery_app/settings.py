"""What is needed to open the records: folder, address, database, secret.

The room's own settings (name, time zone, lights, units) are dated facts in the database.
A bad value stops the start with a sentence; it is never replaced by a guess.
"""

import os
import secrets
import socket
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

LOOPBACK = "127.0.0.1"
THIS_MACHINE = (LOOPBACK, "localhost", "::1")
ANY_ADDRESS = ("0.0.0.0", "::")
# On these two programs can write one file at once without seeing each other's locks.
SHARED_FILE_SYSTEMS = ("nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "fuse")
DEFAULT_PORT = 8642


class SettingsRefused(Exception):
    """A setting that cannot be used; the sentence says which, and what would do."""


@dataclass(frozen=True)
class Settings:
    """One frozen answer to "which records, where served".

    `folder` holds database, secret and copies; `database_url` is SQLAlchemy's form;
    `demo` is the made-up hatchery, which opens signed in and may pretend its clock;
    `host_names` are further names this machine is called by in the house.
    """

    folder: Path
    database_url: str
    secret: str
    host: str = LOOPBACK
    port: int = DEFAULT_PORT
    demo: bool = False
    pretend_now: datetime | None = None
    host_names: tuple[str, ...] = ()

    @property
    def is_served_here_only(self) -> bool:
        """Whether only this machine itself can reach the pages."""
        return self.host in THIS_MACHINE

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
        host_names=tuple(environ.get("HATCHERY_HOST_NAMES", "").lower().replace(",", " ").split()),
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


def refuse_shared_folder(folder: Path, mounts: Path = Path("/proc/mounts")) -> None:
    """Raises SettingsRefused where the folder lies on another machine's disk or a mounted cloud.

    Where the system lists no mounts (Windows, macOS) only a network path can be told.
    """
    if str(folder).startswith("\\\\"):
        raise SettingsRefused(_shared(folder, "a network share"))
    try:
        listed = [line.split() for line in mounts.read_text().splitlines()]
    except OSError:
        return
    holding = [
        (len(place.parts), kind)
        for _device, at, kind, *_rest in listed
        if folder.is_relative_to(place := Path(at.replace("\\040", " ")))
    ]
    kind = max(holding, default=(0, ""), key=lambda one: one[0])[1]
    if kind.split(".")[0] in SHARED_FILE_SYSTEMS:
        raise SettingsRefused(_shared(folder, kind))


def _shared(folder: Path, kind: str) -> str:
    return (
        f"The records in {folder} lie on {kind}: there, two writers cannot see each other and a "
        "database breaks. Keep the records on this machine's own disk (--folder), or use "
        "PostgreSQL."
    )


def lan_address() -> str | None:
    """The address other machines of the house reach this one by, None where there is none.

    Asks the system which way out it would take; nothing is sent.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        try:
            way.connect(("192.0.2.1", 9))  # an address kept for examples (RFC 5737)
            address = str(way.getsockname()[0])
        except OSError:
            return None
    return None if address.startswith(("127.", "0.")) else address


def own_names() -> tuple[str, ...]:
    """What this machine is called in the house, in small letters."""
    name = socket.gethostname().lower()
    short = name.split(".")[0]
    return tuple(dict.fromkeys(one for one in (name, short, f"{short}.local") if one))
