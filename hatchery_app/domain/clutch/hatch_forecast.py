"""Which night a clutch hatches: a chance for each night, from what hour, and why.

Thermal time from laying over the readings of the tanks the eggs were in; ready at R; hatch in
the first dark window that ends after that. Everything a page shows is in the answer.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import floor, sqrt

from hatchery_app.domain.clutch.hatch_chances import Chances, night_chances, scenarios_of
from hatchery_app.domain.clutch.hatch_evidence import (
    Evidence,
    HatchWindow,
    NoneBy,
    PartHatched,
    SignSeen,
    lamp_nights,
    said,
)
from hatchery_app.domain.clutch.hatch_reasons import narrowing, temperature_reasons, too_odd
from hatchery_app.domain.clutch.hatch_window import hatch_windows, night_of_laying, numbering_said
from hatchery_app.domain.clutch.learned_readiness import (
    TENTHS_UNTIL_HATCHES,
    Learned,
    Readiness,
    ReadinessInterval,
    readiness,
)
from hatchery_app.domain.clutch.night_span import NightSpan
from hatchery_app.domain.clutch.temperature_course import stay_at, stretches_of
from hatchery_app.domain.clutch.thermal_time import Stay, TemperatureCourse
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.species.species import Incubation
from hatchery_app.domain.when import Night, RoomTime, When, night_of

NIGHTS_AHEAD = 14
NIGHTS_FROM_LAYING = 24  # at 22 °C the slowest published eggs take fewer
PREPARE_FROM_CHANCE = 0.05
WINDOW_CHANCE = 0.90
LOOK_AFTER_CHANCE = 0.95  # so much of the chance has passed: look at the eggs
VERY_LATE_CHANCE = 0.99
NOTHING_LEFT = "Every night on which such a clutch hatches has passed: look at the eggs."
# Of nights whose chances differ by less, the earlier is called likeliest: late is what costs.
HARDLY_LESS_LIKELY = 0.02
WORTH_TELLING = 0.05  # of a chance: half an egg of ten
EARLIEST_CHANCE = 0.005  # a hatch before a night with less than this is asked about


@dataclass(frozen=True)
class NightChance:
    """One night of a clutch: its chance, its dark and the hours to watch (UTC)."""

    night: Night
    number: int
    chance: float
    dark_from: datetime
    dark_until: datetime
    watch_from: datetime
    watch_until: datetime
    place: str
    lamp_on: bool = False

    @property
    def tenths(self) -> int:
        """The chance as so many of ten such clutches."""
        return tenths(self.chance)


@dataclass(frozen=True)
class HatchForecast:
    """A clutch's hatch as of a moment. `unknown` says why there is no figure, else None.

    `nights` run from night 0 to at least 14 nights after tonight; their chances and
    `chance_beyond` sum to 1. `chance_already`: on nights past with nobody looking. `window`
    is the shortest run of nights that holds 90 %, `window_chance` what it holds. `look_after`:
    the night after which the eggs want looking at. `overdue`/`very_late`: 95 %/99 % of the
    chance that the species or pair gave has passed. `in_tenths`: show `tenths`, no percentages.
    """

    tonight: Night
    nights: tuple[NightChance, ...] = ()
    chance_tonight: float = 0.0
    chance_already: float = 0.0
    chance_beyond: float = 0.0
    prepare_from: Night | None = None
    window: tuple[Night, Night] | None = None
    window_chance: float = 0.0
    likeliest: Night | None = None
    watch_from: datetime | None = None
    watch_until: datetime | None = None
    look_after: Night | None = None
    reasons: tuple[str, ...] = ()
    narrows: str = ""
    unknown: str | None = None
    overdue: bool = False
    very_late: bool = False
    part_hatched: bool = False
    pair_hatches: int = 0
    in_tenths: bool = True
    ready: Readiness | None = None
    reached_dd: float | None = None
    laid_night: Night | None = None

    @property
    def ahead(self) -> tuple[NightChance, ...]:
        """Tonight and the nights that follow."""
        return tuple(night for night in self.nights if night.night >= self.tonight)

    @property
    def window_said(self) -> str:
        """The window in words: "night 6–8, most likely 7"; "" without a figure."""
        if self.window is None or self.likeliest is None or self.laid_night is None:
            return ""
        first, last = (night.number(self.laid_night) for night in self.window)
        run = f"night {first}" if first == last else f"night {first}–{last}"
        return f"{run}, most likely {self.likeliest.number(self.laid_night)}"

    def on(self, night: Night) -> NightChance | None:
        """One night's chance; None outside the nights forecast."""
        return next((each for each in self.nights if each.night == night), None)


