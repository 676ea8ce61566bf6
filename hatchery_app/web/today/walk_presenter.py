"""Where the finger goes after each tap of the walk: the next line that is still open.

The page is sent anew after every answer. Each form names the line to come back to, which is an
anchor on that page, so that a long walk is no search from the top after every tap.
"""

from collections.abc import Collection, Sequence
from dataclasses import replace

from hatchery_app.web.today.work_presenter import JobLine, StopLine


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
