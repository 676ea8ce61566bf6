"""Pictures to count on: taken in, marked by touch, and shown only to those who are signed in.

Without script a picture is an image button: each tap is one mark, and comes back with the page.
"""

from collections.abc import Mapping
from dataclasses import replace
from io import BytesIO
from pathlib import Path

from flask import abort, current_app, redirect, render_template, request, send_file, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.stock_book.picture import Mark, read_marks
from hatchery_app.domain.stock_book.worked_count import Seen, worked_from_photo
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.stock_book import photo_count
from hatchery_app.services.stock_book.photo_count import PhotoShown, fingerprint, photos_folder
from hatchery_app.web import whole_numbers
from hatchery_app.web.entry_form import take
from hatchery_app.web.stock_book import count_presenter
from hatchery_app.web.stock_book.count_presenter import BACK, SIZES
from hatchery_app.web.stock_book.forms import AgainForm, PictureForm

Answer = Response | str | tuple[str, int]


def _folder() -> Path:
    return Path(current_app.instance_path)


def picture_add(about_id: int) -> Answer:
    """Take or choose a picture of a batch or clutch."""
    photo_count.find_what_it_shows(records, about_id)
    form = PictureForm()
    page = count_presenter.adding(form, about_id, _page_asked_for())
    content = form.picture.data.read() if form.picture.data else b""

    def record(posting: Posting) -> int:
        # Another picture under the same key is another post, though nothing else differs.
        told = replace(posting, body={**posting.body, "picture": fingerprint(content)})
        return photo_count.keep_photo(
            records, posting=told, folder=_folder(), content=content, about_id=about_id
        )

    return take(
        form, record=record,
        then=lambda photo_id: url_for(
            "stock_book.picture", photo_id=photo_id, page=_page_asked_for()
        ),
        show=lambda: render_template("stock_book/picture_form.html", page=page),
    )  # fmt: skip


def picture(photo_id: int) -> Answer:
    """A picture with its marks: a tap sets one, a tap on one takes it away."""
    shown = photo_count.photo(records, photo_id)
    form = AgainForm()
    if request.method == "GET":
        return _marked(shown, form)
    if not form.validate():
        if "csrf_token" in form.errors:
            form.sentence = "This page was open for very long: send it once more."
        return _marked(shown, form), 422
    try:
        return redirect(_answered(shown, form), 303)
    except RuleBroken as refused:
        form.refuse(refused)
        return _marked(photo_count.photo(records, photo_id), form), 422


def _marked(shown: PhotoShown, form: AgainForm) -> str:
    size = request.values.get("size", "")
    page = count_presenter.marking(shown, form, _page_asked_for(), _count_asked_for(), size)
    return render_template("stock_book/picture_show.html", page=page)


def _answered(shown: PhotoShown, form: AgainForm) -> str:
    """Do what was tapped; returns where to go on."""
    typed: Mapping[str, str] = request.form
    here = url_for("stock_book.picture", photo_id=shown.photo_id, page=_page_asked_for() or None,
                   count=_count_asked_for() or None, size=typed.get("size") or None)  # fmt: skip
    tap = _tapped(typed)
    if tap is not None:
        photo_count.tap(records, shown.photo_id, tap)
        return f"{here}#picture"
    marks = read_marks(typed.get("marks", "")) if typed.get("by_script") else shown.marks
    if typed.get("undo"):
        marks = marks[:-1]
    photo_count.set_marks(records, shown.photo_id, marks)
    if not typed.get("done"):
        return f"{here}#picture"
    fact_id = _count_asked_for()
    if fact_id:
        number = worked_from_photo(len(marks), Seen(form.photo_seen.data), shown.photo_id).number
        correction.correct_number(records, posting=form.posting(), fact_id=fact_id, number=number)
        return url_for("stock_book.count", fact_id=fact_id)
    page = _page_asked_for()
    return count_presenter.back(page, shown.about_id, shown.photo_id) or here


def _tapped(typed: Mapping[str, str]) -> Mark | None:
    """Where the image button was tapped, as shares of the size at which the page showed it."""
    width, height = SIZES.get(typed.get("size", ""), SIZES["fits"]), 0.0
    across, down = (whole_numbers.read(typed.get(f"tap.{axis}", "")) for axis in "xy")
    if across is None or down is None:
        return None
    height = whole_numbers.read(typed.get("shown_height", "")) or 0
    if not height:
        return None
    return min(across / width, 1.0), min(down / height, 1.0)


def image(photo_id: int) -> Response:
    """The picture itself, as it came. It is asked for anew each time, so that nobody sees it who
    has signed out; an unchanged one is not sent again."""
    shown = photo_count.photo(records, photo_id)
    path = photos_folder(_folder()) / shown.file
    if not path.is_file():
        abort(404)
    content = BytesIO(path.read_bytes())
    answer = send_file(content, mimetype=shown.media_type, etag=shown.sha256, conditional=True)
    answer.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer.headers["Content-Disposition"] = f"inline; filename=picture-{photo_id}"
    answer.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    answer.headers["Cache-Control"] = "private, no-cache"
    return answer


def _page_asked_for() -> str:
    """The form to go back to, "" where none is named that takes a count."""
    page = request.values.get("page", "")
    return page if page in BACK else ""


def _count_asked_for() -> int:
    return whole_numbers.read(request.values.get("count", "")) or 0
