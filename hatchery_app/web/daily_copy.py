"""A copy of the records once a day, made at the day's first request: no job runs in the back."""

import sqlite3
from datetime import date
from threading import Lock

from flask import Flask, Response, g

from hatchery_app.services.records import records_copies
from hatchery_app.settings import Settings

TRIED = "hatchery.copied_on"
_ONE_AT_A_TIME = Lock()  # two pages asked at once would write into one copy


def setup(app: Flask) -> None:
    """Look once a day, after an answer, whether the day has its copy."""
    app.extensions[TRIED] = None
    app.after_request(lambda answer: _look(app, answer))


def _look(app: Flask, answer: Response) -> Response:
    settings: Settings = app.config["HATCHERY"]
    if settings.database_file is None or settings.demo or g.get("now") is None:
        return answer
    today: date = g.now.date()
    with _ONE_AT_A_TIME:
        if app.extensions[TRIED] == today:
            return answer
        app.extensions[TRIED] = today  # tried: a full disk is not asked again with every page
    try:
        records_copies.copy_of_the_day(settings.database_file, settings.folder, today)
    except (OSError, sqlite3.Error):
        app.logger.exception("Today's copy of the records could not be made.")
    return answer
