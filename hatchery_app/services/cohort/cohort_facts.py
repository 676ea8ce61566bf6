"""What is promised, set aside, graded and measured of some holdings, in a fixed number of
statements, and what of them is free to sell.

Fish set aside whole ("none to leave the room") stay so wherever they are moved since: a split or
a merge does not make them saleable.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, defer

from hatchery_app.domain.cohort.cohort import Hold, SetApart, free_to_sell
from hatchery_app.domain.cohort.free_to_sell import FreeToSell, OfSaleSize
from hatchery_app.domain.cohort.length_sample import LengthSample
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.when import When
from hatchery_app.models.cohort import (
    Graded,
    Held,
    HoldReleased,
    LengthsSampled,
    SetAside,
    SetAsideEnded,
)
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.sale import Sale
from hatchery_app.models.stock_book import Holding, Moved

STAGE_WORDS = {Stage.LARVAE: "Batch", Stage.COHORT: "Cohort"}


@dataclass(frozen=True)
class HoldLine:
    """An open hold by its entry; `promised` is how many it began with."""

    held_id: int
    holding_id: int
    hold: Hold
    promised: int
    when: When
    note: str


@dataclass(frozen=True)
class ApartLine:
    """Fish set aside, by the entry that says so, and the holding it was said of."""

    set_aside_id: int
    holding_id: int
    apart: SetApart
    when: When


@dataclass(frozen=True)
class GradeLine:
    """One grade of a grading: in the keeper's words, of that day."""

    graded_id: int
    grade: str
    number: int | None
    may_be_sold: bool
    when: When
    note: str


@dataclass(frozen=True)
class SampleLine:
    """A sample of lengths by its entry."""

    fact_id: int
    sample: LengthSample
    note: str


@dataclass(frozen=True)
class Promises:
    """What is promised and set aside, by holding."""

    holds: Mapping[int, tuple[HoldLine, ...]]
    apart: Mapping[int, tuple[ApartLine, ...]]

    def holds_of(self, holding_id: int) -> tuple[HoldLine, ...]:
        """The open holds on a holding, those that end first in front."""
        return self.holds.get(holding_id, ())

    def apart_of(self, holding_id: int) -> tuple[ApartLine, ...]:
        """What of a holding is set aside, here or in the batch it came from."""
        return self.apart.get(holding_id, ())

    def set_apart(self, holding_id: int) -> tuple[SetApart, ...]:
        """The same as the domain holds it."""
        return tuple(line.apart for line in self.apart_of(holding_id))

    def free(
        self, holding_id: int, alive: HowMany, size: OfSaleSize | None = None
    ) -> FreeToSell:
        """What of a holding may be sold; `size` is what is known of its fish having sale size."""
        holds = tuple(line.hold for line in self.holds_of(holding_id))
        return free_to_sell(alive, holds, self.set_apart(holding_id), size)


def load_promises(session: Session, holding_ids: Iterable[int]) -> Promises:
    """Holds and fish set aside of some holdings. At most eight statements, for any number."""
    ids = sorted(set(holding_ids))
    aside = session.scalars(
        select(SetAside)
        .where(known(), or_(SetAside.holding_id.in_(ids), SetAside.number.is_(None)))
        .order_by(SetAside.happened_latest, SetAside.seq)
    ).all()
    ended = _rows_by(session, SetAsideEnded, "set_aside_id", [row.fact for row in aside])
    held = session.scalars(
        select(Held).where(known(), Held.holding_id.in_(ids)).order_by(Held.until_on, Held.seq)
    ).all()
    held_ids = [row.fact for row in held]
    released = _rows_by(session, HoldReleased, "held_id", held_ids)
    sold = _rows_by(session, Sale, "held_id", held_ids)
    moved_ids = [row.moved_id for rows in ended.values() for row in rows if row.moved_id]
    moved_ids += [sale.moved_id for sales in sold.values() for sale in sales]
    numbers = moved_numbers(session, moved_ids)
    open_aside = [row for row in aside if _still_aside(row, ended, numbers) != 0]
    return Promises(
        _holds(held, released, sold, numbers),
        _apart(session, ids, open_aside, ended, numbers),
    )


Row = TypeVar("Row", bound=Entry)


def _rows_by(
    session: Session, kind: type[Row], column: str, ids: Sequence[int]
) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = defaultdict(list)
    for row in session.scalars(select(kind).where(known(), getattr(kind, column).in_(ids))):
        found[getattr(row, column)].append(row)
    return found


def moved_numbers(session: Session, moved_ids: Iterable[int]) -> dict[int, int]:
    """How many fish some movements moved; one taken back is left out. One statement."""
    rows = session.execute(
        select(Moved.fact_id, Moved.number_best).where(
            known(), Moved.fact_id.in_(sorted(set(moved_ids)))
        )
    )
    return {fact_id: best or 0 for fact_id, best in rows if fact_id is not None}


