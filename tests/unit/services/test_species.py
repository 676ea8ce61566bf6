"""The library of one room: ours, the keeper's in their place, and what is refused."""

import os

import pytest

from hatchery_app import locations
from hatchery_app.domain.errors import NotKnown
from hatchery_app.services.species import species


def ocellaris() -> str:
    return (locations.SPECIES / "amphiprion_ocellaris.toml").read_text(encoding="utf-8")


def put(folder, name, text):
    folder = species.keepers_folder(folder)
    folder.mkdir(exist_ok=True)
    (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder / f"{name}.toml"


def test_a_room_without_files_of_its_own_has_ours(tmp_path):
    library = species.library(tmp_path)
    assert len(library.species) >= 10
    assert (library.keepers, library.refused) == (frozenset(), ())


def test_a_species_nobody_has_a_file_for_is_not_known(tmp_path):
    with pytest.raises(NotKnown, match="amphiprion_bayensis"):
        species.species_of("amphiprion_bayensis", folder=tmp_path)


def test_the_files_are_read_once_until_one_of_them_changes(tmp_path):
    file = put(tmp_path, "amphiprion_ocellaris", ocellaris())
    first = species.library(tmp_path)
    assert species.library(tmp_path) is first
    file.write_text(ocellaris().replace("ocellaris clownfish", "our own"), encoding="utf-8")
    os.utime(file, ns=(1, 1))
    assert species.species_of("amphiprion_ocellaris", folder=tmp_path).common_name == "our own"


def test_a_refused_file_leaves_ours_in_use_and_every_other_species_too(tmp_path):
    put(tmp_path, "amphiprion_ocellaris", "[names]\nscientific = 3\n")
    put(tmp_path, "amphiprion_bayensis", "this is not a species\n")
    library = species.library(tmp_path)
    assert [one.file_name for one in library.refused] == [
        "amphiprion_bayensis.toml", "amphiprion_ocellaris.toml",
    ]  # fmt: skip
    assert all(one.line >= 1 and one.reason for one in library.refused)
    assert library.species["amphiprion_ocellaris"].text == ocellaris()
    assert "amphiprion_bayensis" not in library.species


def test_a_file_that_is_no_text_is_refused_by_its_line(tmp_path):
    file = put(tmp_path, "amphiprion_ocellaris", "")
    file.write_bytes(b"[names]\n\xff\xfe\n")
    assert species.library(tmp_path).refused[0].line == 2


def test_a_file_nobody_can_read_is_refused_and_stops_no_page(tmp_path):
    file = put(tmp_path, "amphiprion_ocellaris", "a = " + "[" * 5000 + "]" * 5000)
    (file.parent / "nowhere.toml").symlink_to(tmp_path / "gone.toml")
    found = species.library(tmp_path)
    assert [one.reason.split(":")[0] for one in found.refused] == [
        "its brackets stand too deep.", "it cannot be opened",
    ]  # fmt: skip
    assert found.species["amphiprion_ocellaris"].text == ocellaris()


def test_the_records_a_process_has_open_say_which_files_count(tmp_path, monkeypatch):
    monkeypatch.setattr(species, "_opened", [])
    put(tmp_path, "amphiprion_bayensis", ocellaris())
    species.open_records(tmp_path)
    assert "amphiprion_bayensis" in species.library_now()
    species.open_records(tmp_path / "elsewhere")
    assert "amphiprion_bayensis" not in species.library_now()
