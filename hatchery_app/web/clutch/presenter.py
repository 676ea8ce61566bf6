"""A clutch in words and drawings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from hatchery_app.domain.clutch.clutch import CheckKind, EggMove, eggs_left_said
from hatchery_app.domain.clutch.hatch_forecast import HatchForecast
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.worked_count import number_told
from hatchery_app.domain.when import Night, RoomTime, say_date, say_when
from hatchery_app.services.clutch.clutch_facts import Check, ClutchFacts, EggPlace, HatchPart
from hatchery_app.services.clutch.clutch_page import (
    ClutchList,
    ClutchPage,
    ClutchSeen,
    InTank,
    MovedBy,
)
from hatchery_app.web.addresses import linked
from hatchery_app.web.clutch import brood_presenter, nights_presenter
from hatchery_app.web.drawing import life_line, ten_eggs
from hatchery_app.web.drawing.canvas import Numbers

SHOWN_AHEAD = 4  # nights that fit a tablet's column; the page of one clutch shows 14
MOST_AHEAD = 8  # where the window lies later; two rows on a telephone
HALF_A_TENTH = 0.05


@dataclass(frozen=True)
class CameLine:
    """One thing that happened to the eggs; `fact_id` leads to its entry."""

    when: str
    what: str
    note: str
    fact_id: int


@dataclass(frozen=True)
class ClutchLine:
    """A clutch in a list: what to do about it, why, and its next nights."""

    id: int
    name: str
    whose: str
    place: str
    be: str
    said: str
    nights: Markup
    numbers: Numbers | None
    brood: brood_presenter.BroodTaps | None = None


@dataclass(frozen=True)
class ListPage:
    """The clutches of the room."""

    heading: str
    open: tuple[ClutchLine, ...]
    finished: tuple[ClutchLine, ...]


@dataclass(frozen=True)
class MovedLine:
    """What one entry did to the nights; `fact_id` leads to it."""

    what: str
    by: str
    fact_id: int


@dataclass(frozen=True)
class ShowPage:
    """One clutch. `answers_open`: eggs may be left, so that something can be said of them."""

    heading: str
    id: int
    beside: str
    be: str
    window: str
    facts: tuple[tuple[str, str], ...]
    nights: Markup
    numbers: Numbers | None
    told: tuple[tuple[str, str], ...]
    reasons: tuple[str, ...]
    moved: tuple[MovedLine, ...]
    narrows: str
    life: Markup
    life_numbers: Numbers
    came: tuple[CameLine, ...]
    is_open: bool
    check_list: tuple[str, ...] = ()
    rest_on: str = "What the nights rest on"


@dataclass(frozen=True)
class ClutchFormPage:
    """A form about one clutch, with what the keeper wants to know while filling it."""

    heading: str
    id: int
    name: str
    tonight: str
    form: Any
    part: str


def listed(answer: ClutchList, room_time: RoomTime) -> ListPage:
    """The list's words."""
    return ListPage(
        "Clutches",
        tuple(line(seen, room_time) for seen in answer.open),
        tuple(line(seen, room_time) for seen in answer.finished),
    )


def line(seen: ClutchSeen, room_time: RoomTime) -> ClutchLine:
    """One clutch in a list."""
    nights = eggs_of(seen.forecast, SHOWN_AHEAD)
    return ClutchLine(
        id=seen.clutch.id,
        name=seen.clutch.name,
        whose=seen.whose,
        place=seen.clutch.place.tank_label,
        be=be_there(seen),
        said=said_shortly(seen, room_time),
        nights=ten_eggs.row_of_nights(nights, f"Nights of {seen.clutch.name}")
        if nights else Markup(""),
        numbers=ten_eggs.numbers(nights, seen.clutch.name) if nights else None,
        brood=brood_presenter.taps(seen),
    )  # fmt: skip


def shown(page: ClutchPage) -> ShowPage:
    """One clutch's page."""
    seen, room_time = page.seen, page.room_time
    nights = nights_presenter.drawn(page)
    life = _life(page)
    forecast = seen.forecast
    return ShowPage(
        heading=f"{seen.clutch.name} · {seen.whose}",
        id=seen.clutch.id,
        beside=f"laid {say_when(seen.clutch.laid, room_time)}",
        be=be_there(seen),
        window=window_said(seen, room_time),
        facts=_facts(seen, room_time),
        nights=nights.drawn,
        numbers=nights.numbers,
        told=nights_presenter.in_words(seen, room_time),
        reasons=_reasons(page),
        moved=tuple(_moved_said(each, page) for each in page.moved),
        narrows=forecast.narrows if forecast else "",
        life=life_line.life_line(life),
        life_numbers=life_line.numbers(life),
        came=came(seen.clutch, room_time, page.in_tanks),
        is_open=seen.clutch.is_open,
        check_list=page.check_list,
        rest_on="What the hours rest on" if seen.hours is not None else "What the nights rest on",
    )


