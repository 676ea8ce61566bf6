"""Read pytest's report and refuse a run in which a browser or PostgreSQL test did not run.

    python3 .ci/unskipped.py report.xml

Prints what is wrong, a line each, and exits 1; says nothing and exits 0 when all ran.
"""

import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

# What a test's name and its reason for skipping hold when it needs what CI installs.
NEEDS = {"a browser": ("tests.browser.", "Chromium"), "PostgreSQL": ("postgresql", "PostgreSQL")}


def complaints(report: Path) -> list[str]:
    """What did not run but must, in sentences; empty when all did."""
    if not report.is_file() or not report.stat().st_size:
        return ["pytest left no report: it stopped before the tests."]
    found = []
    ran = dict.fromkeys(NEEDS, 0)
    for case in ElementTree.parse(report).iter("testcase"):
        name = f"{case.get('classname')}.{case.get('name')}"
        skipped = case.find("skipped")
        reason = "" if skipped is None else skipped.get("message") or ""
        for need, (in_name, in_reason) in NEEDS.items():
            if skipped is None:
                ran[need] += in_name in name
            elif in_name in name or in_reason in reason:
                found.append(f"{name} needs {need} and was skipped: {reason}")
    found += [f"No test that needs {need} was run." for need, times in ran.items() if not times]
    return found


if __name__ == "__main__":
    wrong = complaints(Path(sys.argv[1]))
    print("\n".join(wrong), end="\n" if wrong else "")
    sys.exit(bool(wrong))
