"""The work of a day in words: the thread of rounds, the stops of the walk, the lines at each."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from hatchery_app.domain.live_food.shrimp_ahead import START_KINDS
from hatchery_app.domain.today.schedule import (
    Outcome,
    Quantity,
    Round,
    RoundSheet,
    State,
    Stop,
    TaskState,
)
from hatchery_app.services.today.today import TodayPage, answer_words
from hatchery_app.web.today.tap_presenter import JobTap, figure, tap_of

NOT_ANSWERED = "not answered"
ASIDE = (State.PUT_OFF, State.SKIPPED, State.LAPSED)
# Where a line's own page is: its endpoint and what the fact is called in the address.
OPENS = {
    "look_at_eggs": ("clutch.check", "clutch_id"),
    "say_night": ("clutch.show", "clutch_id"),
    "prepare_tank": ("clutch.show", "clutch_id"),
    "hold_first_fill": ("clutch.show", "clutch_id"),
    "ready_for_young": ("clutch.show", "clutch_id"),
    "look_for_young": ("clutch.show", "clutch_id"),
    "hatch_watch": ("today.tonight_clutch", "clutch_id"),
    "count_larvae": ("larval_tank.count", "holding_id"),
    "settlement_look": ("larval_tank.settled", "holding_id"),
    "look_for_dead": ("larval_tank.left", "holding_id"),
    "count_cohort": ("cohort.count", "cohort_id"),
    "grade_cohort": ("cohort.show", "cohort_id"),
    "feed_cohort": ("cohort.show", "cohort_id"),
    "count_culture": ("live_food.count", "tank_id"),
    "sieve_culture": ("live_food.harvest", "tank_id"),
    "feed_culture": ("live_food.feed", "tank_id"),
    "clean_tank": ("tank.show", "tank_id"),
    "fill_tank": ("tank.show", "tank_id"),
    "match_water": ("tank.show", "tank_id"),
}

# The field of that page which opens with the line's own amount.
WITH_AMOUNT = {"sieve_culture": "litres", "feed_culture": "amount"}

# Lines that are answered on their own page: what the button says instead of Done.
ANSWERED_THERE = {
    "hatch_watch": "Go there", "say_night": "Look", "say_hatched": "Say", "say_young": "Say",
    "count_culture": "Count", "sieve_culture": "Sieve", "feed_culture": "Feed",
    "count_larvae": "Count", "count_cohort": "Count",
}  # fmt: skip


@dataclass(frozen=True)
class Link:
    """Words that lead somewhere: an endpoint and what it needs; "" leads nowhere."""

    endpoint: str
    facts: dict[str, int | str]


@dataclass(frozen=True)
class RoundItem:
    """One round on the thread."""

    label: str
    count: str
    word: str
    state: str


@dataclass(frozen=True)
class JobLine:
    """One line of work. `tasks` are the names that Done answers, `task` that of its other page.

    `tap` writes down what was done, and so answers the line. `then` is the line that the page
    comes back to: the next open one, "" where none is left, this one where it is answered.
    """

    what: Markup
    why: str
    state: str
    said: str
    task: str
    tasks: str
    is_open: bool
    repeats: bool
    opens: Link | None
    there: str
    tap: JobTap | None = None
    then: str = ""


@dataclass(frozen=True)
class StopLine:
    """One stop with its work. `all_of` are the names of what comes again here and is open;
    `then` is the line that the page comes back to after that tap."""

    label: str
    tank: Link | None
    lives: str
    state: str
    jobs: tuple[JobLine, ...]
    all_of: str
    how_many: int
    then: str = ""


def round_item(page: TodayPage, sheet: RoundSheet) -> RoundItem:
    """One round on the thread, with what is done of it."""
    state = "now" if sheet.turn == page.turn else "past" if sheet.turn < page.turn else "ahead"
    count = _round_count(sheet)
    if sheet.turn.round is Round.TONIGHT and page.tonight.watches:
        clutches = len(page.tonight.watches)
        count = f"{clutches} clutch{'es' if clutches > 1 else ''}"
    return RoundItem(sheet.turn.round.label.lower(), count, sheet.turn.round.value, state)


def _round_count(sheet: RoundSheet) -> str:
    lines = [line for stop in sheet.stops for line in stop.lines]
    if not lines:
        return "nothing"
    done = sum(line.state in (State.DONE, State.DONE_DIFFERENTLY) for line in lines)
    aside = sum(line.state in (State.PUT_OFF, State.SKIPPED) for line in lines)
    return f"{done} of {len(lines)}" + (f", {aside} put off or skipped" if aside else "")


def round_note(sheet: RoundSheet) -> str:
    """ "3 of 9 · in walking order"."""
    return f"{_round_count(sheet)} · in walking order" if sheet.stops else ""


def stop_line(page: TodayPage, stop: Stop, known: Collection[str]) -> StopLine:
    """One stop of the walk: what lives there and what is to be done."""
    standing = page.stops.get(stop.place_id) if stop.place_id is not None else None
    jobs = _jobs(page, stop, known)
    again = [job for job in jobs if job.is_open and job.repeats and not job.there and not job.tap]
    lives = ""
    if standing is not None:
        lives = f"{standing.litres:g} L · {standing.living.words or standing.state_said}"
    return StopLine(
        standing.label if standing is not None else "Room",
        _link("tank.show", {"tank_id": standing.tank_id}, known) if standing else None,
        lives,
        _stop_state(stop.lines),
        jobs,
        " ".join(job.tasks for job in again),
        len(again),
    )


def _stop_state(lines: Sequence[TaskState]) -> str:
    if any(line.state is State.OVERDUE for line in lines):
        return "overdue"
    if any(line.is_open for line in lines):
        return "due"
    return "aside" if all(line.state in ASIDE for line in lines) else "done"


def _jobs(page: TodayPage, stop: Stop, known: Collection[str]) -> tuple[JobLine, ...]:
    """The lines of a stop; a count and the top-up that waits for it are one line, one tap."""
    counts = {line.task.kind.removeprefix("count_") for line in stop.lines if line.is_open}
    waiting = {
        food: line
        for line in stop.lines
        if (food := line.task.kind.removeprefix("top_up_")) != line.task.kind
        and food in counts and line.is_open and line.task.quantity is None
    }  # fmt: skip
    jobs = []
    for line in stop.lines:
        top_up = waiting.get(line.task.kind.removeprefix("count_"))
        if line in waiting.values():
            continue
        jobs.append(
            _job(page, line, known) if top_up is None
            else _counted_then_topped_up(page, line, top_up, known)
        )  # fmt: skip
    return tuple(jobs)


def _counted_then_topped_up(
    page: TodayPage, count: TaskState, top_up: TaskState, known: Collection[str]
) -> JobLine:
    job = _job(page, count, known)
    wanted = count.task.why.removesuffix(" wanted")
    what = Markup("{}, then top up to <b>{}</b>").format(
        count.task.what.removesuffix(", or look"), wanted
    )
    why = f"a look is a count too; {top_up.task.why.removeprefix('count first; ')}"
    names = f"{count.task.name} {top_up.task.name}"
    return replace(job, what=what, why=why, tasks=names, tap=tap_of(page, top_up, known))


def _amount(quantity: Quantity) -> str:
    if quantity.unit.startswith("meal"):
        return f"{quantity.amount:g} {quantity.unit}"  # meals are counted, not measured
    return quantity.said()


def _job(page: TodayPage, line: TaskState, known: Collection[str]) -> JobLine:
    task = line.task
    what = Markup("{}").format(task.what)
    if task.quantity is not None:
        what = Markup("{} <b>{}</b>").format(task.what, _amount(task.quantity))
    return JobLine(
        what=what,
        why=task.why,
        state=_job_state(line),
        said=answer_said(page, line),
        task=str(task.name),
        tasks=str(task.name),
        is_open=line.is_open,
        repeats=task.repeats,
        opens=_opens(page, line, known),
        there=ANSWERED_THERE.get(task.kind, ""),
        tap=tap_of(page, line, known),
    )


def _job_state(line: TaskState) -> str:
    if line.is_open:
        return str(line.state)
    return "aside" if line.state in ASIDE else "done"


def answer_said(page: TodayPage, line: TaskState) -> str:
    """ "✓ 17:20", "put off until tomorrow morning", "skipped: no time", "not answered"."""
    if line.state is State.LAPSED:
        return NOT_ANSWERED
    if line.answer is None or line.is_open:
        return ""
    words = answer_words(line)
    if line.state is State.PUT_OFF:
        return f"put off until {turn_said(page, line)}"
    if line.answer.outcome is Outcome.SKIPPED:
        return f"skipped: {words}"
    clock = f"✓ {page.room.room_time.local(line.answer.at):%H:%M}"
    return f"{clock}, {words}" if words else clock


def turn_said(page: TodayPage, line: TaskState) -> str:
    """The round a line waits for: "midday", "tomorrow, morning"."""
    later = "" if line.turn.day == page.turn.day else "tomorrow, "
    return f"{later}{line.turn.round.label.lower()}"


def _opens(page: TodayPage, line: TaskState, known: Collection[str]) -> Link | None:
    task = line.task
    if task.kind == "say_hatched":
        return _link("larval_tank.put", {"hatch_id": task.fact_id}, known)
    if task.kind == "check_timers":
        return _link("records.lamps", {}, known)
    if task.kind == "treat" and task.place_id is not None:
        return _link("tank.show", {"tank_id": task.place_id}, known)
    if task.kind == "say_young":
        return _link("cohort.young", {}, known)
    if task.kind.startswith(("count_", "top_up_")) and task.kind not in OPENS:
        return _link("larval_tank.prey", {"holding_id": task.fact_id}, known)
    if task.kind in START_KINDS.values():
        return _link("live_food.ahead", {}, known)
    found = OPENS.get(task.kind)
    facts: dict[str, int | str] = {found[1]: task.fact_id} if found else {}
    if task.kind in WITH_AMOUNT and task.quantity is not None:
        facts[WITH_AMOUNT[task.kind]] = figure(task.quantity.amount)
    return _link(found[0], facts, known) if found else None


def _link(endpoint: str, facts: dict[str, int | str], known: Collection[str]) -> Link | None:
    return Link(endpoint, facts) if endpoint in known else None
