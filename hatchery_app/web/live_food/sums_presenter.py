"""The sums: small calculators that keep nothing. Each says its formula and where it is from."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.algae import ALGAE, alga_named, too_thick
from hatchery_app.domain.live_food.brine_shrimp import (
    EASY_WEIGHING_G,
    CystLot,
    Enrichment,
    cysts_to_start,
    hatch_hours,
)
from hatchery_app.domain.live_food.live_food import (
    ML_PER_L,
    greenwater_dose_ml,
    harvest_balance,
    sustained_share,
    two_figures_said,
)
from hatchery_app.domain.live_food.shelf import paste_cells_per_ml
from hatchery_app.domain.live_food.slide_count import Chamber, Density, cells_per_ml, prey_per_ml
from hatchery_app.domain.live_food.supply import animals_said, litres_said
from hatchery_app.domain.live_food.vessel import RECOVERY
from hatchery_app.domain.live_food.vessel_signs import egg_words
from hatchery_app.domain.stock_book.counting import (
    animals_to_count,
    count_error_percent,
    poisson_interval,
)
from hatchery_app.web.live_food.forms import read_counts, read_figure, read_many, read_whole
from hatchery_app.web.when_fields import read_time

LONGEST = 200  # letters of one field of an address


@dataclass(frozen=True)
class Asked:
    """One field of a sum: its name, its label, what stands in it, its unit or its choices."""

    name: str
    label: str
    value: str
    unit: str = ""
    mode: str = "decimal"
    choices: tuple[tuple[str, str], ...] = ()
    refused: str = ""


@dataclass(frozen=True)
class Answer:
    """What a sum comes to: the answer first, then what is to be said with it."""

    lead: str
    more: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sum:
    """One calculator as it is shown. `refused` is a sentence that belongs to no field."""

    key: str
    heading: str
    fields: tuple[Asked, ...]
    answer: Answer | None
    refused: str
    formula: str
    source: str


@dataclass(frozen=True)
class SumsPage:
    """All sums; `is_refused` where the one that was asked could not be worked out."""

    heading: str
    sums: tuple[Sum, ...]
    is_refused: bool


@dataclass(frozen=True)
class _Rule:
    """How a sum is asked and worked out. `begins` holds each field as it first stands."""

    heading: str
    fields: tuple[Asked, ...]
    work: Callable[[Mapping[str, str]], Answer]
    formula: str
    source: str


def shown(typed: Mapping[str, str]) -> SumsPage:
    """Every sum with its example; the one that was asked with what was typed."""
    asked = typed.get("sum", "")
    sums = tuple(_sum(key, rule, typed if key == asked else None) for key, rule in RULES.items())
    return SumsPage("Sums", sums, any(one.answer is None for one in sums))


def _sum(key: str, rule: _Rule, typed: Mapping[str, str] | None) -> Sum:
    values = {one.name: one.value for one in rule.fields}
    if typed is not None:
        values = {name: typed.get(name, "")[:LONGEST] for name in values}
    answer, where, sentence = None, "", ""
    try:
        answer = rule.work({one.name: _bare(one, values[one.name]) for one in rule.fields})
    except RuleBroken as refused:
        where, sentence = refused.field, refused.sentence
    if where not in values:
        where = ""
    fields = tuple(
        Asked(one.name, one.label, values[one.name], one.unit, one.mode, one.choices,
              sentence if one.name == where else "")
        for one in rule.fields
    )  # fmt: skip
    whole = "" if where else sentence
    return Sum(key, rule.heading, fields, answer, whole, rule.formula, rule.source)


def _bare(field: Asked, typed: str) -> str:
    """What was typed without the field's own unit: 60 L where litres are asked for."""
    written = typed.strip()
    if field.unit and written.lower().endswith(field.unit.lower()):
        return written[: -len(field.unit)]
    return typed


def _or_none(values: Mapping[str, str], name: str) -> float:
    """A figure that may be 0, and is where nothing was written."""
    written = values[name].strip()
    if written and not written.strip("0.,"):
        return 0.0
    return read_many(written, name) or 0.0


