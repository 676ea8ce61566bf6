"""Ten thousand random histories of the stock book, of splits, merges, corrections, back-dated and
withdrawn entries: at every moment what came in is here, lost, left alive or unexplained.

    python -m tests.bench.random_books [HISTORIES [FIRST]]

Each is told by its seed, from FIRST (0) on. Prints how many balanced, what they were made of, and
the first that did not.
"""

import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.reared import descents, reared
from hatchery_app.domain.stock_book.stock_book import (
    Count,
    Door,
    Holding,
    Movement,
    Stage,
    StockBook,
)
from hatchery_app.domain.stock_book.stock_checks import check_change
from hatchery_app.domain.when import When

HISTORIES = 10_000
TANKS = (1, 2, 3, 4, 5)
FIRST_DAY = datetime(2026, 3, 1, tzinfo=UTC)
SETTLES = {"more_than_best": "raise", "count_above": "missed_earlier"}
EXITS = (Door.DIED, Door.MISSING, Door.SOLD, Door.PUT_DOWN, Door.SAMPLED, Door.EATEN)
ENTRANCES = (Door.HATCHED, Door.ARRIVED, Door.FOUND)


def main(histories: int = HISTORIES, first: int = 0) -> None:
    """Write the histories, check each, print what came."""
    began, made, bad = time.perf_counter(), Counter[str](), 0
    for seed in range(first, first + histories):
        book = history(Random(seed), made)
        wrong = what_is_wrong(book)
        if wrong:
            bad += 1
            if bad == 1:
                print(f"history {seed} does not balance: {wrong}")
    took = time.perf_counter() - began
    seeds = f"seeds {first} to {first + histories - 1}"
    well = f"{histories - bad:,} of {histories:,} random books ({seeds}) balance at every moment"
    print(f"{well} ({took:.0f} s)")
    print("  " + ", ".join(f"{number:,} {kind}" for kind, number in made.most_common()))


def history(random: Random, made: Counter[str]) -> StockBook:
    """A book as a room would have it: questions answered, what is refused left out."""
    book = StockBook(tuple(Holding(tank, f"L{tank}", Stage.LARVAE) for tank in TANKS))
    acts: list[Callable[[Random, StockBook, int], tuple[str, StockBook, int]]] = [
        _come, _come, _leave, _leave, _split, _split, _count, _count, _merge, _correct, _withdraw,
    ]  # fmt: skip
    for seq in range(1, random.randint(4, 28)):
        kind, after, touched = random.choice(acts)(random, book, seq)
        if after is book:
            continue
        try:
            check_change(book, after, touched=touched, answers=SETTLES)
        except RuleBroken:
            made[f"refused {kind}"] += 1
            continue
        late = max((one.when.latest for one in book.movements), default=FIRST_DAY)
        new = next((one for one in after.movements if one.seq == seq), None)
        made["back-dated"] += new is not None and new.when.latest < late
        made[kind] += 1
        book = after
    return book


def _when(random: Random) -> When:
    start = FIRST_DAY + timedelta(hours=random.randint(0, 600))
    return When.between(start, start + timedelta(hours=random.choice((0, 0, 0, 6, 72))))


def _number(random: Random, fewest: int = 1, most: int = 90) -> HowMany:
    best = random.randint(fewest, most)
    if random.random() < 0.7:
        return HowMany.counted(best)
    return HowMany.estimated(best, random.randint(0, best), best + random.randint(0, 40))


def _stocked(random: Random, book: StockBook) -> int:
    """A tank to take fish out of: mostly one that holds some, or most takings would be refused."""
    held = [tank for tank in TANKS if book.balance(tank).best]
    return random.choice(held if held and random.random() < 0.8 else TANKS)


def _come(random: Random, book: StockBook, seq: int) -> tuple[str, StockBook, int]:
    door = random.choice(ENTRANCES)
    entry = Movement(seq, _when(random), _number(random), None, random.choice(TANKS), door)
    return "come in", book.with_entry(entry), seq


def _leave(random: Random, book: StockBook, seq: int) -> tuple[str, StockBook, int]:
    door = random.choice(EXITS)
    out_of = _stocked(random, book)
    entry = Movement(seq, _when(random), _number(random, most=25), out_of, None, door)
    return "gone", book.with_entry(entry), seq


def _split(random: Random, book: StockBook, seq: int) -> tuple[str, StockBook, int]:
    out_of = _stocked(random, book)
    into = random.choice([tank for tank in TANKS if tank != out_of])
    entry = Movement(seq, _when(random), _number(random, most=40), out_of, into, Door.MOVED)
    return "splits", book.with_entry(entry), seq


def _merge(random: Random, book: StockBook, seq: int) -> tuple[str, StockBook, int]:
    """All that is in one tank goes to another, after everything entered so far."""
    out_of = _stocked(random, book)
    into = random.choice([tank for tank in TANKS if tank != out_of])
    number = book.balance(out_of).now
    if not number.best:
        return "merges", book, seq
    at = max(one.when.latest for one in (*book.movements, *book.counts)) + timedelta(hours=1)
    entry = Movement(seq, When.exactly(at), number, out_of, into, Door.MOVED)
    return "merges", book.with_entry(entry), seq


def _count(random: Random, book: StockBook, seq: int) -> tuple[str, StockBook, int]:
    entry = Count(seq, _when(random), _number(random, fewest=0), random.choice(TANKS))
    return "counts", book.with_entry(entry), seq


def _correct(random: Random, book: StockBook, seq: int) -> tuple[str, StockBook, int]:
    written = (*book.movements, *book.counts)
    if not written:
        return "corrected", book, seq
    old = random.choice(written)
    anew = replace(old, number=_number(random), when=_when(random))
    return "corrected", book.without(old.seq).with_entry(anew), old.seq


def _withdraw(random: Random, book: StockBook, seq: int) -> tuple[str, StockBook, int]:
    written = (*book.movements, *book.counts)
    if not written:
        return "withdrawn", book, seq
    old = random.choice(written)
    return "withdrawn", book.without(old.seq), old.seq


def what_is_wrong(book: StockBook) -> str:
    """What of a book does not add up, "" where all does: the room, each tank, and each line of
    descent by age, whose goings and those left over are all that came in."""
    moments = sorted({entry.moment for entry in (*book.movements, *book.counts)})
    for moment in (*moments, None):
        for tanks in (TANKS, *((tank,) for tank in TANKS), TANKS[:2]):
            held = book.together(tanks, moment)
            parts = (held.now.best, held.lost.best, held.left_alive.best, held.unexplained.best)
            if None in parts or held.start.best != sum(part or 0 for part in parts):
                return f"tanks {tanks} at {moment}: {held}"
    if any(row.impossible for tank in TANKS for row in book.rows(tank)):
        return "an impossible row was let in"
    for line in descents(TANKS, book.movements).values():
        batch = reared(book, line, lambda moment: (moment - FIRST_DAY).days)
        here = book.together(line).now.best
        if batch is not None and batch.left_over != here:
            return f"line {line}: {batch.left_over} left over by age, {here} by the book"
    return ""


if __name__ == "__main__":
    main(*(int(said) for said in sys.argv[1:3]))
