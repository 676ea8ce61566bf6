"""Tonight in words: few, large, and read in red."""

from dataclasses import dataclass
from statistics import median
from typing import Any

from markupsafe import Markup

from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome, EggMove
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.shrinkage import usual_delay
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import Night, RoomTime
from hatchery_app.services.live_food.live_food_facts import vessels_say
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.tank.tank_walk import TankStanding
from hatchery_app.services.today import tonight
from hatchery_app.web.clutch.presenter import be_there, eggs_of
from hatchery_app.web.drawing import ten_eggs
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.today.forms import GONE

NIGHTS_SHOWN = 4
ANSWER_WORDS = {
    "clutch_check": "nothing yet", "hatch": "hatching", "eggs_moved": "pulled",
}  # fmt: skip


@dataclass(frozen=True)
class Neighbour:
    """The clutch before or after this one on tonight's list."""

    clutch_id: int
    name: str


@dataclass(frozen=True)
class Last:
    """The last answer, to be taken back."""

    fact_id: int
    said: str


@dataclass(frozen=True)
class ClutchPage:
    """One clutch tonight."""

    heading: str
    clutch_id: int
    place: str
    night_said: str
    be: str
    nights: Markup
    numbers: Numbers | None
    facts: tuple[tuple[str, str], ...]
    clock: str
    looked: str
    is_pulled: bool
    hatching: str
    place_of_all: str
    before: Neighbour | None
    after: Neighbour | None
    last: Last | None
    refused: str


@dataclass(frozen=True)
class QuietLine:
    """A clutch whose night it is not yet."""

    clutch_id: int
    name: str
    place: str
    said: str


@dataclass(frozen=True)
class QuietPage:
    """A night on which no clutch is watched."""

    heading: str
    night_said: str
    clutches: tuple[QuietLine, ...]
    last: Last | None


@dataclass(frozen=True)
class TankTap:
    """A tank to put the tile into."""

    tank_id: int
    label: str
    said: str


@dataclass(frozen=True)
class PulledPage:
    """Into which tank the tile goes."""

    heading: str
    clutch_id: int
    warning: str
    tanks: tuple[TankTap, ...]
    form: Any


@dataclass(frozen=True)
class GonePage:
    """How the eggs went."""

    heading: str
    clutch_id: int
    outcomes: tuple[ClutchOutcome, ...]
    form: Any


def clutch(
    found: tonight.Tonight, each: tonight.NightWatch, room: RoomNow, refused: str = ""
) -> ClutchPage:
    """One clutch's screen."""
    nights = eggs_of(each.seen.forecast, NIGHTS_SHOWN) if not each.hatched else []
    place = each.seen.clutch.place
    shown = (*found.watches, *(o for o in found.others if o.clutch_id == each.clutch_id))
    at = [other.clutch_id for other in shown].index(each.clutch_id)
    return ClutchPage(
        heading=each.name,
        clutch_id=each.clutch_id,
        place=f"{place.tank_label} · {each.seen.clutch.name}",
        night_said=night_said(each),
        be=be_there(each.seen) if not each.hatched else "",
        nights=ten_eggs.row_of_nights(nights, f"Nights of {each.name}") if nights else Markup(""),
        numbers=ten_eggs.numbers(nights, each.name) if nights else None,
        facts=_facts(found, each, room),
        clock=_clock(found.now, room.room_time),
        looked=_looked_tonight(each, room.room_time),
        is_pulled=place.why is EggMove.PULLED,
        hatching=_clock(each.hatched.when.latest, room.room_time) if each.hatched else "",
        place_of_all=f"{at + 1} of {len(shown)}" if len(shown) > 1 else "",
        before=_neighbour(shown[at - 1]) if at > 0 else None,
        after=_neighbour(shown[at + 1]) if at + 1 < len(shown) else None,
        last=_last(found, room.room_time),
        refused=refused,
    )  # fmt: skip


def night_said(each: tonight.NightWatch) -> str:
    """ "Tonight is the night of Thu 19 Nov, night 5. Expected night 6–8, most likely 7."."""
    said = f"Tonight is the night of {each.seen.tonight.said(each.seen.laid_night)}."
    forecast = each.seen.forecast
    if each.hatched is not None or forecast is None or forecast.window is None:
        return said  # what is hatching is not expected any more
    first, last = forecast.window
    expected = forecast.window_said
    if first == last:
        expected = expected.partition(",")[0]  # "night 7", not "night 7, most likely 7"
    return f"{said} Expected {expected}."


def hatching_said(each: tonight.NightWatch, room_time: RoomTime) -> str:
    """ "hatching since 20:31" of a clutch of which a part hatches this night; else ""."""
    if each.hatched is None:
        return ""
    return f"hatching since {_clock(each.hatched.when.latest, room_time)}"


def quiet(found: tonight.Tonight, room: RoomNow) -> QuietPage:
    """The clutches that wait, each with its night."""
    return QuietPage(
        "No clutch is watched tonight" if found.others else "No eggs in the room",
        f"Tonight is the night of {found.night.said()}.",
        tuple(
            QuietLine(
                each.clutch_id, each.name, each.seen.clutch.place.tank_label, _waits(each)
            )
            for each in found.others
        ),
        _last(found, room.room_time),
    )


def pulled(found: tonight.Tonight, each: tonight.NightWatch, form: Any) -> PulledPage:
    """The tanks a tile may go into: vessels and larval tanks, the ready ones first."""
    offered = [
        stop for stop in found.walk.stops
        if stop.role in (TankRole.LARVAL, TankRole.VESSEL) and stop.state is not TankState.BARRED
    ]  # fmt: skip
    offered.sort(key=lambda stop: stop.state is not TankState.READY)
    return PulledPage(
        f"{each.name}: into which tank?", each.clutch_id, _early(each),
        tuple(TankTap(stop.tank_id, stop.label, _stands(stop)) for stop in offered), form,
    )  # fmt: skip


