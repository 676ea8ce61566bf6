"""One culture vessel in words: how it stands, what it can give, what its record warns of."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from flask import url_for
from markupsafe import Markup

from hatchery_app.domain.live_food.algae import alga_named
from hatchery_app.domain.live_food.live_food import (
    EGG_RATIO_BREAK_EVEN_CONTESTED,
    EGG_RATIO_FALLING_BELOW,
    EGG_RATIO_GROWING_FROM,
    two_figures_said,
)
from hatchery_app.domain.live_food.supply import animals_said
from hatchery_app.domain.live_food.vessel import (
    GROWTH_PER_DAY,
    Band,
    Cultured,
    Harvest,
    Vessel,
    VesselCount,
    VesselNow,
    days_between,
    intervals_of,
)
from hatchery_app.domain.live_food.vessel_signs import VesselSign, egg_words
from hatchery_app.domain.when import RoomTime, When, say_date, say_when
from hatchery_app.services.live_food.live_food_page import VesselFound, VesselPage
from hatchery_app.services.records.room import RoomNow
from hatchery_app.web.addresses import address_of
from hatchery_app.web.drawing import vessel_record
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.live_food.presenter import density_said, gives_said, holds_said


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
    intervals: tuple[tuple[str, str, str], ...]
    doses: tuple[str, ...]
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
    food: str = ""


# --- One vessel ---------------------------------------------------------------------------


def shown(answer: VesselPage, room: RoomNow, now: datetime) -> ShowPage:
    """One vessel's page."""
    found, one, vessel = answer.found, answer.found.now, answer.found.now.vessel
    record = _record(vessel, room.room_time)
    rests_on = "the last salinities of the vessel and the tank"
    gap_signs = [VesselSign(gap, rests_on) for gap in answer.gaps]
    spare = [answer.spare] if answer.spare is not None else []
    return ShowPage(
        heading=f"Vessel {vessel.label}",
        id=vessel.tank_id,
        beside=holds_said(found, now),
        is_living=vessel.lives,
        state=_state(one),
        lead=_lead(one),
        taps=_taps(found, answer.paste_id),
        signs=(*found.signs, *gap_signs, *spare),
        facts=_facts(answer, room, now),
        drawing=vessel_record.drawing(record),
        numbers=vessel_record.numbers(record) if record.counts else None,
        intervals=_intervals(vessel, room.room_time),
        doses=answer.doses,
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
        return f"{density_said(one.per_ml)} per mL"
    return one.why_none


def _lead(one: VesselNow) -> str:
    said = [gives_said(one)] if gives_said(one) else []
    if one.gives_tomorrow is not None and one.gives_tomorrow.best > 0:
        said.append(f"{animals_said(one.gives_tomorrow.best)} tomorrow")
    if not said and one.standing is not None and one.why_none:
        said.append(one.why_none)
    return ", ".join(said)


def _taps(found: VesselFound, paste_id: int) -> tuple[Tap, ...]:
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
            (("what", "paste"), ("amount", amount), ("unit", "mL"), ("when_how", "now"),
             ("shelf_id", str(paste_id))),
        ))  # fmt: skip
    return tuple(taps)


def _facts(answer: VesselPage, room: RoomNow, now: datetime) -> tuple[tuple[str, str], ...]:
    found, one, vessel = answer.found, answer.found.now, answer.found.now.vessel
    began = ""
    if vessel.began_at is not None and found.said is not None:
        days = int(days_between(vessel.began_at, now))
        # A day without an hour is kept to the midnight that ends it, which is the day after.
        on = room.room_time.local(vessel.began_at - timedelta(seconds=1)).date()
        began = f"{say_date(on)}, {days} days ago"
        began += f", from {answer.from_label}" if answer.from_label else ""
        began += f", {found.said.seed}" if found.said.seed else ""
    ratio = vessel.last.egg_ratio if vessel.last is not None else None
    return (
        ("Started", began),
        ("In it", _band(one.standing) if one.standing is not None else ""),
        ("Eggs", egg_words(ratio) if ratio is not None else ""),
        ("Growth", _growth(one)),
        ("Bears", f"{100 * one.share:.0f} % a day" if one.growth and vessel.lives else ""),
        ("Dry algae", _dry(one)),
        ("Salinity", f"{found.salinity_psu:g} psu" if found.salinity_psu is not None else ""),
        ("Water", _warm(found)),
    )


def _warm(found: VesselFound) -> str:
    if found.water is None or found.water.temperature_c is None:
        return ""
    return f"{found.water.temperature_c:.1f} °C"


