"""The species library: what loads, what is refused and how, and what a larval day asks for."""

from pathlib import Path

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.larval_tank.larval_protocol import Food, for_day, settlement_at
from hatchery_app.domain.species.species import BroodMode, Mark, Species
from hatchery_app.domain.species.species_file import load_library, load_species
from hatchery_app.domain.species.species_text import SpeciesRefused, lines_by_path

LIBRARY_FOLDER = Path(__file__).parents[3] / "hatchery_app" / "species"
LIBRARY = load_library([LIBRARY_FOLDER])
TEN = (
    "amphiprion_biaculeatus",
    "amphiprion_clarkii",
    "amphiprion_frenatus",
    "amphiprion_melanopus",
    "amphiprion_ocellaris",
    "amphiprion_percula",
    "elacatinus_figaro",
    "hippocampus_erectus",
    "pseudochromis_fridmani",
    "pterapogon_kauderni",
)
OCELLARIS = LIBRARY["amphiprion_ocellaris"]


def refused(text: str, name: str = "quill.toml") -> SpeciesRefused:
    with pytest.raises(SpeciesRefused) as caught:
        load_species(text, name)
    return caught.value


def line_of(text: str, begins: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), 1) if line.startswith(begins))


def swapped(old: str, new: str, species: Species = OCELLARIS) -> str:
    assert species.text.count(old) >= 1, old
    return species.text.replace(old, new, 1)


def without_line(begins: str, species: Species = OCELLARIS) -> str:
    gone = line_of(species.text, begins)
    return "\n".join(ln for n, ln in enumerate(species.text.splitlines(), 1) if n != gone)


