"""The library's pages: every figure with its source, and the keeper's own files."""

import re
from pathlib import Path

import pytest
from freezegun import freeze_time

from hatchery_app import locations


@pytest.fixture(autouse=True)
def _nine_in_the_morning():
    with freeze_time("2026-11-24 09:00:00"):
        yield


@pytest.fixture
def own_folder(app):
    folder = Path(app.config["HATCHERY"].folder) / "species"
    folder.mkdir(exist_ok=True)
    yield folder
    for file in folder.glob("*.toml"):
        file.unlink()


def ocellaris():
    return (locations.SPECIES / "amphiprion_ocellaris.toml").read_text(encoding="utf-8")


def words(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.get_data(as_text=True)))


def test_every_species_of_the_library_has_its_page(client):
    page = client.get("/species/").get_data(as_text=True)
    keys = re.findall(r'href="/species/(\w+)"', page)
    assert len(keys) >= 10
    for key in keys:
        assert client.get(f"/species/{key}").status_code == 200


def test_a_figure_stands_with_its_source_and_its_mark(client):
    page = words(client.get("/species/amphiprion_ocellaris"))
    assert "Warmth to hatch, summed above that" in page
    assert "87.3 degree-days" in page
    assert "worked out from published · least squares on twelve published incubations" in page
    assert "Rotifers, 1–2 dph 8–12 per mL" in page


def test_a_pouch_brooder_shows_no_rotifers(client):
    assert "Rotifers" not in words(client.get("/species/hippocampus_erectus"))


def test_the_keepers_own_file_takes_the_place_of_ours(client, own_folder):
    mine = ocellaris().replace('common = "ocellaris clownfish"', 'common = "our ocellaris"')
    (own_folder / "amphiprion_ocellaris.toml").write_text(mine, encoding="utf-8")
    page = words(client.get("/species/"))
    assert "our ocellaris" in page
    assert "your own file" in page


def test_a_refused_file_is_named_by_line_and_ours_stays_in_use(client, own_folder):
    text = ocellaris().replace("k                       = { value = 87.3", "k = { value = -3")
    (own_folder / "amphiprion_ocellaris.toml").write_text(text, encoding="utf-8")
    line = next(n for n, row in enumerate(text.splitlines(), 1) if row.startswith("k = {"))
    listed = client.get("/species/")
    assert listed.status_code == 200
    assert f"amphiprion_ocellaris.toml, line {line}:" in words(listed)
    assert "The program's own ocellaris clownfish is used." in words(listed).replace("&#39;", "'")
    assert "87.3 degree-days" in words(client.get("/species/amphiprion_ocellaris"))


def test_a_new_file_adds_a_species_without_a_restart(client, own_folder):
    assert client.get("/species/amphiprion_bayensis").status_code == 404
    text = ocellaris().replace("ocellaris clownfish", "bay clownfish")
    (own_folder / "amphiprion_bayensis.toml").write_text(text, encoding="utf-8")
    assert "bay clownfish" in words(client.get("/species/amphiprion_bayensis"))


def test_the_file_in_use_can_be_read_as_it_stands(client):
    answer = client.get("/species/amphiprion_ocellaris.toml")
    assert answer.mimetype == "text/plain"
    assert answer.get_data(as_text=True) == ocellaris()
