"""Answers to what went wrong: a sentence, what can be done, and a last page without a database."""

from flask import Flask, g, render_template
from werkzeug.exceptions import HTTPException

from hatchery_app.domain.errors import NotKnown

SENTENCES = {
    403: "This is not open from here.",
    404: "Nothing stands at this address.",
    405: "This address takes no such form.",
    413: "That is more than fits in one post (8 MB).",
    429: "Too many tries. Wait a quarter of an hour.",
}


def setup(app: Flask) -> None:
    """Give each kind of error its page."""
    app.register_error_handler(NotKnown, _not_known)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(500, _broken)


def _not_known(error: NotKnown) -> tuple[str, int]:
    return _page(404, error.sentence), 404


def _http(error: HTTPException) -> tuple[str, int] | HTTPException:
    status = error.code or 500
    if status < 400:
        return error
    said = error.description if status == 403 and error.description else SENTENCES.get(status)
    return _page(status, said or "That could not be answered."), status


def _broken(error: Exception) -> tuple[str, int]:
    # Needs no database and no room: it must stand when both are gone.
    g.room = g.keeper = None
    return render_template("errors/broken.html"), 500


def _page(status: int, sentence: str) -> str:
    if g.get("room") is None:
        return render_template("errors/plain.html", status=status, sentence=sentence)
    return render_template("errors/error.html", status=status, sentence=sentence)