@dataclass(frozen=True)
class Moved:
    """How far one observation moved the forecast: the mean hatch night, later being positive.

    `night` is the one that is most likely with it, or, where its chance hardly moved, the one
    whose chance moved most; None where none is left. It stood at `chance_before` without.
    """

    words: str
    nights_later: float
    night: Night | None = None
    chance_before: float = 0.0
    chance_after: float = 0.0


def tenths(chance: float) -> int:
    """A chance as whole tenths, halves up."""
    return floor(chance * 10 + 0.5)


def hatch_forecast(
    *,
    laid: When,
    stays: Sequence[Stay],
    room_time: RoomTime,
    species: Incubation,
    learned: Learned | None = None,
    evidence: Sequence[Evidence] = (),
    now: datetime,
) -> HatchForecast:
    """The forecast of one clutch as of `now`, from what was known then.

    `stays`: the tanks and vessels the eggs were in, each with its readings, set point and
    lamp. Readings and evidence after `now` are left out, but for lamps and moves. Raises
    RuleBroken without a stay.
    """
    known = known_by(evidence, now)
    tonight = night_of(now, stay_at(stays, now).lights, room_time)
    laid_night = night_of_laying(laid, stays, room_time)
    last = max(tonight.number(laid_night) + NIGHTS_AHEAD, NIGHTS_FROM_LAYING)
    windows = hatch_windows(laid, stays, room_time, species, learned, last)
    ready = readiness(species, learned)
    try:
        course = _course(laid, stays, species, windows[-1].dark_until, now)
    except NotKnown as missing:
        return _without_figure(
            tonight,
            laid_night,
            missing.sentence,
            "One reading, or the tank's set point, makes a forecast.",
        )
    refused = too_odd(course, species, room_time)
    if refused:
        narrows = "Check the probe; look at the eggs by day: eyes, silver, losses."
        return _without_figure(tonight, laid_night, refused, narrows)
    scenarios = scenarios_of(laid, course, windows, known)
    chances = night_chances(ready, species, windows, scenarios, known, now)
    numbering = numbering_said(laid, stays, room_time)
    reasons = (
        *ready.said(),
        *temperature_reasons(laid, course, species, room_time, now),
        *((numbering,) if numbering else ()),
        *(said(seen, windows, room_time) for seen in known),
    )
    return replace(
        _answer(tonight, windows, chances, known, now),
        reasons=reasons,
        narrows=narrowing(laid, course, ready, known),
        pair_hatches=ready.pair_hatches,
        in_tenths=ready.pair_hatches < TENTHS_UNTIL_HATCHES,
        ready=ready,
        reached_dd=course.between(laid.middle, max(now, laid.middle)),
    )


def what_moved(
    *,
    laid: When,
    stays: Sequence[Stay],
    room_time: RoomTime,
    species: Incubation,
    learned: Learned | None = None,
    evidence: Sequence[Evidence] = (),
    now: datetime,
) -> tuple[Moved, ...]:
    """By how much each observation moved the mean hatch night, taken one after the other.

    Empty without a figure. For one clutch's page: it works the forecast out once more for each.
    """
    known = known_by(evidence, now)

    def forecast(seen: Sequence[Evidence]) -> HatchForecast:
        return hatch_forecast(
            laid=laid,
            stays=stays,
            room_time=room_time,
            species=species,
            learned=learned,
            evidence=seen,
            now=now,
        )

    before, moved = forecast(()), []
    for count in range(1, len(known) + 1):
        after = forecast(known[:count])
        mean_before, mean_after = _mean_number(before), _mean_number(after)
        if mean_before is None or mean_after is None:
            break
        night = _night_moved(before, after)
        moved.append(
            Moved(
                after.reasons[-1], mean_after - mean_before, night,
                _chance_on(before, night), _chance_on(after, night),
            )
        )  # fmt: skip
        before = after
    return tuple(moved)


