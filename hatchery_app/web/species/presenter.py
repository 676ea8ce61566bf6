"""A species in words: what it does, then every figure with its source and its mark."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from flask import url_for

from hatchery_app.domain.larval_tank.larval_protocol import FeedingStage, LarvalProtocol
from hatchery_app.domain.larval_tank.learned_stages import LearnedStage
from hatchery_app.domain.species.species import BroodMode, Figure, Species
from hatchery_app.domain.species.species_care import LIFE_STAGES
from hatchery_app.services.species.species import Library
from hatchery_app.web.tank.water_presenter import span_words

# What the figures of a file are called, by the end of their path.
NAMES = {
    "t0": "No development below",
    "k": "Warmth to hatch, summed above that",
    "spread_between_sources": "Spread between sources",
    "spread_clutch_to_clutch": "Spread from clutch to clutch",
    "fitted": "Fitted on eggs at",
    "widen_outside": "Less sure outside",
    "no_figure_outside": "No figure outside",
    "watch_from": "Watch from",
    "hatch_hours": "Most hatch within",
    "hatch": "Eggs hatch inside the parent after",
    "release": "Young leave after",
    "spread": "Spread of that",
    "young": "Young of a brood",
    "settlement.first": "First settle",
    "settlement.half": "Half have settled",
    "settlement.last": "Last settle",
    "settlement.at": "Those days hold at",
    "settlement.t0": "Scaled by warmth above",
    "settlement.flat_above": "No sooner in water above",
    "interval": "From one spawn to the next",
    "median_interval": "Usual gap",
    "clutch": "Eggs of a clutch",
    "overdue": "Overdue after",
    "stopped": "Stopped after",
    "set_aside_first": "Not counted at the start",
    "size_ratio_caution": "Watch a pair closer in size than",
    "neighbour_ratio": "Neighbouring ranks in the wild",
    "tank_volume": "Tank of a pair",
    "adult_length": "Grown fish",
    "lifespan_floor": "Lives at least",
    "dorsal_spines": "Spines in the dorsal fin",
    "mature": "Mature after",
    "sale_length": "Sold from",
    "length_by_age.start": "Length at hatch",
    "length_by_age.per_day": "Grows",
    "length_weight.a": "Weight = a × length^b, a",
    "length_weight.b": "and b",
}
WATERS = {
    "temperature": "Temperature",
    "temperature_usual": "Temperature, usually",
    "temperature_target": "Temperature, target",
    "salinity": "Salinity",
    "specific_gravity": "Specific gravity",
    "ph": "pH",
    "ammonia": "Un-ionised ammonia",
    "ammonia_alarm": "Un-ionised ammonia, alarm",
    "total_ammonia": "Total ammonia",
    "nitrite": "Nitrite",
    "nitrate": "Nitrate",
}


@dataclass(frozen=True)
class SpeciesLine:
    """One species in the list."""

    name: str
    scientific: str
    url: str
    said: str


@dataclass(frozen=True)
class ListPage:
    """The library: what is in use, whose files, and what was refused."""

    heading: str
    species: tuple[SpeciesLine, ...]
    refused: tuple[str, ...]
    folder: str


@dataclass(frozen=True)
class FigureRow:
    """One figure: what it is, its value, what is said of it."""

    name: str
    value: str
    note: str


@dataclass(frozen=True)
class Sourced:
    """Figures that follow each other and come from one source, with how well it stands."""

    rows: tuple[FigureRow, ...]
    mark: str
    source: str


@dataclass(frozen=True)
class Part:
    """The figures of one part of a species' life."""

    heading: str
    groups: tuple[Sourced, ...]


@dataclass(frozen=True)
class ShowPage:
    """One species."""

    heading: str
    scientific: str
    former: str
    lead: str
    facts: tuple[tuple[str, str], ...]
    reports: tuple[tuple[str, str], ...]
    learned: tuple[str, ...]
    parts: tuple[Part, ...]
    text_url: str
    file_name: str
    whose: str
    survival_url: str


