"""Readings of water as keepers type them: in the unit of their test, kept in the glossary's.

A figure that cannot be is refused, one that is unusual is asked about, and nothing is corrected
in silence. Beside total ammonia stands the part of it that poisons fish, with its band.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.species.species import WaterRange
from hatchery_app.domain.tank.seawater import (
    Instrument,
    SalinityReading,
    UnIonised,
    oxygen_saturation_mg_l,
    un_ionised_ammonia,
)

AS_TYPED = "as typed"
Answers = Mapping[str, str]

# Molar masses in g/mol, from the IUPAC standard atomic weights (abridged, 2021).
N, NH3, NH4, NO2, NO3, CACO3 = 14.007, 17.031, 18.039, 46.005, 62.004, 100.086
MEQ_L_PER_DKH = 0.35663  # from memory, no page seen; the glossary's own factor
MEQ_PER_MMOL_CACO3 = 2


class Quantity(StrEnum):
    """What is read of a tank's water, by its name in the glossary."""

    TEMPERATURE = "temperature_c"
    SALINITY = "salinity_psu"
    PH = "ph"
    TOTAL_AMMONIA = "total_ammonia_mg_l"
    NITRITE = "nitrite_mg_l"
    NITRATE = "nitrate_mg_l"
    ALKALINITY = "alkalinity_meq_l"
    OXYGEN = "oxygen_mg_l"


CALLED = {
    Quantity.TEMPERATURE: "Temperature",
    Quantity.SALINITY: "Salinity",
    Quantity.PH: "pH",
    Quantity.TOTAL_AMMONIA: "Total ammonia",
    Quantity.NITRITE: "Nitrite",
    Quantity.NITRATE: "Nitrate",
    Quantity.ALKALINITY: "Alkalinity",
    Quantity.OXYGEN: "Oxygen",
}
KEPT_IN = {
    Quantity.TEMPERATURE: "°C",
    Quantity.SALINITY: "psu",
    Quantity.PH: "",
    Quantity.TOTAL_AMMONIA: "mg/L N",
    Quantity.NITRITE: "mg/L N",
    Quantity.NITRATE: "mg/L N",
    Quantity.ALKALINITY: "meq/L",
    Quantity.OXYGEN: "mg/L",
}
N_OF_NITRATE = N / NO3
PERCENT = "% of saturation"
UNITS: dict[Quantity, dict[str, float]] = {
    Quantity.PH: {"": 1},
    Quantity.TOTAL_AMMONIA: {"mg/L N": 1, "mg/L NH4": N / NH4, "mg/L NH3": N / NH3},
    Quantity.NITRITE: {"mg/L N": 1, "mg/L NO2": N / NO2},
    Quantity.NITRATE: {"mg/L N": 1, "mg/L NO3": N / NO3},
    Quantity.ALKALINITY: {
        "dKH": MEQ_L_PER_DKH, "meq/L": 1, "mg/L CaCO3": MEQ_PER_MMOL_CACO3 / CACO3,
    },
    Quantity.OXYGEN: {"mg/L": 1, PERCENT: 0},
}  # fmt: skip
"""The units a test is read in, each with its factor to the unit the quantity is kept in."""


@dataclass(frozen=True)
class Bounds:
    """What a quantity can be, and what it usually is in a fish room, in the unit it is kept in."""

    least: float
    most: float
    usual_low: float
    usual_high: float


# Usual spans are ours, wide enough that a real accident is asked about and never refused.
BOUNDS = {
    Quantity.SALINITY: Bounds(0, 42, 10, 41),
    Quantity.PH: Bounds(0, 14, 7, 9),
    Quantity.TOTAL_AMMONIA: Bounds(0, 200, 0, 8),
    Quantity.NITRITE: Bounds(0, 200, 0, 10),
    Quantity.NITRATE: Bounds(0, 1000, 0, 100),
    Quantity.ALKALINITY: Bounds(0, 50, 0.5, 6),
    Quantity.OXYGEN: Bounds(0, 60, 0.5, 16),
}


@dataclass(frozen=True)
class WaterReading:
    """One value in the unit its quantity is kept in, and what was typed."""

    quantity: Quantity
    value: float
    typed: str


def read_test(
    quantity: Quantity,
    text: str,
    unit: str,
    *,
    salinity_psu: float | None = None,
    temperature_c: float | None = None,
    answers: Answers | None = None,
) -> WaterReading:
    """One figure of a water test in the unit given (one of UNITS).

    Oxygen as a share of saturation needs the water's salinity and temperature. Raises RuleBroken
    for what cannot be, Asked under the quantity's name for what is unusual ("82" for pH 8.2).
    """
    figure, lost = _figure(text, quantity)
    factor = _factor(quantity, unit, salinity_psu, temperature_c)
    typed = f"{text.strip()} {unit}".strip()
    bounds = BOUNDS[quantity]
    value, tenth = figure * factor, figure / 10 * factor
    if bounds.usual_low <= value <= bounds.usual_high:
        return WaterReading(quantity, value, typed)
    readings: dict[str, float] = {}
    if lost and bounds.usual_low <= tenth <= bounds.usual_high:
        readings["a tenth"] = tenth
    if bounds.least <= value <= bounds.most:
        readings[AS_TYPED] = value
    if not readings:
        raise RuleBroken(
            f"“{typed}” cannot be {CALLED[quantity].lower() if quantity != 'ph' else 'a pH'} of"
            f" a tank: that lies between {bounds.least:g} and {bounds.most:g}"
            f" {KEPT_IN[quantity]}".rstrip() + ".",
            field=quantity,
        )
    given = (answers or {}).get(quantity, "")
    if given in readings:
        return WaterReading(quantity, readings[given], typed)
    labels = {"a tenth": f"{figure / 10:g} {unit}".strip(), AS_TYPED: f"{typed}, as typed"}
    raise Asked(
        f"{CALLED[quantity]} {typed} is unusual. What does the test say?",
        quantity,
        tuple((value, labels[value]) for value in readings),
        quantity,
    )


