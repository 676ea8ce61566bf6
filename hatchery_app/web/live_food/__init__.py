"""Live food: the culture vessels, what they hold and what they can give."""

from flask import Blueprint

from hatchery_app.web.live_food import pages

BOTH = ["GET", "POST"]

blueprint = Blueprint("live_food", __name__, url_prefix="/live-food")
blueprint.add_url_rule("/", "list", pages.show_list)
blueprint.add_url_rule("/gap", "gap", pages.gap, methods=["POST"])
blueprint.add_url_rule("/<int:tank_id>", "show", pages.show)
for word, view in (
    ("start", pages.start),
    ("count", pages.count),
    ("feed", pages.feed),
    ("harvest", pages.harvest),
    ("lost", pages.lost),
):
    blueprint.add_url_rule(f"/<int:tank_id>/{word}", word, view, methods=BOTH)
