"""What the stock book refuses and what it asks, before an entry, a correction or a withdrawal.

Refused: more leaving than was counted, or than an estimate's upper bound. Asked: more leaving than
the best estimate, and a count above the book. From an unknown start anything may leave. A change
that would make a later entry impossible names those entries in order.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.stock_book.stock_book import StockBook
from hatchery_app.domain.stock_book.stock_entry import Count, Door, Movement, Rise
from hatchery_app.domain.stock_book.stock_line import Row, rise_above
from hatchery_app.domain.when import When, say_date, say_when

MORE_THAN_BEST = "more_than_best"
COUNT_ABOVE = "count_above"
RAISE = "raise"
COUNTED_WITHIN = timedelta(days=1)  # later too many have died for a count to be the start
LONGEST_LIFE = timedelta(days=365 * 40)  # beyond what is known of clownfish: from memory
ROWS_NAMED = 5  # a sentence with more than five entries is not read


def check_hatched(evening: date | None, came: When, field: str) -> None:
    """A batch hatched before it was put anywhere, and within the life of a fish. Raises RuleBroken.

    A day's grace, as the evening is the room's and the moment is in UTC.
    """
    if evening is None:
        return
    came_on = came.latest.date()
    if evening > came_on + timedelta(days=1):
        raise RuleBroken(
            f"They came {say_date(came_on)}, and cannot have hatched on the night of "
            f"{say_date(evening)}.",
            field=field,
        )
    if came_on - evening > LONGEST_LIFE:
        raise RuleBroken(f"No fish here is as old as from {evening.year}.", field=field)


class LaterEntriesImpossible(RuleBroken):
    """A change that would make later entries impossible: `rows` are these, in order."""

    def __init__(self, sentence: str, rows: tuple[Row, ...], field: str = "") -> None:
        super().__init__(sentence, field)
        self.rows = rows


def check_movement(
    book: StockBook, movement: Movement, *, answers: Mapping[str, str] | None = None
) -> None:
    """Refuse or ask about a movement, new or back-dated, before it is entered.

    Raises RuleBroken (field "number") when more would leave than can be there,
    LaterEntriesImpossible when it leaves too few for what was entered later, Asked under
    "more_than_best" (answer "raise") or "count_above". Several questions come one at a time.
    """
    check_change(book, book.with_entry(movement), touched=movement.seq, answers=answers)


def check_count(book: StockBook, count: Count, *, answers: Mapping[str, str] | None = None) -> None:
    """Ask about a count above the book: missed earlier (the start is raised), or a new arrival?

    Raises Asked under "count_above"; LaterEntriesImpossible as `check_movement` does.
    """
    check_change(book, book.with_entry(count), touched=count.seq, answers=answers)


def check_withdrawal(
    book: StockBook, seq: int, *, answers: Mapping[str, str] | None = None
) -> None:
    """Refuse or ask when an entry is to be withdrawn; raises as `check_movement` does."""
    check_change(book, book.without(seq), touched=seq, answers=answers)


def check_correction(
    book: StockBook,
    seq: int,
    corrected: Movement | Count,
    *,
    answers: Mapping[str, str] | None = None,
) -> None:
    """Refuse or ask when an entry is to be replaced; raises as `check_movement` does."""
    after = book.without(seq).with_entry(corrected)
    check_change(book, after, touched=corrected.seq, answers=answers)


def check_change(
    before: StockBook,
    after: StockBook,
    *,
    touched: int,
    answers: Mapping[str, str] | None = None,
) -> None:
    """Compare the book before and after a change: only what the change brings is spoken of.

    `touched` is the `seq` of the entry in hand; the others it makes impossible are "later
    entries". Raises RuleBroken, LaterEntriesImpossible or Asked.
    """
    answers = answers or {}
    holdings = _touched_holdings(before, after)
    was = {_key(line): line.row for line in _lines(before, holdings)}
    lines = [
        line
        for line in _lines(after, holdings)
        if _is_worse(line.row, was.get(_key(line)), touched)
    ]
    _refuse_impossible(after, [line for line in lines if line.row.impossible], touched)
    for line in lines:
        if isinstance(line.row.entry, Movement):
            _ask_more_than_best(after, line, touched, answers)
        else:
            _ask_count_above(after, line, touched, answers)


@dataclass(frozen=True)
class _HoldingRow:
    holding: int
    row: Row


def _touched_holdings(before: StockBook, after: StockBook) -> list[int]:
    """The holdings of the entries that differ: no entry changes what another holding holds."""
    moves = set(before.movements) ^ set(after.movements)
    looks = set(before.counts) ^ set(after.counts)
    ids = {entry.holding for entry in looks}
    ids |= {end for entry in moves for end in (entry.out_of, entry.into) if end is not None}
    return sorted(ids)


def _lines(book: StockBook, holdings: list[int]) -> list[_HoldingRow]:
    lines = [_HoldingRow(holding, row) for holding in holdings for row in book.rows(holding)]
    return sorted(lines, key=lambda line: (line.row.entry.when.latest, line.row.entry.seq))


def _key(line: _HoldingRow) -> tuple[int, int]:
    return line.holding, line.row.entry.seq


def _is_worse(row: Row, was: Row | None, touched: int) -> bool:
    """Whether the change, not an older one, makes this row impossible or raises the start."""
    if was is None or row.entry.seq == touched:
        return row.impossible or row.raised > 0
    return (row.impossible and not was.impossible) or row.raised > was.raised


def _refuse_impossible(book: StockBook, lines: list[_HoldingRow], touched: int) -> None:
    if not lines:
        return
    for line in lines:
        if line.row.entry.seq == touched and isinstance(line.row.entry, Movement):
            raise RuleBroken(
                _too_many(book, line.holding, line.row.entry, line.row.before), field="number"
            )
    told = "; ".join(_in_words(book, line) for line in lines[:ROWS_NAMED])
    more = f"; and {len(lines) - ROWS_NAMED} more" if len(lines) > ROWS_NAMED else ""
    raise LaterEntriesImpossible(
        f"Too few would be left for what is entered later: {told}{more}. "
        "Correct these with it, or mend the number.",
        tuple(line.row for line in lines),
        field="number",
    )


def _too_many(book: StockBook, holding: int, entry: Movement, there: HowMany) -> str:
    limit = "" if there.basis is Basis.COUNTED else f", at most {there.most}"
    if there.basis is Basis.ESTIMATED:
        limit = ""  # the interval already says it
    return (
        f"{book.holding(holding).name} held {there.said()}{limit} "
        f"({say_when(entry.when, book.room_time)}): {entry.number.said()} cannot be {_done(entry)}."
    )


def _done(entry: Movement) -> str:
    """The door as it reads after "cannot be"."""
    awkward = {Door.DIED: "entered as died", Door.MISSING: "entered as missing"}
    return awkward.get(entry.door, str(entry.door))


def _in_words(book: StockBook, line: _HoldingRow) -> str:
    entry = line.row.entry
    what = str(entry.door) if isinstance(entry, Movement) else "seen"
    return (
        f"{say_when(entry.when, book.room_time)}, {book.holding(line.holding).name}: "
        f"{entry.number.best} {what}, {line.row.before.best} there"
    )


def _ask_more_than_best(
    book: StockBook, line: _HoldingRow, touched: int, answers: Mapping[str, str]
) -> None:
    if answers.get(MORE_THAN_BEST) == RAISE:
        return
    entry, name = line.row.entry, book.holding(line.holding).name
    later = "" if entry.seq == touched else f" ({_in_words(book, line)})"
    raise Asked(
        f"{name} is only estimated, {line.row.before.said()}; {entry.number.best} leaving is "
        f"{line.row.raised} more{later}. Were there more than estimated?",
        MORE_THAN_BEST,
        ((RAISE, f"Yes, raise the start by {line.row.raised}"), ("mend", "No, mend the number")),
        field="number",
    )


def _ask_count_above(
    book: StockBook, line: _HoldingRow, touched: int, answers: Mapping[str, str]
) -> None:
    if answers.get(COUNT_ABOVE) in (Rise.MISSED_EARLIER, Rise.NEW_ARRIVAL):
        return
    row = line.row
    if row.entry.seq != touched and row.entry.number.basis is not Basis.COUNTED:
        return
    above = rise_above(row.before, row.after)
    name, at = book.holding(line.holding).name, say_when(row.entry.when, book.room_time)
    raise Asked(
        f"{name} had {row.before.said()} by the book, and {row.after.best} were seen ({at}): "
        f"{above} more. Missed earlier, or a new arrival?",
        COUNT_ABOVE,
        (
            (Rise.MISSED_EARLIER.value, "Missed earlier: raise the start"),
            (Rise.NEW_ARRIVAL.value, "A new arrival"),
        ),
        field="number",
    )


def uncounted_start(book: StockBook, count: Count) -> When | None:
    """When a batch was put in that is counted now for the first time; None where nothing is asked.

    Asked of a count within a day of it, where nobody counted what was put in: it hatched into the
    tank or came from another. Of fish that were here before the records nobody can know.
    """
    if not count.number.best:
        return None
    rows = [
        row for row in book.with_entry(count).rows(count.holding) if row.entry.seq != count.seq
    ]
    came = [row.entry for row in rows if isinstance(row.entry, Movement)
            and row.entry.into == count.holding]  # fmt: skip
    counted = any(isinstance(row.entry, Count) and row.entry.is_full for row in rows)
    start = book.balance(count.holding).start
    if not came or counted or start.best is not None or count.number.best < start.least:
        return None
    if any(one.door not in (Door.HATCHED, Door.MOVED) for one in came):
        return None
    first, last = came[0].when, came[-1].when
    if last.earliest > count.when.latest or count.when.latest - first.earliest > COUNTED_WITHIN:
        return None
    return first


@dataclass(frozen=True)
class Recount:
    """What a count below the book means: bodies found died, the rest are missing, in a band.

    `died` is the movement to enter for the bodies, None without any; the missing follow from
    the count itself and are not entered.
    """

    band: When
    died: Movement | None
    missing: HowMany


def recount(book: StockBook, count: Count, *, bodies: int, died_seq: int) -> Recount:
    """What a count shows together with the bodies found since the last one.

    Losses are dated as a band from the last count (else from when the fish came in) to this one,
    never as a spike on its day. Raises RuleBroken when more bodies were found than there were
    fish, as any movement would. More bodies than are gone make the count stand above the book:
    `check_count`, with the bodies entered, then asks.
    """
    rows_before = [
        row
        for row in book.with_entry(count).rows(count.holding)
        if row.entry.seq != count.seq and row.entry.when.latest <= count.when.latest
    ]
    looks = [row for row in rows_before if isinstance(row.entry, Count) and row.entry.is_full]
    last = (looks or rows_before)[-1 if looks else 0].entry.when if rows_before else count.when
    band = When.between(min(last.earliest, count.when.latest), count.when.latest)
    died = None
    if bodies:
        died = Movement(
            died_seq, band, HowMany.counted(bodies), count.holding, None, Door.DIED, "bodies found"
        )
        check_movement(book, died)
        book = book.with_entry(died)
    gaps = [
        row.gap
        for row in book.with_entry(count).rows(count.holding)
        if row.entry.seq == count.seq and row.gap
    ]
    return Recount(band, died, gaps[0].number if gaps else HowMany.counted(0))
