"""What is seen of a clutch before it is gone, and what each sight says about its hatch night."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import hypot, sqrt

from hatchery_app.domain.clutch.learned_readiness import normal_below
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.species.species import Incubation
from hatchery_app.domain.when import Night, RoomTime, When, say_when

# When a sign shows, as a fraction of incubation: mean and spread. Midpoints of published bands:
# darkening from day 2 to day 3 of about 8 (keepers); eyes pigmented on day 4–5 (A. ocellaris,
# Yasir & Qin 2007); silver on day 6–7 of A. sebae, about a day before hatch in A. ocellaris.
SIGN_SHOWS_AT = {"dark": (0.32, 0.08), "eyes": (0.575, 0.06), "silver": (0.875, 0.05)}
LEAST_SIGN_SPREAD = 0.05  # of incubation: a published band is its middle, eyes differ; assumed
# What one keeper calls eyes another calls dark, each the same way every time: a sign moves the
# nights, it never outvotes a pair's own hatches. Assumed, of incubation.
KEEPERS_SIGN_SPREAD = 0.08
# Of a clutch partly hatched, the share of what is left that follows each night. A clutch can
# hatch over two nights (keeper's diary, 2016); the share itself is assumed.
REST_FOLLOWS = 0.8
# A tile moved late: hatch on the night due, the next, the one after. Assumed.
MOVED_LATE_SPREADS = (0.6, 0.3, 0.1)


@dataclass(frozen=True)
class NoneBy:
    """The whole clutch was still on the tile at an instant: watched in vain until then."""

    at: datetime


@dataclass(frozen=True)
class SignSeen:
    """A sign of age looked for at an instant: "dark", "eyes" or "silver", there or not yet."""

    at: datetime
    sign: str
    seen: bool = True

    def __post_init__(self) -> None:
        if self.sign not in SIGN_SHOWS_AT:
            raise RuleBroken(
                f"A sign is one of {', '.join(SIGN_SHOWS_AT)}, not “{self.sign}”.", field="sign"
            )


@dataclass(frozen=True)
class PartHatched:
    """A part of the clutch hatched on a night; the rest is still on the tile.

    Found late it may have been any night from `first` to `night`: the rest was there after both.
    """

    night: Night
    part: str = "a part"
    first: Night | None = None


@dataclass(frozen=True)
class LampOn:
    """Light was (or will be) on all night: that night cannot hatch."""

    night: Night


@dataclass(frozen=True)
class MovedLate:
    """The tile was moved shortly before its hatch: it spreads over more evenings."""

    at: datetime


Evidence = NoneBy | SignSeen | PartHatched | LampOn | MovedLate


@dataclass(frozen=True)
class HatchWindow:
    """The hours of one night in which a clutch can hatch, at its own lamp (all UTC).

    `watch_until`: end of the usual hatch hours; eggs ready later wait for the next night.
    `half_by`: half of such hatches have begun.
    """

    night: Night
    number: int
    dark_from: datetime
    dark_until: datetime
    watch_from: datetime
    half_by: datetime
    watch_until: datetime
    place: str

    def share_begun(self, at: datetime) -> float:
        """The share of such a night's hatches that have begun by an instant."""
        if at >= self.watch_until:
            return 1.0
        if at <= self.dark_from:
            return 0.0
        half_by = min(self.half_by, self.watch_until)
        if at <= half_by:
            return 0.5 * ((at - self.dark_from) / (half_by - self.dark_from))
        return 0.5 + 0.5 * ((at - half_by) / (self.watch_until - half_by))


def still_possible(window: HatchWindow, evidence: Sequence[Evidence]) -> float:
    """The share of a night's chance that what was seen leaves: 0 once it passed without hatch.

    A watch that ended inside the hatch hours rules out only what would have begun by then.
    """
    left = 1.0
    for seen in evidence:
        if isinstance(seen, NoneBy | SignSeen):
            left = min(left, 1 - window.share_begun(seen.at))
    return left


def lamp_nights(evidence: Sequence[Evidence]) -> frozenset[Night]:
    """The nights that cannot hatch for light."""
    return frozenset(seen.night for seen in evidence if isinstance(seen, LampOn))


def sign_shows_at(species: Incubation, sign: str) -> tuple[float, float]:
    """When a sign shows in a species, as a fraction of incubation: mean and spread.

    From the species' own looks for eyes and silver, else the clownfish defaults.
    """
    for look in species.looks:
        if look.sign == sign and sign != "dark":
            width = look.to_fraction - look.from_fraction
            middle = look.from_fraction + width / 2
            return middle, max(width / sqrt(12), LEAST_SIGN_SPREAD)
    return SIGN_SHOWS_AT[sign]


def sign_likelihood(seen: bool, fraction: float, shows_at: tuple[float, float]) -> float:
    """How likely a sign is there (or not yet) at a fraction of incubation."""
    there = normal_below((fraction - shows_at[0]) / hypot(shows_at[1], KEEPERS_SIGN_SPREAD))
    return there if seen else 1 - there


def said(seen: Evidence, windows: Sequence[HatchWindow], room_time: RoomTime) -> str:
    """An observation in words of the room's clock and the clutch's nights."""
    numbers = {window.night: window.number for window in windows}
    match seen:
        case NoneBy(at):
            return _none_said(at, windows, room_time)
        case SignSeen(at, sign, there):
            name = {"eyes": "eyes", "silver": "silver eyes", "dark": "dark eggs"}[sign]
            when = say_when(When.exactly(at), room_time)
            return f"{name} seen {when}" if there else f"no {name} yet {when}"
        case PartHatched(night, part, first):
            number = numbers.get(night, night.label)
            nights = f"night {number}"
            if first is not None and first != night:
                nights = f"one of the nights {numbers.get(first, first.label)}–{number}"
            return f"{part} hatched on {nights}, the rest remains"
        case LampOn(night):
            return f"lamp on all night {numbers.get(night, night.label)}: no hatch in the light"
        case MovedLate(at):
            return f"tile moved {say_when(When.exactly(at), room_time)}: spreads over more evenings"


def _none_said(at: datetime, windows: Sequence[HatchWindow], room_time: RoomTime) -> str:
    begun = [window for window in windows if window.dark_from <= at]
    if begun and at <= begun[-1].dark_until:
        return f"none until {room_time.local(at):%H:%M} on night {begun[-1].number}"
    when = say_when(When.exactly(at), room_time)
    return f"no hatch by {when}" + (f", after night {begun[-1].number}" if begun else "")


def hours_after(dark_from: datetime, dark_until: datetime, minutes: float) -> datetime:
    """So many minutes after lights-off, never past lights-on."""
    return min(dark_from + timedelta(minutes=minutes), dark_until)
