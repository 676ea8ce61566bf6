"""The feeding part of a species file: foods, greenwater, water change, light, settlement."""

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.larval_protocol import (
    DayBand,
    FeedingStage,
    Food,
    LarvalProtocol,
    Settlement,
)
from hatchery_app.domain.species.species_text import Section

LAST_DPH = 400
_FOOD_TABLES = (
    ("rotifers", Food.ROTIFERS, "per mL", 200.0),
    ("copepods", Food.COPEPODS, "per mL", 200.0),
    ("brine_shrimp_instar_1", Food.SHRIMP_INSTAR_I, "per mL", 100.0),
    ("brine_shrimp_enriched", Food.SHRIMP_ENRICHED, "per mL", 100.0),
    ("microdiet", Food.MICRODIET, "µm", 5000.0),
)


def larval(section: Section) -> LarvalProtocol:
    """The larval plan of a species that has larvae. It must name at least one food."""
    stages = foods(section)
    if not stages:
        raise section.refusal("", "names no food: larvae need a first food.")
    table = section.section_if_any("settlement")
    protocol = LarvalProtocol(
        stages=stages,
        settlement=None if table is None else _settlement(table),
        change_percent=_bands(section, "water_change", "% of the tank a day", 1000.0),
        greenwater=_bands(section, "greenwater", "cells per mL", 1e8),
        light=_bands(section, "light", "hours a day", 24.0),
    )
    section.finish()
    return protocol


def first_foods(brood: Section) -> tuple[FeedingStage, ...]:
    """The foods of young that leave a parent as small fish; rotifers are refused."""
    section = brood.section_if_any("first_foods")
    if section is None:
        return ()
    if "rotifers" in section:
        raise section.refusal(
            "rotifers", "do not fit: young that leave a mouth or a pouch are too large for them."
        )
    stages = foods(section)
    section.finish()
    return stages


def foods(section: Section) -> tuple[FeedingStage, ...]:
    """Every food table under a section, live food first, each in order of its days."""
    stages = [
        _stage(table, row, food, most)
        for key, food, unit, most in _FOOD_TABLES
        if (table := _table(section, key, unit)) is not None
        for row in table.rows
    ]
    return tuple(sorted(stages, key=lambda stage: (list(Food).index(stage.food), stage.from_dph)))


class _Table:
    """A table of rows by day that share unit, source and mark."""

    def __init__(self, section: Section, unit: str) -> None:
        self.unit = section.one_of("unit", (unit,))
        self.source, self.mark = section.words("source"), section.mark()
        self.rows = section.rows("days")
        section.finish()


def _table(section: Section, key: str, unit: str) -> _Table | None:
    found = section.section_if_any(key)
    return None if found is None else _Table(found, unit)


def _days(row: Section) -> tuple[int, int]:
    first, last = row.whole("from", 0, LAST_DPH), row.whole("to", 0, LAST_DPH)
    if first > last:
        raise row.refusal("to", f"must not come before from: {first} to {last} dph.")
    return first, last


def _rising(row: Section, low: float | None, high: float | None) -> None:
    if (low is None) != (high is None):
        raise row.refusal("", "gives one of low and high: give both, or words in note.")
    if low is not None and high is not None and low > high:
        raise row.refusal("low", f"is above high: {low:g} and {high:g}.")


def _stage(table: _Table, row: Section, food: Food, most: float) -> FeedingStage:
    first, last = _days(row)
    low, high = row.number_if_any("low", 0, most), row.number_if_any("high", 0, most)
    _rising(row, low, high)
    note = row.words_if_any("note")
    if low is None and not note:
        raise row.refusal("", "says no amount: give low and high, or words in note.")
    meals = row.whole_if_any("meals_low", 1, 48), row.whole_if_any("meals_high", 1, 48)
    _rising(row, *meals)
    tapers = row.yes("tapers")
    row.finish()
    return FeedingStage(
        food=food,
        from_dph=first,
        to_dph=last,
        low=low,
        high=high,
        unit=table.unit,
        note=note,
        meals_low=meals[0],
        meals_high=meals[1],
        tapers=tapers,
        source=table.source,
        mark=table.mark,
    )


def _bands(section: Section, key: str, unit: str, most: float) -> tuple[DayBand, ...]:
    table = _table(section, key, unit)
    return () if table is None else tuple(_band(table, row, most) for row in table.rows)


def _band(table: _Table, row: Section, most: float) -> DayBand:
    first, last = _days(row)
    low, high = row.number("low", 0, most), row.number("high", 0, most)
    _rising(row, low, high)
    note = row.words_if_any("note")
    row.finish()
    return DayBand(first, last, low, high, table.unit, note, table.source, table.mark)


def _settlement(section: Section) -> Settlement:
    first, half, last = (
        section.figure(key, ("dph",), 1, LAST_DPH) for key in ("first", "half", "last")
    )
    at, t0, flat = (section.figure(key, ("°C",), 0, 40) for key in ("at", "t0", "flat_above"))
    section.finish()
    try:
        return Settlement(
            first_dph=first.bottom,
            half_dph=half.value,
            last_dph=last.top,
            at_c=at.value,
            t0_c=t0.value,
            flat_above_c=flat.value,
        )
    except RuleBroken as broken:
        raise section.refusal("", f"cannot be: {broken.sentence}") from broken
