"""The thermometers in words: what lives there, the last reading, how far it is from the heater."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from hatchery_app.domain.tank.thermometer import Thermometer
from hatchery_app.domain.units import CELSIUS, FAHRENHEIT, convert, convert_difference
from hatchery_app.domain.when import say_date
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.tank.thermometers import field_of
from hatchery_app.web.tank.thermometer_forms import ThermometersForm


@dataclass(frozen=True)
class ThermometersPage:
    """The form, field by field in walking order; `off` names the tanks to look at first."""

    heading: str
    form: Any
    fields: tuple[Any, ...]
    unit: str
    off: str


def page_of(
    form: ThermometersForm, tanks: Sequence[Thermometer], room: RoomNow, now: datetime
) -> ThermometersPage:
    """The page, in the room's unit."""
    for one in tanks:
        field = form[field_of(one.tank_id)]
        field.label.text = f"{one.label} · {one.lives}"
        field.description = _last_said(one, room, now)
    off = [f"{one.label} {_off_said(one, room)}" for one in tanks if one.off_by_c is not None]
    return ThermometersPage(
        "Thermometers",
        form,
        tuple(form[field_of(one.tank_id)] for one in tanks),
        f"°{room.temperature_unit}",
        ", ".join(off),
    )


def _last_said(one: Thermometer, room: RoomNow, now: datetime) -> str:
    """ "25.6 at 08:10, set to 27.0, 1.4 colder"; with its day before today; "not read ..."."""
    if one.last is None:
        parts = ["no reading in three days"]
    else:
        at = room.room_time.local(one.last.at)
        read = _degrees(one.last.temperature_c, room)
        on = f"on {say_date(at.date())}" if at.date() != room.room_time.local(now).date() else "at"
        parts = [f"{read} {on} {at:%H:%M}"]
    if one.set_to_c is not None:
        parts.append(f"set to {_degrees(one.set_to_c, room)}")
    if one.off_by_c is not None:
        parts.append(_off_said(one, room))
    return ", ".join(parts)


def _off_said(one: Thermometer, room: RoomNow) -> str:
    off = Decimal(str(one.off_by_c or 0))
    if room.temperature_unit == "F":
        off = convert_difference(off, CELSIUS, FAHRENHEIT)
    return f"{abs(off):.1f} {'colder' if off < 0 else 'warmer'}"


def _degrees(temperature_c: float, room: RoomNow) -> str:
    figure = Decimal(str(round(temperature_c, 2)))
    if room.temperature_unit == "F":
        figure = convert(figure, CELSIUS, FAHRENHEIT)
    return f"{figure:.1f}"
