"""A cohort in words and drawings."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from flask import url_for
from markupsafe import Markup

from hatchery_app.domain.length_sample import LengthSample, SaleSizeDay
from hatchery_app.domain.live_food import two_figures_said
from hatchery_app.domain.stock_book import Count, Movement
from hatchery_app.domain.when import RoomTime, When, say_date, say_when
from hatchery_app.services.batch_survival import BatchLine, ClutchLine
from hatchery_app.services.cohort_facts import ApartLine, GradeLine, HoldLine, SampleLine
from hatchery_app.services.cohort_page import CameLine, CohortLine, CohortList, CohortPage
from hatchery_app.services.room import RoomNow
from hatchery_app.web.addresses import address_of
from hatchery_app.web.cohort.forms import (
    AsideForm,
    CountForm,
    FreeForm,
    GoneForm,
    GradesForm,
    HereBeforeForm,
    KeepForm,
    LengthsForm,
    MoveForm,
    SaleSizeForm,
    YoungForm,
)
from hatchery_app.web.drawing import curve
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.when_fields import WhenFields

BARS = (
    "Bars fill in late: the first at 9 to 20 dph and later, the last long after. A grade holds for "
    "its day; grade again before you put fish down for their bars."
)
PARTS: dict[type, tuple[tuple[str, str], ...]] = {
    CountForm: (("how_many", "number"), ("how_many", "bodies")),
    LengthsForm: (
        ("long", "lengths"), ("choice", "measure"), ("tick", "by_eye"), ("field", "weighed_g"),
        ("how_many", "weighed_fish"),
    ),
    SaleSizeForm: (("field", "length"),),
    AsideForm: (("choice", "why"), ("how_many", "number"), ("field", "reason")),
    FreeForm: (("how_many", "number"),),
    GoneForm: (
        ("choice", "door"), ("how_many", "number"), ("tick", "everyone"), ("field", "reason"),
        ("pick", "out_of"),
    ),
    MoveForm: (("choice", "which"), ("how_many", "number"), ("pick", "tank_1")),
    KeepForm: (("field", "names"), ("pick", "tank_id"), ("pick", "out_of")),
    HereBeforeForm: (
        ("pick", "tank_1"), ("pick", "species_key"), ("how_many", "number"), ("field", "hatched"),
        ("field", "lengths"), ("tick", "by_eye"), ("field", "name"),
    ),
    YoungForm: (
        ("pick", "hatch_id"), ("pick", "tank_1"), ("how_many", "number"), ("field", "name"),
    ),
}  # fmt: skip
"""Of each form, its fields in order with the macro that shows them."""


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
class SizeDayLine:
    """When a share of them is of sale size, and what that rests on."""

    word: str
    said: str
    why: str


@dataclass(frozen=True)
class ShowPage:
    """One cohort."""

    heading: str
    id: int
    beside: str
    number: str
    basis: str
    free: str
    sum: str
    too_many: str
    facts: tuple[tuple[str, Any], ...]
    holds: tuple[PromiseLine, ...]
    apart: tuple[PromiseLine, ...]
    size_facts: tuple[tuple[str, str], ...]
    size_days: tuple[SizeDayLine, ...]
    small: str
    narrows: str
    lengths: Markup
    lengths_numbers: Numbers | None
    feeding: tuple[tuple[str, str], ...]
    grades: tuple[tuple[str, str, str, str], ...]
    bars: str
    together: tuple[str, ...]
    came: tuple[CameRow, ...]
    is_open: bool


@dataclass(frozen=True)
class FormPage:
    """A form about a cohort; `parts` are (macro, field) in order."""

    heading: str
    lead: str
    form: Any
    parts: tuple[tuple[str, Any], ...]
    rows: tuple[tuple[Any, ...], ...]
    has_when: bool
    hint: str
    back: str


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
    size = line.sample.sample.said() if line.sample else "not measured yet"
    why = [size, *(one.apart.said() for one in line.apart)]
    lives = [held.name, line.balance.now.said(), age, line.parents]
    if line.ended_at is not None:
        gone = f"{held.name} · gone {say_when(When.exactly(line.ended_at), room_time)}"
        return StopLine(held.id, held.place.label, gone, "", line.parents, _url(held.id))
    return StopLine(
        held.id,
        held.place.label,
        " · ".join(part for part in lives if part),
        _free_said(line.free.free),
        " · ".join(why),
        _url(held.id),
    )


def _free_said(free: int | None) -> str:
    return "free to sell not known" if free is None else f"{free} free to sell"


def _url(cohort_id: int) -> str:
    return url_for("cohort.show", cohort_id=cohort_id)


# --- One cohort ---------------------------------------------------------------------------


def shown(page: CohortPage, room: RoomNow, now: datetime) -> ShowPage:
    """One cohort's page."""
    held, room_time, free = page.holding, room.room_time, page.free
    number = "?" if page.balance.best is None else str(page.balance.best)
    return ShowPage(
        heading=held.full_name,
        id=held.id,
        beside=page.age.said if page.age else "age not known",
        number=number,
        basis=page.balance.now.said(),
        free=_free_said(free.free),
        sum=free.said(),
        too_many=f"{free.promised_too_many} more are promised than there are: release or take back"
        if free.promised_too_many else "",
        facts=_facts(page, room_time),
        holds=tuple(_hold(line, held.id, room_time, now) for line in page.holds),
        apart=tuple(_apart(line, held.id, room_time) for line in page.apart),
        size_facts=_size_facts(page, room_time),
        size_days=tuple(_size_day(day) for day in page.days),
        small=_small(page, room_time),
        narrows=_narrows(page.days),
        lengths=_curve(page.samples, page.sale_size.length_mm, room_time),
        lengths_numbers=_curve_numbers(page.samples, room_time),
        feeding=_feeding(page),
        grades=_grades(page.grades, room_time),
        bars=BARS if page.grades else "",
        together=tuple(_together(one) for one in page.put_together),
        came=tuple(_came(line, held.id, room_time) for line in page.came),
        is_open=page.ended_at is None,
    )  # fmt: skip