def _needed(values: Mapping[str, str], name: str) -> float:
    figure = read_many(values[name], name)
    if figure is None:
        raise RuleBroken("Write a figure here.", field=name)
    return figure


def _counted(values: Mapping[str, str]) -> list[int]:
    counts = read_counts(values["counts"])
    if not counts:
        raise RuleBroken("Write each sample's number: 28, 31, 34.", field="counts")
    return counts


def _dilution(values: Mapping[str, str]) -> float:
    return read_figure(values["dilution"], "dilution") or 1.0


def _density(found: Density, counted: int) -> Answer:
    low, high = animals_said(found.low_per_ml), animals_said(found.high_per_ml)
    more = [f"{counted} counted, ±{count_error_percent(counted):.0f} % by chance alone"] if (
        counted) else []  # fmt: skip
    if found.mix_again:
        more.append("The samples differ more than chance allows: stir, and count again.")
    return Answer(
        f"{animals_said(found.per_ml)} per mL ({low.removesuffix(' million')}–{high})", tuple(more)
    )


def _count(values: Mapping[str, str]) -> Answer:
    counts = _counted(values)
    sample = read_figure(values["sample_ml"], "sample_ml") or 1.0
    found = _density(
        prey_per_ml(counts, sample_ml=sample, dilution=_dilution(values)), sum(counts)
    )
    eggs = read_whole(values["eggs"], "eggs")
    if eggs is None or not sum(counts):
        return found
    return Answer(found.lead, (*found.more, egg_words(eggs / sum(counts))))


def _squares(values: Mapping[str, str]) -> Answer:
    counts = _counted(values)
    if values["squares"] not in Chamber.__members__:
        raise RuleBroken("Say which squares were counted.", field="squares")
    square = Chamber[values["squares"]]
    density = cells_per_ml(counts, square=square, dilution=_dilution(values))
    found = _density(density, sum(counts))
    more = list(found.more)
    alga, volume = alga_named(values["alga"]), read_figure(values["volume_ml"], "volume_ml")
    if volume is not None:
        more.append(f"{density.per_ml * volume:,.0f} cells in {volume:g} mL")
    if alga is not None and (words := too_thick(alga, density.per_ml)):
        more.append(words)
    ends = found.lead.partition(" (")[2]
    return Answer(f"{density.per_ml:,.0f} cells per mL ({ends}", tuple(more))


def _error(values: Mapping[str, str]) -> Answer:
    counted = read_whole(values["counted"], "counted")
    if not counted:
        raise RuleBroken("Write how many were counted, 1 or more.", field="counted")
    ends = poisson_interval(counted)
    more = [
        f"exactly {ends.low:,.1f}–{ends.high:,.1f} of {counted:,} (Garwood); ±"
        f"{count_error_percent(counted, 2):.1f} % where a guide multiplies by 2"
    ]
    wanted = read_figure(values["wanted"], "wanted")
    if wanted is not None:
        more.append(f"For ±{wanted:g} % count {animals_to_count(wanted):,} in all.")
    return Answer(f"±{count_error_percent(counted):.1f} %", tuple(more))


def _dose(values: Mapping[str, str]) -> Answer:
    litres, target = _needed(values, "litres"), _needed(values, "target")
    there, basis = _or_none(values, "residual"), ""
    stock, dry = read_many(values["stock"], "stock"), read_figure(values["dry"], "dry")
    if dry is not None:
        alga = alga_named(values["alga"])
        if alga is None:
            raise RuleBroken("Say which alga the paste is of.", field="alga")
        if dry > 100:
            raise RuleBroken("The dry part lies between 0 and 100 %.", field="dry")
        left_out = "; the stock above is left out" if stock is not None else ""
        stock = paste_cells_per_ml(dry / 100, alga.dry_pg, None) or 0.0
        basis = (
            f"{dry:g} % dry at {alga.dry_pg:g} pg a cell (from memory) is {stock:.2g} cells per"
            f" mL{left_out}; a label's cells may differ several times"
        )
    if stock is None:
        raise RuleBroken("Say the stock's cells per mL, or a paste's dry part.", field="stock")
    dose = greenwater_dose_ml(litres, target, there, stock)
    cells = (target - there) * litres * ML_PER_L
    said = f"{dose:,.1f} mL" if dose >= 10 else f"{two_figures_said(dose)} mL"
    return Answer(said, tuple(x for x in (basis, f"{cells:,.0f} cells to add") if x))


