"""One fish: entered, looked at, and what is seen of it."""

from collections.abc import Callable
from typing import Any

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.broodstock.body_length import Beside, LengthKind
from hatchery_app.domain.broodstock.broodstock import Origin
from hatchery_app.domain.broodstock.sex_state import Sex, SexEvidence, Standing
from hatchery_app.services.broodstock import fish as fish_service
from hatchery_app.services.broodstock import fish_page, fish_removal
from hatchery_app.services.recording import Posting
from hatchery_app.web import door
from hatchery_app.web.broodstock import fish_presenter
from hatchery_app.web.broodstock.forms import (
    BarForm,
    BesideForm,
    DeleteForm,
    FishForm,
    LengthForm,
    PlaceForm,
    SexForm,
    SpeciesForm,
    chosen_id,
)
from hatchery_app.web.broodstock.small_pages import FormPage, offers, small_form
from hatchery_app.web.broodstock.tap_pages import one_tap
from hatchery_app.web.entry_form import EntryForm, take

Answer = Response | str | tuple[str, int]


def fish(fish_id: int) -> str:
    """All that stands of one fish."""
    answer = fish_page.fish_page(records, fish_id=fish_id, now=g.now)
    return render_template(
        "broodstock/fish_show.html", page=fish_presenter.shown(answer, g.room.room_time)
    )


def new_fish() -> Answer:
    """A fish comes into the records."""
    form = _fish_form()
    if request.method == "GET":
        form.since.data = g.room.room_time.local(g.now).date().isoformat()
    return take(
        form,
        record=lambda posting: _enter(form, posting),
        then=lambda fish_id: url_for("broodstock.fish", fish_id=fish_id),
        show=lambda: small_form(_fish_form_page(form, "A fish", url_for("broodstock.show"))),
    )


def _fish_form() -> FishForm:
    form, offered = FishForm(), offers()
    form.offer(
        species=offered.species, tanks=offered.tanks, fish=offered.fish, groups=offered.groups
    )
    return form


def _enter(form: FishForm, posting: Posting) -> int:
    first, last = form.read_born()
    return fish_service.enter_fish(
        records, posting=posting, name=form.name.data or "", when=form.read_since(),
        species_key=form.species_key.data or "", species_evidence=form.species_evidence.data or "",
        crossed_with=form.crossed_with.data or "", variety=form.variety.data or "",
        origin=Origin(form.origin.data), origin_said=form.origin_said.data or "",
        parents=form.read_parents(), born_earliest_on=first, born_latest_on=last,
        tank_id=chosen_id(form.tank_id.data), note=form.note.data or "",
    )  # fmt: skip


def _fish_form_page(form: FishForm, heading: str, back: str, *, is_new: bool = True) -> FormPage:
    first: tuple[tuple[str, Any], ...] = (("field", form.name),)
    if is_new:
        first += (("pick", form.species_key), ("pick", form.tank_id))
    evidence = (("field", form.species_evidence), ("field", form.crossed_with)) if is_new else ()
    return FormPage(
        heading, form, (*first, ("field", form.since), ("choice", form.origin)), back,
        has_when=False,
        folded=(
            *evidence, ("field", form.variety), ("field", form.origin_said),
            ("field", form.hatched), ("pick", form.mother), ("pick", form.mother_or),
            ("pick", form.father), ("pick", form.father_or), ("long", form.note),
        ),
    )  # fmt: skip


def change_fish(fish_id: int) -> Answer:
    """Say better who a fish is; what stood before stays readable."""
    answer = fish_page.fish_page(records, fish_id=fish_id, now=g.now)
    form = _fish_form()
    if request.method == "GET":
        fish_presenter.fill(form, answer, g.room.room_time)
    back = url_for("broodstock.fish", fish_id=fish_id)
    return take(
        form,
        record=lambda posting: _correct(form, posting, answer),
        then=lambda _fish_id: back,
        show=lambda: small_form(_fish_form_page(form, answer.label, back, is_new=False)),
    )


def _correct(form: FishForm, posting: Posting, answer: fish_page.FishPage) -> int:
    first, last = form.read_born()
    arrived = answer.fish.arrived
    is_same = arrived is not None and form.since.data == fish_presenter.since_said(
        arrived, g.room.room_time
    )
    return fish_service.correct_fish(
        records, posting=posting, fish_id=answer.fish.fish_id, name=form.name.data or "",
        when=arrived if is_same and arrived is not None else form.read_since(),
        variety=form.variety.data or "", origin=Origin(form.origin.data),
        origin_said=form.origin_said.data or "",
        parents=form.read_parents(answer.record.parents), born_earliest_on=first,
        born_latest_on=last, note=form.note.data or "",
    )  # fmt: skip


def _about(
    fish_id: int,
    form: EntryForm,
    heading: str,
    parts: Callable[[Any], tuple[tuple[str, Any], ...]],
    record: Callable[[Posting], int],
    lead: str = "",
) -> Answer:
    """A small form about one fish that leads back to its page."""
    label = fish_page.fish_page(records, fish_id=fish_id, now=g.now).label
    back = url_for("broodstock.fish", fish_id=fish_id)
    page = FormPage(f"{label}: {heading}", form, parts(form), back, lead=lead)
    return take(form, record=record, then=lambda _id: back, show=lambda: small_form(page))


