"""How long the book of a batch of 1,000 movements takes to open on its newest fifty entries.

    python -m tests.bench.long_book

Beside the same bytes from memory, asked in turn. A book stands worked out until something is
written, so the first opening after an entry is measured by itself. Prints, asserts nothing.
"""

import http.client
import statistics
import tempfile
import time
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from sqlalchemy import select

from hatchery_app import clock
from hatchery_app.app import create_app
from hatchery_app.database import db
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Door, Rise, Stage
from hatchery_app.domain.when import When
from hatchery_app.models.columns import number_columns
from hatchery_app.models.entry import known
from hatchery_app.models.stock_book import Moved, StockCount
from hatchery_app.models.tank import Tank
from hatchery_app.services.recording import Book, Posting, use_case
from hatchery_app.services.stock_book import stock_book
from hatchery_app.settings import read_settings
from tests.bench.pages import measured
from tests.server import served

MOVEMENTS = 1_000
A_COUNT_AFTER = 25
BEGAN_WITH = 4 * MOVEMENTS
DOORS = (Door.DIED, Door.SOLD, Door.DIED, Door.PUT_DOWN, Door.GIVEN_AWAY)
FIRST_OPENINGS = 8


def main() -> None:
    """Write the book, measure its page, print what came."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "demo"
        with served("demo", folder=folder) as address:
            holding_id = _written(folder)
            path = f"/stock-book/batches/{holding_id}"
            print(f"a batch of {MOVEMENTS:,} movements, its newest 50 with the running balance")
            print(f"{'page':<32}{'bytes':>8}{'p50 ms':>9}{'p95 ms':>9}{'x memory':>10}")
            print(measured(address, path))
            print(measured(address, f"{path}?page=20"))
            first = statistics.median(_first_openings(folder, address, path, holding_id))
            print(f"the first opening after an entry: {first:.0f} ms")


def _written(folder: Path) -> int:
    with create_app(read_settings({}, folder=folder, demo=True)).app_context():
        session = db.session()
        tank_id = session.scalars(select(Tank.fact_id).where(known()).limit(1)).one()
        now = clock.now()
        return write_long_book(session, posting=Posting(now=now), tank_id=tank_id or 0)


@use_case
def write_long_book(book: Book, *, tank_id: int) -> int:
    """A batch with so many movements, a count among every few, in the last hundred days."""
    began = book.now - timedelta(days=100)
    step = timedelta(days=99) / MOVEMENTS
    holding = stock_book.begin_holding(
        book, stage=Stage.COHORT, tank_id=tank_id, species_key="amphiprion_ocellaris",
        clutch_ids=(), hatched=None, protocol="", when=When.exactly(began), name="Long book",
    )  # fmt: skip
    left = BEGAN_WITH
    _moved(book, None, holding.fact, left, Door.ARRIVED, began)
    for place in range(MOVEMENTS - 1):
        at = began + step * (place + 1)
        number = 1 + place % 3
        _moved(book, holding.fact, None, number, DOORS[place % len(DOORS)], at)
        left -= number
        if place % A_COUNT_AFTER == 0:
            left -= 1
            book.enter(
                StockCount(
                    holding_id=holding.fact, rise=Rise.MISSED_EARLIER,
                    **number_columns(HowMany.counted(left)),
                ),
                when=When.exactly(at + step / 2),
            )  # fmt: skip
    return holding.fact


def _moved(
    book: Book, out_of: int | None, into: int | None, number: int, door: Door, at: datetime
) -> None:
    book.enter(
        Moved(
            out_of_id=out_of, into_id=into, door=door, reason="bench",
            **number_columns(HowMany.counted(number)),
        ),
        when=When.exactly(at),
    )  # fmt: skip


def _first_openings(folder: Path, address: str, path: str, holding_id: int) -> Sequence[float]:
    """Milliseconds of the page, each time after one more fish was written down."""
    took = []
    connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=30)
    with create_app(read_settings({}, folder=folder, demo=True)).app_context():
        for _ in range(FIRST_OPENINGS):
            now = clock.now()
            stock_book.record_leaving(
                db.session(), posting=Posting(now=now), holding_id=holding_id, door=Door.DIED,
                number=HowMany.counted(1), when=When.exactly(now),
            )  # fmt: skip
            began = time.perf_counter()
            connection.request("GET", path)
            connection.getresponse().read()
            took.append((time.perf_counter() - began) * 1000)
    connection.close()
    return took


if __name__ == "__main__":
    main()
