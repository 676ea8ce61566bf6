"""Dry diets by the size of their grains, and the algae."""

import pytest

from hatchery_app.domain.larval_tank.microdiet import grain_for, lengths_for
from hatchery_app.domain.live_food.algae import alga_named, too_thick


@pytest.mark.parametrize(
    ("length_mm", "grain"),
    [(4.5, (75, 150)), (5.9, (75, 150)), (6, (150, 250)), (19, (400, 700)), (34, (700, 1200))],
)
def test_a_fish_takes_grains_of_its_length(length_mm, grain):
    row = grain_for(length_mm)
    assert (row.from_um, row.to_um) == grain


@pytest.mark.parametrize("length_mm", [3.9, 35, 80])
def test_no_grain_is_made_up_where_no_row_is_known(length_mm):
    assert grain_for(length_mm) is None


@pytest.mark.parametrize(
    ("grain", "lengths"),
    [
        ((150, 250), (6, 8)),
        ((100, 200), (4.5, 8)),
        ((75, 400), (4.5, 12)),
        ((300, 300), (8, 12)),
        ((200, 300), (6, 12)),
        ((1300, 1500), None),
        ((10, 20), None),
    ],
)
def test_a_bag_serves_the_rows_it_mostly_holds(grain, lengths):
    assert lengths_for(*grain) == lengths


def test_an_alga_is_known_by_the_name_on_the_bottle():
    assert alga_named("Nannochloropsis oculata, paste").dry_pg == 6
    assert alga_named("T-Iso").name == "Isochrysis"
    assert alga_named("green stuff") is None
    assert too_thick(alga_named("Tetraselmis"), 3e6) == ""
    assert "look at the dilution" in too_thick(alga_named("Tetraselmis"), 5e6)
