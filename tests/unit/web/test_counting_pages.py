"""Counting through the pages: the way first, worked out before it is saved, figures kept."""

import io
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.when import When
from hatchery_app.models.counting import PhotoMarked
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import StockCount
from hatchery_app.services.recording import Posting
from hatchery_app.services.spawn import spawn
from hatchery_app.services.stock_book import photo_count
from tests.builders import a_png, make_batch, make_cohort, make_pair, make_photo, make_tank

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
Posted = Callable[..., Posting]


@pytest.fixture(autouse=True)
def in_november() -> Iterator[None]:
    with freeze_time(NOW):
        yield


@pytest.fixture
def batch(session: Session, client: FlaskClient) -> int:
    return make_batch(
        session, make_tank(session, "L1"), number="?", hatched_at=NOW - timedelta(days=4)
    )


@pytest.fixture
def eggs(session: Session, client: FlaskClient) -> int:
    laid = NOW - timedelta(days=3)
    return spawn.record_laying(
        session, posting=Posting(now=laid), when=When.exactly(laid),
        pair_id=make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1")),
    )  # fmt: skip


def stored(session: Session, kind: type[Entry] = Entry) -> int:
    found = session.scalar(select(func.count()).select_from(kind).where(known())) or 0
    session.rollback()
    return found


def newest(session: Session) -> int:
    return session.scalars(select(Entry.fact_id).order_by(Entry.seq.desc())).first() or 0


def in_words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


SAMPLES = {"how": "aliquots", "counts": "12, 9, 14, 11, 10", "aliquot_ml": "5", "total_ml": "12 L"}


def test_a_count_can_be_worked_out_first_and_nothing_is_saved(
    client: FlaskClient, session: Session, batch: int
) -> None:
    before = stored(session)
    page = client.post(f"/larval-tanks/{batch}/count", data=SAMPLES | {"work_out": "yes"})
    assert page.status_code == 200
    words = in_words(page.text)
    assert "26880 (" in words
    assert "12, 9, 14, 11, 10 in samples of 5 mL out of 12 L: 11.2 a sample." in words
    assert 'value="12, 9, 14, 11, 10"' in page.text
    assert stored(session) == before


def test_a_count_worked_out_from_nonsense_says_so_beside_its_field(
    client: FlaskClient, batch: int
) -> None:
    page = client.post(
        f"/larval-tanks/{batch}/count", data=SAMPLES | {"counts": "lots", "work_out": "yes"}
    )
    assert "Write each sample" in page.text
    for rubbish in ({"how": "counting_rods"}, {"how": "a_look", "look": "sideways"}):
        page = client.post(f"/larval-tanks/{batch}/count", data=rubbish | {"work_out": "yes"})
        assert page.status_code == 200
        assert "Say " in page.text


def test_the_figures_of_a_count_are_shown_later(
    client: FlaskClient, session: Session, batch: int
) -> None:
    assert client.post(f"/larval-tanks/{batch}/count", data=SAMPLES).status_code == 303
    assert "5 samples of 5 mL from 12 L" in client.get(f"/larval-tanks/{batch}").text
    fact = newest(session)
    assert f"/stock-book/counts/{fact}" in client.get(f"/records/{fact}").text
    words = in_words(client.get(f"/stock-book/counts/{fact}").text)
    assert "12, 9, 14, 11, 10 in samples of 5 mL" in words
    assert "The samples differ no more than by chance" in words


def test_a_trial_with_a_known_number_corrects_later_counts(
    client: FlaskClient, session: Session, batch: int
) -> None:
    assert "Try it with a known number" in client.get(f"/larval-tanks/{batch}/count").text
    trial = {"sampled": "larvae", "known_number": "200", "counts": "9 7 8 8 8",
             "aliquot_ml": "100", "total_ml": "2 L"}  # fmt: skip
    assert client.post("/stock-book/trials", data=trial).status_code == 303
    assert "of them found" in client.get("/stock-book/trials").text
    assert "of 200 larvae were found" in client.get(f"/larval-tanks/{batch}/count").text
    form = SAMPLES | {"work_out": "yes"}
    plain = in_words(client.post(f"/larval-tanks/{batch}/count", data=form).text)
    corrected = in_words(
        client.post(f"/larval-tanks/{batch}/count", data=form | {"use_recovery": "y"}).text
    )
    assert "26880 (" in plain
    assert "33600 (" in corrected
    assert "Divided by this room's own recovery, 80 %" in corrected.replace("&#39;", "'")


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"known_number": ""}, "Say how many were put in"),
        ({"counts": "0 0"}, "None of them were found"),
        ({"total_ml": "100 mL"}, "more than the 100 mL"),
        ({"aliquot_ml": "a cup"}, "not a figure"),
    ],
)
def test_a_trial_that_cannot_be_is_refused_with_all_that_was_typed(
    client: FlaskClient, changed: dict[str, str], sentence: str
) -> None:
    trial = {"sampled": "larvae", "known_number": "200", "counts": "9 7 8", "aliquot_ml": "100",
             "total_ml": "2 L", "note": "the blue jug"}  # fmt: skip
    answer = client.post("/stock-book/trials", data=trial | changed)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert "the blue jug" in answer.text


