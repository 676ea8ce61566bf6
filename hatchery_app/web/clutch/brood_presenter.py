"""A brood that a parent carries, in words and on its line: no hatch night, no larvae."""

from dataclasses import dataclass
from itertools import accumulate
from typing import Any

from markupsafe import Markup

from hatchery_app.domain.clutch.carried_brood import BroodForecast, BroodWords
from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.species.species import Brood
from hatchery_app.domain.when import RoomTime, say_date, say_when
from hatchery_app.services.clutch.clutch_brood import BroodNow
from hatchery_app.services.clutch.clutch_facts import HatchPart
from hatchery_app.services.clutch.clutch_page import ClutchPage, ClutchSeen
from hatchery_app.web.drawing import life_line
from hatchery_app.web.drawing.canvas import Numbers

HEADINGS = {
    "release": "Young came out",
    "all out": "He carries nothing more",
    "lost": "The brood is lost",
}
ASKED = {
    "release": "Write each time down by itself; the parts are added up.",
    "all out": "Say when he was seen without it.",
    "lost": "Say when he was first seen feeding, or empty, with no young anywhere. It was lost "
    "between then and when he was last seen holding.",
}


@dataclass(frozen=True)
class BroodTaps:
    """What can be said of an open brood in one tap or two, in its own words.

    `some_out`: young came, so it can no longer be lost whole, only be over.
    """

    id: int
    out: str
    lost: str
    holding: str
    some_out: bool


@dataclass(frozen=True)
class BroodCame:
    """One thing that happened; `fact_id` leads to its entry."""

    when: str
    what: str
    note: str
    fact_id: int


@dataclass(frozen=True)
class BroodShowPage:
    """One carried brood."""

    heading: str
    id: int
    beside: str
    be: str
    lead: str
    taps: BroodTaps | None
    parts: tuple[tuple[str, str, str], ...]
    out_heading: str
    life: Markup
    life_numbers: Numbers
    came: tuple[BroodCame, ...]
    facts: tuple[tuple[str, str], ...]
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class BroodFormPage:
    """A form about a carried brood; `id` 0 where it is not written down yet."""

    heading: str
    id: int
    lead: str
    form: Any
    part: str
    has_choices: bool = True


def taps(seen: ClutchSeen) -> BroodTaps | None:
    """The buttons of an open brood; None for eggs and for what is over."""
    if seen.brood is None or not seen.clutch.is_open:
        return None
    words = seen.brood.words
    return BroodTaps(
        seen.clutch.id, words.out.capitalize(), words.lost.capitalize(),
        f"Still {words.holding}", bool(seen.brood.out),
    )  # fmt: skip


def said_shortly(seen: ClutchSeen, room_time: RoomTime) -> str:
    """Where the brood stands, in one line."""
    brood = _brood(seen)
    if seen.clutch.ending is not None:
        if brood.out:
            return _out_said(brood)
        return f"{seen.clutch.ending.outcome}, {say_when(seen.clutch.ending.when, room_time)}"
    if brood.forecast is None:
        return brood.words.holding
    if brood.out:
        return f"{_out_said(brood)} · {brood.forecast.day_said} · more may follow"
    return f"{holding_said(brood, brood.forecast)} · {coming_said(brood, brood.forecast)}"


def be(seen: ClutchSeen) -> str:
    """What it asks of the keeper, in two or three words."""
    brood = _brood(seen)
    if seen.clutch.ending is not None:
        lost = seen.clutch.ending.outcome is not ClutchOutcome.HATCHED
        return "lost" if lost else f"all {brood.words.out}"
    if brood.out:
        return "look for more"
    if brood.forecast is not None and brood.forecast.overdue:
        return "see if he still carries"
    if brood.forecast is not None and brood.forecast.look_now:
        return "look for young"
    return brood.words.holding


def holding_said(brood: BroodNow, forecast: BroodForecast) -> str:
    """ "holding, day 12 of about 29"."""
    return f"{brood.words.holding}, {forecast.day_said} of about {forecast.carried.mean:.0f}"