def _holds(
    held: Sequence[Held], released: Mapping[int, list[HoldReleased]],
    sold: Mapping[int, list[Sale]], numbers: Mapping[int, int],
) -> dict[int, tuple[HoldLine, ...]]:  # fmt: skip
    found: dict[int, list[HoldLine]] = defaultdict(list)
    for row in held:
        gone = sum(one.number for one in released.get(row.fact, ()))
        gone += sum(numbers.get(one.moved_id, 0) for one in sold.get(row.fact, ()))
        if row.number > gone:
            hold = Hold(row.number - gone, row.for_whom, row.until_on)
            found[row.holding_id].append(
                HoldLine(row.fact, row.holding_id, hold, row.number, row.when, row.note)
            )
    return {holding_id: tuple(lines) for holding_id, lines in found.items()}


def _still_aside(
    row: SetAside, ended: Mapping[int, list[SetAsideEnded]], numbers: Mapping[int, int]
) -> int | None:
    """How many are still set aside; None for all of them, 0 when the entry has ended."""
    left = row.number
    for end in ended.get(row.fact, ()):
        if end.moved_id is None and end.number is None:
            return 0
        gone = end.number or 0 if end.moved_id is None else numbers.get(end.moved_id, 0)
        left = None if left is None else max(0, left - gone)
    return left


def _apart(
    session: Session, ids: Sequence[int], aside: Sequence[SetAside],
    ended: Mapping[int, list[SetAsideEnded]], numbers: Mapping[int, int],
) -> dict[int, tuple[ApartLine, ...]]:  # fmt: skip
    found: dict[int, list[ApartLine]] = defaultdict(list)
    wanted = set(ids)
    # Of fish set aside whole alone: every move of the room is read for it.
    whole = any(row.number is None for row in aside)
    edges = moves_between(session) if whole else {}
    names = _names(session, {row.holding_id for row in aside if row.number is None})
    for row in aside:
        left = _still_aside(row, ended, numbers)
        reached = {row.holding_id}
        if row.number is None:
            reached |= _moved_on(row.holding_id, row.happened_earliest, edges)
        for holding_id in reached & wanted:
            came_from = names.get(row.holding_id, "") if holding_id != row.holding_id else ""
            apart = SetApart(row.why, left, row.reason, came_from)
            found[holding_id].append(ApartLine(row.fact, row.holding_id, apart, row.when))
    return {holding_id: tuple(lines) for holding_id, lines in found.items()}


Moves = Mapping[int, Sequence[tuple[int, datetime]]]


def moves_between(session: Session) -> Moves:
    """Every move from holding to holding, by the one it began in. One statement."""
    found: dict[int, list[tuple[int, datetime]]] = defaultdict(list)
    rows = session.execute(
        select(Moved.out_of_id, Moved.into_id, Moved.happened_latest).where(
            known(), Moved.out_of_id.is_not(None), Moved.into_id.is_not(None)
        )
    )
    for out_of, into, at in rows:
        if out_of is not None and into is not None:
            found[out_of].append((into, at))
    return found


def _moved_on(holding_id: int, since: datetime, edges: Moves) -> set[int]:
    """The holdings that took in fish of this one, directly or over others, from then on."""
    reached: set[int] = set()
    waiting = [holding_id]
    while waiting:
        for into, at in edges.get(waiting.pop(), ()):
            if at >= since and into not in reached:
                reached.add(into)
                waiting.append(into)
    return reached


def _names(session: Session, ids: set[int]) -> dict[int, str]:
    rows = session.scalars(
        select(Holding)
        .where(known(), Holding.fact_id.in_(sorted(ids)))
        .options(defer(Holding.protocol))
    )
    return {
        row.fact: row.name or f"{STAGE_WORDS.get(row.stage, 'Holding')} {row.number}"
        for row in rows
    }


def grades_of(session: Session, holding_id: int) -> tuple[GradeLine, ...]:
    """Every grade given to a cohort, the newest grading first. One statement."""
    rows = session.scalars(
        select(Graded)
        .where(known(), Graded.holding_id == holding_id)
        .order_by(Graded.happened_latest.desc(), Graded.seq)
    )
    return tuple(
        GradeLine(row.fact, row.grade, row.number, row.may_be_sold, row.when, row.note)
        for row in rows
    )


def grade_words(session: Session) -> tuple[tuple[str, bool], ...]:
    """The grades this room has used, each with whether such fish were last sold. One statement."""
    rows = session.execute(
        select(Graded.grade, Graded.may_be_sold)
        .where(known())
        .order_by(Graded.happened_latest, Graded.seq)
    )
    return tuple({row.grade: row.may_be_sold for row in rows}.items())


def samples_of(
    session: Session, holding_ids: Iterable[int]
) -> dict[int, tuple[SampleLine, ...]]:
    """The lengths sampled of some cohorts, oldest first. One statement."""
    found: dict[int, list[SampleLine]] = defaultdict(list)
    rows = session.scalars(
        select(LengthsSampled)
        .where(known(), LengthsSampled.holding_id.in_(sorted(set(holding_ids))))
        .order_by(LengthsSampled.happened_latest, LengthsSampled.seq)
    )
    for row in rows:
        found[row.holding_id].append(SampleLine(row.fact, row.facts(), row.note))
    return {holding_id: tuple(lines) for holding_id, lines in found.items()}
