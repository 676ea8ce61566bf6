"""Amounts as keepers type them: "26,5", "79.7 F", "10 gal", "1.25 in".

What was typed is kept beside its conversion. What cannot be is refused, what is unusual is
asked about: every question here offers values that settle it when they come back in
`answers` under the question's key.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from hatchery_app.domain import units
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.units import Unit

COLDEST_C = Decimal(-2)  # sea water of 35 freezes at about −1.9 °C; from memory
HOTTEST_C = Decimal(45)  # no fish tank's water; common practice
UNUSUAL_BELOW_C = Decimal(10)  # a tank at 11.7 °C after a power cut is a real accident
UNUSUAL_ABOVE_C = Decimal(36)
LIKELY_C = (Decimal(15), Decimal(35))  # what a mistyped reading of a warm marine tank meant
LARGEST_TANK_L = Decimal(100_000)
LONGEST_FISH_MM = Decimal(1000)
HEAVIEST_G = Decimal(1_000_000)
SALTIEST_PSU = Decimal(120)  # brine; sea water formulas end far below and say so themselves

AS_TYPED = "as typed"
Answers = Mapping[str, str]


@dataclass(frozen=True)
class Amount:
    """A figure with its unit, and the text it came from.

    `canonical` is the full conversion into the unit the quantity is kept in; `rounded` is the
    same for the eye, with no more decimals than the typed precision carries.
    """

    figure: Decimal
    unit: Unit
    typed: str

    @property
    def canonical(self) -> Decimal:
        """In the unit the quantity is kept in, with the full factor."""
        return self.unit.to_canonical(self.figure)

    @property
    def rounded(self) -> Decimal:
        """In the unit the quantity is kept in, to the precision that was typed."""
        return units.rounded_as_typed(self.figure, self.unit, self._kept_in)

    @property
    def _kept_in(self) -> Unit:
        return units.CANONICAL[self.unit.quantity]

    def said(self) -> str:
        """ "26.5 °C", or converted "about 25.6 °C (78 °F)"."""
        own = _with_symbol(self.figure, self.unit)
        if self.unit == self._kept_in:
            return own
        exact = self.rounded == self.canonical
        return f"{'' if exact else 'about '}{_with_symbol(self.rounded, self._kept_in)} ({own})"


def _with_symbol(figure: Decimal, unit: Unit) -> str:
    return f"{figure:f} {unit.symbol}".strip()


_FIGURE_AND_UNIT = re.compile(
    r"([+-]?(?:\d{1,3}(?:[ \u00a0\u202f]\d{3})+|\d{1,12})(?:[.,]\d{1,12})?)"
    r"\s*(m3|[^\d\s.,+/-][^\d]*)?",
    re.IGNORECASE,
)
_COMMA_AND_THREE = re.compile(r"[1-9]\d{0,2},\d{3}")
_SPELLINGS = {
    units.CELSIUS: "c °c ºc celsius centigrade degc deg",
    units.FAHRENHEIT: "f °f ºf fahrenheit degf",
    units.LITRE: "l litre litres liter liters ltr",
    units.MILLILITRE: "ml millilitre millilitres milliliter milliliters",
    units.CUBIC_METRE: "m3 m³",
    units.US_GALLON: "usgal usgallon usgallons",
    units.IMPERIAL_GALLON: "impgal imperialgal imperialgallon imperialgallons ukgal ukgallons",
    units.US_QUART: "qt usqt quart quarts",
    units.US_PINT: "uspt uspint",
    units.US_FLUID_OUNCE: "usfloz",
    units.MILLIMETRE: "mm millimetre millimetres millimeter millimeters",
    units.CENTIMETRE: "cm centimetre centimetres centimeter centimeters",
    units.METRE: "m metre metres meter meters",
    units.INCH: "in in. inch inches \" ″ ''",
    units.FOOT: "ft foot feet",
    units.GRAM: "g gram grams gramme grammes gr",
    units.MILLIGRAM: "mg milligram milligrams",
    units.KILOGRAM: "kg kilo kilos kilogram kilograms",
    units.OUNCE: "oz ounce ounces",
    units.POUND: "lb lbs pound pounds",
    units.PARTS_PER_THOUSAND: "ppt ‰ g/kg",
    units.PRACTICAL_SALINITY: "psu",
    units.MEQ_PER_LITRE: "meq/l",
    units.GERMAN_DEGREE: "dkh",
}
_RANGE = re.compile(r"\s*([+-]?[\d.,]+)\s*(?:-|–|—|to)\s*([\d.,]+\s*(.*))")
_UNIT_SPELLED = {word: unit for unit, words in _SPELLINGS.items() for word in words.split()}
_SOME_GALLON = {"gal", "gals", "gallon", "gallons"}
_GALLONS = {"us": units.US_GALLON, "imperial": units.IMPERIAL_GALLON}
_GALLON_LABELS = {"us": "US gallon", "imperial": "imperial gallon"}


def parse_temperature(
    text: str,
    unit_default: Unit = units.CELSIUS,
    field: str = "temperature",
    *,
    answers: Answers | None = None,
    question: str = "temperature",
) -> Amount:
    """A reading of a tank's water, in °C or °F.

    Beyond −2 to 45 °C it is refused, unless a slip explains it: 265 asks "26.5 °C?", 79.7 in
    a room of °C asks "79.7 °F?". Below 10 and above 36 °C it is asked about and may stand.
    """
    amount = _amount(text, unit_default, field)
    reading_c = amount.canonical
    if UNUSUAL_BELOW_C <= reading_c <= UNUSUAL_ABOVE_C:
        return amount
    readings = {_answer_of(meant): meant for meant in _likely_readings(amount)}
    if COLDEST_C <= reading_c <= HOTTEST_C:
        readings[AS_TYPED] = amount
    if not readings:
        raise RuleBroken(
            f"“{text.strip()}” cannot be the water of a tank: that lies between −2 and 45 °C "
            "(28 and 113 °F).",
            field,
        )
    given = (answers or {}).get(question, "")
    if given in readings:
        return readings[given]
    labels = tuple((value, _label(value, meant)) for value, meant in readings.items())
    verdict = "is unusual for" if AS_TYPED in readings else "cannot be the water of"
    raise Asked(
        f"{amount.said()} {verdict} a tank. What does the thermometer read?",
        question,
        labels,
        field,
    )


def _likely_readings(amount: Amount) -> list[Amount]:
    """What may have been meant: the other scale, the decimal sign lost, both, or slipped."""
    own = amount.unit
    other = units.FAHRENHEIT if own == units.CELSIUS else units.CELSIUS
    slips = ((0, other), (-1, own), (-1, other), (1, own))
    meant = [Amount(amount.figure.scaleb(places), unit, amount.typed) for places, unit in slips]
    return [each for each in meant if LIKELY_C[0] <= each.canonical <= LIKELY_C[1]]


def _answer_of(amount: Amount) -> str:
    return f"{amount.figure:f} {amount.unit.key}"


def _label(value: str, amount: Amount) -> str:
    own = _with_symbol(amount.figure, amount.unit)
    if value == AS_TYPED:
        return f"{own}, as typed"
    if amount.unit == units.CELSIUS:
        return own
    return f"{own} ({_with_symbol(amount.rounded, units.CELSIUS)})"


def parse_volume(
    text: str,
    gallon: Unit | None = None,
    unit_default: Unit = units.LITRE,
    field: str = "volume",
    *,
    answers: Answers | None = None,
) -> Amount:
    """The water in a tank or vessel; `gallon` is the one this room means, if it has said so.

    Asks under "gallon" which gallon ("us" or "imperial"), and under "thousands" whether the
    comma of "1,500" is a decimal. Refuses nothing, less, and more than 100 000 L.
    """
    settled = answers or {}
    plain = _settle_comma(text, settled, field)
    gallon = gallon or _GALLONS.get(settled.get("gallon", ""))
    figure, spelled = _figure_and_unit(plain, field)
    if spelled in _SOME_GALLON and gallon is None:
        offered = ((name, Amount(figure, unit, text)) for name, unit in _GALLONS.items())
        raise Asked(
            f"Which gallon is meant by “{text.strip()}”?",
            "gallon",
            tuple((name, f"{_GALLON_LABELS[name]}, {amount.said()}") for name, amount in offered),
            field,
        )
    unit = gallon if gallon and spelled in _SOME_GALLON else _unit(spelled, unit_default, field)
    amount = Amount(figure, unit, text.strip())
    return _within(amount, LARGEST_TANK_L, "The water of a tank", field)


def _settle_comma(text: str, answers: Answers, field: str) -> str:
    match = _COMMA_AND_THREE.match(text.strip())
    if match is None:
        return text
    readings = {"grouped": match[0].replace(",", ""), "decimal": match[0].replace(",", ".")}
    given = answers.get("thousands", "")
    if given in readings:
        return text.replace(match[0], readings[given], 1)
    raise Asked(
        f"Is “{text.strip()}” {readings['grouped']} or {readings['decimal']}?",
        "thousands",
        tuple(readings.items()),
        field,
    )


def parse_length(text: str, unit_default: Unit = units.MILLIMETRE, field: str = "length") -> Amount:
    """The length of a fish or an egg; refuses nothing, less, and more than a metre."""
    return _within(_amount(text, unit_default, field), LONGEST_FISH_MM, "A length", field)


def parse_mass(text: str, unit_default: Unit = units.GRAM, field: str = "mass") -> Amount:
    """A weight of fish, food or salt; refuses nothing, less, and more than a tonne."""
    return _within(_amount(text, unit_default, field), HEAVIEST_G, "A weight", field)


def parse_salinity(text: str, field: str = "salinity") -> Amount:
    """A salinity in ppt or psu, 0 for fresh water; refuses what is a specific gravity."""
    amount = _amount(text, units.PARTS_PER_THOUSAND, field)
    if Decimal("1.0") < amount.canonical < Decimal("1.1") and _exponent_of(amount) <= -3:
        raise RuleBroken(
            f"“{text.strip()}” reads like a specific gravity: enter it as one, with the "
            "temperature the hydrometer is made for.",
            field,
        )
    if not 0 <= amount.canonical <= SALTIEST_PSU:
        raise RuleBroken(f"A salinity lies between 0 and {SALTIEST_PSU} ppt.", field)
    return amount


def _exponent_of(amount: Amount) -> int:
    exponent = amount.figure.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


def is_range(text: str) -> bool:
    """Whether it is written as a range: "80–82 F", "26 to 27"."""
    return _RANGE.fullmatch(text) is not None


def parse_between(
    text: str, parse_one: Callable[[str], Amount], field: str = ""
) -> tuple[Amount, Amount]:
    """A range ("80–82 F", "0.33 to 0.75 in") or one figure, which is both its own ends.

    `parse_one` reads each end; the unit behind the second serves the first.
    """
    match = _RANGE.fullmatch(text)
    if match is None:
        amount = parse_one(text)
        return amount, amount
    low, high = parse_one(f"{match[1]} {match[3]}"), parse_one(match[2])
    if low.canonical > high.canonical:
        raise RuleBroken(
            f"“{text.strip()}” runs from more to less; write the smaller first.", field
        )
    return low, high


def _amount(text: str, unit_default: Unit, field: str) -> Amount:
    figure, spelled = _figure_and_unit(text, field)
    return Amount(figure, _unit(spelled, unit_default, field), text.strip())


def _figure_and_unit(text: str, field: str) -> tuple[Decimal, str]:
    plain = text.strip().replace("−", "-")
    if any(sign.isnumeric() and not sign.isascii() for sign in plain):
        raise RuleBroken(f"Please write “{plain}” with the figures 0 to 9.", field)
    match = _FIGURE_AND_UNIT.fullmatch(plain)
    if match is None:
        hint = " Write a half as 0.5." if "/" in plain else ""
        raise RuleBroken(f"“{plain}” is not a figure with a unit.{hint}", field)
    figure = re.sub(r"\s", "", match[1]).replace(",", ".")
    spelled = re.sub(r"[\s.]", "", match[2] or "").casefold()
    return Decimal(figure), spelled


def _unit(spelled: str, unit_default: Unit, field: str) -> Unit:
    unit = _UNIT_SPELLED.get(spelled) if spelled else unit_default
    if unit is None or unit.quantity != unit_default.quantity:
        known = [each.symbol for each in _SPELLINGS if each.quantity == unit_default.quantity]
        raise RuleBroken(f"“{spelled}” is not a unit for this: {', '.join(known)}.", field)
    return unit


def _within(amount: Amount, most: Decimal, what: str, field: str) -> Amount:
    if not 0 < amount.canonical <= most:
        kept_in = units.CANONICAL[amount.unit.quantity].symbol
        raise RuleBroken(f"{what} is more than 0 and at most {most:,} {kept_in}.", field)
    return amount