def gone(each: tonight.NightWatch, form: Any) -> GonePage:
    """How the eggs went, one tap each."""
    return GonePage(
        f"{each.name}: no eggs left", each.clutch_id,
        GONE, form,
    )  # fmt: skip


def refused_said(form: Any) -> str:
    """Why an answer was not saved, in one line."""
    asked = form.asked.sentence if form.asked else ""
    beside = [sentence for errors in form.errors.values() for sentence in errors]
    return form.sentence or asked or " ".join(str(sentence) for sentence in beside)


def _facts(
    found: tonight.Tonight, each: tonight.NightWatch, room: RoomNow
) -> tuple[tuple[str, str], ...]:
    pairs = (
        ("usually", _usually(each)),
        ("look again", _look_again(each, room.room_time)),
        ("goes to", goes_to(found, each)),
        ("first food", _first_food(found, each, room.room_time)),
    )
    return tuple((word, said) for word, said in pairs if said)


def _usually(each: tonight.NightWatch) -> str:
    delays = each.learned.delays_minutes
    if not delays:
        return ""
    count = f"{len(delays)} hatch{'es' if len(delays) > 1 else ''}"
    return f"{round(usual_delay(delays).mean)} min after dark ({count})"


def _looked_tonight(each: tonight.NightWatch, room_time: RoomTime) -> str:
    """The hour of tonight's last look that saw none; "" before the first."""
    looks = [
        check.when.latest
        for check in each.seen.clutch.checks
        if check.kind is CheckKind.WATCHED_NONE and check.night == each.seen.tonight
    ]
    return _clock(max(looks), room_time) if looks else ""


def _look_again(each: tonight.NightWatch, room_time: RoomTime) -> str:
    if each.looks is None:
        return "its hours are over: look at the eggs by day" if each.is_dark else ""
    every = round(each.looks.every.total_seconds() / 60)
    until = _clock(each.looks.until, room_time)
    return f"{_clock(each.looks.next_at, room_time)}, then every {every} min to {until}"


def goes_to(found: tonight.Tonight, each: tonight.NightWatch | None = None) -> str:
    """The ready tanks and that of its siblings of the night before, or what could be ready."""
    with_siblings = " or ".join(_with_siblings(one) for one in each.siblings) if each else ""
    if found.walk.ready:
        ready = ", ".join(stop.label for stop in found.walk.ready) + ", filled and matched"
        return f"{ready}; or {with_siblings}" if with_siblings else ready
    if with_siblings:
        return with_siblings
    could = found.walk.could_be
    if could:
        first = could[0]
        return f"no tank is ready; {first.label} is {first.state}: {first.steps_to_ready}"
    return "no larval tank is free: leave them with the parents, or move fish first"


def _with_siblings(one: tonight.Siblings) -> str:
    litres = f" in {one.litres:g} L" if one.litres else ""
    number = one.number.said() if one.number.is_known else "number not known"
    return f"{one.label}, with its siblings ({number}{litres})"


def _first_food(
    found: tonight.Tonight, each: tonight.NightWatch, room_time: RoomTime
) -> str:
    tanks = found.walk.ready or (() if each.siblings else found.walk.could_be)
    litres = tanks[0].litres if tanks else 0.0
    tank = tanks[0].label if tanks else ""
    if not tanks and not each.siblings and found.walk.larval:
        litres = median(stop.litres for stop in found.walk.larval)  # whichever is made free
        tank = f"a tank of {litres:g} L"
    fill = tonight.first_fill(each.seen.species, litres) if litres else None
    if fill is None:
        return ""
    amount = f"{two_figures_said(fill[1])} {fill[0]} for {tank}"
    if each.food_held_since is None:
        stands = vessels_say(found.cultures, fill[0])
        return f"{amount}; {stands or 'nobody said that they are held'}"
    return f"{amount}, held since {_clock(each.food_held_since, room_time)}"


def _waits(each: tonight.NightWatch) -> str:
    forecast = each.seen.forecast
    said = f"night {each.seen.night_number}"
    if forecast is None:
        return f"{said} · not forecast by the night"
    if forecast.prepare_from is not None:
        laid: Night = each.seen.laid_night
        said += f" · prepare from {forecast.prepare_from.said(laid)}"
    return said


def _early(each: tonight.NightWatch) -> str:
    """A warning where this is before the first night to prepare for; pulling is still taken."""
    forecast = each.seen.forecast
    if forecast is None or forecast.prepare_from is None:
        return ""
    if each.seen.tonight >= forecast.prepare_from:
        return ""
    return (
        f"{night_said(each)} Pulled now they lie without their parents "
        "for the nights until then."
    )


def _stands(stop: TankStanding) -> str:
    lives = f" · {stop.living.words}" if stop.living.words else ""
    return f"{stop.litres:g} L · {stop.state}{lives}"


def _neighbour(each: tonight.NightWatch) -> Neighbour:
    return Neighbour(each.clutch_id, each.name)


def _last(found: tonight.Tonight, room_time: RoomTime) -> Last | None:
    if found.last is None:
        return None
    word = ANSWER_WORDS.get(found.last.kind, found.last.kind)
    return Last(found.last.fact_id, f"{word} {_clock(found.last.at, room_time)}")


def _clock(at: Any, room_time: RoomTime) -> str:
    return f"{room_time.local(at):%H:%M}"
