"""The dark of the room on the page: after lights-off every screen turns dim and red, because
white light stops a hatch. The keeper can turn it by hand for this device."""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache

from flask import Flask, g, redirect, request, session
from flask_wtf.csrf import generate_csrf
from werkzeug.wrappers import Response

from hatchery_app import clock
from hatchery_app.domain.life_cycle import ROOMS as LIFE
from hatchery_app.domain.when import dark_window, is_dark, night_of
from hatchery_app.web import door

BY_HAND = "screen"
IN_THE_BAR = ("today", "clutch", "larval_tank", "live_food", "cohort", "broodstock", "tank",
              "stock_book", "records")  # fmt: skip
CALLED = {"today": "Today", "clutch": "Clutches", "larval_tank": "Larval tanks",
          "live_food": "Live food", "cohort": "Cohorts", "broodstock": "Broodstock",
          "tank": "Tanks and water", "species": "Species", "stock_book": "Stock book",
          "records": "Records"}  # fmt: skip


@dataclass(frozen=True)
class NavLink:
    """One room in the bar."""

    label: str
    url: str
    current: bool


@dataclass(frozen=True)
class RoomBar:
    """What every page shows of the room. `turns_at` is when the screen next changes by itself."""

    name: str
    clock_text: str
    night: bool
    by_hand: bool
    turns_at: str
    nav: tuple[NavLink, ...]
    demo: bool
    keeper: str


def setup(app: Flask) -> None:
    """Give every template its `room`, and take the switch between day and red."""
    app.context_processor(_given)
    # Global, so that macros find them without being imported "with context".
    app.add_template_global(generate_csrf, "csrf_token")
    app.add_template_global(_fresh_key, "fresh_key")
    app.add_template_global(is_red, "is_red")
    app.add_url_rule("/screen", "screen", turn_screen, methods=["POST"])


def _given() -> dict[str, object]:
    return {"room": room_bar(), "red": is_red()}


def _fresh_key() -> str:
    return secrets.token_urlsafe(18)


def is_red() -> bool:
    """Whether this screen is red: by hand, else by the room's lamps; also before signing in."""
    if "is_red" not in g:
        g.is_red = _is_red()
    found: bool = g.is_red
    return found


def _is_red() -> bool:
    by_hand = session.get(BY_HAND)
    if by_hand is not None:
        return bool(by_hand == "red")
    room = g.get("room")
    return room is not None and is_dark(g.now, room.lights(g.now), room.room_time)


def room_bar() -> RoomBar | None:
    """The bar of this request, None where the room or the keeper is not known."""
    if g.get("room") is None or g.get("keeper") is None:
        return None
    now: datetime = g.now
    room = g.room
    local = room.room_time.local(now)
    return RoomBar(
        name=room.name,
        clock_text=local.strftime("%H:%M"),
        night=is_red(),
        by_hand=BY_HAND in session,
        turns_at=_next_turn(now).isoformat(),
        nav=_nav(request.blueprint or "", request.script_root),
        demo=_settings_demo(),
        keeper=g.keeper.name,
    )


def turn_screen() -> Response:
    """Turn this device's screen red, bright, or back to following the lamps."""
    wanted = request.form.get("to", "")
    if wanted in ("red", "day"):
        session[BY_HAND] = wanted
    else:
        session.pop(BY_HAND, None)
    return redirect(door.within(request.form.get("back", "/")), 303)


def _next_turn(now: datetime) -> datetime:
    room = g.room
    lights = room.lights(now)
    night = night_of(now, lights, room.room_time)
    off, on = dark_window(night, lights, room.room_time)
    if now < off:
        return off
    return on if now < on else now + timedelta(days=1)


@lru_cache(maxsize=64)
def _nav(here: str, _root: str) -> tuple[NavLink, ...]:
    from hatchery_app.web import ROOMS

    address = {room.word: room.address for room in LIFE}
    return tuple(
        NavLink(CALLED[word], "/" if word == "today" else address[word], word == here)
        for word in IN_THE_BAR
        if word in ROOMS
    )


def _settings_demo() -> bool:
    from hatchery_app.web.door import settings

    return settings().demo


def now() -> datetime:
    """The moment of this request."""
    found: datetime = g.get("now") or clock.now()
    return found
