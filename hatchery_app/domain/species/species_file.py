"""The species library: one TOML file a species, read into values or refused by line.

A file is `<key>.toml`. The room's own folder comes after the program's, and a key found again
replaces the one before, so that a keeper's copy of a file shadows ours.
"""

from collections.abc import Iterable, Mapping
from pathlib import Path
from types import MappingProxyType

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.species.species import (
    EGG_SIGNS,
    Brood,
    BroodMode,
    EggLook,
    Incubation,
    ReportedTime,
    Sex,
    SexSystem,
    Spawning,
    Species,
)
from hatchery_app.domain.species.species_care import growth, pair, water
from hatchery_app.domain.species.species_feeding import first_foods, larval
from hatchery_app.domain.species.species_text import Section, SpeciesRefused, SpeciesText

_CELSIUS = ("°C",)
_DEGREE_DAYS = ("degree-days",)
_DAYS = ("days",)
_TENDERS = ("male", "female", "both", "none")


def load_species(text: str, path_name: str) -> Species:
    """One species from the text of its file; the key is the file's name without `.toml`.

    Raises SpeciesRefused with file, line and reason for text that is not TOML, a value that is
    missing or impossible, a key nobody reads, or a plan that does not fit the way of brooding.
    """
    file = SpeciesText(text, Path(path_name).name)
    root = file.root
    names, brood = root.section("names"), root.section("brood")
    mode = BroodMode(brood.one_of("mode", tuple(mode.value for mode in BroodMode)))
    _refuse_misfits(root, mode)
    tended_by = brood.one_of("tended_by", _TENDERS)
    try:
        species = Species(
            key=Path(path_name).stem,
            scientific_name=names.words("scientific"),
            common_name=names.words("common"),
            former_names=names.list_of_words("former"),
            brood_mode=mode,
            tended_by=tended_by,
            incubation=_incubation(root.section("incubation")) if mode.waits_for_dark else None,
            floating=_floating(root.section("incubation")) if mode is BroodMode.PELAGIC else None,
            brood=_carried(brood, tended_by) if mode.is_carried else None,
            larval=None if mode.is_carried else larval(root.section("larval")),
            spawning=_spawning(root.section_if_any("spawning")),
            sex=_sex(root.section("sex")),
            pair=pair(root.section_if_any("pair")),
            water=water(root.section_if_any("water")),
            growth=growth(root.section_if_any("growth")),
            figures=MappingProxyType(file.figures),
            text=text,
            file_name=file.file_name,
        )
    except RuleBroken as broken:
        raise _at(root, broken) from broken
    for section in (names, brood, root):
        section.finish()
    return species


def load_library(folders: Iterable[Path]) -> Mapping[str, Species]:
    """All species of some folders by key; a later folder shadows an earlier one.

    A folder that does not exist counts as empty. Raises SpeciesRefused for the first file that
    cannot be used, and never skips one in silence.
    """
    library: dict[str, Species] = {}
    for folder in folders:
        for file in sorted(Path(folder).glob("*.toml")):
            library[file.stem] = load_species(_read(file), str(file))
    return MappingProxyType(library)


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise SpeciesRefused(file.name, line, "this line is not UTF-8 text.") from error


def _refuse_misfits(root: Section, mode: BroodMode) -> None:
    if not mode.is_carried:
        return
    for key in ("larval", "incubation"):
        if key in root:
            raise root.refusal(
                key,
                f"does not fit a brood carried in the {mode}: the young leave as small fish, so"
                " there are no larvae and no hatch to watch. Days and foods go under brood.",
            )


def _carried(brood: Section, tended_by: str) -> Brood:
    release = brood.figure("release", _DAYS, 1, 200)
    hatch = brood.figure_if_any("hatch", _DAYS, 1, 200)
    spread = brood.figure_if_any("spread", _DAYS, 0, 50)
    young = brood.figure_if_any("young", ("young",), 1, 5000)
    try:
        return Brood(
            carried_by=tended_by,
            release_days=release.value,
            hatch_days=None if hatch is None else hatch.value,
            spread_days=None if spread is None else spread.value,
            young_low=None if young is None else int(young.bottom),
            young_high=None if young is None else int(young.top),
            first_foods=first_foods(brood),
        )
    except RuleBroken as broken:
        raise _at(brood, broken) from broken


