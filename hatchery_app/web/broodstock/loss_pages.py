"""A fish leaves: one tap opens, one confirms; then what is pending and who could step in."""

from flask import g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.services.broodstock import after_loss as losses
from hatchery_app.services.broodstock import fish_left, fish_page
from hatchery_app.web import whole_numbers
from hatchery_app.web.broodstock import loss_presenter
from hatchery_app.web.broodstock.forms import LeftForm
from hatchery_app.web.broodstock.tap_pages import one_tap
from hatchery_app.web.entry_form import take
from hatchery_app.web.when_fields import default_days


def left(fish_id: int) -> Response | str | tuple[str, int]:
    """It is gone: found dead now, unless something else is said."""
    form = LeftForm()
    default_days(form, g.now)
    answer = fish_page.fish_page(records, fish_id=fish_id, now=g.now)
    if answer.record.leaving is not None:
        return _correct(form, answer)
    return take(
        form,
        record=lambda posting: fish_left.record_leaving(
            records, posting=posting, fish_id=fish_id, door=WayOut(form.door.data),
            when=form.read_when(), reason=form.reason.data or "", note=form.note.data or "",
        ),
        then=lambda gone_id: url_for("broodstock.after_loss", fish_id=gone_id),
        show=lambda: render_template(
            "broodstock/confirm.html", page=loss_presenter.confirm(answer, form, request.args)
        ),
    )  # fmt: skip


def _correct(form: LeftForm, answer: fish_page.FishPage) -> Response | str | tuple[str, int]:
    leaving, fish_id = answer.record.leaving, answer.fish.fish_id
    left_id = leaving.left_id if leaving is not None else 0
    if request.method == "GET" and leaving is not None:
        loss_presenter.fill(form, leaving, g.room.room_time)
    return take(
        form,
        record=lambda posting: fish_left.correct_leaving(
            records, posting=posting, left_id=left_id, door=WayOut(form.door.data),
            when=form.read_when(), reason=form.reason.data or "", note=form.note.data or "",
        ),
        then=lambda _id: url_for("broodstock.after_loss", fish_id=fish_id),
        show=lambda: render_template(
            "broodstock/confirm.html", page=loss_presenter.correct(answer, form)
        ),
    )  # fmt: skip


def after_loss(fish_id: int) -> Response | str:
    """What stands after a fish left, and who could step in."""
    answer = losses.after_loss_page(records, fish_id=fish_id, now=g.now)
    if answer is None:
        return redirect(url_for("broodstock.fish", fish_id=fish_id))
    return render_template(
        "broodstock/after_loss_show.html", page=loss_presenter.after(answer, g.room.room_time)
    )


def take_back(left_id: int) -> Response:
    """It never left: fish and pair stand again."""
    fish_id = request.form.get("fish_id", "")
    back = url_for("broodstock.fish", fish_id=whole_numbers.read(fish_id) or 0)
    return one_tap(
        lambda posting: fish_left.take_back_leaving(records, posting=posting, left_id=left_id),
        then=back, otherwise=back, said="It is here again, and its pair stands.",
    )  # fmt: skip


def step_in(fish_id: int) -> str:
    """Who could step in beside a fish, before a loss or after."""
    answer = losses.step_in_page(records, fish_id=fish_id, now=g.now)
    return render_template(
        "broodstock/step_in_show.html", page=loss_presenter.step_in(answer, g.room.room_time)
    )
