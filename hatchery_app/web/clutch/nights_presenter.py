"""The nights of a clutch in words, and drawn: what is to come over what was said a week ago."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.clutch.hatch_forecast import NIGHTS_AHEAD, HatchForecast, NightChance
from hatchery_app.domain.when import Night, RoomTime, say_date
from hatchery_app.services.clutch.clutch_facts import ClutchFacts
from hatchery_app.services.clutch.clutch_page import ClutchPage, ClutchSeen, SaidBefore
from hatchery_app.web.drawing import nights_ahead, ten_eggs
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.drawing.nights_ahead import NO_SIGN_OF, EggRow

NIGHTS_BACK = 7
HALF_A_TENTH = 0.05


@dataclass(frozen=True)
class NightsView:
    """The drawing with its numbers; "" and None where there is no figure."""

    drawn: Markup
    numbers: Numbers | None


def in_words(seen: ClutchSeen, room_time: RoomTime) -> tuple[tuple[str, str], ...]:
    """When to prepare, when to be there, and after which night to look at the eggs."""
    forecast = seen.forecast
    if forecast is None or forecast.unknown is not None or seen.clutch.ending is not None:
        return ()
    laid = forecast.laid_night
    told = []
    if forecast.prepare_from is not None and not forecast.part_hatched:
        already = forecast.prepare_from < forecast.tonight
        told.append(
            ("prepare from", forecast.prepare_from.said(laid) + (" on: now" if already else ""))
        )
    if forecast.window is not None:
        told.append(("be there", be_there_said(forecast, room_time)))
    if forecast.look_after is not None:
        told.append(("look at the eggs", f"after {forecast.look_after.said(laid)}"))
    return tuple(told)


def be_there_said(forecast: HatchForecast, room_time: RoomTime) -> str:
    """ "Fri 27 to Sat 28 Nov (night 7–8), 20:25–23:00"; "" without a window."""
    if forecast.window is None or forecast.laid_night is None:
        return ""
    first, last = forecast.window
    start, end = (night.number(forecast.laid_night) for night in (first, last))
    if first == last:
        said = f"{first.said()} (night {start})"
    else:
        same_month = first.evening.month == last.evening.month
        begin = first.said().rsplit(" ", 1)[0] if same_month else first.said()
        said = f"{begin} to {last.said()} (night {start}–{end})"
    if forecast.watch_from is None or forecast.watch_until is None:
        return said
    from_at, until_at = (room_time.local(at) for at in (forecast.watch_from, forecast.watch_until))
    return f"{said}, {from_at:%H:%M}–{until_at:%H:%M}"


def egg_nights(
    forecast: HatchForecast, nights: Sequence[Night]
) -> tuple[ten_eggs.NightChance | None, ...]:
    """The forecast on these nights; None where it says nothing of one."""
    of_night = {each.night: each for each in forecast.nights}
    return tuple(
        egg_night(of_night[night], forecast) if night in of_night else None for night in nights
    )


def egg_night(night: NightChance, forecast: HatchForecast) -> ten_eggs.NightChance:
    """One night as ten eggs."""
    tonight = night.night == forecast.tonight
    return ten_eggs.NightChance(
        label="tonight" if tonight else night.night.said(),
        chance=min(night.chance, 1.0),
        next=tonight,
        past=night.night < forecast.tonight,
        said="lamp on" if night.lamp_on else _said(night, forecast),
    )


def _said(night: NightChance, forecast: HatchForecast) -> str:
    if forecast.in_tenths or night.chance < HALF_A_TENTH:
        return ""
    return f"{round(night.chance * 100)} of 100"


# --- The page of one clutch ----------------------------------------------------------------


def drawn(page: ClutchPage) -> NightsView:
    """The nights gone by with what came, those ahead, and under both what was said before."""
    seen = page.seen
    forecast = seen.forecast
    if forecast is None or forecast.unknown is not None:
        return NightsView(Markup(""), None)
    came = what_came(seen.clutch)
    nights = _nights(page, forecast, came)
    now = tuple(
        _with_what_came(each, night, forecast, came, is_over=seen.clutch.ending is not None)
        for each, night in zip(egg_nights(forecast, nights), nights, strict=True)
    )
    is_open = seen.clutch.ending is None
    rows = [EggRow("As it stands" if is_open else "What came", now)]
    if page.before is not None:
        rows.append(_before(page.before, nights, page.room_time))
    tonight = nights.index(forecast.tonight) if is_open and forecast.tonight in nights else None
    name = "The nights it may hatch" if is_open else "The nights it might have hatched"
    nights_of = nights_ahead.Nights(
        name, tuple(night.said() for night in nights), tuple(rows), tonight=tonight
    )
    return NightsView(
        nights_ahead.nights_drawn(nights_of, "eggs"), nights_ahead.numbers(nights_of, name)
    )


def _nights(page: ClutchPage, forecast: HatchForecast, came: Mapping[Night, str]) -> list[Night]:
    """From the first of the last week's nights with a sign, to the fourteenth ahead or its end."""
    seen, tonight, ahead = page.seen, forecast.tonight, NIGHTS_AHEAD
    if seen.clutch.ending is not None:
        last = max((part.nights.last for part in seen.clutch.hatches), default=tonight)
        tonight, ahead = min(last, tonight), 1
    said = [forecast] if page.before is None else [forecast, page.before.forecast]
    spoken_of = {each.night for one in said for each in one.nights if each.chance >= NO_SIGN_OF}
    signs = [tonight.plus(-n) for n in range(NIGHTS_BACK + 1)
             if tonight.plus(-n) in spoken_of | set(came)]  # fmt: skip
    first = min(signs, default=tonight)
    return [first.plus(n) for n in range(tonight.plus(ahead).number(first))]


