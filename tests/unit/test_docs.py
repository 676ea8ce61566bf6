"""What README and DEVELOPERS.md tell is what the program is and what CI does."""

import csv
import re
import subprocess
import tomllib
from pathlib import Path

import pytest

from hatchery_app.domain.life_cycle import ROOMS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
CI_RUN = (ROOT / ".ci" / "run").read_text("utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
CONSTRAINTS = (ROOT / ".ci" / "constraints.txt").read_text("utf-8")

INSTALL = "python3 -m venv .venv && .venv/bin/pip install -q -c .ci/constraints.txt -e "
START = INSTALL + ". && .venv/bin/hatchery demo"
TEST = INSTALL + "'.[test]' && .venv/bin/python -m pytest"


def shell_lines(text: str) -> list[str]:
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    return [line for block in blocks for line in block.splitlines() if line]


def plain(name: str) -> str:
    """A distribution's name as the index compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def required(requirements: list[str]) -> set[str]:
    return {plain(re.split(r"[\[<>=!~; ]", requirement)[0]) for requirement in requirements}


def test_readme_starts_and_tests_in_one_command_each() -> None:
    assert shell_lines(README) == [START, TEST]


def test_ci_runs_the_command_that_readme_tells() -> None:
    """Not a copy of it: CI takes the line from README with this very expression."""
    taken = re.search(r"test_command=\$\((grep -E '[^']+' README\.md)\)", CI_RUN)
    assert taken
    line = subprocess.run(
        ["bash", "-c", taken[1]], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert line.stdout == TEST + "\n"
    assert 'bash -c "$test_command"' in CI_RUN


def test_the_commands_that_readme_runs_are_there() -> None:
    assert PROJECT["scripts"] == {"hatchery": "hatchery_app.cli:main"}
    assert "test" in PROJECT["optional-dependencies"]


def test_readme_opens_with_the_job_and_shows_a_picture() -> None:
    first = README.split("\n\n")[1]
    assert "hatch" in first
    assert len(first.split()) > 60
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert len(pictures) == 1
    assert (ROOT / pictures[0]).is_file()
    assert pictures[0].startswith("static/img/")


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_file_that_is_linked_is_there(text: str) -> None:
    links = re.findall(r"\]\((?!https?:|#)([^)#]+)", text)
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_every_file_that_the_map_names_is_there() -> None:
    named = re.findall(r"`((?:hatchery_app|tests|templates|static|\.ci)/[\w./-]*)`", DEVELOPERS)
    assert named
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_the_map_names_every_room_and_every_floor() -> None:
    floors = {
        path.name for path in (ROOT / "hatchery_app").iterdir() if (path / "__init__.py").is_file()
    }
    wanted = {room.word for room in ROOMS} | floors
    assert {word for word in wanted if f"`{word}`" not in DEVELOPERS} == set()


def test_the_map_names_every_kind_of_test() -> None:
    kinds = {path.relative_to(ROOT / "tests").parts[0] for path in ROOT.glob("tests/*/**/*.py")}
    assert {kind for kind in kinds if f"`tests/{kind}/" not in DEVELOPERS} == set()


def test_every_variable_of_the_environment_is_documented() -> None:
    sources = [*(ROOT / "hatchery_app").rglob("*.py"), *(ROOT / "tests").rglob("*.py"),
               ROOT / ".ci" / "run"]  # fmt: skip
    used = {
        name
        for path in sources
        for name in re.findall(r"\bHATCHERY_[A-Z]+(?:_[A-Z]+)*\b", path.read_text("utf-8"))
    }
    told = set(re.findall(r"`(HATCHERY_[A-Z_]+)`", DEVELOPERS))
    assert used == told


def test_every_command_is_documented() -> None:
    from hatchery_app.cli import main

    assert {n for n in main.commands if f"`hatchery {n}`" not in DEVELOPERS} == set()


def test_every_requirement_has_an_upper_bound_and_a_pin() -> None:
    extras = [r for extra in PROJECT["optional-dependencies"].values() for r in extra]
    requirements = PROJECT["dependencies"] + extras
    assert [r for r in requirements if not re.search(r"<\d", r)] == []
    pinned = {plain(line.split("==")[0]) for line in CONSTRAINTS.splitlines()}
    assert required(requirements) - pinned == set()


def test_pins_are_exact_and_name_no_host() -> None:
    odd = [
        line
        for line in CONSTRAINTS.splitlines()
        if not re.fullmatch(r"[a-z0-9-]+==[\w.]+( ; python_version \S+ \"[\d.]+\")?", line)
    ]
    assert odd == []


def test_the_test_extra_holds_what_every_other_extra_tests_need() -> None:
    extras = PROJECT["optional-dependencies"]
    needed = required(extras["postgres"] + extras["xlsx"])
    assert needed - required(extras["test"]) == set()


def test_every_published_check_names_a_source_of_the_list() -> None:
    published = ROOT / "tests" / "published"
    listed = re.findall(r"^\| ([^|]+) \|", (published / "SOURCES.md").read_text("utf-8"), re.M)
    unlisted = {
        f"{table.name}: {row['source']}"
        for table in published.glob("*.csv")
        for row in csv.DictReader(table.read_text("utf-8").splitlines())
        if row.get("standing") == "published" and not any(key in row["source"] for key in listed)
    }
    assert unlisted == set()


def test_every_row_of_a_published_table_says_how_it_stands() -> None:
    derived = {"worked by hand", "worked out from published", "recomputed"}
    known = {"published", "common practice", "from memory"} | derived
    odd = {
        f"{table.name}: {row.get('standing')}"
        for table in (ROOT / "tests" / "published").glob("*.csv")
        for row in csv.DictReader(table.read_text("utf-8").splitlines())
        if row.get("standing") not in known or not row.get("source")
    }
    assert odd == set()
