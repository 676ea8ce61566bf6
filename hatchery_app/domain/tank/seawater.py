"""Seawater: salinity by instrument, density, un-ionised ammonia, oxygen, water changes.

Practical salinity (psu), °C on ITS-90, one atmosphere. Plain arithmetic; outside the range a
formula was made for, the answer is None.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken

KELVIN = 273.15
T68_PER_T90 = 1.00024  # ITS-90 to IPTS-68 (Saunders 1990)
GLASS_EXPANSION_PER_C = 25e-6  # glass hydrometers; ISO 1768:1975
C_STANDARD_MS_CM = 42.914  # conductivity of S 35 at 15 °C; UNESCO 1983, Tech. Pap. 44
NH3_PER_NH3_N = 17.031 / 14.007  # molar masses
PH_BAND = 0.1  # what an ordinary meter or colour test is good for (common practice)
O2_MG_PER_UMOL = 31.9988e-3  # molar mass of O2
SA_PER_SP = 35.16504 / 35  # g/kg per psu, reference composition; Millero et al. 2008


def _polynomial(coefficients: tuple[float, ...], x: float) -> float:
    """c0 + c1·x + c2·x² …"""
    return sum(c * x**power for power, c in enumerate(coefficients))


def _solve(
    rising: Callable[[float], float], wanted: float, low: float, high: float
) -> float | None:
    """Where a rising function takes a value, by halving; None outside low to high."""
    if not rising(low) <= wanted <= rising(high):
        return None
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) < wanted else (low, middle)
    return (low + high) / 2


# --- Density and salinity -----------------------------------------------------------------

PURE_WATER = (999.842594, 6.793952e-2, -9.095290e-3, 1.001685e-4, -1.120083e-6, 6.536332e-9)
EOS80_A = (0.824493, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9)
EOS80_B = (-5.72466e-3, 1.0227e-4, -1.6546e-6)
EOS80_C = 4.8314e-4


def density_kg_m3(salinity_psu: float, temperature_c: float) -> float | None:
    """Density of seawater at the surface, kg/m³, for S 0–42 and −2 to 40 °C; None outside.

    EOS-80, UNESCO 1983, Tech. Pap. Mar. Sci. 44; Millero & Poisson 1981.
    """
    t68 = temperature_c * T68_PER_T90
    if not (0 <= salinity_psu <= 42 and -2 <= temperature_c <= 40):
        return None
    return _eos80(salinity_psu, t68)


def _eos80(s: float, t68: float) -> float:
    return (
        _polynomial(PURE_WATER, t68)
        + _polynomial(EOS80_A, t68) * s
        + _polynomial(EOS80_B, t68) * s * math.sqrt(s)
        + EOS80_C * s**2
    )


def specific_gravity(salinity_psu: float, sample_c: float, water_c: float) -> float | None:
    """Density of the sample over that of pure water, each at its own °C; None outside EOS-80."""
    sample, water = density_kg_m3(salinity_psu, sample_c), density_kg_m3(0, water_c)
    return None if sample is None or water is None else sample / water


def salinity_from_specific_gravity(
    ratio: float, sample_c: float, water_c: float, *, glass_marked_at_c: float | None = None
) -> float | None:
    """Salinity behind a specific gravity, 0–42 psu; None outside.

    `water_c` is the temperature of the pure water the ratio refers to. For a glass hydrometer
    marked at `glass_marked_at_c` and read at `sample_c` the glass itself has grown (25·10⁻⁶
    per °C, ISO 1768:1975). Swing-arm instruments are not described by this.
    """
    water = density_kg_m3(0, water_c)
    if water is None or density_kg_m3(35, sample_c) is None:
        return None
    swelling = 1.0
    if glass_marked_at_c is not None:
        swelling += GLASS_EXPANSION_PER_C * (sample_c - glass_marked_at_c)
    density = ratio * water / swelling
    return _solve(lambda s: _eos80(s, sample_c * T68_PER_T90), density, 0.0, 42.0)


PSS78_A = (0.0080, -0.1692, 25.3851, 14.0941, -7.0261, 2.7081)
PSS78_B = (0.0005, -0.0056, -0.0066, -0.0375, 0.0636, -0.0144)
PSS78_RT = (0.6766097, 2.00564e-2, 1.104259e-4, -6.9698e-7, 1.0031e-9)


def practical_salinity(rt: float, temperature_c: float) -> float:
    """Practical salinity from the conductivity ratio to S 35 at the same °C.

    PSS-78, UNESCO 1983, Tech. Pap. Mar. Sci. 44 pp. 6–12; valid S 2–42, −2 to 35 °C.
    """
    root, warmth = math.sqrt(rt), temperature_c * T68_PER_T90 - 15
    correction = warmth / (1 + 0.0162 * warmth) * _polynomial(PSS78_B, root)
    return _polynomial(PSS78_A, root) + correction


def salinity_from_conductivity(conductivity_ms_cm: float, temperature_c: float) -> float | None:
    """Practical salinity from conductivity not compensated for temperature; None outside PSS-78."""
    if conductivity_ms_cm <= 0 or not -2 <= temperature_c <= 35:
        return None
    rt35 = _polynomial(PSS78_RT, temperature_c * T68_PER_T90)
    salinity = practical_salinity(conductivity_ms_cm / C_STANDARD_MS_CM / rt35, temperature_c)
    return salinity if 2 <= salinity <= 42 else None


class Instrument(StrEnum):
    """What a salinity was read with."""

    REFRACTOMETER = "refractometer"
    GLASS_HYDROMETER = "glass hydrometer"
    SWING_ARM = "swing-arm hydrometer"
    CONDUCTIVITY = "conductivity meter"


@dataclass(frozen=True)
class SalinityReading:
    """A reading as it stands on the instrument, with what makes a salinity of it.

    Refractometer: psu. Hydrometers: specific gravity, with the °C they are marked for.
    Conductivity: mS/cm, not compensated. `offset_psu` is what the instrument reads too high on
    a known standard.
    """

    instrument: Instrument
    reading: float
    sample_c: float
    marked_at_c: float | None = None
    offset_psu: float = 0.0

    def salinity_psu(self) -> float | None:
        """The practical salinity, corrected; None where it lies outside the formula's range.

        Raises RuleBroken for a hydrometer whose marked temperature is not said: it is worth
        2 psu.
        """
        read = self._uncorrected()
        return None if read is None else read - self.offset_psu

    def _uncorrected(self) -> float | None:
        if self.instrument is Instrument.REFRACTOMETER:
            return self.reading if 0 <= self.reading <= 42 else None
        if self.instrument is Instrument.CONDUCTIVITY:
            return salinity_from_conductivity(self.reading, self.sample_c)
        if self.marked_at_c is None:
            raise RuleBroken(
                "Which temperature is the hydrometer marked for? 1.025 is 33.2 on one marked"
                " 25/25 °C and 35.2 on one marked 17.5/17.5 °C.",
                field="marked_at_c",
            )
        glass = self.marked_at_c if self.instrument is Instrument.GLASS_HYDROMETER else None
        return salinity_from_specific_gravity(
            self.reading, self.sample_c, self.marked_at_c, glass_marked_at_c=glass
        )


# --- Un-ionised ammonia -------------------------------------------------------------------


class PhScale(StrEnum):
    """The scale a pH stands on: an ordinary meter or colour test is NBS."""

    NBS = "NBS"
    TOTAL = "total"


def ammonia_pka(
    temperature_c: float, salinity_psu: float, scale: PhScale = PhScale.NBS
) -> float | None:
    """pKa of ammonium, by the scale the pH was read on; None outside.

    NBS, S 5–40 and 5–30 °C: Bell et al. 2007, Environ. Chem. 4:183–186 and 2008 note. NBS,
    S under 5 and 0–50 °C: Emerson et al. 1975, J. Fish. Res. Bd Can. 32:2379. Total, S 0–40
    and −2 to 40 °C: Clegg & Whitfield 1995, eq. 18.
    """
    if scale is PhScale.TOTAL:
        return _clegg_whitfield_pka(temperature_c, salinity_psu)
    if 5 <= salinity_psu <= 40 and 5 <= temperature_c <= 30:
        return 10.0423 - 0.0315536 * temperature_c + 0.003071 * salinity_psu
    if 0 <= salinity_psu < 5 and 0 <= temperature_c <= 50:
        return 0.09018 + 2729.92 / (temperature_c + KELVIN)
    return None


def _clegg_whitfield_pka(temperature_c: float, s: float) -> float | None:
    if not (0 <= s <= 40 and -2 <= temperature_c <= 40):
        return None
    t = temperature_c + KELVIN
    root = math.sqrt(t)
    salty = math.sqrt(s)
    return (
        9.244605
        - 2729.33 * (1 / 298.15 - 1 / t)
        + (0.04203362 - 11.24742 / t) * math.sqrt(salty)
        + (-13.6416 + 1.176949 * root - 0.02860785 * t + 545.4834 / t) * salty
        + (-0.1462507 + 0.0090226468 * root - 0.0001471361 * t + 10.5425 / t) * s * salty
        + (0.004669309 - 0.0001691742 * root - 0.5677934 / t) * s**2
        + (-2.354039e-5 + 0.009698623 / t) * s**2 * salty
    )


def un_ionised_share(
    ph: float, temperature_c: float, salinity_psu: float, scale: PhScale = PhScale.NBS
) -> float | None:
    """NH3 ÷ (NH3 + NH4), 1 ÷ (1 + 10^(pKa − pH)); None outside the constants' range."""
    pka = ammonia_pka(temperature_c, salinity_psu, scale)
    return None if pka is None else 1 / (1 + 10 ** (pka - ph))


