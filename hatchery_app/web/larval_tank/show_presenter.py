"""One batch of larvae in words: what they eat now, how they fare, what came."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.larval_tank.larval_protocol import ALGAE
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.stock_book.stock_book import Count, Door, Row
from hatchery_app.domain.stock_book.stock_line import holds_the_book
from hatchery_app.domain.stock_book.survival import Survival, say_percent
from hatchery_app.domain.stock_book.worked_count import number_told
from hatchery_app.domain.today.schedule import Quantity
from hatchery_app.domain.when import RoomTime, When, say_date, say_when
from hatchery_app.services.larval_tank.larval_day import GreenNow, LarvalPlan, PreyNow
from hatchery_app.services.larval_tank.larval_tank_page import EntryLine, LarvalTankPage
from hatchery_app.services.species.library import species_said
from hatchery_app.services.stock_book.batch_survival import BatchLine, ClutchLine
from hatchery_app.services.stock_book.holding_facts import HoldingFacts
from hatchery_app.web.addresses import address_of, linked
from hatchery_app.web.drawing import life_line
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.larval_tank import food_presenter
from hatchery_app.web.larval_tank.food_presenter import FoodPart
from hatchery_app.web.larval_tank.stages_presenter import StageLine, fed_as, stage_lines
from hatchery_app.web.stock_book import differences_presenter
from hatchery_app.web.stock_book.differences_presenter import LossPart
from hatchery_app.web.tank import treatment_presenter
from hatchery_app.web.tank.treatment_presenter import TreatedLine

Address = Callable[..., str]


@dataclass(frozen=True)
class FoodLine:
    """One food today. `figure` is the amount to add; `food` its word for looks, "" for no looks."""

    what: str
    figure: str
    why: str
    seen: str
    food: str = ""
    topped_to: str = ""
    needs_strength: bool = False
    source: str = ""


@dataclass(frozen=True)
class FareLine:
    """A batch or clutch with its survival, its numbers beside it."""

    label: str
    name: str
    url: str
    number: str
    survival: str
    is_this: bool = False


@dataclass(frozen=True)
class CameLine:
    """One entry, newest first; `url` is where it is corrected."""

    when: str
    what: str
    why: str
    note: str
    url: str


@dataclass(frozen=True)
class ShowPage:
    """One batch: see the parts of the template."""

    heading: str
    id: int
    beside: str
    age: str
    number: str
    number_how: str
    share: str
    share_how: str
    survival_of: str
    warning: str
    is_open: bool
    settle_number: str
    today: str
    foods: tuple[FoodLine, ...]
    care: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    stages: tuple[StageLine, ...]
    fed_as: str
    sizes: tuple[str, ...]
    split: str
    life: Markup
    life_numbers: Numbers
    batches: tuple[FareLine, ...]
    clutches: tuple[FareLine, ...]
    put_together: tuple[FareLine, ...]
    facts: tuple[tuple[str, str], ...]
    came: tuple[CameLine, ...]
    losses: tuple[LossPart, ...]
    treated: tuple[TreatedLine, ...]
    no_plan: str
    food: FoodPart | None
    gaps: str


def show(page: LarvalTankPage, room_time: RoomTime, now: datetime) -> ShowPage:
    """The page of one batch."""
    plan, balance = page.plan, page.balance
    life = _life(page, room_time, now)
    survival = page.survival
    share = ""
    if isinstance(survival, Survival) and survival.best is not None:
        share = f"{say_percent(survival.best)} %"
    return ShowPage(
        heading=f"{page.holding.place.label} · {page.holding.name}",
        id=page.holding.id,
        beside=_beside(page),
        age=page.age.said if page.age is not None else "age not known",
        number=_large(balance.now.best, balance.now.low, balance.now.basis),
        number_how=_how(balance.now),
        share=share,
        share_how=survival.said(),
        survival_of="survival" if page.holding.clutch_ids else "survival since they came in",
        warning=survival.start_error if isinstance(survival, Survival) else "",
        is_open=page.ended_at is None,
        settle_number=str(page.split.settled) if page.split is not None else "",
        today=_today(plan),
        foods=_foods(plan, room_time) if plan is not None else (),
        care=_care(plan) if plan is not None else (),
        cautions=plan.plan.cautions if plan is not None and plan.plan is not None else (),
        stages=stage_lines(page, room_time),
        fed_as=fed_as(plan),
        sizes=plan.sizes if plan is not None else (),
        split=page.split.said() if page.split is not None else "",
        life=life_line.life_line(life),
        life_numbers=life_line.numbers(life),
        batches=_batches(page),
        clutches=tuple(_clutch(one) for one in page.clutches),
        put_together=tuple(_fare(one, page.holding.id) for one in page.put_together),
        facts=_facts(page, room_time, now),
        came=tuple(_came(one, page.holding, room_time) for one in page.entries),
        losses=differences_presenter.parts(page.losses),
        treated=treatment_presenter.going_on(page.treatments, room_time, now)
        if page.ended_at is None else (),
        no_plan=_no_plan(page),
        food=food_presenter.part(page.food, page.holding.name, room_time),
        gaps=food_presenter.gap_words(page.food.gaps) if page.food is not None else "",
    )


def _beside(page: LarvalTankPage) -> str:
    said = [one.name for one in page.clutches]
    if page.holding.is_mixed:
        said.insert(0, "mixed batch")
    if page.parents:
        said.append(page.parents)
    return " · ".join(said)


def _large(best: int | None, low: int | None, basis: Basis) -> str:
    if best is not None:
        return f"~{best}" if basis is Basis.ABOUT else str(best)
    return str(low) if low else "?"


def _how(number: HowMany) -> str:
    """How the number was got, or between what it lies."""
    if number.basis is Basis.ESTIMATED and number.low != number.high:
        return f"{number.low}–{number.high}"
    if number.basis is Basis.ABOUT:
        return "about, by eye"
    return {Basis.COUNTED: "counted", Basis.AT_LEAST: "at least"}.get(number.basis, "not known")


def _today(plan: LarvalPlan | None) -> str:
    if plan is None or plan.mean_c is None:
        return "no temperature read"
    as_day = ""
    if plan.plan is not None and plan.age is not None and plan.plan.plan_day != plan.age.oldest:
        as_day = f", fed as day {plan.plan.plan_day} of the plan"
    return f"{plan.litres:g} L at {plan.mean_c:.1f} °C ({plan.mean_from}){as_day}"


def _no_plan(page: LarvalTankPage) -> str:
    plan = page.plan
    if page.ended_at is not None or plan is None or plan.plan is not None:
        return ""
    if plan.age is None:
        say = linked("Say which night", "records.correct", fact_id=page.holding.id)
        return Markup(
            "Nobody knows which night they hatched, so no day of a plan can be said. {}"
        ).format(say)
    return "The species has no plan for larvae, so nothing is worked out."


# --- What they eat now --------------------------------------------------------------------


def _foods(plan: LarvalPlan, room_time: RoomTime) -> tuple[FoodLine, ...]:
    lines = [_prey(one, room_time) for one in plan.prey]
    if plan.green is not None:
        lines.append(_green(plan.green, room_time))
    food = plan.plan.microdiet if plan.plan is not None else None
    if food is not None and food.low is not None and food.high is not None:
        meals = ""
        if food.meals_low is not None and food.meals_high is not None:
            meals = f"{food.meals_low}–{food.meals_high} meals"
        lines.append(
            FoodLine("Microdiet", f"{food.low:g}–{food.high:g} µm", meals, food.note,
                     source=_source(food.source, food.mark))
        )  # fmt: skip
    return tuple(lines)


def _prey(one: PreyNow, room_time: RoomTime) -> FoodLine:
    what = one.words[0].upper() + one.words[1:]
    source = _source(one.food.source, one.food.mark)
    if not one.food.target:
        return FoodLine(what, one.food.note or "a trace", "", "", source=source)
    wanted = f"{one.food.target:.2g} per mL wanted ({one.food.low:g}–{one.food.high:g})"
    figure, why = "", wanted
    if one.add is None and one.whole_fill is not None:
        why = f"{wanted}; look first. A whole fill is {two_figures_said(one.whole_fill)}"
    elif one.add is not None and one.add.animals == 0:
        figure = "nothing to add"
        why = one.add.why + ("; flush out the old first" if one.add.flush_old else "")
    elif one.add is not None:
        animals = Quantity(one.add.animals, "animals", one.add.low, one.add.high).said()
        figure, why = animals, one.add.why
        if one.ml is not None:
            figure = Quantity(one.ml[0], "mL", one.ml[1], one.ml[2]).said()
            why = f"{animals}: {one.add.why}"
    return FoodLine(
        what, figure, why, _seen(one.seen_when, one.topped_up_to, room_time), one.food.food.value,
        f"{one.food.target:g}", one.add is not None and one.concentrate_per_ml is None, source,
    )  # fmt: skip


def _green(green: GreenNow, room_time: RoomTime) -> FoodLine:
    wanted = f"{two_figures_said(green.target_per_ml)} cells per mL wanted"
    there = "" if green.seen is not None else ", taken as clear: nobody looked"
    figure = f"{two_figures_said(green.dose_ml)} mL" if green.dose_ml is not None else ""
    why = f"{wanted}{there}" if figure else wanted
    if green.stock_per_ml is not None and not figure:
        why = f"{wanted}; {green.why_none}"
    return FoodLine(
        "Green water", figure, why, _seen(green.seen_when, None, room_time), ALGAE,
        f"{green.target_per_ml:g}", green.stock_per_ml is None,
        _source(green.band.source, green.band.mark),
    )  # fmt: skip


def _seen(when: When | None, topped_up_to: float | None, room_time: RoomTime) -> str:
    if when is None:
        return ""
    did = f"topped up to {topped_up_to:g} per mL" if topped_up_to is not None else "last looked"
    return f"{did} {say_when(when, room_time)}"


def _source(source: str, mark: str) -> str:
    return f"{source} ({mark})" if source else mark


def _care(plan: LarvalPlan) -> tuple[tuple[str, str], ...]:
    day = plan.plan
    if day is None:
        return ()
    told = []
    if plan.change_l is not None:
        low, high = plan.change_l
        litres = f"{high:.2g} L" if low == high else f"{low:.2g}–{high:.2g} L"
        note = day.water_change.note if day.water_change is not None else ""
        told.append(("change water", litres + (f", {note}" if note else "")))
    if day.light_words:
        told.append(("light", day.light_words))
    return tuple(told)


# --- How they fare ------------------------------------------------------------------------


def _batches(page: LarvalTankPage) -> tuple[FareLine, ...]:
    """The other batches of its clutches, with this one among them; none where it is alone."""
    found = {one.holding_id: one for clutch in page.clutches for one in clutch.batches}
    if set(found) <= {page.holding.id}:
        return ()
    return tuple(_fare(one, page.holding.id) for one in found.values())


def _fare(one: BatchLine, this: int) -> FareLine:
    url = address_of("larval_tank.show", holding_id=one.holding_id)
    if one.stage.value == "cohort":
        url = address_of("cohort.show", cohort_id=one.holding_id)
    return FareLine(
        one.label, one.name, url, one.balance.now.said(), one.survival.said(),
        one.holding_id == this,
    )  # fmt: skip


def _clutch(one: ClutchLine) -> FareLine:
    url = address_of("clutch.show", clutch_id=one.clutch_id)
    return FareLine(
        one.name, one.pair, url, one.balance.now.said(), one.survival.said()
    )


def _hatched(held: HoldingFacts) -> str:
    """Its nights; those of no hatch in the book are said here, or put right."""
    said = ""
    if held.hatched is not None:
        first, last = held.hatched
        said = first.label if first == last else f"{first.label} to {last.label}"
    if held.clutch_ids:
        return said
    return linked(said or "not known: say which night", "records.correct", fact_id=held.id)


def _facts(page: LarvalTankPage, room_time: RoomTime, now: datetime) -> tuple[tuple[str, str], ...]:
    balance, held = page.balance, page.holding
    gaps = "; ".join(
        f"{gap.number.said()}, {say_when(gap.when, room_time)}" for gap in balance.gaps
    )
    species = page.plan.species if page.plan is not None else None
    return (
        ("began with", balance.start.said()),
        ("lost", balance.lost.said() if balance.lost.best != 0 else ""),
        ("moved on alive", balance.left_alive.said() if balance.left_alive.best != 0 else ""),
        ("unexplained", gaps),
        ("tank", linked(held.place.label, "tank.show", tank_id=held.place.tank_id)),
        ("treated", treatment_presenter.over_said(page.treatments, room_time, now)),
        ("hatched", _hatched(held)),
        ("parents", page.parents or "not known"),
        ("species", species.scientific_name if species else species_said(held.species_key)),
        ("book", linked("every entry, with the balance", "stock_book.batch", holding_id=held.id)),
        ("beside it", linked("all batches of the species" if held.species_key else "",
                             "stock_book.survival", key=held.species_key)),
        ("plan", _kept_plan(page)),
        ("note", held.note),
    )


def _kept_plan(page: LarvalTankPage) -> str:
    if page.plan is None or page.plan.follows_today or page.ended_at is not None:
        return ""
    changed = "as the batch began; the species file has changed since"
    return linked(changed, "larval_tank.replan", holding_id=page.holding.id)


# --- What came ----------------------------------------------------------------------------


def _came(line: EntryLine, held: HoldingFacts, room_time: RoomTime) -> CameLine:
    what, why = _what(line, held, room_time)
    url = address_of("records.entry", fact_id=line.fact_id) if line.fact_id else ""
    return CameLine(say_when(line.when, room_time), what, why, line.note, url)


def _what(line: EntryLine, held: HoldingFacts, room_time: RoomTime) -> tuple[str, str]:
    if line.place is not None:
        return f"moved to {line.place.label}", ""
    if line.mark:
        return line.mark, ""
    if line.prey:
        return line.prey, ""
    if line.row is None:
        return "", ""
    left = f"then {line.row.after.said()}"
    if isinstance(line.row.entry, Count):
        return _counted(line, line.row, room_time), left
    entry = line.row.entry
    said = entry.number.said()
    if entry.number.basis is Basis.UNKNOWN:
        said = entry.number.written or "a number not known"
    other = line.other.full_name if line.other is not None else "another batch"
    if entry.door is Door.HATCHED:
        return f"{said} put in as they hatched", left
    if entry.door in (Door.MOVED, Door.KEPT):
        way = f"from {other}" if entry.into == held.id else f"to {other}"
        return f"{said} {entry.door} {way}", left
    reason = f" ({entry.reason})" if entry.reason else ""
    return f"{said} {entry.door}{reason}", left


def _counted(line: EntryLine, row: Row, room_time: RoomTime) -> str:
    said = number_told(row.entry.number)
    if line.settled is not None:
        swimming = f", {line.swimming} swimming" if line.swimming is not None else ""
        said = f"{line.settled} settled{swimming}"
    if row.gap is not None and holds_the_book(row):
        said += f"; {row.gap.number.said()} fewer than the book had, within the range of this count"
    elif row.gap is not None:
        since = say_date(room_time.local(row.gap.when.earliest).date())
        said += f"; {row.gap.number.said()} unexplained since {since}"
    if row.raised:
        said += f"; {row.raised} more than the book had"
    if isinstance(row.entry, Count) and row.entry.is_start:
        said += "; it is the number that was put in"
    return f"seen: {said}"


def _life(page: LarvalTankPage, room_time: RoomTime, now: datetime) -> life_line.LifeLine:
    marks = []
    if page.laid is not None:
        marks.append(_mark(page.laid, "laid", life_line.Happening.LAID, room_time))
    marks += [life_line.mark_of(when, "hatch", life_line.Happening.HATCH, room_time)
              for when, _number in page.hatched]  # fmt: skip
    if not marks:
        marks.append(_mark(page.holding.began, "in the tank", life_line.Happening.MOVE, room_time))
    for line in reversed(page.entries):
        if line.mark:
            marks.append(_mark(line.when, line.mark, life_line.Happening.FIRST_FOOD, room_time))
        elif line.place is not None:
            marks.append(_mark(line.when, f"to {line.place.label}", life_line.Happening.MOVE,
                               room_time))  # fmt: skip
        elif line.row is not None and line.other is not None:
            marks.append(_mark(line.when, _went(line), life_line.Happening.MOVE, room_time))
    settled = page.settled
    for word, when in (("first settled", settled.first), ("half", settled.half),
                       ("last", settled.last)):  # fmt: skip
        if when is not None:
            marks.append(_mark(when, word, life_line.Happening.SETTLING, room_time))
    end = now
    if page.ended_at is not None:
        end = max(page.ended_at, *(mark.at for mark in marks))
        marks.append(life_line.Mark(end, "none left", life_line.Happening.END,
                                    say_date(room_time.local(end).date())))  # fmt: skip
    label = "ended" if page.ended_at is not None else f"now, {page.age.said if page.age else ''}"
    return life_line.LifeLine(
        page.holding.name, tuple(marks), _count_marks(page, room_time), end, label.rstrip(", ")
    )


def _went(line: EntryLine) -> str:
    other = line.other
    place = other.place.label if other is not None and other.places else "another tank"
    out = line.row is not None and other is not None and (
        getattr(line.row.entry, "into", None) == other.id
    )
    return f"to {place}" if out else f"from {place}"


def _mark(
    when: When, label: str, kind: life_line.Happening, room_time: RoomTime
) -> life_line.Mark:
    return life_line.Mark(when.middle, label, kind, say_date(room_time.local(when.middle).date()))


def _count_marks(page: LarvalTankPage, room_time: RoomTime) -> tuple[life_line.CountMark, ...]:
    """The balance after the first entry and after each count: what the line above is drawn from."""
    marks = []
    rows = [line.row for line in reversed(page.entries) if line.row is not None]
    for place, row in enumerate(rows):
        number = row.after
        if number.best is None or not (place == 0 or isinstance(row.entry, Count)):
            continue
        at = row.entry.when.latest
        marks.append(
            life_line.CountMark(
                at, number.best, number.said(), say_date(room_time.local(at).date()),
                number.low, number.high,
            )
        )  # fmt: skip
    return tuple(marks)
