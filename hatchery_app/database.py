"""The database: one Flask-SQLAlchemy object, its pragmas, its names, its transactions."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, cast

from flask_sqlalchemy import SQLAlchemy
from sqlalchemy import Connection, Engine, MetaData, event, func, select
from sqlalchemy.orm import DeclarativeBase, Session

from hatchery_app.settings import Settings

# Named from the first day: a constraint without a name can never be dropped on SQLite.
NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

# PostgreSQL hands out sequence numbers before commit; one writer at a time makes their
# order the order of commits, which "what was known then" rests on.
WRITER_LOCK = 0x48415443


class Base(DeclarativeBase):
    """The models' common ground."""

    metadata = MetaData(naming_convention=NAMING)


db = SQLAlchemy(model_class=Base)
# It stands for the session of the request at hand; to the services it is a Session.
session = cast(Session, db.session)


def prepare_engine(engine: Engine) -> None:
    """Set up every connection of `engine` as the records need it (SQLite only)."""
    if engine.dialect.name != "sqlite":
        return
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)


def _on_connect(connection: Any, _record: Any) -> None:
    # The driver's own BEGIN comes too late and breaks schema changes: we send it ourselves.
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute("PRAGMA foreign_keys=ON")
    cursor.execute("PRAGMA busy_timeout=5000")
    cursor.execute("PRAGMA synchronous=FULL")  # wet sockets: a power cut loses nothing
    cursor.close()


def _on_begin(connection: Connection) -> None:
    # A reader that turns writer is refused at once ("database is locked") whatever the
    # timeout, so writers say so from the start.
    writes = connection.get_execution_options().get("write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def engine_options(settings: Settings) -> dict[str, Any]:
    """What Flask-SQLAlchemy hands to create_engine."""
    if settings.is_sqlite:
        return {"connect_args": {"timeout": 5}}
    return {"pool_pre_ping": True}


@contextmanager
def transaction(session: Session) -> Iterator[Session]:
    """One use case, one commit: everything inside is stored, or nothing is."""
    if session.new or session.dirty or session.deleted:
        raise RuntimeError("A transaction was begun over changes that nobody committed.")
    session.rollback()  # end whatever the reading half of the request left open
    connection = session.connection(execution_options={"write": True})
    try:
        if connection.dialect.name == "postgresql":
            session.execute(select(func.pg_advisory_xact_lock(WRITER_LOCK)))
        yield session
        session.commit()
    except BaseException:
        session.rollback()
        raise
