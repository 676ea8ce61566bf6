"""Seawater against published tables; each row names where it is from and how it stands."""

from collections.abc import Callable

import pytest

from hatchery_app.domain.tank import seawater as sea
from tests.published.published_rows import PublishedRow, read_rows

ROWS = read_rows("seawater.csv")


def density(s: float, t68: float) -> float:
    found = sea.density_kg_m3(s, t68 / sea.T68_PER_T90)
    assert found
    return found


def percent(share: float | None) -> float | None:
    return None if share is None else 100 * share


def hydrometer(reading: float, celsius: float, marked: float) -> float | None:
    kind = sea.Instrument.GLASS_HYDROMETER
    return sea.SalinityReading(kind, reading, celsius, marked).salinity_psu()


def nh3_n(total: float, ph: float, celsius: float, s: float) -> float:
    found = sea.un_ionised_ammonia(total, ph, celsius, s)
    assert found
    return found.as_nitrogen_mg_l


WORKED: dict[str, Callable[..., float | None]] = {
    "density68": density,
    "sigma68": lambda s, t68: density(s, t68) - 1000,
    "pss78": lambda rt, t68: sea.practical_salinity(rt, t68 / sea.T68_PER_T90),
    "conductivity": lambda ms, celsius: sea.salinity_from_conductivity(ms, celsius),
    "hydrometer": hydrometer,
    "nh3_percent": lambda ph, celsius, s: percent(sea.un_ionised_share(ph, celsius, s)),
    "nh3_total_scale": lambda ph, celsius, s: sea.un_ionised_share(
        ph, celsius, s, sea.PhScale.TOTAL
    ),
    "nh3_n": nh3_n,
    "oxygen": lambda s, celsius: sea.oxygen_saturation_umol_kg(s, celsius),
    # TEOS-10 gives the formula its temperature on IPTS-68; the paper's own is ours.
    "oxygen68": lambda s, celsius: sea.oxygen_saturation_umol_kg(s, celsius * sea.T68_PER_T90),
    "oxygen_mg_l": lambda s, celsius: sea.oxygen_saturation_mg_l(s, celsius),
    "change_percent": lambda now, wanted, source: percent(sea.change_fraction(now, wanted, source)),
    "left_after": lambda now, fraction, changes: sea.after_changes(
        now, fraction, changes=int(changes)
    ),
    "changes_needed": lambda now, wanted, fraction, source: sea.changes_needed(
        now, wanted, fraction, source
    ),
    "salt_g": lambda litres, start, end: sea.dry_salt_g(litres, start, end, 25),
    "fresh_kg": lambda litres, risen, wanted: sea.fresh_water_kg(litres, risen, wanted, 25),
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_seawater_agrees_with_the_table(row: PublishedRow) -> None:
    worked = WORKED[row.quantity](**row.inputs)
    assert row.agrees(worked), f"{worked} for {row.expected} ± {row.tolerance}, {row.source}"


@pytest.mark.parametrize("salinity", [0, 10, 25, 35, 42])
@pytest.mark.parametrize("temperature_c", [5, 15, 25, 35])
def test_density_agrees_with_the_standard_of_2010(salinity: float, temperature_c: float) -> None:
    import gsw

    absolute = salinity * 35.16504 / 35
    conservative = gsw.CT_from_t(absolute, temperature_c, 0)
    newer = float(gsw.rho(absolute, conservative, 0))
    assert sea.density_kg_m3(salinity, temperature_c) == pytest.approx(newer, abs=0.006)
