"""The species library against published figures, and against common practice marked as such."""

from pathlib import Path

import pytest

from hatchery_app.domain.larval_tank.larval_protocol import settlement_at
from hatchery_app.domain.species.species_file import load_library

LIBRARY = load_library([Path(__file__).parents[2] / "hatchery_app" / "species"])
OCELLARIS = LIBRARY["amphiprion_ocellaris"]
BANGGAI = LIBRARY["pterapogon_kauderni"]
SEAHORSE = LIBRARY["hippocampus_erectus"]
PRACTICE = "common practice"


# Green & Fisher 2004, J. Exp. Mar. Biol. Ecol. 299:115–132, A. melanopus
@pytest.mark.parametrize(("temperature_c", "days"), [(28.0, 9.0), (25.0, 12.3)])
def test_half_the_larvae_settle_when_green_and_fisher_saw_it(temperature_c: float, days: float):
    settlement = LIBRARY["amphiprion_melanopus"].larval.settlement
    assert settlement_at(settlement, temperature_c).half_dph == pytest.approx(days, abs=0.05)


# McLeod et al. 2013, Conserv. Physiol. 1:cot024, A. percula at 30.7 °C fed daily, 10.5 ± 0.2 d
def test_percula_at_the_hottest_settle_inside_the_window():
    window = settlement_at(LIBRARY["amphiprion_percula"].larval.settlement, 30.7)
    assert window.first_dph < 10.5 < window.last_dph


# Vagelli 1999, Env. Biol. Fish. 56:79–92 and Vagelli & Volpedo 2004
def test_banggai_hatch_in_the_mouth_on_day_19_and_are_released_on_day_29():
    assert BANGGAI.brood.hatch_days == pytest.approx(19, abs=2)
    assert BANGGAI.brood.release_days == pytest.approx(29, abs=2)
    assert BANGGAI.larval is None


def test_banggai_are_30_mm_four_months_after_release_and_mature_before_a_year():
    sizes = {known.length_mm: known.day for known in BANGGAI.growth.known_lengths}
    assert sizes[30] == pytest.approx(120, abs=15)
    assert BANGGAI.growth.mature_low_days == pytest.approx(270, abs=15)
    assert BANGGAI.growth.mature_high_days == pytest.approx(330, abs=15)


# Lin et al. 2008, Aquaculture 277:287–292
def test_a_seahorse_father_carries_17_days_and_a_young_of_63_mm_weighs_0_377_g():
    assert (SEAHORSE.brood.release_days, SEAHORSE.brood.spread_days) == (17.3, 2.9)
    assert SEAHORSE.growth.length_weight.weight_g(63.2) == pytest.approx(0.377, abs=0.002)


# Chen, Zeng & Cobcroft 2023, Fishes 8(9):451
def test_orchid_dottyback_eggs_take_96_hours_at_27():
    eggs = LIBRARY["pseudochromis_fridmani"].incubation
    assert eggs.days_at(27) * 24 == pytest.approx(96)


# Meirelles et al. 2009, Aquac. Res. (6.8 d at 25 °C); Shei et al. (7–8 d at 26 °C)
@pytest.mark.parametrize(("temperature_c", "days"), [(25.0, 6.8), (26.0, 7.0)])
def test_barber_goby_eggs_hatch_within_the_spread_of_the_two_sources(
    temperature_c: float, days: float
):
    eggs = LIBRARY["elacatinus_figaro"].incubation
    spread_days = eggs.spread_between_sources_dd / (temperature_c - eggs.t0_c)
    assert eggs.days_at(temperature_c) == pytest.approx(days, abs=spread_days)


# South China 2021, doi 10.3969/j.issn.2095-1191.2021.12.013, 8–10 d at 27 ± 1 °C
def test_tomato_clownfish_are_slow():
    assert LIBRARY["amphiprion_frenatus"].incubation.days_at(27) == pytest.approx(9, abs=1)


# Six to eight days at 27–28 °C, common practice
@pytest.mark.parametrize("temperature_c", [27.0, 28.0])
def test_maroons_hatch_in_six_to_eight_days(temperature_c: float):
    assert 6 <= LIBRARY["amphiprion_biaculeatus"].incubation.days_at(temperature_c) <= 8


