"""Counts in words: how a number came about, the room's trials, a picture with its marks."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from flask import url_for

from hatchery_app.domain.stock_book.picture import write_marks
from hatchery_app.domain.when import RoomTime, say_when
from hatchery_app.services.stock_book.counting import CountShown, Trial
from hatchery_app.services.stock_book.photo_count import PhotoShown
from hatchery_app.web.addresses import address_of

BACK = {
    "larval_tank.count": "holding_id",
    "cohort.count": "cohort_id",
    "clutch.check": "clutch_id",
    "clutch.hatch": "clutch_id",
}
"""The forms that take a count, each with the name under which its address holds the id."""

SIZES = {"fits": 340, "larger": 720, "largest": 1440}
"""How wide a picture is shown, in pixels: fits a phone, a tablet, or is moved about under it."""


@dataclass(frozen=True)
class CountPage:
    """One number with how it came about."""

    heading: str
    number: str
    words: str
    when: str
    lines: tuple[str, ...]
    advice: str
    method: str
    written: str
    photo: PhotoShown | None
    entry_url: str
    again_url: str


@dataclass(frozen=True)
class TrialLine:
    """A trial with what it showed."""

    when: str
    said: str
    found: str
    note: str
    url: str
    is_used: bool


@dataclass(frozen=True)
class TrialsPage:
    """The form of a trial, and those made so far."""

    heading: str
    form: Any
    lines: tuple[TrialLine, ...]
    wide: bool


@dataclass(frozen=True)
class AddPage:
    """The form that takes a picture in."""

    heading: str
    form: Any
    back: str
    page: str


@dataclass(frozen=True)
class MarkPage:
    """A picture to be marked. `sizes` are (word, address, whether it is this one)."""

    heading: str
    form: Any
    photo: PhotoShown
    marks: str
    width: int
    height: int
    size: str
    sizes: tuple[tuple[str, str, bool], ...]
    page: str
    count: int
    done: str
    back: str


def show(found: CountShown, room_time: RoomTime) -> CountPage:
    """The page of one number."""
    worked = found.worked
    again = ""
    if found.photo is not None:
        again = url_for("stock_book.picture", photo_id=found.photo.photo_id, count=found.fact_id)
    return CountPage(
        heading="How it was counted",
        number=found.number.said(),
        words=found.words,
        when=say_when(found.when, room_time),
        lines=worked.lines if worked is not None else (),
        advice=worked.advice if worked is not None else "",
        method=found.number.method if worked is None else "",
        written=found.number.written,
        photo=found.photo,
        entry_url=address_of("records.entry", fact_id=found.fact_id),
        again_url=again,
    )


def trials(form: Any, found: Sequence[Trial], room_time: RoomTime) -> TrialsPage:
    """The trials, newest first: the newest of its kind is the one that is used."""
    lines, used = [], set()
    for one in found:
        counted = ", ".join(str(number) for number in one.counts)
        lines.append(
            TrialLine(
                say_when(one.when, room_time),
                f"{one.known_number} {one.sampled}: {counted} in {one.aliquot_ml:g} of "
                f"{one.total_ml:g} mL",
                f"{one.recovery.said()} of them found",
                one.note,
                address_of("records.entry", fact_id=one.trial_id),
                one.sampled not in used,
            )
        )
        used.add(one.sampled)
    return TrialsPage("Trials of counting", form, tuple(lines), bool(form.errors or form.asked))


def adding(form: Any, about_id: int, page: str) -> AddPage:
    """The form that takes a picture in."""
    return AddPage("A picture to count on", form, _back(page, about_id), page)


def marking(shown: PhotoShown, form: Any, page: str, count: int, size: str) -> MarkPage:
    """A picture at one of three sizes, with its marks."""
    size = size if size in SIZES else "fits"
    width = SIZES[size]
    sizes = tuple(
        (word, url_for("stock_book.picture", photo_id=shown.photo_id, page=page or None,
                       count=count or None, size=word) + "#picture", word == size)
        for word in SIZES
    )  # fmt: skip
    return MarkPage(
        heading="Mark each one",
        form=form,
        photo=shown,
        marks=write_marks(shown.marks),
        width=width,
        height=max(1, round(width * shown.height / shown.width)),
        size=size,
        sizes=sizes,
        page=page,
        count=count,
        done="Correct the count by these" if count else "Count with these",
        back=address_of("stock_book.count", fact_id=count)
        if count else _back(page, shown.about_id),
    )  # fmt: skip


def back(page: str, about_id: int, photo_id: int) -> str:
    """The form that the picture goes back to, "" where it came from none."""
    return address_of(page, **{BACK[page]: about_id, "photo_id": photo_id}) if page else ""


def _back(page: str, about_id: int) -> str:
    return address_of(page, **{BACK[page]: about_id}) if page else ""
