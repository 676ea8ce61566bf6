"""Larvae into tanks, to other tanks, apart, together, and on to grow-out."""

from flask import g, render_template, request, url_for

from hatchery_app.database import session as records
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import Night
from hatchery_app.services.larval_tank import (
    larval_tank,
    larval_tank_page,
    larval_tank_plan,
    tanks_offered,
)
from hatchery_app.services.species import library
from hatchery_app.services.stock_book import counting
from hatchery_app.services.stock_book import other_clutch as other_clutches
from hatchery_app.web import count_fields, whole_numbers
from hatchery_app.web.addresses import address_of
from hatchery_app.web.entry_form import take
from hatchery_app.web.larval_tank import presenter
from hatchery_app.web.larval_tank.forms import (
    GrowOutForm,
    HereBeforeForm,
    MoveForm,
    OtherClutchForm,
    PutForm,
    ReplanForm,
    TogetherForm,
)
from hatchery_app.web.larval_tank.pages import Answer, answer
from hatchery_app.web.when_fields import default_days


def _tanks(first: TankRole, hatch_id: int = 0) -> dict[str, str]:
    """Every tank that can take them, the likeliest first, each with what lives there."""
    offered = tanks_offered.tanks_for_fish(records, first=first, hatch_id=hatch_id, now=g.now)
    return {str(one.standing.tank_id): one.said for one in offered}


def put() -> Answer:
    """Larvae of a hatch into one or more tanks."""
    form = PutForm()
    form.offer(
        count_fields.OF_WATER, counting.ground_of_water(records), count_fields.FIRST_LOOKS
    )
    waiting = larval_tank_page.larval_tank_list(records, now=g.now).waiting
    form.hatch_id.choices = presenter.hatch_choices(waiting)
    if request.method == "GET":
        asked = whole_numbers.asked_for("hatch_id")
        form.hatch_id.data = asked or int(next(iter(form.hatch_id.choices)))
    form.offer_tanks(_tanks(TankRole.LARVAL, form.hatch_id.data or 0))
    default_days(form, g.now)
    page = presenter.put(form)
    return take(
        form,
        record=lambda posting: larval_tank.put_larvae_in_tank(
            records, posting=posting, hatch_id=form.hatch_id.data, parts=form.read_parts(),
            when=form.read_when(), name=form.name.data or "",
        ),
        then=lambda holding_id: url_for("larval_tank.show", holding_id=holding_id),
        show=lambda: render_template("larval_tank/form.html", page=page),
        said="The larvae are in the book.",
    )  # fmt: skip


def here_before() -> Answer:
    """A batch that was there before the records began."""
    form = HereBeforeForm()
    form.tank_1.choices = {"0": "–", **_tanks(TankRole.LARVAL)}
    form.species_key.choices = {"": "choose"} | library.species_names()
    default_days(form, g.now)
    page = presenter.here_before(form)
    return take(
        form,
        record=lambda posting: larval_tank.move_in_batch(
            records, posting=posting, tank_id=form.tank_1.data or 0,
            species_key=form.species_key.data or "",
            number=presenter.number_or_unknown(form.number.data),
            when=form.read_when(), hatched=_nights(form), name=form.name.data or "",
            note=form.note.data or "",
        ),
        then=lambda holding_id: url_for("larval_tank.show", holding_id=holding_id),
        show=lambda: render_template("larval_tank/form.html", page=page),
        said="The batch is in the book.",
    )  # fmt: skip


def _nights(form: HereBeforeForm) -> tuple[Night, Night] | None:
    said = form.read_nights()
    return None if said is None else (Night(said[0]), Night(said[1]))


def move(holding_id: int) -> Answer:
    """A batch, or parts of it, to other tanks."""
    form = MoveForm()
    form.offer_tanks(_tanks(TankRole.LARVAL))
    return answer(
        form, holding_id, "move", "Move or split", "The move is written down.",
        lambda posting: larval_tank.move_batch(
            records, posting=posting, holding_id=holding_id,
            parts=form.read_parts(empty_is_all=True), when=form.read_when(),
        ),
    )  # fmt: skip


