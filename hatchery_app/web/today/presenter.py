"""Today in words: the answers first, then the thread of rounds and the walk."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import time

from markupsafe import Markup

from hatchery_app.domain.live_food import two_figures_said
from hatchery_app.domain.schedule import Outcome, Round, RoundSheet, State, Stop, TaskState
from hatchery_app.domain.when import MONTHS
from hatchery_app.services.today import TodayPage, answer_words
from hatchery_app.services.today_food import FirstFood, FoodNeed
from hatchery_app.services.tonight import NightWatch
from hatchery_app.web.clutch.presenter import be_there, eggs_of, said_shortly
from hatchery_app.web.drawing import ten_eggs
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.today.tonight_presenter import goes_to, night_said

NIGHTS_SHOWN = 4
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
ASIDE = (State.PUT_OFF, State.SKIPPED, State.LAPSED)
FINISHED = (State.DONE, State.DONE_DIFFERENTLY, *ASIDE)
# Where a line's own page is: its endpoint and what the fact is called in the address.
OPENS = {
    "look_at_eggs": ("clutch.check", "clutch_id"),
    "say_night": ("clutch.show", "clutch_id"),
    "prepare_tank": ("clutch.show", "clutch_id"),
    "hold_first_fill": ("clutch.show", "clutch_id"),
    "hatch_watch": ("today.tonight_clutch", "clutch_id"),
    "count_larvae": ("larval_tank.count", "holding_id"),
    "settlement_look": ("larval_tank.settled", "holding_id"),
    "look_for_dead": ("larval_tank.left", "holding_id"),
    "count_cohort": ("cohort.count", "holding_id"),
    "clean_tank": ("tank.show", "tank_id"),
    "fill_tank": ("tank.show", "tank_id"),
    "match_water": ("tank.show", "tank_id"),
}


@dataclass(frozen=True)
class Link:
    """Words that lead somewhere: an endpoint and what it needs; "" leads nowhere."""

    endpoint: str
    facts: dict[str, int]


@dataclass(frozen=True)
class RoundItem:
    """One round on the thread."""

    label: str
    count: str
    word: str
    state: str


@dataclass(frozen=True)
class JobLine:
    """One line of work."""

    what: Markup
    why: str
    state: str
    said: str
    task: str
    is_open: bool
    opens: Link | None


@dataclass(frozen=True)
class StopLine:
    """One stop with its work."""

    label: str
    tank: Link | None
    lives: str
    state: str
    jobs: tuple[JobLine, ...]


@dataclass(frozen=True)
class ClutchCard:
    """One clutch on Today: what to do about it, and its next nights."""

    clutch_id: int
    name: str
    be: str
    said: str
    nights: Markup
    numbers: Numbers | None


@dataclass(frozen=True)
class FoodLine:
    """One food: how much, and what that rests on."""

    amount: str
    unit: str
    said: str


@dataclass(frozen=True)
class TodayView:
    """Today's page."""

    heading: str
    lights: str
    night_said: str
    tonight: str
    food: str
    tanks: str
    still_open: str
    rounds: tuple[RoundItem, ...]
    round_word: str
    round_label: str
    round_note: str
    stops: tuple[StopLine, ...]
    finished: tuple[StopLine, ...]
    finished_said: str
    overdue: tuple[StopLine, ...]
    let_go: int
    clutches: tuple[ClutchCard, ...]
    others: tuple[ClutchCard, ...]
    foods: tuple[FoodLine, ...]
    first_foods: tuple[str, ...]
    tank_lines: tuple[str, ...]
    refused: str


def day(page: TodayPage, named: Round, known: Collection[str], refused: str = "") -> TodayView:
    """The day at one of its rounds; `known` are the pages that a line may lead to."""
    sheet = page.sheet(named)
    lines = [_stop(page, stop, known) for stop in sheet.stops]
    finished = tuple(line for line in lines if not any(job.is_open for job in line.jobs))
    count = sum(len(line.jobs) for line in finished)
    on = page.turn.day
    return TodayView(
        heading=f"{WEEKDAYS[on.weekday()]} {on.day} {MONTH_NAMES[MONTHS[on.month - 1]]}",
        lights=lights_said(page),
        night_said=f"Tonight is the night of {page.tonight.night.said()}.",
        tonight=_tonight_short(page),
        food=_food_short(page),
        tanks=_tanks_short(page),
        still_open=_still_open(page),
        rounds=tuple(_round(page, each) for each in page.sheets),
        round_word=named.value,
        round_label=named.label,
        round_note=_round_note(sheet),
        stops=tuple(line for line in lines if line not in finished),
        finished=finished,
        finished_said=f"{count} answered" if finished else "",
        overdue=tuple(_stop(page, stop, known) for stop in page.overdue),
        let_go=len(page.to_let_go),
        clutches=tuple(_card(page, watch) for watch in page.tonight.watches),
        others=tuple(_card(page, watch) for watch in page.tonight.others),
        foods=tuple(food_line(need) for need in page.food.needs),
        first_foods=tuple(first_food_said(each) for each in page.food.first),
        tank_lines=_tank_lines(page),
        refused=refused,
    )


