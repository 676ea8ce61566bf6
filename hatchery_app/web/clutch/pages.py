"""The pages of a clutch."""

from collections.abc import Callable

from flask import flash, g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.clutch.clutch import ClutchOutcome, EggMove
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.services.clutch import clutch, clutch_page
from hatchery_app.services.larval_tank import tanks_offered
from hatchery_app.services.recording import Posting
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counting
from hatchery_app.web import count_fields
from hatchery_app.web.clutch import brood_presenter, presenter
from hatchery_app.web.clutch.forms import CheckForm, EndForm, HatchForm, MoveForm
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.when_fields import default_days


def show_list() -> str:
    """The room's clutches."""
    answer = clutch_page.clutch_list(records, library(), room=g.room, now=g.now)
    return render_template("clutch/list.html", page=presenter.listed(answer, g.room.room_time))


def show(clutch_id: int) -> str:
    """One clutch, or a brood that a parent carries."""
    page = _page(clutch_id)
    if page.seen.brood is not None:
        return render_template("clutch/brood_show.html", page=brood_presenter.shown(page))
    return render_template("clutch/show.html", page=presenter.shown(page))


def check(clutch_id: int) -> Response | str | tuple[str, int]:
    """A look at the eggs."""
    form = CheckForm()
    ground = counting.ground_of_eggs(
        records, _page(clutch_id).seen.clutch, photo_id=count_fields.picture_asked_for()
    )
    ways = count_fields.OF_LOOSE_EGGS if ground.loose_eggs else count_fields.OF_GLUED_EGGS
    form.offer(ways, ground)
    if request.method == "GET" and ground.photo is not None:
        form.what.data = "eggs"
    return _taken(form, clutch_id, "Look at the eggs", "check", lambda posting: _check(
        form, clutch_id, posting))  # fmt: skip


def move(clutch_id: int) -> Response | str | tuple[str, int]:
    """The tile was pulled, or the eggs went elsewhere."""
    form = MoveForm()
    offered = tanks_offered.tanks_for_fish(records, first=TankRole.VESSEL, now=g.now)
    form.tank_id.choices = {"0": "choose"} | {
        str(one.standing.tank_id): one.said for one in offered
    }
    form.tended_by_pair_id.choices = {"0": "nobody"} | {
        str(pair.pair_id): pair.name for pair in clutch_page.pairs_that_may_lay(records)
    }
    return _taken(form, clutch_id, "Move the eggs", "move", lambda posting: _move(
        form, clutch_id, posting))  # fmt: skip


def hatch(clutch_id: int) -> Response | str | tuple[str, int]:
    """A part of it hatched, or all."""
    form = HatchForm()
    ground = counting.ground_of_hatch(
        records, _page(clutch_id).seen.clutch, photo_id=count_fields.picture_asked_for()
    )
    form.offer(count_fields.OF_LARVAE, ground, count_fields.FIRST_LOOKS)
    return _taken(form, clutch_id, "It hatched", "hatch", lambda posting: _hatch(
        form, clutch_id, posting))  # fmt: skip


def end(clutch_id: int) -> Response | str | tuple[str, int]:
    """No eggs are left."""
    form = EndForm()
    return _taken(form, clutch_id, "No eggs are left", "end", lambda posting: clutch.end_clutch(
        records, posting=posting, clutch_id=clutch_id,
        outcome=ClutchOutcome(form.outcome.data), when=form.read_when(),
        reason=form.reason.data or "", note=form.note.data or ""))  # fmt: skip


def _taken(
    form: EntryForm, clutch_id: int, heading: str, part: str, record: Callable[[Posting], int]
) -> Response | str | tuple[str, int]:
    default_days(form, g.now)
    page = _page(clutch_id)
    return take(
        form,
        record=record,
        then=lambda _fact: url_for("clutch.show", clutch_id=clutch_id),
        show=lambda: render_template(
            "clutch/form.html", page=presenter.form(page, form, heading, part)
        ),
    )


def _page(clutch_id: int) -> clutch_page.ClutchPage:
    return clutch_page.clutch_page(records, library(), room=g.room, clutch_id=clutch_id, now=g.now)


def _check(form: CheckForm, clutch_id: int, posting: Posting) -> int:
    kind, sign, seen = form.read_look()
    return clutch.record_check(
        records, posting=posting, clutch_id=clutch_id, kind=kind, sign=sign, seen=seen,
        when=form.read_when(), number=form.read_number(), note=form.note.data or "",
    )  # fmt: skip


def _move(form: MoveForm, clutch_id: int, posting: Posting) -> int:
    why = EggMove(form.why.data)
    before = _page(clutch_id)
    when = form.read_when()
    if not form.tank_id.data:
        raise RuleBroken("Say to which tank the eggs went.", field="tank_id")
    moved = clutch.move_eggs(
        records, posting=posting, clutch_id=clutch_id, why=why, when=when,
        tank_id=form.tank_id.data, tended_by_pair_id=form.tended_by_pair_id.data or None,
        note=form.note.data or "",
    )  # fmt: skip
    warning = presenter.pulled_early(before, why)
    if warning:
        flash(warning)
    return moved


def _hatch(form: HatchForm, clutch_id: int, posting: Posting) -> int:
    return clutch.record_hatch(
        records, posting=posting, clutch_id=clutch_id, when=form.read_when(), library=library(),
        number=form.read_number(), all_hatched=form.how_much.data == "all",
        share="" if form.how_much.data == "all" else form.how_much.data or "",
        after_handling=bool(form.after_handling.data), hour_known=bool(form.hour_known.data),
        note=form.note.data or "",
    )  # fmt: skip
