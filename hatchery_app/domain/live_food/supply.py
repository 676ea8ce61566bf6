"""Is there enough: what the vessels can give today and tomorrow, against what is needed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hatchery_app.domain.live_food.live_food import ML_PER_L, sieved_l, two_figures_said
from hatchery_app.domain.live_food.vessel import RECOVERY, Band, Cultured, VesselNow

MILLION = 1e6
BILLION = 1e9  # cells of algae; animals never come to so many
SAID_IN_MILLIONS_FROM = 1e5
NOT_COUNTED = "not counted"  # how a vessel says that nobody knows what stands in it
KEPT_IN_A_VESSEL = 0.5  # at least so much is left to grow on; assumed


@dataclass(frozen=True)
class Sieve:
    """What to take of one vessel: animals got, and the litres of culture they are in."""

    tank_id: int
    label: str
    animals: float
    litres: float
    per_ml: float


@dataclass(frozen=True)
class Supply:
    """A food's need today against the vessels. `left_out` are those that give nothing, and why.

    `in_hand` was sieved already and not yet poured in; `ready` holds it too.
    `tomorrow` is what they give after today's sieving. `beyond` is what could still be taken
    today at tomorrow's cost, by vessel.
    """

    food: str
    need: float
    ready: Band
    tomorrow: float
    sieves: tuple[Sieve, ...]
    left_out: tuple[tuple[str, str], ...]
    beyond: tuple[Sieve, ...]
    in_hand: float = 0.0

    @property
    def short(self) -> float:
        """The animals that are lacking, 0 where there are enough."""
        return max(0.0, self.need - self.ready.best)

    @property
    def is_enough(self) -> bool:
        """Whether what the vessels bear covers the need."""
        return self.short <= 0

    @property
    def is_unknown(self) -> bool:
        """Whether nothing is ready by the counts because vessels were not counted lately."""
        return self.ready.best <= 0 < self.need and any(
            why.startswith(NOT_COUNTED) for _, why in self.left_out
        )

    def said(self) -> str:
        """ "0.57 of 0.81 million, from R1 and R2; short by 0.24 million: …"."""
        have = min(self.ready.best, self.need)
        places = " and ".join(one.label for one in self.sieves)
        if self.in_hand:
            places = "what is sieved" + (f" and {places}" if places else "")
        if self.need <= 0:
            return "nothing needed"
        if self.is_enough:
            return f"{of_so_many(have, self.need)}, from {places}"
        if self.is_unknown:
            return (
                f"{animals_said(self.need)} needed; what stands ready is not known:"
                f" {self._what_to_do()}"
            )
        if have <= 0:
            return f"short by all of it, {animals_said(self.short)}: {self._what_to_do()}"
        return (
            f"{of_so_many(have, self.need)}, from {places}; short by {animals_said(self.short)}:"
            f" {self._what_to_do()}"
        )

    def _what_to_do(self) -> str:
        if self.beyond:
            more = " and ".join(
                f"{litres_said(one.litres)} more of {one.label}" for one in self.beyond
            )
            return f"sieve {more}, which it lacks tomorrow"
        why = "; ".join(f"{label} {reason}" for label, reason in self.left_out)
        return why or "no vessel holds it"


def animals_said(animals: float) -> str:
    """ "0.57 million" from 100,000 up, else "8,400"."""
    if animals >= BILLION:
        return f"{two_figures_said(animals / BILLION)} billion"
    if animals >= SAID_IN_MILLIONS_FROM:
        return f"{two_figures_said(animals / MILLION)} million"
    return two_figures_said(animals)


def of_so_many(have: float, need: float) -> str:
    """ "0.57 of 0.81 million": both in the unit of the need."""
    if need >= SAID_IN_MILLIONS_FROM:
        return f"{two_figures_said(have / MILLION)} of {animals_said(need)}"
    return f"{two_figures_said(have)} of {two_figures_said(need)}"


def litres_said(litres: float) -> str:
    """ "1.3 L" from a litre up, else "240 mL"."""
    if litres >= 1:
        return f"{two_figures_said(litres)} L"
    return f"{two_figures_said(litres * ML_PER_L)} mL"


def supply_of(
    food: Cultured, need: float, vessels: Iterable[VesselNow], in_hand: float = 0.0
) -> Supply | None:
    """The need of a food against its vessels; None where none is kept for it and none is sieved.

    The vessel that bears most gives first, so that few are opened. A crashed culture counts as
    nothing to pour in, whatever still swims in it.
    """
    kept = [one for one in vessels if one.vessel.food is food]
    if not kept and in_hand <= 0:
        return None
    gives = [one for one in kept if one.gives_today is not None and one.gives_today.best > 0]
    bands = [one.gives_today for one in gives if one.gives_today is not None]
    ready = Band(
        sum(b.best for b in bands) + in_hand,
        sum(b.low for b in bands) + in_hand,
        sum(b.high for b in bands) + in_hand,
    )
    gives.sort(key=_bears, reverse=True)
    return Supply(
        food=food.value,
        need=need,
        ready=ready,
        tomorrow=sum(one.gives_tomorrow.best for one in kept if one.gives_tomorrow is not None),
        sieves=_sieves(max(0.0, need - in_hand), gives),
        left_out=tuple((one.vessel.label, one.why_none) for one in kept if one.why_none),
        beyond=_beyond(max(0.0, need - ready.best), gives),
        in_hand=in_hand,
    )


def _bears(one: VesselNow) -> float:
    return one.gives_today.best if one.gives_today is not None else 0.0


def _sieves(need: float, gives: Sequence[VesselNow]) -> tuple[Sieve, ...]:
    found = []
    for one in gives:
        animals = min(need, _bears(one))
        if animals > 0:
            found.append(_sieve(one, animals))
            need -= animals
    return tuple(found)


def _beyond(short: float, gives: Sequence[VesselNow]) -> tuple[Sieve, ...]:
    """More than the vessels bear: as far as each keeps half of what stood in it this week, and
    only if that covers it."""
    found, lacking = [], short
    for one in gives:
        standing = one.standing.best if one.standing is not None else 0.0
        kept = KEPT_IN_A_VESSEL * max(standing, one.vessel.stood)
        spare = (standing - kept) * RECOVERY - _bears(one)
        animals = min(lacking, spare)
        if animals > 0:
            found.append(_sieve(one, animals))
            lacking -= animals
    return tuple(found) if short > 0 and lacking <= 1 else ()


def _sieve(one: VesselNow, animals: float) -> Sieve:
    litres = sieved_l(animals, one.per_ml, RECOVERY)
    return Sieve(one.vessel.tank_id, one.vessel.label, animals, litres, one.per_ml)
