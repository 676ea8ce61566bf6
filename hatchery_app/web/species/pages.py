"""The pages of the species library."""

from flask import Response, render_template

from hatchery_app.services import species
from hatchery_app.web import door
from hatchery_app.web.species import presenter


def show_list() -> str:
    """Every species in use, and what was refused."""
    folder = door.settings().folder
    page = presenter.listed(species.library(folder), species.keepers_folder(folder))
    return render_template("species/list.html", page=page)


def show(key: str) -> str:
    """One species with every figure."""
    folder = door.settings().folder
    page = presenter.shown(species.species_of(key, folder=folder), species.library(folder))
    return render_template("species/show.html", page=page)


def text(key: str) -> Response:
    """The file as it is in use: what a keeper copies, edits and puts in the room's own folder."""
    found = species.species_of(key, folder=door.settings().folder)
    return Response(found.text, mimetype="text/plain; charset=utf-8")