def _incubation(section: Section) -> Incubation:
    watch = section.figure("watch_from", ("minutes after lights-off",), 0, 720)
    hours = section.figure("hatch_hours", ("hours after lights-off",), 0.25, 24)
    return _constants(section, watch.value, hours.value)


def _floating(section: Section) -> Incubation:
    """Constants of eggs that hatch at any hour: hours after lights-off are not theirs to have."""
    return _constants(section, 0, 24)


def _constants(section: Section, watch_from_minutes: float, hatch_hours: float) -> Incubation:
    t0 = section.figure("t0", _CELSIUS, 0, 30)
    k = section.figure("k", _DEGREE_DAYS, 1, 1000)
    between = section.figure("spread_between_sources", _DEGREE_DAYS, 0, 200)
    within = section.figure("spread_clutch_to_clutch", _DEGREE_DAYS, 0, 200)
    fitted = section.figure("fitted", _CELSIUS, 0, 40)
    widen = section.figure_if_any("widen_outside", _CELSIUS, 0, 40)
    limits = section.figure("no_figure_outside", _CELSIUS, 0, 40)
    looks = tuple(_look(row) for row in section.rows_if_any("looks"))
    section.finish()
    try:
        return Incubation(
            t0_c=t0.value,
            k_degree_days=k.value,
            spread_between_sources_dd=between.value,
            spread_clutch_to_clutch_dd=within.value,
            fitted_from_c=fitted.bottom,
            fitted_to_c=fitted.top,
            no_figure_below_c=limits.bottom,
            no_figure_above_c=limits.top,
            watch_from_minutes=watch_from_minutes,
            hatch_hours=hatch_hours,
            widen_below_c=None if widen is None else widen.bottom,
            widen_above_c=None if widen is None else widen.top,
            looks=looks,
        )
    except RuleBroken as broken:
        raise _at(section, broken) from broken


def _look(row: Section) -> EggLook:
    look = {
        "sign": row.one_of("sign", EGG_SIGNS),
        "words": row.words("words"),
        "source": row.words("source"),
        "mark": row.mark(),
    }
    first, last = row.number("from", 0, 1), row.number("to", 0, 1)
    row.finish()
    if first >= last:
        raise row.refusal("to", f"must come after from: {first:g} to {last:g}.")
    return EggLook(from_fraction=first, to_fraction=last, **look)


def _spawning(section: Section | None) -> Spawning | None:
    if section is None:
        return None
    interval = section.figure("interval", _DAYS, 0.5, 400)
    median = section.figure_if_any("median_interval", _DAYS, 0.5, 400)
    eggs = section.figure_if_any("clutch", ("eggs",), 1, 1_000_000)
    overdue = section.figure_if_any("overdue", ("× the pair's own median gap",), 1, 20)
    stopped = section.figure_if_any("stopped", ("× the pair's own median gap",), 1, 20)
    aside = section.figure_if_any("set_aside_first", ("clutches",), 0, 20)
    section.finish()
    return Spawning(
        interval_low_days=interval.bottom,
        interval_high_days=interval.top,
        interval_median_days=None if median is None else median.value,
        clutch_low=None if eggs is None else int(eggs.bottom),
        clutch_high=None if eggs is None else int(eggs.top),
        overdue_factor=None if overdue is None else overdue.value,
        stopped_factor=None if stopped is None else stopped.value,
        first_clutches_set_aside=0 if aside is None else int(aside.value),
    )


def _sex(section: Section) -> Sex:
    system = SexSystem(section.one_of("system", tuple(kind.value for kind in SexSystem)))
    words, source, mark = section.words("words"), section.words("source"), section.mark()
    larger = section.one_of_if_any("larger", ("female", "male"))
    change = tuple(_reported(row) for row in section.rows_if_any("change"))
    section.finish()
    return Sex(system, words, source, mark, larger, change)


def _reported(row: Section) -> ReportedTime:
    report = ReportedTime(row.words("words"), row.words("source"), row.mark())
    row.finish()
    return report


def _at(section: Section, broken: RuleBroken) -> RuleBroken:
    if isinstance(broken, SpeciesRefused):
        return broken
    return section.refusal("", f"cannot be: {broken.sentence}")
