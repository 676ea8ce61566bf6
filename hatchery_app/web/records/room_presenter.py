"""The room page in words."""

from dataclasses import dataclass
from typing import Any

from flask import url_for

from hatchery_app.domain.when import say_date, say_when
from hatchery_app.services.records.account import Keeper
from hatchery_app.services.records.records_copies import OWN_TOOLS, Copy
from hatchery_app.services.records.room import LampsSaid, RoomNow
from hatchery_app.settings import ANY_ADDRESS, Settings, lan_address

UNITS = {"C": "°C", "F": "°F", "L": "litres", "gal": "gallons", "us": "US", "imperial": "imperial"}
MEGABYTE = 1_000_000


@dataclass(frozen=True)
class RoomPage:
    """What the room is, its lamps, its keepers, where the tablet finds it, its copies."""

    heading: str
    facts: tuple[tuple[str, str], ...]
    lamps: tuple[tuple[str, str, str], ...]
    keepers: tuple[tuple[str, str], ...]
    me: str
    is_owner: bool
    tablet: str
    tablet_hint: str
    copies: tuple[str, ...]
    copies_hint: str


@dataclass(frozen=True)
class RoomFormPage:
    """One of the room's forms; `part` says which."""

    heading: str
    form: Any
    part: str


def shown(
    room: RoomNow,
    lamps: tuple[LampsSaid, ...],
    keepers: tuple[Keeper, ...],
    me: Keeper,
    settings: Settings,
    copies: tuple[Copy, ...],
) -> RoomPage:
    """The page of the room."""
    gallons = f", {UNITS[room.gallon]} gallons" if room.gallon else ""
    tablet, tablet_hint = _tablet(settings)
    return RoomPage(
        heading=room.name,
        facts=(
            ("Time zone", room.room_time.zone_name.replace("_", " ")),
            ("Temperatures", UNITS[room.temperature_unit]),
            ("Volumes", UNITS[room.volume_unit] + gallons),
        ),
        lamps=tuple(_lamp(one, room) for one in lamps),
        keepers=tuple((one.name, one.role) for one in keepers),
        me=me.name,
        is_owner=me.role == "owner",
        tablet=tablet,
        tablet_hint=tablet_hint,
        copies=tuple(
            f"{say_date(one.made_on, year=True)}, {one.size_bytes / MEGABYTE:.1f} MB"
            for one in copies
        ),
        copies_hint=_copies(settings, copies),
    )


def _lamp(one: LampsSaid, room: RoomNow) -> tuple[str, str, str]:
    where = one.tank_label or (f"rack {one.rack}" if one.rack else "the room")
    since = say_when(one.since, room.room_time, year=True)
    return (
        f"{where}: on {one.lights.on:%H:%M}, off {one.lights.off:%H:%M}",
        f"from {since}",
        (url_for("records.entry", fact_id=one.fact_id)),
    )


def _tablet(settings: Settings) -> tuple[str, str]:
    here = lan_address() if settings.host in ANY_ADDRESS else settings.host
    if not settings.is_served_here_only and here is not None:
        return f"http://{here}:{settings.port}/", "On the room's wifi, open this on the tablet."
    if settings.demo:
        return "", "The demo is served on this machine only."
    there = lan_address() or "this machine's own address"
    return "", (
        "Now only this machine is served. For the tablet, stop the program and start it with "
        f"hatchery --host {there}"
    )


def _copies(settings: Settings, copies: tuple[Copy, ...]) -> str:
    if settings.demo:
        return "The demo is made anew each day; it is not copied."
    if not settings.is_sqlite:
        return OWN_TOOLS
    if not copies:
        return "No copy was made yet; the day's first page makes one."
    return (
        f"Made daily in {settings.folder / 'copies'}. On another disk they would outlive this one: "
        "carry one away now and then. hatchery restore FILE puts one back."
    )
