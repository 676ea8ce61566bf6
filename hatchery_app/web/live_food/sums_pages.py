"""The sums: a page that is asked and keeps nothing."""

from flask import render_template, request

from hatchery_app.web.live_food import sums_presenter


def show() -> tuple[str, int]:
    """Every sum; what was typed into one stands in the address, so it can be kept or sent."""
    page = sums_presenter.shown(request.args)
    return render_template("live_food/sums_show.html", page=page), 422 if page.is_refused else 200
