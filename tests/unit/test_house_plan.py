"""The plan of the house: where files stand, how large they grow, what they may do there."""

import ast
import functools
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from hatchery_app.domain.life_cycle import ROOMS

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "hatchery_app"
WORDS = {room.word for room in ROOMS}

FLOORS = {"domain", "models", "services", "web", "cli", "migrations"}
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml",
    "hatchery_app", "templates", "static", "tests", "instance", "seed_demo",
}  # fmt: skip
BESIDE_THE_FLOORS = {
    "__init__.py", "__main__.py", "app.py", "settings.py", "locations.py", "database.py",
    "clock.py", "py.typed",
}  # fmt: skip
BESIDE_THE_ROOMS = {"drawing"}
# These floors are divided into rooms; tables and commands stand side by side.
ROOMED = ("domain", "services", "web")
IN_A_ROOM = {"__init__.py", "pages.py", "forms.py", "presenter.py"}
TEST_FOLDERS = {
    "unit", "unit/domain", "unit/models", "unit/services", "unit/web", "unit/cli",
    "published", "cases", "property", "browser", "bench",
}  # fmt: skip
SAYS_NOTHING = {"util", "utils", "helper", "helpers", "common", "manager", "managers", "misc"}

LONGEST_FILE = 500
LONGEST_FUNCTION = 60

CLOCK_CALLS = {
    "datetime.now", "datetime.utcnow", "datetime.today", "date.today",
    "time.time", "time.time_ns", "time.localtime", "time.gmtime", "time.ctime",
    "func.now", "func.current_timestamp", "func.current_date", "func.localtimestamp",
}  # fmt: skip


def python_files(*folders: str) -> list[Path]:
    return sorted(
        path
        for folder in folders or ("hatchery_app", "tests")
        for path in (ROOT / folder).rglob("*.py")
    )


def named(paths: list[Path]) -> list[str]:
    return [path.relative_to(ROOT).as_posix() for path in paths]


@functools.cache
def syntax(path: Path) -> tuple[ast.AST, ...]:
    """Every statement and expression of a file."""
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"), str(path))))


@pytest.fixture(scope="module", autouse=True)
def read_once() -> Iterator[None]:
    """All files are read once for all of these tests, and let go of at their end."""
    yield
    syntax.cache_clear()


def dotted(node: ast.expr) -> str:
    """`func.now` of the expression `sqlalchemy.func.now`: its last two names."""
    names: list[str] = []
    while isinstance(node, ast.Attribute):
        names.append(node.attr)
        node = node.value
    if isinstance(node, ast.Name):
        names.append(node.id)
    return ".".join(reversed(names[:2]))


@functools.cache
def calls(path: Path) -> list[tuple[int, str]]:
    return [
        (node.lineno, dotted(node.func))
        for node in syntax(path)
        if isinstance(node, ast.Call)
    ]


def pages() -> list[Path]:
    return sorted((ROOT / "templates").rglob("*.*"))


def test_nothing_stands_at_the_top_that_the_plan_does_not_name() -> None:
    tracked = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    build_leftovers = {"build", "dist"} | {n for n in tracked if n.endswith(".egg-info")}
    assert tracked - TOP_LEVEL - build_leftovers == set()


def test_every_python_file_of_the_program_stands_on_a_floor() -> None:
    stray = [
        path
        for path in python_files("hatchery_app")
        if path.relative_to(PACKAGE).parts[0] not in FLOORS | BESIDE_THE_FLOORS
    ]
    assert named(stray) == []


def test_floors_have_rooms_and_rooms_have_no_rooms() -> None:
    deepest = {"models": 2, "cli": 2}
    deep = [
        path
        for path in python_files("hatchery_app")
        if len(parts := path.relative_to(PACKAGE).parts) > deepest.get(parts[0], 3)
    ]
    assert named(deep) == []


@pytest.mark.parametrize("floor", ROOMED)
def test_a_folder_on_a_floor_is_a_room_of_the_life_cycle(floor: str) -> None:
    packages = {path.name for path in (PACKAGE / floor).iterdir() if path.is_dir()}
    assert packages - WORDS - BESIDE_THE_ROOMS - {"__pycache__"} == set()


def test_what_stands_beside_the_rooms_of_the_domain_knows_no_room() -> None:
    """The small values that every room uses: a room is built on them, never they on it."""
    found = [
        f"{path.relative_to(ROOT)} imports {node.module}"
        for path in sorted((PACKAGE / "domain").glob("*.py"))
        for node in syntax(path)
        if isinstance(node, ast.ImportFrom)
        and re.fullmatch(r"hatchery_app\.domain\.\w+\.\w+", node.module or "")
    ]
    assert found == []


def test_no_floor_grows_more_than_a_handful_of_files_beside_its_rooms() -> None:
    crowded = {
        floor: beside
        for floor in ("domain", "services")
        if len(beside := [path.stem for path in (PACKAGE / floor).glob("*.py")]) > 12
    }
    assert crowded == {}


def test_a_room_of_pages_has_its_table_its_pages_its_forms_and_its_presenter_only() -> None:
    stray = [
        path
        for path in python_files("hatchery_app/web")
        if path.parent.name in WORDS
        and path.name not in IN_A_ROOM
        and not path.name.endswith(("_pages.py", "_forms.py", "_presenter.py"))
    ]
    assert named(stray) == []


def test_a_room_with_pages_stands_on_every_floor_it_needs() -> None:
    """Its pages ask a service of the same word, and are shown by templates of the same word."""
    rooms = {path.name for path in (PACKAGE / "web").iterdir()} & WORDS
    without_service = {r for r in rooms if not any((PACKAGE / "services" / r).glob("*.py"))}
    without_template = {r for r in rooms if not any((ROOT / "templates" / r).glob("*"))}
    assert (without_service, without_template) == (set(), set())


