"""Units, their exact factors, and amounts as keepers type them."""

from decimal import Decimal

import pytest

from hatchery_app.domain import units
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.typed_amounts import (
    parse_between,
    parse_length,
    parse_mass,
    parse_salinity,
    parse_temperature,
    parse_volume,
)
from hatchery_app.domain.units import Unit, convert, convert_difference, rounded_as_typed


@pytest.mark.parametrize(
    ("figure", "unit", "into", "expected"),
    [
        # 16 CFR 500.19 and NIST SP 811, B.8: exact
        ("1", units.INCH, units.CENTIMETRE, "2.54"),
        ("1", units.FOOT, units.CENTIMETRE, "30.48"),
        ("1", units.POUND, units.GRAM, "453.59237"),
        ("1", units.OUNCE, units.GRAM, "28.349523125"),
        ("16", units.OUNCE, units.POUND, "1"),
        # NIST Handbook 44, Appendix C, section 4: exact
        ("1", units.US_GALLON, units.LITRE, "3.785411784"),
        ("231", units.CUBIC_INCH, units.US_GALLON, "1"),
        ("4", units.US_QUART, units.US_GALLON, "1"),
        ("8", units.US_PINT, units.US_GALLON, "1"),
        ("128", units.US_FLUID_OUNCE, units.US_GALLON, "1"),
        ("1", units.IMPERIAL_GALLON, units.LITRE, "4.54609"),
        # computed from the exact factors
        ("10", units.US_GALLON, units.LITRE, "37.85411784"),
        ("55", units.US_GALLON, units.LITRE, "208.19764812"),
        ("3.5", units.INCH, units.CENTIMETRE, "8.89"),
        ("25.5", units.CELSIUS, units.FAHRENHEIT, "77.9"),
        ("77", units.FAHRENHEIT, units.CELSIUS, "25"),
        ("-40", units.FAHRENHEIT, units.CELSIUS, "-40"),
    ],
)
def test_the_factors_are_exact(figure: str, unit: Unit, into: Unit, expected: str) -> None:
    assert convert(Decimal(figure), unit, into) == Decimal(expected)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [("78", "25.5556"), ("82", "27.7778")])
def test_fahrenheit_is_converted_with_the_full_factor(fahrenheit: str, celsius: str) -> None:
    converted = convert(Decimal(fahrenheit), units.FAHRENHEIT, units.CELSIUS)
    assert converted.quantize(Decimal("0.0001")) == Decimal(celsius)


def test_two_degrees_fahrenheit_of_warming_are_little_more_than_one_celsius() -> None:
    # C62: as a reading 2 °F would be −16.7 °C.
    warming = convert_difference(Decimal(2), units.FAHRENHEIT, units.CELSIUS)
    assert warming.quantize(Decimal("0.1")) == Decimal("1.1")


def test_litres_do_not_become_millimetres() -> None:
    with pytest.raises(RuleBroken, match="cannot be turned into"):
        convert(Decimal(1), units.LITRE, units.MILLIMETRE)


@pytest.mark.parametrize(
    ("figure", "unit", "into", "shown"),
    [
        # C62, and NIST SP 811, B.7 for 78 °F
        ("78", units.FAHRENHEIT, units.CELSIUS, "25.6"),
        ("80", units.FAHRENHEIT, units.CELSIUS, "26.7"),
        ("82", units.FAHRENHEIT, units.CELSIUS, "27.8"),
        ("79.7", units.FAHRENHEIT, units.CELSIUS, "26.5"),
        ("79.5", units.FAHRENHEIT, units.CELSIUS, "26.4"),
        ("10", units.US_GALLON, units.LITRE, "37.9"),
        ("10", units.IMPERIAL_GALLON, units.LITRE, "45.5"),
        ("0.33", units.INCH, units.MILLIMETRE, "8.4"),
        ("0.75", units.INCH, units.MILLIMETRE, "19.0"),
        ("1.25", units.INCH, units.MILLIMETRE, "31.8"),
        ("3", units.INCH, units.MILLIMETRE, "76"),
        ("500", units.MILLILITRE, units.LITRE, "0.5"),
        ("26.50", units.CELSIUS, units.CELSIUS, "26.50"),
    ],
)
def test_no_decimals_are_added_that_were_not_there(
    figure: str, unit: Unit, into: Unit, shown: str
) -> None:
    assert f"{rounded_as_typed(Decimal(figure), unit, into):f}" == shown


def test_the_glossary_has_a_sentence_for_every_quantity_and_every_unit_a_quantity() -> None:
    for key, quantity in units.GLOSSARY.items():
        assert quantity.key == key
        assert quantity.sentence.endswith(".")
    assert {unit.quantity for unit in units.UNITS.values()} <= set(units.GLOSSARY)


# Temperatures


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("26,5", "26.5 °C"),
        (" 26.5 °C ", "26.5 °C"),
        ("79.7 F", "26.5 °C (79.7 °F)"),
        ("80F", "about 26.7 °C (80 °F)"),
        ("78 °f", "about 25.6 °C (78 °F)"),
        ("11.7", "11.7 °C"),
        ("53 F", "about 11.7 °C (53 °F)"),
        ("35", "35 °C"),
    ],
)
def test_a_temperature_is_kept_as_typed_beside_its_conversion(typed: str, said: str) -> None:
    reading = parse_temperature(typed)
    assert reading.said() == said
    assert reading.typed == typed.strip()


