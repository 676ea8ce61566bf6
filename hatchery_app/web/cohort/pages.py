"""The pages of the cohorts: the walk, one cohort, what is counted, measured, graded, set aside."""

from collections.abc import Callable

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.broodstock.body_length import LengthKind
from hatchery_app.domain.cohort.cohort import Aside, parse_hatched
from hatchery_app.domain.how_many import parse
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.cohort import cohort, cohort_facts, cohort_page
from hatchery_app.services.larval_tank import larval_tank_page, tanks_offered
from hatchery_app.services.recording import Posting
from hatchery_app.services.species.library import species_names
from hatchery_app.services.stock_book import counting, counts
from hatchery_app.web import count_fields
from hatchery_app.web.addresses import address_of
from hatchery_app.web.cohort import form_presenter, presenter
from hatchery_app.web.cohort.forms import (
    AsideForm,
    CountForm,
    FreeForm,
    GradesForm,
    HereBeforeForm,
    LengthsForm,
    SaleSizeForm,
    YoungForm,
    chosen,
    whole,
)
from hatchery_app.web.entry_form import EntryForm, take
from hatchery_app.web.when_fields import WhenFields, default_days

Answer = Response | str | tuple[str, int]


def show_list() -> str:
    """The walk through grow-out."""
    everything = request.args.get("all") == "1"
    answer = cohort_page.cohort_list(records, now=g.now, everything=everything)
    page = presenter.listed(answer, g.room.room_time, everything=everything)
    return render_template("cohort/list.html", page=page)


def show(cohort_id: int) -> str:
    """One cohort."""
    page = presenter.shown(_page(cohort_id), g.room, g.now)
    return render_template("cohort/show.html", page=page)


def count(cohort_id: int) -> Answer:
    """How many are there."""
    form = CountForm()
    form.offer(
        count_fields.OF_FISH,
        counting.ground_of_batch(
            records, holding_id=cohort_id, now=g.now, photo_id=count_fields.picture_asked_for()
        ),
    )
    return taken(form, cohort_id, "Count", lambda posting: counts.record_count(
        records, posting=posting, holding_id=cohort_id, number=form.read_number(),
        when=form.read_when(), bodies=whole(form.bodies.data, "bodies"),
        note=form.note.data or ""))  # fmt: skip


def lengths(cohort_id: int) -> Answer:
    """Some were measured, or weighed together."""
    form = LengthsForm()
    return taken(form, cohort_id, "Lengths", lambda posting: cohort.record_lengths(
        records, posting=posting, holding_id=cohort_id, lengths=form.lengths.data or "",
        when=form.read_when(), measure=LengthKind(form.measure.data),
        by_eye=bool(form.by_eye.data), weighed=form.weighed_g.data or "",
        weighed_fish=whole(form.weighed_fish.data, "weighed_fish"),
        note=form.note.data or ""))  # fmt: skip


def grades(cohort_id: int) -> Answer:
    """How they look, in the keeper's own words."""
    form = GradesForm()
    if request.method == "GET":
        form.offer(cohort_facts.grade_words(records))
    return taken(form, cohort_id, "Grades", lambda posting: cohort.record_grades(
        records, posting=posting, holding_id=cohort_id, grades=form.read_grades(),
        when=form.read_when(), note=form.note.data or ""))  # fmt: skip


def sale_size(cohort_id: int) -> Answer:
    """From which length this species is sold here."""
    form = SaleSizeForm()
    species_key = _page(cohort_id).holding.species_key
    return taken(form, cohort_id, "Sale size", lambda posting: cohort.set_sale_size(
        records, posting=posting, species_key=species_key, length=form.length.data or "",
        when=When.exactly(g.now)))  # fmt: skip


def set_aside(cohort_id: int) -> Answer:
    """Fish are kept, barred, in quarantine or too small."""
    form = AsideForm()
    if request.method == "GET":
        form.why.data = request.args.get("why", "")
    return taken(form, cohort_id, "Set aside", lambda posting: _set_aside(form, cohort_id, posting))


