"""Holds, sales and lines of origin in words."""

from dataclasses import dataclass
from typing import Any

from flask import url_for

from hatchery_app.domain.cohort.free_to_sell import FreeToSell
from hatchery_app.domain.sale.sale import FASTING, LAW, last_fed_on
from hatchery_app.domain.when import RoomTime, say_date, say_when
from hatchery_app.services.cohort.cohort_page import CohortPage
from hatchery_app.services.sale.sale_origin import OriginPage, OriginStep
from hatchery_app.services.sale.sale_page import Arrival, ForSale, HeldLine, SaleLine, SaleList
from hatchery_app.web.addresses import address_of
from hatchery_app.web.sale.forms import ArrivalForm, HoldForm, ReleaseForm, SellForm

PARTS: dict[type, tuple[tuple[str, str], ...]] = {
    HoldForm: (("how_many", "number"), ("field", "for_whom"), ("day", "held_until")),
    ReleaseForm: (("how_many", "number"),),
    SellForm: (("pick", "out_of"), ("how_many", "number"), ("field", "for_whom")),
    ArrivalForm: (("how_many", "dead"), ("how_many", "replaced")),
}


@dataclass(frozen=True)
class HoldRow:
    """A hold on the list."""

    said: str
    why: str
    flag: str
    cohort: str
    cohort_url: str
    sell_url: str
    release_url: str


@dataclass(frozen=True)
class FreeRow:
    """A cohort with what of it is free."""

    place: str
    cohort: str
    url: str
    free: str
    sum: str
    sell_url: str


@dataclass(frozen=True)
class SaleRow:
    """A sale on the list."""

    url: str
    said: str
    why: str


@dataclass(frozen=True)
class ListPage:
    """Holds, what is free, and sales."""

    heading: str
    holds: tuple[HoldRow, ...]
    free: tuple[FreeRow, ...]
    sales: tuple[SaleRow, ...]
    fasting: str
    everything: bool


@dataclass(frozen=True)
class ShowPage:
    """One sale."""

    heading: str
    id: int
    beside: str
    facts: tuple[tuple[str, str], ...]
    arrivals: tuple[tuple[str, str, str], ...]
    loss: str
    cohort_url: str
    entry_url: str


@dataclass(frozen=True)
class FormPage:
    """A form about holds and sales; `parts` are (macro, field) in order."""

    heading: str
    lead: str
    form: Any
    parts: tuple[tuple[str, Any], ...]
    hint: str
    back: str


@dataclass(frozen=True)
class StepRow:
    """One step of a line of origin."""

    depth: int
    what: str
    said: str
    dated: str
    is_gap: bool


@dataclass(frozen=True)
class OriginShown:
    """The line of origin of a sale."""

    heading: str
    id: int
    beside: str
    facts: tuple[tuple[str, str], ...]
    steps: tuple[StepRow, ...]
    gaps: str
    law: str


def listed(answer: SaleList, room_time: RoomTime, *, everything: bool) -> ListPage:
    """The list's words."""
    return ListPage(
        "Sales",
        tuple(_hold(one, room_time) for one in answer.holds),
        tuple(_free(one) for one in answer.for_sale),
        tuple(_sale(one, room_time) for one in answer.sales),
        FASTING,
        everything,
    )


def _hold(one: HeldLine, room_time: RoomTime) -> HoldRow:
    hold = one.line.hold
    whom = f" for {hold.for_whom}" if hold.for_whom else ""
    until = "no end said"
    if hold.until_on is not None:
        until = f"until {say_date(hold.until_on)}"
        if not one.is_past:
            until += f" · last fed by {say_date(last_fed_on(hold.until_on))} if packed that day"
    return HoldRow(
        f"{hold.number} held{whom}",
        f"{until} · held since {say_when(one.line.when, room_time)}",
        "past its end" if one.is_past else "",
        one.cohort.full_name,
        url_for("cohort.show", cohort_id=one.cohort.id),
        url_for("sale.sell", cohort_id=one.cohort.id, held_id=one.line.held_id),
        url_for("sale.release", held_id=one.line.held_id),
    )


def _free(one: ForSale) -> FreeRow:
    return FreeRow(
        one.cohort.place.label if one.cohort.places else "",
        one.cohort.name,
        url_for("cohort.show", cohort_id=one.cohort.id),
        _number_free(one.free),
        one.free.said(),
        url_for("sale.sell", cohort_id=one.cohort.id) if one.free.free_of_any_size != 0 else "",
    )


def _number_free(free: FreeToSell) -> str:
    if free.free is None:
        return "not known"
    if free.size is None or not free.free_of_any_size:
        return f"{free.free} free"
    return f"up to {free.free} free" if free.is_size_unknown else f"about {free.free} free"


