"""The door: who is asking, whether they may come in, and from where.

Before the owner's password is set only this machine is served. The demo is open and signs its
owner in; it is served on 127.0.0.1.
"""

from flask import Flask, abort, current_app, g, redirect, request, session, url_for
from werkzeug.wrappers import Response

from hatchery_app import clock
from hatchery_app.database import session as records
from hatchery_app.services.records import account, room
from hatchery_app.settings import Settings

OPEN_TO_ALL = frozenset(
    {"static", "records.first_page", "records.sign_in", "records.health", "today.calendar_feed"}
)


def setup(app: Flask) -> None:
    """Ask at the door before every page."""
    app.before_request(_ask)


def settings() -> Settings:
    """The settings this application was made with."""
    found: Settings = current_app.config["HATCHERY"]
    return found


def keeper() -> account.Keeper:
    """Who is signed in on this request."""
    found: account.Keeper = g.keeper
    return found


def open_session(who: account.Keeper) -> None:
    """Sign somebody in on this device."""
    session.clear()
    session["keeper"] = who.id
    session["epoch"] = who.epoch
    session.permanent = True


def within(address: str) -> str:
    """The address if it leads into these pages, else Today's. Browsers read a backslash as a slash
    and a tab or a line end as nothing, and two slashes as another machine's name."""
    plain = address.isprintable() and "//" not in address and "\\" not in address
    return address if plain and address.startswith("/") else "/"


def _ask() -> Response | None:
    g.now = clock.now()
    g.keeper = None
    g.room = None
    g.pop("is_red", None)  # said anew for each request, as tests ask several in one context
    if request.endpoint in ("static", "records.health"):
        return None
    # No keyboard writes a NUL, and PostgreSQL holds none.
    if any("\0" in value for value in request.form.values()):
        abort(400)
    if _from_elsewhere_before_the_password():
        abort(403, "Until the owner's password is set, only the machine itself is served.")
    g.keeper = _signed_in()
    g.room = room.find_room(records)
    if g.keeper is not None and g.room is not None:
        return None
    if request.endpoint in OPEN_TO_ALL:
        return None
    if g.room is None:
        return redirect(url_for("records.first_page"))
    return redirect(url_for("records.sign_in", then=request.full_path.rstrip("?")))


def _signed_in() -> account.Keeper | None:
    if settings().demo:
        return account.find_owner(records)
    number = session.get("keeper")
    if not isinstance(number, int):
        return None
    who = account.find_keeper(records, number)
    return who if who is not None and who.epoch == session.get("epoch") else None


def _from_elsewhere_before_the_password() -> bool:
    if request.remote_addr in ("127.0.0.1", "::1", None):
        return False
    return account.find_owner(records) is None or room.find_room(records) is None
