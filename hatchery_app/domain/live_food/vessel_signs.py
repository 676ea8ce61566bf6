"""What a vessel's counts warn of, each sign with what it rests on."""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from hatchery_app.domain.live_food.algae import alga_named, too_thick
from hatchery_app.domain.live_food.live_food import (
    EGG_RATIO_BREAK_EVEN_CONTESTED,
    EGG_RATIO_FALLING_BELOW,
    EggState,
    egg_state,
    two_figures_said,
)
from hatchery_app.domain.live_food.rotifer_life_table import FASTEST_PER_DAY
from hatchery_app.domain.live_food.vessel import (
    Cultured,
    Fall,
    VesselNow,
    WaterLook,
    days_between,
    falls_of,
    intervals_of,
    producing,
)
from hatchery_app.domain.tank.water_reading import un_ionised_beside

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


@dataclass(frozen=True)
class VesselWater:
    """A vessel's water as it was last read, each figure with its moment; None: not lately."""

    temperature_c: float | None = None
    salinity_psu: float | None = None
    ph: float | None = None
    oxygen_mg_l: float | None = None
    total_ammonia_mg_l: float | None = None


def signs_of(
    one: VesselNow, *, now: datetime, water: VesselWater | None = None
) -> tuple[VesselSign, ...]:
    """Everything that a vessel's own record warns of, the worst first."""
    found = [*_falls(one), *_too_fast(one), *_too_thick(one), *_eggs(one)]
    found += [*_looks(one, now), *_age(one, now)]
    if water is not None and one.vessel.lives:
        found += _water(one, water)
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


def _too_thick(one: VesselNow) -> Iterator[VesselSign]:
    """A last count of algae that no culture holds."""
    alga, last = alga_named(one.vessel.strain), one.vessel.last
    if one.vessel.food is not Cultured.ALGAE or alga is None or last is None:
        return
    words = too_thick(alga, last.density.per_ml)
    if words:
        yield VesselSign(words, "twice what its cultures stand at (common practice)")


def _too_fast(one: VesselNow) -> Iterator[VesselSign]:
    """A last interval that no rotifer could grow in, even by its counting error's lower end."""
    if one.vessel.food is not Cultured.ROTIFERS:
        return
    intervals = intervals_of(one.vessel)
    if intervals and intervals[-1].after is one.vessel.last and intervals[-1].low > FASTEST_PER_DAY:
        yield VesselSign(
            f"Grew {intervals[-1].per_day:.2f} a day between the last two counts, which none can."
            " Stir, and count again.",
            f"at most {FASTEST_PER_DAY:.2f} a day by the life table of an S type at 27–28 °C"
            " (Khánh Hòa, 1998–99), if none died",
        )


LOOK_HOLDS = timedelta(days=1)
_LOOKS = {
    WaterLook.UNEATEN: ("Still green when fed again: it does not eat. Feed half and count.", True),
    WaterLook.STARVED: ("Clear long before feeding: it starves. Feed more, or more often.", True),
    WaterLook.FOAM: ("Foam, smell or flocks. Feed less; renew water, or start from clean.", True),
    WaterLook.CILIATES: ("Ciliates. Sieve, rinse and start it from clean.", True),
    WaterLook.ON_THE_WALLS: ("Animals on the walls, or shrunken. Read ammonia and oxygen.", True),
    WaterLook.RESTING_EGGS: ("Males or resting eggs: noted; any dense culture can.", False),
}


def _looks(one: VesselNow, now: datetime) -> Iterator[VesselSign]:
    """What was seen of its water within a day, but for what a later look cleared."""
    if not one.vessel.lives:
        return
    lately = [look for look in one.vessel.looks if now - look.at <= LOOK_HOLDS]
    cleared = max((look.at for look in lately if look.seen is WaterLook.WELL), default=None)
    for seen in dict.fromkeys(look.seen for look in lately if not cleared or look.at > cleared):
        if seen in _LOOKS:
            words, is_alarm = _LOOKS[seen]
            rests_on = "seen within a day; acted on the same day (common practice)"
            if seen is WaterLook.RESTING_EGGS:
                rests_on = "begins above about 147 females a litre (Snell & Boyer 1988)"
            yield VesselSign(words, rests_on, is_alarm)


NH3_ALARM_MG_L, NH3_WATCH_MG_L = 1.0, 0.5
OXYGEN_ALARM_MG_L = 2.0
PH_WATCH = 7.5
FROM_MEMORY = "FAO Fisheries Technical Paper 361, from memory"


def _water(one: VesselNow, water: VesselWater) -> Iterator[VesselSign]:
    """Limits of culture water. Rotifers bear more than larvae do."""
    if one.vessel.food is Cultured.ALGAE:
        return
    if water.oxygen_mg_l is not None and water.oxygen_mg_l < OXYGEN_ALARM_MG_L:
        yield VesselSign(
            f"Oxygen {water.oxygen_mg_l:.1f} mg/L: give more air now.",
            f"under {OXYGEN_ALARM_MG_L:g} mg/L ({FROM_MEMORY})", True,
        )  # fmt: skip
    if water.total_ammonia_mg_l is not None:
        yield from _ammonia(water, water.total_ammonia_mg_l)
    if water.ph is not None and water.ph < PH_WATCH:
        yield VesselSign(
            f"pH {water.ph:.1f}: 7.8–8.2 is liked.", f"under {PH_WATCH:g} ({FROM_MEMORY})"
        )


def _ammonia(water: VesselWater, total_mg_l_n: float) -> Iterator[VesselSign]:
    found, missing = un_ionised_beside(
        total_mg_l_n, water.ph, water.temperature_c, water.salinity_psu
    )
    if found is None:
        if total_mg_l_n > NH3_WATCH_MG_L:
            yield VesselSign(
                f"Total ammonia {total_mg_l_n:g} mg/L N; how much of it poisons {missing}.",
                "only the un-ionised part has a limit",
            )
        return
    said = f"Un-ionised ammonia {found.nh3_mg_l:.2f} mg/L"
    band = f"({found.low_mg_l:.2f}–{found.high_mg_l:.2f} for a pH 0.1 off)"
    if found.nh3_mg_l > NH3_ALARM_MG_L:
        yield VesselSign(
            f"{said} {band}: sieve, rinse, renew the water, feed less.",
            f"over {NH3_ALARM_MG_L:g} mg/L ({FROM_MEMORY})", True,
        )  # fmt: skip
    elif found.high_mg_l > NH3_WATCH_MG_L:
        yield VesselSign(
            f"{said} {band}: watch it.",
            f"{NH3_WATCH_MG_L:g} mg/L is the softer limit, of a feed maker's page;"
            f" {NH3_ALARM_MG_L:g} is that of {FROM_MEMORY}",
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
    said = f"No spare: {only.vessel.label} is the only culture of {food}."
    if only.growth is None:  # nobody knows how fast it grows back
        return VesselSign(said, "the vessels' own records")
    rate = only.growth.mean
    days = math.log(1 / SEED_SHARE) / rate if rate > 0 else math.inf
    rebuilt = f"{days:.1f} days" if math.isfinite(days) else "longer than larvae wait"
    return VesselSign(
        f"{said} Lost, it takes {rebuilt} to rebuild.",
        f"ln 20 ÷ r from a twentieth left, r {rate:.2f} a day",
    )
