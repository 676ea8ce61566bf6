"""A pair: put together, looked at, ended."""

from flask import g, render_template, request, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.broodstock.pairing import EndedBecause, LinkKind
from hatchery_app.services.broodstock import pair as pairs
from hatchery_app.services.broodstock import pair_page
from hatchery_app.web.broodstock import pair_presenter
from hatchery_app.web.broodstock.forms import EndPairForm, PairForm, chosen_id
from hatchery_app.web.broodstock.small_pages import FormPage, offers, small_form
from hatchery_app.web.broodstock.tap_pages import one_tap
from hatchery_app.web.entry_form import take


def pair(pair_id: int) -> str:
    """All that stands of one pair."""
    answer = pair_page.pair_page(records, g.room, pair_id=pair_id, now=g.now)
    return render_template(
        "broodstock/pair_show.html", page=pair_presenter.shown(answer, g.room.room_time)
    )


def new_pair() -> Response | str | tuple[str, int]:
    """Two fish are put together."""
    form = PairForm()
    _offer(form)
    return take(
        form,
        record=lambda posting: pairs.enter_pair(
            records, posting=posting, female_id=chosen_id(form.female_id.data) or 0,
            male_id=chosen_id(form.male_id.data) or 0, when=form.read_since(),
            link=LinkKind(form.link.data), name=form.name.data or "",
            tank_id=chosen_id(form.tank_id.data), earlier_clutches=form.read_earlier(),
            note=form.note.data or "",
        ),
        then=lambda pair_id: url_for("broodstock.pair", pair_id=pair_id),
        show=lambda: small_form(_new_pair_page(form)),
        said="The two stand as a pair.",
    )  # fmt: skip


def _offer(form: PairForm) -> None:
    offered = offers()
    fish = {"": "choose"} | {str(i): label for i, label in offered.here.items()}
    form.female_id.choices = form.male_id.choices = fish
    form.tank_id.choices = {"": "where they are"} | dict(offered.tanks)
    if request.method == "GET":
        form.female_id.data = request.args.get("female", "")
        form.male_id.data = request.args.get("male", "")
        form.since.data = g.room.room_time.local(g.now).date().isoformat()


def _new_pair_page(form: PairForm) -> FormPage:
    return FormPage(
        "Put two fish together", form,
        (("pick", form.female_id), ("pick", form.male_id), ("choice", form.link),
         ("pick", form.tank_id), ("field", form.since)),
        url_for("broodstock.show"), has_when=False,
        folded=(("field", form.earlier_clutches), ("field", form.name), ("long", form.note)),
        lead="Watch them from the first hour: two that fight are parted at once.",
    )  # fmt: skip


def end_pair(pair_id: int) -> Response | str | tuple[str, int]:
    """A pair ends without a loss: swapped, separated, retired."""
    form = EndPairForm()
    name = pairs.pair_name(records, pair_id=pair_id, now=g.now)
    back = url_for("broodstock.pair", pair_id=pair_id)
    page = FormPage(
        f"{name}: the pair ends", form, (("choice", form.because), ("long", form.note)), back,
        lead="Died, missing or sold is entered on the fish itself: the pair then ends with it.",
    )
    return take(
        form,
        record=lambda posting: pairs.end_pair(
            records, posting=posting, pair_id=pair_id, when=form.read_when(),
            because=EndedBecause(form.because.data), note=form.note.data or "",
        ),
        then=lambda _pair_id: back,
        show=lambda: small_form(page),
    )  # fmt: skip


def reopen_pair(pair_id: int) -> Response:
    """The end was a slip: the pair stands again."""
    back = url_for("broodstock.pair", pair_id=pair_id)
    return one_tap(
        lambda posting: pairs.reopen_pair(records, posting=posting, pair_id=pair_id),
        then=back, otherwise=back, said="The pair stands again.",
    )  # fmt: skip
