"""Cohort: settled fish growing on, until they are sold, kept or gone."""

from flask import Blueprint

from hatchery_app.web.cohort import leaving_pages, other_clutch_pages, pages

BOTH = ["GET", "POST"]

blueprint = Blueprint("cohort", __name__, url_prefix="/cohorts")
blueprint.add_url_rule("/", "list", pages.show_list)
blueprint.add_url_rule("/new", "here_before", pages.here_before, methods=BOTH)
blueprint.add_url_rule("/young", "young", pages.young, methods=BOTH)
blueprint.add_url_rule("/<int:cohort_id>", "show", pages.show)
blueprint.add_url_rule("/<int:cohort_id>/count", "count", pages.count, methods=BOTH)
blueprint.add_url_rule("/<int:cohort_id>/lengths", "lengths", pages.lengths, methods=BOTH)
blueprint.add_url_rule("/<int:cohort_id>/grades", "grades", pages.grades, methods=BOTH)
blueprint.add_url_rule("/<int:cohort_id>/sale-size", "sale_size", pages.sale_size, methods=BOTH)
blueprint.add_url_rule("/<int:cohort_id>/set-aside", "set_aside", pages.set_aside, methods=BOTH)
blueprint.add_url_rule(
    "/<int:cohort_id>/set-aside/<int:set_aside_id>/free", "set_free", pages.set_free, methods=BOTH
)
blueprint.add_url_rule(
    "/larvae/<int:holding_id>/set-aside", "set_larvae_aside", pages.set_larvae_aside, methods=BOTH
)
blueprint.add_url_rule("/<int:cohort_id>/gone", "gone", leaving_pages.gone, methods=BOTH)
blueprint.add_url_rule("/<int:cohort_id>/move", "move", leaving_pages.move, methods=BOTH)
blueprint.add_url_rule("/<int:cohort_id>/keep", "keep", leaving_pages.keep, methods=BOTH)
blueprint.add_url_rule(
    "/<int:cohort_id>/other-clutch", "other_clutch", other_clutch_pages.say, methods=BOTH
)