@dataclass(frozen=True)
class UnIonised:
    """Un-ionised ammonia as NH3, mg/L: best, and what a pH 0.1 lower and higher would make it."""

    nh3_mg_l: float
    low_mg_l: float
    high_mg_l: float

    @property
    def as_nitrogen_mg_l(self) -> float:
        """The same expressed as nitrogen, NH3-N."""
        return self.nh3_mg_l / NH3_PER_NH3_N


def un_ionised_ammonia(
    total_mg_l_n: float,
    ph: float,
    temperature_c: float,
    salinity_psu: float,
    scale: PhScale = PhScale.NBS,
) -> UnIonised | None:
    """Un-ionised ammonia from total ammonia as nitrogen (mg/L), with the band of ±0.1 pH.

    None outside the constants' range. Raises RuleBroken for a pH or a total that cannot be.
    """
    if total_mg_l_n < 0 or not 0 <= ph <= 14:
        raise RuleBroken("Total ammonia cannot be below 0, and pH lies between 0 and 14.")
    pka = ammonia_pka(temperature_c, salinity_psu, scale)
    if pka is None:
        return None
    as_nh3 = total_mg_l_n * NH3_PER_NH3_N
    best, low, high = (as_nh3 / (1 + 10 ** (pka - ph - off)) for off in (0, -PH_BAND, PH_BAND))
    return UnIonised(best, low, high)


