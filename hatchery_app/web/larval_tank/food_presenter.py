"""A batch's food history in words and as a drawing, its losses beside it."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.domain.larval_tank.food_history import (
    LIVE,
    RULE,
    FoodDay,
    FoodSeen,
    LossAfter,
    Span,
)
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.stock_book.reared import Fate, Going
from hatchery_app.domain.when import RoomTime, say_date
from hatchery_app.services.larval_tank.larval_food import FoodHistory
from hatchery_app.web.drawing import food_and_losses
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.drawing.food_and_losses import FoodAndLosses, FoodMark, FoodStrip, Lost
from hatchery_app.web.drawing.losses_by_age import days_said


@dataclass(frozen=True)
class GapLine:
    """A food gap: when, what was written, and what was lost on its days and the three after."""

    when: str
    what: str
    after: str


@dataclass(frozen=True)
class FoodPart:
    """The part of a batch's page: its gaps, the drawing, its numbers, what is not written."""

    gaps: tuple[GapLine, ...]
    drawing: Markup
    numbers: Numbers
    unwritten: str
    rule: str


def part(found: FoodHistory | None, name: str, room_time: RoomTime) -> FoodPart | None:
    """The food history; None where the hatch night is not known, or the batch has no day yet."""
    if found is None or not found.days or not any(
        day.is_written or day.is_asked for day in found.days
    ):
        return None
    chart = _chart(found, name, room_time)
    return FoodPart(
        tuple(_gap_line(one) for one in found.losses),
        food_and_losses.food_and_losses(chart),
        food_and_losses.numbers(chart),
        _unwritten(found.unwritten),
        RULE,
    )


def gap_words(gaps: Sequence[Span]) -> str:
    """ "food gap 3 dph", "food gaps 3 dph, 6–7 dph"; "" for none."""
    if not gaps:
        return ""
    return f"food gap{'s' if len(gaps) > 1 else ''} {', '.join(gap.dph for gap in gaps)}"


def _gap_line(one: LossAfter) -> GapLine:
    if one.high == 0:
        after = "no loss written on its days or the three after"
    else:
        number = f"{one.low}" if one.low == one.high else f"{one.low}–{one.high}"
        after = f"{number} lost on its days and the three after, which need not be its doing"
    return GapLine(f"Food gap, {one.gap.dph}", one.gap.words, after)


def _unwritten(spans: Sequence[Span]) -> str:
    if not spans:
        return ""
    return f"Not written: {', '.join(span.dph for span in spans)}. That is not “not fed”."


# --- The drawing --------------------------------------------------------------------------


def _chart(found: FoodHistory, name: str, room_time: RoomTime) -> FoodAndLosses:
    looks = [one for day in found.days for one in day.seen]
    foods = [food.value for food in LIVE if any(one.food == food.value for one in looks)]
    return FoodAndLosses(
        f"Food and losses of {name}",
        found.days[0].dph,
        found.days[-1].dph,
        tuple(
            FoodStrip(
                food, tuple(_mark(one, room_time) for one in looks if one.food == food)
            )
            for food in foods
        ),
        tuple(day.dph for day in found.days if any(one.given for one in day.said)),
        tuple(day.dph for day in found.days if day.is_unwritten),
        tuple((gap.from_dph, gap.until_dph) for gap in found.gaps),
        tuple(
            Lost(one.from_dph, one.until_dph, one.number) for one in found.goings if one.is_loss
        ),
        tuple(_row(day, found.goings) for day in reversed(found.days)),
    )  # fmt: skip


def _mark(one: FoodSeen, room_time: RoomTime) -> FoodMark:
    local = room_time.local(one.at)
    target = one.target_per_ml
    brought_to = one.topped_up_to_per_ml / target if one.topped_up_to_per_ml and target else None
    # The hour of the clock places it within its day of age, near enough for a drawing.
    hour = min(0.95, max(0.05, (local.hour + local.minute / 60 - 6) / 24 % 1))
    return FoodMark(one.dph + hour, one.share, brought_to, one.is_look)


def _row(day: FoodDay, goings: Sequence[Going]) -> tuple[str, ...]:
    left = "; ".join(_left(one) for one in day.seen if one.seen is not None)
    given = [_given(one) for one in day.seen if one.topped_up_to_per_ml is not None]
    given += list(dict.fromkeys(one.given for one in day.said if one.given))
    given += [f"{one.food} not fed: {one.why_not}" for one in day.said if one.why_not]
    unwritten = "not written" if day.is_unwritten else "–"
    return (
        f"{day.dph} dph, {say_date(day.on)}", left or unwritten, "; ".join(given) or unwritten,
        _lost(day.dph, goings) or "–", day.gap or "–",
    )  # fmt: skip


def _left(one: FoodSeen) -> str:
    assert one.seen is not None
    if one.is_look:
        return f"{one.food} {one.seen.method.removeprefix('a look: ')}"
    return f"{one.food} {one.seen.per_ml:.2g} per mL"


def _given(one: FoodSeen) -> str:
    said = f"{one.food} to {one.topped_up_to_per_ml:g} per mL"
    added = one.added_per_ml
    return said if added is None else f"{said}, about {two_figures_said(added)} per mL more"


def _lost(dph: int, goings: Sequence[Going]) -> str:
    """Those of one day, and those between two looks on the last day they can be of."""
    said = []
    for one in goings:
        if one.fate is Fate.LEFT or one.until_dph != dph:
            continue
        between = "" if one.from_dph == dph else f" on {days_said(one.from_dph, one.until_dph)} dph"
        said.append(f"{one.number} {one.fate}{between}")
    return "; ".join(said)
