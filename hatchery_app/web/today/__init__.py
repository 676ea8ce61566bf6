"""Today: the day's work by rounds of the clock and the walk, and tonight, one clutch a screen."""

from flask import Blueprint

from hatchery_app.web.today import calendar_pages, chore_pages, pages, tonight_pages

blueprint = Blueprint("today", __name__)
blueprint.add_url_rule("/", "show", pages.show)
blueprint.add_url_rule("/today/done", "done", pages.done, methods=["POST"])
blueprint.add_url_rule("/today/put-off", "put_off", pages.put_off, methods=["POST"])
blueprint.add_url_rule("/today/let-go", "let_go", pages.let_go, methods=["POST"])
blueprint.add_url_rule("/today/otherwise", "otherwise", pages.otherwise, methods=["GET", "POST"])
blueprint.add_url_rule("/today/undo", "undo_answer", pages.undo_answer, methods=["POST"])
blueprint.add_url_rule("/today/sheet", "sheet", pages.sheet)
blueprint.add_url_rule("/today/chores", "chores", chore_pages.show_list)
blueprint.add_url_rule("/today/chores/new", "add_chore", chore_pages.add, methods=["GET", "POST"])
blueprint.add_url_rule(
    "/today/chores/<int:chore_id>/stop", "stop_chore", chore_pages.stop, methods=["POST"]
)
blueprint.add_url_rule("/tonight", "tonight", tonight_pages.show_first)
blueprint.add_url_rule("/tonight/undo", "undo", tonight_pages.undo, methods=["POST"])
blueprint.add_url_rule("/tonight/<int:clutch_id>", "tonight_clutch", tonight_pages.show)
for word, view in (
    ("nothing-yet", tonight_pages.nothing_yet),
    ("hatching", tonight_pages.hatching),
    ("all-hatched", tonight_pages.all_hatched),
):
    blueprint.add_url_rule(
        f"/tonight/<int:clutch_id>/{word}", word.replace("-", "_"), view, methods=["POST"]
    )
blueprint.add_url_rule(
    "/tonight/<int:clutch_id>/pulled", "pulled", tonight_pages.pulled, methods=["GET", "POST"]
)
blueprint.add_url_rule(
    "/tonight/<int:clutch_id>/gone", "gone", tonight_pages.gone, methods=["GET", "POST"]
)
blueprint.add_url_rule("/today/calendar", "calendar", calendar_pages.show)
blueprint.add_url_rule(
    "/today/calendar/make", "make_calendar", calendar_pages.make, methods=["POST"]
)
blueprint.add_url_rule(
    "/today/calendar/revoke", "revoke_calendar", calendar_pages.revoke, methods=["POST"]
)
blueprint.add_url_rule("/calendar/<token>.ics", "calendar_feed", calendar_pages.feed)
