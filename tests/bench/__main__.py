"""How long the demo's pages take, against the same bytes from memory. Prints, asserts nothing.

    python -m tests.bench [PATH ...]        the pages of the navigation when none is named
    python -m tests.bench.long_book         the book of a batch of 1,000 movements
    python -m tests.bench.random_books      10,000 random histories: the books balance; minutes
    python -m tests.bench.food_plan         food for 21 days: 40 pairs on eggs, 30 larval tanks
    python -m tests.bench.simulated_room    the forecasts of a made-up room; minutes. All four run
                                            here too when no page is named

Page and memory are asked in turn over kept connections, so that whatever else the machine does
falls on both alike; read the ratio, not the milliseconds.
"""

import re
import sys
import tempfile
import time
from pathlib import Path

from tests.bench import food_plan, long_book, random_books, simulated_room
from tests.bench.pages import measured
from tests.server import fetched, served


def main(paths: list[str]) -> None:
    """Measure each page and print a line for it."""
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        with served("demo", folder=Path(folder) / "demo") as address:
            print(f"demo loaded and first page after {time.perf_counter() - began:.1f} s")
            print(f"{'page':<32}{'bytes':>8}{'p50 ms':>9}{'p95 ms':>9}{'x memory':>10}")
            for path in paths or navigation(address):
                print(measured(address, path), flush=True)
    if not paths:
        long_book.main()
        food_plan.main()
        random_books.main()
        simulated_room.main()


def navigation(address: str) -> list[str]:
    """The addresses that the first page's navigation leads to, itself first."""
    _status, _kind, page = fetched(address + "/")
    links = re.findall(r'href="(/[^"#?]*)"', "".join(re.findall(r"(?s)<nav.*?</nav>", page)))
    return list(dict.fromkeys(["/", *links]))


if __name__ == "__main__":
    main(sys.argv[1:])
