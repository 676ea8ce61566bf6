"""The pages of the species library."""

from flask import Response, g, render_template

from hatchery_app.database import session as records
from hatchery_app.services.larval_tank.learned_stages import learned_stages
from hatchery_app.services.species import species
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
    one, library = species.species_of(key, folder=folder), species.library(folder)
    learned = learned_stages(records, key, library=library.species, room=g.room)
    page = presenter.shown(one, library, learned)
    return render_template("species/show.html", page=page)


def text(key: str) -> Response:
    """The file as it is in use: what a keeper copies, edits and puts in the room's own folder."""
    found = species.species_of(key, folder=door.settings().folder)
    return Response(found.text, mimetype="text/plain; charset=utf-8")