def sex(fish_id: int) -> Answer:
    """What sex it is thought or proven to be."""
    form = SexForm()
    return _about(
        fish_id, form, "sex",
        lambda f: (("choice", f.sex), ("choice", f.standing), ("ticks", f.evidence),
                   ("long", f.note)),
        lambda posting: fish_service.record_sex(
            records, posting=posting, fish_id=fish_id, sex=Sex(form.sex.data),
            standing=Standing(form.standing.data), when=form.read_when(),
            evidence=[SexEvidence(word) for word in form.evidence.data or ()],
            note=form.note.data or "",
        ),
    )  # fmt: skip


def species(fish_id: int) -> Answer:
    """What it is held to be, with the evidence."""
    form = SpeciesForm()
    form.species_key.choices = {"": "not known"} | dict(offers().species)
    return _about(
        fish_id, form, "species",
        lambda f: (("pick", f.species_key), ("field", f.evidence), ("field", f.crossed_with),
                   ("long", f.note)),
        lambda posting: fish_service.record_species(
            records, posting=posting, fish_id=fish_id, species_key=form.species_key.data or "",
            when=form.read_when(), evidence=form.evidence.data or "",
            crossed_with=form.crossed_with.data or "", note=form.note.data or "",
        ),
        lead="An opinion with its evidence; earlier opinions stay readable.",
    )  # fmt: skip


def length(fish_id: int) -> Answer:
    """Its length, measured or by eye."""
    form = LengthForm()
    return _about(
        fish_id, form, "length",
        lambda f: (("field", f.length), ("tick", f.by_eye), ("choice", f.measure)),
        lambda posting: fish_service.record_length(
            records, posting=posting, fish_id=fish_id, length_mm=form.read_length_mm(),
            when=form.read_when(), measure=LengthKind(form.measure.data),
            by_eye=bool(form.by_eye.data), typed=form.length.data or "",
            note=form.note.data or "",
        ),
    )  # fmt: skip


def beside(fish_id: int) -> Answer:
    """How it looks beside another: evidence where nothing was measured."""
    form = BesideForm()
    others = {i: label for i, label in offers().here.items() if i != fish_id}
    form.other_id.choices = {str(i): label for i, label in others.items()}
    return _about(
        fish_id, form, "size beside another",
        lambda f: (("choice", f.beside), ("pick", f.other_id)),
        lambda posting: fish_service.record_size_beside(
            records, posting=posting, fish_id=fish_id, beside=Beside(form.beside.data),
            other_id=chosen_id(form.other_id.data) or 0, when=form.read_when(),
            note=form.note.data or "",
        ),
    )  # fmt: skip


def place(fish_id: int) -> Answer:
    """It sits in another tank."""
    form = PlaceForm()
    form.tank_id.choices = {"": "choose"} | dict(offers().tanks)
    return _about(
        fish_id, form, "moved",
        lambda f: (("pick", f.tank_id), ("long", f.note)),
        lambda posting: fish_service.place_fish(
            records, posting=posting, fish_id=fish_id,
            tank_id=chosen_id(form.tank_id.data) or 0, when=form.read_when(),
            note=form.note.data or "",
        ),
    )  # fmt: skip


def bar(fish_id: int) -> Answer:
    """A reason not to breed from it or move it."""
    form = BarForm()
    return _about(
        fish_id, form, "barred",
        lambda f: (("field", f.reason), ("long", f.note)),
        lambda posting: fish_service.bar_fish(
            records, posting=posting, fish_id=fish_id, reason=form.reason.data or "",
            when=form.read_when(), note=form.note.data or "",
        ),
        lead="A barred fish is not offered as a mate until the bar is lifted. For an illness, "
        "ask a vet who treats fish.",
    )  # fmt: skip


def lift_bar(bar_id: int) -> Response:
    """The bar no longer holds."""
    back = door.within(request.form.get("back", ""))
    there = back if back.startswith("/broodstock/") else url_for("broodstock.show")
    return one_tap(
        lambda posting: fish_service.lift_bar(
            records, posting=posting, bar_id=bar_id, when=fish_presenter.just_now(posting.now)
        ),
        then=there, otherwise=there, said="The bar is lifted.",
    )  # fmt: skip


def delete_fish(fish_id: int) -> Answer:
    """Take back a fish that was entered by mistake, or merge it with its other entry."""
    form = DeleteForm()
    label = fish_page.fish_page(records, fish_id=fish_id, now=g.now).label
    page = FormPage(
        f"{label}: entered by mistake", form, (("long", form.note),),
        url_for("broodstock.fish", fish_id=fish_id), save="Take the entry back", has_when=False,
        lead="For a fish that was entered twice or never was. Died, sold or missing is not this: "
        "then say how it left.",
    )
    return take(
        form,
        record=lambda posting: fish_removal.delete_fish(
            records, posting=posting, fish_id=fish_id, note=form.note.data or ""
        ),
        then=lambda kept: _kept_page(kept, fish_id),
        show=lambda: small_form(page),
    )


def _kept_page(kept_id: int, asked_id: int) -> str:
    if kept_id == asked_id:
        return url_for("broodstock.show")
    return url_for("broodstock.fish", fish_id=kept_id)
