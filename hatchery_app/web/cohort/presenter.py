"""A cohort in words and drawings."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from flask import url_for
from markupsafe import Markup

from hatchery_app.domain.cohort.free_to_sell import FreeToSell
from hatchery_app.domain.how_many import Basis
from hatchery_app.domain.stock_book.stock_book import Count, Door, Movement
from hatchery_app.domain.stock_book.stock_line import holds_the_book
from hatchery_app.domain.stock_book.worked_count import number_told
from hatchery_app.domain.when import RoomTime, When, say_date, say_when
from hatchery_app.services.cohort.cohort_facts import ApartLine, GradeLine, HoldLine
from hatchery_app.services.cohort.cohort_page import CameLine, CohortLine, CohortList, CohortPage
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book.batch_survival import BatchLine, ClutchLine
from hatchery_app.web.addresses import address_of, linked
from hatchery_app.web.cohort import size_presenter
from hatchery_app.web.cohort.form_presenter import BARS
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.stock_book import differences_presenter
from hatchery_app.web.stock_book.differences_presenter import LossPart
from hatchery_app.web.tank import treatment_presenter
from hatchery_app.web.tank.treatment_presenter import TreatedLine


@dataclass(frozen=True)
class StopLine:
    """A cohort at its stop on the walk."""

    id: int
    place: str
    lives: str
    free: str
    why: str
    url: str


@dataclass(frozen=True)
class ListPage:
    """The walk through grow-out."""

    heading: str
    stops: tuple[StopLine, ...]
    ended: tuple[StopLine, ...]
    everything: bool


@dataclass(frozen=True)
class PromiseLine:
    """A hold or fish set aside, with where it is ended and where it is acted on."""

    said: str
    why: str
    flag: str = ""
    end_url: str = ""
    end_label: str = ""
    act_url: str = ""
    act_label: str = ""


@dataclass(frozen=True)
class CameRow:
    """One thing that happened."""

    when: str
    what: str
    note: str
    url: str


@dataclass(frozen=True)
class ShowPage:
    """One cohort."""

    heading: str
    id: int
    beside: str
    number: str
    free: str
    sum: str
    too_many: str
    facts: tuple[tuple[str, Any], ...]
    holds: tuple[PromiseLine, ...]
    apart: tuple[PromiseLine, ...]
    size_facts: tuple[tuple[str, str], ...]
    size_days: tuple[size_presenter.SizeDayLine, ...]
    small: str
    narrows: str
    lengths: Markup
    lengths_numbers: Numbers | None
    size_source: str
    feeding: tuple[tuple[str, str], ...]
    feeding_why: tuple[str, ...]
    grades: tuple[tuple[str, str, str, str], ...]
    bars: str
    together: tuple[str, ...]
    came: tuple[CameRow, ...]
    losses: tuple[LossPart, ...]
    treated: tuple[TreatedLine, ...]
    is_open: bool


# --- The walk -----------------------------------------------------------------------------


def listed(answer: CohortList, room_time: RoomTime, *, everything: bool) -> ListPage:
    """The walk's words."""
    return ListPage(
        "Cohorts",
        tuple(_stop(line, room_time) for line in answer.open),
        tuple(_stop(line, room_time) for line in answer.ended),
        everything,
    )


def _stop(line: CohortLine, room_time: RoomTime) -> StopLine:
    held = line.holding
    age = line.age.said if line.age else "age not known"
    size = line.sample.sample.said() if line.sample else ""
    of_size = _sale_size_said(line.free) or ("" if size else "not measured yet")
    why = [size, of_size, *(one.apart.said() for one in line.apart)]
    lives = [held.name, line.balance.now.said(), age, line.parents]
    if line.ended_at is not None:
        gone = f"{held.name} · gone {say_when(When.exactly(line.ended_at), room_time)}"
        return StopLine(held.id, held.place.label, gone, "", line.parents, _url(held.id))
    return StopLine(
        held.id,
        held.place.label,
        " · ".join(part for part in lives if part),
        _free_said(line.free),
        " · ".join(part for part in why if part),
        _url(held.id),
    )


def _free_said(free: FreeToSell) -> str:
    """No firmer than the number alive and what is known of their size: "37 free to sell",
    "about 60 free to sell", "up to 95 free to sell"; why up to, stands beside it."""
    if free.free is None:
        return "free to sell not known"
    if free.is_size_unknown and free.free:
        return f"up to {free.free} free to sell"
    firm = free.size is None and (free.alive.basis is Basis.COUNTED or not free.free)
    return f"{'' if firm else 'about '}{free.free} free to sell"


def _sale_size_said(free: FreeToSell) -> str:
    return free.size.said(free.alive) if free.size is not None else ""


def _url(cohort_id: int) -> str:
    return url_for("cohort.show", cohort_id=cohort_id)


# --- One cohort ---------------------------------------------------------------------------


def shown(page: CohortPage, room: RoomNow, now: datetime) -> ShowPage:
    """One cohort's page."""
    held, room_time, free = page.holding, room.room_time, page.free
    return ShowPage(
        heading=held.full_name,
        id=held.id,
        beside=page.age.said if page.age else "age not known",
        number=page.balance.now.said(),
        free=_free_said(free),
        sum=free.said(),
        too_many=f"{free.promised_too_many} more are promised than there are: release or take back"
        if free.promised_too_many else "",
        facts=_facts(page, room_time, now),
        holds=tuple(_hold(line, held.id, room_time, now) for line in page.holds),
        apart=tuple(_apart(line, held.id, room_time) for line in page.apart),
        size_facts=size_presenter.size_facts(page, room_time),
        size_days=size_presenter.size_days(page.days),
        small=size_presenter.small(page, room_time),
        narrows=size_presenter.narrows(page.days),
        lengths=size_presenter.lengths_curve(page.samples, page.sale_size.length_mm, room_time),
        lengths_numbers=size_presenter.curve_numbers(page.samples, room_time),
        size_source=page.sale_size.source,
        feeding=size_presenter.feeding(page),
        feeding_why=size_presenter.feeding_why(page),
        grades=_grades(page.grades, room_time),
        bars=BARS if page.grades else "",
        together=tuple(_together(one) for one in page.put_together),
        came=tuple(_came(line, held.id, room_time) for line in page.came),
        losses=differences_presenter.parts(page.losses),
        treated=treatment_presenter.going_on(page.treatments, room_time, now)
        if page.ended_at is None else (),
        is_open=page.ended_at is None,
    )  # fmt: skip