def test_all_ten_species_load_and_each_file_names_its_species():
    assert tuple(sorted(LIBRARY)) == TEN
    for key, species in LIBRARY.items():
        assert species.scientific_name.lower().replace(" ", "_") == key
        assert species.text == (LIBRARY_FOLDER / f"{key}.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("key", TEN)
def test_each_figure_has_unit_source_and_mark_beside_it(key: str):
    species = LIBRARY[key]
    assert species.figures
    marks = {mark.value for mark in Mark}
    for figure in species.figures.values():
        assert len(figure.source) > 3
        assert figure.mark in marks
    stages = species.larval.stages if species.larval else species.brood.first_foods
    rows = [*stages, *species.water.ranges, *species.sex.change, *species.growth.known_lengths]
    rows += species.incubation.looks if species.incubation else ()
    rows += [species.sex]
    if species.larval:
        larval = species.larval
        rows += [*larval.change_percent, *larval.greenwater, *larval.light]
    assert all(len(row.source) > 3 and row.mark in marks for row in rows)


def test_a_figure_is_found_by_its_path_with_its_words():
    threshold = OCELLARIS.figure("incubation.t0")
    assert (threshold.value, threshold.unit) == (16.0, "°C")
    assert OCELLARIS.figure("spawning.interval").said() == "10–21 days"
    assert OCELLARIS.figure("incubation.nothing") is None


def test_the_maroon_has_its_own_constant_and_its_former_name():
    maroon = LIBRARY["amphiprion_biaculeatus"]
    assert maroon.incubation.k_degree_days == 78
    assert maroon.figure("incubation.k").mark == Mark.PRACTICE
    assert maroon.former_names == ("Premnas biaculeatus",)
    assert (maroon.pair.size_ratio_caution, maroon.pair.divider) == (1.5, True)


@pytest.mark.parametrize("key", [k for k in TEN if k.startswith("amphiprion")])
def test_a_clownfish_without_own_published_days_stands_on_the_shared_fit(key: str):
    own = {"amphiprion_frenatus": 99.0, "amphiprion_biaculeatus": 78.0}
    eggs = LIBRARY[key].incubation
    assert eggs.k_degree_days == own.get(key, 87.3)
    assert (eggs.t0_c, eggs.fitted_from_c, eggs.fitted_to_c) == (16, 25, 28)
    assert (eggs.widen_below_c, eggs.widen_above_c) == (24, 30)


def test_no_days_to_hatch_are_given_outside_the_temperatures_known():
    eggs = OCELLARIS.incubation
    assert eggs.days_at(21.9) is None
    assert eggs.days_at(31.1) is None
    assert eggs.days_at(27) == pytest.approx(7.94, abs=0.01)


def test_the_look_of_eggs_follows_the_fraction_of_their_incubation():
    assert [look.sign for look in OCELLARIS.incubation.look_at(0.1)] == ["colour"]
    assert [look.sign for look in OCELLARIS.incubation.look_at(0.55)] == ["dark", "eyes"]
    assert [look.sign for look in OCELLARIS.incubation.look_at(0.9)] == ["silver"]


# --- what is refused, with file, line and reason


def test_a_missing_value_is_refused_at_the_line_of_its_table():
    text = without_line("k ")
    found = refused(text)
    assert found.sentence.startswith(f"quill.toml:{line_of(text, '[incubation]')}: incubation.k is")
    assert "missing" in found.reason


def test_a_missing_source_is_refused_at_the_line_of_its_figure():
    found = refused(swapped(', mark = "common practice", source = "usual range"', ""))
    assert found.line == line_of(OCELLARIS.text, "temperature_usual")
    assert "temperature_usual.source is missing" in found.reason


def test_an_unknown_mark_is_refused():
    line = line_of(OCELLARIS.text, "neighbour_ratio")
    text = OCELLARIS.text.splitlines()
    text[line - 1] = text[line - 1].replace('mark = "published"', 'mark = "certain"')
    found = refused("\n".join(text))
    assert found.line == line
    assert "'certain'" in found.reason


def test_an_impossible_value_is_refused_with_its_line_and_its_bounds():
    found = refused(swapped("value = 87.3", "value = -87.3"))
    assert found.line == line_of(OCELLARIS.text, "k ")
    assert found.reason == "incubation.k.value must lie between 1 and 1000, not -87.3."


@pytest.mark.parametrize("value", ["nan", "inf", "true", '"16"'])
def test_a_value_that_is_no_number_is_refused(value: str):
    found = refused(swapped("value = 16.0", f"value = {value}"))
    assert found.line == line_of(OCELLARIS.text, "t0")


def test_a_wrong_unit_is_refused():
    found = refused(swapped('value = 16.0, unit = "°C"', 'value = 16.0, unit = "°F"'))
    assert found.line == line_of(OCELLARIS.text, "t0")
    assert "'°C'" in found.reason


def test_a_range_upside_down_is_refused():
    found = refused(swapped("low = 25, high = 28", "low = 28, high = 25"))
    assert found.line == line_of(OCELLARIS.text, "fitted")


def test_temperatures_that_do_not_rise_are_refused_at_their_section():
    found = refused(swapped("low = 22, high = 31", "low = 26, high = 31"))
    assert found.line == line_of(OCELLARIS.text, "[incubation]")
    assert "Temperatures must rise" in found.reason


def test_settlement_that_ends_before_it_begins_is_refused():
    found = refused(swapped('value = 8, unit = "dph"', 'value = 18, unit = "dph"'))
    assert found.line == line_of(OCELLARIS.text, "[larval.settlement]")


def test_a_row_of_days_upside_down_is_refused_at_its_own_line():
    found = refused(swapped("from = 8, to = 10, low = 5", "from = 12, to = 10, low = 5"))
    assert found.line == line_of(OCELLARIS.text, "  { from = 8, to = 10, low = 5")
    assert "12 to 10 dph" in found.reason


def test_an_unknown_key_is_refused_with_a_hint():
    found = refused(swapped("divider", "diviter", LIBRARY["amphiprion_biaculeatus"]))
    assert "diviter is not known: did you mean divider?" in found.reason
    assert found.line == line_of(LIBRARY["amphiprion_biaculeatus"].text, "divider")


def test_an_unknown_section_is_refused():
    text = OCELLARIS.text + "\n[incubator]\nlamp = true\n"
    found = refused(text)
    assert found.line == line_of(text, "[incubator]")


def test_text_that_is_not_toml_is_refused_with_the_line_of_the_slip():
    found = refused('[names]\nscientific = "Amphiprion quill\n')
    assert found.line == 2
    assert found.sentence.startswith("quill.toml:2: this line cannot be read")


def test_a_file_that_ends_too_soon_is_refused_at_its_end():
    assert refused('[names]\nscientific = "a"\nformer = [').line == 3


def test_a_file_that_is_not_utf8_is_refused_with_its_line(tmp_path: Path):
    (tmp_path / "quill.toml").write_bytes(b'[names]\nscientific = "\xff"\n')
    with pytest.raises(SpeciesRefused, match=r"^quill\.toml:2: "):
        load_library([tmp_path])


def test_a_refusal_is_a_broken_rule_so_that_pages_can_show_it():
    assert isinstance(refused("[names]"), RuleBroken)


def test_lines_of_rows_in_a_list_are_found():
    lines = lines_by_path("[a.b]\nk = 1\nrows = [\n  { x = 1 },\n  { x = 2 },\n]\nz = 2\n")
    assert lines[("a", "b", "k")] == 2
    assert lines[("a", "b", "rows", "1")] == 5
    assert lines[("a", "b", "z")] == 7


# --- carried broods


@pytest.mark.parametrize("key", ["pterapogon_kauderni", "hippocampus_erectus"])
def test_a_carried_brood_has_no_larval_plan_no_hatch_watch_and_no_rotifers(key: str):
    species = LIBRARY[key]
    assert species.brood_mode.is_carried
    assert species.larval is None
    assert species.incubation is None
    assert {stage.food for stage in species.brood.first_foods}.isdisjoint({Food.ROTIFERS})
    assert species.brood.first_foods


@pytest.mark.parametrize("key", ["pterapogon_kauderni", "hippocampus_erectus"])
def test_rotifers_for_a_carried_brood_are_refused(key: str):
    rows = 'unit = "per mL"\nmark = "common practice"\nsource = "a slip"\ndays = [\n]\n'
    text = LIBRARY[key].text + "\n[brood.first_foods.rotifers]\n" + rows
    found = refused(text)
    assert found.line == line_of(text, "[brood.first_foods.rotifers]")
    assert "too large" in found.reason
    text = LIBRARY[key].text + "\n[larval.rotifers]\n" + rows
    assert "does not fit a brood carried" in refused(text).reason


def test_the_dottyback_lays_an_egg_ball_and_has_larvae():
    dottyback = LIBRARY["pseudochromis_fridmani"]
    assert dottyback.brood_mode is BroodMode.EGG_BALL
    assert dottyback.larval is not None


# --- the keeper's own folder


def test_the_keepers_file_shadows_ours_and_leaves_the_rest(tmp_path: Path):
    own = swapped("value = 87.3", "value = 80.0")
    (tmp_path / "amphiprion_ocellaris.toml").write_text(own, encoding="utf-8")
    library = load_library([LIBRARY_FOLDER, tmp_path])
    assert library["amphiprion_ocellaris"].incubation.k_degree_days == 80
    assert library["amphiprion_percula"].incubation.k_degree_days == 87.3
    assert set(library) == set(TEN)


def test_a_room_without_a_folder_of_its_own_has_ours(tmp_path: Path):
    assert set(load_library([LIBRARY_FOLDER, tmp_path / "none"])) == set(TEN)


def test_a_kept_text_gives_the_same_protocol_again():
    again = load_species(OCELLARIS.text, "amphiprion_ocellaris.toml")
    assert again == OCELLARIS


# --- the larval day


def day(dph: int, temperature_c: float | None = 27.5):
    return for_day(OCELLARIS.larval, dph, temperature_c)


def test_the_hatch_night_has_rotifers_greenwater_and_the_dark():
    night = day(0)
    assert (night.rotifers.low, night.rotifers.high) == (5, 10)
    assert (night.greenwater.low, night.greenwater.high) == (100_000, 300_000)
    assert night.light_words == "dark for the hatch, then dim"
    assert night.water_change.high == 0
    assert (night.shrimp, night.microdiet) == ((), None)


def test_a_trace_of_shrimp_is_words_and_no_number():
    (shrimp,) = day(3).shrimp
    assert (shrimp.target, shrimp.note) == (None, "a trace")


def test_fresh_and_enriched_shrimp_are_two_foods_with_their_own_days():
    assert [food.food for food in day(9).shrimp] == [Food.SHRIMP_INSTAR_I]
    assert [food.food for food in day(12).shrimp] == [Food.SHRIMP_ENRICHED]


def test_rotifers_stop_after_ten_dph():
    assert day(10).rotifers is not None
    assert day(11).rotifers is None


def test_enriched_shrimp_taper_to_nothing():
    amounts = [day(dph).shrimp[0].target for dph in range(16, 26)]
    assert amounts == sorted(amounts, reverse=True)
    assert 0 < amounts[-1] < 0.5
    assert day(26).shrimp == ()


def test_microdiet_grows_with_the_larva_and_says_its_meals():
    diet = day(9).microdiet
    assert (diet.low, diet.high, diet.unit) == (150, 250, "µm")
    assert (diet.meals_low, diet.meals_high) == (6, 8)


def test_cooler_larvae_are_read_as_younger():
    assert day(10, 25.0).plan_day == 8
    assert day(10, 25.0).rotifers is not None
    assert day(10, 29.0).plan_day == 11


def test_first_feeding_is_never_put_off_by_cool_water():
    assert day(0, 23.0).plan_day == 0
    assert day(1, 23.0).plan_day == 1


def test_without_a_temperature_the_plan_is_read_as_written_and_says_so():
    plan = day(9, None)
    assert plan.plan_day == 9
    assert plan.settlement.half_dph == pytest.approx(10.5)
    assert "No temperature yet" in plan.cautions[0]


def test_hotter_than_the_flat_is_no_faster_and_is_warned_of():
    hot, flat = day(9, 31.0), day(9, 29.5)
    assert hot.settlement == flat.settlement
    assert flat.cautions == ()
    assert "hotter is not faster" in hot.cautions[0]


def test_too_cool_for_any_source_gives_no_settlement_window():
    plan = day(9, 22.0)
    assert plan.settlement is None
    assert "not known" in plan.cautions[0]


def test_a_day_before_the_hatch_is_refused():
    with pytest.raises(RuleBroken, match="before they hatch"):
        day(-1)


def test_past_its_last_day_the_plan_names_no_food_and_says_so():
    plan = day(70)
    assert plan.foods == ()
    assert "ends on its day 60" in plan.cautions[0]


def test_the_settlement_window_is_looked_for_in_whole_days():
    assert settlement_at(OCELLARIS.larval.settlement, 26.0).days == (9, 19)
