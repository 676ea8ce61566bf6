"""Water as it is typed: units of the test, slips asked about, and what cannot be."""

import pytest

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.seawater import Instrument
from hatchery_app.domain.tank.water_reading import (
    Quantity,
    read_salinity,
    read_test,
    un_ionised_beside,
)


@pytest.mark.parametrize(
    ("quantity", "typed", "unit", "kept"),
    [
        (Quantity.TOTAL_AMMONIA, "0,5", "mg/L NH4", 0.388),
        (Quantity.TOTAL_AMMONIA, "0.5", "mg/L NH3", 0.411),
        (Quantity.NITRITE, "0.1", "mg/L NO2", 0.03045),
        (Quantity.NITRATE, "20", "mg/L NO3", 4.518),
        (Quantity.ALKALINITY, "125", "mg/L CaCO3", 2.498),
        (Quantity.PH, "8,15", "", 8.15),
    ],
)
def test_a_test_is_kept_in_the_unit_of_the_glossary(quantity, typed, unit, kept):
    read = read_test(quantity, typed, unit)
    assert read.value == pytest.approx(kept, rel=0.001)
    assert read.typed == f"{typed} {unit}".strip()


def test_the_unit_of_a_test_is_never_guessed():
    with pytest.raises(RuleBroken, match="mg/L N or mg/L NO3") as refused:
        read_test(Quantity.NITRATE, "20", "")
    assert refused.value.field == "nitrate_mg_l"


def test_a_lost_decimal_sign_is_asked_about_and_never_mended():
    with pytest.raises(Asked) as asked:
        read_test(Quantity.PH, "82", "")
    assert asked.value.answers == (("a tenth", "8.2"),)
    assert read_test(Quantity.PH, "82", "", answers={"ph": "a tenth"}).value == 8.2


def test_an_accident_is_asked_about_and_may_stand():
    with pytest.raises(Asked):
        read_test(Quantity.TOTAL_AMMONIA, "12.5", "mg/L N")
    kept = read_test(
        Quantity.TOTAL_AMMONIA, "12.5", "mg/L N", answers={"total_ammonia_mg_l": "as typed"}
    )
    assert kept.value == 12.5


@pytest.mark.parametrize("typed", ["-1", "15", "wet"])
def test_what_no_ph_can_be_is_refused(typed):
    with pytest.raises(RuleBroken) as refused:
        read_test(Quantity.PH, typed, "")
    assert not isinstance(refused.value, Asked)


def test_a_specific_gravity_is_no_salinity():
    with pytest.raises(RuleBroken, match="choose the hydrometer"):
        read_salinity("1.025", Instrument.REFRACTOMETER, sample_c=25)
    with pytest.raises(RuleBroken, match=r"not a specific gravity such as 1\.025"):
        read_salinity("33", Instrument.GLASS_HYDROMETER, sample_c=25, marked_at_c=25)


def test_an_instrument_that_rests_on_warmth_asks_how_warm_the_sample_was():
    with pytest.raises(RuleBroken) as refused:
        read_salinity("53.1", Instrument.CONDUCTIVITY, sample_c=None)
    assert refused.value.field == "sample"
    assert read_salinity("53.1", Instrument.CONDUCTIVITY, sample_c=25).value == pytest.approx(
        35.0, abs=0.1
    )


def test_what_is_missing_for_un_ionised_ammonia_is_named():
    assert un_ionised_beside(0.5, None, 26.0, None) == (
        None,
        "needs pH and salinity of the same day",
    )
