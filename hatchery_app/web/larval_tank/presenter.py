"""The words of the walk through the larval tanks, and of the forms about a batch."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from hatchery_app.domain.how_many import HowMany, parse
from hatchery_app.domain.larval_tank.larval_protocol import FOODS_IN_WATER
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.when import RoomTime
from hatchery_app.services.larval_tank.larval_day import LarvalPlan
from hatchery_app.services.larval_tank.larval_tank_page import (
    LarvalLine,
    LarvalTankList,
    WaitingHatch,
)
from hatchery_app.services.larval_tank.larval_tank_plan import Replan
from hatchery_app.services.stock_book.holding_facts import HoldingFacts
from hatchery_app.web.larval_tank.food_presenter import gap_words
from hatchery_app.web.larval_tank.show_presenter import ShowPage, show

__all__ = [
    "ShowPage", "concentrates", "form", "hatch_choices", "here_before", "number_or_unknown",
    "put", "replan", "show", "walk",
]  # fmt: skip


@dataclass(frozen=True)
class WalkLine:
    """A batch at its stop: where, how old, how many, and what comes next."""

    holding_id: int
    place: str
    name: str
    number: str
    age: str
    survival: str
    next_thing: str
    ended: str = ""
    gaps: str = ""


@dataclass(frozen=True)
class WalkPage:
    """All batches of larvae. `waiting` are hatches not yet in a tank."""

    heading: str
    open: tuple[WalkLine, ...]
    ended: tuple[WalkLine, ...]
    waiting: tuple[tuple[int, str], ...]
    everything: bool


@dataclass(frozen=True)
class FormPage:
    """A form about a batch, or one that begins a batch (`id` 0)."""

    heading: str
    form: Any
    part: str
    lead: str
    id: int = 0
    wide: bool = False


@dataclass(frozen=True)
class ReplanPage:
    """What another plan would change: (what, on which days, before, after)."""

    heading: str
    form: Any
    id: int
    batch: str
    lead: str
    may: bool
    changes: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True)
class ConcentratesPage:
    """The foods with how thick they stand, and the form that says it anew."""

    heading: str
    form: Any
    foods: tuple[tuple[str, str], ...]


def walk(listed: LarvalTankList, room_time: RoomTime, everything: bool) -> WalkPage:
    """The list in words."""
    return WalkPage(
        "Larval tanks",
        tuple(_line(one, room_time) for one in listed.open),
        tuple(_line(one, room_time) for one in listed.ended),
        tuple(
            (one.hatch_id, f"{one.clutch}, hatched {one.night}, {one.number}")
            for one in listed.waiting
            if one.is_new and not one.placed
        ),
        everything,
    )


def _line(one: LarvalLine, room_time: RoomTime) -> WalkLine:
    ended = ""
    if one.ended_at is not None:
        at = room_time.local(one.ended_at)
        went_on = (one.balance.left_alive.best or 0) > 0
        ended = f"{'all moved on or gone' if went_on else 'none left'} by {at:%-d %b %Y}"
    return WalkLine(
        holding_id=one.holding_id,
        place=one.holding.place.label if one.holding.places else "–",
        name=", ".join((one.holding.name, *one.clutches)),
        number=one.balance.now.said(),
        age=one.age.said if one.age is not None else "" if ended else "age not known",
        survival=one.survival.said(),
        next_thing=next_thing(one.plan) if one.plan is not None else "",
        ended=ended,
        gaps=gap_words(one.gaps),
    )


def next_thing(plan: LarvalPlan) -> str:
    """What comes next for a batch, in a few words."""
    if plan.age is None:
        return "say which night they hatched, and the plan follows"
    if plan.plan is None:
        return "no plan for larvae of this species"
    if plan.split is not None and plan.split.swimming == 0:
        return "all have settled: move them to grow-out"
    if plan.split is not None and plan.split.settled > 0:
        return f"{plan.split.settled} settled, {plan.split.swimming} swimming"
    unseen = [one.words for one in plan.prey if one.food.target and one.seen is None]
    if unseen:
        return f"look at the {unseen[0]}"
    if plan.plan.settlement is not None:
        first, last = plan.plan.settlement.days
        if plan.age.oldest > last:
            return f"past {last} dph: look who still swims"
        if plan.age.oldest >= first:
            return "look for the first settled"
        return f"first settled from {first} dph"
    return ""


def form(form: Any, batch: HoldingFacts, part: str, heading: str) -> FormPage:
    """A form about one batch."""
    return FormPage(
        f"{batch.place.label}: {heading.lower()}", form, part, batch.full_name, batch.id,
        bool(form.errors or form.asked),
    )  # fmt: skip


def put(form: Any) -> FormPage:
    """The form that puts larvae into tanks."""
    return FormPage("Larvae into a tank", form, "put", "")


def here_before(form: Any) -> FormPage:
    """The form of a batch that was there before the records began."""
    return FormPage(
        "A batch that was here before", form, "here_before",
        "For larvae that were in a tank when the day-book began. What is not known stays empty.",
    )  # fmt: skip


def replan(form: Any, shown: Replan) -> ReplanPage:
    """What changes, before it does."""
    lead = ""
    if shown.is_same:
        lead = "The batch follows the species file as it stands today: there is nothing to re-plan."
    elif not shown.changes:
        lead = "The species file changed, but in nothing that is still ahead of this batch."
    return ReplanPage(
        f"{shown.holding.place.label}: re-plan", form, shown.holding.id, shown.holding.full_name,
        lead, not shown.is_same,
        tuple((one.what, one.days, one.before, one.after) for one in shown.changes),
    )  # fmt: skip


def hatch_choices(waiting: Sequence[WaitingHatch]) -> dict[str, str]:
    """The hatches of the last days, to be picked; those without a tank first."""
    ordered = sorted(waiting, key=lambda one: bool(one.placed))
    return {
        str(one.hatch_id): f"{one.clutch}, {one.night}, {one.number}"
        + (f" — in tanks: {one.placed}" if one.placed else "")
        for one in ordered
    } or {"0": "no hatch in the last fortnight"}


def concentrates(form: Any, strengths: Mapping[str, float]) -> ConcentratesPage:
    """Each food with how thick it stands, as last said."""
    return ConcentratesPage(
        "Concentrates",
        form,
        tuple(
            (food, f"{two_figures_said(strengths[food])} per mL" if food in strengths else "")
            for food in FOODS_IN_WATER
        ),
    )


def number_or_unknown(text: str | None) -> HowMany:
    """A number as written; nothing written is unknown."""
    return parse(text or "", "number")