# --- Oxygen -------------------------------------------------------------------------------

GG_A = (5.80871, 3.20291, 4.17887, 5.10006, -0.0986643, 3.80369)
GG_B = (-7.01577e-3, -7.70028e-3, -1.13864e-2, -9.51519e-3)
GG_C = -2.75915e-7


def oxygen_saturation_umol_kg(salinity_psu: float, temperature_c: float) -> float | None:
    """Oxygen of water in balance with moist air at 1 atm, µmol/kg; S 0–42, 0–40 °C, else None.

    Garcia & Gordon 1992, Limnol. Oceanogr. 37:1307–1312 (Benson & Krause coefficients), eq. 8
    without its misprinted A3·Ts² term.
    """
    if not (0 <= salinity_psu <= 42 and 0 <= temperature_c <= 40):
        return None
    ts = math.log((298.15 - temperature_c) / (KELVIN + temperature_c))
    exponent = _polynomial(GG_A, ts) + salinity_psu * _polynomial(GG_B, ts)
    return math.exp(exponent + GG_C * salinity_psu**2)


def oxygen_saturation_mg_l(salinity_psu: float, temperature_c: float) -> float | None:
    """The same in mg/L, by the density of the water; None outside."""
    umol_kg = oxygen_saturation_umol_kg(salinity_psu, temperature_c)
    density = density_kg_m3(salinity_psu, temperature_c)
    if umol_kg is None or density is None:
        return None
    return umol_kg * O2_MG_PER_UMOL * density / 1000