MONTH_NAMES = {
    "Jan": "January", "Feb": "February", "Mar": "March", "Apr": "April", "May": "May",
    "Jun": "June", "Jul": "July", "Aug": "August", "Sep": "September", "Oct": "October",
    "Nov": "November", "Dec": "December",
}  # fmt: skip


# --- The answers, in short ----------------------------------------------------------------


def _tonight_short(page: TodayPage) -> str:
    watches = page.tonight.watches
    if not watches:
        return "no clutch" if page.tonight.others else "no eggs in the room"
    first, *rest = watches
    said = f"{first.name}, {_chance(first)}"
    if first.night is not None:
        local = page.room.room_time.local(first.night.watch_from)
        said += f", watch from {local:%H:%M}"
    return said + (f"; and {len(rest)} more" if rest else "")


def _chance(watch: NightWatch) -> str:
    night = watch.night
    if night is None:
        return "no figure"
    return ten_eggs.chance_words(ten_eggs.NightChance("tonight", night.chance))


def _food_short(page: TodayPage) -> str:
    if not page.food.needs:
        return "no larvae to feed"
    needs = [f"{two_figures_said(need.best + need.held)} {need.food}" for need in page.food.needs]
    return ", ".join(needs) + "; whether there is enough is not recorded"


def _tanks_short(page: TodayPage) -> str:
    return page.tanks.answer.said() if page.tanks.answer.due else goes_to(page.tonight)


def _still_open(page: TodayPage) -> str:
    parts = [
        f"{sheet.still_open} of {sheet.turn.round.label.lower()}"
        for sheet in page.sheets
        if sheet.turn < page.turn and sheet.still_open
    ]
    before = sum(len(stop.lines) for stop in page.overdue)
    if before:
        parts.append(f"{before} from before today")
    return ", ".join(parts)


def lights_said(page: TodayPage) -> str:
    """ "lights off 20:00; rack C 21:00": the room's lamp, and the racks that differ from it."""
    room, now = page.room, page.facts.now
    own = room.lights(now)
    differing: dict[time, list[str]] = {}
    for rack in sorted({stop.rack for stop in page.facts.walk.stops if stop.rack}):
        lights = room.lamps.over(now, rack=rack)
        if lights.off != own.off:
            differing.setdefault(lights.off, []).append(rack)
    racks = "".join(
        f"; rack {' and '.join(names)} {off:%H:%M}" for off, names in sorted(differing.items())
    )
    return f"lights off {own.off:%H:%M}{racks}"


# --- Rounds and the walk ------------------------------------------------------------------


def _round(page: TodayPage, sheet: RoundSheet) -> RoundItem:
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


def _round_note(sheet: RoundSheet) -> str:
    return f"{_round_count(sheet)} · in walking order" if sheet.stops else ""


def _stop(page: TodayPage, stop: Stop, known: Collection[str]) -> StopLine:
    standing = page.stops.get(stop.place_id) if stop.place_id is not None else None
    jobs = tuple(_job(page, line, known) for line in stop.lines)
    lives = ""
    if standing is not None:
        lives = f"{standing.litres:g} L · {standing.living.words or standing.state}"
    return StopLine(
        standing.label if standing is not None else "Room",
        _link("tank.show", {"tank_id": standing.tank_id}, known) if standing else None,
        lives,
        _stop_state(stop.lines),
        jobs,
    )


def _stop_state(lines: Sequence[TaskState]) -> str:
    if any(line.state is State.OVERDUE for line in lines):
        return "overdue"
    if any(line.is_open for line in lines):
        return "due"
    return "aside" if all(line.state in ASIDE for line in lines) else "done"


