"""Fish that leave a cohort: gone by a door, to another tank, or on to the broodstock."""

from flask import request

from hatchery_app.database import session as records
from hatchery_app.domain.cohort.cohort import GradedOut
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.services.cohort import cohort, cohort_facts, cohort_leaving
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.larval_tank.larval_tank import Part
from hatchery_app.services.recording import Posting
from hatchery_app.web import whole_numbers
from hatchery_app.web.cohort.forms import MOVED, GoneForm, KeepForm, MoveForm, chosen
from hatchery_app.web.cohort.pages import Answer, taken, tanks


def gone(cohort_id: int) -> Answer:
    """Fish are gone, by a named door."""
    form = GoneForm()
    form.out_of.choices = _apart(cohort_id, "no, or not said")
    return taken(form, cohort_id, "Fish gone", lambda posting: cohort_leaving.leave_cohort(
        records, posting=posting, holding_id=cohort_id, door=Door(form.door.data),
        number=form.read_number(), reason=form.reason.data or "", when=form.read_when(),
        set_aside_id=form.out_of.data or None, note=form.note.data or ""))  # fmt: skip


def move(cohort_id: int) -> Answer:
    """To another tank, as they come or the largest or smallest."""
    form = MoveForm()
    form.tank_1.choices = tanks("choose")
    return taken(form, cohort_id, "Move or grade", lambda posting: _move(form, cohort_id, posting))


def _move(form: MoveForm, cohort_id: int, posting: Posting) -> int:
    number, when = form.read_number(), form.read_when()
    tank_id = chosen(form.tank_1.data, "tank_1")
    if form.which.data == MOVED:
        return larval_tank.move_batch(
            records, posting=posting, holding_id=cohort_id,
            parts=[Part(tank_id, number, form.note.data or "")], when=when,
        )  # fmt: skip
    if number is None:
        raise RuleBroken("Say how many were taken out.", field="number")
    return cohort.grade_out(
        records, posting=posting, holding_id=cohort_id, tank_id=tank_id, number=number,
        which=GradedOut(form.which.data), when=when, note=form.note.data or "",
    )  # fmt: skip


def keep(cohort_id: int) -> Answer:
    """Fish become breeders with names of their own."""
    form = KeepForm()
    form.tank_id.choices = tanks("not said", first=TankRole.BROODSTOCK)
    form.out_of.choices = _apart(cohort_id, "no")
    if request.method == "GET":
        form.out_of.data = whole_numbers.asked_for("out_of", 0)
    return taken(form, cohort_id, "Keep as breeders", lambda posting: (
        cohort_leaving.keep_as_breeders(
            records, posting=posting, holding_id=cohort_id,
            names=(form.names.data or "").replace(";", ",").split(","),
            tank_id=form.tank_id.data or None, set_aside_id=form.out_of.data or None,
            when=form.read_when(), note=form.note.data or "")))  # fmt: skip


def _apart(cohort_id: int, blank: str) -> dict[str, str]:
    lines = cohort_facts.load_promises(records, (cohort_id,)).apart_of(cohort_id)
    return {"0": blank} | {str(one.set_aside_id): one.apart.said() for one in lines}