def oxygen_percent(mg_l: float, salinity_psu: float, temperature_c: float) -> float | None:
    """Measured oxygen as a percentage of saturation at 1 atm; None outside."""
    full = oxygen_saturation_mg_l(salinity_psu, temperature_c)
    return None if full is None else 100 * mg_l / full


# --- Water changes, salt, top-up ----------------------------------------------------------


def after_changes(now: float, fraction: float, source: float = 0.0, changes: int = 1) -> float:
    """What is left after equal water changes: s + (C − s)(1 − f)ⁿ."""
    if not 0 <= fraction <= 1:
        raise RuleBroken("A water change lies between nothing and the whole tank.")
    return source + (now - source) * (1 - fraction) ** changes


def change_fraction(now: float, wanted: float, source: float = 0.0) -> float | None:
    """The share to change at once for a concentration; None where the new water cannot do it."""
    if now == source:
        return 0.0 if wanted == now else None
    fraction = (now - wanted) / (now - source)
    return fraction if 0 <= fraction < 1 else None


def changes_needed(
    now: float, wanted: float, fraction: float, source: float = 0.0
) -> int | None:
    """How many equal changes bring it there, rounded up; None where they never do."""
    once = change_fraction(now, wanted, source)
    if once is None or not 0 < fraction < 1:
        return None
    return math.ceil(math.log(1 - once) / math.log(1 - fraction) - 1e-9)


def dry_salt_g(
    volume_l: float, from_psu: float, to_psu: float, temperature_c: float
) -> float | None:
    """Grams of dry sea salts that raise so many litres; from 0, what the batch is made of.

    By reference composition (35.16504 g/kg at 35). Bought mixes hold water: the keeper's own
    grams per litre come first. None outside EOS-80; RuleBroken where salinity would fall.
    """
    if to_psu < from_psu:
        raise RuleBroken("Salt raises salinity; to lower it, change water for fresh.")
    density = density_kg_m3(to_psu, temperature_c)
    if density is None or density_kg_m3(from_psu, temperature_c) is None:
        return None
    made_g = volume_l * density * to_psu * SA_PER_SP / 1000
    if from_psu == 0:
        return made_g
    kg = volume_l * _eos80(from_psu, temperature_c * T68_PER_T90) / 1000
    before, after = from_psu * SA_PER_SP / 1000, to_psu * SA_PER_SP / 1000
    return kg * 1000 * (after - before) / (1 - after)


def fresh_water_kg(
    volume_l: float, risen_psu: float, wanted_psu: float, temperature_c: float
) -> float | None:
    """Fresh water that undoes evaporation, m(S1/S2 − 1) in kg, salt conserved; None outside."""
    density = density_kg_m3(risen_psu, temperature_c)
    if density is None or not 0 < wanted_psu <= risen_psu:
        return None
    return volume_l * density / 1000 * (risen_psu / wanted_psu - 1)
