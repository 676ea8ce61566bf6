"""The species library: the program's own files, and the keeper's, which shadow them.

Read anew only when a file changed. A keeper's file that cannot be used is named with its line
and reason; every other species stays in use, ours in the place of the refused one.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from hatchery_app import locations
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.species.species_file import load_species
from hatchery_app.domain.species.species_text import SpeciesRefused

KEEPERS = "species"


@dataclass(frozen=True)
class RefusedFile:
    """A file that cannot be used: its name, the line, and what is wrong there."""

    file_name: str
    line: int
    reason: str
    shadows: str

    @property
    def sentence(self) -> str:
        """In one sentence, with what is used instead."""
        said = f"{self.file_name}, line {self.line}: {self.reason}"
        return f"{said} The program's own {self.shadows} is used." if self.shadows else said


@dataclass(frozen=True)
class Library:
    """Every species in use by its key, which of them are the keeper's, and what was refused."""

    species: Mapping[str, Species]
    keepers: frozenset[str]
    refused: tuple[RefusedFile, ...]

    def in_order(self) -> tuple[Species, ...]:
        """By common name, as a person looks them up."""
        return tuple(sorted(self.species.values(), key=lambda one: one.common_name.lower()))


def keepers_folder(folder: Path) -> Path:
    """Where the keeper's own species files stand, inside the records folder."""
    return folder / KEEPERS


def library(folder: Path) -> Library:
    """The library of this room; files are read again only when one of them changed."""
    return _read(
        _stamped(locations.SPECIES),
        _stamped(keepers_folder(folder)),
    )


def species_of(key: str, *, folder: Path) -> Species:
    """One species. Raises NotKnown for a key that no usable file stands for."""
    found = library(folder).species.get(key)
    if found is None:
        raise NotKnown(f"No species file stands for “{key}” in this room.")
    return found


_opened: list[Path] = []


def open_records(folder: Path) -> None:
    """Say, once a process, in which records folder the keeper's own files are looked for."""
    _opened[:] = [folder]


def library_now() -> Mapping[str, Species]:
    """Every species of the records this process has open; ours alone before any were opened."""
    if not _opened:
        return _read(_stamped(locations.SPECIES), ()).species
    return library(_opened[0]).species


Stamped = tuple[tuple[Path, int, int], ...]


def _stamped(folder: Path) -> Stamped:
    """The files of a folder with their time and size: what tells an old reading from a new one."""
    found = []
    for file in sorted(folder.glob("*.toml")):
        try:
            told = file.stat()
        except OSError:  # a link that leads nowhere: the file says why when it is read
            found.append((file, 0, 0))
        else:
            found.append((file, told.st_mtime_ns, told.st_size))
    return tuple(found)


@lru_cache(maxsize=8)
def _read(ours: Stamped, keepers: Stamped) -> Library:
    species = {file.stem: load_species(_text(file), str(file)) for file, _, _ in ours}
    refused: list[RefusedFile] = []
    own: set[str] = set()
    for file, _, _ in keepers:
        try:
            read = load_species(_text(file), str(file))
        except SpeciesRefused as wrong:
            shadowed = species.get(file.stem)
            refused.append(
                RefusedFile(
                    file.name, wrong.line, wrong.reason, shadowed.common_name if shadowed else ""
                )
            )
        else:
            species[read.key] = read
            own.add(read.key)
    return Library(species, frozenset(own), tuple(refused))


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise SpeciesRefused(file.name, line, "this line is not UTF-8 text.") from error
    except OSError as error:
        raise SpeciesRefused(file.name, 1, f"it cannot be opened: {error.strerror}.") from error
