"""Species: the library as it is in use, each figure with its source and its mark."""

from flask import Blueprint

from hatchery_app.web.species import pages

blueprint = Blueprint("species", __name__, url_prefix="/species")
blueprint.add_url_rule("/", "list", pages.show_list)
blueprint.add_url_rule("/<key>", "show", pages.show)
blueprint.add_url_rule("/<key>.toml", "text", pages.text)
