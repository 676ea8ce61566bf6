"""The pages on which forecasts are held against what came."""

from flask import flash, g, render_template, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.services.clutch import clutch, clutch_score
from hatchery_app.services.species.library import library
from hatchery_app.web.clutch import score_presenter
from hatchery_app.web.entry_form import EntryForm, take


def show_score() -> str:
    """How right the forecasts have been."""
    found = clutch_score.score(records, library(), room=g.room, now=g.now)
    return render_template("clutch/score_show.html", page=score_presenter.scored(found))


def show_replay(clutch_id: int) -> str:
    """One clutch, evening by evening."""
    return _replay(clutch_id)


def confirm(clutch_id: int) -> Response | str | tuple[str, int]:
    """Laying and hatch are right, odd as they are."""
    form = EntryForm()
    answer = take(
        form,
        record=lambda posting: clutch.confirm_incubation(
            records, posting=posting, clutch_id=clutch_id
        ),
        then=lambda _clutch: url_for("clutch.replay", clutch_id=clutch_id),
        show=lambda: _replay(clutch_id, form.sentence),
    )
    if isinstance(answer, Response):
        flash("Confirmed: this room learns from it now.")
    return answer


def _replay(clutch_id: int, refused: str = "") -> str:
    found = clutch_score.replay(
        records, library(), room=g.room, clutch_id=clutch_id, now=g.now
    )
    return render_template(
        "clutch/replay_show.html", page=score_presenter.replayed(found, refused)
    )
