"""The day on paper: every round with a box to tick, for a wet pocket or a day without a screen."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.domain.today.schedule import Round
from hatchery_app.services.today.today import TodayPage
from hatchery_app.web.today.presenter import day
from hatchery_app.web.today.work_presenter import NOT_ANSWERED, JobLine, StopLine, stop_line


@dataclass(frozen=True)
class SheetJob:
    """One line of work: `is_open` has its box, another says what became of it. `figure` leaves
    room for a number that is to be written down."""

    what: Markup
    is_open: bool
    said: str
    figure: bool


@dataclass(frozen=True)
class SheetStop:
    """One stop of the walk."""

    label: str
    jobs: tuple[SheetJob, ...]


@dataclass(frozen=True)
class SheetRound:
    """One round with what is left of it."""

    label: str
    stops: tuple[SheetStop, ...]


@dataclass(frozen=True)
class SheetPage:
    """The whole day. `first` is what is asked first: tonight, food, tanks."""

    heading: str
    lights: str
    first: tuple[tuple[str, str], ...]
    clutches: tuple[tuple[str, str], ...]
    rounds: tuple[SheetRound, ...]
    overdue: tuple[SheetStop, ...]


def sheet(page: TodayPage, known: Collection[str]) -> SheetPage:
    """The day as it stands now; what is answered is said, so a second print says where it is."""
    view = day(page, Round.MORNING, known)
    rounds = (
        SheetRound(
            each.turn.round.label, _stops([stop_line(page, stop, known) for stop in each.stops])
        )
        for each in page.sheets
    )
    return SheetPage(
        view.heading,
        view.lights,
        (("tonight", view.tonight), ("food", view.food), ("tanks", view.tanks)),
        tuple(
            (card.name, f"{card.be} · {card.said}" if card.be else card.said)
            for card in (*view.clutches, *view.others)
        ),
        tuple(each for each in rounds if each.stops),
        _stops(view.overdue),
    )


def _stops(stops: Sequence[StopLine]) -> tuple[SheetStop, ...]:
    """What lapsed is left out, and a stop with nothing else: no pencil can do it any more."""
    kept = ((stop, [job for job in stop.jobs if job.said != NOT_ANSWERED]) for stop in stops)
    return tuple(SheetStop(stop.label, tuple(map(_job, jobs))) for stop, jobs in kept if jobs)


def _job(job: JobLine) -> SheetJob:
    # What is answered on a page of its own is answered with a figure: a count, litres, animals.
    return SheetJob(job.what, job.is_open, job.said, job.is_open and bool(job.there or job.tap))
