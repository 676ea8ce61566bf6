"""Brine shrimp in words: lots, hatches, when they are ready, which food they are."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from flask import url_for

from hatchery_app.domain.live_food.brine_shrimp import HATCH_HOURS
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.live_food.shelf import StockKind
from hatchery_app.domain.live_food.shrimp_hatch import (
    INSTAR_I_LASTS_H,
    HatchState,
    LotKept,
    ShrimpHatch,
)
from hatchery_app.domain.live_food.supply import animals_said
from hatchery_app.domain.stock_book.survival import wilson
from hatchery_app.domain.when import RoomTime, When, say_when
from hatchery_app.services.live_food.live_food_shrimp_page import (
    HatchPage,
    LotPage,
    OnShelf,
    ShrimpList,
    Written,
)
from hatchery_app.services.records.room import RoomNow
from hatchery_app.web.addresses import address_of

USUAL_TEMPERATURE_C, USUAL_SALINITY_PSU = "28", "30"


@dataclass(frozen=True)
class Act:
    """A form's heading and the part of the template that asks it."""

    heading: str
    part: str


ADD_LOT = Act("A lot of cysts", "lot")
START = Act("Start a hatch", "start")
HARVEST = Act("Harvest", "harvest")
ENRICH = Act("Enrich", "enrich")
FED = Act("Fed or moved", "fed")
OVER = Act("The hatch is over", "over")


@dataclass(frozen=True)
class HatchLine:
    """One hatch in a list."""

    name: str
    url: str
    state: str
    is_alarm: bool
    what: str
    why: str


@dataclass(frozen=True)
class LotLine:
    """One lot in a list."""

    name: str
    url: str
    what: str
    again_url: str
    again: str
    again_fields: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ShrimpPart:
    """Brine shrimp on the live food page."""

    hatches: tuple[HatchLine, ...]
    lots: tuple[LotLine, ...]


@dataclass(frozen=True)
class EntryLine:
    """One thing written down."""

    when: str
    what: str
    note: str
    url: str


@dataclass(frozen=True)
class HatchShown:
    """One hatch."""

    heading: str
    id: int
    beside: str
    state: str
    is_alarm: bool
    lead: str
    doings: tuple[tuple[str, str], ...]
    signs: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    entries: tuple[EntryLine, ...]
    lot_url: str


@dataclass(frozen=True)
class LotShown:
    """One lot."""

    heading: str
    beside: str
    facts: tuple[tuple[str, str], ...]
    hours: tuple[tuple[str, ...], ...]
    hours_say: str
    hatches: tuple[HatchLine, ...]
    entries: tuple[EntryLine, ...]
    start_url: str
    shelf_url: str


@dataclass(frozen=True)
class FormPage:
    """A form about brine shrimp."""

    heading: str
    form: Any
    part: str
    hint: str
    back: str


# --- Lists --------------------------------------------------------------------------------


def shrimp_part(answer: ShrimpList, room: RoomNow, now: datetime) -> ShrimpPart:
    """Hatches that stand, the most pressing first, and the lots to start of."""
    standing = sorted(answer.shrimp.standing, key=lambda one: _pressing(one, now))
    return ShrimpPart(
        tuple(_hatch_line(one, room.room_time, now) for one in standing),
        tuple(_lot_line(lot, answer) for lot in answer.lots),
    )


PRESSING = (HatchState.OVERDUE, HatchState.READY, HatchState.ENRICHED, HatchState.IN_HAND)


def _pressing(hatch: ShrimpHatch, now: datetime) -> tuple[int, datetime]:
    state = hatch.state(now)
    place = PRESSING.index(state) if state in PRESSING else len(PRESSING)
    return place, hatch.started_at


def _hatch_line(hatch: ShrimpHatch, room_time: RoomTime, now: datetime) -> HatchLine:
    state = hatch.state(now)
    return HatchLine(
        _name(hatch),
        url_for("live_food.show_hatch", start_id=hatch.id),
        state.value,
        state is HatchState.OVERDUE,
        lead_of(hatch, room_time, now),
        " ".join(hatch.signs(now)),
    )


def _of_lot(hatch: ShrimpHatch, room_time: RoomTime, now: datetime) -> HatchLine:
    """The same on the lot's own page: when it was started, and what came of it."""
    line = _hatch_line(hatch, room_time, now)
    parts = [f"{hatch.grams:g} g in {hatch.litres:g} L at {hatch.temperature_c:g} °C"]
    if hatch.harvested_at is not None:
        hours = (hatch.harvested_at - hatch.started_at) / timedelta(hours=1)
        got = hatch.counted[0].animals
        many = animals_said(got) if got is not None else "not counted"
        parts.append(f"{many} harvested after {hours:.0f} h")
    return replace(
        line, name=f"Started {_at(hatch.started_at, room_time)}",
        what=", ".join(parts) + f"; {line.what}", why="",
    )  # fmt: skip


def _name(hatch: ShrimpHatch) -> str:
    where = f", {hatch.vessel}" if hatch.vessel else ""
    return f"{hatch.grams:g} g of {hatch.lot.name}{where}"


