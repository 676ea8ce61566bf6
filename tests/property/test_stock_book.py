"""Fish are conserved: through splits, merges, corrections, back-dated and withdrawn entries."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.reared import batch_curve, descents, reared
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
from tests.bench.random_books import history, what_is_wrong

TANKS = (1, 2, 3, 4)
EMPTY = StockBook(tuple(Holding(tank, f"L{tank}", Stage.LARVAE) for tank in TANKS))
FIRST_DAY = datetime(2026, 3, 1, tzinfo=UTC)
SETTLES = {"more_than_best": "raise", "count_above": "missed_earlier"}
EXITS = (Door.DIED, Door.MISSING, Door.SOLD, Door.PUT_DOWN, Door.SAMPLED, Door.EATEN)
IN_ROOM = settings(max_examples=300, deadline=None)
FEWER = settings(max_examples=100, deadline=None)


@st.composite
def moments(draw: st.DrawFn) -> When:
    start = FIRST_DAY + timedelta(hours=draw(st.integers(0, 400)))
    vague = draw(st.sampled_from((0, 0, 0, 5, 48)))
    return When.between(start, start + timedelta(hours=vague))


@st.composite
def numbers(draw: st.DrawFn, fewest: int = 1) -> HowMany:
    best = draw(st.integers(fewest, 80))
    if draw(st.integers(0, 3)):
        return HowMany.counted(best)
    low, over = draw(st.integers(0, best)), draw(st.integers(0, 40))
    return HowMany.estimated(best, low, best + over)


@st.composite
def entries(draw: st.DrawFn, seq: int = 0) -> Movement | Count:
    kind = draw(st.sampled_from(("in", "in", "move", "move", "out", "count")))
    tank = draw(st.sampled_from(TANKS))
    when = draw(moments())
    if kind == "count":
        return Count(seq, when, draw(numbers(fewest=0)), tank)
    if kind == "in":
        door = draw(st.sampled_from((Door.HATCHED, Door.ARRIVED, Door.FOUND)))
        return Movement(seq, when, draw(numbers()), None, tank, door)
    if kind == "move":
        other = draw(st.sampled_from([one for one in TANKS if one != tank]))
        return Movement(seq, when, draw(numbers()), tank, other, Door.MOVED)
    return Movement(seq, when, draw(numbers()), tank, None, draw(st.sampled_from(EXITS)))


def accept(book: StockBook, after: StockBook, touched: int) -> StockBook:
    """The book as the room would have it: questions answered, refused changes left out."""
    try:
        check_change(book, after, touched=touched, answers=SETTLES)
    except Asked:
        raise  # every question has its answer, so none may be left open
    except RuleBroken:
        return book
    return after


@st.composite
def histories(draw: st.DrawFn) -> StockBook:
    """Entries in any order of time, so back-dated ones too; some merged, corrected, withdrawn."""
    book = EMPTY
    for seq, entry in enumerate(draw(st.lists(entries(), min_size=1, max_size=14)), start=1):
        book = accept(book, book.with_entry(replace(entry, seq=seq)), seq)
    for seq in range(100, 100 + draw(st.integers(0, 4))):
        written = (*book.movements, *book.counts)
        if not written:
            break
        act = draw(st.sampled_from(("merge", "correct", "withdraw")))
        if act == "merge":
            book = merged(book, seq, *draw(st.permutations(TANKS))[:2])
            continue
        old = draw(st.sampled_from(written))
        after = book.without(old.seq)
        if act == "correct":
            after = after.with_entry(replace(old, number=draw(numbers()), when=draw(moments())))
        book = accept(book, after, old.seq)
    return book


def merged(book: StockBook, seq: int, out_of: int, into: int) -> StockBook:
    """All that is in one tank goes to another, after everything entered so far."""
    number = book.balance(out_of).now
    if not number.best:
        return book
    at = max(one.when.latest for one in (*book.movements, *book.counts)) + timedelta(hours=1)
    move = Movement(seq, When.exactly(at), number, out_of, into, Door.MOVED)
    return accept(book, book.with_entry(move), seq)


def every_moment(book: StockBook) -> list[datetime]:
    return sorted({entry.moment for entry in (*book.movements, *book.counts)})


@IN_ROOM
@given(histories())
def test_what_came_in_is_here_lost_left_or_unexplained_at_every_moment(book: StockBook) -> None:
    for moment in (*every_moment(book), None):
        for tanks in ((1,), (2,), (1, 2), TANKS):
            room = book.together(tanks, moment)
            went = (room.lost.best, room.left_alive.best, room.unexplained.best)
            assert None not in went
            assert room.start.best == (room.best or 0) + sum(number or 0 for number in went)


@IN_ROOM
@given(histories())
def test_nothing_comes_from_nothing(book: StockBook) -> None:
    room = book.together(TANKS)
    entered = sum(one.number.best or 0 for one in book.movements if one.out_of is None)
    raised = sum(row.raised for tank in TANKS for row in book.rows(tank))
    assert room.start.best == entered + raised
    if not book.counts and all(one.number.basis == "counted" for one in book.movements):
        assert raised == 0


@IN_ROOM
@given(histories())
def test_no_accepted_history_holds_an_impossible_row(book: StockBook) -> None:
    for tank in TANKS:
        for row in book.rows(tank):
            assert not row.impossible
            assert row.after.best is not None
            assert row.after.best >= 0


@FEWER
@given(histories())
def test_followed_by_age_every_fish_is_accounted_for_too(book: StockBook) -> None:
    def dph_at(moment: datetime) -> int:
        return (moment - FIRST_DAY).days

    lines = descents(TANKS, book.movements)
    assert sorted(tank for line in lines.values() for tank in line) == list(TANKS)
    for line in lines.values():
        batch, held = reared(book, line, dph_at), book.together(line)
        if batch is None:
            assert not held.start.best
            continue
        assert (batch.number, batch.left_over) == (held.start.best, held.now.best)
        points = batch_curve(batch)
        assert all(one.survival <= before.survival for before, one in pairwise(points))
        assert 0 <= points[-1].survival <= points[0].survival <= 1


@IN_ROOM
@given(st.integers(1, 500), st.lists(st.integers(1, 60), max_size=8))
def test_splitting_and_rejoining_keeps_the_count(hatched: int, parts: list[int]) -> None:
    book = EMPTY.with_entry(
        Movement(1, When.exactly(FIRST_DAY), HowMany.counted(hatched), None, 1, Door.HATCHED)
    )
    for seq, part in enumerate(parts, start=2):
        when = When.exactly(FIRST_DAY + timedelta(hours=seq))
        split = Movement(seq, when, HowMany.counted(part), 1, 2 + seq % 3, Door.MOVED)
        book = accept(book, book.with_entry(split), seq)
    assert book.together(TANKS).now == HowMany.counted(hatched)
    for seq, tank in enumerate((2, 3, 4), start=50):
        held = book.balance(tank).best
        if held:
            when = When.exactly(FIRST_DAY + timedelta(hours=seq))
            back = Movement(seq, when, HowMany.counted(held), tank, 1, Door.MOVED)
            book = accept(book, book.with_entry(back), seq)
    assert book.balance(1).now == HowMany.counted(hatched)
    assert book.together(TANKS).start == HowMany.counted(hatched)


@FEWER
@given(histories(), st.randoms(use_true_random=False))
def test_the_order_of_entering_rows_does_not_change_the_book(book: StockBook, shuffle) -> None:  # type: ignore[no-untyped-def]
    movements, counts = list(book.movements), list(book.counts)
    shuffle.shuffle(movements)
    shuffle.shuffle(counts)
    shuffled = replace(book, movements=tuple(movements), counts=tuple(counts))
    assert shuffled.together(TANKS) == book.together(TANKS)


@FEWER
@given(histories(), st.integers(-400, 400))
def test_shifting_every_entry_shifts_every_balance(book: StockBook, days: int) -> None:
    by = timedelta(days=days)
    later = replace(
        book,
        movements=tuple(replace(one, when=one.when.shift(by)) for one in book.movements),
        counts=tuple(replace(one, when=one.when.shift(by)) for one in book.counts),
    )
    for moment in every_moment(book):
        for tank in TANKS:
            was, shifted = book.balance(tank, moment), later.balance(tank, moment + by)
            assert (was.now, was.start, was.unexplained) == (
                shifted.now,
                shifted.start,
                shifted.unexplained,
            )


def test_every_line_of_descent_of_books_told_at_random_balances_by_age() -> None:
    """The bench tells ten thousand such books; the sixtieth once had fish that came back twice."""
    wrong = {
        seed: trouble
        for seed in range(300)
        if (trouble := what_is_wrong(history(Random(seed), Counter())))
    }
    assert wrong == {}
