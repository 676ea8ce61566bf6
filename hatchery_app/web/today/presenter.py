"""Today in words: the answers first, then the thread of rounds and the walk."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import time

from markupsafe import Markup

from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.tank.treatment import AGAIN, KIND
from hatchery_app.domain.today.schedule import Round, TaskState
from hatchery_app.domain.when import MONTHS
from hatchery_app.services.today.today import TodayPage
from hatchery_app.services.today.today_food import FirstFood, FoodNeed
from hatchery_app.services.today.tonight import NightWatch
from hatchery_app.web.addresses import address_of
from hatchery_app.web.clutch.presenter import be_there, eggs_of, said_shortly
from hatchery_app.web.drawing import ten_eggs
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.live_food.ahead_presenter import ahead_lines, first_fed_said
from hatchery_app.web.today.nights_presenter import RoomNights, room_nights
from hatchery_app.web.today.tonight_presenter import goes_to, hatching_said, night_said
from hatchery_app.web.today.walk_presenter import PutOff, Tap, come_back, fold_of, put_off, together
from hatchery_app.web.today.work_presenter import (
    RoundItem,
    StopLine,
    round_item,
    round_note,
    stop_line,
)

NIGHTS_SHOWN = 4
ROUNDS_OF_EGGS = (Round.BEFORE_LIGHTS_OFF, Round.TONIGHT, Round.NIGHT)  # tonight stands open
STOPS_SHOWN = 8  # the next ones of the walk; in a long room the rest fold until they come
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


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
class TreatmentDue:
    """A treatment that is due again, and its tank's page."""

    words: str
    url: str


@dataclass(frozen=True)
class TodayView:
    """Today's page. `eggs_next`: the round that is shown is about the eggs of tonight; `opened`:
    the fold of the walk that holds the line the keeper comes back to."""

    heading: str
    lights: str
    night_said: str
    tonight: str
    food: str
    tanks: str
    treatments: tuple[TreatmentDue, ...]
    still_open: str
    rounds: tuple[RoundItem, ...]
    round_word: str
    round_label: str
    round_note: str
    stops: tuple[StopLine, ...]
    further: tuple[StopLine, ...]
    further_said: str
    finished: tuple[StopLine, ...]
    finished_said: str
    overdue: tuple[StopLine, ...]
    together: tuple[Tap, ...]
    put_off: PutOff | None
    opened: str
    let_go: int
    clutches: tuple[ClutchCard, ...]
    others: tuple[ClutchCard, ...]
    foods: tuple[FoodLine, ...]
    first_foods: tuple[str, ...]
    food_ahead: tuple[str, ...]
    food_ahead_url: str
    tank_lines: tuple[str, ...]
    ahead: RoomNights
    refused: str
    is_empty: bool
    eggs_next: bool
    none_tonight: bool


def day(
    page: TodayPage, named: Round, known: Collection[str], refused: str = "", at: str = ""
) -> TodayView:
    """The day at one of its rounds; `known` are the pages that a line may lead to, `at` the line
    whose fold stands open."""
    sheet = page.sheet(named)
    lines = [stop_line(page, stop, known) for stop in sheet.stops]
    finished = tuple(line for line in lines if not any(job.is_open for job in line.jobs))
    count = sum(len(line.jobs) for line in finished)
    ahead = [line for line in lines if line not in finished]
    older = [stop_line(page, stop, known) for stop in page.overdue]
    walked = come_back([*ahead, *older])
    ahead, older = walked[: len(ahead)], walked[len(ahead) :]
    shown = len(ahead) if len(ahead) <= STOPS_SHOWN + 2 else STOPS_SHOWN
    on = page.turn.day
    return TodayView(
        heading=f"{WEEKDAYS[on.weekday()]} {on.day} {MONTH_NAMES[MONTHS[on.month - 1]]}",
        lights=lights_said(page),
        night_said=f"Tonight is the night of {page.tonight.night.said()}.",
        tonight=_tonight_short(page),
        food=_food_short(page),
        tanks=_tanks_short(page),
        treatments=_treatments_due(page),
        still_open=_still_open(page),
        rounds=tuple(round_item(page, each) for each in page.sheets),
        round_word=named.value,
        round_label=named.label,
        round_note=round_note(sheet),
        stops=tuple(ahead[:shown]),
        further=tuple(ahead[shown:]),
        further_said=_further_said(ahead[shown:]),
        finished=finished,
        finished_said=f"{count} answered" if finished else "",
        overdue=tuple(older),
        together=together(ahead),
        put_off=put_off(ahead, page.turn, sheet.turn),
        opened=fold_of(at, finished=finished, further=ahead[shown:]),
        let_go=len(page.to_let_go),
        clutches=tuple(_card(page, watch) for watch in page.tonight.watches),
        others=tuple(
            _card(page, watch) for watch in page.tonight.others
            if watch not in page.nights.clutches  # those have a row among the nights ahead
        ),
        foods=tuple(_food_line(page, need) for need in page.food.needs),
        first_foods=tuple(first_food_said(each) for each in page.food.first),
        food_ahead=ahead_lines(page.ahead),
        food_ahead_url=address_of("live_food.ahead"),
        tank_lines=_tank_lines(page),
        ahead=room_nights(page),
        refused=refused,
        is_empty=not page.stops,
        eggs_next=named in ROUNDS_OF_EGGS,
        none_tonight=not page.tonight.watches and not _floating_soon(page),
    )


