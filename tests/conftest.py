"""The room every service and page test begins in: empty tables, an owner, a morning in November.

Tables are made once a run and emptied before each test; with HATCHERY_TEST_DATABASE_URL set the
same tests run on PostgreSQL as well, each worker in a database of its own beside the one named.
"""

import os
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any
from unittest.mock import patch

import freezegun
import hypothesis
import pytest
from flask import Flask
from flask.testing import FlaskClient
from itsdangerous import TimestampSigner
from jinja2 import FileSystemBytecodeCache
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
from hatchery_app.services.species.species import open_records
from hatchery_app.services.stock_book import every_batch, stock_batch_page, stock_book_page
from hatchery_app.settings import Settings

assert models.entry  # every table is known before any is made

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
POSTGRES = os.environ.get("HATCHERY_TEST_DATABASE_URL", "")
LONG_AGO_S = int(datetime(2000, 1, 1, tzinfo=UTC).timestamp())
TABLES = tuple(Base.metadata.sorted_tables)
WORKER = os.environ.get("PYTEST_XDIST_WORKER", "")
NO_POSTGRES = "PostgreSQL is not here: HATCHERY_TEST_DATABASE_URL is not set."


# The same commit gives the same answer everywhere and every time: what is drawn is drawn from the
# test's own text, not from chance, and a slow machine is no failure. Chance has its place in
# tests/bench, which draws widely and fails nobody's landing.
hypothesis.settings.register_profile(
    "suite",
    derandomize=True,
    deadline=None,
    suppress_health_check=[hypothesis.HealthCheck.too_slow],
)
hypothesis.settings.load_profile("suite")

# A clock that is set looks through every module for names of the real one. These never read it:
# the floors below the pages are handed their moment.
freezegun.configure(
    extend_ignore_list=[
        *(f"hatchery_app.{floor}." for floor in ("domain", "models", "services")),
        "sqlalchemy", "alembic", "mako", "numpy", "scipy", "gsw", "psycopg", "pygments",
    ]
)  # fmt: skip


class InOneWorker(LoadScopeScheduling):  # type: ignore[misc]
    """Hands out tests one by one, but those together that share what takes seconds to make.

    The browser's share a browser and the demos they look at, the house's the program they have
    read. (xdist's own groups are written into names that pytest 9 no longer reads.) The largest
    group is handed out first, then the tests in the order in which they were collected.
    """

    def _split_scope(self, nodeid: str) -> str:
        if "/browser/" in nodeid:
            return "browser"
        of_the_house = "/test_house_plan.py" in nodeid or "/test_import_rules.py" in nodeid
        return "house" if of_the_house else nodeid


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> InOneWorker:
    return InOneWorker(config, log)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes long is begun early, or one worker ends with it while the other stands still."""
    items.sort(key=lambda item: item.get_closest_marker("long") is None)


@pytest.fixture(scope="session")
def engine_apps(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Flask]]:
    """The application over the tables of each engine that is here."""
    with ExitStack() as until_the_end:
        folder = tmp_path_factory.mktemp("sqlite")
        url = f"sqlite:///{folder / 'hatchery.db'}"
        apps = {"sqlite": until_the_end.enter_context(made(url, folder))}
        if POSTGRES:
            url = until_the_end.enter_context(own_database())
            folder = tmp_path_factory.mktemp("postgresql")
            apps["postgresql"] = until_the_end.enter_context(made(url, folder))
        yield apps


@contextmanager
def made(url: str, folder: Path) -> Iterator[Flask]:
    """The application over up-to-date tables."""
    settings = Settings(folder=folder, database_url=url, secret="x" * 64)
    bring_up_to_date(settings)
    app = create_app(settings)
    app.config.update(
        TESTING=True, WTF_CSRF_ENABLED=False, PERMANENT_SESSION_LIFETIME=timedelta(days=36500)
    )
    # Compiled once for the applications of both engines and all workers.
    templates = folder.parents[1 if WORKER else 0] / "templates"
    templates.mkdir(exist_ok=True)
    app.jinja_env.bytecode_cache = FileSystemBytecodeCache(str(templates))
    with app.app_context():
        _written[db.engine].update(Base.metadata.tables)  # an earlier run may have left its rows
        if db.engine.dialect.name == "sqlite":
            event.listen(db.engine, "connect", _without_waiting_for_the_disk)
    yield app
    with app.app_context():
        db.engine.dispose()  # a connection left open is a warning, and warnings are errors


def _without_waiting_for_the_disk(connection: Any, _record: Any) -> None:
    connection.execute("PRAGMA synchronous=OFF")  # nobody misses these records in a power cut


@pytest.fixture(params=["sqlite", "postgresql"])
def engine_app(request: pytest.FixtureRequest, engine_apps: dict[str, Flask]) -> Flask:
    """The application on each of the engines in turn."""
    if request.param not in engine_apps:
        pytest.skip(NO_POSTGRES)
    return engine_apps[request.param]


@contextmanager
def own_database() -> Iterator[str]:
    """The database that may be emptied: a parallel run makes one a worker and drops it at the end.

    Entered before the application that is open to it, so it outlives it.
    """
    if not WORKER:
        yield POSTGRES
        return
    name = f"hatchery_{WORKER}"
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
        open_records(engine_app.config["HATCHERY"].folder)
        clutch_watch.forget()
        room.remembered.forget()
        stock_book_page.remembered.forget()
        stock_batch_page.remembered.forget()
        every_batch.forget()
        yield engine_app
        db.session.remove()


_INSERTED = re.compile(r'\s*INSERT INTO "?(\w+)')
_written: defaultdict[Engine, set[str]] = defaultdict(set)


@event.listens_for(Engine, "before_cursor_execute")
def _note_table(connection, _cursor, statement, _parameters, _context, _many) -> None:  # type: ignore[no-untyped-def]
    found = _INSERTED.match(statement)
    if found:
        _written[connection.engine].add(found[1])


def _empty_tables() -> None:
    """Empty what was written to since the last time: most tests touch a few tables of sixty."""
    names = _written[db.engine]
    written = [table for table in reversed(TABLES) if table.name in names]
    with db.engine.connect().execution_options(write=True) as connection, connection.begin():
        if connection.dialect.name == "sqlite":
            # References run both ways within `entry`; they are checked when all is gone.
            connection.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
        elif connection.exec_driver_sql("SHOW is_superuser").scalar() == "on":
            # Each row of `entry` would be looked for in a hundred columns that may point to it.
            connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
        for table in written:
            connection.execute(table.delete())
    names.clear()


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
    signed = patch.object(TimestampSigner, "get_timestamp", lambda _signer: LONG_AGO_S)
    with signed, browser.session_transaction() as cookie:
        cookie["keeper"] = keeper.id
        cookie["epoch"] = keeper.epoch
        cookie.permanent = True
    return browser


@pytest.fixture(scope="session")
def here() -> Path:
    """The root of the checkout."""
    return Path(__file__).resolve().parents[1]