def _facts(page: CohortPage, room_time: RoomTime, now: datetime) -> tuple[tuple[str, Any], ...]:
    held = page.holding
    nights = ""
    if held.hatched is not None:
        first, last = held.hatched
        nights = first.said() if first == last else f"between {first.said()} and {last.said()}"
    pairs = [
        ("tank", linked(held.place.label, "tank.show", tank_id=held.place.tank_id)
         if held.places else ""),
        ("treated", treatment_presenter.over_said(page.treatments, room_time, now)),
        ("parents", page.parents or "not known"),
        ("clutch", _clutches(page.clutches)),
        ("hatched", nights or "not known"),
        ("here from", say_when(held.began, room_time)),
        ("species", page.species.scientific_name if page.species else "not known"),
        ("survival", page.survival.said()),
        ("the clutch", "; ".join(one.survival.said() for one in page.clutches
                                 if not held.is_mixed
                                 and one.survival.said() != page.survival.said())),
        ("book", linked("every entry, with the balance", "stock_book.batch", holding_id=held.id)),
        ("beside it", linked("all batches of the species" if held.species_key else "",
                             "stock_book.survival", key=held.species_key)),
        ("unexplained", "" if not page.balance.unexplained.best
         else f"{page.balance.unexplained.best} missing between counts"),
        ("noted", held.note),
    ]  # fmt: skip
    return tuple((word, what) for word, what in pairs if what)


def _clutches(lines: Sequence[ClutchLine]) -> str:
    links = [linked(one.name, "clutch.show", clutch_id=one.clutch_id) for one in lines]
    return Markup(" or ").join(links)


def _together(one: BatchLine) -> str:
    return f"{one.name}: {one.survival.said()} when they were put together"


def _hold(line: HoldLine, cohort_id: int, room_time: RoomTime, now: datetime) -> PromiseLine:
    hold = line.hold
    whom = f" for {hold.for_whom}" if hold.for_whom else ""
    until = f"until {say_date(hold.until_on)}" if hold.until_on else "no end said"
    past = hold.is_past(room_time.local(now).date())
    return PromiseLine(
        f"{hold.number} held{whom}, {until}",
        f"since {say_when(line.when, room_time)}" + (f" · {line.note}" if line.note else ""),
        "past its end: sell them or release them" if past else "",
        address_of("sale.release", held_id=line.held_id), "Release",
        address_of("sale.sell", cohort_id=cohort_id, held_id=line.held_id), "Sell these",
    )  # fmt: skip


def _apart(line: ApartLine, cohort_id: int, room_time: RoomTime) -> PromiseLine:
    kept = line.apart.why.name == "KEPT"
    return PromiseLine(
        line.apart.said(),
        f"since {say_when(line.when, room_time)}",
        "",
        url_for("cohort.set_free", cohort_id=cohort_id, set_aside_id=line.set_aside_id),
        "Set free",
        url_for("cohort.keep", cohort_id=cohort_id, out_of=line.set_aside_id) if kept else "",
        "Take out" if kept else "",
    )


def _grades(
    lines: Sequence[GradeLine], room_time: RoomTime
) -> tuple[tuple[str, str, str, str], ...]:
    return tuple(
        (
            line.grade,
            "not counted" if line.number is None else str(line.number),
            "sold" if line.may_be_sold else "not sold",
            say_date(room_time.local(line.when.latest).date()),
        )
        for line in lines
    )


def _came(line: CameLine, cohort_id: int, room_time: RoomTime) -> CameRow:
    url = address_of("records.entry", fact_id=line.fact_id) if line.fact_id else ""
    return CameRow(say_when(line.when, room_time), _what(line, cohort_id), line.note, url)


def _what(line: CameLine, cohort_id: int) -> str:
    if line.place is not None:
        return f"all moved to {line.place.label}"
    if line.row is None:
        return ""
    entry = line.row.entry
    if isinstance(entry, Count):
        return f"{number_told(entry.number)} there" + _gap(line)
    counted = entry.number.basis is Basis.COUNTED
    number = str(entry.number.best) if counted else entry.number.said()
    said = f"{number} {_door(entry, line, cohort_id)}"
    if entry.door is Door.SOLD:
        return f"{said} {entry.reason}".strip()
    return f"{said}: {entry.reason}" if entry.reason else said


def _gap(line: CameLine) -> str:
    gap = line.row.gap if line.row is not None else None
    if gap is not None and line.row is not None and holds_the_book(line.row):
        return f", {gap.number.best} fewer than the book had, within the range of this count"
    return f", {gap.number.best} missing since the count before" if gap else ""


def _door(entry: Movement, line: CameLine, cohort_id: int) -> str:
    if line.other is None:
        return "sent again" if entry.door is Door.REPLACED else str(entry.door)
    way = "from" if entry.into == cohort_id else "to"
    return f"{entry.door} {way} {line.other.full_name}"
