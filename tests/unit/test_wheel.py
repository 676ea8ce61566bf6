"""The wheel holds all it needs: installed elsewhere, it shows a page with its style."""

import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.server import fetched, served

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run("hatchling", "build", "-t", "wheel", "-d", str(folder), cwd=ROOT)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel unpacked where nothing of the checkout is near; libraries are the venv's."""
    site = tmp_path_factory.mktemp("site")
    run("pip", "install", "-q", "--no-deps", "--no-index", "--target", str(site), str(wheel))
    return site


def run(*command: str, cwd: Path | None = None) -> None:
    answer = subprocess.run(
        [sys.executable, "-m", *command], cwd=cwd, capture_output=True, text=True, check=False
    )
    assert answer.returncode == 0, answer.stdout + answer.stderr


def test_the_wheel_carries_pages_styles_species_migrations_and_the_demo(wheel: Path) -> None:
    carried = set(zipfile.ZipFile(wheel).namelist())
    lying = {
        f"hatchery_app/{path.relative_to(ROOT).as_posix()}"
        for folder in ("templates", "static", "seed_demo")
        for path in (ROOT / folder).rglob("*.*")
    } | {
        path.relative_to(ROOT).as_posix()
        for folder in ("species", "migrations")
        for path in (ROOT / "hatchery_app" / folder).rglob("*.*")
        if "__pycache__" not in path.parts
    }
    assert len(lying) > 20
    assert lying - carried == set()


def test_the_wheel_carries_no_tests_and_no_records(wheel: Path) -> None:
    tops = {name.split("/")[0] for name in zipfile.ZipFile(wheel).namelist()}
    assert {top for top in tops if not top.startswith("hatchery_app")} == set()


def test_the_installed_program_shows_a_page_and_its_style(installed: Path, tmp_path: Path) -> None:
    elsewhere = {"PYTHONPATH": str(installed)}
    with served(folder=tmp_path / "room", environ=elsewhere, cwd=tmp_path) as address:
        status, kind, page = fetched(address + "/")
        assert (status, kind) == (200, "text/html")
        sheets = re.findall(r'<link[^>]+href="([^"]+\.css[^"]*)"', page)
        assert sheets
        for sheet in sheets:
            status, kind, style = fetched(address + sheet)
            assert (status, kind) == (200, "text/css")
            assert style.strip()


def test_the_installed_program_is_the_one_from_the_wheel(installed: Path, tmp_path: Path) -> None:
    lies = subprocess.run(
        [sys.executable, "-c", "from hatchery_app import locations as l; print(l.TEMPLATES)"],
        env=os.environ | {"PYTHONPATH": str(installed)}, cwd=tmp_path,
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert Path(lies.stdout.strip()) == installed / "hatchery_app" / "templates"
