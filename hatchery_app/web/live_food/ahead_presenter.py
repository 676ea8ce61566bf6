"""Food ahead in words: what lacks when, what to do by then, and the days in a drawing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from flask import url_for
from markupsafe import Markup

from hatchery_app.domain.live_food.food_action import Do, Step
from hatchery_app.domain.live_food.food_ahead import (
    NOT_COUNTED_BAND,
    NOTHING,
    DaySupply,
    Given,
    IfLost,
    first_lacking,
    first_short,
)
from hatchery_app.domain.live_food.food_demand import (
    DAYS_AHEAD,
    GREENWATER,
    SAFETY,
    SURVIVAL_PER_DAY,
    DayDemand,
)
from hatchery_app.domain.live_food.food_outlook import Outlook
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.live_food.shrimp_ahead import (
    first_late,
)
from hatchery_app.domain.live_food.supply import MILLION, animals_said, litres_said
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import say_date
from hatchery_app.services.live_food.live_food_ahead import FoodAhead
from hatchery_app.web.addresses import address_of
from hatchery_app.web.drawing import demand
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.live_food.ahead_shrimp_presenter import (
    ChangeLine,
    ShrimpPart,
    batch_line,
    late_said,
    shrimp_part,
)
from hatchery_app.web.live_food.ahead_words_presenter import (
    BACK,
    NOW,
    Clock,
    StepLine,
    capital,
    day_said,
    first_feeders,
    on_said,
)
from hatchery_app.web.live_food.vessel_presenter import Tap

WHOLE_UNIT_FROM = 1e5  # drawn in millions from here up, else in thousands


@dataclass(frozen=True)
class FoodPart:
    """A cultured food over the days."""

    food: str
    state: str
    is_short: bool
    first_fed: str
    said: tuple[str, ...]
    steps: tuple[StepLine, ...]
    after: str
    drawing: Markup
    numbers: Numbers
    vessels: Numbers | None
    lost: tuple[str, ...]
    lost_alarm: bool


@dataclass(frozen=True)
class AheadPage:
    """The weeks ahead."""

    heading: str
    beside: str
    parts: tuple[FoodPart, ...]
    shrimp: tuple[ShrimpPart, ...]
    batches: tuple[ChangeLine, ...]
    others: Numbers | None
    rests_on: tuple[str, ...]


def shown(answer: FoodAhead) -> AheadPage:
    """The page of the weeks ahead."""
    last = answer.today + timedelta(days=DAYS_AHEAD - 1)
    return AheadPage(
        "Food ahead",
        f"{say_date(answer.today)} to {say_date(last)}",
        tuple(_part(one, answer) for one in answer.outlooks),
        tuple(shrimp_part(one, Clock(answer.room, answer.today)) for one in answer.shrimp),
        tuple(batch_line(one, answer.today) for one in answer.batches),
        _green(answer.demand.get(GREENWATER, ())),
        _rests_on(answer),
    )


# --- A cultured food ----------------------------------------------------------------------


def state_said(one: Outlook, today: date, skip: int = 0) -> tuple[str, bool]:
    """How a food stands ahead in one sentence, and whether it falls short.

    `skip` leaves out the first days: Today says today's own.
    """
    wanted = [day for day in one.demand[skip:] if day.careful >= NOTHING]
    if not wanted:
        return "nothing of it is wanted in these three weeks", False
    if not one.is_known:
        first = day_said(wanted[0].on, today)
        ready = "not known until it is counted" if one.left_out else "not recorded"
        return f"wanted from {first}; what stands ready is {ready}", False
    lacking, short = first_lacking(one.likely[skip:]), first_short(one.likely[skip:])
    careful = first_lacking(one.careful[skip:])
    safety = ""
    if careful is not None:
        amount = _short(careful, careful.lacking)
        safety = f"with half again as a safety short {_on(careful.on, today)} by {amount}"
    if lacking is not None:
        said = f"short {_on(lacking.on, today)} by {_short(lacking, lacking.short)}"
        if lacking.short - lacking.lacking >= NOTHING:  # Today says the first figure too
            left = animals_said(lacking.lacking)
            said += f"; {left} of it even if the vessels are sieved down to half"
        return said, True
    if short is not None:
        said = (
            f"enough {_on(short.on, today)} only by sieving deeper than the vessels bear:"
            f" {_short(short, short.short)} over it"
        )
        return f"{said}; {safety}" if safety else said, True
    if safety:
        return f"enough as is likely; {safety}", True
    tight = first_short(one.careful[skip:])
    if tight is not None:
        return (
            "enough as is likely; with half again as a safety the vessels are at their limit"
            f" {_on(tight.on, today)}"
        ), False
    return "enough for these three weeks, with half again as a safety", False


def _on(on: date, today: date) -> str:
    said = day_said(on, today)
    return said if said in ("today", "tomorrow") else f"on {said}"


def _short(day: DaySupply, amount: float) -> str:
    return f"{animals_said(amount)} of {animals_said(day.need)}"


def _part(one: Outlook, answer: FoodAhead) -> FoodPart:
    today = answer.today
    state, short = state_said(one, today)
    chart = _chart(one, today)
    return FoodPart(
        capital(one.food.value), state, short, _first_fed(one, answer), _left_out(one),
        tuple(_step(step, one, today) for step in one.steps), _after(one, today),
        demand.demand(chart), demand.numbers(chart), _vessels(one),
        tuple(_lost(each, today) for each in one.lost) if one.is_needed else (),
        any(each.lacking is not None for each in one.lost),
    )  # fmt: skip


def _first_fed(one: Outlook, answer: FoodAhead) -> str:
    """Which larvae want what lacks, in the order in which it is given out."""
    day = one.lacking or one.careful_lacking if one.is_known else None
    eaters = answer.wanted_by(one.food.value, day.on) if day is not None else ()
    if day is None or not eaters:
        return ""
    on = _on(day.on, answer.today)
    if all(each.dph is None for each in eaters):
        return f"What lacks {on} is {first_feeders(eaters)}: they eat from first light."
    if len(eaters) == 1:
        return f"It lacks for {first_feeders(eaters)}. {STARVED}"
    return (
        f"If it lacks {on}, first feeders first (common practice): {first_feeders(eaters)}."
        f" {STARVED}"
    )


STARVED = "Starved on days 2–3 a batch is lost; older larvae wait better."


def _left_out(one: Outlook) -> tuple[str, ...]:
    return tuple(f"{label} counts as nothing: {why}." for label, why in one.left_out)


def _after(one: Outlook, today: date) -> str:
    """What the steps come to."""
    left, begun = one.still_lacking, [s for s in one.steps if s.do in (Do.START, Do.LET_GROW)]
    if not one.is_known or one.careful_lacking is None:
        return ""
    if left is None:
        return "With this nothing lacks, half again as a safety counted in." if begun else ""
    most = max(day.lacking for day in one.after)
    until = max(day.on for day in one.after if day.lacking >= NOTHING)
    span = day_said(left.on, today)
    if until != left.on:
        span = f"{span} to {day_said(until, today)}"
    return (
        f"{_so(one, bool(begun))} up to {animals_said(most)} a day lack of the need with its"
        f" safety, {span}. Ask a neighbour for rotifers, or feed the oldest larvae brine shrimp"
        " where their plan allows it."
    )


def _so(one: Outlook, is_begun: bool) -> str:
    """Why it still lacks: not that no culture helps in time, where one grown from a twentieth
    would be there before it does."""
    if is_begun:
        return "Even so, since cultures do not grow faster,"
    grown = [lost.rebuilt_on for lost in one.lost if lost.rebuilt_on is not None]
    until = max(day.on for day in one.after if day.lacking >= NOTHING)
    if grown and min(grown) <= until:
        return (
            "A culture started now would be grown by then, but no seed can be spared for it, or"
            " it would not lessen this:"
        )
    return "No culture started now helps in time:"


def _step(step: Step, one: Outlook, today: date) -> StepLine:
    by = "today" if step.by <= today else f"by {day_said(step.by, today)}"
    if step.do is Do.START:
        return _start(step, by, today)
    if step.do is Do.SIEVE_DEEPER:
        return _deeper(step, today)
    if step.do is Do.COUNT:
        url = url_for("live_food.count", tank_id=step.tank_id)
        what = Markup("Count <b>{}</b>").format(step.label)
        why = "a vessel nobody counted lately counts as nothing"
        return StepLine(what, by, why, url=url, url_label="Count")
    if step.do is Do.LET_GROW:
        until = day_said(step.helps_on or step.by, today)
        what = Markup("Let <b>{}</b> grow: do not sieve it until {}").format(step.label, until)
        return StepLine(what, "from today", "young cultures that are left alone feed longer")
    what = Markup("Get a culture of <b>{}</b>").format(step.label)
    why = "none lives in the room; it takes about a week to grow thick"
    return StepLine(
        what, f"first wanted {day_said(step.by, today)}", why, url=_new_vessel(),
        url_label="Enter a vessel",
    )  # fmt: skip


def _start(step: Step, by: str, today: date) -> StepLine:
    seed = litres_said(step.seed_l)
    where = Markup("<b>{}</b> ({:g} L)").format(step.label, step.litres)
    spare = " as a spare" if step.is_spare else ""
    what = Markup("Start {}{} with <b>{}</b> of {}").format(where, spare, seed, step.from_label)
    helps = day_said(step.helps_on, today) if step.helps_on is not None else "later"
    why = (
        f"{two_figures_said(step.seed_per_ml)} per mL to begin with, from"
        f" {two_figures_said(step.from_per_ml)} in {step.from_label}; thick enough to be sieved"
        f" {on_said(helps)}"
    )
    if step.is_spare:
        why += "; nothing stands behind the only one"
    if step.tank_id < 0:
        return StepLine(what, by, why, url=_new_vessel(), url_label="Enter the vessel")
    litres = two_figures_said(step.seed_l).replace(",", "")
    fields = (("from_tank", str(step.from_id)), ("litres", litres), BACK, NOW)
    seed_url = url_for("live_food.seed", tank_id=step.tank_id)
    otherwise = url_for(
        "live_food.seed", tank_id=step.tank_id, from_tank=step.from_id, litres=litres
    )
    return StepLine(
        what, by, why, Tap(seed_url, f"Poured {seed} in", fields), otherwise, "otherwise"
    )


def _new_vessel() -> str:
    return address_of("tank.add", role=TankRole.CULTURE.value)


def _deeper(step: Step, today: date) -> StepLine:
    litres = litres_said(step.litres)
    what = Markup("Sieve <b>{}</b> more of <b>{}</b> than it bears").format(litres, step.label)
    why = f"{animals_said(step.animals)}, which it lacks the days after"
    url = url_for("live_food.harvest", tank_id=step.tank_id) if step.on <= today else ""
    return StepLine(what, day_said(step.on, today), why, url=url, url_label="Sieve" if url else "")


def _chart(one: Outlook, today: date) -> demand.Demand:
    most = max([day.most for day in one.demand] + [band.best for band in one.bears])
    unit, by = ("million", MILLION) if most >= WHOLE_UNIT_FROM else ("thousand", 1000.0)
    days = tuple(
        demand.DayBar(
            say_date(wanted.on), (min(wanted.low, wanted.likely) + wanted.held) / by,
            wanted.need / by, max(wanted.most, wanted.need) / by, wanted.held / by, band.best / by,
            (
                two_figures_said(wanted.need),
                f"{two_figures_said(wanted.low)}–{two_figures_said(wanted.high)}",
                two_figures_said(wanted.held) if wanted.held else "–",
                two_figures_said(band.best) if one.is_known else "not recorded",
                f"{two_figures_said(band.low)}–{two_figures_said(band.high)}",
                two_figures_said(day.short) if day.short >= NOTHING and one.is_known else "–",
            ),
        )
        for wanted, band, day in zip(one.demand, one.bears, one.likely, strict=True)
    )  # fmt: skip
    short = one.lacking or one.short or one.careful_lacking if one.is_known else None
    place = next((n for n, day in enumerate(one.demand) if short and day.on == short.on), None)
    return demand.Demand(
        f"{one.food.value.capitalize()}: needed a day, and what the vessels bear",
        f"{unit} a day", days,
        ("needed", "used up, low to high", "held of it", "borne", "low to high", "short"),
        place, f"short {day_said(short.on, today)}" if short is not None else "", one.is_known,
    )  # fmt: skip


def _vessels(one: Outlook) -> Numbers | None:
    """Each vessel day by day: how thick it stands, what it bears and gives, what it eats."""
    labels = [given.label for given in one.likely[0].given] if one.likely else []
    if not labels:
        return None
    rows = tuple(
        (
            say_date(day.on), given.label, _per_ml(given, one),
            animals_said(given.bears), animals_said(given.taken),
            f"{two_figures_said(given.feed_ml)} mL",
        )
        for day in one.likely for given in day.given
    )  # fmt: skip
    columns = ("day", "vessel", "per mL", "bears", "taken", "paste")
    name = "Vessel by vessel, if what is likely is taken"
    return Numbers(name, columns, rows, (2, 3, 4, 5))


def _per_ml(given: Given, one: Outlook) -> str:
    """ "87", and "16–48, expected" of a vessel that was seeded and not counted yet."""
    if given.tank_id not in one.expected:
        return two_figures_said(given.per_ml)
    low, high = (two_figures_said(given.per_ml * by) for by in NOT_COUNTED_BAND)
    return f"{low}–{high}, expected"


def _lost(each: IfLost, today: date) -> str:
    rebuilt = "one rebuilt from a twentieth would not grow"
    if each.rebuilt_days is not None and each.rebuilt_on is not None:
        rebuilt = (
            f"rebuilt from a twentieth it helps again after"
            f" {two_figures_said(each.rebuilt_days)} days, on {say_date(each.rebuilt_on)}"
        )
    alone = "; nothing stands behind it" if each.is_only else ""
    if each.lacking is None:
        return f"If {each.label} were lost today, nothing would lack{alone}; {rebuilt}."
    first = day_said(each.lacking.on, today)
    return (
        f"If {each.label} were lost today, {_short(each.lacking, each.lacking.lacking)} would lack"
        f" {on_said(first)}, at the worst {animals_said(each.most_lacking)} a day{alone};"
        f" {rebuilt}."
    )


def _green(days: Sequence[DayDemand]) -> Numbers | None:
    if not any(day.likely for day in days):
        return None
    rows = tuple((say_date(day.on), f"{day.likely / 1e9:.1f}") for day in days if day.likely)
    return Numbers("Green water a day, all tanks", ("day", "10⁹ cells"), rows, (1,))


def _rests_on(answer: FoodAhead) -> tuple[str, ...]:
    found = [
        answer.grazing.said(),
        f"Of the larvae {SURVIVAL_PER_DAY * 100:.0f} % live on each day, and the safety is"
        f" {SAFETY:g} on eating and on what a water change washes out, never on a fill (assumed).",
        "A clutch counts by the chances of its nights; one first fill is held for it from its"
        " prepare-from night until it has hatched or is given up, not one for each night.",
        "A vessel bears its own growth, h = 1 − e^(−r) a day and never over 45 %; once it can be"
        " sieved down to half of the most that stood in it this week, seed for another counted in,"
        " and then no more than it bears until it has grown again. It grows to 300 per mL, or as"
        " thick as it was counted.",
    ]
    if answer.assumed:
        found.append(
            f"Nobody said how many larvae are in {', '.join(answer.assumed)}: 10 a litre (2–25)"
            " are assumed."
        )
    return tuple(found)


def ahead_lines(answer: FoodAhead) -> tuple[str, ...]:
    """The weeks ahead for Today, a line for each food that is wanted: short, or enough."""
    found = []
    for one in answer.outlooks:
        if not one.is_needed:
            continue
        state, _ = state_said(one, answer.today, skip=1)
        steps = [step for step in one.steps if step.do is Do.START and not step.is_spare]
        do = ""
        if steps:
            when = day_said(steps[0].by, answer.today)
            do = f"; start {steps[0].label} {'today' if when == 'today' else f'by {when}'}"
        lacking = first_lacking(one.likely[1:]) if one.is_known else None
        if lacking is not None and not first_lacking(one.likely[:1]):  # today's is said before
            first = first_fed_said(answer, one.food.value, lacking.on)
            do = f"; {first}{do}" if first else do
        found.append(f"{one.food.value}: {state}{do}")
    clock = Clock(answer.room, answer.today)
    for shrimp in answer.shrimp:
        late = first_late(shrimp.days)
        if late is not None and not shrimp.hatching.is_unrecorded:
            found.append(f"{shrimp.food.value}: {late_said(late, clock)}")
    return tuple(found)


def first_fed_said(answer: FoodAhead, food: str, on: date) -> str:
    """ "first feeders first: L3, then L5", in words as short as can be."""
    eaters = answer.wanted_by(food, on)
    return f"first feeders first: {first_feeders(eaters, ages=False)}" if len(eaters) > 1 else ""
