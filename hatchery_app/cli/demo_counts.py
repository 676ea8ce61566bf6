"""The made-up hatchery's counts: worked out from their figures, tried, and made on a picture."""

import random
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

from sqlalchemy.orm import Session

from hatchery_app.cli.demo_rows import Row
from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.how_many import HowMany, parse
from hatchery_app.domain.stock_book.picture import Mark
from hatchery_app.domain.stock_book.worked_count import (
    Sampled,
    Seen,
    read_samples,
    worked_from_photo,
    worked_from_raw,
)
from hatchery_app.services.clutch import clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.stock_book import counting, photo_count

WIDTH, HEIGHT = 360, 270
GROUND, EGG, EYE = 226, 150, 30  # grey levels: a pale tile, eggs on it, eyes in them


def number(text: str) -> HowMany:
    """A number of a row: as keepers write it, or the figures it is worked out from."""
    worked = worked_from_raw(text)
    return worked.number if worked is not None else parse(text)


def trial(session: Session, posting: Posting, row: Row) -> None:
    """A trial with a known number."""
    counting.record_trial(
        session, posting=posting, sampled=Sampled(row["sampled"]), when=row.when,
        known_number=int(row["known"]), counts=read_samples(row["counts"]),
        aliquot_ml=float(row["aliquot_ml"]), total_ml=float(row["total_ml"]), note=row["note"],
    )  # fmt: skip


def picture(
    session: Session, posting: Callable[[], Posting], folder: Path, clutch_id: int, row: Row
) -> None:
    """Eggs counted on a picture, which is drawn here."""
    content, marks = drawn_eggs(int(row["eggs"]))
    photo_id = photo_count.keep_photo(
        session, posting=posting(), folder=folder, content=content, about_id=clutch_id
    )
    photo_count.set_marks(session, photo_id, marks)
    clutch.record_check(
        session, posting=posting(), clutch_id=clutch_id, kind=CheckKind.EGGS, when=row.when,
        number=worked_from_photo(len(marks), Seen(row["seen"]), photo_id).number,
        note=row["note"],
    )  # fmt: skip


def drawn_eggs(eggs: int) -> tuple[bytes, tuple[Mark, ...]]:
    """A small picture of so many eggs in rows on a tile, and a mark on each of them."""
    chance = random.Random(eggs)
    across = max(1, round((eggs * WIDTH / HEIGHT) ** 0.5))
    down = -(-eggs // across)
    rows = [bytearray([GROUND]) * WIDTH for _ in range(HEIGHT)]
    marks = []
    for one in range(eggs):
        x = round((one % across + 0.5 + chance.uniform(-0.15, 0.15)) * WIDTH / across)
        y = round((one // across + 0.5 + chance.uniform(-0.15, 0.15)) * HEIGHT / down)
        _dot(rows, x, y, 5, 9, EGG)
        _dot(rows, x, y - 5, 2, 2, EYE)
        marks.append((x / WIDTH, y / HEIGHT))
    return _png(rows), tuple(marks)


def _dot(rows: list[bytearray], x: int, y: int, wide: int, high: int, grey: int) -> None:
    for down in range(max(0, y - high), min(HEIGHT, y + high + 1)):
        for across in range(max(0, x - wide), min(WIDTH, x + wide + 1)):
            if ((across - x) / wide) ** 2 + ((down - y) / high) ** 2 <= 1:
                rows[down][across] = grey


def _png(rows: list[bytearray]) -> bytes:
    def chunk(kind: bytes, said: bytes) -> bytes:
        check = zlib.crc32(kind + said).to_bytes(4, "big")
        return len(said).to_bytes(4, "big") + kind + said + check

    head = struct.pack(">IIBBBBB", WIDTH, HEIGHT, 8, 0, 0, 0, 0)
    body = zlib.compress(b"".join(b"\0" + bytes(row) for row in rows), 9)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
    )
