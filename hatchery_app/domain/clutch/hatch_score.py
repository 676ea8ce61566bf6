"""How right the hatch forecasts have been: windows, likeliest nights, chances per tenth, log score.

One forecast a clutch, of the evening before its hatch night, makes the verdict; the chances per
tenth take every evening, since the evening before a hatch is chosen by the hatch itself.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import exp, log, sqrt

from hatchery_app.domain.clutch.hatch_forecast import HatchForecast
from hatchery_app.domain.clutch.learned_readiness import normal_below
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import Night

PLAIN_NIGHT = 8  # the rule of thumb the forecast is held against: "night 8"
LEAST_PLAIN_SPREAD_NIGHTS = 0.5
# A night given less than this is scored as this, or one surprise would outweigh all hatches.
LEAST_CHANCE_SCORED = 0.001
ENOUGH_HATCHES = 5  # fewer are told one by one and not judged
ENOUGH_NIGHTS = 20  # nights of a tenth under which its share says nothing


class Timing(StrEnum):
    """Where the likeliest night lay beside the night that came. Late is the expensive error.

    A hatch found late is early or late only where every night it may have been says so.
    """

    EARLY = "early"
    RIGHT = "right"
    LATE = "late"
    NOT_SURE = "not sure"  # found late: the likeliest night is one of those it may have been


@dataclass(frozen=True)
class ForecastSaid:
    """What a forecast said on one evening, by night number of its clutch.

    `chances` run from night `first`; `tonight` is the evening's own number. Raises RuleBroken
    for chances that are none.
    """

    tonight: int
    first: int
    chances: tuple[float, ...]
    window: tuple[int, int]
    window_chance: float
    likeliest: int
    in_tenths: bool = True

    def __post_init__(self) -> None:
        if any(not 0 <= chance <= 1 for chance in self.chances):
            raise RuleBroken("A chance lies between 0 and 1.")
        if self.window[1] < self.window[0]:
            raise RuleBroken("A window ends no earlier than it begins.")

    def chance_of(self, number: int) -> float:
        """The chance given to a night; 0 outside the nights forecast."""
        index = number - self.first
        return self.chances[index] if 0 <= index < len(self.chances) else 0.0


@dataclass(frozen=True)
class Scored:
    """One evening's forecast beside the night on which the clutch's first part hatched.

    Found late it may have been any from `came` to `came_by`; None: `came` is sure. Raises
    RuleBroken when they stand the wrong way.
    """

    said: ForecastSaid
    came: int
    came_by: int | None = None

    def __post_init__(self) -> None:
        if self.came_by is not None and self.came_by < self.came:
            raise RuleBroken("The last night lies before the first.")

    @property
    def last(self) -> int:
        """The last night it may have been."""
        return self.came if self.came_by is None else self.came_by

    @property
    def is_sure(self) -> bool:
        """Whether the night is known."""
        return self.came == self.last

    @property
    def numbers(self) -> range:
        """Every night it may have been."""
        return range(self.came, self.last + 1)

    @property
    def chance_given(self) -> float:
        """The chance the forecast gave to what came: that it was one of these nights."""
        return min(sum(self.said.chance_of(number) for number in self.numbers), 1.0)

    @property
    def is_inside(self) -> bool:
        """Whether the hatch came, or may have come, inside the window stated."""
        return self.said.window[0] <= self.last and self.came <= self.said.window[1]

    @property
    def timing(self) -> Timing:
        """Whether the likeliest night lay before, on or after the night that came."""
        if self.said.likeliest in self.numbers:
            return Timing.RIGHT if self.is_sure else Timing.NOT_SURE
        return Timing.EARLY if self.said.likeliest < self.came else Timing.LATE


@dataclass(frozen=True)
class Verdict:
    """What the forecasts of so many hatches were worth.

    `stated_chance`: the mean of what the windows said they hold. Log scores are means of
    −ln(chance of what came), smaller being better; `plain_spread_nights` is the spread the plain
    rule was given. `found_late`: hatches of which the night is not known, only several.
    """

    hatches: int
    inside: int
    stated_chance: float
    early: int
    right: int
    late: int
    log_score: float
    plain_log_score: float
    plain_spread_nights: float
    not_sure: int = 0
    found_late: int = 0

    @property
    def can_judge(self) -> bool:
        """Whether there are enough hatches to say anything of the whole."""
        return self.hatches >= ENOUGH_HATCHES

    @property
    def typical_chance(self) -> float:
        """The chance the night that came was given, as a geometric mean."""
        return exp(-self.log_score)

    @property
    def plain_typical_chance(self) -> float:
        """The same of the plain rule."""
        return exp(-self.plain_log_score)


@dataclass(frozen=True)
class TenthKept:
    """Of all nights given a chance between two tenths: how many, the mean said, how many came."""

    low: float
    high: float
    nights: int
    mean_said: float
    came: int

    @property
    def share_came(self) -> float:
        """The share of these nights that hatched."""
        return self.came / self.nights

    @property
    def can_judge(self) -> bool:
        """Whether the share says anything."""
        return self.nights >= ENOUGH_NIGHTS


def said_by(forecast: HatchForecast) -> ForecastSaid | None:
    """What a forecast said, by number; None where it gave no figure."""
    laid = forecast.laid_night
    if forecast.unknown or forecast.window is None or forecast.likeliest is None or laid is None:
        return None
    first, last = forecast.window
    return ForecastSaid(
        tonight=forecast.tonight.number(laid),
        first=forecast.nights[0].number,
        chances=tuple(min(each.chance, 1.0) for each in forecast.nights),
        window=(first.number(laid), last.number(laid)),
        window_chance=forecast.window_chance,
        likeliest=forecast.likeliest.number(laid),
        in_tenths=forecast.in_tenths,
    )


def evening_before(came: Night) -> Night:
    """The evening a hatch is scored on: the one before its night."""
    return came.plus(-1)


def verdict(scored: Sequence[Scored]) -> Verdict | None:
    """What one forecast a clutch was worth; None without a hatch."""
    if not scored:
        return None
    spread = plain_spread_nights([(each.came + each.last) / 2 for each in scored])
    timings = [each.timing for each in scored]
    return Verdict(
        hatches=len(scored),
        inside=sum(each.is_inside for each in scored),
        stated_chance=sum(each.said.window_chance for each in scored) / len(scored),
        early=timings.count(Timing.EARLY),
        right=timings.count(Timing.RIGHT),
        late=timings.count(Timing.LATE),
        log_score=mean_log_score(each.chance_given for each in scored),
        plain_log_score=mean_log_score(plain_chance(each, spread) for each in scored),
        plain_spread_nights=spread,
        not_sure=timings.count(Timing.NOT_SURE),
        found_late=sum(not each.is_sure for each in scored),
    )


def mean_log_score(chances: Iterable[float]) -> float:
    """The mean of −ln(chance given to what came). Raises RuleBroken without any."""
    logs = [-log(max(chance, LEAST_CHANCE_SCORED)) for chance in chances]
    if not logs:
        raise RuleBroken("There is nothing to score.")
    return sum(logs) / len(logs)


def plain_spread_nights(came: Sequence[float]) -> float:
    """The spread given to the plain rule: that of the room's own hatches about night 8.

    It is worked out from the very hatches scored, hindsight that favours the rule; one found
    late counts by the middle of its nights, as this is a spread and nobody's hatch.
    """
    square = sum((number - PLAIN_NIGHT) ** 2 for number in came) / len(came)
    return max(sqrt(square), LEAST_PLAIN_SPREAD_NIGHTS)


def plain_chance(scored: Scored, spread_nights: float) -> float:
    """What the plain rule gave what came: a normal about night 8, cut into nights.

    Nights that the forecast had ruled out by what was seen are ruled out for the rule too.
    """
    said = scored.said
    numbers = range(said.first, said.first + len(said.chances))
    possible = [n for n in numbers if n >= said.tonight or said.chance_of(n) > 0]
    held = sum(_plain(n, spread_nights) for n in possible)
    if held <= 0:
        return 0.0
    return sum(_plain(n, spread_nights) for n in scored.numbers if n in possible) / held


def _plain(number: int, spread_nights: float) -> float:
    low, high = (number + half - PLAIN_NIGHT for half in (-0.5, 0.5))
    return normal_below(high / spread_nights) - normal_below(low / spread_nights)


def tenths_kept(evenings: Iterable[Scored]) -> tuple[TenthKept, ...]:
    """How often nights given a chance came, tenth by tenth, over every evening with eggs left.

    An evening counts only while the eggs were there, so each chance is taken as said *given*
    that: divided by what is left from tonight on. Tenths without a night are left out, and so
    are hatches found late: which of their nights came is not known.
    """
    said: list[list[float]] = [[] for _ in range(10)]
    came = [0] * 10
    for evening in evenings:
        forecast = evening.said
        last = forecast.first + len(forecast.chances)
        ahead = [(n, forecast.chance_of(n)) for n in range(forecast.tonight, last)]
        passed = sum(forecast.chance_of(n) for n in range(forecast.first, forecast.tonight))
        left = 1 - passed
        if left <= 0 or evening.came < forecast.tonight or not evening.is_sure:
            continue
        for number, chance in ahead:
            given = min(chance / left, 1.0)
            tenth = min(int(given * 10), 9)
            if given > 0:
                said[tenth].append(given)
                came[tenth] += number == evening.came
    return tuple(
        TenthKept(tenth / 10, (tenth + 1) / 10, len(given), sum(given) / len(given), came[tenth])
        for tenth, given in enumerate(said)
        if given
    )
