"""The keeping part of a species file: the pair and its tank, water by life stage, growth."""

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.species.species import (
    L_PER_US_GALLON,
    MM_PER_INCH,
    Figure,
    Growth,
    KnownLength,
    LengthFit,
    LengthWeight,
    PairRule,
    Water,
    WaterRange,
)
from hatchery_app.domain.species.species_text import Section

LIFE_STAGES = ("broodstock", "larvae", "grow-out")
_LENGTHS = ("mm", "in")
_VOLUMES = ("L", "US gal")
_TEMPERATURES = ("°C", "°F")
# quantity: units, least, most, whether a single value is an upper limit
_QUANTITIES: dict[str, tuple[tuple[str, ...], float, float, bool]] = {
    "temperature": (_TEMPERATURES, 0, 100, False),
    "temperature_usual": (_TEMPERATURES, 0, 100, False),
    "temperature_target": (_TEMPERATURES, 0, 100, False),
    "salinity": (("ppt",), 0, 60, False),
    "specific_gravity": (("",), 0.99, 1.05, False),
    "ph": (("",), 5, 10, False),
    "ammonia": (("mg/L NH3-N",), 0, 50, True),
    "ammonia_alarm": (("mg/L NH3-N",), 0, 50, True),
    "total_ammonia": (("mg/L N",), 0, 50, True),
    "nitrite": (("mg/L NO2-N",), 0, 200, True),
    "nitrate": (("mg/L", "mg/L NO3-N"), 0, 1000, True),
}


def celsius(value: float, unit: str) -> float:
    """A temperature of a figure in °C: (°F − 32) × 5/9."""
    return (value - 32) * 5 / 9 if unit == "°F" else value


def _mm(figure: Figure | None) -> tuple[float | None, float | None]:
    if figure is None:
        return None, None
    factor = MM_PER_INCH if figure.unit == "in" else 1.0
    return figure.bottom * factor, figure.top * factor


def _value(figure: Figure | None) -> float | None:
    return None if figure is None else figure.value


def pair(section: Section | None) -> PairRule:
    """What a pair needs; everything unknown where the file says nothing."""
    if section is None:
        return PairRule()
    caution = section.figure_if_any("size_ratio_caution", ("×",), 1, 5)
    neighbour = section.figure_if_any("neighbour_ratio", ("×",), 1, 5)
    volume = section.figure_if_any("tank_volume", _VOLUMES, 1, 100_000)
    adult_low, adult_high = _mm(section.figure_if_any("adult_length", _LENGTHS, 0.2, 2000))
    life = section.figure_if_any("lifespan_floor", ("years",), 0.1, 200)
    spines = section.figure_if_any("dorsal_spines", ("spines",), 1, 40)
    divider = section.yes("divider")
    section.finish()
    litres = L_PER_US_GALLON if volume is not None and volume.unit == "US gal" else 1.0
    return PairRule(
        size_ratio_caution=_value(caution),
        neighbour_ratio=_value(neighbour),
        divider=divider,
        volume_low_l=None if volume is None else volume.bottom * litres,
        volume_high_l=None if volume is None else volume.top * litres,
        adult_low_mm=adult_low,
        adult_high_mm=adult_high,
        lifespan_floor_low_years=None if life is None else life.bottom,
        lifespan_floor_high_years=None if life is None else life.top,
        dorsal_spines=None if spines is None else int(spines.value),
    )


def water(section: Section | None) -> Water:
    """Water ranges by life stage, temperatures in °C whatever the file gives."""
    if section is None:
        return Water()
    ranges: list[WaterRange] = []
    for stage in LIFE_STAGES:
        table = section.section_if_any(stage)
        if table is None:
            continue
        for quantity, (units, least, most, is_limit) in _QUANTITIES.items():
            if figure := table.figure_if_any(quantity, units, least, most):
                ranges.append(_range(stage, quantity, figure, is_limit))
        table.finish()
    section.finish()
    return Water(tuple(ranges))


def _range(stage: str, quantity: str, figure: Figure, is_limit: bool) -> WaterRange:
    low: float | None = celsius(figure.bottom, figure.unit)
    if is_limit and not figure.is_range:
        low = None
    high = celsius(figure.top, figure.unit)
    unit = "°C" if figure.unit in _TEMPERATURES else figure.unit
    return WaterRange(stage, quantity, low, high, unit, figure.source, figure.mark, figure.note)


def growth(section: Section | None) -> Growth:
    """Growth as far as the file knows it."""
    if section is None:
        return Growth()
    fit = section.section_if_any("length_by_age")
    weight = section.section_if_any("length_weight")
    sale_low, sale_high = _mm(section.figure_if_any("sale_length", _LENGTHS, 0.2, 2000))
    mature = section.figure_if_any("mature", ("days",), 1, 10_000)
    known = tuple(_known(row) for row in section.rows_if_any("known_lengths"))
    section.finish()
    return Growth(
        length_fit=None if fit is None else _fit(fit),
        known_lengths=known,
        mature_low_days=None if mature is None else mature.bottom,
        mature_high_days=None if mature is None else mature.top,
        sale_low_mm=sale_low,
        sale_high_mm=sale_high,
        length_weight=None if weight is None else _weight(weight),
    )


def _fit(section: Section) -> LengthFit:
    start = section.figure("start", ("mm",), 0.1, 200)
    daily = section.figure("per_day", ("mm a day",), 0, 20)
    first, last = section.whole("from_dph", 0, 10_000), section.whole("to_dph", 0, 10_000)
    section.finish()
    try:
        return LengthFit(start.value, daily.value, first, last)
    except RuleBroken as broken:
        raise section.refusal("", f"cannot be: {broken.sentence}") from broken


def _weight(section: Section) -> LengthWeight:
    a = section.figure("a", ("g",), 1e-9, 10)
    b = section.figure("b", ("",), 1, 5)
    unit = section.one_of("length_unit", ("mm", "cm"))
    kind = section.one_of("length_kind", ("TL", "SL"))
    section.finish()
    return LengthWeight(a.value, b.value, unit, kind)


def _known(row: Section) -> KnownLength:
    known = KnownLength(
        row.whole("day", 0, 10_000),
        row.number("length_mm", 0.1, 2000),
        row.words("source"),
        row.mark(),
    )
    row.finish()
    return known
