"""A tank's water in words: the curve of its days, each quantity beside what lives there needs."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from hatchery_app.domain.clutch.thermal_time import Reading
from hatchery_app.domain.species.species import WaterRange
from hatchery_app.domain.tank.seawater import NH3_PER_NH3_N
from hatchery_app.domain.tank.water_reading import CALLED, KEPT_IN, N_OF_NITRATE, Quantity
from hatchery_app.domain.when import RoomTime, When, say_date, say_when
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.tank.readings import Measured
from hatchery_app.services.tank.tank_page import (
    AmmoniaBeside,
    Needed,
    TankPage,
    WaterLine,
)
from hatchery_app.web.drawing import curve


@dataclass(frozen=True)
class WaterRow:
    """One quantity: what was read, when, and what lives here needs."""

    name: str
    value: str
    unit: str
    typed: str
    when: str
    needs: tuple[tuple[str, str], ...]



def chart_of(answer: TankPage, room_time: RoomTime) -> curve.Curve:
    """Each day's mean, with its coldest and warmest; the band is what lives there needs."""
    by_day: dict[date, list[Reading]] = {}
    for reading in answer.facts.readings:
        by_day.setdefault(room_time.local(reading.at).date(), []).append(reading)
    points = tuple(_point(day, readings) for day, readings in sorted(by_day.items()))
    spans = [
        one.range for one in answer.water[0].needed if one.range.quantity == "temperature"
    ]
    band = None
    if spans and spans[0].low is not None and spans[0].high is not None:
        band = (round(spans[0].low, 1), round(spans[0].high, 1))
    return curve.Curve(
        "Temperature of each day", "°C", points, within=band, from_zero=False
    )


def _point(day: date, readings: Sequence[Reading]) -> curve.Point:
    temperatures = [one.temperature_c for one in readings]
    mean = sum(temperatures) / len(temperatures)
    low, high = min(temperatures), max(temperatures)
    said = f"{mean:.1f}" if low == high else f"{mean:.1f} ({low:.1f}–{high:.1f})"
    spread = (low, high) if high > low else (None, None)
    mean = min(max(mean, low), high)  # the last bit of a float must not put it outside
    return curve.Point(
        day.toordinal(), mean, say_date(day), said, low=spread[0], high=spread[1]
    )


def water_rows(answer: TankPage, room: RoomNow, now: datetime) -> tuple[WaterRow, ...]:
    """Every quantity that was read or that matters here; beside total ammonia its poisonous part.
    """
    whose = {(one.species_name, one.stage) for line in answer.water for one in line.needed}
    rows = []
    for line in answer.water:
        if line.measured or line.needed:
            rows.append(_row(line, room, now, alone=len(whose) == 1))
        if line.quantity is Quantity.TOTAL_AMMONIA and answer.ammonia is not None:
            rows.append(_ammonia_row(answer.ammonia, room, alone=len(whose) == 1))
    return tuple(rows)


def needs_of(answer: TankPage) -> str:
    """Whose water it must be, where one species at one stage lives here: said once."""
    whose = {(one.species_name, one.stage) for line in answer.water for one in line.needed}
    if len(whose) != 1:
        return ""
    name, stage = whose.pop()
    return f"beside what {name} need, {stage}"


def _row(line: WaterLine, room: RoomNow, now: datetime, *, alone: bool) -> WaterRow:
    last = line.measured
    when = "" if last is None else say_when(When.exactly(last.at), room.room_time)
    if last is not None and not last.is_fresh(now):
        when += ", old"
    return WaterRow(
        CALLED[line.quantity],
        "never read" if last is None else figure_words(line.quantity, last.value),
        "" if last is None else KEPT_IN[line.quantity],
        _typed(last),
        when,
        tuple(_need(one, alone) for one in line.needed),
    )


def _ammonia_row(beside: AmmoniaBeside, room: RoomNow, *, alone: bool) -> WaterRow:
    """The part that poisons fish, with its band, or what is missing for it."""
    if beside.found is None:
        return WaterRow("Un-ionised ammonia", "not known", "", beside.missing, "", ())
    best, low, high = (
        value / NH3_PER_NH3_N
        for value in (beside.found.nh3_mg_l, beside.found.low_mg_l, beside.found.high_mg_l)
    )
    return WaterRow(
        "Un-ionised ammonia", f"{best:.2g}", "mg/L N", f"{low:.2g}–{high:.2g} for pH ±0.1",
        say_when(When.exactly(beside.total.at), room.room_time),
        tuple(_need(one, alone) for one in beside.needed),
    )  # fmt: skip


def figure_words(quantity: Quantity, value: float) -> str:
    """A value to the places its test can tell."""
    places = {
        Quantity.TEMPERATURE: 1, Quantity.SALINITY: 1, Quantity.PH: 2, Quantity.OXYGEN: 1,
        Quantity.ALKALINITY: 2,
    }.get(quantity)  # fmt: skip
    return f"{value:.2g}" if places is None else f"{value:.{places}f}"


def _typed(last: Measured | None) -> str:
    """What was typed, where that is not the figure itself."""
    if last is None:
        return ""
    own = {f"{last.value:g}", f"{last.value:g} {KEPT_IN[last.quantity]}", f"{last.value:g} C"}
    return "" if last.typed.replace(",", ".") in own else f"typed {last.typed}"


def _need(one: Needed, alone: bool) -> tuple[str, str]:
    """What is needed in words, and what the water does: "", "inside" or "outside".

    A usual span is no limit: outside it is said in the words, and raises no alarm.
    """
    said = {
        "temperature_usual": "usually ", "temperature_target": "target ",
        "ammonia_alarm": "alarm above, ",
    }.get(one.range.quantity, "")  # fmt: skip
    whose = "" if alone else f"{one.species_name}, {one.stage}: "
    words = f"{whose}{said}{span_words(one.range)}"
    if one.range.quantity == "temperature_usual":
        return words, ""
    return words, {None: "", True: "inside", False: "outside"}[one.inside]


def span_words(span: WaterRange) -> str:
    """ "25–27.8 °C", "at most 0.02 mg/L NH3-N", "not detectable"."""
    if span.low is None and span.high == 0:
        return "not detectable"
    if span.quantity == "nitrate" and span.unit == "mg/L" and span.high is not None:
        return f"at most {span.high:g} mg/L NO3 ({span.high * N_OF_NITRATE:.2g} mg/L N)"
    if span.low is None:
        return f"at most {span.high:g} {span.unit}".rstrip()
    low, high = round(span.low, 3), None if span.high is None else round(span.high, 3)
    if span.unit == "°C":
        low, high = round(low, 1), None if high is None else round(high, 1)
    number = f"{low:g}" if high in (None, low) else f"{low:g}–{high:g}"
    return f"{number} {span.unit}".rstrip()
