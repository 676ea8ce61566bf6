"""Sale: fish promised and fish gone, what arrived, and where they come from."""

from flask import Blueprint

from hatchery_app.web.sale import pages

BOTH = ["GET", "POST"]

blueprint = Blueprint("sale", __name__, url_prefix="/sales")
blueprint.add_url_rule("/", "list", pages.show_list)
blueprint.add_url_rule("/<int:sale_id>", "show", pages.show)
blueprint.add_url_rule("/<int:sale_id>/arrival", "arrival", pages.arrival, methods=BOTH)
blueprint.add_url_rule("/<int:sale_id>/origin", "origin", pages.origin)
blueprint.add_url_rule("/from/<int:cohort_id>", "sell", pages.sell, methods=BOTH)
blueprint.add_url_rule("/hold/<int:cohort_id>", "hold", pages.hold, methods=BOTH)
blueprint.add_url_rule("/holds/<int:held_id>/release", "release", pages.release, methods=BOTH)
