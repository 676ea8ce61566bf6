"""Tanks and water: the walk through the room, and each tank's state, readings and history."""

from flask import Blueprint

from hatchery_app.web.tank import pages, thermometer_pages, treatment_pages

BOTH = ["GET", "POST"]

blueprint = Blueprint("tank", __name__, url_prefix="/tanks")
blueprint.add_url_rule("/", "list", pages.show_list)
blueprint.add_url_rule("/new", "add", pages.add, methods=BOTH)
blueprint.add_url_rule("/walk", "walk", pages.walk, methods=BOTH)
blueprint.add_url_rule("/thermometers", "thermometers", thermometer_pages.read, methods=BOTH)
blueprint.add_url_rule("/<int:tank_id>", "show", pages.show)
for word, view in (
    ("state", pages.state),
    ("temperature", pages.temperature),
    ("water-test", pages.water_test),
    ("logger", pages.logger),
    ("set-point", pages.set_point),
    ("lights", pages.lights),
    ("change", pages.change),
    ("treatment", treatment_pages.add),
):
    blueprint.add_url_rule(
        f"/<int:tank_id>/{word}", word.replace("-", "_"), view, methods=BOTH
    )
blueprint.add_url_rule(
    "/treatments/<int:treatment_id>/over", "treatment_over", treatment_pages.over, methods=BOTH
)