def form(page: ClutchPage, form: Any, heading: str, part: str) -> ClutchFormPage:
    """A form about a clutch."""
    return ClutchFormPage(
        heading, page.seen.clutch.id, f"{page.seen.clutch.name}, {page.seen.whose}",
        tonight_said(page.seen), form, part,
    )  # fmt: skip


def tonight_said(seen: ClutchSeen) -> str:
    """ "Tonight is the night of Thu 19 Nov, night 5. Expected: night 6–8, most likely 7"."""
    said = f"Tonight is the night of {seen.tonight.said(seen.laid_night)}."
    forecast = seen.forecast
    if forecast is not None and forecast.window_said:
        said += f" Expected: {forecast.window_said}."
    return said


def pulled_early(page: ClutchPage, why: EggMove) -> str:
    """A warning where a tile was pulled before the first night it is expected on; else ""."""
    forecast = page.seen.forecast
    if why is not EggMove.PULLED or forecast is None or forecast.prepare_from is None:
        return ""
    first = forecast.prepare_from
    if page.seen.tonight >= first:
        return ""
    return (
        f"Pulled, and written down. {tonight_said(page.seen)} The first night to prepare for is "
        f"{first.said(page.seen.laid_night)}: this is early."
    )


def be_there(seen: ClutchSeen) -> str:
    """What the forecast asks of the keeper tonight, in two or three words."""
    clutch, forecast = seen.clutch, seen.forecast
    if seen.brood is not None:
        return brood_presenter.be(seen)
    if clutch.ending is not None:
        return str(clutch.ending.outcome)
    if seen.hours is not None:
        return "look at the eggs" if seen.hours.passed else "be there" if seen.hours.due else ""
    if forecast is None:
        return ""
    if forecast.unknown is not None or forecast.very_late:
        return "look at the eggs"
    if forecast.part_hatched:
        return "the rest tonight"
    if forecast.chance_tonight >= 0.25 or forecast.overdue:
        return "be there"
    if forecast.prepare_from is not None and forecast.tonight >= forecast.prepare_from:
        return "prepare"
    return ""


def said_shortly(seen: ClutchSeen, room_time: RoomTime) -> str:
    """Where it stands, in one line: the night, what it rests on, from when to watch."""
    if seen.brood is not None:
        return brood_presenter.said_shortly(seen, room_time)
    if seen.clutch.ending is not None:
        if seen.clutch.hatches:
            return _hatched_said(seen.clutch)
        return f"{seen.clutch.ending.outcome}, {say_when(seen.clutch.ending.when, room_time)}"
    if seen.hours is not None:
        return seen.hours.said(room_time)
    parts = [f"night {seen.night_number}" if seen.night_number >= 0 else ""]
    forecast = seen.forecast
    if forecast is not None and forecast.unknown is not None:
        parts.append(forecast.unknown)
    elif forecast is not None:
        parts += list(forecast.reasons[:1])
        tonight = forecast.on(forecast.tonight)
        if tonight is not None and forecast.chance_tonight >= HALF_A_TENTH:
            parts.append(f"watch from {room_time.local(tonight.watch_from):%H:%M}")
        elif forecast.prepare_from is not None and forecast.prepare_from > forecast.tonight:
            parts.append(f"prepare from {forecast.prepare_from.said()}")
    return " · ".join(part for part in parts if part)


def eggs_of(forecast: HatchForecast | None, ahead: int) -> list[ten_eggs.NightChance]:
    """The next nights as ten eggs each, as many more as its window needs to be seen."""
    if forecast is None or forecast.unknown is not None:
        return []
    nights = [night for night in forecast.nights if night.night >= forecast.tonight]
    if ahead > 1 and forecast.window is not None:
        ahead = max(ahead, min(forecast.window[1].number(forecast.tonight) + 1, MOST_AHEAD))
    return [nights_presenter.egg_night(night, forecast) for night in nights[:ahead]]


