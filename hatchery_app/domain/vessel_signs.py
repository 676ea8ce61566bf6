"""What a vessel's counts warn of, each sign with what it rests on."""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from hatchery_app.domain.live_food import (
    EGG_RATIO_BREAK_EVEN_CONTESTED,
    EGG_RATIO_FALLING_BELOW,
    EggState,
    egg_state,
    two_figures_said,
)
from hatchery_app.domain.vessel import (
    GROWTH_PER_DAY,
    Cultured,
    Fall,
    VesselNow,
    days_between,
    falls_of,
    producing,
)

EGG_RATIO_WATCH_BELOW = 0.3  # common practice
CLEAN_OUT_AFTER_DAYS = 14  # assumed; between the batches and the standing cultures below
SEED_SHARE = 0.05  # survivors a lost culture is rebuilt from; assumed


@dataclass(frozen=True)
class VesselSign:
    """A warning in a sentence, what it rests on, and whether it is for this very day."""

    words: str
    rests_on: str
    is_alarm: bool = False


def egg_words(ratio: float) -> str:
    """ "0.62 eggs each, growing": the class, and both break-evens where they part."""
    said = f"{ratio:.2f} eggs each, {egg_state(ratio)}"
    if EGG_RATIO_FALLING_BELOW <= ratio < EGG_RATIO_BREAK_EVEN_CONTESTED:
        said += " by one source (breaks even at 0.13), falling by another (0.20)"
    return said


def signs_of(one: VesselNow, *, now: datetime) -> tuple[VesselSign, ...]:
    """Everything that a vessel's own record warns of, the worst first."""
    found = [*_falls(one), *_eggs(one), *_age(one, now)]
    return tuple(sorted(found, key=lambda sign: not sign.is_alarm))


def _falls(one: VesselNow) -> Iterator[VesselSign]:
    if one.crash is not None:
        yield _fall_sign(one.crash, "Nothing of it goes to the larvae; start again from clean.")
        return
    last = one.vessel.last
    for fall in falls_of(one.vessel):
        if fall.after is last:
            yield _fall_sign(fall, "Look for ciliates, foam and smell, and feed it less.")


def _fall_sign(fall: Fall, do: str) -> VesselSign:
    hours = round((fall.after.at - fall.before.at).total_seconds() / 3600)
    return VesselSign(
        f"Fell from {two_figures_said(fall.left_per_ml)} to"
        f" {two_figures_said(fall.after.density.per_ml)} per mL in {hours} hours. {do}",
        "more than a fifth down, beyond the harvest and beyond both counting errors"
        " (common practice)",
        True,
    )


def _eggs(one: VesselNow) -> Iterator[VesselSign]:
    if one.vessel.food is not Cultured.ROTIFERS:
        return
    ratios = [ratio for count in one.vessel.counts if (ratio := count.egg_ratio) is not None]
    if not ratios:
        return
    last = ratios[-1]
    lag = "what eggs show comes 18–24 hours after the stress (Snell et al. 1987)"
    if egg_state(last) is EggState.FALLING:
        yield VesselSign(f"{egg_words(last)}: it will shrink.", f"under 0.13; {lag}", True)
    elif last < EGG_RATIO_BREAK_EVEN_CONTESTED:
        yield VesselSign(f"{egg_words(last)}.", f"where it breaks even is contested; {lag}")
    elif last < EGG_RATIO_WATCH_BELOW:
        yield VesselSign(f"{egg_words(last)}: watch it.", f"under 0.3 (common practice); {lag}")
    if len(ratios) > 2 and all(b < a for a, b in itertools.pairwise(ratios[-3:])):
        yield VesselSign("Eggs fell two counts running.", f"own counts; {lag}")


def _age(one: VesselNow, now: datetime) -> Iterator[VesselSign]:
    began = one.vessel.began_at
    if began is None or not one.vessel.lives:
        return
    days = int(days_between(began, now))
    if days >= CLEAN_OUT_AFTER_DAYS:
        yield VesselSign(
            f"{days} days since it was cleaned out.",
            "six-day batches crashed where two-day ones did not (Attramadal & Sandvand); standing"
            " cultures were kept for 41 days (Kostopoulou et al. 2012); two weeks are assumed",
        )


def spare_sign(vessels: Sequence[VesselNow], food: Cultured) -> VesselSign | None:
    """What is to be said of the spare: none, or one that was lost. None while there are two."""
    alive = producing(vessels, food)
    if len(alive) > 1 or not any(one.vessel.food is food for one in vessels):
        return None
    if not alive:
        return VesselSign(
            f"No culture of {food} stands for harvest.", "the vessels' own records", True
        )
    (only,) = alive
    rate = only.growth.mean if only.growth is not None else GROWTH_PER_DAY
    days = math.log(1 / SEED_SHARE) / rate if rate > 0 else math.inf
    rebuilt = f"{days:.1f} days" if math.isfinite(days) else "longer than larvae wait"
    return VesselSign(
        f"No spare: {only.vessel.label} is the only culture of {food}. Lost, it takes {rebuilt}"
        " to rebuild.",
        f"ln 20 ÷ r from a twentieth left, r {rate:.2f} a day",
    )