MONTH_NAMES = {
    "Jan": "January", "Feb": "February", "Mar": "March", "Apr": "April", "May": "May",
    "Jun": "June", "Jul": "July", "Aug": "August", "Sep": "September", "Oct": "October",
    "Nov": "November", "Dec": "December",
}  # fmt: skip


def _treatments_due(page: TodayPage) -> tuple[TreatmentDue, ...]:
    """The repeats that are open today or since before: among eighty lines of work they drown."""
    everywhere = [stop for sheet in page.sheets for stop in sheet.stops] + [*page.overdue]
    lines = [line for stop in everywhere for line in stop.lines]
    due = [line for line in lines if line.task.kind == KIND and line.is_open]
    return tuple(
        TreatmentDue(
            f"{page.stops[place].label}: {line.task.what.removeprefix(AGAIN)}, "
            f"{_when_due(page, line)}",
            address_of("tank.show", tank_id=place),
        )
        for line in due
        if (place := line.task.place_id) is not None and place in page.stops
    )


def _when_due(page: TodayPage, line: TaskState) -> str:
    if line.turn.day < page.turn.day:
        return "overdue"
    return f"due {line.turn.round.label.lower()}"


def _further_said(ahead: Sequence[StopLine]) -> str:
    """ "32 stops further on, A9 to L20"."""
    if not ahead:
        return ""
    return f"{len(ahead)} stops further on, {ahead[0].label} to {ahead[-1].label}"


# --- The answers, in short ----------------------------------------------------------------


def _floating_soon(page: TodayPage) -> list[NightWatch]:
    """Floating eggs that may hatch within a day: they wait for no night."""
    return [
        watch for watch in page.tonight.others
        if watch.seen.hours is not None and watch.seen.hours.is_soon(page.facts.now)
    ]  # fmt: skip


def _tonight_short(page: TodayPage) -> str:
    watches = page.tonight.watches
    floating = "; ".join(
        f"{watch.name}, floating eggs: {said_shortly(watch.seen, page.room.room_time)}"
        for watch in _floating_soon(page)
    )
    if floating:
        by_night = f"{_by_night(page, watches)}; " if watches else ""
        return f"{by_night}{floating}"
    return _by_night(page, watches)


def _by_night(page: TodayPage, watches: Sequence[NightWatch]) -> str:
    if not watches:
        return "no clutch" if page.tonight.others else "no eggs in the room"
    first, *rest = watches
    hatching = hatching_said(first, page.room.room_time)
    said = f"{first.name}, {hatching or _chance(first)}"
    if first.night is not None and not hatching:
        local = page.room.room_time.local(first.night.watch_from)
        said += f", watch from {local:%H:%M}"
    return said + (f"; and {len(rest)} more" if rest else "")


def _chance(watch: NightWatch) -> str:
    nights = eggs_of(watch.seen.forecast, 1)
    return ten_eggs.chance_words(nights[0]) if nights else "no figure"


