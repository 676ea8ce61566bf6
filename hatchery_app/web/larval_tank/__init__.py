"""Larval tank: batches of larvae from their first night until the last of them has settled."""

from flask import Blueprint

from hatchery_app.web.larval_tank import move_pages, pages

BOTH = ["GET", "POST"]

blueprint = Blueprint("larval_tank", __name__, url_prefix="/larval-tanks")
blueprint.add_url_rule("/", "walk", pages.walk)
blueprint.add_url_rule("/put", "put", move_pages.put, methods=BOTH)
blueprint.add_url_rule("/here-before", "here_before", move_pages.here_before, methods=BOTH)
blueprint.add_url_rule("/concentrates", "concentrates", pages.concentrates, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>", "show", pages.show)
blueprint.add_url_rule("/<int:holding_id>/count", "count", pages.count, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>/left", "left", pages.left, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>/found", "found", pages.found, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>/prey", "prey", pages.prey, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>/lengths", "lengths", pages.lengths, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>/settled", "settled", pages.settled, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>/mark", "mark", pages.mark, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>/move", "move", move_pages.move, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>/grow-out", "grow_out", move_pages.grow_out, methods=BOTH)
blueprint.add_url_rule("/<int:holding_id>/together", "together", move_pages.together, methods=BOTH)
blueprint.add_url_rule(
    "/<int:holding_id>/other-clutch", "other_clutch", move_pages.other_clutch, methods=BOTH
)
blueprint.add_url_rule("/<int:holding_id>/replan", "replan", move_pages.replan, methods=BOTH)
