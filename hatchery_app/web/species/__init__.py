"""Species: the library as it is in use, each figure with its source and its mark."""

from flask import Blueprint

from hatchery_app.services.species import species
from hatchery_app.web.species import pages

blueprint = Blueprint("species", __name__, url_prefix="/species")
# Once a process: every room then names the keeper's own species too.
blueprint.record_once(lambda state: species.open_records(state.app.config["HATCHERY"].folder))
blueprint.add_url_rule("/", "list", pages.show_list)
blueprint.add_url_rule("/<key>", "show", pages.show)
blueprint.add_url_rule("/<key>.toml", "text", pages.text)
