"""The glossary: every quantity, the unit it is kept in, its one sentence; exact conversions.

A value is kept as it was typed, beside its conversion with the full factor; rounding is for
the eye only and follows the precision that was typed (NIST SP 811, B.7), half to even.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from hatchery_app.domain.errors import RuleBroken


@dataclass(frozen=True)
class Quantity:
    """A quantity of the glossary: its name in code, its unit ("" for none), its sentence."""

    key: str
    unit: str
    sentence: str


GLOSSARY = {
    quantity.key: quantity
    for quantity in (
        Quantity("temperature_c", "°C", "How warm the water is."),
        Quantity("temperature_difference_c", "°C", "How much warmer one water is than another."),
        Quantity("degree_days_c", "°C d", "Warmth above a species' base, summed over time."),
        Quantity("volume_l", "L", "The water in a tank or vessel, not the size on its label."),
        Quantity("length_mm", "mm", "The length of a fish, with the way it was measured."),
        Quantity("mass_g", "g", "The weight of fish, food or salt."),
        Quantity("salinity_psu", "", "Practical salinity, near to grams of salt in a kilogram."),
        Quantity("specific_gravity", "", "Density against fresh water at a named temperature."),
        Quantity("conductivity_ms_cm", "mS/cm", "How well the water carries current."),
        Quantity("ph", "", "Acidity, on the scale the probe was set with."),
        Quantity("total_ammonia_mg_l", "mg/L N", "Ammonia and ammonium together, as nitrogen."),
        Quantity("unionised_ammonia_mg_l", "mg/L N", "The part of the ammonia that poisons fish."),
        Quantity("nitrite_mg_l", "mg/L N", "Nitrite, as nitrogen."),
        Quantity("nitrate_mg_l", "mg/L N", "Nitrate, as nitrogen."),
        Quantity("alkalinity_meq_l", "meq/L", "What the water has to hold its pH."),
        Quantity("oxygen_mg_l", "mg/L", "Oxygen dissolved in the water."),
        Quantity("oxygen_saturation_percent", "%", "Oxygen against what the water can hold."),
        Quantity("prey_per_ml", "per mL", "Live food animals in a millilitre of water."),
        Quantity("cells_per_ml", "cells/mL", "Algal cells in a millilitre of water."),
        Quantity("dph", "days", "Days post hatch: 0 until the lights-on after the hatch night."),
        Quantity("night", "", "Nights since the laying; night 0 begins on the day of laying."),
        Quantity("survival_percent", "%", "Alive against the start, shown with both numbers."),
        Quantity("kinship", "", "The chance that a gene drawn from each of two fish is shared."),
        Quantity("inbreeding", "", "The chance that both copies of a gene in a fish are one."),
    )
}


@dataclass(frozen=True)
class Unit:
    """A unit: canonical = (figure − zero_at) × numerator ÷ denominator, in exact decimals.

    `nominal_to` is the step to which a figure in this unit is taken as meant where it names a
    size: a tank of "10 gal" is 37.9 L. `shown_to` is the finest place its conversion is shown
    to: a tank's thermometer in °F does not read hundredths of a °C.
    """

    key: str
    symbol: str
    quantity: str
    numerator: Decimal = Decimal(1)
    denominator: Decimal = Decimal(1)
    zero_at: Decimal = Decimal(0)
    nominal_to: Decimal | None = None
    shown_to: Decimal = Decimal(0)

    def to_canonical(self, figure: Decimal) -> Decimal:
        """A figure in this unit, in the unit its quantity is kept in."""
        return (figure - self.zero_at) * self.numerator / self.denominator

    def from_canonical(self, value: Decimal) -> Decimal:
        """A kept value, in this unit."""
        return value * self.denominator / self.numerator + self.zero_at

    def step(self, figure: Decimal) -> Decimal:
        """A difference of so many of this unit, in the kept unit: the zero does not shift it."""
        return figure * self.numerator / self.denominator


def _of(quantity: str, key: str, symbol: str, factor: str, nominal_to: str | None = None) -> Unit:
    finest = None if nominal_to is None else Decimal(nominal_to)
    return Unit(key, symbol, quantity, numerator=Decimal(factor), nominal_to=finest)


CELSIUS = _of("temperature_c", "C", "°C", "1")
FAHRENHEIT = Unit(  # C = (F − 32)/1.8, exact by definition; NIST SP 811, B.8
    "F", "°F", "temperature_c", Decimal(5), Decimal(9), Decimal(32), shown_to=Decimal("0.1")
)
LITRE = _of("volume_l", "L", "L", "1")
MILLILITRE = _of("volume_l", "mL", "mL", "0.001")
CUBIC_METRE = _of("volume_l", "m3", "m³", "1000")
US_GALLON = _of(  # 231 cubic inches; NIST Handbook 44, App. C, section 4
    "volume_l", "us_gal", "US gal", "3.785411784", "0.1"
)
IMPERIAL_GALLON = _of(  # 4.54609 L exactly; NIST Handbook 44, App. C
    "volume_l", "imp_gal", "imperial gal", "4.54609", "0.1"
)
US_QUART = _of("volume_l", "us_qt", "US qt", "0.946352946")  # NIST Handbook 44, App. C
US_PINT = _of("volume_l", "us_pt", "US pt", "0.473176473")  # NIST Handbook 44, App. C
US_FLUID_OUNCE = _of("volume_l", "us_fl_oz", "US fl oz", "0.0295735295625")  # Handbook 44
CUBIC_INCH = _of("volume_l", "in3", "in³", "0.016387064")  # NIST Handbook 44, App. C
MILLIMETRE = _of("length_mm", "mm", "mm", "1")
CENTIMETRE = _of("length_mm", "cm", "cm", "10")
METRE = _of("length_mm", "m", "m", "1000")
INCH = _of("length_mm", "in", "in", "25.4")  # 2.54 cm exactly; 16 CFR 500.19
FOOT = _of("length_mm", "ft", "ft", "304.8")  # 30.48 cm exactly; 16 CFR 500.19
GRAM = _of("mass_g", "g", "g", "1")
MILLIGRAM = _of("mass_g", "mg", "mg", "0.001")
KILOGRAM = _of("mass_g", "kg", "kg", "1000")
OUNCE = _of("mass_g", "oz", "oz", "28.349523125")  # 16 CFR 500.19; NIST SP 811, B.8
POUND = _of("mass_g", "lb", "lb", "453.59237")  # 16 CFR 500.19; NIST SP 811, B.8
PRACTICAL_SALINITY = _of("salinity_psu", "psu", "", "1")
PARTS_PER_THOUSAND = _of("salinity_psu", "ppt", "ppt", "1")  # taken as practical salinity
MEQ_PER_LITRE = _of("alkalinity_meq_l", "meq_l", "meq/L", "1")
GERMAN_DEGREE = _of("alkalinity_meq_l", "dKH", "dKH", "0.35663")  # from memory, no page seen

UNITS = {unit.key: unit for unit in tuple(globals().values()) if isinstance(unit, Unit)}
CANONICAL = {
    unit.quantity: unit
    for unit in (
        CELSIUS, LITRE, MILLIMETRE, GRAM, PARTS_PER_THOUSAND, MEQ_PER_LITRE,
    )
}  # fmt: skip


def convert(figure: Decimal, unit: Unit, into: Unit) -> Decimal:
    """A figure in another unit of the same quantity, with the full factor.

    Raises RuleBroken for units of different quantities.
    """
    _refuse_unlike(unit, into)
    return figure if unit == into else into.from_canonical(unit.to_canonical(figure))


def convert_difference(figure: Decimal, unit: Unit, into: Unit) -> Decimal:
    """A difference in another unit: 2 °F of warming is 1.1 °C, and 32 is not taken off."""
    _refuse_unlike(unit, into)
    return figure * into.denominator * unit.numerator / (into.numerator * unit.denominator)


def rounded_as_typed(figure: Decimal, unit: Unit, into: Unit) -> Decimal:
    """A figure converted for the eye: its last place is no finer than what was typed.

    The place is the power of ten at or below one step of the last typed digit, in the new
    unit, and never coarser than one: 78 °F is 25.6 °C, 1.25 in is 31.8 mm (after NIST SP 811,
    B.7). Half goes to even; an exact conversion drops its idle zeros.
    """
    if unit == into:
        return figure
    typed_step = Decimal(1).scaleb(_exponent(figure))
    if unit.nominal_to is not None:
        typed_step = min(typed_step, unit.nominal_to)
    step = convert_difference(typed_step, unit, into)
    place = min(Decimal(1), max(Decimal(1).scaleb(step.adjusted()), unit.shown_to))
    converted = convert(figure, unit, into)
    rounded = converted.quantize(place, rounding=ROUND_HALF_EVEN)
    return _without_idle_zeros(rounded) if rounded == converted else rounded


def _without_idle_zeros(figure: Decimal) -> Decimal:
    short = figure.normalize()
    return short.quantize(Decimal(1)) if _exponent(short) > 0 else short


def _exponent(figure: Decimal) -> int:
    exponent = figure.as_tuple().exponent
    if not isinstance(exponent, int):
        raise RuleBroken("That is not a figure.")
    return exponent


def _refuse_unlike(unit: Unit, into: Unit) -> None:
    if unit.quantity != into.quantity:
        raise RuleBroken(f"{unit.symbol} cannot be turned into {into.symbol}.")