def _facts(page: CohortPage, room_time: RoomTime) -> tuple[tuple[str, Any], ...]:
    held = page.holding
    nights = ""
    if held.hatched is not None:
        first, last = held.hatched
        nights = first.said() if first == last else f"between {first.said()} and {last.said()}"
    pairs = [
        ("parents", page.parents or "not known"),
        ("clutch", _clutches(page.clutches)),
        ("hatched", nights or "not known"),
        ("here from", say_when(held.began, room_time)),
        ("species", page.species.scientific_name if page.species else "not known"),
        ("fared", page.survival.said()),
        ("since the hatch", "; ".join(f"{one.name}: {one.survival.said()}"
                                      for one in page.clutches if not held.is_mixed)),
        ("unexplained", "" if not page.balance.unexplained.best
         else f"{page.balance.unexplained.best} missing between counts"),
        ("noted", held.note),
    ]  # fmt: skip
    return tuple((word, what) for word, what in pairs if what)


def _clutches(lines: Sequence[ClutchLine]) -> str:
    return " or ".join(one.name for one in lines)


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


def _size_facts(page: CohortPage, room_time: RoomTime) -> tuple[tuple[str, str], ...]:
    last = page.samples[-1] if page.samples else None
    size = page.sale_size
    said = f"{size.length_mm:g} mm ({size.source})" if size.length_mm else size.source
    pairs = [
        ("last sample", f"{last.sample.said()}, {say_when(last.sample.when, room_time)}"
         if last else "none yet"),
        ("sold from", said),
    ]  # fmt: skip
    return tuple(pairs)


def _small(page: CohortPage, room_time: RoomTime) -> str:
    """What the last sample says of fish still under sale size."""
    length = page.sale_size.length_mm
    if length is None or not page.samples or not page.samples[-1].sample.lengths_mm:
        return ""
    sample = page.samples[-1].sample
    under = sample.under(length)
    if not under:
        return ""
    day = say_when(sample.when, room_time)
    return f"{under} of the {len(sample.lengths_mm)} measured {day} were under {length:g} mm."


def _size_day(day: SaleSizeDay) -> SizeDayLine:
    share = f"{day.share:.0%}".replace("%", " %")
    word = "half of them" if day.share == 0.5 else f"{share} of them"
    word = f"{word} at {day.length_mm:g} mm"
    if day.likely is None:
        return SizeDayLine(word, day.unknown, "")
    if day.low is None or day.high is None:
        said = f"about {say_date(day.likely)}; growth is too uneven to bound the day"
    elif day.low == day.high:
        said = say_date(day.likely)
    else:
        said = f"{say_date(day.low)} – {say_date(day.high)}, most likely {say_date(day.likely)}"
    why = ""
    if day.is_carried:
        why = (
            f"carried on {day.carried_days} days past the last sample: true only if they go on "
            "growing as they did"
        )
    return SizeDayLine(word, said, why)


def _narrows(days: Sequence[SaleSizeDay]) -> str:
    if not days:
        return ""
    if any(day.likely is None for day in days):
        return "Measure ten or more fish, a week or more apart."
    return "Another sample of ten or more, nearer the day, would narrow it."


