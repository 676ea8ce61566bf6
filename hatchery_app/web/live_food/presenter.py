"""The cultures in words: how they stand, what they can give, what their counts warn of."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from flask import url_for
from markupsafe import Markup

from hatchery_app.domain.live_food import two_figures_said
from hatchery_app.domain.supply import animals_said
from hatchery_app.domain.vessel import (
    GROWTH_PER_DAY,
    Band,
    Cultured,
    Vessel,
    VesselCount,
    VesselNow,
    days_between,
)
from hatchery_app.domain.vessel_signs import VesselSign, egg_words
from hatchery_app.domain.when import RoomTime, When, say_date, say_when
from hatchery_app.services.live_food_page import LiveFoodList, VesselFound, VesselPage
from hatchery_app.services.live_food_shrimp_page import ShrimpList
from hatchery_app.services.room import RoomNow
from hatchery_app.services.today_food import FoodNeed
from hatchery_app.web.addresses import address_of
from hatchery_app.web.drawing import curve
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.live_food import shelf_presenter, shrimp_presenter


@dataclass(frozen=True)
class VesselLine:
    """One vessel on the walk."""

    label: str
    url: str
    holds: str
    per_ml: str
    gives: str
    why: str
    alarms: tuple[str, ...]


@dataclass(frozen=True)
class NeedLine:
    """One food: is there enough, and what to sieve."""

    food: str
    said: str
    is_short: bool
    sieves: tuple[str, ...]
    gaps: tuple[str, ...]


@dataclass(frozen=True)
class ListPage:
    """All cultures."""

    heading: str
    needs: tuple[NeedLine, ...]
    spare: tuple[VesselSign, ...]
    vessels: tuple[VesselLine, ...]
    tanks_url: str
    shrimp: shrimp_presenter.ShrimpPart
    due: tuple[shelf_presenter.ItemLine, ...]


@dataclass(frozen=True)
class Tap:
    """What was done, in one tap."""

    url: str
    label: str
    fields: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class EntryLine:
    """One thing written down."""

    when: str
    what: str
    note: str
    url: str


@dataclass(frozen=True)
class ShowPage:
    """One vessel."""

    heading: str
    id: int
    beside: str
    is_living: bool
    state: str
    lead: str
    taps: tuple[Tap, ...]
    signs: tuple[VesselSign, ...]
    facts: tuple[tuple[str, str], ...]
    drawing: Markup
    numbers: Numbers | None
    counts: tuple[tuple[str, str, str], ...]
    entries: tuple[EntryLine, ...]
    tank_url: str


@dataclass(frozen=True)
class FormPage:
    """A form about one vessel."""

    heading: str
    id: int
    label: str
    form: Any
    part: str


# --- The list -----------------------------------------------------------------------------


def listed(
    answer: LiveFoodList, shelf: ShrimpList, room: RoomNow, now: datetime
) -> ListPage:
    """Every vessel in walking order, under what is needed today; then shrimp and the shelf."""
    return ListPage(
        "Live food",
        tuple(_need_line(need) for need in answer.needs if need.supply is not None),
        answer.spare,
        tuple(_vessel_line(found, room, now) for found in answer.vessels),
        address_of("tank.add"),
        shrimp_presenter.shrimp_part(shelf, room, now),
        shelf_presenter.due_lines(shelf, room, now),
    )


def _need_line(need: FoodNeed) -> NeedLine:
    supply = need.supply
    assert supply is not None
    sieves = tuple(
        f"{one.label}: sieve {two_figures_said(one.litres)} L for {animals_said(one.animals)}"
        for one in supply.sieves
    )
    return NeedLine(need.food, supply.said(), not supply.is_enough, sieves, need.gaps)


def _vessel_line(found: VesselFound, room: RoomNow, now: datetime) -> VesselLine:
    one = found.now
    last = one.vessel.last
    seen = _count_said(last, room.room_time) if last is not None else ""
    return VesselLine(
        one.vessel.label,
        url_for("live_food.show", tank_id=one.vessel.tank_id),
        _holds(found, now),
        f"{two_figures_said(one.per_ml)} per mL" if one.standing is not None else "",
        gives_said(one),
        " · ".join(word for word in (one.why_none, seen) if word),
        tuple(sign.words for sign in found.signs if sign.is_alarm),
    )


def gives_said(one: VesselNow) -> str:
    """ "gives 0.57 million today"; "" where it gives none or nobody knows."""
    if one.gives_today is None or one.gives_today.best <= 0:
        return ""
    return f"gives {animals_said(one.gives_today.best)} today"


def _holds(found: VesselFound, now: datetime) -> str:
    vessel = found.now.vessel
    if vessel.food is None:
        return f"{vessel.litres:g} L · nobody said what lives in it"
    strain = f" {vessel.strain}" if vessel.strain else ""
    cool = f", {vessel.kept_as}" if vessel.kept_as.value == "cool stock" else ""
    days = f", day {int(days_between(vessel.began_at, now))}" if vessel.began_at else ""
    return f"{vessel.litres:g} L · {vessel.food}{strain}{cool}{days}"


def _count_said(count: VesselCount, room_time: RoomTime) -> str:
    word = "looked" if count.is_look else "counted"
    return f"{word} {say_when(When.exactly(count.at), room_time)}"


# --- One vessel ---------------------------------------------------------------------------


def shown(answer: VesselPage, room: RoomNow, now: datetime) -> ShowPage:
    """One vessel's page."""
    found, one, vessel = answer.found, answer.found.now, answer.found.now.vessel
    chart = _chart(vessel.counts, room.room_time)
    rests_on = "the last salinities of the vessel and the tank"
    gap_signs = [VesselSign(gap, rests_on) for gap in answer.gaps]
    spare = [answer.spare] if answer.spare is not None else []
    return ShowPage(
        heading=f"Vessel {vessel.label}",
        id=vessel.tank_id,
        beside=_holds(found, now),
        is_living=vessel.lives,
        state=_state(one),
        lead=_lead(one),
        taps=_taps(found),
        signs=(*found.signs, *gap_signs, *spare),
        facts=_facts(answer, room, now),
        drawing=curve.curve(chart) if chart.points else Markup(""),
        numbers=curve.numbers(chart) if chart.points else None,
        counts=_rows(vessel.counts, room.room_time),
        entries=tuple(
            EntryLine(
                say_when(entry.when, room.room_time), entry.what, entry.note,
                address_of("records.entry", fact_id=entry.fact_id),
            )
            for entry in answer.entries
        ),
        tank_url=address_of("tank.show", tank_id=vessel.tank_id),
    )  # fmt: skip


