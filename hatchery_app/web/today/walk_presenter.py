"""Where the finger goes after each tap of the walk: the next line that is still open.

The page is sent anew after every answer. Each form names the line to come back to, which is an
anchor on that page, so that a long walk is no search from the top after every tap.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from hatchery_app.domain.today.schedule import Turn
from hatchery_app.web.today.otherwise_presenter import Later, later
from hatchery_app.web.today.work_presenter import JobLine, StopLine

TOGETHER = (("feed_pair:", "pairs"), ("feed_cohort:", "cohorts"))  # one meal for many, one tap
A_FEW = 3  # so many lines are worth a tap of their own
ANSWERED_BY_EYE = ("hatch_watch:", "say_")  # what became of eggs is answered, never put off whole


@dataclass(frozen=True)
class Tap:
    """Many lines answered in one tap: their names, and the line that the page comes back to."""

    label: str
    tasks: str
    then: str


@dataclass(frozen=True)
class PutOff:
    """The open lines of a round, which wait together until a round to come."""

    label: str
    tasks: str
    later: tuple[Later, ...]


def together(stops: Sequence[StopLine]) -> tuple[Tap, ...]:
    """What is done alike at many stops of a round: "All 12 pairs fed as planned"."""
    order = [job for stop in stops for job in stop.jobs]
    taps = []
    for kind, many in TOGETHER:
        names = [job.task for job in order if job.is_open and job.task.startswith(kind)]
        if len(names) >= A_FEW:
            label = f"All {len(names)} {many} fed as planned"
            taps.append(Tap(label, " ".join(names), _next_open(order, 0, names)))
    return tuple(taps)


def put_off(stops: Sequence[StopLine], now: Turn, shown: Turn) -> PutOff | None:
    """The open lines of a round with the rounds they can wait for; None where few are left."""
    waiting = [
        job for stop in stops for job in stop.jobs
        if job.is_open and not job.task.startswith(ANSWERED_BY_EYE)
    ]  # fmt: skip
    if len(waiting) < A_FEW:
        return None
    label = f"Put off what is open here ({len(waiting)})"
    return PutOff(label, " ".join(job.tasks for job in waiting), later(now, shown, shown.round))


def come_back(stops: Sequence[StopLine]) -> list[StopLine]:
    """The stops in the order shown, each line with the one that is next after it."""
    order = [job for stop in stops for job in stop.jobs]
    at = 0
    walked = []
    for stop in stops:
        all_of = set(stop.all_of.split())
        jobs = tuple(
            replace(job, then=_next_open(order, at + n, {job.task}) if job.is_open else job.task)
            for n, job in enumerate(stop.jobs)
        )
        walked.append(replace(stop, jobs=jobs, then=_next_open(order, at, all_of)))
        at += len(stop.jobs)
    return walked


def fold_of(line: str, **folds: Collection[StopLine]) -> str:
    """Which of the folds holds a line; "" where it stands in the open, or nowhere."""
    holding = (word for word, stops in folds.items() if any(_has(stop, line) for stop in stops))
    return next(holding, "") if line else ""


def _has(stop: StopLine, line: str) -> bool:
    return any(job.task == line for job in stop.jobs)


def _next_open(order: Sequence[JobLine], at: int, answered: Collection[str]) -> str:
    """The first line from a place on that stays open; else the last before; else ""."""
    stays = [job.task for job in order[at:] if job.is_open and job.task not in answered]
    before = [job.task for job in order[:at] if job.is_open and job.task not in answered]
    return stays[0] if stays else before[-1] if before else ""
