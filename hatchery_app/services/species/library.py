"""The species this room can name: the program's own and the keeper's, which shadow them."""

from collections.abc import Mapping

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.species.species import Species
from hatchery_app.services.species.species import library_now


def library() -> Mapping[str, Species]:
    """Every species by its key."""
    return library_now()


def species_or_none(key: str) -> Species | None:
    """The species of a key, None for "" and for one no file stands for any more."""
    return library().get(key)


def species_said(key: str) -> str:
    """What keepers call it, with its scientific name; the key where no file stands for it."""
    species = species_or_none(key)
    if species is None:
        return key or "not known"
    return f"{species.common_name} ({species.scientific_name})"


def species_names() -> dict[str, str]:
    """Every species by what keepers call it, in that order: the choices of a form."""
    named = {key: species_said(key) for key in library()}
    return dict(sorted(named.items(), key=lambda item: item[1].lower()))


def check_species(key: str, field: str = "species_key") -> None:
    """Refuse a key that no species file stands for; "" is "not known" and legal."""
    if key and key not in library():
        raise RuleBroken(f"No species file stands for “{key}”.", field=field)