def window_said(seen: ClutchSeen, room_time: RoomTime) -> str:
    """The window, or why there is none."""
    forecast = seen.forecast
    if seen.clutch.ending is not None:
        return _hatched_said(seen.clutch)
    if seen.hours is not None:
        return f"Floating eggs, at any hour: {seen.hours.said(room_time)}."
    if forecast is None:
        return "This species is not forecast by the night."
    return forecast.unknown or f"{forecast.window_said}, {_window_chance(forecast)}"


def _window_chance(forecast: HatchForecast) -> str:
    held = ten_eggs.NightChance("", min(forecast.window_chance, 1.0))
    words = ten_eggs.chance_words(held)
    return f"{words} such clutches" if "of 10" in words else words


def _hatched_said(clutch: ClutchFacts) -> str:
    ending = str(clutch.ending.outcome) if clutch.ending else ""
    if not clutch.hatches:
        return ending
    spans = sorted({part.nights for part in clutch.hatches})
    if all(span.is_sure for span in spans):
        return "hatched the night of " + " and ".join(span.said() for span in spans)
    return "hatched on " + " and on ".join(span.of_night for span in spans)


def _facts(seen: ClutchSeen, room_time: RoomTime) -> tuple[tuple[str, str], ...]:
    clutch = seen.clutch
    eggs = [check for check in clutch.checks if check.kind is CheckKind.EGGS]
    pairs = [
        ("tonight", "" if clutch.ending else f"night {seen.night_number}"),
        ("parents", linked(seen.parents_said, "broodstock.pair", pair_id=clutch.pair_id)
         if clutch.pair_id is not None else seen.parents_said),
        ("tended by", seen.tended_by),
        ("where", linked(clutch.place.tank_label, "tank.show", tank_id=clutch.place.tank_id)),
        ("laid", say_when(clutch.laid, room_time) + (" · from memory" if clutch.laid.from_memory
                                                     else "")),
        ("as said", clutch.laid.said),
        ("eggs", clutch.eggs.said()),
        ("eggs left", _eggs_left(clutch, eggs, room_time)),
        ("on", clutch.surface),
        ("species", seen.species.scientific_name if seen.species else "not known"),
    ]  # fmt: skip
    return tuple((word, what) for word, what in pairs if what)


def _eggs_left(clutch: ClutchFacts, eggs: Sequence[Check], room_time: RoomTime) -> str:
    """The last count of the eggs beside the first: at the laying, else the first look's."""
    known = [one.number for one in eggs if one.number.is_known]
    first = clutch.eggs if clutch.eggs.is_known else known[0] if len(known) > 1 else None
    if not eggs:
        return ""
    said = eggs_left_said(first or HowMany.unknown(), eggs[-1].number)
    return f"{said or 'not known'}, {say_when(eggs[-1].when, room_time)}"


def came(
    clutch: ClutchFacts, room_time: RoomTime, in_tanks: Mapping[int, tuple[InTank, ...]]
) -> tuple[CameLine, ...]:
    """What came, newest first."""
    told = [(clutch.laid.latest, clutch.laid, "laid", clutch.laid_note, clutch.laying_id)]
    told += [(c.when.latest, c.when, _check_said(c), c.note, c.fact_id) for c in clutch.checks]
    told += [(p.since.latest, p.since, _place_said(p), "", p.fact_id) for p in clutch.places[1:]]
    told += [
        (h.when.latest, h.when, _hatch_said(h, in_tanks.get(h.fact_id, ())), h.note, h.fact_id)
        for h in clutch.hatches
    ]
    if clutch.ending is not None:
        ending = clutch.ending
        told.append(
            (ending.when.latest, ending.when, str(ending.outcome), ending.reason, ending.fact_id)
        )
    told.sort(key=lambda row: (row[0], row[4]), reverse=True)
    return tuple(
        CameLine(say_when(when, room_time), what, note, fact_id)
        for _at, when, what, note, fact_id in told
    )


def _check_said(check: Check) -> str:
    match check.kind:
        case CheckKind.SIGN:
            return f"{check.sign} seen" if check.seen else f"no {check.sign} yet"
        case CheckKind.EGGS:
            return f"eggs left: {number_told(check.number)}"
        case CheckKind.LOSSES:
            return f"eggs lost: {number_told(check.number)}"
        case CheckKind.WATCHED_NONE:
            return f"watched, none hatched by then{_of_night(check.night)}"
        case CheckKind.LAMP_ON:
            return f"a lamp was on{_of_night(check.night)}"
        case _:
            return str(check.kind)


