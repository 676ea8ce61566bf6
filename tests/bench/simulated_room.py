"""A made-up room whose truth is known: its forecasts, scored against what its clutches then do.

    python -m tests.bench.simulated_room [SEED ...]

Twenty pairs over two years, each pair with an R of its own; water that follows the seasons and
each tank's own offset, read once a day by a thermometer that is a tenth off; one heater failure
a year; layings known to the day; some entries days late, a few too late to be forecast. Half of
the keepers' nights of waiting are written down in the second part. Prints, asserts nothing.
"""

import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from math import cos, exp, log, tau

from hatchery_app.domain.clutch.hatch_evidence import NoneBy, hours_after
from hatchery_app.domain.clutch.hatch_forecast import HatchForecast, hatch_forecast, readiness_told
from hatchery_app.domain.clutch.hatch_score import Scored, said_by, tenths_kept, verdict
from hatchery_app.domain.clutch.learned_readiness import (
    PAIRS_SHARE_OF_VARIANCE,
    Learned,
    ReadinessInterval,
)
from hatchery_app.domain.clutch.night_span import NightSpan
from hatchery_app.domain.clutch.thermal_time import Reading, Stay
from hatchery_app.domain.species.species import Incubation
from hatchery_app.domain.when import Lights, Night, RoomTime, When, dark_window, night_of
from hatchery_app.services.clutch.clutch_watch import NEWEST_FINISHED, NEWEST_OF_A_PAIR
from hatchery_app.services.species.library import library

SEEDS = (1, 2, 3)
PAIRS, YEARS = 20, 2
FIRST_DAY = date(2024, 1, 10)
ROOM = RoomTime("Europe/Lisbon")
LIGHTS = Lights(on=time(8), off=time(20))
STEP = timedelta(hours=1)
READ_AT = time(18)
FAILURE_HOURS, FAILURE_C = 30, 23.5
SHARE_LATE, SHARE_TOO_LATE = 0.10, 0.02
WATCHED_SHARE = 0.5
# The evenings of one clutch say much the same; two at random stand for all.
EVENINGS_OF_A_CLUTCH = 2


@dataclass(frozen=True)
class Truth:
    """What only the maker of the room knows."""

    room_r_dd: float
    pair_r_dd: tuple[float, ...]
    clutch_spread_dd: float
    offsets_c: tuple[float, ...]
    failures: tuple[tuple[int, datetime], ...]


@dataclass(frozen=True)
class SimClutch:
    """One clutch as it was and as it was written down."""

    pair: int
    laid_at: datetime
    laid: When
    laying_known_at: datetime
    hatched: Night
    hatch_known_at: datetime


