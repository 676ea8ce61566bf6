"""The cultures in words: how they stand, what they can give, what their counts warn of."""

from dataclasses import dataclass
from datetime import datetime

from flask import url_for

from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.live_food.supply import animals_said
from hatchery_app.domain.live_food.vessel import (
    Cultured,
    VesselCount,
    VesselNow,
    days_between,
)
from hatchery_app.domain.live_food.vessel_signs import VesselSign
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import RoomTime, When, say_when
from hatchery_app.services.live_food.live_food_page import LiveFoodList, VesselFound
from hatchery_app.services.live_food.live_food_shrimp_page import ShrimpList
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.today.today_food import FoodNeed
from hatchery_app.web.addresses import address_of
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
    start_url: str = ""


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


# --- The list -----------------------------------------------------------------------------


def listed(
    answer: LiveFoodList, shelf: ShrimpList, room: RoomNow, now: datetime
) -> ListPage:
    """Every vessel in walking order, under what is needed today; then shrimp and the shelf."""
    return ListPage(
        "Live food",
        tuple(_need_line(need) for need in answer.needs if need.food in _OF_VESSELS),
        answer.spare,
        tuple(_vessel_line(found, room, now) for found in answer.vessels),
        address_of("tank.add", role=TankRole.CULTURE.value),
        shrimp_presenter.shrimp_part(shelf, room, now),
        shelf_presenter.due_lines(shelf, room, now),
    )


_OF_VESSELS = {food.value for food in Cultured}


def _need_line(need: FoodNeed) -> NeedLine:
    supply = need.supply
    if supply is None:
        up_to = "up to " if need.not_looked else ""
        tanks = f" for {', '.join(need.tanks)}" if need.tanks else ""
        said = (
            f"{up_to}{animals_said(need.best + need.held)} today{tanks};"
            " how much stands ready is not recorded"
        )
        return NeedLine(need.food, said, False, (), need.gaps)
    sieves = tuple(
        f"{one.label}: sieve {two_figures_said(one.litres)} L for {animals_said(one.animals)}"
        for one in supply.sieves
    )
    is_short = not supply.is_enough and not supply.is_unknown
    return NeedLine(need.food, supply.said(), is_short, sieves, need.gaps)


def _vessel_line(found: VesselFound, room: RoomNow, now: datetime) -> VesselLine:
    one = found.now
    last = one.vessel.last
    seen = _count_said(last, room.room_time) if last is not None else ""
    return VesselLine(
        one.vessel.label,
        url_for("live_food.show", tank_id=one.vessel.tank_id),
        holds_said(found, now),
        f"{density_said(one.per_ml)} per mL" if one.standing is not None else "",
        gives_said(one),
        " · ".join(word for word in (one.why_none if one.vessel.food else "", seen) if word),
        tuple(sign.words for sign in found.signs if sign.is_alarm),
        "" if one.vessel.food else url_for("live_food.start", tank_id=one.vessel.tank_id),
    )


def density_said(per_ml: float) -> str:
    """ "230", and for algae "12 million"."""
    return animals_said(per_ml)


def gives_said(one: VesselNow) -> str:
    """ "gives 0.57 million today"; "" where it gives none or nobody knows."""
    if one.gives_today is None or one.gives_today.best <= 0:
        return ""
    return f"gives {animals_said(one.gives_today.best)} today"


def holds_said(found: VesselFound, now: datetime) -> str:
    """ "18 L · rotifers L, day 6"."""
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
