"""Fish kept together without individual identity."""

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.services.broodstock import group as groups
from hatchery_app.web.broodstock import presenter
from hatchery_app.web.broodstock.forms import (
    GroupForm,
    GroupLeftForm,
    GroupPairForm,
    chosen_id,
    whole_number,
)
from hatchery_app.web.broodstock.small_pages import FormPage, offers, small_form
from hatchery_app.web.entry_form import take

Answer = Response | str | tuple[str, int]


def group(group_id: int) -> str:
    """One group: how many are left, and how the others left."""
    answer = groups.group_page(records, group_id=group_id, now=g.now)
    return render_template(
        "broodstock/group_show.html", page=presenter.group(answer, g.room.room_time)
    )


def new_group() -> Answer:
    """So many fish sit together."""
    form, offered = GroupForm(), offers()
    form.species_key.choices = {"": "not known"} | dict(offered.species)
    form.tank_id.choices = {"": "choose"} | dict(offered.tanks)
    if request.method == "GET":
        form.since.data = g.room.room_time.local(g.now).date().isoformat()
    page = FormPage(
        "A group", form,
        (("field", form.name), ("field", form.number), ("pick", form.species_key),
         ("pick", form.tank_id), ("field", form.since), ("long", form.note)),
        url_for("broodstock.show"), has_when=False,
        lead="Fish that are not told apart. A pair that forms among them gets names later.",
    )  # fmt: skip
    return take(
        form,
        record=lambda posting: groups.enter_group(
            records, posting=posting, name=form.name.data or "",
            number=whole_number(form.number.data, "number"),
            tank_id=chosen_id(form.tank_id.data) or 0, when=form.read_since(),
            species_key=form.species_key.data or "", note=form.note.data or "",
        ),
        then=lambda group_id: url_for("broodstock.group", group_id=group_id),
        show=lambda: small_form(page),
    )  # fmt: skip


def group_left(group_id: int) -> Answer:
    """Some of a group are gone."""
    form = GroupLeftForm()
    form.how.choices = {way: way for way in groups.WAYS_OUT}
    name = groups.group_page(records, group_id=group_id, now=g.now).name
    back = url_for("broodstock.group", group_id=group_id)
    page = FormPage(
        f"{name}: some left", form,
        (("field", form.number), ("choice", form.how), ("long", form.note)), back,
    )  # fmt: skip
    return take(
        form,
        record=lambda posting: groups.record_group_left(
            records, posting=posting, group_id=group_id,
            number=whole_number(form.number.data, "number"), how=form.how.data or "",
            when=form.read_when(), note=form.note.data or "",
        ),
        then=lambda _group_id: back,
        show=lambda: small_form(page),
    )  # fmt: skip


def group_pair(group_id: int) -> Answer:
    """A pair has formed: its two fish get names."""
    form = GroupPairForm()
    name = groups.group_page(records, group_id=group_id, now=g.now).name
    page = FormPage(
        f"{name}: a pair has formed", form,
        (("field", form.female_name), ("field", form.male_name), ("long", form.note)),
        url_for("broodstock.group", group_id=group_id),
        lead="The two get names and leave the group's number. Take the others out if they are "
        "chased.",
    )  # fmt: skip
    return take(
        form,
        record=lambda posting: groups.form_pair_in_group(
            records, posting=posting, group_id=group_id,
            female_name=form.female_name.data or "", male_name=form.male_name.data or "",
            when=form.read_when(), note=form.note.data or "",
        ),
        then=lambda pair_id: url_for("broodstock.pair", pair_id=pair_id),
        show=lambda: small_form(page),
    )  # fmt: skip