def listed(library: Library, folder: Path) -> ListPage:
    """The library's list."""
    return ListPage(
        "Species",
        tuple(_line(one, one.key in library.keepers) for one in library.in_order()),
        tuple(refused.sentence for refused in library.refused),
        str(folder),
    )


def _line(one: Species, is_keepers: bool) -> SpeciesLine:
    said = brood_words(one)
    return SpeciesLine(
        one.common_name,
        one.scientific_name,
        url_for("species.show", key=one.key),
        f"{said} · your own file" if is_keepers else said,
    )


def brood_words(one: Species) -> str:
    """How it broods, with the days at 26 °C or those of the brood."""
    if one.brood is not None:
        carried = f"the {one.brood.carried_by} carries the brood in the {one.brood_mode}"
        return f"{carried}, about {one.brood.release_days:.0f} days"
    days = one.incubation.days_at(26.0) if one.incubation is not None else None
    is_tended = one.brood_mode is not BroodMode.PELAGIC and one.tended_by != "none"
    by = "both parents" if one.tended_by == "both" else f"the {one.tended_by}"
    tended = f", tended by {by}" if is_tended else ""
    if one.floating is not None:
        days = one.floating.days_at(one.floating.usual_c)
        hours = f", about {days * 24:.0f} hours to hatch" if days is not None else ""
        return f"{one.brood_mode}{hours} at {one.floating.usual_c:g} °C, at any hour"
    about = "" if days is None else f", about {days:.1f} days to hatch at 26 °C"
    return f"{one.brood_mode}{tended}{about}"


def shown(one: Species, library: Library, learned: Sequence[LearnedStage] = ()) -> ShowPage:
    """One species' page, with what this room's own batches showed of its stages."""
    keepers = one.key in library.keepers
    return ShowPage(
        heading=one.common_name,
        scientific=one.scientific_name,
        former=f"earlier {', '.join(one.former_names)}" if one.former_names else "",
        lead=brood_words(one),
        facts=_facts(one),
        reports=tuple((report.words, f"{report.mark}: {report.source}")
                      for report in one.sex.change),
        learned=tuple(each.said() for each in learned),
        parts=tuple(_parts(one)),
        text_url=url_for("species.text", key=one.key),
        survival_url=url_for("stock_book.survival", key=one.key),
        file_name=one.file_name,
        whose="Your own file, in the place of ours." if keepers
        else "The program's own file; a copy in your folder takes its place.",
    )  # fmt: skip


def _facts(one: Species) -> tuple[tuple[str, str], ...]:
    sex = f"{one.sex.words} ({one.sex.mark}: {one.sex.source})" if one.sex.source else one.sex.words
    larvae = "none: the young leave their parent as small fish" if one.larval is None else ""
    return (("Sex", sex), ("Larvae", larvae))


Marked = tuple[FigureRow, str, str]


def _parts(one: Species) -> Iterable[Part]:
    """Every figure by the part of life it is about, in the order of a life."""
    parts = (
        ("Eggs", [*_figures(one, "incubation"), *_looks(one)]),
        ("Brood", [*_figures(one, "brood"), *(_stage(s) for s in _first_foods(one))]),
        ("Larvae: food", [] if one.larval is None else [_stage(s) for s in one.larval.stages]),
        ("Larvae: water and light", [] if one.larval is None else _bands(one.larval)),
        ("Settling", _figures(one, "larval")),
        ("Spawning", _figures(one, "spawning")),
        ("Pair and tank", _figures(one, "pair")),
        *((f"Water: {stage}", _water(one, stage)) for stage in LIFE_STAGES),
        ("Growth", [*_figures(one, "growth"), *_known_lengths(one)]),
    )
    for heading, marked in parts:
        if marked:
            yield Part(heading, _grouped(marked))