# Kim & Hur 2007, J. Aquaculture (Korea) 20(4):239–247
@pytest.mark.parametrize(("dph", "length_mm"), [(0, 4.6), (7, 7.5), (30, 18.8), (70, 37.9)])
def test_melanopus_grow_as_kim_and_hur_measured(dph: int, length_mm: float):
    fit = LIBRARY["amphiprion_melanopus"].growth.length_fit
    assert fit.length_mm(dph) == pytest.approx(length_mm, abs=0.3)
    assert fit.length_mm(71) is None


# Iovino et al., WAS abstract 42193: 16–43 mm, 0.1–1.75 g
@pytest.mark.parametrize(("length_mm", "weight_g"), [(16, 0.10), (43, 1.75)])
def test_ocellaris_young_weigh_what_their_length_says(length_mm: float, weight_g: float):
    weight = OCELLARIS.growth.length_weight.weight_g(length_mm)
    assert weight == pytest.approx(weight_g, rel=0.05)


# Buston & Cant 2006, Oecologia 149:362–372: ladder from 80 mm
def test_neighbouring_ranks_stand_1_26_apart():
    ratio = OCELLARIS.pair.neighbour_ratio
    ladder = [80 / ratio**rank for rank in (1, 2, 3)]
    assert ladder == pytest.approx([63.5, 50.4, 40.0], abs=0.1)


# --- common practice, and marked so


def test_the_usual_target_of_77_f_is_about_25_c():
    target = OCELLARIS.water.of("broodstock", "temperature_target")
    usual = OCELLARIS.water.of("broodstock", "temperature_usual")
    assert target.low == target.high == pytest.approx(25.0)
    assert (usual.low, usual.high) == pytest.approx((25.0, 26.67), abs=0.01)
    assert (target.mark, usual.mark, target.unit) == (PRACTICE, PRACTICE, "°C")


@pytest.mark.parametrize(
    ("quantity", "low", "high"), [("ph", 8.0, 8.4), ("specific_gravity", 1.021, 1.025)]
)
def test_the_usual_water_of_clownfish(quantity: str, low: float, high: float):
    usual = OCELLARIS.water.of("broodstock", quantity)
    assert (usual.low, usual.high, usual.mark) == (low, high, PRACTICE)


def test_grown_clownfish_are_three_to_four_inches_and_the_female_is_the_larger():
    pair = OCELLARIS.pair
    assert (pair.adult_low_mm, pair.adult_high_mm) == pytest.approx((76.2, 101.6))
    assert OCELLARIS.figure("pair.adult_length").mark == PRACTICE
    assert (OCELLARIS.sex.larger, OCELLARIS.sex.mark) == ("female", PRACTICE)


def test_a_pair_on_its_own_has_20_to_30_us_gallons():
    pair = OCELLARIS.pair
    assert (pair.volume_low_l, pair.volume_high_l) == pytest.approx((75.7, 113.6), abs=0.05)
    assert OCELLARIS.figure("pair.tank_volume").mark == PRACTICE


def test_five_to_ten_years_are_a_floor_of_life_in_captivity():
    pair = OCELLARIS.pair
    assert (pair.lifespan_floor_low_years, pair.lifespan_floor_high_years) == (5, 10)
    life = OCELLARIS.figure("pair.lifespan_floor")
    assert (life.mark, "floor" in life.source) == (PRACTICE, True)


def test_eleven_dorsal_spines_speak_for_ocellaris_and_ten_for_percula_but_they_overlap():
    for key, spines in (("amphiprion_ocellaris", 11), ("amphiprion_percula", 10)):
        figure = LIBRARY[key].figure("pair.dorsal_spines")
        assert LIBRARY[key].pair.dorsal_spines == spines
        assert (figure.mark, "overlap" in figure.source) == (PRACTICE, True)


def test_every_young_clownfish_may_become_a_male_first():
    clownfish = [s for key, s in LIBRARY.items() if key.startswith("amphiprion")]
    assert len(clownfish) == 6
    for species in clownfish:
        assert species.sex.is_protandrous
        assert "male first" in species.sex.words
        assert "the next in size takes her place" in species.sex.words


def test_reports_of_a_sex_change_stay_words():
    assert OCELLARIS.sex.change
    assert all(isinstance(report.words, str) for report in OCELLARIS.sex.change)
