"""Clutch: eggs on their way to a hatch. Which night it may be, and what was seen."""

from flask import Blueprint

from hatchery_app.web.clutch import brood_pages, pages, score_pages

blueprint = Blueprint("clutch", __name__, url_prefix="/clutches")
blueprint.add_url_rule("/", "list", pages.show_list)
blueprint.add_url_rule("/score", "score", score_pages.show_score)
blueprint.add_url_rule("/<int:clutch_id>", "show", pages.show)
blueprint.add_url_rule("/<int:clutch_id>/replay", "replay", score_pages.show_replay)
blueprint.add_url_rule(
    "/<int:clutch_id>/confirm", "confirm", score_pages.confirm, methods=["POST"]
)
blueprint.add_url_rule("/<int:clutch_id>/check", "check", pages.check, methods=["GET", "POST"])
blueprint.add_url_rule("/<int:clutch_id>/move", "move", pages.move, methods=["GET", "POST"])
blueprint.add_url_rule("/<int:clutch_id>/hatch", "hatch", pages.hatch, methods=["GET", "POST"])
blueprint.add_url_rule("/<int:clutch_id>/end", "end", pages.end, methods=["GET", "POST"])
blueprint.add_url_rule("/carried/new", "brood_start", brood_pages.start, methods=["GET", "POST"])
blueprint.add_url_rule(
    "/<int:clutch_id>/holding", "brood_holding", brood_pages.holding, methods=["POST"]
)
for word, view in (
    ("release", brood_pages.release),
    ("all-out", brood_pages.all_out),
    ("lost", brood_pages.lost),
):
    blueprint.add_url_rule(
        f"/<int:clutch_id>/{word}", f"brood_{word.replace('-', '_')}", view,
        methods=["GET", "POST"],
    )  # fmt: skip
