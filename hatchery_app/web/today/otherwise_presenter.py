"""A line that is not simply done: what else can be answered to it."""

from dataclasses import dataclass
from typing import Any

from hatchery_app.domain.today.schedule import Round, TaskState, Turn
from hatchery_app.services.today.today import TodayPage
from hatchery_app.web.addresses import back_to_line
from hatchery_app.web.today.work_presenter import answer_said

REASONS = ("not needed", "no time", "nothing there to do it with", "the fish were left in peace")


@dataclass(frozen=True)
class Later:
    """A round it can wait for."""

    turn: str
    label: str


@dataclass(frozen=True)
class OtherwisePage:
    """One line of work with its other answers; `then` is the line that the page comes back to."""

    heading: str
    place: str
    why: str
    task: str
    round_word: str
    answered: str
    answer_id: int | None
    along: int
    later: tuple[Later, ...]
    reasons: tuple[str, ...]
    form: Any
    then: str
    back: str


def otherwise(
    page: TodayPage, line: TaskState, form: Any, then: str, along: int
) -> OtherwisePage:
    """The page of one line; `then` is the line to come back to, "" comes back to this one; `along`
    is how many lines the tap answered that answered this one."""
    task = line.task
    standing = page.stops.get(task.place_id) if task.place_id is not None else None
    quantity = f", {task.quantity.said()}" if task.quantity is not None else ""
    return OtherwisePage(
        heading=f"{task.what}{quantity}",
        place=" · ".join(
            (standing.label, standing.living.words or standing.state_said) if standing else ()
        ),
        why=task.why,
        task=str(task.name),
        round_word=line.turn.round.value,
        answered=answer_said(page, line),
        answer_id=page.answer_ids.get(task.name),
        along=along,
        later=later(page.turn, line.turn, line.task.round),
        reasons=REASONS,
        form=form,
        then=then or str(task.name),
        back=back_to_line(line.turn.round.value, str(task.name)),
    )


def later(now: Turn, stands: Turn, usual: Round) -> tuple[Later, ...]:
    """The rounds still to come today after where it stands, then its usual round tomorrow."""
    today = [
        Later(str(Turn(now.day, each)), each.label)
        for each in Round
        if Turn(now.day, each) > max(now, stands)
    ]
    return (*today, Later(str(Turn(now.plus(1).day, usual)), "Tomorrow"))
