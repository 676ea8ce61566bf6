"""A CI run that skipped what it came for is not green."""

import subprocess
import sys
from pathlib import Path

UNSKIPPED = Path(__file__).resolve().parents[2] / ".ci" / "unskipped.py"

BROWSER_RAN = '<testcase classname="tests.browser.test_today" name="test_it_is_tonight"/>'
POSTGRES_RAN = '<testcase classname="tests.unit.services.test_spawn" name="test_laid[postgresql]"/>'
BROWSER_SKIPPED = (
    '<testcase classname="tests.browser.test_today" name="test_it_is_tonight">'
    '<skipped message="Chromium is not installed."/></testcase>'
)
POSTGRES_SKIPPED = (
    '<testcase classname="tests.unit.test_migrations" name="test_up_and_agreed">'
    '<skipped message="No PostgreSQL server is named."/></testcase>'
)
OTHER_SKIPPED = (
    '<testcase classname="tests.published.test_published_values" name="test_row[7]">'
    '<skipped message="The table was not reachable."/></testcase>'
)


def verdict(folder: Path, *cases: str) -> subprocess.CompletedProcess[str]:
    report = folder / "report.xml"
    report.write_text(f"<testsuites><testsuite>{''.join(cases)}</testsuite></testsuites>")
    return subprocess.run(
        [sys.executable, str(UNSKIPPED), str(report)], capture_output=True, text=True, check=False
    )


def test_a_run_with_browser_and_postgresql_is_let_through(tmp_path: Path) -> None:
    answer = verdict(tmp_path, BROWSER_RAN, POSTGRES_RAN, OTHER_SKIPPED)
    assert (answer.returncode, answer.stdout) == (0, "")


def test_a_skipped_browser_test_is_refused_by_name(tmp_path: Path) -> None:
    answer = verdict(tmp_path, BROWSER_RAN, BROWSER_SKIPPED, POSTGRES_RAN)
    assert answer.returncode == 1
    assert "test_it_is_tonight needs a browser" in answer.stdout


def test_a_skipped_postgresql_test_is_refused_by_its_reason(tmp_path: Path) -> None:
    answer = verdict(tmp_path, BROWSER_RAN, POSTGRES_RAN, POSTGRES_SKIPPED)
    assert answer.returncode == 1
    assert "test_up_and_agreed needs PostgreSQL" in answer.stdout


def test_a_run_that_never_met_postgresql_is_refused(tmp_path: Path) -> None:
    answer = verdict(tmp_path, BROWSER_RAN)
    assert answer.returncode == 1
    assert answer.stdout == "No test that needs PostgreSQL was run.\n"


def test_a_run_without_a_report_is_refused(tmp_path: Path) -> None:
    answer = subprocess.run(
        [sys.executable, str(UNSKIPPED), str(tmp_path / "none.xml")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert answer.returncode == 1
    assert "no report" in answer.stdout
