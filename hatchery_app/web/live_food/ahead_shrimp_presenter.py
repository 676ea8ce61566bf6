"""Brine shrimp ahead in words, and each batch's changes of food."""

from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup

from hatchery_app.domain.larval_tank.food_change import FoodChange
from hatchery_app.domain.larval_tank.larval_protocol import Food
from hatchery_app.domain.live_food.food_ahead import NOTHING
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.live_food.shrimp_ahead import (
    NAUPLII_PER_G,
    ShrimpDay,
    first_late,
    next_start,
)
from hatchery_app.domain.live_food.supply import animals_said, litres_said
from hatchery_app.services.live_food.live_food_ahead import BatchChanges, ShrimpOutlook
from hatchery_app.web.addresses import address_of
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.live_food.ahead_words_presenter import (
    BACK,
    NOW,
    Clock,
    StepLine,
    capital,
    day_said,
)
from hatchery_app.web.live_food.vessel_presenter import Tap

STARTS_SHOWN = 7
# "Started" tapped days before would be food days too early; where food is late, none is too early.
TAP_BEFORE = timedelta(hours=12)


@dataclass(frozen=True)
class ShrimpPart:
    """One of the two brine-shrimp foods."""

    food: str
    lead: Markup
    late: str
    start: StepLine | None
    starts: Numbers | None
    rests_on: str


@dataclass(frozen=True)
class ChangeLine:
    """A batch and when its food changes."""

    label: str
    url: str
    dph: str
    now: str
    changes: tuple[tuple[str, str], ...]



def shrimp_part(one: ShrimpOutlook, clock: Clock) -> ShrimpPart:
    """One of the two foods: what is wanted next, what is too late, what to start."""
    late, start = first_late(one.days), next_start(one.days)
    wanted = [day for day in one.days if day.need >= NOTHING]
    lead = Markup("nothing wanted in these three weeks")
    if wanted:
        lead = Markup("{} wanted {}").format(
            animals_said(wanted[0].need), clock.said(wanted[0].feed_at)
        )
    if wanted and one.hatching.is_unrecorded:
        lead += "; what hatches is not recorded"
    lot = one.hatching.cysts
    rests_on = (
        f"a lot of {two_figures_said(NAUPLII_PER_G)} a gram at 28 °C is assumed: enter yours"
        if lot.assumed
        else f"{lot.label}, {two_figures_said(lot.lot.nauplii_per_g)} a gram,"
        f" {lot.hours:.0f} h at {one.hatching.temperature_c:g} °C"
    )
    return ShrimpPart(
        capital(one.food.value), lead,
        late_said(late, clock) if late is not None and not one.hatching.is_unrecorded else "",
        _start_cysts(one, start, clock) if start is not None else None,
        _starts(one, clock), f"{rests_on}; a tenth to spare",
    )  # fmt: skip


def late_said(day: ShrimpDay, clock: Clock) -> str:
    """ "60,000 lack tomorrow 08:00: cysts wetted now are food Thu 26 Nov 10:00."."""
    ready = clock.said(day.ready_at) if day.ready_at is not None else "later"
    return (
        f"{animals_said(day.lacking)} lack {clock.said(day.feed_at)}: cysts wetted now are"
        f" food {ready}."
    )


def _start_cysts(
    one: ShrimpOutlook, day: ShrimpDay, clock: Clock
) -> StepLine:
    assert day.start is not None
    assert day.start_at is not None
    grams = two_figures_said(day.start.grams)
    what = Markup("Start <b>{} g</b> of cysts in {}").format(
        grams, litres_said(day.start.vessel_l)
    )
    enriched = one.food is Food.SHRIMP_ENRICHED
    why = f"food {clock.said(day.ready_at or day.feed_at)}, {animals_said(day.need)}"
    if enriched:
        why += f"; enriched for a day in {litres_said(day.start.enrichment_ml / 1000)}"
    if day.start.is_hard_to_weigh:
        why += "; under 0.25 g weighing and sieving lose much: round up"
    url = address_of("live_food.start_shrimp")
    by = clock.said(day.start_at) if day.start_at > one.now else "now"
    if one.hatching.lot_id is None:
        return StepLine(what, by, why, url=address_of("live_food.add_lot"), url_label="Enter a lot")
    if first_late(one.days) is None and day.start_at - one.now > TAP_BEFORE:
        return StepLine(what, by, why, url=url, url_label="Start a hatch now")
    fields = (
        ("lot_id", str(one.hatching.lot_id)), ("grams", grams),
        ("litres", two_figures_said(day.start.vessel_l)),
        ("temperature", f"{one.hatching.temperature_c:g}"), BACK, NOW,
    )  # fmt: skip
    tap = Tap(url, f"Started {grams} g", fields)
    return StepLine(what, by, why, tap, url, "otherwise")


def _starts(one: ShrimpOutlook, clock: Clock) -> Numbers | None:
    rows: list[tuple[str, ...]] = []
    for day in one.days:
        if day.need < NOTHING or len(rows) >= STARTS_SHOWN:
            continue
        start, grams = "on its way", "–"
        if day.start is not None and day.start_at is not None:
            start = "too late" if day.is_late else clock.said(day.start_at)
            grams = f"{two_figures_said(day.start.grams)} g"
        rows.append(
            (clock.said(day.feed_at), animals_said(day.need), animals_said(day.on_its_way),
             start, grams)
        )  # fmt: skip
    columns = ("fed", "wanted", "on its way", "start", "cysts")
    name = f"{capital(one.food.value)}, feeding by feeding"
    return Numbers(name, columns, tuple(rows), (1, 2, 4)) if rows else None



def batch_line(one: BatchChanges, today: date) -> ChangeLine:
    """A batch with what it eats now, and each day on which that changes."""
    now = [_food_said(c) for c in one.changes if c.begins_on is None]
    by_day: dict[date, list[str]] = {}
    for change in one.changes:
        if change.begins_on is not None:
            by_day.setdefault(change.begins_on, []).append(f"{_food_said(change)} begins")
        if change.ends_on is not None and change.grain_um is None:
            words = f"{_food_said(change)} for the last time"
            by_day.setdefault(change.ends_on, []).append(words)
    return ChangeLine(
        one.label, address_of("larval_tank.show", holding_id=one.holding_id), f"{one.dph} dph",
        ", ".join(now),
        tuple((day_said(on, today), "; ".join(by_day[on])) for on in sorted(by_day)),
    )  # fmt: skip


def _food_said(change: FoodChange) -> str:
    if change.grain_um is None:
        return change.food.value
    low, high = change.grain_um
    return f"{change.food.value} {low:g}–{high:g} µm"