def test_a_trial_corrected_to_nonsense_is_refused(client: FlaskClient, session: Session) -> None:
    client.post("/stock-book/trials", data={
        "sampled": "larvae", "known_number": "200", "counts": "9 7 8", "aliquot_ml": "100",
        "total_ml": "2 L"})  # fmt: skip
    fact = newest(session)
    answer = client.post(f"/records/{fact}/correct", data={
        "known_number": "200", "counts": "nine", "aliquot_ml": "100", "total_ml": "2000",
    })  # fmt: skip
    assert answer.status_code == 422
    assert client.get("/stock-book/trials").status_code == 200


def test_the_way_a_thing_is_counted_fits_the_thing(
    client: FlaskClient, session: Session, batch: int, eggs: int
) -> None:
    cohort = make_cohort(
        session, make_tank(session, "G1"), number="59", hatched_at=NOW - timedelta(days=90),
        settled_at=NOW - timedelta(days=70), larval_tank_id=make_tank(session, "L9"),
    )  # fmt: skip
    offered = {
        name: set(re.findall(r'name="how"[^>]*value="(\w+)"', client.get(path).text))
        for name, path in (("larvae", f"/larval-tanks/{batch}/count"),
                           ("fish", f"/cohorts/{cohort}/count"),
                           ("eggs", f"/clutches/{eggs}/check"),
                           ("hatch", f"/clutches/{eggs}/hatch"))
    }  # fmt: skip
    assert offered["larvae"] == offered["hatch"] == {"one_by_one", "aliquots", "photo", "a_look"}
    assert offered["fish"] == {"one_by_one", "photo", "a_look"}
    assert offered["eggs"] == {"one_by_one", "squares", "photo", "a_look"}
    refused = client.post(f"/clutches/{eggs}/check", data={
        "what": "eggs", "how": "weighed", "weighed": "1.5 g 36\n1.6 g 35", "total_g": "300",
    })  # fmt: skip
    assert refused.status_code == 422


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"look": "a few"}, "“a few”"),
        ({"look": "about so many", "look_number": "80"}, "about 80"),
        ({"look": "at least so many", "look_number": "50"}, "at least 50"),
        ({"look": "not known"}, "unknown"),
    ],
)
def test_a_look_is_a_count_that_claims_no_more(
    client: FlaskClient, batch: int, form: dict[str, str], said: str
) -> None:
    answer = client.post(f"/larval-tanks/{batch}/count", data={"how": "a_look"} | form)
    assert answer.status_code == 303
    assert f"seen: {said}" in client.get(f"/larval-tanks/{batch}").text


def test_same_as_before_is_no_new_count(client: FlaskClient, session: Session, batch: int) -> None:
    client.post(f"/larval-tanks/{batch}/count", data={"how": "one_by_one", "number": "143"})
    client.post(f"/larval-tanks/{batch}/count", data={"how": "a_look", "look": "same as before"})
    page = client.get(f"/larval-tanks/{batch}").text
    assert "about 143 (“same as before, 143”)" in page
    assert "then 143 counted" in page


def test_fewer_than_the_book_asks_what_was_seen_dead(
    client: FlaskClient, session: Session, batch: int
) -> None:
    client.post(f"/larval-tanks/{batch}/count", data={"number": "61", "how": "one_by_one"})
    fewer = {"number": "48", "how": "one_by_one", "note": "by torch"}
    asked = client.post(f"/larval-tanks/{batch}/count", data=fewer)
    assert asked.status_code == 422
    assert "13 fewer. Were any seen dead?" in asked.text
    assert "by torch" in asked.text
    saved = client.post(f"/larval-tanks/{batch}/count", data=fewer | {"bodies": "5"})
    assert saved.status_code == 303
    page = in_words(client.get(f"/larval-tanks/{batch}").text)
    assert "5 counted died (bodies found)" in page
    assert "8 counted unexplained" in page


