"""What was different beside a loss: only what was not so with the batch's siblings, or with the
room's other batches of that age. Named as different, never as the cause.

What was not recorded of the batch itself, or of none of the others, is not compared, and that is
said. That nothing recorded differed is an answer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from hatchery_app.domain.stock_book.reared import Fate, Reared

NOTABLE = 0.1  # of those alive; smaller losses are every batch's
DAYS_BEFORE = 2  # what did harm on a day is often seen a day or two later
FAR_APART_DAYS = 1  # deaths on days further apart than that are two losses
LIGHT_HOURS_APART = 2.0
CROWDED = 1.5  # times the middle of the others, and more than any of them
MOST_LOSSES = 3


class Matter(StrEnum):
    """What is compared."""

    TEMPERATURE = "temperature"
    FOOD_GAP = "food gap"
    UNMATCHED = "unmatched water"
    LIGHT = "light"
    BARRED = "tank barred"
    TREATMENT = "treatment"
    MOVE = "a move"
    CROWDING = "crowding"


@dataclass(frozen=True)
class Episode:
    """A loss of some days on end, or one between two looks: days in dph, both included."""

    from_dph: int
    until_dph: int
    number: int
    share: float
    fates: tuple[Fate, ...]

    @property
    def window(self) -> tuple[int, int]:
        """The days whose records are read beside it: two before it and its own."""
        return max(0, self.from_dph - DAYS_BEFORE), self.until_dph


@dataclass(frozen=True)
class Lived:
    """What was recorded of one batch over the days of a window. None: nobody recorded it.

    `temperature_c` is the lowest and highest read, `light_hours` a day by the lamps, `per_litre`
    fish to the litre as the window began. `treated` are the treatments of its water in the
    keeper's words, each with where and when. `food_gap`, `unmatched`, `barred` and `moved` say what
    was seen in words, "" where it was looked at and not so.
    """

    name: str
    temperature_c: tuple[float, float] | None = None
    food_gap: str | None = None
    unmatched: str | None = None
    light_hours: float | None = None
    barred: str | None = ""
    treated: tuple[tuple[str, str], ...] = ()
    moved: str | None = ""
    per_litre: float | None = None


@dataclass(frozen=True)
class Different:
    """One thing that was so here and not with the others: both sides in words."""

    matter: Matter
    here: str
    others: str


@dataclass(frozen=True)
class Beside:
    """A loss with what differed. `others` are those compared with, `not_compared` what could
    not be, each with its reason."""

    episode: Episode
    others: tuple[str, ...]
    different: tuple[Different, ...]
    not_compared: tuple[str, ...]


def episodes(batch: Reared) -> tuple[Episode, ...]:
    """The losses of a tenth or more of those alive, the three greatest, in order of age.

    Deaths on days that follow each other are one loss; one between two looks stands by itself.
    """
    losses = [going for going in batch.goings if going.is_loss]
    runs: list[list[int]] = []
    for place, going in enumerate(losses):
        on_a_day = going.until_dph - going.from_dph <= FAR_APART_DAYS
        if runs and on_a_day:
            before = losses[runs[-1][-1]]
            joins = before.until_dph - before.from_dph <= FAR_APART_DAYS
            if joins and going.from_dph - before.until_dph <= FAR_APART_DAYS:
                runs[-1].append(place)
                continue
        runs.append([place])
    found = []
    for run in runs:
        first = min((losses[n] for n in run), key=lambda one: one.from_dph)
        number = sum(losses[n].number for n in run)
        alive = batch.alive_before(first)
        share = min(1.0, number / alive) if alive > 0 else 1.0
        if share >= NOTABLE:
            fates = tuple(dict.fromkeys(losses[n].fate for n in run))
            last = max(losses[n].until_dph for n in run)
            found.append(Episode(first.from_dph, last, number, share, fates))
    worst = sorted(found, key=lambda one: -one.share)[:MOST_LOSSES]
    return tuple(sorted(worst, key=lambda one: (one.from_dph, one.until_dph)))


def beside(
    episode: Episode, own: Lived, others: Sequence[Lived], band_c: tuple[float, float] | None
) -> Beside:
    """What of the loss's days differed from the others'. `band_c` is the species' temperature."""
    different: list[Different] = []
    missing: list[str] = []
    for compare in (
        _seen(Matter.FOOD_GAP, lambda one: one.food_gap, "nobody looked at the food"),
        _temperature(band_c),
        _seen(Matter.UNMATCHED, lambda one: one.unmatched, "nobody said whether it was matched"),
        _light,
        _seen(Matter.BARRED, lambda one: one.barred, "not recorded"),
        _treatment,
        _seen(Matter.MOVE, lambda one: one.moved, "not recorded"),
        _crowding,
    ):
        found = compare(own, others)
        if isinstance(found, Different):
            different.append(found)
        elif found:
            missing.append(found)
    return Beside(episode, tuple(one.name for one in others), tuple(different), tuple(missing))