def coming_said(brood: BroodNow, forecast: BroodForecast) -> str:
    """ "release Thu 25 Jun to Sat 4 Jul, most likely Tue 30 Jun (from the species)"."""
    return f"{brood.words.coming} {forecast.window_said} ({forecast.carried.said})"


def shown(page: ClutchPage) -> BroodShowPage:
    """One brood's page."""
    seen, room_time = page.seen, page.room_time
    brood = _brood(seen)
    life = _life(page, brood)
    return BroodShowPage(
        heading=f"{seen.clutch.name} · {seen.whose}",
        id=seen.clutch.id,
        beside=_taken_said(seen, room_time),
        be=be(seen),
        lead=_lead(seen, room_time),
        taps=taps(seen),
        parts=_parts(brood),
        out_heading=brood.words.out.capitalize(),
        life=life_line.life_line(life),
        life_numbers=life_line.numbers(life),
        came=_came(seen, brood, room_time),
        facts=_facts(seen, brood, room_time),
        reasons=_reasons(brood),
    )


def form(seen: ClutchSeen, form: Any, part: str) -> BroodFormPage:
    """A form about a brood."""
    heading = HEADINGS[part]
    if part == "release":
        heading = f"Young {_brood(seen).words.out}"
    if part == "all out":
        heading = f"All {_brood(seen).words.out}"
    name = f"{seen.clutch.name}, {seen.whose}"
    return BroodFormPage(heading, seen.clutch.id, f"{name}. {ASKED[part]}", form, part)


def starting(form: Any, has_choices: bool) -> BroodFormPage:
    """The form for a father seen with a brood."""
    lead = "Who laid it need not be known, nor when he took it up."
    return BroodFormPage("A father carries a brood", 0, lead, form, "start", has_choices)


def _brood(seen: ClutchSeen) -> BroodNow:
    if seen.brood is None:
        raise NotKnown("Nobody carries these eggs.")
    return seen.brood


def _lead(seen: ClutchSeen, room_time: RoomTime) -> str:
    brood = _brood(seen)
    if brood.forecast is None or seen.clutch.ending is not None:
        carried = _days_said(brood)
        return said_shortly(seen, room_time) + (f", carried {carried}" if carried else "")
    return said_shortly(seen, room_time)


def _out_said(brood: BroodNow) -> str:
    spans = sorted({part.nights for part in brood.out})
    number = brood.total.said() if brood.total is not None and brood.total.is_known else ""
    said = f"{number} {brood.words.out}" if number else f"young {brood.words.out}, not counted"
    if len(spans) == 1:
        return f"{said} {'on ' if not spans[0].is_sure else ''}{spans[0].of_night}"
    first, last = spans[0].first, max(span.last for span in spans)
    nights = f"{len(spans)} nights, " if all(span.is_sure for span in spans) else ""
    return f"{said} over {nights}{first.said()} to {last.said()}"


def _days_said(brood: BroodNow) -> str:
    if brood.carried_days is None:
        return ""
    shortest, longest = brood.carried_days
    return f"{shortest} days" if shortest == longest else f"{shortest}–{longest} days"


def _parts(brood: BroodNow) -> tuple[tuple[str, str, str], ...]:
    """Night, number and all so far: the parts are added, never taken for the whole."""
    numbers = [part.number for part in brood.out]
    so_far = accumulate(numbers)
    return tuple(
        (part.nights.said(), part.number.said(), total.said())
        for part, total in zip(brood.out, so_far, strict=True)
    )


def _facts(
    seen: ClutchSeen, brood: BroodNow, room_time: RoomTime
) -> tuple[tuple[str, str], ...]:
    clutch = seen.clutch
    held = brood.last_seen_holding
    pairs = [
        ("parents", seen.parents_said),
        ("where", clutch.place.tank_label),
        ("taken up", say_when(clutch.laid, room_time)),
        ("said", clutch.laid.said),
        ("last seen holding", say_when(held, room_time) if held is not None else ""),
        ("eggs", clutch.eggs.said() if clutch.eggs.is_known else ""),
        ("carried", _days_said(brood)),
        ("young ahead", brood.ahead.said if brood.ahead is not None and not brood.out else ""),
        ("first food", _foods(brood.brood)),
        ("species", seen.species.scientific_name if seen.species else "not known"),
    ]
    return tuple((word, what) for word, what in pairs if what)