def test_templates_stand_in_a_room_that_has_pages() -> None:
    shown = {path.name for path in (ROOT / "templates").iterdir() if path.is_dir()} & WORDS
    assert {room for room in shown if not (PACKAGE / "web" / room).is_dir()} == set()


def test_every_test_stands_in_a_known_folder() -> None:
    folders = {path.parent.relative_to(ROOT / "tests").as_posix() for path in python_files("tests")}
    assert folders - TEST_FOLDERS - {"."} == set()


def test_no_name_says_nothing() -> None:
    empty = [
        path
        for path in python_files()
        if set(re.split(r"[_/.]", path.relative_to(ROOT).as_posix())) & SAYS_NOTHING
    ]
    assert named(empty) == []


def test_no_class_or_function_is_named_for_nothing() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
        for path in python_files("hatchery_app")
        for node in syntax(path)
        if isinstance(node, ast.ClassDef | ast.FunctionDef)
        and re.search(r"(utils?|helpers?|common|manager)$", node.name, re.IGNORECASE)
    ]
    assert found == []


def test_no_file_grows_past_five_hundred_lines() -> None:
    long = {
        path.relative_to(ROOT).as_posix(): lines
        for path in python_files()
        if "versions" not in path.parts  # a table's history is as long as the table is wide
        and (lines := len(path.read_text(encoding="utf-8").splitlines())) > LONGEST_FILE
    }
    assert long == {}


def test_no_function_grows_past_sixty_lines() -> None:
    long = [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name} has {lines} lines"
        for path in python_files()
        if "versions" not in path.parts
        for node in syntax(path)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (lines := (node.end_lineno or node.lineno) - node.lineno + 1) > LONGEST_FUNCTION
    ]
    assert long == []


def test_only_the_clock_reads_the_clock() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{line} {call}"
        for path in python_files("hatchery_app")
        if path != PACKAGE / "clock.py"
        for line, call in calls(path)
        if call in CLOCK_CALLS
    ]
    assert found == []


def test_no_raw_sql_outside_the_migrations() -> None:
    """Both engines read what SQLAlchemy writes; the pragmas of SQLite stand in two files."""
    pragmas = {PACKAGE / "database.py", PACKAGE / "cli" / "tables.py"}
    found = [
        f"{path.relative_to(ROOT)}:{line} {call}"
        for path in python_files("hatchery_app")
        if "migrations" not in path.parts
        for line, call in calls(path)
        if call in {"text", "literal_column"} & sqlalchemy_names(path)
        or call in {"sa.text", "sa.literal_column", "sqlalchemy.text", "sqlalchemy.literal_column"}
        or (call.split(".")[-1] == "exec_driver_sql" and path not in pragmas)
    ]
    assert found == []


@functools.cache
def sqlalchemy_names(path: Path) -> set[str]:
    return {
        alias.asname or alias.name
        for node in syntax(path)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("sqlalchemy")
        for alias in node.names
    }


def test_templates_are_named_for_what_they_show() -> None:
    shared = {"macros", "print", "errors"}
    stray = []
    for path in pages():
        folder, *rest = path.relative_to(ROOT / "templates").parts
        if not rest:
            well_named = path.name == "base.html"
        elif folder in shared:
            well_named = True
        else:
            well_named = folder in WORDS | BESIDE_THE_ROOMS and bool(
                re.fullmatch(r"(_\w+|(\w+_)?(list|show|form|confirm))\.(html|svg|txt)", path.name)
            )
        if not well_named:
            stray.append(path)
    assert named(stray) == []


@pytest.mark.parametrize(
    ("what", "pattern"),
    [
        ("a style attribute", r"<[^>]*\sstyle\s*="),
        ("a style block", r"<style\b"),
        ("a script without its file", r"<script\b(?![^>]*\bsrc=)"),
        ("a handler in an attribute", r"<[^>]*\son[a-z]+\s*="),
        ("a javascript address", r"javascript:"),
    ],
)
def test_no_page_holds_what_the_content_policy_refuses(what: str, pattern: str) -> None:
    """Style and script come from files alone, so the policy needs no exception."""
    sources = pages() + python_files("hatchery_app/web")
    found = [
        path for path in sources if re.search(pattern, path.read_text("utf-8"), re.IGNORECASE)
    ]
    assert named(found) == [], what


def test_every_static_file_a_page_names_is_there() -> None:
    texts = pages() + python_files("hatchery_app/web") + [PACKAGE / "app.py"]
    asked = {
        (path, name)
        for path in texts
        if path.is_file()
        for name in re.findall(
            r"\b((?:css|js|img|fonts)/[\w./-]+\.(?:css|js|svg|png|ico|woff2|webmanifest))",
            path.read_text("utf-8"),
        )
    }
    absent = sorted(
        f"{path.relative_to(ROOT)}: {name}"
        for path, name in asked
        if not (ROOT / "static" / name).is_file()
    )
    assert absent == []


def test_every_style_and_behaviour_is_used_by_some_page() -> None:
    files = [*(ROOT / "static" / "css").glob("*.css"), *(ROOT / "static" / "js").glob("*.js")]
    wanted = "\n".join(
        path.read_text("utf-8") for path in [*pages(), *python_files("hatchery_app"), *files]
    )
    assert [path.name for path in files if path.name not in wanted] == []


def test_every_import_of_a_style_is_there() -> None:
    absent = [
        f"{sheet.name}: {name}"
        for sheet in (ROOT / "static" / "css").glob("*.css")
        for name in re.findall(r"url\(\s*[\"']?(?!data:|#)([^\"')]+)", sheet.read_text("utf-8"))
        if not (sheet.parent / name.split("?")[0].split("#")[0]).is_file()
    ]
    assert absent == []