def grow_out(holding_id: int) -> Answer:
    """Settled fish on to grow-out; the others stay."""
    form = GrowOutForm()
    form.tank_1.choices = {"0": "–", **_tanks(TankRole.GROW_OUT)}
    if request.method == "GET":
        form.number.data = request.args.get("number", "")
    batch = larval_tank_page.batch_named(records, holding_id)
    default_days(form, g.now)
    page = presenter.form(form, batch, "grow_out", "Settled fish to grow-out")
    return take(
        form,
        record=lambda posting: larval_tank.move_settled(
            records, posting=posting, holding_id=holding_id, tank_id=form.tank_1.data or 0,
            number=form.read_number(), when=form.read_when(), name=form.name.data or "",
            note=form.note.data or "",
        ),
        then=lambda cohort_id: address_of("cohort.show", cohort_id=cohort_id)
        or url_for("larval_tank.show", holding_id=holding_id),
        show=lambda: render_template("larval_tank/form.html", page=page),
        said="They are a cohort now.",
    )  # fmt: skip


def together(holding_id: int) -> Answer:
    """Batches are put together in one tank."""
    form = TogetherForm()
    form.tank_1.choices = {"0": "–", **_tanks(TankRole.LARVAL)}
    others = larval_tank_page.larval_tank_list(records, now=g.now).open
    form.batch.choices = {
        str(one.holding_id): f"{one.holding.full_name}, {one.balance.now.said()}"
        for one in others
        if one.holding_id != holding_id
    }
    batch = larval_tank_page.batch_named(records, holding_id)
    if request.method == "GET":
        form.tank_1.data = batch.place.tank_id
    default_days(form, g.now)
    page = presenter.form(form, batch, "together", "Put together")
    return take(
        form,
        record=lambda posting: larval_tank.merge_batches(
            records, posting=posting, holding_ids=(holding_id, *(form.batch.data or ())),
            tank_id=form.tank_1.data or 0, when=form.read_when(), name=form.name.data or "",
            note=form.note.data or "",
        ),
        then=lambda mixed_id: url_for("larval_tank.show", holding_id=mixed_id),
        show=lambda: render_template("larval_tank/form.html", page=page),
        said="They are one batch now.",
    )  # fmt: skip


def other_clutch(holding_id: int) -> Answer:
    """They are of another clutch than was thought; all that follows is shown first."""
    form = OtherClutchForm()
    offered = other_clutches.hatches_offered(records, holding_id=holding_id)
    form.hatch_id.choices = {"0": "choose"} | {str(one.hatch_id): one.said for one in offered}
    batch = larval_tank_page.batch_named(records, holding_id)
    default_days(form, g.now)
    page = presenter.form(form, batch, "other_clutch", "Of another clutch")
    return take(
        form,
        record=lambda posting: other_clutches.record_other_clutch(
            records, posting=posting, holding_id=holding_id, hatch_id=form.hatch_id.data or 0,
            when=form.read_when(), note=form.note.data or "",
        ),
        then=lambda fact_id: url_for("records.entry", fact_id=fact_id),
        show=lambda: render_template("larval_tank/form.html", page=page),
        said="They are of that clutch now. Withdrawn here, all of it goes back.",
    )  # fmt: skip


def replan(holding_id: int) -> Answer:
    """What today's species file would change for this batch, and the tap that follows it."""
    form = ReplanForm()
    shown = larval_tank_plan.replan_shown(records, g.room, holding_id=holding_id, now=g.now)
    if request.method == "GET":
        form.mark.data = shown.mark
    page = presenter.replan(form, shown)
    return take(
        form,
        record=lambda posting: larval_tank_plan.replan(
            records, posting=posting, holding_id=holding_id, mark=form.mark.data or ""
        ),
        then=lambda _fact_id: url_for("larval_tank.show", holding_id=holding_id),
        show=lambda: render_template("larval_tank/replan_form.html", page=page),
        said="Re-planned. The old plan stays readable in the entry of the batch.",
    )  # fmt: skip