def set_larvae_aside(holding_id: int) -> Answer:
    """A batch of larvae is barred already, and all that comes of it."""
    form = AsideForm()
    batch = larval_tank_page.batch_named(records, holding_id)
    back = address_of("larval_tank.show", holding_id=holding_id) or url_for("cohort.list")
    default_days(form, g.now)
    page = form_presenter.larvae(form, batch.full_name, back)
    return take(
        form, record=lambda posting: _set_aside(form, holding_id, posting), then=lambda _fact: back,
        show=lambda: render_template("cohort/form.html", page=page),
        said=f"{batch.full_name}: set aside.",
    )  # fmt: skip


def _set_aside(form: AsideForm, holding_id: int, posting: Posting) -> int:
    return cohort.set_aside(
        records, posting=posting, holding_id=holding_id, why=Aside(form.why.data),
        number=whole(form.number.data, "number"), reason=form.reason.data or "",
        when=form.read_when(), note=form.note.data or "",
    )  # fmt: skip


def set_free(cohort_id: int, set_aside_id: int) -> Answer:
    """Fish set aside are free again."""
    form = FreeForm()
    return taken(form, cohort_id, "Set free again", lambda posting: cohort.set_free(
        records, posting=posting, set_aside_id=set_aside_id, when=form.read_when(),
        number=whole(form.number.data, "number"), note=form.note.data or ""))  # fmt: skip


def here_before() -> Answer:
    """Growing fish that were here before the records began."""
    form = HereBeforeForm()
    form.tank_1.choices = tanks("choose")
    form.species_key.choices = {"": "choose"} | species_names()
    return _begun(form, "Growing fish that were here before", lambda posting: (
        cohort.move_in_cohort(
            records, posting=posting, tank_id=chosen(form.tank_1.data, "tank_1"),
            species_key=form.species_key.data or "", number=parse(form.number.data or "", "number"),
            when=form.read_when(), lengths=form.lengths.data or "", by_eye=bool(form.by_eye.data),
            hatched=parse_hatched(form.hatched.data or "", g.room.room_time.local(g.now).date()),
            name=form.name.data or "", note=form.note.data or "")))  # fmt: skip


def young() -> Answer:
    """Young of a species without larvae."""
    form = YoungForm()
    form.tank_1.choices = tanks("choose")
    waiting = larval_tank_page.waiting_hatches(records, g.room, g.now, carried=True)
    form.hatch_id.choices = {"0": "choose"} | {
        str(one.hatch_id): f"{one.clutch}, {one.night}" for one in waiting
    }
    return _begun(form, "Young into grow-out", lambda posting: cohort.put_young_in_cohort(
        records, posting=posting,
        hatch_id=chosen(form.hatch_id.data, "hatch_id", "Choose the young."),
        tank_id=chosen(form.tank_1.data, "tank_1"), number=parse(form.number.data or "", "number"),
        when=form.read_when(), name=form.name.data or "", note=form.note.data or ""))  # fmt: skip


def tanks(blank: str, first: TankRole = TankRole.GROW_OUT) -> dict[str, str]:
    """The tanks that can take fish, those kept for it first, with what lives in each."""
    offered = tanks_offered.tanks_for_fish(records, first=first, now=g.now)
    return {"0": blank} | {str(one.standing.tank_id): one.said for one in offered}


def taken(
    form: EntryForm, cohort_id: int, heading: str, record: Callable[[Posting], int]
) -> Answer:
    """Answer a form about a cohort, and go back to its page."""
    if isinstance(form, WhenFields):
        default_days(form, g.now)
    page = _page(cohort_id)
    return take(
        form,
        record=record,
        then=lambda _fact: url_for("cohort.show", cohort_id=cohort_id),
        show=lambda: render_template(
            "cohort/form.html", page=form_presenter.form(page, form, heading, g.room.room_time)
        ),
        said=f"{heading}: written down.",
    )


def _begun(form: EntryForm, heading: str, record: Callable[[Posting], int]) -> Answer:
    default_days(form, g.now)
    return take(
        form,
        record=record,
        then=lambda cohort_id: url_for("cohort.show", cohort_id=cohort_id),
        show=lambda: render_template("cohort/form.html", page=form_presenter.begun(form, heading)),
        said="The cohort is in the book.",
    )


def _page(cohort_id: int) -> cohort_page.CohortPage:
    return cohort_page.cohort_page(records, holding_id=cohort_id, now=g.now)