def _figure(text: str, quantity: Quantity) -> tuple[float, bool]:
    """The figure, and whether its decimal sign may have been lost."""
    plain = text.strip().replace("−", "-")
    match = re.fullmatch(r"([+-]?\d{1,6})(?:[.,](\d{1,6}))?", plain)
    if match is None:
        raise RuleBroken(f"“{plain}” is not a figure.", field=quantity)
    return float(Decimal(plain.replace(",", "."))), match[2] is None


def _factor(
    quantity: Quantity, unit: str, salinity_psu: float | None, temperature_c: float | None
) -> float:
    offered = UNITS.get(quantity, {})
    if unit not in offered:
        known = " or ".join(name for name in offered if name)
        raise RuleBroken(
            f"Say what the test reads in: {known}. One is several times the other.",
            field=quantity,
        )
    if unit != PERCENT:
        return offered[unit]
    full = None
    if salinity_psu is not None and temperature_c is not None:
        full = oxygen_saturation_mg_l(salinity_psu, temperature_c)
    if full is None:
        raise RuleBroken(
            "A share of saturation needs the salinity and temperature of the water: read those"
            " first, or give mg/L.",
            field=quantity,
        )
    return full / 100


def read_salinity(
    text: str,
    instrument: Instrument,
    *,
    sample_c: float | None,
    marked_at_c: float | None = None,
    offset_psu: float = 0.0,
    answers: Answers | None = None,
) -> WaterReading:
    """A salinity by its instrument: psu, specific gravity or mS/cm as it stands on it.

    Raises RuleBroken where the instrument cannot mean that or the sample's temperature is
    missing; Asked under "salinity_psu" for what is unusual.
    """
    figure, _ = _figure(text, Quantity.SALINITY)
    gravity = instrument in (Instrument.GLASS_HYDROMETER, Instrument.SWING_ARM)
    if gravity and not 0.99 <= figure <= 1.06:
        raise RuleBroken(
            f"“{text.strip()}” is not a specific gravity such as 1.025.", field=Quantity.SALINITY
        )
    if not gravity and 1.0 < figure < 1.06:
        raise RuleBroken(
            f"“{text.strip()}” reads like a specific gravity: choose the hydrometer.",
            field=Quantity.SALINITY,
        )
    if instrument is not Instrument.REFRACTOMETER and sample_c is None:
        raise RuleBroken("Say how warm the sample was; the instrument rests on it.", field="sample")
    said = SalinityReading(instrument, figure, sample_c or 25.0, marked_at_c, offset_psu)
    value = said.salinity_psu()
    if value is None:
        raise RuleBroken(
            f"“{text.strip()}” by {instrument} lies outside what can be worked out (0 to 42 psu).",
            field=Quantity.SALINITY,
        )
    typed = _said_of(text.strip(), said, gravity)
    bounds = BOUNDS[Quantity.SALINITY]
    settled = (answers or {}).get(Quantity.SALINITY) == AS_TYPED
    if settled or bounds.usual_low <= value <= bounds.usual_high:
        return WaterReading(Quantity.SALINITY, value, typed)
    raise Asked(
        f"{value:.1f} psu is unusual for a marine tank. Is it so?",
        Quantity.SALINITY,
        ((AS_TYPED, f"yes, {value:.1f} psu"),),
        Quantity.SALINITY,
    )


def _said_of(text: str, said: SalinityReading, gravity: bool) -> str:
    if said.instrument is Instrument.REFRACTOMETER:
        return f"{text} refractometer"
    if gravity:
        return f"{text} made for {said.marked_at_c:g} °C, at {said.sample_c:g} °C"[:40]
    return f"{text} mS/cm at {said.sample_c:g} °C"


def un_ionised_beside(
    total_mg_l_n: float,
    ph: float | None,
    temperature_c: float | None,
    salinity_psu: float | None,
) -> tuple[UnIonised | None, str]:
    """The un-ionised part of a total ammonia with its band, or None and what is missing."""
    missing = [
        word
        for word, value in (("pH", ph), ("temperature", temperature_c), ("salinity", salinity_psu))
        if value is None
    ]
    if ph is None or temperature_c is None or salinity_psu is None:
        return None, f"needs {' and '.join(missing)} of the same day"
    found = un_ionised_ammonia(total_mg_l_n, ph, temperature_c, salinity_psu)
    return found, "" if found else "outside what the published constants cover"


def beside_range(value: float, span: WaterRange) -> str:
    """Where a reading lies: "below", "above" or "within" a species' range.

    Readings are kept by their nitrogen; a range of nitrate in plain "mg/L" is of the ion.
    """
    factor = N_OF_NITRATE if span.quantity == "nitrate" and span.unit == "mg/L" else 1.0
    if span.low is not None and value < span.low * factor:
        return "below"
    if span.high is not None and value > span.high * factor:
        return "above"
    return "within"
