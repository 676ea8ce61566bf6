"""Survival: how many are left of how many, how each number was got, and what that allows to say.

A share is never given without both its numbers. It carries the error of the start as well as of
the count now; where the start is not known it is not computed; and more alive than there were at
the start is a start counted too low, which raises the start.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, exp, floor, sqrt
from statistics import NormalDist

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.stock_book.counting import CONFIDENCE, Interval


def wilson(found: int, of: int, confidence: float = CONFIDENCE) -> Interval:
    """Score interval for a share, 0 to 1; the room's standard one.

    Source: Wilson 1927; recommended by Newcombe 1998, Stat. Med. 17:857-872, method 3.
    """
    _refuse_bad_share(found, of)
    z = _z(confidence)
    share = found / of
    centre = share + z**2 / (2 * of)
    half = z * sqrt(share * (1 - share) / of + z**2 / (4 * of**2))
    below = 1 + z**2 / of
    low = 0.0 if found == 0 else (centre - half) / below
    high = 1.0 if found == of else (centre + half) / below
    return Interval(low, high)


def clopper_pearson(found: int, of: int, confidence: float = CONFIDENCE) -> Interval:
    """Exact interval for a share, 0 to 1: never too narrow, often too wide.

    Source: Clopper & Pearson 1934; Newcombe 1998, Stat. Med. 17:857-872, method 5.
    """
    from scipy.special import betaincinv

    _refuse_bad_share(found, of)
    tail = (1 - confidence) / 2
    low = 0.0 if found == 0 else float(betaincinv(found, of - found + 1, tail))
    high = 1.0 if found == of else float(betaincinv(found + 1, of - found, 1 - tail))
    return Interval(low, high)


def newcombe_difference(
    found: int, of: int, other_found: int, other_of: int, confidence: float = CONFIDENCE
) -> Interval:
    """Interval for the first share less the second, -1 to 1, by the hybrid score method.

    Source: Newcombe 1998, Stat. Med. 17:873-890, method 10.
    """
    one, other = wilson(found, of, confidence), wilson(other_found, other_of, confidence)
    share, other_share = found / of, other_found / other_of
    down = sqrt((share - one.low) ** 2 + (other.high - other_share) ** 2)
    up = sqrt((one.high - share) ** 2 + (other_share - other.low) ** 2)
    return Interval(share - other_share - down, share - other_share + up)


def log_normal_ratio(
    now: float, now_se: float, start: float, start_se: float, confidence: float = CONFIDENCE
) -> Interval:
    """Interval for now/start when both are estimates with standard errors; shown to the keeper.

    R x exp(-+ z sqrt((se/now)^2 + (se/start)^2)), the delta method on the logarithm. Needs both
    above zero. May end above 1: the ratio is then cut at 1 where it is shown as survival.
    """
    if now <= 0 or start <= 0:
        raise RuleBroken("A ratio of two estimates needs both above zero.", field="number")
    spread = exp(_z(confidence) * sqrt((now_se / now) ** 2 + (start_se / start) ** 2))
    return Interval(now / start / spread, now / start * spread)


def fieller_ratio(
    now: float, now_se: float, start: float, start_se: float, confidence: float = CONFIDENCE
) -> Interval | None:
    """Interval for now/start by Fieller's theorem, the reference the shown one is tested against.

    None when the start is too uncertain for any bounded interval (g of 1 or more).
    Source: Fieller 1954, J. R. Stat. Soc. B 16:175-185.
    """
    z = _z(confidence)
    g = (z * start_se / start) ** 2
    if g >= 1:
        return None
    ratio = now / start
    inside = now_se**2 + ratio**2 * start_se**2 - g * now_se**2
    half = z / start * sqrt(inside) / (1 - g)
    return Interval(ratio / (1 - g) - half, ratio / (1 - g) + half)


@dataclass(frozen=True)
class Survival:
    """So many of so many, with the interval; shares are 0 to 1.

    `best` is None where only a bound can be said: then `high` is that bound. `interval_by` names
    the method, "" where no interval can be given (a start that is "about"). `start_error` is the
    sentence to show when the start was counted too low: `start` is then the raised one.
    """

    start: HowMany
    alive: HowMany
    best: float | None
    low: float | None
    high: float | None
    interval_by: str = ""
    start_error: str = ""
    named: str = "alive"

    def __post_init__(self) -> None:
        for share in (self.low, self.best, self.high):
            if share is not None and not 0 <= share <= 1:
                raise ValueError(f"A share lies between 0 and 1, not {share}.")

    def said(self) -> str:
        """In words, with both numbers: "58 % alive (23 counted of 40 counted; 42–72 %)"."""
        numbers = f"{self.alive.said()} of {self.start.said()}"
        if self.best is None:
            return f"under {say_bound(self.high or 0)} % {self.named} ({numbers})"
        about = "about " if Basis.ABOUT in (self.start.basis, self.alive.basis) else ""
        band = ""
        if self.low is not None and self.high is not None:
            band = f"; {say_percent(self.low)}–{say_percent(self.high)} %"
        return f"{about}{say_percent(self.best)} % {self.named} ({numbers}{band})"


@dataclass(frozen=True)
class NotComputable:
    """No share can be given; the sentence says which number is missing."""

    start: HowMany
    alive: HowMany
    sentence: str

    def said(self) -> str:
        """The sentence."""
        return self.sentence


def survival(
    start: HowMany,
    now: HowMany,
    *,
    removed: int = 0,
    seen_dead: int = 0,
    named: str = "alive",
    confidence: float = CONFIDENCE,
) -> Survival | NotComputable:
    """The share still alive, or that left alive, of those there were at the start.

    `removed` left alive (moved, sold, given away, kept, sampled): they lived until they left, so
    they count with the living; an arrival loss at the buyer's is among them. `seen_dead` are
    bodies: with the living they are the fewest the start can have been, and a start below that is
    raised. `named` says what is counted: "alive", or "eggs left" of a clutch (never a hatch rate).
    """
    alive = now + HowMany.counted(removed)
    alive = _no_more_than_counted(start, alive)
    seen = alive + HowMany.counted(seen_dead)
    raised, start_error = _raised_start(start, seen)
    missing = _what_is_missing(raised, alive)
    if missing:
        return NotComputable(raised, alive, missing)
    if raised.basis is Basis.AT_LEAST:
        answer = _bound(raised, alive, named)
    else:
        answer = _share(raised, alive, named, confidence)
    return replace(answer, start_error=start_error) if start_error else answer


def _no_more_than_counted(start: HowMany, alive: HowMany) -> HowMany:
    """An estimate above a counted start that the start still fits: the count is the firmer."""
    counted = start.basis is Basis.COUNTED and alive.basis in (Basis.ESTIMATED, Basis.ABOUT)
    if not counted or alive.least > _best(start) or _best(alive) <= _best(start):
        return alive
    high = None if alive.high is None else min(alive.high, _best(start))
    return replace(alive, best=start.best, high=high)


def _raised_start(start: HowMany, seen: HowMany) -> tuple[HowMany, str]:
    """The start raised to those seen since, with the sentence; unchanged if it holds them."""
    if start.best is None or seen.best is None or seen.best <= start.best:
        return start, ""
    if start.basis is Basis.COUNTED:
        raised = replace(seen, method=start.method)
    elif start.basis is Basis.ESTIMATED:
        raised = replace(
            start,
            best=seen.best,
            low=max(start.least, seen.least),
            high=max(_most(start), _most(seen)),
        )
    else:
        raised = HowMany.about(seen.best)
    return raised, (
        f"The start was {start.said()}, but {seen.best} have been seen since: the start was "
        f"too low and is taken as {raised.best}."
    )


def _what_is_missing(start: HowMany, alive: HowMany) -> str:
    if start.basis is Basis.UNKNOWN:
        return "Not computable: how many there were at the start is not known."
    if alive.best is None:
        return "Not computable: how many are left is not known."
    if start.best == 0:
        return "Not computable: there were none at the start."
    if start.basis is Basis.AT_LEAST and _most(alive) >= start.least:
        return (
            f"Not computable: the start is only known to be {start.said()}, and "
            f"{alive.said()} are accounted for."
        )
    return ""


def _bound(start: HowMany, alive: HowMany, named: str) -> Survival:
    return Survival(
        start, alive, None, 0.0, _most(alive) / start.least, "bound by the start", named=named
    )


def _share(start: HowMany, alive: HowMany, named: str, confidence: float) -> Survival:
    of, left = _best(start), _best(alive)
    by, band = "", None
    if start.basis is Basis.COUNTED and alive.basis is Basis.COUNTED:
        by, band = "Wilson", wilson(left, of, confidence)
    elif Basis.ABOUT not in (start.basis, alive.basis):
        by, band = _estimated_band(start, alive, confidence)
    if band is None:
        return Survival(start, alive, left / of, None, None, named=named)
    low, high = min(1.0, band.low), min(1.0, band.high)
    return Survival(start, alive, left / of, low, high, by, named=named)


def _estimated_band(
    start: HowMany, alive: HowMany, confidence: float
) -> tuple[str, Interval | None]:
    """The interval where either number is an estimate; with none left, from the lowest start.

    No interval can be given when none are left and the start itself may have been none.
    """
    of, left = _best(start), _best(alive)
    if left == 0:
        fewest = max(start.least, _most(alive))
        if fewest == 0:
            return "", None
        return "Wilson on the lowest start", wilson(_most(alive), fewest, confidence)
    z = _z(confidence)
    return "log-normal ratio", log_normal_ratio(
        left, _standard_error(alive, z), of, _standard_error(start, z), confidence
    )


def _standard_error(number: HowMany, z: float) -> float:
    """Half the interval over z; an estimate's bounds are taken as its 95 % interval."""
    return ((number.most or 0) - number.least) / 2 / z


def say_percent(share: float) -> str:
    """A share in per cent: whole numbers, but one decimal within 1 % of none or of all.

    Halves go up: 23 of 40 is 58 %, though 0.575 is stored as a hair less.
    """
    percent = 100 * share
    near_an_end = 0 < percent < 1 or 99 < percent < 100
    return f"{percent:.1f}" if near_an_end else f"{floor(percent + 0.5 + 1e-9)}"


def say_bound(share: float) -> str:
    """A share that is not reached, in per cent: rounded up, or the words would be false."""
    percent = 100 * share - 1e-9
    return f"{ceil(10 * percent) / 10:.1f}" if percent < 1 else f"{ceil(percent)}"


def _best(number: HowMany) -> int:
    return number.best or 0


def _most(number: HowMany) -> int:
    return number.most if number.most is not None else _best(number)


def _z(confidence: float) -> float:
    return NormalDist().inv_cdf((1 + confidence) / 2)


def _refuse_bad_share(found: int, of: int) -> None:
    if of <= 0:
        raise RuleBroken("A share needs a whole above zero.", field="number")
    if not 0 <= found <= of:
        raise RuleBroken(f"{found} of {of} is not a share.", field="number")
