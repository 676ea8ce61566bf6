"""Seawater: the instrument asked for, the band said, nothing carried outside its range."""

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.tank.seawater import (
    Instrument,
    SalinityReading,
    ammonia_pka,
    change_fraction,
    changes_needed,
    density_kg_m3,
    dry_salt_g,
    fresh_water_kg,
    oxygen_percent,
    oxygen_saturation_mg_l,
    salinity_from_conductivity,
    salinity_from_specific_gravity,
    specific_gravity,
    un_ionised_ammonia,
    un_ionised_share,
)


def test_1_025_is_two_salinities_by_the_instrument_it_was_read_on() -> None:
    kind = Instrument.GLASS_HYDROMETER
    at_25 = SalinityReading(kind, 1.025, 25, marked_at_c=25).salinity_psu()
    at_17_5 = SalinityReading(kind, 1.025, 25, marked_at_c=17.5).salinity_psu()
    assert at_25 == pytest.approx(33.19, abs=0.01)
    assert at_17_5 == pytest.approx(35.16, abs=0.01)


def test_a_hydrometer_whose_temperature_is_not_said_is_asked_for_it() -> None:
    with pytest.raises(RuleBroken, match="marked for"):
        SalinityReading(Instrument.GLASS_HYDROMETER, 1.025, 25).salinity_psu()


def test_what_an_instrument_reads_too_high_on_a_standard_is_taken_off() -> None:
    read = SalinityReading(Instrument.REFRACTOMETER, 36.5, 25, offset_psu=1.5)
    assert read.salinity_psu() == 35


@pytest.mark.parametrize("salinity", [5, 20, 33, 40])
def test_specific_gravity_there_and_back_is_the_same_salinity(salinity: float) -> None:
    ratio = specific_gravity(salinity, 26, 25)
    assert ratio is not None
    assert salinity_from_specific_gravity(ratio, 26, 25) == pytest.approx(salinity, abs=1e-6)


def test_outside_its_range_a_formula_says_nothing() -> None:
    assert density_kg_m3(43, 25) is None
    assert density_kg_m3(35, 41) is None
    assert salinity_from_specific_gravity(1.2, 25, 25) is None
    assert salinity_from_conductivity(53, 36) is None
    assert ammonia_pka(31, 33) is None
    assert un_ionised_share(8.2, 4, 33) is None
    assert oxygen_saturation_mg_l(35, 41) is None
    assert dry_salt_g(100, 0, 43, 25) is None
    assert fresh_water_kg(100, 34, 35, 25) is None


def test_un_ionised_ammonia_comes_with_the_band_of_a_tenth_of_a_ph() -> None:
    found = un_ionised_ammonia(0.5, 8.2, 27, 33)
    assert found is not None
    assert found.low_mg_l < found.nh3_mg_l < found.high_mg_l
    assert found.high_mg_l / found.nh3_mg_l == pytest.approx(1.235, abs=0.001)


@pytest.mark.parametrize(("total", "ph"), [(-0.1, 8), (0.5, 15)])
def test_a_ph_or_a_total_that_cannot_be_is_refused(total: float, ph: float) -> None:
    with pytest.raises(RuleBroken):
        un_ionised_ammonia(total, ph, 27, 33)


def test_the_two_ammonia_formulas_meet_at_brackish_water_within_a_fiftieth() -> None:
    below, above = un_ionised_share(8, 25, 4.999), un_ionised_share(8, 25, 5)
    assert below is not None
    assert above == pytest.approx(below, rel=0.06)


def test_water_full_of_oxygen_is_at_100_per_cent() -> None:
    full = oxygen_saturation_mg_l(33, 26)
    assert full is not None
    assert oxygen_percent(full, 33, 26) == pytest.approx(100)


def test_a_change_with_water_as_bad_as_the_tanks_never_gets_there() -> None:
    assert change_fraction(40, 20, source=20) is None
    assert change_fraction(40, 20, source=25) is None
    assert changes_needed(80, 10, 0.2, source=10) is None


def test_salt_does_not_lower_salinity() -> None:
    with pytest.raises(RuleBroken, match="change water"):
        dry_salt_g(100, 35, 32, 25)