def _job(page: TodayPage, line: TaskState, known: Collection[str]) -> JobLine:
    task = line.task
    what = Markup("{}").format(task.what)
    if task.quantity is not None:
        what = Markup("{} <b>{}</b>").format(task.what, task.quantity.said())
    return JobLine(
        what=what,
        why=task.why,
        state=_job_state(line),
        said=answer_said(page, line),
        task=str(task.name),
        is_open=line.is_open,
        opens=_opens(page, line, known),
    )


def _job_state(line: TaskState) -> str:
    if line.is_open:
        return str(line.state)
    return "aside" if line.state in ASIDE else "done"


def answer_said(page: TodayPage, line: TaskState) -> str:
    """ "✓ 17:20", "put off until tomorrow morning", "skipped: no time", "not answered"."""
    if line.state is State.LAPSED:
        return "not answered"
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
        told = {hatch.hatch_id: hatch.clutch_id for hatch in page.facts.to_tell}
        return _link("clutch.show", {"clutch_id": told.get(task.fact_id, 0)}, known)
    if task.kind.startswith(("count_", "top_up_")) and task.kind not in OPENS:
        return _link("larval_tank.prey", {"holding_id": task.fact_id}, known)
    found = OPENS.get(task.kind)
    return _link(found[0], {found[1]: task.fact_id}, known) if found else None


def _link(endpoint: str, facts: dict[str, int], known: Collection[str]) -> Link | None:
    return Link(endpoint, facts) if endpoint in known else None


# --- What the work rests on ---------------------------------------------------------------


def _card(page: TodayPage, watch: NightWatch) -> ClutchCard:
    nights = eggs_of(watch.seen.forecast, NIGHTS_SHOWN)
    return ClutchCard(
        watch.clutch_id, watch.name, be_there(watch.seen),
        said_shortly(watch.seen, page.room.room_time),
        ten_eggs.row_of_nights(nights, f"Nights of {watch.name}") if nights else Markup(""),
        ten_eggs.numbers(nights, night_said(watch, "")) if nights else None,
    )  # fmt: skip


def food_line(need: FoodNeed) -> FoodLine:
    """One food: the sum over all tanks, its band, and what is not known about it."""
    parts = []
    if need.tanks:
        parts.append(f"today for {', '.join(need.tanks)}")
    if need.held:
        parts.append(f"{two_figures_said(need.held)} of it held for a first fill tonight")
    if need.low != need.high:
        band = f"{two_figures_said(need.low + need.held)}–{two_figures_said(need.high + need.held)}"
        parts.append(f"between {band}")
    if need.not_looked:
        parts.append(f"a whole fill where nobody looked yet: {', '.join(need.not_looked)}")
    stock = "how much stands ready is not recorded"
    if need.ml is not None and need.stock_per_ml is not None:
        stock = (
            f"about {two_figures_said(need.ml)} mL of a stock with "
            f"{two_figures_said(need.stock_per_ml)} per mL; {stock}"
        )
    return FoodLine(
        two_figures_said(need.best + need.held), need.food, "; ".join([*parts, stock])
    )


def first_food_said(each: FirstFood) -> str:
    """ "Rusk and Tansy: first food needed from night 6–8; culture density unknown"."""
    first, last = each.nights
    nights = f"{first}" if first == last else f"{first}–{last}"
    amount = f" ({two_figures_said(each.animals)} {each.food})" if each.animals else ""
    return f"{each.name}: first food needed from night {nights}{amount}; {each.standing}"


def _tank_lines(page: TodayPage) -> tuple[str, ...]:
    answer = page.tanks.answer
    lines = []
    if answer.ready:
        lines.append(f"Ready: {', '.join(answer.ready)}.")
    lines += [
        f"{way.label} could be ready if: {', then '.join(way.steps)} (about {way.hours:g} h)."
        for way in answer.ready_if
    ]
    if answer.not_tonight and answer.short:
        lines.append(f"Not tonight: {', '.join(answer.not_tonight)}.")
    lines += [f"Barred, {barred}." for barred in answer.barred]
    lines += [
        f"{watch.name} could stay with the parents another night: {_chance(watch)} tonight."
        for watch in page.tanks.may_stay
    ]
    if answer.short_after_all_steps:
        lines.append(
            f"{answer.short_after_all_steps} of {answer.due} stay without a tank even so: leave "
            "the eggs with their parents, or let them go. The choice is yours."
        )
    return tuple(lines)
