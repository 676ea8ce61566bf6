"""Who may import whom: the contracts of pyproject.toml, the floors' libraries, lint and types."""

import ast
import functools
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "hatchery_app"

# The libraries each floor may know. A floor that is not named here knows none.
LIBRARIES = {
    "domain": set(),
    "models": {"sqlalchemy"},
    "services": {"sqlalchemy"},
    "web": {
        "flask", "flask_wtf", "icalendar", "jinja2", "markupsafe", "segno", "werkzeug", "wtforms",
    },
    "cli": {"alembic", "click", "sqlalchemy", "waitress"},
    "migrations": {"alembic", "sqlalchemy"},
    "app.py": {"flask", "flask_wtf", "jinja2", "markupsafe", "werkzeug"},
    "database.py": {"flask_sqlalchemy", "sqlalchemy"},
}  # fmt: skip
# Heavy, and so imported inside the function that needs it: Today opens without waiting for them.
NUMERICS = {"numpy", "scipy", "gsw"}
COMPUTE_WITH_NUMERICS = {"survival", "counting", "growth", "kinship", "seawater"}
# A page may use an extra that is installed or not, at the moment it needs it.
LATE_IN_WEB = {"openpyxl"}


def imports(tree: ast.AST) -> set[str]:
    """The libraries imported anywhere below this node, by their first name."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level:
            found.add((node.module or "").split(".")[0])
    return found - sys.stdlib_module_names - {"hatchery_app"}


def functions(tree: ast.AST) -> Iterator[ast.FunctionDef]:
    """Those of a module and of its classes, without the functions inside of them."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.FunctionDef):
            yield node
        elif isinstance(node, ast.stmt | ast.ExceptHandler | ast.match_case):
            yield from functions(node)


@functools.cache
def read(path: Path) -> tuple[set[str], set[str]]:
    """What is imported when the module is, its functions left out; and what inside of them."""
    tree = ast.parse(path.read_text("utf-8"))
    late: set[str] = set()
    for function in list(functions(tree)):
        late |= imports(function)
        function.body = [ast.Pass()]
    return imports(tree), late


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize(
    "command",
    [
        ["-m", "ruff", "check", "--no-cache", "."],
        ["-m", "mypy", "--no-error-summary"],
        ["-c", "from importlinter.cli import lint_imports_command; lint_imports_command()",
         "--no-cache"],
    ],
    ids=["lint", "types", "floors"],
)  # fmt: skip
def test_the_house_is_clean(command: list[str]) -> None:
    answer = subprocess.run(
        [sys.executable, *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert answer.returncode == 0, answer.stdout + answer.stderr


def test_a_floor_knows_only_its_own_libraries() -> None:
    found = []
    for path in modules():
        floor = path.relative_to(PACKAGE).parts[0]
        beyond = read(path)[0] - LIBRARIES.get(floor, set())
        found += [f"{path.relative_to(ROOT)} imports {name}" for name in sorted(beyond)]
    assert found == []


def test_only_heavy_numerics_and_extras_are_imported_late() -> None:
    found = []
    for path in modules():
        floor = path.relative_to(PACKAGE).parts[0]
        allowed = LIBRARIES.get(floor, set()) | (LATE_IN_WEB if floor == "web" else set())
        if floor == "domain" and path.stem in COMPUTE_WITH_NUMERICS:
            allowed = allowed | NUMERICS
        beyond = read(path)[1] - allowed
        found += [f"{path.relative_to(ROOT)} imports {name}" for name in sorted(beyond)]
    assert found == []


def test_pages_take_the_session_from_the_database_and_nothing_else() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{node.lineno} {alias.name}"
        for path in sorted((PACKAGE / "web").rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module == "hatchery_app.database"
        for alias in node.names
        if alias.name != "session"
    ]
    assert found == []


def test_the_program_starts_without_numerics() -> None:
    """Half a second of imports that the first page does not need."""
    answer = subprocess.run(
        [sys.executable, "-c", "import sys, hatchery_app.app; print(*sys.modules)"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert answer.returncode == 0, answer.stderr
    assert set(answer.stdout.split()) & NUMERICS == set()
