"""What the keeper answers to a line of work: done, differently, put off, skipped; or let go."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.today.schedule import Done, Outcome, TaskName, Turn
from hatchery_app.domain.when import When
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank, TankStateSeen
from hatchery_app.models.today import TaskAnswered
from hatchery_app.services.recording import Book, use_case

NOT_HERE = "That answer was taken back already."
LET_GO = "let go with the rest of the day"
# Work on a tank that says by itself how the tank stands after it: one tap, not two.
STANDS_AFTER = {"clean_tank": TankState.CLEANING, "match_water": TankState.READY}


@dataclass(frozen=True)
class Answered:
    """An answer with the entry it stands in, so that it can be taken back."""

    fact_id: int
    done: Done


@use_case
def answer_task(
    book: Book,
    *,
    task: str,
    outcome: Outcome,
    reason: str = "",
    really: str = "",
    until: Turn | None = None,
) -> int:
    """Answer one line of work. Returns the answer's fact.

    A second answer replaces the first, which stays readable. Cleaning a tank and matching its
    water also say how the tank stands from then on.
    """
    name = TaskName.parse(task)
    Done(name, outcome, book.now, reason, really, until)  # refuses one that says too little
    answer = _enter(book, name, outcome, reason=reason, really=really, until=until)
    if outcome is Outcome.DONE:
        _say_how_it_stands(book, name)
    return answer


@use_case
def answer_done(book: Book, *, tasks: Sequence[str]) -> int:
    """Several lines done in one tap: a count with its top-up, or all of a stop. Returns how many.

    A tank cleaned or matched by it stands so from then on.
    """
    for task in tasks:
        name = TaskName.parse(task)
        _enter(book, name, Outcome.DONE)
        _say_how_it_stands(book, name)
    return len(tasks)


@use_case
def let_go_of(book: Book, *, tasks: Sequence[str]) -> int:
    """Skip every one of these lines at once. Returns how many were let go."""
    for task in tasks:
        _enter(book, TaskName.parse(task), Outcome.SKIPPED, reason=LET_GO)
    return len(tasks)


@use_case
def put_off(book: Book, *, tasks: Sequence[str], until: Turn) -> int:
    """Every one of these lines waits for a later round. Returns how many."""
    for task in tasks:
        _enter(book, TaskName.parse(task), Outcome.PUT_OFF, until=until)
    return len(tasks)


def answered_along(session: Session, fact_id: int) -> int:
    """How many lines stand answered by the tap that gave this answer, itself among them."""
    of_tap = select(TaskAnswered.receipt_id).where(known(), TaskAnswered.fact_id == fact_id)
    counted = select(func.count()).select_from(TaskAnswered)
    found = counted.where(known(), TaskAnswered.receipt_id == of_tap.scalar_subquery())
    return session.scalar(found) or 0


@use_case
def take_answer_back(book: Book, *, fact_id: int, all_of_tap: bool = False) -> int:
    """The answer is withdrawn and its line stands open again. Returns the answer's fact.

    A state that was said by the same tap is withdrawn with it; with `all_of_tap` so is every
    other answer which that tap gave.
    """
    row = book.find(TaskAnswered, fact_id, NOT_HERE)
    if all_of_tap and row.receipt_id is not None:
        others = select(TaskAnswered).where(
            known(), TaskAnswered.receipt_id == row.receipt_id, TaskAnswered.fact_id != fact_id
        )
        for other in book.session.scalars(others).all():
            book.withdraw(other, note="taken back with the rest of one tap")
    if row.receipt_id is not None:
        along = select(TankStateSeen).where(known(), TankStateSeen.receipt_id == row.receipt_id)
        for state in book.session.scalars(along).all():
            book.withdraw(state, note="taken back with its task")
    book.withdraw(row, note="taken back")
    return fact_id


def answers_to(session: Session, names: Iterable[str]) -> list[Answered]:
    """The answers that stand to these tasks, in the order they were entered. One statement."""
    rows = session.scalars(
        select(TaskAnswered)
        .where(known(), TaskAnswered.task.in_(sorted(set(names))))
        .order_by(TaskAnswered.seq)
    )
    return [Answered(row.fact, _domain(row)) for row in rows]


def _say_how_it_stands(book: Book, name: TaskName) -> None:
    state = STANDS_AFTER.get(name.kind)
    if state is not None:
        book.find(Tank, name.fact_id, "That tank does not stand in this room's records.")
        seen = TankStateSeen(tank_id=name.fact_id, state=state)
        book.enter(seen, when=When.exactly(book.now))


def _enter(
    book: Book, name: TaskName, outcome: Outcome, *, reason: str = "", really: str = "",
    until: Turn | None = None,
) -> int:  # fmt: skip
    row = TaskAnswered(
        task=str(name), outcome=outcome.value, until=str(until) if until else "",
        reason=reason.strip()[:200], really_done=really.strip()[:200],
    )  # fmt: skip
    when = When.exactly(book.now)
    earlier = book.session.scalars(
        select(TaskAnswered)
        .where(known(), TaskAnswered.task == str(name))
        .order_by(TaskAnswered.seq.desc())
    ).first()
    if earlier is not None:
        return book.correct(earlier, row, when=when).fact
    return book.enter(row, when=when).fact


def _domain(row: TaskAnswered) -> Done:
    return Done(
        TaskName.parse(row.task), Outcome(row.outcome), row.happened_latest, row.reason,
        row.really_done, Turn.parse(row.until) if row.until else None,
    )  # fmt: skip