def _state(one: VesselNow) -> str:
    if one.standing is not None and one.vessel.lives:
        return f"{two_figures_said(one.per_ml)} per mL"
    return one.why_none


def _lead(one: VesselNow) -> str:
    said = [gives_said(one)] if gives_said(one) else []
    if one.gives_tomorrow is not None and one.gives_tomorrow.best > 0:
        said.append(f"{animals_said(one.gives_tomorrow.best)} tomorrow")
    if not said and one.standing is not None and one.why_none:
        said.append(one.why_none)
    return ", ".join(said)


def _taps(found: VesselFound) -> tuple[Tap, ...]:
    """What the morning asks for, as done in one tap."""
    taps, tank_id = [], found.now.vessel.tank_id
    if found.sieve is not None:
        litres = two_figures_said(found.sieve.litres)
        taps.append(Tap(
            url_for("live_food.harvest", tank_id=tank_id), f"Sieved {litres} L",
            (("litres", litres), ("when_how", "now")),
        ))  # fmt: skip
    if found.now.feed_ml is not None and found.now.crash is None and found.now.feed_ml > 0:
        amount = two_figures_said(found.now.feed_ml)
        taps.append(Tap(
            url_for("live_food.feed", tank_id=tank_id), f"Fed {amount} mL paste",
            (("what", "paste"), ("amount", amount), ("unit", "mL"), ("when_how", "now")),
        ))  # fmt: skip
    return tuple(taps)