def _sale(line: SaleLine, room_time: RoomTime) -> SaleRow:
    arrived = line.loss.said() if line.loss else "arrival not reported yet"
    return SaleRow(
        url_for("sale.show", sale_id=line.sale_id),
        _heading(line),
        f"{say_when(line.when, room_time)} · {line.cohort} · {arrived}",
    )


def _heading(line: SaleLine) -> str:
    return f"{line.number} sold" + (f" to {line.for_whom}" if line.for_whom else "")


def shown(line: SaleLine, room_time: RoomTime) -> ShowPage:
    """One sale's page."""
    pairs = [
        ("out of", line.cohort + (", held before" if line.out_of_hold else "")),
        ("when", say_when(line.when, room_time)),
        ("noted", line.note),
    ]
    return ShowPage(
        _heading(line),
        line.sale_id,
        say_when(line.when, room_time),
        tuple((word, what) for word, what in pairs if what),
        tuple(_arrival(one, room_time) for one in line.arrivals),
        line.loss.said() if line.loss else "Nobody has said yet how they arrived.",
        url_for("cohort.show", cohort_id=line.holding_id),
        address_of("records.entry", fact_id=line.moved_id),
    )


def _arrival(one: Arrival, room_time: RoomTime) -> tuple[str, str, str]:
    said = f"{one.dead} dead on arrival"
    if one.replaced:
        said += f", {one.replaced} sent again from the cohort"
    return say_when(one.when, room_time), said, one.note


def out_of_choices(cohort: CohortPage) -> dict[str, str]:
    """Those free, and each open hold."""
    choices = {"0": f"those free ({_number_free(cohort.free).removesuffix(' free')})"}
    if cohort.free.free is None:
        choices = {"0": "those free"}
    for line in cohort.holds:
        whom = f" for {line.hold.for_whom}" if line.hold.for_whom else ""
        choices[str(line.held_id)] = f"the {line.hold.number} held{whom}"
    return choices


def number_held(cohort: CohortPage, held_id: int) -> str:
    """All of the hold that is sold, as they usually go; "" for fish that are free."""
    return next((str(one.hold.number) for one in cohort.holds if one.held_id == held_id), "")


def form(cohort: CohortPage, form: Any, heading: str) -> FormPage:
    """A form about a cohort's fish, with the sum of what is free."""
    lead = f"{cohort.holding.full_name}: {cohort.free.said()}."
    back = url_for("cohort.show", cohort_id=cohort.holding.id)
    return _form_page(heading, lead, form, FASTING, back)


def release(line: HeldLine, form: Any) -> FormPage:
    """The form that ends a hold."""
    hold = line.line.hold
    whom = f" for {hold.for_whom}" if hold.for_whom else ""
    lead = f"{line.cohort.full_name}: {hold.number} held{whom}."
    back = url_for("cohort.show", cohort_id=line.cohort.id)
    return _form_page("Release a hold", lead, form, "", back)


def arrival(line: SaleLine, form: Any, room_time: RoomTime) -> FormPage:
    """The form of what arrived."""
    lead = f"{_heading(line)}, {say_when(line.when, room_time)}."
    hint = "A fish dead at the buyer's is no death in the room; one sent again leaves the cohort."
    return _form_page(
        "How they arrived", lead, form, hint, url_for("sale.show", sale_id=line.sale_id)
    )


def _form_page(heading: str, lead: str, form: Any, hint: str, back: str) -> FormPage:
    parts = tuple((macro, getattr(form, name)) for macro, name in PARTS[type(form)])
    return FormPage(heading, lead, form, parts, hint, back)


def origin(page: OriginPage, room_name: str, room_time: RoomTime) -> OriginShown:
    """The line of origin's words."""
    sale = page.sale
    gaps = sum(step.is_gap for step in page.steps)
    pairs = [
        ("species", page.species),
        ("bred in", room_name),
        ("generation", page.generation),
    ]
    return OriginShown(
        f"Line of origin: {_heading(sale)}",
        sale.sale_id,
        say_when(sale.when, room_time, year=True),
        tuple((word, what) for word, what in pairs if what),
        tuple(_step(one, room_time) for one in page.steps),
        f"{gaps} gaps are shown as gaps; nothing was filled in." if gaps > 1
        else "One gap is shown as a gap; nothing was filled in." if gaps
        else "No gaps in what is recorded.",
        LAW,
    )  # fmt: skip


def _step(step: OriginStep, room_time: RoomTime) -> StepRow:
    dated = "; ".join(f"{word} {say_when(when, room_time, year=True)}" for word, when in step.dated)
    return StepRow(min(step.depth, 6), step.what, step.said, dated, step.is_gap)
