"""The tables' history: it agrees with the models, two starts take turns, and a change that fails
leaves nothing half done."""

import multiprocessing
import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime, time
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import create_engine, inspect, select

from hatchery_app import locations
from hatchery_app.cli import tables
from hatchery_app.database import Base, db
from hatchery_app.domain.clutch.clutch import HatchMethod
from hatchery_app.models import entry
from hatchery_app.settings import Settings, SettingsRefused
from tests.server import START_WAIT_S

assert entry  # every table is known

LAST = max(path.name[1:5] for path in (locations.MIGRATIONS / "versions").glob("r*.py"))
NEXT = f"{int(LAST) + 1:04d}"
LATER = '''"""A made-up later change."""
import sqlalchemy as sa
from alembic import op

revision = "{next}"
down_revision = "{last}"


def upgrade():
    op.create_table("moon", sa.Column("id", sa.Integer, primary_key=True))
    op.add_column("account", sa.Column("moon", sa.Integer))
    {then}
'''


def settings_in(folder: Path) -> Settings:
    folder.mkdir(exist_ok=True)
    return Settings(
        folder=folder, database_url=f"sqlite:///{folder / 'hatchery.db'}", secret="x" * 64
    )


@pytest.fixture
def later_change(tmp_path, monkeypatch):
    """Have the program know one more change, which `then` fails or not."""
    usual = tables.alembic_config

    def know(then: str) -> None:
        folder = tmp_path / "versions"
        folder.mkdir(exist_ok=True)
        made_up = LATER.format(then=then, next=NEXT, last=LAST)
        (folder / f"r{NEXT}_made_up.py").write_text(made_up)

        def config(connection):
            both = usual(connection)
            own = locations.MIGRATIONS / "versions"
            both.set_main_option("version_locations", f"{own}:{folder}")
            return both

        monkeypatch.setattr(tables, "alembic_config", config)

    return know


def tables_in(settings: Settings) -> set[str]:
    engine = create_engine(settings.database_url)
    found = set(inspect(engine).get_table_names())
    engine.dispose()
    return found


def test_up_to_date_tables_agree_with_the_models(app):
    with db.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_a_second_start_changes_nothing(tmp_path):
    settings = settings_in(tmp_path / "room")
    tables.bring_up_to_date(settings)
    tables.bring_up_to_date(settings)
    assert {path.name for path in settings.folder.iterdir()} == {"hatchery.db"}


def _start(folder: Path) -> None:
    tables.bring_up_to_date(settings_in(folder))


def test_two_starts_at_one_moment_take_turns(tmp_path):
    folder = tmp_path / "room"
    folder.mkdir()
    spawning = multiprocessing.get_context("spawn")
    starts = [spawning.Process(target=_start, args=(folder,)) for _ in range(2)]
    for one in starts:
        one.start()
    for one in starts:
        one.join(START_WAIT_S)
    assert [one.exitcode for one in starts] == [0, 0]
    assert set(Base.metadata.tables) <= tables_in(settings_in(folder))


def test_the_records_are_copied_before_their_tables_change(tmp_path, later_change):
    settings = settings_in(tmp_path / "room")
    tables.bring_up_to_date(settings)
    later_change("pass")
    tables.bring_up_to_date(settings)
    assert "moon" in tables_in(settings)
    (copy,) = (settings.folder / "copies").iterdir()
    assert copy.name == f"before-{NEXT}.db"
    with closing(sqlite3.connect(copy)) as before:
        named = {row[0] for row in before.execute("SELECT name FROM sqlite_master")}
    assert "entry" in named
    assert "moon" not in named


def test_a_change_that_fails_leaves_nothing_half_done_and_can_be_tried_again(
    tmp_path, later_change
):
    settings = settings_in(tmp_path / "room")
    tables.bring_up_to_date(settings)
    later_change("raise RuntimeError('the power went')")
    with pytest.raises(RuntimeError, match="the power went"):
        tables.bring_up_to_date(settings)
    assert "moon" not in tables_in(settings)
    assert not (settings.folder / "tables.lock").exists()
    later_change("pass")
    tables.bring_up_to_date(settings)
    assert "moon" in tables_in(settings)


def test_records_of_a_newer_program_are_refused(tmp_path, later_change, monkeypatch):
    settings = settings_in(tmp_path / "room")
    usual = tables.alembic_config
    later_change("pass")
    tables.bring_up_to_date(settings)
    monkeypatch.setattr(tables, "alembic_config", usual)
    with pytest.raises(SettingsRefused, match="written by a newer program"):
        tables.bring_up_to_date(settings)


def test_hatches_found_late_are_read_again_from_what_was_said(tmp_path):
    """They stood as of the middle's night, sure; a night that was corrected stays as it is."""
    settings = settings_in(tmp_path / "room")
    engine = create_engine(settings.database_url)
    looked, found = datetime(2026, 11, 23, 21, tzinfo=UTC), datetime(2026, 11, 25, 8, tzinfo=UTC)
    lines = (  # seq, fact, kind, earliest, replaced by
        (1, 1, "room_facts", looked, None), (2, 2, "light_hours", looked, None),
        (3, 3, "hatch", looked, None), (4, 4, "hatch", found, None),
        (5, 5, "hatch", looked, 6), (6, 5, "hatch", looked, None),
    )  # fmt: skip
    columns = ("seq", "fact_id", "kind", "happened_earliest", "superseded_seq")
    entries = [
        dict(zip(columns, each, strict=True)) | {"happened_latest": found, "received_at": found}
        for each in lines
    ]
    facts = {"name": "Gannet Stair", "zone_name": "Europe/Lisbon", "temperature_unit": "C"}
    facts |= {"volume_unit": "L", "gallon": "US", "length_unit": "mm", "seq": 1}
    numbers = dict.fromkeys(("number_method", "number_raw", "number_written"), "")
    hatches = [
        {"seq": seq, "clutch_id": 1, "night_on": date(2026, 11, 24), "number_basis": "unknown",
         "method": HatchMethod.LEFT} | numbers
        for seq in (3, 4, 5, 6)
    ]  # fmt: skip
    table = Base.metadata.tables
    with engine.begin() as connection:
        command.upgrade(tables.alembic_config(connection), "0004")
        connection.execute(table["entry"].insert(), entries)
        connection.execute(table["room_facts"].insert(), facts)
        lamp = {"rack": "", "on_at": time(8), "off_at": time(20), "seq": 2}
        connection.execute(table["light_hours"].insert(), lamp)
        connection.execute(table["hatch"].insert(), hatches)
    tables.bring_up_to_date(settings)
    hatch = table["hatch"].c
    with engine.connect() as connection:
        nights = select(hatch.seq, hatch.night_on, hatch.last_night_on).order_by(hatch.seq)
        rows = [tuple(row) for row in connection.execute(nights)]
    engine.dispose()
    monday, tuesday = date(2026, 11, 23), date(2026, 11, 24)
    assert rows == [(3, monday, tuesday), *((seq, tuesday, None) for seq in (4, 5, 6))]
