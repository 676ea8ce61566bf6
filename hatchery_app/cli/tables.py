"""Bringing the tables up to date, under a lock, before any worker starts."""

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, create_engine, event, func, select

from hatchery_app.services.records.records_copies import copies_folder, copy_to
from hatchery_app.settings import Settings, SettingsRefused

MIGRATION_LOCK = 0x4D494752
LOCK_WAIT_S = 60


def bring_up_to_date(settings: Settings) -> None:
    """Create or upgrade the tables; an upgrade of SQLite is preceded by a copy of the file.

    Two starts at the same moment take turns. Raises SettingsRefused where the records were
    written by a newer program, or the lock is held too long.
    """
    engine = _own_engine(settings)
    try:
        with _one_at_a_time(settings), engine.connect() as connection:
            if connection.dialect.name == "postgresql":
                connection.execute(select(func.pg_advisory_lock(MIGRATION_LOCK)))
                connection.commit()
            _upgrade(connection, settings)
    finally:
        engine.dispose()


def check_known(revision: str) -> None:
    """Raises SettingsRefused for tables that this program does not know."""
    scripts = ScriptDirectory.from_config(_scripts())
    if revision not in {script.revision for script in scripts.walk_revisions()}:
        raise SettingsRefused(
            f"These records were written by a newer program (tables at {revision}). "
            "Update the program, or open an older copy."
        )


def alembic_config(connection: Connection) -> Config:
    """Alembic's settings over an open connection; there is no ini file."""
    config = _scripts()
    config.attributes["connection"] = connection
    return config


def _scripts() -> Config:
    config = Config()
    config.set_main_option("script_location", "hatchery_app:migrations")
    config.set_main_option("path_separator", "os")
    return config


def _upgrade(connection: Connection, settings: Settings) -> None:
    config = alembic_config(connection)
    newest = ScriptDirectory.from_config(config).get_current_head()
    with connection.begin():
        present = MigrationContext.configure(connection).get_current_revision()
    if present == newest:
        return
    if present is not None:
        check_known(present)
    if present is not None and settings.database_file is not None:
        copy_to(settings.database_file, copies_folder(settings.folder) / f"before-{newest}.db")
    with connection.begin():
        command.upgrade(config, "head")
    _check_references(connection)


def _check_references(connection: Connection) -> None:
    if connection.dialect.name != "sqlite":
        return
    raw = connection.connection.dbapi_connection
    assert raw is not None
    broken = raw.cursor().execute("PRAGMA foreign_key_check").fetchall()
    if broken:
        raise SettingsRefused(f"After the upgrade {len(broken)} references lead nowhere.")


def _own_engine(settings: Settings) -> Engine:
    """An engine of its own: foreign keys stay off while tables are rebuilt."""
    engine = create_engine(settings.database_url)
    if settings.is_sqlite:

        @event.listens_for(engine, "connect")
        def quietly(connection, _record):  # type: ignore[no-untyped-def]
            connection.isolation_level = None
            connection.execute("PRAGMA foreign_keys=OFF")
            # Once, here: two processes that switch a fresh file at the same moment collide.
            connection.execute("PRAGMA journal_mode=WAL")

        @event.listens_for(engine, "begin")
        def begin(connection: Connection) -> None:
            connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


@contextlib.contextmanager
def _one_at_a_time(settings: Settings) -> Iterator[None]:
    """A lock file taken before connecting; one left by a crash is taken over after a minute."""
    if not settings.is_sqlite:
        yield
        return
    lock = settings.folder / "tables.lock"
    _take(lock)
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)


def _take(lock: Path) -> None:
    waited = 0.0
    while True:
        try:
            os.close(os.open(lock, os.O_CREAT | os.O_EXCL))
            return
        except FileExistsError:
            if waited >= LOCK_WAIT_S:
                lock.unlink(missing_ok=True)
                waited = 0.0
            time.sleep(0.1)
            waited += 0.1