def earliest_possible_night(
    *,
    laid: When,
    stays: Sequence[Stay],
    room_time: RoomTime,
    species: Incubation,
    learned: Learned | None = None,
    now: datetime,
) -> Night | None:
    """The first night a hatch is to be believed without asking; None without a figure.

    By the species' and the room's spread, the pair's own never narrowing it: the first night by
    which one clutch in two hundred has hatched, laying taken at its earliest.
    """
    wide = Learned(room=learned.room) if learned else None
    forecast = hatch_forecast(
        laid=When.exactly(laid.earliest),
        stays=stays,
        room_time=room_time,
        species=species,
        learned=wide,
        now=now,
    )
    return _first_by(forecast.nights, EARLIEST_CHANCE)


def readiness_told(
    *,
    laid: When,
    stays: Sequence[Stay],
    room_time: RoomTime,
    species: Incubation,
    hatched: NightSpan | None,
    evidence: Sequence[Evidence] = (),
    now: datetime,
) -> ReadinessInterval | None:
    """What a clutch teaches of R: S(end of the last window that passed) < R ≤ S(end of its own).

    `hatched`: the nights its first part may have hatched on, whole: beyond the last window before
    the first, up to the end of the last. None if it never did; then a night watched to the end
    still tells that R lies beyond it. A lamp-lit night has no window. An uncertain laying and
    unread temperatures widen the interval. None where nothing is told: no temperature, or too
    long outside the species' range.
    """
    laid_night = night_of_laying(laid, stays, room_time)
    last = hatched.last if hatched is not None else _last_watched(evidence, stays, room_time)
    if last is None or last < laid_night:
        return None
    number = last.number(laid_night)
    windows = hatch_windows(laid, stays, room_time, species, None, number)
    barred = lamp_nights(evidence)
    try:
        course = _course(laid, stays, species, windows[-1].dark_until + timedelta(days=1), now)
    except NotKnown:
        return None
    if too_odd(course, species, room_time):
        return None
    ended = [w for w in windows if w.night not in barred and _watched_out(w, evidence)]
    open_windows = [w for w in windows if w.night not in barred]
    if hatched is None:
        return ReadinessInterval(_beyond(course, laid, ended), None) if ended else None
    if windows[-1] in ended:  # after its hours had passed in vain: it is the next night's interval
        passed, own = ended, windows[-1].watch_until + timedelta(days=1)
    else:
        passed = [w for w in open_windows if w.night < hatched.first or w in ended]
        own = windows[-1].watch_until
    beyond, upto = _beyond(course, laid, passed), _bound(course, laid.earliest, own, +1)
    slack, blur = _slack_and_blur(course, laid, own)
    return ReadinessInterval(beyond, upto, slack, blur) if upto > beyond else None


def _slack_and_blur(course: TemperatureCourse, laid: When, at: datetime) -> tuple[float, float]:
    """How far the bounds were put out by then, and the standard error that stands for it."""
    end_error = course.thermal_and_error_at(max(at, laid.latest))[1]
    error_dd = end_error - course.thermal_and_error_at(laid.middle)[1]
    half_dd = course.between(laid.earliest, laid.latest) / 2
    return half_dd + error_dd, sqrt(half_dd**2 / 3 + error_dd**2)


def _beyond(course: TemperatureCourse, laid: When, passed: Sequence[HatchWindow]) -> float:
    """Thermal time that the last window passed without a hatch puts R beyond."""
    return max(_bound(course, laid.latest, passed[-1].watch_until, -1), 0.0) if passed else 0.0


def _bound(course: TemperatureCourse, laid_at: datetime, at: datetime, side: int) -> float:
    """Thermal time between two instants, a standard error on the cautious side."""
    end, end_error = course.thermal_and_error_at(max(at, laid_at))
    start, start_error = course.thermal_and_error_at(laid_at)
    return end - start + side * (end_error - start_error)


def _last_watched(
    evidence: Sequence[Evidence], stays: Sequence[Stay], room_time: RoomTime
) -> Night | None:
    nights = [
        night_of(seen.at, stay_at(stays, seen.at).lights, room_time)
        for seen in evidence
        if isinstance(seen, NoneBy)
    ]
    return max(nights, default=None)


def _watched_out(window: HatchWindow, evidence: Sequence[Evidence]) -> bool:
    return any(isinstance(seen, NoneBy) and seen.at >= window.watch_until for seen in evidence)


def known_by(evidence: Sequence[Evidence], now: datetime) -> tuple[Evidence, ...]:
    """What of the evidence a forecast of that moment takes in: looks after it are left out."""
    return tuple(
        seen for seen in evidence if not (isinstance(seen, NoneBy | SignSeen) and seen.at > now)
    )