class Water:
    """The true temperature of every tank, hour by hour, and its thermometer's readings."""

    def __init__(self, truth: Truth, dice: random.Random) -> None:
        self.begin = ROOM.at(FIRST_DAY, time(0)) - timedelta(days=4)
        hours = (YEARS * 366 + 40) * 24
        self._c = [self._tank(pair, truth, hours, dice) for pair in range(PAIRS)]
        self._readings = [self._read(course, dice) for course in self._c]

    def _tank(self, pair: int, truth: Truth, hours: int, dice: random.Random) -> list[float]:
        drift, course = 0.0, []
        for hour in range(hours):
            season = 0.7 * cos(tau * (hour / 24 - 210) / 365)
            drift = 0.98 * drift + dice.gauss(0, 0.05)
            course.append(26.6 + truth.offsets_c[pair] + season + drift)
        for failed, at in truth.failures:
            start = int((at - self.begin) / STEP)
            if failed == pair:
                course[start : start + FAILURE_HOURS] = [FAILURE_C] * FAILURE_HOURS
        return course

    def _read(self, course: list[float], dice: random.Random) -> list[Reading]:
        readings = []
        for day in range(len(course) // 24):
            at = ROOM.at(FIRST_DAY + timedelta(days=day - 3), READ_AT)
            hour = int((at - self.begin) / STEP)
            if hour < len(course):
                readings.append(Reading(at, round(course[hour] + dice.gauss(0, 0.05), 1)))
        return readings

    def ready_at(self, pair: int, laid_at: datetime, r_dd: float, t0_c: float) -> datetime:
        """When eggs laid then have their thermal time."""
        hour, left = int((laid_at - self.begin) / STEP), r_dd
        while left > 0:
            left -= max(self._c[pair][hour] - t0_c, 0.0) / 24
            hour += 1
        return self.begin + hour * STEP

    def stays(self, pair: int, laid: When) -> tuple[Stay, ...]:
        """The tank with the readings from before the laying on."""
        first = max((laid.earliest - self.begin).days - 3, 0)
        near = tuple(self._readings[pair][first : first + 32])
        return (Stay(laid.earliest, None, near, 26.5, LIGHTS, f"B{pair + 1}"),)


def the_truth(species: Incubation, dice: random.Random) -> Truth:
    """A room drawn from what the forecast takes to be possible."""
    spread = species.spread_between_sources_dd
    middle_c = (species.fitted_from_c + species.fitted_to_c) / 2
    usual = species.k_degree_days - 0.5 * (middle_c - species.t0_c)
    room = dice.gauss(usual, spread * (1 - PAIRS_SHARE_OF_VARIANCE) ** 0.5)
    pairs = tuple(dice.gauss(room, spread * PAIRS_SHARE_OF_VARIANCE**0.5) for _ in range(PAIRS))
    failures = tuple(
        (pair, ROOM.at(FIRST_DAY + timedelta(days=year * 365 + dice.randrange(30, 330)), time(3)))
        for year in range(YEARS)
        for pair in dice.sample(range(PAIRS), 8)
    )
    offsets = tuple(dice.gauss(0, 0.3) for _ in range(PAIRS))
    return Truth(room, pairs, dice.uniform(2.5, 4.5), offsets, failures)


def clutches_of(
    truth: Truth, water: Water, species: Incubation, dice: random.Random
) -> list[SimClutch]:
    """Every clutch of the two years, in order of laying."""
    made = []
    for pair in range(PAIRS):
        day = FIRST_DAY + timedelta(days=dice.randrange(12))
        while day < FIRST_DAY + timedelta(days=YEARS * 365):
            laid_at = ROOM.at(day, time(dice.randrange(12, 19), dice.randrange(60)))
            made.append(_clutch(pair, day, laid_at, truth, water, species, dice))
            day += timedelta(days=dice.randrange(11, 18))
    return sorted(made, key=lambda clutch: clutch.laid_at)


def _clutch(
    pair: int,
    day: date,
    laid_at: datetime,
    truth: Truth,
    water: Water,
    species: Incubation,
    dice: random.Random,
) -> SimClutch:
    r_dd = dice.gauss(truth.pair_r_dd[pair], truth.clutch_spread_dd)
    ready = water.ready_at(pair, laid_at, r_dd, species.t0_c)
    night = _hatch_night(ready, species.hatch_hours)
    evening = ROOM.at(day, time(21))
    roll = dice.random()
    late = timedelta(days=12) if roll < SHARE_TOO_LATE else timedelta(days=dice.randrange(2, 6))
    known = evening + (late if roll < SHARE_TOO_LATE + SHARE_LATE else timedelta())
    hatch_known = dark_window(night, LIGHTS, ROOM)[1]
    if dice.random() < SHARE_LATE:
        hatch_known += timedelta(days=dice.randrange(1, 9))
    laid = When.between(ROOM.at(day, time(12)), ROOM.at(day, time(19)))
    return SimClutch(pair, laid_at, laid, known, night, max(hatch_known, known))


def _hatch_night(ready_at: datetime, hours: float) -> Night:
    """The night eggs hatch that are ready at an instant; later than `hours` of dark, the next."""
    night = night_of(ready_at, LIGHTS, ROOM)
    off, on = dark_window(night, LIGHTS, ROOM)
    return night if ready_at <= hours_after(off, on, hours * 60) else night.plus(1)


class Forecaster:
    """The room's own forecaster: it knows on an evening what was written down by then."""

    def __init__(self, clutches: Sequence[SimClutch], water: Water, species: Incubation) -> None:
        self.water, self.species = water, species
        told = [(clutch, self._told(clutch)) for clutch in clutches]
        self._told_by = sorted(told, key=lambda pair: pair[0].laid_at, reverse=True)

    def _told(self, clutch: SimClutch) -> ReadinessInterval | None:
        return readiness_told(
            laid=clutch.laid, stays=self.water.stays(clutch.pair, clutch.laid), room_time=ROOM,
            species=self.species, hatched=NightSpan.sure(clutch.hatched), now=clutch.hatch_known_at,
        )  # fmt: skip

    def learned(self, clutch: SimClutch, now: datetime) -> Learned:
        """The room's newest finished clutches and the pair's own, as a page loads them."""
        finished = [each for each in self._told_by if each[0].hatch_known_at <= now]
        own = [told for other, told in finished if other.pair == clutch.pair]
        newest = finished[:NEWEST_FINISHED]
        others: dict[int, list[ReadinessInterval]] = {}
        for other, told in reversed(newest):
            if other.pair != clutch.pair and told is not None:
                others.setdefault(other.pair, []).append(told)
        theirs = [told for told in own[:NEWEST_OF_A_PAIR] if told is not None]
        return Learned(
            pair=tuple(reversed(theirs)), room=tuple(tuple(told) for told in others.values())
        )

    def forecast(
        self, clutch: SimClutch, now: datetime, evidence: tuple[NoneBy, ...] = ()
    ) -> HatchForecast:
        """The forecast as of an evening."""
        return hatch_forecast(
            laid=clutch.laid, stays=self.water.stays(clutch.pair, clutch.laid), room_time=ROOM,
            species=self.species, learned=self.learned(clutch, now), evidence=evidence, now=now,
        )  # fmt: skip


class Oracle(Forecaster):
    """Knows each pair's true R and the true clutch-to-clutch spread; nothing else more."""

    def __init__(self, truth: Truth, water: Water, species: Incubation) -> None:
        super().__init__((), water, species)
        self.truth = truth

    def forecast(
        self, clutch: SimClutch, now: datetime, evidence: tuple[NoneBy, ...] = ()
    ) -> HatchForecast:
        middle_c = (self.species.fitted_from_c + self.species.fitted_to_c) / 2
        wait_dd = 0.5 * (middle_c - self.species.t0_c)
        true = replace(
            self.species, k_degree_days=self.truth.pair_r_dd[clutch.pair] + wait_dd,
            spread_between_sources_dd=1e-6, spread_clutch_to_clutch_dd=self.truth.clutch_spread_dd,
        )  # fmt: skip
        return hatch_forecast(
            laid=clutch.laid, stays=self.water.stays(clutch.pair, clutch.laid), room_time=ROOM,
            species=true, evidence=evidence, now=now,
        )  # fmt: skip


class Learner(Forecaster):
    """Knows the room's true mean and both true spreads, and learns each pair's R by its clutches.

    What it lacks of the oracle is the least that learning costs: about ½·ln(1 + n·τ²/σ²) in all
    over n clutches of a pair (τ between pairs, σ from clutch to clutch), whoever learns.
    """

    def __init__(
        self, clutches: Sequence[SimClutch], truth: Truth, water: Water, species: Incubation
    ) -> None:
        super().__init__(clutches, water, species)
        middle_c = (species.fitted_from_c + species.fitted_to_c) / 2
        wait_dd = 0.5 * (middle_c - species.t0_c)
        self.true = replace(
            species, k_degree_days=truth.room_r_dd + wait_dd,
            spread_between_sources_dd=(
                species.spread_between_sources_dd * PAIRS_SHARE_OF_VARIANCE**0.5
            ),
            spread_clutch_to_clutch_dd=truth.clutch_spread_dd,
        )  # fmt: skip

    def forecast(
        self, clutch: SimClutch, now: datetime, evidence: tuple[NoneBy, ...] = ()
    ) -> HatchForecast:
        own = replace(self.learned(clutch, now), room=())
        return hatch_forecast(
            laid=clutch.laid, stays=self.water.stays(clutch.pair, clutch.laid), room_time=ROOM,
            species=self.true, learned=own, evidence=evidence, now=now,
        )  # fmt: skip


def evenings_of(clutch: SimClutch) -> Iterator[tuple[int, datetime]]:
    """The evenings from the laying's to the hatch's own on which the laying was known."""
    laid_night = night_of(clutch.laid.middle, LIGHTS, ROOM)
    for number in range(clutch.hatched.number(laid_night) + 1):
        now = dark_window(laid_night.plus(number), LIGHTS, ROOM)[0]
        if clutch.laying_known_at <= now:
            yield number, now


def scored(
    forecaster: Forecaster, clutch: SimClutch, now: datetime, evidence: tuple[NoneBy, ...] = ()
) -> Scored | None:
    """One evening's forecast beside what came."""
    said = said_by(forecaster.forecast(clutch, now, evidence))
    came = clutch.hatched.number(night_of(clutch.laid.middle, LIGHTS, ROOM))
    return None if said is None else Scored(said, came)


def watched(number: int, clutch: SimClutch, dice: random.Random) -> tuple[NoneBy, ...]:
    """A night of waiting written down, half of the time, from the fifth night on."""
    laid_night = night_of(clutch.laid.middle, LIGHTS, ROOM)
    off = dark_window(laid_night.plus(number - 1), LIGHTS, ROOM)[0]
    if number - 1 < 5 or dice.random() > WATCHED_SHARE:
        return ()
    return (NoneBy(off + timedelta(hours=3, minutes=10)),)


Evenings = list[Scored | None]


def simulate(seed: int) -> tuple[Evenings, Evenings]:
    """One room, and a line for each thing that is to hold.

    Gives its forecasts of the evening before, and those of every evening taken.
    """
    dice = random.Random(seed)
    species = library()["amphiprion_ocellaris"].incubation
    assert species is not None
    truth = the_truth(species, dice)
    water = Water(truth, dice)
    clutches = clutches_of(truth, water, species, dice)
    room, oracle = Forecaster(clutches, water, species), Oracle(truth, water, species)
    learner = Learner(clutches, truth, water, species)
    before: Evenings = []
    known: Evenings = []
    learning: Evenings = []
    waited: Evenings = []
    every: Evenings = []
    every_known: Evenings = []
    skipped = 0
    for clutch in clutches:
        evenings = list(evenings_of(clutch))
        hatch_number = clutch.hatched.number(night_of(clutch.laid.middle, LIGHTS, ROOM))
        eve = [now for number, now in evenings if number == hatch_number - 1]
        if not eve:
            skipped += 1
            continue
        before.append(scored(room, clutch, eve[0]))
        known.append(scored(oracle, clutch, eve[0]))
        learning.append(scored(learner, clutch, eve[0]))
        waited.append(scored(room, clutch, eve[0], watched(hatch_number - 1, clutch, dice)))
        for _number, now in dice.sample(evenings, min(EVENINGS_OF_A_CLUTCH, len(evenings))):
            every.append(scored(room, clutch, now))
            every_known.append(scored(oracle, clutch, now))
    print(f"\nseed {seed}: {len(clutches)} clutches, {skipped} written down too late")
    print(f"  true R of the pairs {min(truth.pair_r_dd):.1f}–{max(truth.pair_r_dd):.1f} dd, "
          f"clutch to clutch {truth.clutch_spread_dd:.1f} dd")  # fmt: skip
    _print_verdict("evening before", before)
    _print_verdict("  first 200", before[:200])
    _print_verdict("  half waited", waited)
    _print_verdict("  true R known", known)
    _print_verdict("  spreads known", learning)
    second = len(before) // 2
    _print_verdict("second year", before[second:])
    _print_verdict("  true R known", known[second:])
    _print_verdict("  spreads known", learning[second:])
    _print_least_price(truth, species, len(clutches) / PAIRS)
    _print_tenths("every evening", every)
    _print_tenths("every evening, true R known", every_known)
    return before, every


def _print_least_price(truth: Truth, species: Incubation, clutches: float) -> None:
    """What whoever learns a pair's R must lose to who knows it: see `Learner`."""
    between = species.spread_between_sources_dd * PAIRS_SHARE_OF_VARIANCE**0.5
    price = 0.5 * log(1 + clutches * between**2 / truth.clutch_spread_dd**2) / clutches
    print(f"  least price of learning each pair's R: {price:.3f} of log score a clutch")


def _print_tenths(name: str, listed: Sequence[Scored | None]) -> None:
    print(f"  {name}")
    for tenth in tenths_kept(each for each in listed if each is not None):
        off = 100 * (tenth.share_came - tenth.mean_said)
        error = 100 * (tenth.mean_said * (1 - tenth.mean_said) / tenth.nights) ** 0.5
        print(
            f"    given {tenth.low:.0%}–{tenth.high:.0%}: {tenth.nights} nights, said "
            f"{tenth.mean_said:.1%}, came {tenth.share_came:.1%} ({off:+.1f} ± {error:.1f})"
        )


def _print_verdict(name: str, listed: Sequence[Scored | None]) -> None:
    kept = [each for each in listed if each is not None]
    found = verdict(kept)
    if found is None:
        return
    inside = found.inside / found.hatches
    print(
        f"  {name:<16}{found.hatches} hatches, inside {inside:.1%} of {found.stated_chance:.1%} "
        f"stated ({100 * (inside - found.stated_chance):+.1f}); early {found.early} right "
        f"{found.right} late {found.late}; log score {found.log_score:.3f}, plain "
        f"{found.plain_log_score:.3f} (typical {exp(-found.log_score):.0%}, "
        f"plain {exp(-found.plain_log_score):.0%})"
    )


def main(seeds: Sequence[int] = SEEDS) -> None:
    """Each seed's room."""
    rooms = [simulate(seed) for seed in seeds]
    every = [evening for _before, evenings in rooms for evening in evenings]
    print("\nall rooms together")
    _print_verdict("evening before", [each for before, _every in rooms for each in before])
    _print_tenths("every evening", every)


if __name__ == "__main__":
    main([int(seed) for seed in sys.argv[1:]] or SEEDS)