@pytest.mark.parametrize(
    ("typed", "room_unit", "values"),
    [
        ("265", units.CELSIUS, ["26.5 C"]),
        ("2.65", units.CELSIUS, ["26.5 C", "as typed"]),
        ("79.7", units.CELSIUS, ["79.7 F"]),
        ("797", units.CELSIUS, ["79.7 F"]),
        ("8", units.CELSIUS, ["as typed"]),
        ("40 C", units.CELSIUS, ["as typed"]),
        ("26.5", units.FAHRENHEIT, ["26.5 C"]),
        ("797", units.FAHRENHEIT, ["79.7 F"]),
    ],
)
def test_c63_a_likely_slip_is_asked_about_and_its_answer_settles_it(
    typed: str, room_unit: Unit, values: list[str]
) -> None:
    with pytest.raises(Asked) as asked:
        parse_temperature(typed, room_unit, field="reading")
    assert [value for value, _ in asked.value.answers] == values
    assert asked.value.field == "reading"
    for value in values:
        settled = parse_temperature(typed, room_unit, answers={asked.value.question: value})
        assert settled.typed == typed
        if value != "as typed":
            assert f"{settled.figure} {settled.unit.key}" == value


def test_an_answer_that_was_not_offered_settles_nothing() -> None:
    with pytest.raises(Asked):
        parse_temperature("265", answers={"temperature": "31 C"})
    with pytest.raises(Asked):
        parse_temperature("265", answers={"temperature": "as typed"})


def test_79_7_is_offered_with_its_celsius() -> None:
    with pytest.raises(Asked, match=r"79\.7 °C cannot be the water of a tank") as asked:
        parse_temperature("79.7")
    assert asked.value.answers == (("79.7 F", "79.7 °F (26.5 °C)"),)


@pytest.mark.parametrize("typed", ["-3", "100", "120 F", "5000"])
def test_what_no_tank_can_hold_is_refused(typed: str) -> None:
    with pytest.raises(RuleBroken, match="between −2 and 45") as refused:
        parse_temperature(typed)
    assert not isinstance(refused.value, Asked)


@pytest.mark.parametrize(
    "typed", ["", "warm", "nan", "1e3", "٢٦", "26. 5", "26.5.1", "26.5 L", "1/2", "9" * 400]
)
def test_what_is_no_temperature_is_refused_beside_its_field(typed: str) -> None:
    with pytest.raises(RuleBroken) as refused:
        parse_temperature(typed, field="reading")
    assert refused.value.field == "reading"


# Volumes, lengths, weights, salt


def test_c62_which_gallon_is_asked_once_and_then_known() -> None:
    with pytest.raises(Asked, match="Which gallon") as asked:
        parse_volume("10 gal")
    assert asked.value.answers == (
        ("us", "US gallon, about 37.9 L (10 US gal)"),
        ("imperial", "imperial gallon, about 45.5 L (10 imperial gal)"),
    )
    imperial = parse_volume("10 gal", answers={"gallon": "imperial"})
    assert imperial.canonical == Decimal("45.4609")
    assert parse_volume("10 gallons", units.US_GALLON).canonical == Decimal("37.85411784")
    assert parse_volume("10 US gal").unit == units.US_GALLON
    assert parse_volume("10", unit_default=units.US_GALLON).unit == units.US_GALLON


def test_the_comma_of_1_500_litres_is_asked_about() -> None:
    with pytest.raises(Asked, match=r"1500 or 1\.500") as asked:
        parse_volume("1,500 L")
    assert asked.value.question == "thousands"
    assert parse_volume("1,500 L", answers={"thousands": "grouped"}).canonical == 1500
    settled = parse_volume("1,500 L", answers={"thousands": "decimal"})
    assert (settled.canonical, settled.typed) == (Decimal("1.5"), "1,500 L")
    assert parse_volume("0,500").canonical == Decimal("0.5")
    assert parse_volume("1 500").canonical == 1500


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1.25 in", "about 31.8 mm (1.25 in)"),
        ('3.5"', "about 89 mm (3.5 in)"),
        ("3 cm", "30 mm (3 cm)"),
        ("8", "8 mm"),
    ],
)
def test_lengths_are_read_in_inches_and_millimetres(typed: str, said: str) -> None:
    assert parse_length(typed).said() == said


def test_weights_and_salinities_are_read() -> None:
    assert parse_mass("1 lb").said() == "about 454 g (1 lb)"
    assert parse_mass("2,5").said() == "2.5 g"
    assert parse_salinity("35").said() == "35 ppt"
    with pytest.raises(RuleBroken, match="specific gravity"):
        parse_salinity("1.025")


@pytest.mark.parametrize("typed", ["0 L", "-4", "200000"])
def test_a_tank_of_no_water_or_of_a_lake_is_refused(typed: str) -> None:
    with pytest.raises(RuleBroken, match="more than 0 and at most"):
        parse_volume(typed)


def test_c62_a_range_takes_the_unit_behind_it() -> None:
    low, high = parse_between("80–82 F", parse_temperature)
    assert [str(end.rounded) for end in (low, high)] == ["26.7", "27.8"]
    small, large = parse_between("0.33 to 0.75 in", parse_length)
    assert [str(end.rounded) for end in (small, large)] == ["8.4", "19.0"]
    one, same = parse_between("78 F", parse_temperature)
    assert one == same
    with pytest.raises(RuleBroken, match="smaller first"):
        parse_between("82-80 F", parse_temperature)