def _course(
    laid: When, stays: Sequence[Stay], species: Incubation, until_at: datetime, now: datetime
) -> TemperatureCourse:
    low = species.fitted_from_c if species.widen_below_c is None else species.widen_below_c
    high = species.fitted_to_c if species.widen_above_c is None else species.widen_above_c
    until_at = max(until_at, laid.latest + timedelta(days=1))
    return TemperatureCourse(
        stretches_of(stays, laid.earliest, until_at, now, (low, high)), species.t0_c, low, high
    )


def _without_figure(tonight: Night, laid_night: Night, reason: str, narrows: str) -> HatchForecast:
    return HatchForecast(tonight=tonight, unknown=reason, narrows=narrows, laid_night=laid_night)


def _answer(
    tonight: Night,
    windows: Sequence[HatchWindow],
    chances: Chances,
    evidence: Sequence[Evidence],
    now: datetime,
) -> HatchForecast:
    """The answer's nights, window and hours."""
    nights = _nights(windows, chances, lamp_nights(evidence))
    in_part = any(isinstance(seen, PartHatched) for seen in evidence)
    passed = sum(
        chance for w, chance in zip(windows, chances.unseen, strict=True) if w.watch_until <= now
    )
    window, window_chance = _shortest_run(nights)
    most = max(each.chance for each in nights)
    near = (each for each in nights if each.chance >= most - HARDLY_LESS_LIKELY)
    likely = next(near) if window else None
    return HatchForecast(
        tonight=tonight,
        nights=nights,
        chance_tonight=sum(each.chance for each in nights if each.night == tonight),
        chance_already=sum(each.chance for each in nights if each.night < tonight),
        chance_beyond=chances.beyond,
        prepare_from=_first_by(nights, PREPARE_FROM_CHANCE),
        window=window,
        window_chance=window_chance,
        likeliest=likely.night if likely else None,
        watch_from=likely.watch_from if likely else None,
        watch_until=likely.watch_until if likely else None,
        look_after=_first_by(nights, LOOK_AFTER_CHANCE),
        unknown=NOTHING_LEFT if chances.nothing_left else None,
        overdue=not in_part and passed >= LOOK_AFTER_CHANCE,
        very_late=not in_part and passed >= VERY_LATE_CHANCE,
        part_hatched=in_part,
        laid_night=windows[0].night,
    )


def _nights(
    windows: Sequence[HatchWindow], chances: Chances, barred: frozenset[Night]
) -> tuple[NightChance, ...]:
    return tuple(
        NightChance(
            night=window.night,
            number=window.number,
            chance=chance,
            dark_from=window.dark_from,
            dark_until=window.dark_until,
            watch_from=window.watch_from,
            watch_until=window.watch_until,
            place=window.place,
            lamp_on=window.night in barred,
        )
        for window, chance in zip(windows, chances.seen, strict=True)
    )


def _first_by(nights: Sequence[NightChance], chance: float) -> Night | None:
    """The first night by which so much of the chance is reached."""
    reached = 0.0
    for each in nights:
        reached += each.chance
        if reached >= chance:
            return each.night
    return None


def _shortest_run(nights: Sequence[NightChance]) -> tuple[tuple[Night, Night] | None, float]:
    """The shortest run of nights that holds 90 %; of several, the one that holds most."""
    for length in range(1, len(nights) + 1):
        runs = [
            (sum(each.chance for each in nights[first : first + length]), first)
            for first in range(len(nights) - length + 1)
        ]
        held, first = max(runs, key=lambda run: (run[0], -run[1]))
        if held >= WINDOW_CHANCE:
            return (nights[first].night, nights[first + length - 1].night), held
    return None, 0.0


def _night_moved(before: HatchForecast, after: HatchForecast) -> Night | None:
    """The night to tell a move by: the likeliest, unless its chance hardly moved."""
    likeliest = after.likeliest
    if (
        likeliest is None
        or abs(_chance_on(after, likeliest) - _chance_on(before, likeliest)) >= WORTH_TELLING
    ):
        return likeliest
    most = max(after.nights, key=lambda each: abs(each.chance - _chance_on(before, each.night)))
    return most.night


def _chance_on(forecast: HatchForecast, night: Night | None) -> float:
    found = None if night is None else forecast.on(night)
    return 0.0 if found is None else found.chance


def _mean_number(forecast: HatchForecast) -> float | None:
    held = sum(each.chance for each in forecast.nights)
    if held <= 0:
        return None
    return sum(each.number * each.chance for each in forecast.nights) / held