def _grouped(marked: Iterable[Marked]) -> tuple[Sourced, ...]:
    """Neighbours of one source together, so that it stands once under them."""
    groups = groupby(marked, key=lambda one: (one[1], one[2]))
    return tuple(
        Sourced(tuple(row for row, _, _ in rows), mark, source)
        for (mark, source), rows in groups
    )


def _figures(one: Species, part: str) -> list[Marked]:
    found = []
    for path, figure in one.figures.items():
        first, _, rest = path.partition(".")
        if first == part:
            name = NAMES.get(rest, rest.replace(".", ", ").replace("_", " ").capitalize())
            found.append((FigureRow(name, _value(figure), figure.note), figure.mark, figure.source))
    return found


def _value(figure: Figure) -> str:
    """The figure as its file gives it, a length or a volume in metric beside it."""
    factor, unit = {"in": (25.4, "mm"), "US gal": (3.785411784, "L")}.get(figure.unit, (0.0, ""))
    if not factor:
        return figure.said()
    low, high = figure.bottom * factor, figure.top * factor
    metric = f"{low:.0f}" if low == high else f"{low:.0f}–{high:.0f}"
    return f"{metric} {unit} ({figure.said()})"


def _looks(one: Species) -> list[Marked]:
    eggs = one.incubation or one.floating
    looks = eggs.looks if eggs is not None else ()
    return [
        (
            FigureRow(
                look.words.capitalize(),
                f"{100 * look.from_fraction:.0f}–{100 * look.to_fraction:.0f} % of the way", "",
            ),
            look.mark,
            look.source,
        )
        for look in looks
    ]  # fmt: skip


def _first_foods(one: Species) -> tuple[FeedingStage, ...]:
    return one.brood.first_foods if one.brood is not None else ()


def _stage(stage: FeedingStage) -> Marked:
    days = _days(stage.from_dph, stage.to_dph)
    amount = "" if stage.low is None else _span(stage.low, stage.high, stage.unit)
    meals = "" if stage.meals_low is None else (
        f"{_span(stage.meals_low, stage.meals_high, 'meals a day')}"
    )
    value = ", ".join(word for word in (amount, meals) if word)
    name = f"{str(stage.food).replace('_', ' ').capitalize()}, {days}"
    row = FigureRow(name, value or stage.note, stage.note if value else "")
    return row, stage.mark, stage.source


def _bands(larval: LarvalProtocol) -> list[Marked]:
    bands = (
        ("Greenwater", larval.greenwater), ("Water change", larval.change_percent),
        ("Light", larval.light),
    )  # fmt: skip
    return [
        (
            FigureRow(
                f"{name}, {_days(band.from_dph, band.to_dph)}",
                _span(band.low, band.high, band.unit), band.note,
            ),
            band.mark,
            band.source,
        )
        for name, listed in bands
        for band in listed
    ]  # fmt: skip


def _water(one: Species, stage: str) -> list[Marked]:
    return [
        (
            FigureRow(WATERS.get(span.quantity, span.quantity), span_words(span), span.note),
            span.mark,
            span.source,
        )
        for span in one.water.for_stage(stage)
    ]


def _known_lengths(one: Species) -> list[Marked]:
    return [
        (FigureRow(f"Length on day {known.day}", f"{known.length_mm:g} mm", ""), known.mark,
         known.source)
        for known in one.growth.known_lengths
    ]  # fmt: skip


def _days(first: int, last: int) -> str:
    return f"{first} dph" if first == last else f"{first}–{last} dph"


def _span(low: float, high: float | None, unit: str) -> str:
    if high is None or low == high:
        return f"{_number(low)} {unit}".rstrip()
    return f"{_number(low)}–{_number(high)} {unit}".rstrip()


def _number(value: float) -> str:
    """Thousands apart, so that cells per mL can be read."""
    return f"{value:,.0f}".replace(",", "\u202f") if value >= 10_000 else f"{value:g}"
