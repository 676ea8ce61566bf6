"""When the made-up hatchery is made anew, and when it is left as it stands."""

import shutil
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import Column, Integer, MetaData, Table

from hatchery_app import locations
from hatchery_app.cli import demo

TODAY = date(2026, 11, 24)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A records folder whose demo was loaded today."""
    (tmp_path / demo.MARKER).write_text(demo.stamp(TODAY))
    return tmp_path


def test_a_demo_of_today_stands(folder: Path) -> None:
    assert demo.is_loaded(folder, TODAY)


def test_a_demo_of_yesterday_is_made_anew(folder: Path) -> None:
    assert not demo.is_loaded(folder, date(2026, 11, 25))


def test_a_load_that_was_cut_off_is_begun_anew(folder: Path) -> None:
    (folder / demo.MARKER).write_text("begun")
    assert not demo.is_loaded(folder, TODAY)


def test_a_row_told_otherwise_makes_the_demo_anew(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seed = shutil.copytree(locations.SEED_DEMO, tmp_path / "seed")
    monkeypatch.setattr(locations, "SEED_DEMO", seed)
    assert demo.is_loaded(folder, TODAY)
    with (seed / "10_tanks.csv").open("a", encoding="utf-8") as tanks:
        tanks.write("\n")
    assert not demo.is_loaded(folder, TODAY)


def test_another_column_makes_the_demo_anew(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    other = MetaData()
    Table("entry", other, Column("seq", Integer))
    monkeypatch.setattr(demo.Base, "metadata", other)
    assert not demo.is_loaded(folder, TODAY)