def test_none_seen_dead_leaves_all_of_them_missing(client: FlaskClient, batch: int) -> None:
    client.post(f"/larval-tanks/{batch}/count", data={"number": "61", "how": "one_by_one"})
    saved = client.post(f"/larval-tanks/{batch}/count", data={
        "number": "48", "how": "one_by_one", "answer-fewer": "none_seen"})  # fmt: skip
    assert saved.status_code == 303
    assert "13 counted unexplained" in in_words(client.get(f"/larval-tanks/{batch}").text)


# --- pictures ---------------------------------------------------------------------------------


def test_a_picture_is_taken_in_marked_and_counted_without_script(
    app: Flask, client: FlaskClient, session: Session, batch: int
) -> None:
    back = "larval_tank.count"
    taken = client.post(
        f"/stock-book/pictures/of/{batch}",
        data={"picture": (io.BytesIO(a_png()), "larvae.png"), "page": back},
    )
    assert taken.status_code == 303
    at = taken.location
    shown = client.get(at).text
    height = re.search(r'name="shown_height" value="(\d+)"', shown)
    assert height is not None
    common = {"page": back, "size": "fits", "shown_height": height[1]}
    for x, y in ((34, 51), (170, 127), (300, 20), (301, 21)):  # the last meets the third again
        tapped = client.post(at, data=common | {"tap.x": str(x), "tap.y": str(y)})
        assert tapped.status_code == 303
    assert 'data-marks-number>2<' in client.get(at).text
    done = client.post(at, data=common | {"done": "yes"})
    assert done.status_code == 303
    form = client.get(done.location).text
    assert re.search(r'value="photo" checked', form)
    photo_id = re.search(r'name="photo_id" value="(\d+)"', form)
    assert photo_id is not None
    saved = client.post(f"/larval-tanks/{batch}/count", data={
        "how": "photo", "photo_id": photo_id[1], "photo_seen": "all"})  # fmt: skip
    assert saved.status_code == 303
    assert "2 counted, 2 marks on a picture" in client.get(f"/larval-tanks/{batch}").text
    count = session.scalars(select(StockCount.fact_id).order_by(StockCount.seq.desc())).first()
    page = client.get(f"/stock-book/counts/{count}").text
    assert page.count("<circle") == 2
    assert 'cx="10.00%" cy="20.00%"' in page


def test_marks_that_a_script_set_come_with_the_button(
    app: Flask, client: FlaskClient, session: Session, batch: int
) -> None:
    photo = make_photo(session, Path(app.instance_path), batch)
    client.post(f"/stock-book/pictures/{photo}", data={
        "by_script": "yes", "marks": "0.1,0.1 0.2,0.2 0.3,0.3", "done": "yes"})  # fmt: skip
    assert len(photo_count.photo(session, photo).marks) == 3
    refused = client.post(f"/stock-book/pictures/{photo}", data={
        "by_script": "yes", "marks": "3,4", "done": "yes"})  # fmt: skip
    assert refused.status_code == 422
    assert len(photo_count.photo(session, photo).marks) == 3


def test_marks_set_anew_correct_the_count_and_the_old_ones_stay_readable(
    app: Flask, client: FlaskClient, session: Session, batch: int
) -> None:
    photo = make_photo(session, Path(app.instance_path), batch, marks="0.1,0.1 0.2,0.2")
    client.post(f"/larval-tanks/{batch}/count", data={
        "how": "photo", "photo_id": str(photo), "photo_seen": "all"})  # fmt: skip
    count = session.scalars(select(StockCount.fact_id).order_by(StockCount.seq.desc())).first()
    corrected = client.post(f"/stock-book/pictures/{photo}", data={
        "by_script": "yes", "marks": "0.1,0.1 0.2,0.2 0.9,0.9", "done": "yes",
        "count": str(count), "photo_seen": "some_hidden"})  # fmt: skip
    assert corrected.status_code == 303
    page = client.get(corrected.location).text
    assert "at least 3" in page
    assert page.count("<circle") == 3
    assert "2 counted" in client.get(f"/records/{count}").text
    kept = session.scalars(select(PhotoMarked).order_by(PhotoMarked.seq)).all()
    assert [len(row.marks.split()) for row in kept] == [2, 3]
    assert [row.superseded_seq is None for row in kept] == [False, True]


def test_a_count_on_a_picture_withdrawn_takes_its_marks_along(
    app: Flask, client: FlaskClient, session: Session, eggs: int
) -> None:
    photo = make_photo(session, Path(app.instance_path), eggs, marks="0.1,0.1 0.2,0.2")
    client.post(f"/clutches/{eggs}/check", data={
        "what": "eggs", "how": "photo", "photo_id": str(photo), "photo_seen": "all"})  # fmt: skip
    assert stored(session, PhotoMarked) == 1
    marked = session.scalars(select(PhotoMarked)).one()
    assert client.post(f"/records/{marked.number_id}/withdraw", data={}).status_code == 303
    assert stored(session, PhotoMarked) == 0


