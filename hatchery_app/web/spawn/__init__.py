"""Spawn: a laying from the tablet in three taps, or with all that is known of it."""

from flask import Blueprint

from hatchery_app.web.spawn import pages

blueprint = Blueprint("spawn", __name__, url_prefix="/spawns")
blueprint.add_url_rule("/", "choose", pages.choose)
blueprint.add_url_rule("/of/<int:pair_id>", "record", pages.record, methods=["GET", "POST"])
blueprint.add_url_rule("/other", "other", pages.other, methods=["GET", "POST"])