def _cysts(values: Mapping[str, str]) -> Answer:
    hours, hatch = read_figure(values["hours"], "hours"), "the lot's own hours"
    if hours is None:
        temperature = _needed(values, "temperature")
        hours, hatch = hatch_hours(temperature), f"at {temperature:g} °C, common practice"
    if hours is None:
        raise RuleBroken(
            "Between 21 and 30 °C hours are known; else write the lot's own.", field="temperature"
        )
    enriched, spare = _or_none(values, "enrich_h"), _or_none(values, "spare")
    start = cysts_to_start(
        _needed(values, "nauplii"), CystLot(_needed(values, "per_g")), hours,
        Enrichment(hours=enriched) if enriched else None, spare / 100,
    )  # fmt: skip
    more = [
        f"{animals_said(start.hatched)} hatch, {animals_said(start.harvested)} harvested,"
        f" {animals_said(start.alive_at_feeding)} fed",
        f"{start.lead_hours:.0f} h before they are fed" + _clock(values, start.lead_hours),
        f"they hatch in {hours:.0f} h ({hatch})",
    ]
    if enriched:
        water = litres_said(start.enrichment_ml / ML_PER_L)
        more.append(f"enriched in {water}, at 200 per mL")
    if start.grams < EASY_WEIGHING_G:
        more.append("Under 0.25 g weighing and sieving lose much: round up.")
    return Answer(f"{start.grams:.3f} g of cysts in {litres_said(start.vessel_l)}", tuple(more))


def _clock(values: Mapping[str, str], lead_hours: float) -> str:
    clock: time | None = read_time(values["feed_at"], "feed_at")
    if clock is None:
        return ""
    fed = datetime(2000, 1, 10, clock.hour, clock.minute)  # noqa: DTZ001  (a clock, no moment)
    starts = fed - timedelta(hours=lead_hours)
    days = (fed.date() - starts.date()).days
    when = {0: "the same day", 1: "the day before"}.get(days, f"{days} days before")
    return f": start at {starts:%H:%M} {when}"


def _harvest(values: Mapping[str, str]) -> Answer:
    percent, rate = read_figure(values["percent"], "percent"), read_figure(values["rate"], "rate")
    if percent is None:
        raise RuleBroken("Write the share that is taken a day, in %.", field="percent")
    if percent >= 100:
        raise RuleBroken("Less than all is taken a day.", field="percent")
    balance = harvest_balance(percent / 100)
    more = [
        f"+{balance.growth_percent_per_day:.1f} % a day, {balance.growth_percent_per_hour:.2f} % an"
        f" hour; median age {balance.median_age_h:.0f} h, mean {balance.mean_age_h:.0f} h"
    ]
    litres, per_ml = read_figure(values["litres"], "litres"), read_many(values["per_ml"], "per_ml")
    if litres is not None and per_ml is not None:
        got = percent / 100 * litres * ML_PER_L * per_ml * RECOVERY
        more.append(f"{animals_said(got)} a day in the sieve, a tenth lost")
    if rate is not None:
        bears = rate >= balance.growth_needed_per_day
        word = "It bears that" if bears else "It sinks"
        share = f"{100 * sustained_share(rate):.0f} %"
        more.append(f"{word}: at r {rate:g} a vessel bears {share} a day.")
    return Answer(f"needs r {balance.growth_needed_per_day:.3f} a day", tuple(more))


_ALGAE_CHOICES = (("", "another"), *((alga.name, alga.name) for alga in ALGAE))

