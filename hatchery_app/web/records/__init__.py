"""Records: the first page, the door, and who wrote what."""

from flask import Blueprint

from hatchery_app.web.records import pages

blueprint = Blueprint("records", __name__)
blueprint.add_url_rule("/first", "first_page", pages.first_page, methods=["GET", "POST"])
blueprint.add_url_rule("/sign-in", "sign_in", pages.sign_in, methods=["GET", "POST"])
blueprint.add_url_rule("/sign-out", "sign_out", pages.sign_out, methods=["POST"])
blueprint.add_url_rule("/health", "health", pages.health)