def _curve(
    samples: Sequence[SampleLine], sale_mm: float | None, room_time: RoomTime
) -> Markup:
    chart = _chart(samples, sale_mm, room_time)
    return curve.curve(chart) if len(chart.points) > 1 else Markup("")


def _curve_numbers(samples: Sequence[SampleLine], room_time: RoomTime) -> Numbers | None:
    chart = _chart(samples, None, room_time)
    return curve.numbers(chart) if chart.points else None


def _chart(
    samples: Sequence[SampleLine], sale_mm: float | None, room_time: RoomTime
) -> curve.Curve:
    measured = [line.sample for line in samples if line.sample.lengths_mm]
    first = measured[0].when.middle if measured else None
    points = tuple(_point(one, first, room_time) for one in measured if first is not None)
    limits = ((sale_mm, "sale size"),) if sale_mm is not None else ()
    return curve.Curve("Lengths sampled", "mm", points, from_zero=False, limits=limits)


def _point(sample: LengthSample, first: datetime, room_time: RoomTime) -> curve.Point:
    mean = sample.mean_mm or 0.0
    return curve.Point(
        (sample.when.middle - first) / timedelta(days=1), mean,
        say_date(room_time.local(sample.when.middle).date()), sample.said(),
        min(sample.lengths_mm), max(sample.lengths_mm),
    )  # fmt: skip


def _feeding(page: CohortPage) -> tuple[tuple[str, str], ...]:
    pairs = []
    ration, weight = page.ration, page.weight
    if weight.weight_g is not None:
        pairs.append(("a fish weighs", f"{two_figures_said(weight.weight_g)} g ({weight.why})"))
    if ration.each is None:
        pairs.append(("dry food a day", f"not known: {ration.why}"))
    else:
        percent = two_figures_said(ration.each.percent_of_weight)
        all_g = "" if ration.all_g is None else f"{two_figures_said(ration.all_g)} g, "
        pairs.append((
            "dry food a day",
            f"{all_g}{percent} % of weight, at 27 °C and 20 kJ per g of food "
            "(Lupatsch et al. 2013, A. percula, published)",
        ))  # fmt: skip
    if page.density is not None:
        pairs.append(("stocked at", page.density.said()))
        pairs.append(("beside it", page.density.beside_the_trial()))
    return tuple(pairs)


def _grades(
    lines: Sequence[GradeLine], room_time: RoomTime
) -> tuple[tuple[str, str, str, str], ...]:
    return tuple(
        (
            line.grade,
            "not counted" if line.number is None else str(line.number),
            "sold" if line.may_be_sold else "not sold",
            say_when(line.when, room_time),
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
        return f"{entry.number.said()} there" + _gap(line)
    said = f"{entry.number.said()} {_door(entry, line, cohort_id)}"
    return f"{said}: {entry.reason}" if entry.reason else said


def _gap(line: CameLine) -> str:
    gap = line.row.gap if line.row is not None else None
    return f", {gap.number.said()} missing since the count before" if gap else ""


def _door(entry: Movement, line: CameLine, cohort_id: int) -> str:
    if line.other is None:
        return str(entry.door)
    way = "from" if entry.into == cohort_id else "to"
    return f"{entry.door} {way} {line.other.full_name}"


# --- Forms --------------------------------------------------------------------------------


def form(page: CohortPage, form: Any, heading: str, room_time: RoomTime) -> FormPage:
    """A form about one cohort, with how many there are and what is free."""
    lead = f"{page.holding.full_name}: {page.balance.now.said()}; {page.free.said()}."
    hint = BARS if isinstance(form, GradesForm) else _hint(page, form, room_time)
    return _form_page(heading, lead, form, hint, _url(page.holding.id))


def begun(form: Any, heading: str) -> FormPage:
    """A form by which a cohort begins."""
    return _form_page(heading, "", form, "", url_for("cohort.list"))


def _form_page(heading: str, lead: str, form: Any, hint: str, back: str) -> FormPage:
    parts: Iterable[tuple[str, str]] = PARTS.get(type(form), ())
    rows = tuple(form.rows) if isinstance(form, GradesForm) else ()
    return FormPage(
        heading, lead, form, tuple((macro, getattr(form, name)) for macro, name in parts), rows,
        isinstance(form, WhenFields), hint, back,
    )  # fmt: skip


def _hint(page: CohortPage, form: Any, room_time: RoomTime) -> str:
    if isinstance(form, AsideForm):
        return _small(page, room_time)
    if isinstance(form, SaleSizeForm):
        species = page.species.scientific_name if page.species else "this species"
        return f"Holds for all {species} of the room from now on."
    return ""