def _of_night(night: Night | None) -> str:
    return f" (night of {say_date(night.evening)})" if night is not None else ""


def _place_said(place: EggPlace) -> str:
    return f"{place.why}, to {place.tank_label}"


def _hatch_said(part: HatchPart, in_tanks: Sequence[InTank]) -> str:
    said = f"{part.share or 'hatched'}, {number_told(part.number)}" if (
        part.number.is_known or part.number.written) else (
        f"{part.share} hatched" if part.share else "hatched, number not known"
    )  # fmt: skip
    marks = [word for word, so in (("found by day", part.found_by_day),
                                   ("after handling", part.after_handling)) if so]  # fmt: skip
    put = "; ".join(f"{number_told(one.number)} put in {one.label}" for one in in_tanks)
    if put and not (part.number.is_known or part.number.written.strip("?") or part.share):
        said = "hatched"  # what was put in tanks says more than that nobody counted them first
    return f"{said}, {part.nights.of_night.removeprefix('the ')}" + (
        f" ({', '.join(marks)})" if marks else ""
    ) + (f": {put}" if put else "")


def _reasons(page: ClutchPage) -> tuple[str, ...]:
    """What the nights rest on, but for what was seen, which has lines of its own."""
    forecast = page.seen.forecast
    if page.seen.hours is not None and page.seen.clutch.ending is None:
        return page.seen.hours.reasons
    own = {each.moved.words for each in page.moved}
    return tuple(why for why in forecast.reasons if why not in own) if forecast else ()


def _moved_said(each: MovedBy, page: ClutchPage) -> MovedLine:
    """ "eyes seen Tue 24 Nov 13:00", "0.4 nights earlier; night 7: 5 to 7 of 10"."""
    moved, laid_night = each.moved, page.seen.laid_night
    if abs(moved.nights_later) < HALF_A_TENTH:
        by = "moved nothing"
    else:
        way = "later" if moved.nights_later > 0 else "earlier"
        by = f"{abs(moved.nights_later):.1f} nights {way}"
    shift = abs(moved.chance_after - moved.chance_before)
    if moved.night is not None and shift >= HALF_A_TENTH:
        tenths_only = page.seen.forecast is None or page.seen.forecast.in_tenths
        before, after = (
            _chance_said(chance, tenths_only)
            for chance in (moved.chance_before, moved.chance_after)
        )
        out_of = "of 10" if tenths_only else "of 100"
        by += f"; night {moved.night.number(laid_night)}: {before} to {after} {out_of}"
    return MovedLine(moved.words, by, each.fact_id)


def _chance_said(chance: float, tenths_only: bool) -> str:
    if not tenths_only:
        return f"{round(chance * 100)}"
    return ten_eggs.chance_words(ten_eggs.NightChance("", min(chance, 1.0))).removesuffix(" of 10")


def _life(page: ClutchPage) -> life_line.LifeLine:
    clutch, room_time = page.seen.clutch, page.room_time
    marks = [_mark(clutch.laid.middle, "laid", life_line.Happening.LAID, room_time)]
    marks += _signs(clutch.checks, room_time)
    marks += [_mark(place.since.middle, str(place.why), life_line.Happening.MOVE, room_time)
              for place in clutch.places[1:]]  # fmt: skip
    marks += [life_line.mark_of(part.when, "hatch", life_line.Happening.HATCH, room_time)
              for part in clutch.hatches]  # fmt: skip
    end = page.now
    if clutch.ending is not None:
        end = clutch.ending.when.latest
        marks.append(_mark(end, str(clutch.ending.outcome), life_line.Happening.END, room_time))
    return life_line.LifeLine(
        clutch.name, tuple(marks), (), max(end, clutch.laid.latest),
        "ended" if clutch.ending else f"now, night {page.seen.night_number}",
    )  # fmt: skip


def _mark(at: Any, label: str, kind: life_line.Happening, room_time: RoomTime) -> life_line.Mark:
    return life_line.Mark(at, label, kind, f"{say_date(room_time.local(at).date())}")


def _signs(checks: Sequence[Check], room_time: RoomTime) -> list[life_line.Mark]:
    return [
        _mark(check.when.middle, check.sign, life_line.Happening.SIGN, room_time)
        for check in checks
        if check.kind is CheckKind.SIGN and check.seen
    ]