RULES: dict[str, _Rule] = {
    "count": _Rule(
        "A count on a slide",
        (
            Asked("counts", "Animals in each sample", "28, 31, 34", mode="text"),
            Asked("sample_ml", "One sample", "1", "mL"),
            Asked("dilution", "Diluted 1 to", "10"),
            Asked("eggs", "Eggs on them", "", mode="numeric"),
        ),
        _count,
        "per mL = Σ counts ÷ (samples × mL) × dilution; the wider of the Poisson and the t"
        " interval, 95 %; eggs each = eggs ÷ animals",
        "Garwood 1936 for the Poisson ends; egg classes of Snell et al. 1987, break-even contested",
    ),
    "squares": _Rule(
        "A haemocytometer",
        (
            Asked("counts", "Cells in each square", "42, 37, 45, 40, 36", mode="text"),
            Asked("squares", "Squares", "SMALL_SQUARE", choices=(
                ("LARGE_SQUARE", "large, 1 mm"), ("SMALL_SQUARE", "small, 25 to a large one"))),
            Asked("dilution", "Diluted 1 to", "1"),
            Asked("alga", "Alga", "Nannochloropsis", choices=_ALGAE_CHOICES),
            Asked("volume_ml", "In a volume of", "", "mL"),
        ),
        _squares,
        "cells per mL = mean of a large square × 10,000 × dilution, or of a small one × 250,000 ×"
        " dilution (0.1 mm deep)",
        "improved Neubauer ruling, laboratory courses",
    ),
    "error": _Rule(
        "The error of a count",
        (
            Asked("counted", "Counted in all", "100", mode="numeric"),
            Asked("wanted", "Wanted", "10", "%"),
        ),
        _error,
        "± % = 196 ÷ √counted; to count = (196 ÷ %)²",
        "Poisson, where the water is well mixed; Garwood 1936, Biometrika 28:437–442",
    ),
    "dose": _Rule(
        "Green water",
        (
            Asked("litres", "Tank", "40", "L"),
            Asked("residual", "Cells there", "50000", "per mL"),
            Asked("target", "Cells wanted", "300000", "per mL"),
            Asked("stock", "Stock", "20000000", "per mL"),
            Asked("dry", "Or a paste, dry part", "", "%"),
            Asked("alga", "of", "Nannochloropsis", choices=_ALGAE_CHOICES),
        ),
        _dose,
        "mL = litres × 1000 × (wanted − there) ÷ (stock − wanted); paste: dry part ÷ pg a cell ×"
        " 10¹² cells per mL",
        "C₁V₁ = C₂V₂, the dose's own volume counted; weights of cells from memory",
    ),
    "cysts": _Rule(
        "Cysts to start",
        (
            Asked("nauplii", "Shrimp to feed", "60000"),
            Asked("feed_at", "Fed at", "08:00", mode="text"),
            Asked("per_g", "Nauplii per gram", "230000"),
            Asked("temperature", "Water", "28", "°C"),
            Asked("hours", "Or the lot's own hours", "", "h"),
            Asked("enrich_h", "Enriched for", "24", "h"),
            Asked("spare", "Spare", "10", "%"),
        ),
        _cysts,
        "g = shrimp × (1 + spare) ÷ (per gram × 0.9 harvested × 0.85 alive after enrichment);"
        " hours = 1 wetting + hatching + 1 rinsing + enrichment; 2 g/L",
        "FAO 428 (New 2002) for wetting, hours and g/L; the shares are assumed",
    ),
    "harvest": _Rule(
        "What a harvest asks of a culture",
        (
            Asked("percent", "Taken a day", "30", "%"),
            Asked("rate", "Its own r", "0.40", "a day"),
            Asked("litres", "Vessel", "7", "L"),
            Asked("per_ml", "Stands at", "300", "per mL"),
        ),
        _harvest,
        "r ≥ −ln(1 − h); growth = h ÷ (1 − h); mean age = 1 ÷ r, median = ln 2 ÷ r",
        "a feed maker's page on rotifer culture; a tenth lost in the sieve (Attramadal & Sandvand)",
    ),
}  # fmt: skip