def _foods(brood: Brood) -> str:
    foods = [
        f"{stage.food}{f' ({stage.note})' if stage.note else ''}" for stage in brood.first_foods
    ]
    return "; ".join(dict.fromkeys(foods))


def _reasons(brood: BroodNow) -> tuple[str, ...]:
    forecast = brood.forecast
    if forecast is None or brood.out:
        return ()
    words = brood.words
    reasons = [
        f"{words.coming} about day {forecast.carried.mean:.0f} ± {forecast.carried.sd:.0f}, "
        f"{forecast.carried.said}",
    ]
    if forecast.hatch_days is not None:
        reasons.append(f"the eggs hatch inside him about day {forecast.hatch_days:.0f}; the young "
                       "stay until they are let go")  # fmt: skip
    if not forecast.is_start_known:
        reasons.append("when he took it up is not known to the day, so the window is wide")
    if forecast.overdue:
        reasons.append("nearly every such brood is out by now: look whether he still carries it")
    reasons.append("the young are small fish: they have no larval stage and go into a cohort")
    return tuple(reasons)


def _taken_said(seen: ClutchSeen, room_time: RoomTime) -> str:
    return f"taken up {say_when(seen.clutch.laid, room_time)}"


def _came(seen: ClutchSeen, brood: BroodNow, room_time: RoomTime) -> tuple[BroodCame, ...]:
    clutch = seen.clutch
    told = [(clutch.laid, "taken up", clutch.laid_note, clutch.laying_id)]
    told += [(c.when, str(c.kind), c.note, c.fact_id) for c in clutch.checks]
    told += [(p.since, f"{p.why}, to {p.tank_label}", "", p.fact_id) for p in clutch.places[1:]]
    told += [(p.when, _part_said(p, brood.words), p.note, p.fact_id) for p in brood.out]
    ending = clutch.ending
    if ending is not None:
        told.append((ending.when, _ended_said(seen), ending.reason, ending.fact_id))
    told.sort(key=lambda row: (row[0].latest, row[3]), reverse=True)
    return tuple(
        BroodCame(say_when(when, room_time), what, note, fact)
        for when, what, note, fact in told
    )


def _ended_said(seen: ClutchSeen) -> str:
    if seen.clutch.ending is not None and seen.clutch.hatches:
        return f"all {_brood(seen).words.out}"
    return str(seen.clutch.ending.outcome) if seen.clutch.ending else ""


def _part_said(part: HatchPart, words: BroodWords) -> str:
    number = part.number.said() if part.number.is_known else "number not known"
    return f"{words.out}, {number}, {part.nights.of_night.removeprefix('the ')}"


def _life(page: ClutchPage, brood: BroodNow) -> life_line.LifeLine:
    clutch, room_time = page.seen.clutch, page.room_time

    def mark(at: Any, label: str, kind: life_line.Happening) -> life_line.Mark:
        return life_line.Mark(at, label, kind, say_date(room_time.local(at).date()))

    marks = [mark(clutch.laid.middle, "taken up", life_line.Happening.LAID)]
    marks += [mark(check.when.middle, str(check.kind), life_line.Happening.SIGN)
              for check in clutch.checks]  # fmt: skip
    marks += [mark(part.when.middle, brood.words.out, life_line.Happening.HATCH)
              for part in brood.out]  # fmt: skip
    end, ended = page.now, "now"
    if clutch.ending is not None:
        end, ended = clutch.ending.when.latest, "ended"
        marks.append(mark(end, _ended_said(page.seen), life_line.Happening.END))
    elif brood.forecast is not None:
        ended = f"now, {brood.forecast.day_said}"
    return life_line.LifeLine(clutch.name, tuple(marks), (), max(end, clutch.laid.latest), ended)