def _food_short(page: TodayPage) -> str:
    if not page.food.needs:
        return "no larvae to feed"
    lines = [food_line(need) for need in page.food.needs]
    needs = " · ".join(f"{line.amount.removeprefix('up to ')} {line.unit}" for line in lines)
    at_most = "up to " if any(line.amount.startswith("up to ") for line in lines) else ""
    stands = [f"{need.food} {need.supply.said()}" for need in page.food.needs if need.supply]
    if not stands:
        return f"{at_most}{needs}; what stands ready is not recorded"
    others = [
        f"{line.amount} {line.unit}"
        for need, line in zip(page.food.needs, lines, strict=True)
        if not need.supply
    ]
    return " · ".join([*stands, *others])


def _tanks_short(page: TodayPage) -> str:
    if not page.stops:
        return "no tank stands in the records yet"
    return page.tanks.answer.said() if page.tanks.answer.due else goes_to(page.tonight)


def _still_open(page: TodayPage) -> str:
    earlier = sum(sheet.still_open for sheet in page.sheets if sheet.turn < page.turn)
    parts = [f"{earlier} from earlier rounds"] if earlier else []
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


# --- What the work rests on ---------------------------------------------------------------


def _card(page: TodayPage, watch: NightWatch) -> ClutchCard:
    hatching = hatching_said(watch, page.room.room_time)
    nights = eggs_of(watch.seen.forecast, NIGHTS_SHOWN) if not hatching else []
    return ClutchCard(
        watch.clutch_id, watch.name, be_there(watch.seen),
        hatching or said_shortly(watch.seen, page.room.room_time),
        ten_eggs.row_of_nights(nights, f"Nights of {watch.name}") if nights else Markup(""),
        ten_eggs.numbers(nights, night_said(watch)) if nights else None,
    )  # fmt: skip


def food_line(need: FoodNeed) -> FoodLine:
    """One food: the sum over all tanks, its band, and what is not known about it."""
    parts = []
    if need.tanks:
        parts.append(f"today for {', '.join(need.tanks)}")
    if need.not_looked:
        parts.append(f"a whole fill where nobody looked yet ({', '.join(need.not_looked)})")
    elif need.low != need.high:
        low, high = need.low + need.held, need.high + need.held
        parts.append(f"{two_figures_said(low)}–{two_figures_said(high)}")
    if need.held:
        parts.append(f"{two_figures_said(need.held)} of it held for first fills")
    if need.ml is not None and need.stock_per_ml is not None:
        parts.append(
            f"about {two_figures_said(need.ml)} mL of a stock with "
            f"{two_figures_said(need.stock_per_ml)} per mL"
        )
    up_to = "up to " if need.not_looked else ""
    stands = need.supply.said() if need.supply else "how much stands ready is not recorded"
    said = "; ".join([*parts, stands, *need.gaps])
    return FoodLine(f"{up_to}{two_figures_said(need.best + need.held)}", need.food, said)


def _food_line(page: TodayPage, need: FoodNeed) -> FoodLine:
    """The same, with who is fed first where it lacks today whatever is sieved."""
    line, stands = food_line(need), need.supply
    if stands is None or stands.is_enough or stands.is_unknown or stands.beyond:
        return line
    first = first_fed_said(page.ahead, need.food, page.turn.day)
    return replace(line, said=f"{line.said}; {first}") if first else line


def first_food_said(each: FirstFood) -> str:
    """ "Rusk and Tansy: first food needed from night 6–8; culture density unknown"."""
    first, last = each.nights
    nights = f"{first}" if first == last else f"{first}–{last}"
    amount = f" ({two_figures_said(each.animals)} {each.food})" if each.animals else ""
    return f"{each.name}: first food needed from night {nights}{amount}; {each.standing}"


def _clutches_of(short: int, due: int) -> str:
    """ "1 of 3 clutches has"; where one is due: "The clutch that is due has"."""
    if due == 1:
        return "The clutch that is due has"
    return f"{short} of {due} clutches {'has' if short == 1 else 'have'}"


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
            f"{_clutches_of(answer.short_after_all_steps, answer.due)} no tank even so: leave "
            "the eggs with their parents, or let them go. The choice is yours."
        )
    return tuple(lines)