def _facts(answer: VesselPage, room: RoomNow, now: datetime) -> tuple[tuple[str, str], ...]:
    found, one, vessel = answer.found, answer.found.now, answer.found.now.vessel
    began = ""
    if vessel.began_at is not None and found.said is not None:
        days = int(days_between(vessel.began_at, now))
        began = f"{say_date(room.room_time.local(vessel.began_at).date())}, {days} days ago"
        began += f", from {answer.from_label}" if answer.from_label else ""
        began += f", {found.said.seed}" if found.said.seed else ""
    ratio = vessel.last.egg_ratio if vessel.last is not None else None
    return (
        ("Started", began),
        ("In it", _band(one.standing) if one.standing is not None else ""),
        ("Eggs", egg_words(ratio) if ratio is not None else ""),
        ("Growth", _growth(one)),
        ("Bears", f"{one.share:.0%} a day" if one.growth is not None and vessel.lives else ""),
        ("Salinity", f"{found.salinity_psu:g} psu" if found.salinity_psu is not None else ""),
    )


def _band(standing: Band) -> str:
    low, high = animals_said(standing.low), animals_said(standing.high)
    return f"{animals_said(standing.best)} ({low.removesuffix(' million')}–{high})"


def _growth(one: VesselNow) -> str:
    """ "r 0.36 a day, from 5 intervals of its own and the default of 0.40"."""
    if one.growth is None or one.vessel.food is not Cultured.ROTIFERS:
        return ""
    if not one.intervals:
        return f"r {one.growth.mean:.2f} a day, the default: two counts are wanted"
    many = f"{one.intervals} interval{'s' if one.intervals > 1 else ''}"
    return (
        f"r {one.growth.mean:.2f} a day, from {many} of its own, drawn to"
        f" {GROWTH_PER_DAY:.2f} by {1 - one.growth.weight:.0%}"
    )


def _chart(counts: Sequence[VesselCount], room_time: RoomTime) -> curve.Curve:
    points = tuple(
        curve.Point(
            day=days_between(counts[0].at, one.at),
            best=one.density.per_ml,
            label=say_date(room_time.local(one.at).date()),
            said=_density_said(one),
            low=one.density.low_per_ml,
            high=one.density.high_per_ml,
        )
        for one in counts
    )
    return curve.Curve("Animals per mL since the start", "per mL", points)


def _density_said(count: VesselCount) -> str:
    low, high = (
        two_figures_said(x) for x in (count.density.low_per_ml, count.density.high_per_ml)
    )
    return f"{two_figures_said(count.density.per_ml)} ({low}–{high})"


def _rows(
    counts: Sequence[VesselCount], room_time: RoomTime
) -> tuple[tuple[str, str, str], ...]:
    """Each count with its band and its eggs, newest first."""
    return tuple(
        (
            say_when(When.exactly(one.at), room_time),
            _density_said(one) + (" by eye" if one.is_look else ""),
            f"{one.egg_ratio:.2f}" if one.egg_ratio is not None else "–",
        )
        for one in reversed(counts)
    )


# --- Forms --------------------------------------------------------------------------------


def form_of(form: Any, tank_id: int, label: str, heading: str, part: str) -> FormPage:
    """A form about one vessel."""
    return FormPage(f"{label} · {heading}", tank_id, label, form, part)


def fill_start(form: Any, vessel: Vessel) -> None:
    """What it held before is likely what it will hold."""
    if vessel.food is not None:
        form.food.data, form.strain.data = vessel.food.value, vessel.strain
        form.kept_as.data = vessel.kept_as.value
