"""A button that is a whole form: recorded at once, a refusal said on the page it came from."""

from collections.abc import Callable

from flask import flash, redirect
from werkzeug.wrappers import Response

from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.services.recording import Posting
from hatchery_app.web.entry_form import EntryForm


def one_tap(
    record: Callable[[Posting], int], *, then: str, otherwise: str, said: str = ""
) -> Response:
    """Record one tap and go on to `then`; where it is refused, say so on `otherwise`."""
    form = EntryForm()
    if not form.validate():
        flash("This page was open for very long. Tap once more.")
        return redirect(otherwise, 303)
    try:
        record(form.posting())
    except NotKnown:
        raise
    except RuleBroken as refused:
        flash(refused.sentence)
        return redirect(otherwise, 303)
    if said:
        flash(said)
    return redirect(then, 303)