# A comparison answers a difference, why it could not be made, or "" where nothing differed.
Compare = Callable[[Lived, Sequence[Lived]], Different | str]


def _seen(matter: Matter, read: Callable[[Lived], str | None], nobody: str) -> Compare:
    """Something that either was so or was not: different where it was here and not with all."""

    def compare(own: Lived, others: Sequence[Lived]) -> Different | str:
        here = read(own)
        if here is None:
            return f"{matter}: {nobody} here"
        if not here:
            return ""
        told = [said for one in others if (said := read(one)) is not None]
        if not told:
            return f"{matter}: {nobody} with the others; here {here}"
        without = sum(not said for said in told)
        if not without:
            return ""
        return Different(matter, here, f"not so with {without} of {len(told)} others")

    return compare


def _temperature(band_c: tuple[float, float] | None) -> Compare:
    def compare(own: Lived, others: Sequence[Lived]) -> Different | str:
        if band_c is None:
            return "temperature: no band is known for this species"
        if own.temperature_c is None:
            return "temperature: not read here"
        if _inside(own.temperature_c, band_c):
            return ""
        here = f"{_span(own.temperature_c)}; its band is {band_c[0]:g}–{band_c[1]:g} °C"
        read = [one.temperature_c for one in others if one.temperature_c is not None]
        if not read:
            return f"temperature: not read with the others; here {here}"
        inside = [one for one in read if _inside(one, band_c)]
        if not inside:
            return ""
        low, high = min(one[0] for one in inside), max(one[1] for one in inside)
        return Different(
            Matter.TEMPERATURE,
            here,
            f"{_span((low, high))} with {len(inside)} of {len(read)} others",
        )

    return compare


def _inside(read: tuple[float, float], band: tuple[float, float]) -> bool:
    return band[0] <= read[0] and read[1] <= band[1]


def _span(read: tuple[float, float]) -> str:
    low, high = f"{read[0]:.1f}", f"{read[1]:.1f}"
    return f"{low} °C" if low == high else f"{low}–{high} °C"


def _light(own: Lived, others: Sequence[Lived]) -> Different | str:
    told = [one.light_hours for one in others if one.light_hours is not None]
    if own.light_hours is None or not told:
        return f"light: {'not recorded here' if own.light_hours is None else 'not of the others'}"
    if all(abs(own.light_hours - hours) < LIGHT_HOURS_APART for hours in told):
        return ""
    apart = [hours for hours in told if abs(own.light_hours - hours) >= LIGHT_HOURS_APART]
    low, high = min(apart), max(apart)
    span = f"{low:g}" if low == high else f"{low:g}–{high:g}"
    return Different(
        Matter.LIGHT,
        f"{own.light_hours:g} hours a day",
        f"{span} hours with {len(apart)} of {len(told)} others",
    )


def _treatment(own: Lived, others: Sequence[Lived]) -> Different | str:
    """Different where the water had something that not all the others' had, or where all the
    others' had something and this had nothing. Two are the same if the keeper calls them so."""
    if not others:
        alone = "; ".join(said for _, said in own.treated)
        return f"treatment: no others to compare with; here {alone}" if alone else ""
    with_them = [{_called(what) for what, _ in one.treated} for one in others]
    here = {_called(what): said for what, said in own.treated
            if not all(_called(what) in had for had in with_them)}  # fmt: skip
    if here:
        without = sum(not set(here) <= had for had in with_them)
        return Different(Matter.TREATMENT, "; ".join(here.values()),
                         f"not so with {without} of {len(others)} others")  # fmt: skip
    if not own.treated and all(with_them):
        said = "; ".join(dict.fromkeys(words for one in others for _, words in one.treated))
        return Different(Matter.TREATMENT, "none written down", f"all the others: {said}")
    return ""


def _called(what: str) -> str:
    return " ".join(what.casefold().split())


def _crowding(own: Lived, others: Sequence[Lived]) -> Different | str:
    told = [one.per_litre for one in others if one.per_litre is not None]
    if own.per_litre is None:
        return "crowding: how many there were is not known here"
    if not told:
        return "crowding: how many the others were is not known"
    if own.per_litre <= max(told) or own.per_litre < CROWDED * median(told):
        return ""
    return Different(
        Matter.CROWDING,
        f"{own.per_litre:.2g} fish to the litre",
        f"{median(told):.2g} in the middle tank of {len(told)} others, {max(told):.2g} at most",
    )
