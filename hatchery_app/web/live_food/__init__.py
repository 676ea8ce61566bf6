"""Live food: the culture vessels, what they hold and what they can give."""

from flask import Blueprint

from hatchery_app.web.live_food import (
    ahead_pages,
    pages,
    shelf_pages,
    shrimp_pages,
    sums_pages,
)

BOTH = ["GET", "POST"]

blueprint = Blueprint("live_food", __name__, url_prefix="/live-food")
blueprint.add_url_rule("/", "list", pages.show_list)
blueprint.add_url_rule("/gap", "gap", pages.gap, methods=["POST"])
blueprint.add_url_rule("/ahead", "ahead", ahead_pages.show)
blueprint.add_url_rule("/<int:tank_id>", "show", pages.show)
blueprint.add_url_rule("/<int:tank_id>/seed", "seed", ahead_pages.seed, methods=BOTH)
for word, view in (
    ("start", pages.start),
    ("count", pages.count),
    ("look", pages.look),
    ("feed", pages.feed),
    ("harvest", pages.harvest),
    ("lost", pages.lost),
):
    blueprint.add_url_rule(f"/<int:tank_id>/{word}", word, view, methods=BOTH)
for address, name, shown in (
    ("/sums", "sums", sums_pages.show),
    ("/shelf", "show_shelf", shelf_pages.show_shelf),
    ("/shelf/<int:shelf_id>", "show_item", shelf_pages.show_item),
    ("/shrimp/<int:start_id>", "show_hatch", shrimp_pages.show),
    ("/lots/<int:lot_id>", "show_lot", shrimp_pages.show_lot),
):
    blueprint.add_url_rule(address, name, shown)
for address, name, asked in (
    ("/shelf/new", "add_item", shelf_pages.add_item),
    ("/shelf/<int:shelf_id>/change", "change_item", shelf_pages.change),
    ("/lots/new", "add_lot", shrimp_pages.add_lot),
    ("/shrimp/start", "start_shrimp", shrimp_pages.start),
    ("/shrimp/<int:start_id>/harvest", "harvest_shrimp", shrimp_pages.harvest),
    ("/shrimp/<int:start_id>/enrich", "enrich_shrimp", shrimp_pages.enrich),
    ("/shrimp/<int:start_id>/fed", "fed_shrimp", shrimp_pages.fed),
    ("/shrimp/<int:start_id>/over", "over_shrimp", shrimp_pages.over),
):
    blueprint.add_url_rule(address, name, asked, methods=BOTH)
