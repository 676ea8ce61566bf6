"""The room every service and page test begins in: empty tables, an owner, a morning in November.

Tables are made once a run and emptied before each test; with HATCHERY_TEST_DATABASE_URL set the
same tests run on PostgreSQL as well, each worker in a database of its own beside the one named.
"""

import os
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy import Engine, create_engine, event, make_url
from sqlalchemy.orm import Session
from xdist.scheduler import LoadScopeScheduling

from hatchery_app import models
from hatchery_app.app import create_app
from hatchery_app.cli.tables import bring_up_to_date
from hatchery_app.database import Base, db
from hatchery_app.services.clutch import clutch_watch
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import account, room
from hatchery_app.services.stock_book import every_batch, stock_batch_page, stock_book_page
from hatchery_app.settings import Settings

assert models.entry  # every table is known before any is made

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
POSTGRES = os.environ.get("HATCHERY_TEST_DATABASE_URL", "")
NO_POSTGRES = "PostgreSQL is not here: HATCHERY_TEST_DATABASE_URL is not set."


class BrowserInOneWorker(LoadScopeScheduling):  # type: ignore[misc]
    """Hands out tests one by one, those of the browser together.

    They share a browser and the demos they look at, which take seconds to make. (xdist's own
    groups are written into names that pytest 9 no longer reads.)
    """

    def _split_scope(self, nodeid: str) -> str:
        return "browser" if "/browser/" in nodeid else nodeid


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> BrowserInOneWorker:
    return BrowserInOneWorker(config, log)


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def engine_app(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Flask]:
    """The application over empty, up-to-date tables, once a run and engine."""
    folder = tmp_path_factory.mktemp(request.param)
    if request.param == "postgresql":
        if not POSTGRES:
            pytest.skip(NO_POSTGRES)
        url = request.getfixturevalue("own_database")
    else:
        url = f"sqlite:///{folder / 'hatchery.db'}"
    settings = Settings(folder=folder, database_url=url, secret="x" * 64)
    bring_up_to_date(settings)
    _written.update(Base.metadata.tables)  # an earlier run may have left its rows
    app = create_app(settings)
    app.config.update(
        TESTING=True, WTF_CSRF_ENABLED=False, PERMANENT_SESSION_LIFETIME=timedelta(days=36500)
    )
    yield app
    with app.app_context():
        db.engine.dispose()  # a connection left open is a warning, and warnings are errors


@pytest.fixture(scope="session")
def own_database() -> Iterator[str]:
    """The database that may be emptied: a parallel run makes one a worker and drops it at the end.

    Asked for by `engine_app`, so it outlives the application that is open to it.
    """
    worker = os.environ.get("PYTEST_XDIST_WORKER")
    if worker is None:
        yield POSTGRES
        return
    name = f"hatchery_{worker}"
    server = create_engine(POSTGRES, isolation_level="AUTOCOMMIT")
    drop = f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)'
    with server.connect() as connection:
        connection.exec_driver_sql(drop)
        connection.exec_driver_sql(f'CREATE DATABASE "{name}"')
    yield make_url(POSTGRES).set(database=name).render_as_string(hide_password=False)
    with server.connect() as connection:
        connection.exec_driver_sql(drop)
    server.dispose()


@pytest.fixture
def app(engine_app: Flask) -> Iterator[Flask]:
    """The application with every table empty."""
    with engine_app.app_context():
        _empty_tables()
        clutch_watch.forget()
        room.remembered.forget()
        stock_book_page.remembered.forget()
        stock_batch_page.remembered.forget()
        every_batch.forget()
        yield engine_app
        db.session.remove()


_INSERTED = re.compile(r'\s*INSERT INTO "?(\w+)')
_written: set[str] = set()


@event.listens_for(Engine, "before_cursor_execute")
def _note_table(_connection, _cursor, statement, _parameters, _context, _many) -> None:  # type: ignore[no-untyped-def]
    found = _INSERTED.match(statement)
    if found:
        _written.add(found[1])


def _empty_tables() -> None:
    """Empty what was written to since the last time: most tests touch a few tables of sixty."""
    written = [t for t in reversed(Base.metadata.sorted_tables) if t.name in _written]
    with db.engine.connect().execution_options(write=True) as connection, connection.begin():
        if connection.dialect.name == "sqlite":
            # References run both ways within `entry`; they are checked when all is gone.
            connection.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
        for table in written:
            connection.execute(table.delete())
    _written.clear()


@pytest.fixture
def session(app: Flask) -> Session:
    """The records' session."""
    return db.session()


@pytest.fixture
def now() -> datetime:
    """Tuesday 24 November 2026, 09:00 in Lisbon: the lights are on."""
    return NOW


@pytest.fixture
def posted() -> Callable[..., Posting]:
    """A posting at a moment: `posted(at=..., answers={...})`."""

    def at_moment(at: datetime = NOW, **said: object) -> Posting:
        return Posting(now=at, **said)  # type: ignore[arg-type]

    return at_moment


@pytest.fixture
def owner(session: Session) -> account.Keeper:
    """The room's owner."""
    return account.make_owner(session, name="Ines", password_hash="scrypt:none", now=NOW)


@pytest.fixture
def gannet_stair(session: Session, owner: account.Keeper) -> room.RoomNow:
    """A room set up long ago: Lisbon time, lights 08:00 to 20:00, °C and litres."""
    room.set_up_room(
        session,
        posting=Posting(now=datetime(2026, 1, 1, 9, 0, tzinfo=UTC), by_id=owner.id),
        name="Gannet Stair",
        zone_name="Europe/Lisbon",
        lights_on=time(8, 0),
        lights_off=time(20, 0),
    )
    return room.room_now(session)


@pytest.fixture
def client(app: Flask, owner: account.Keeper, gannet_stair: room.RoomNow) -> FlaskClient:
    """A browser signed in as the owner. Freeze the clock with freezegun to choose the hour."""
    return signed_in(app, owner)


def signed_in(app: Flask, keeper: account.Keeper) -> FlaskClient:
    """A browser in which somebody signed in long ago, whatever hour a test sets the clock to."""
    browser = app.test_client()
    with freeze_time("2000-01-01"), browser.session_transaction() as cookie:
        cookie["keeper"] = keeper.id
        cookie["epoch"] = keeper.epoch
        cookie.permanent = True
    return browser


@pytest.fixture(scope="session")
def here() -> Path:
    """The root of the checkout."""
    return Path(__file__).resolve().parents[1]