def lead_of(hatch: ShrimpHatch, room_time: RoomTime, now: datetime) -> str:
    """ "ready Wed 25 Nov 14:00–22:00, likely 18:00", or what is in hand and until when."""
    state = hatch.state(now)
    if state is HatchState.ENDED:
        ended = hatch.ended_as.value if hatch.ended_as else ""
        return f"{ended}, {_at(hatch.ended_at, room_time)}" if hatch.ended_at else ended
    if state in (HatchState.HATCHING, HatchState.READY, HatchState.OVERDUE):
        if hatch.ready is None:
            return f"when is not known at {hatch.temperature_c:g} °C: look often"
        low, best, high = hatch.ready
        return (
            f"ready {_span(low, high, room_time)}, likely {_at(best, room_time)};"
            f" {hatch.lot.hours.said(hatch.temperature_c)}"
        )
    many = animals_said(hatch.in_hand) if hatch.in_hand is not None else "not counted"
    if hatch.enriching is not None:
        done = _at(hatch.enriching.done_at, room_time)
        word = "until" if state is HatchState.ENRICHING else "since"
        return f"{many}, {'in enrichment' if word == 'until' else 'enriched'} {word} {done}"
    at = hatch.harvested_at or hatch.started_at
    ends = _at(at + timedelta(hours=INSTAR_I_LASTS_H), room_time)
    kept = f"{many} in hand" if hatch.in_hand is not None else many
    return f"{kept}, instar I until about {ends}"


def _at(at: datetime, room_time: RoomTime) -> str:
    return say_when(When.exactly(at), room_time)


def _span(low: datetime, high: datetime, room_time: RoomTime) -> str:
    first, last = room_time.local(low), room_time.local(high)
    end = f"{last:%H:%M}" if first.date() == last.date() else _at(high, room_time)
    return f"{_at(low, room_time)} – {end}" if " " in end else f"{_at(low, room_time)}–{end}"


def _lot_line(lot: LotKept, answer: ShrimpList) -> LotLine:
    tin = answer.tin_of(lot)
    left = f"{tin.outlook.left.said(tin.item.unit)} left" if tin is not None else ""
    gives = f"{two_figures_said(lot.gives.per_g)} nauplii per g"
    last = next((one for one in answer.shrimp.hatches if one.lot.id == lot.id), None)
    again = f"Start {last.grams:g} g of {lot.name} now" if last is not None else ""
    fields = _started_like(last) if last is not None else ()
    return LotLine(
        lot.name,
        url_for("live_food.show_lot", lot_id=lot.id),
        " · ".join(one for one in (lot.grade, gives, left) if one),
        url_for("live_food.start_shrimp"),
        again,
        fields,
    )


def _started_like(last: ShrimpHatch) -> tuple[tuple[str, str], ...]:
    salinity = "" if last.salinity_psu is None else f"{last.salinity_psu:g}"
    return (
        ("lot_id", str(last.lot.id)), ("grams", f"{last.grams:g}"),
        ("litres", f"{last.litres:g}"), ("temperature", f"{last.temperature_c:g}"),
        ("salinity", salinity), ("vessel", last.vessel), ("when_how", "now"),
    )  # fmt: skip


# --- One hatch, one lot -------------------------------------------------------------------


def hatch_shown(answer: HatchPage, room: RoomNow, now: datetime) -> HatchShown:
    """One hatch's page."""
    hatch, room_time = answer.hatch, room.room_time
    state = hatch.state(now)
    low, best, high = hatch.expected
    dense = hatch.enriched_per_ml
    return HatchShown(
        heading=_name(hatch),
        id=hatch.id,
        beside=f"started {_at(hatch.started_at, room_time)}",
        state=state.value,
        is_alarm=state is HatchState.OVERDUE,
        lead=lead_of(hatch, room_time, now),
        doings=_doings(hatch, state),
        signs=hatch.signs(now),
        facts=(
            ("Water", f"{hatch.litres:g} L at {hatch.temperature_c:g} °C"),
            ("Salinity", f"{hatch.salinity_psu:g} psu" if hatch.salinity_psu is not None else ""),
            ("Cysts", f"{hatch.grams:g} g, {hatch.grams / hatch.litres:.2g} g/L"),
            ("Will give", "" if hatch.counted else (
                f"{animals_said(best)} ({animals_said(low)}–{animals_said(high)}),"
                f" {hatch.lot.gives.said}")),
            ("In enrichment", f"{dense:,.0f} per mL" if dense is not None else ""),
            ("Food", hatch.food().value),
        ),
        entries=_entries(answer.entries, room_time),
        lot_url=url_for("live_food.show_lot", lot_id=hatch.lot.id),
    )  # fmt: skip