def test_eggs_marked_on_a_picture_come_back_to_a_look_at_the_eggs(
    app: Flask, client: FlaskClient, session: Session, eggs: int
) -> None:
    photo = make_photo(session, Path(app.instance_path), eggs, marks="0.1,0.1 0.2,0.2")
    done = client.post(
        f"/stock-book/pictures/{photo}", data={"done": "yes", "page": "clutch.check"}
    )
    form = client.get(done.location).text
    assert re.search(r'value="eggs" checked', form)
    assert re.search(r'value="photo" checked', form)
    saved = client.post(f"/clutches/{eggs}/check", data={
        "what": "eggs", "how": "photo", "photo_id": str(photo), "photo_seen": "unsharp",
        "photo_number": "",
    })  # fmt: skip
    assert saved.status_code == 303
    assert "eggs left: about 2, 2 marks on a picture" in client.get(f"/clutches/{eggs}").text


def test_a_number_can_be_counted_on_a_picture_without_marks(
    app: Flask, client: FlaskClient, session: Session, batch: int
) -> None:
    photo = make_photo(session, Path(app.instance_path), batch)
    form = {"how": "photo", "photo_id": str(photo), "photo_seen": "all"}
    refused = client.post(f"/larval-tanks/{batch}/count", data=form)
    assert refused.status_code == 422
    assert "Mark them on the picture, or write how many" in refused.text
    saved = client.post(f"/larval-tanks/{batch}/count", data=form | {"photo_number": "41"})
    assert saved.status_code == 303
    page = client.get(f"/larval-tanks/{batch}").text
    assert "41 counted, counted on a picture, without marks" in page


def test_a_picture_of_another_batch_is_not_counted_on(
    app: Flask, client: FlaskClient, session: Session, batch: int, eggs: int
) -> None:
    photo = make_photo(session, Path(app.instance_path), eggs, marks="0.1,0.1")
    refused = client.post(f"/larval-tanks/{batch}/count", data={
        "how": "photo", "photo_id": str(photo), "photo_seen": "all"})  # fmt: skip
    assert refused.status_code == 422
    assert "Take or choose a picture first" in refused.text


def test_a_picture_is_shown_only_to_those_who_are_signed_in(
    app: Flask, client: FlaskClient, session: Session, batch: int
) -> None:
    photo = make_photo(session, Path(app.instance_path), batch)
    seen = client.get(f"/stock-book/pictures/{photo}/image")
    assert (seen.status_code, seen.mimetype, seen.data) == (200, "image/png", a_png())
    assert seen.headers["X-Content-Type-Options"] == "nosniff"
    assert seen.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert seen.headers["Cache-Control"] == "private, no-cache"
    again = client.get(
        f"/stock-book/pictures/{photo}/image", headers={"If-None-Match": seen.headers["ETag"]}
    )
    assert again.status_code == 304
    stranger = app.test_client().get(f"/stock-book/pictures/{photo}/image")
    assert stranger.status_code == 302
    assert "sign-in" in stranger.location


@pytest.mark.parametrize(
    ("content", "name", "sentence"),
    [
        (b"", "larvae.jpg", "Take or choose a picture"),
        (b"<html>no</html>", "larvae.jpg", "no picture that can be shown"),
        (a_png()[:-30], "larvae.png", "no picture that can be shown"),
    ],
)
def test_what_is_no_picture_is_refused_and_no_file_is_left(
    app: Flask, client: FlaskClient, batch: int, content: bytes, name: str, sentence: str
) -> None:
    folder = photo_count.photos_folder(Path(app.instance_path))
    before = set(folder.glob("*"))
    answer = client.post(
        f"/stock-book/pictures/of/{batch}", data={"picture": (io.BytesIO(content), name)}
    )
    assert answer.status_code == 422
    assert sentence in answer.text
    assert set(folder.glob("*")) == before


def test_a_second_picture_under_the_same_key_is_not_taken_for_the_first(
    client: FlaskClient, batch: int
) -> None:
    assert client.get(f"/stock-book/pictures/of/{batch + 10**6}").status_code == 404
    at = f"/stock-book/pictures/of/{batch}"
    first, again, other = (
        client.post(at, data={"picture": (io.BytesIO(a_png(width)), "a.png"), "key": "p" * 9})
        for width in (120, 120, 130)
    )
    assert first.status_code == again.status_code == 303
    assert first.location == again.location
    assert other.status_code == 422
    assert "saved already" in other.text