def _with_what_came(
    each: ten_eggs.NightChance | None,
    night: Night,
    forecast: HatchForecast,
    came: Mapping[Night, str],
    *,
    is_over: bool,
) -> ten_eggs.NightChance | None:
    """A night gone by says what came; tonight too, once a part has hatched."""
    if each is None:
        return None
    hatched = came.get(night, "")
    past = night < forecast.tonight or (is_over and night <= forecast.tonight)
    if not past:
        return each
    return ten_eggs.NightChance(
        night.said(), 0.0 if hatched else each.chance, past=True, came=hatched,
        hatched=bool(hatched) and hatched not in (NONE_SEEN, LIT, MAY_BE),
    )  # fmt: skip


NONE_SEEN, LIT, MAY_BE = "none", "lamp on", "perhaps"


def what_came(clutch: ClutchFacts) -> dict[Night, str]:
    """By night: hatched, or so much of it; watched in vain; a lamp left on; "perhaps" each night
    that a hatch found late may have been."""
    came: dict[Night, str] = {}
    for check in clutch.checks:
        if check.night is not None and check.kind is CheckKind.WATCHED_NONE:
            came.setdefault(check.night, NONE_SEEN)
        elif check.night is not None and check.kind is CheckKind.LAMP_ON:
            came[check.night] = LIT
    for part in clutch.hatches:
        if part.nights.is_sure:
            share = part.share.removeprefix("about ").removeprefix("a ")
            came[part.nights.first] = share or "hatched"
        else:
            came |= {night: MAY_BE for night in part.nights.each if night not in came}
    return came


def _before(before: SaidBefore, nights: Sequence[Night], room_time: RoomTime) -> EggRow:
    said = say_date(room_time.local(before.as_of).date())
    cells = tuple(
        None if each is None else ten_eggs.NightChance(each.label, each.chance, said=each.said)
        for each in egg_nights(before.forecast, nights)
    )
    return EggRow(f"Said {said}", cells, before.forecast.window_said.split(",")[0], faint=True)
