"""Clutch: eggs on their way to a hatch. Which night it may be, and what was seen."""

from flask import Blueprint

from hatchery_app.web.clutch import pages

blueprint = Blueprint("clutch", __name__, url_prefix="/clutches")
blueprint.add_url_rule("/", "list", pages.show_list)
blueprint.add_url_rule("/<int:clutch_id>", "show", pages.show)
blueprint.add_url_rule("/<int:clutch_id>/check", "check", pages.check, methods=["GET", "POST"])
blueprint.add_url_rule("/<int:clutch_id>/move", "move", pages.move, methods=["GET", "POST"])
blueprint.add_url_rule("/<int:clutch_id>/hatch", "hatch", pages.hatch, methods=["GET", "POST"])
blueprint.add_url_rule("/<int:clutch_id>/end", "end", pages.end, methods=["GET", "POST"])
