"""Today, opened at the round that it is now."""

from flask import g

from hatchery_app.database import session as records
from hatchery_app.services import tonight
from hatchery_app.services.library import library
from hatchery_app.web.today import tonight_pages


def show() -> str:
    """The round that it is now; in the dark of a hatch night, the first clutch to look at."""
    found = tonight.tonight(records, library(), room=g.room, now=g.now)
    if found.is_it_now:
        return tonight_pages.shown(found, found.watches[0].clutch_id)
    return tonight_pages.show_first()
