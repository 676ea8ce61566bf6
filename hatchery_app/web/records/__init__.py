"""Records: the first page, the door, the day-book and its corrections, the room itself."""

from flask import Blueprint

from hatchery_app.web.records import entry_pages, moving_in_pages, pages, room_pages

BOTH = ["GET", "POST"]

blueprint = Blueprint("records", __name__)
blueprint.add_url_rule("/first", "first_page", pages.first_page, methods=BOTH)
blueprint.add_url_rule("/sign-in", "sign_in", pages.sign_in, methods=BOTH)
blueprint.add_url_rule("/sign-out", "sign_out", pages.sign_out, methods=["POST"])
blueprint.add_url_rule("/health", "health", pages.health)

blueprint.add_url_rule("/records", "day_book", entry_pages.day_book)
blueprint.add_url_rule("/records/<int:fact_id>", "entry", entry_pages.entry)
blueprint.add_url_rule(
    "/records/<int:fact_id>/correct", "correct", entry_pages.correct, methods=BOTH
)
blueprint.add_url_rule(
    "/records/<int:fact_id>/withdraw", "withdraw", entry_pages.withdraw, methods=BOTH
)
blueprint.add_url_rule(
    "/records/<int:fact_id>/restore", "restore", entry_pages.restore, methods=["POST"]
)

blueprint.add_url_rule("/records/moving-in", "moving_in", moving_in_pages.moving_in)
blueprint.add_url_rule("/records/room", "room", room_pages.room)
for word, view in (
    ("change-room", room_pages.change_room),
    ("lamps", room_pages.lamps),
    ("add-keeper", room_pages.add_keeper),
    ("change-password", room_pages.change_password),
):
    blueprint.add_url_rule(f"/records/room/{word}", word.replace("-", "_"), view, methods=BOTH)
blueprint.add_url_rule(
    "/records/room/sign-out-everywhere", "sign_out_everywhere", room_pages.sign_out_everywhere,
    methods=["POST"],
)  # fmt: skip