def _doings(hatch: ShrimpHatch, state: HatchState) -> tuple[tuple[str, str], ...]:
    if state is HatchState.ENDED:
        return ()
    words = ["harvest"] if not hatch.counted else ["fed", "harvest"]
    words += ["enrich"] if hatch.counted and hatch.enriching is None else []
    labels = {"harvest": "Count again" if hatch.counted else "Harvest", "fed": "Fed or moved",
              "enrich": "Enrich", "over": "It is over"}  # fmt: skip
    return tuple(
        (labels[word], url_for(f"live_food.{word}_shrimp", start_id=hatch.id))
        for word in (*words, "over")
    )


def lot_shown(answer: LotPage, room: RoomNow, now: datetime) -> LotShown:
    """One lot's page: what it gives, how quick it is, what came of its hatches."""
    lot, gives = answer.lot, answer.lot.gives
    tin = answer.tin
    return LotShown(
        heading=lot.name,
        beside=f"cysts{f', {lot.grade}' if lot.grade else ''}",
        facts=(
            ("Nauplii per gram", f"{two_figures_said(gives.per_g)} "
             f"({two_figures_said(gives.low_per_g)}–{two_figures_said(gives.high_per_g)})"),
            ("Rests on", gives.said),
            ("Hatching percentage", _percent(lot)),
            ("Left", tin.outlook.left.said(tin.item.unit) if tin is not None else "tin empty"),
        ),
        hours=tuple(_hours(lot, temperature) for temperature, _ in HATCH_HOURS),
        hours_say=_hours_say(lot),
        hatches=tuple(_of_lot(one, room.room_time, now) for one in answer.hatches),
        entries=_entries(answer.entries, room.room_time),
        start_url=url_for("live_food.start_shrimp", lot=lot.id),
        shelf_url=url_for("live_food.show_item", shelf_id=lot.shelf_id),
    )  # fmt: skip


def _percent(lot: LotKept) -> str:
    said = f"{lot.said_percent:g} % said" if lot.said_percent is not None else ""
    if lot.percent is None:
        return said or "not measured"
    percent, counted = lot.percent
    ends = wilson(round(percent / 100 * counted), counted)
    own = f"{percent:.0f} % ({100 * ends.low:.0f}–{100 * ends.high:.0f}) of {counted} counted here"
    return f"{own}; {said}" if said else own


def _hours(lot: LotKept, temperature_c: float) -> tuple[str, ...]:
    band = lot.hours.at(temperature_c)
    if band is None:
        return (f"{temperature_c:g} °C", "–", "–")
    return (f"{temperature_c:g} °C", f"{band.best:.0f} h", f"{band.low:.0f}–{band.high:.0f} h")


def _hours_say(lot: LotKept) -> str:
    count = lot.hours.hatches
    if not count:
        return "by the book (common practice) until a hatch of this lot is harvested in time"
    many = "1 hatch" if count == 1 else f"{count} hatches"
    return (
        f"the book's, drawn to {many} of its own by {100 * lot.hours.factor.weight:.0f} %; four in"
        " five hatches keep within the span"
    )


def _entries(written: Iterable[Written], room_time: RoomTime) -> tuple[EntryLine, ...]:
    return tuple(
        EntryLine(
            say_when(one.when, room_time), one.what, one.note,
            address_of("records.entry", fact_id=one.fact_id),
        )
        for one in written
    )  # fmt: skip


# --- Forms --------------------------------------------------------------------------------


def form_of(form: Any, act: Act, hatch: ShrimpHatch | None) -> FormPage:
    """A form about a lot or a hatch."""
    back = url_for("live_food.list")
    hint, heading = "", act.heading
    if hatch is not None:
        back = url_for("live_food.show_hatch", start_id=hatch.id)
        hint = _name(hatch)
    return FormPage(heading, form, act.part, hint, back)


def fill_start(form: Any, answer: ShrimpList, lot_id: int | None) -> None:
    """What the last hatch was started with is likely what this one will be."""
    last = next(
        (one for one in answer.shrimp.hatches if lot_id in (None, one.lot.id)),
        answer.shrimp.hatches[0] if answer.shrimp.hatches else None,
    )
    form.temperature.data, form.salinity.data = USUAL_TEMPERATURE_C, USUAL_SALINITY_PSU
    if last is not None:
        for name, value in _started_like(last):
            if name not in ("lot_id", "when_how"):
                form[name].data = value
        form.lot_id.data = last.lot.id
    if lot_id is not None:
        form.lot_id.data = lot_id


def fill_act(form: Any, hatch: ShrimpHatch) -> None:
    """What is likely: all that is in hand goes."""
    if hasattr(form, "into") and hatch.in_hand:
        form.animals.data = f"{hatch.in_hand:.0f}"


def enriched_with(shelf: Sequence[OnShelf]) -> list[tuple[int, str]]:
    """What of the shelf shrimp are enriched with."""
    kinds = (StockKind.ENRICHMENT, StockKind.PASTE)
    found = [one.item for one in shelf if one.item.kind in kinds and not one.item.is_finished]
    found.sort(key=lambda item: kinds.index(item.kind))
    return [*((item.id, item.name) for item in found), (0, "nothing of the shelf")]