def _dry(one: VesselNow) -> str:
    """ "0.24 g per L, at 6 pg a cell (from memory)"; "" where the alga is not known."""
    alga = alga_named(one.vessel.strain)
    if one.vessel.food is not Cultured.ALGAE or alga is None or one.standing is None:
        return ""
    grams = one.per_ml * 1000 * alga.dry_pg * 1e-12
    return f"{two_figures_said(grams)} g per L, at {alga.dry_pg:g} pg a cell (from memory)"


def _band(standing: Band) -> str:
    low, high = animals_said(standing.low), animals_said(standing.high)
    unit = high.partition(" ")[2]
    return f"{animals_said(standing.best)} ({low.removesuffix(f' {unit}')}–{high})"


def _growth(one: VesselNow) -> str:
    """ "r 0.36 a day, from 5 intervals of its own and the default of 0.40"."""
    if one.growth is None or one.vessel.food is not Cultured.ROTIFERS:
        return ""
    if not one.intervals:
        return f"r {one.growth.mean:.2f} a day, the default: two counts are wanted"
    many = f"{one.intervals} interval{'s' if one.intervals > 1 else ''}"
    low, high = (one.growth.mean + side * 1.96 * one.growth.sd for side in (-1, 1))
    return (
        f"r {one.growth.mean:.2f} a day ({low:.2f} to {high:.2f}), from {many} of its own, drawn"
        f" to {GROWTH_PER_DAY:.2f} by {100 * (1 - one.growth.weight):.0f} %"
    )


def _record(vessel: Vessel, room_time: RoomTime) -> vessel_record.VesselRecord:
    began = vessel.began_at or (vessel.counts[0].at if vessel.counts else None)
    if began is None or not vessel.counts:
        return vessel_record.VesselRecord("", "", ())
    first = vessel.counts[0].at  # harvests before the first count have nothing to stand beside

    def day(at: datetime) -> tuple[float, str]:
        return days_between(began, at), say_date(room_time.local(at).date())

    return vessel_record.VesselRecord(
        f"{vessel.label}: counts, harvests and eggs since its start",
        "cells per mL" if vessel.food is Cultured.ALGAE else "per mL",
        tuple(
            vessel_record.CountSeen(
                *day(one.at), one.density.per_ml, one.density.low_per_ml, one.density.high_per_ml,
                _density_said(one), one.egg_ratio, one.is_look,
            )
            for one in vessel.counts
        ),
        tuple(
            vessel_record.Taken(
                *day(one.at), _share_taken(one, vessel),
                f"{two_figures_said(one.litres)} L" if one.litres is not None
                else animals_said(one.animals or 0),
            )
            for one in vessel.harvests if one.at >= first
        ),
        ((EGG_RATIO_FALLING_BELOW, f"{EGG_RATIO_FALLING_BELOW:g}"),
         (EGG_RATIO_BREAK_EVEN_CONTESTED, f"{EGG_RATIO_BREAK_EVEN_CONTESTED:.1f}"),
         (EGG_RATIO_GROWING_FROM, f"{EGG_RATIO_GROWING_FROM:g}")),
    )  # fmt: skip


def _share_taken(harvest: Harvest, vessel: Vessel) -> float:
    if harvest.litres is not None:
        return min(1.0, harvest.litres / vessel.litres)
    before = [count for count in vessel.counts if count.at <= harvest.at]
    total = vessel.total(before[-1]) if before else 0.0
    return min(1.0, (harvest.animals or 0.0) / total) if total > 0 else 0.0


def _density_said(count: VesselCount) -> str:
    low, high = density_said(count.density.low_per_ml), density_said(count.density.high_per_ml)
    said = f"{density_said(count.density.per_ml)} ({low.removesuffix(' million')}–{high})"
    if count.stages is not None:
        said += f", {100 * count.stages.nauplii_share:.0f} % nauplii"
    return said + (" by eye" if count.is_look else "")


def _intervals(vessel: Vessel, room_time: RoomTime) -> tuple[tuple[str, str, str], ...]:
    """r between each two counts with the ends their counting error puts to it, newest first."""
    if vessel.food is not Cultured.ROTIFERS:
        return ()
    return tuple(
        (
            say_when(When.exactly(one.after.at), room_time),
            f"{one.per_day:.2f}",
            f"{one.low:.2f} to {one.high:.2f}",
        )
        for one in reversed(intervals_of(vessel))
    )


# --- Forms --------------------------------------------------------------------------------


def form_of(
    form: Any, tank_id: int, label: str, heading: str, part: str, food: str = ""
) -> FormPage:
    """A form about one vessel."""
    return FormPage(f"{label} · {heading}", tank_id, label, form, part, food)


def fill_start(form: Any, vessel: Vessel) -> None:
    """What it held before is likely what it will hold."""
    if vessel.food is not None:
        form.food.data, form.strain.data = vessel.food.value, vessel.strain
        form.kept_as.data = vessel.kept_as.value
