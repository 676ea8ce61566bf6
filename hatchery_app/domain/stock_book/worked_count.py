"""A count as it was worked out: its raw figures, kept with the number and read again later.

The figures travel in `HowMany.raw` as one short line ("squares counts=38,41,35 length=5.2 ..."),
from which the number and the words of how it came about can be had again at any time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import exp, hypot, log

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import RANGE_AS_SAID, Basis, HowMany
from hatchery_app.domain.stock_book.counting import (
    Estimate,
    MeanCount,
    by_aliquots,
    by_weighed_subsamples,
)
from hatchery_app.domain.stock_book.egg_area import Patch, by_squares

MOST_SAMPLES = 40  # more are not counted by hand, and would not fit beside the number


class CountedBy(StrEnum):
    """The ways a number of eggs, larvae or fish is got."""

    ONE_BY_ONE = "one_by_one"
    ALIQUOTS = "aliquots"
    SQUARES = "squares"
    WEIGHED = "weighed"
    PHOTO = "photo"
    LOOK = "a_look"


class Sampled(StrEnum):
    """Animals that are counted from samples of the water; each has a recovery of its own."""

    LARVAE = "larvae"
    LOOSE_EGGS = "loose eggs"


class Seen(StrEnum):
    """How much of what is there a picture shows."""

    ALL = "all"
    SOME_HIDDEN = "some_hidden"
    UNSHARP = "unsharp"


@dataclass(frozen=True)
class Recovery:
    """The share of a known number that this way of counting finds, with its interval (0 to 1)."""

    share: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0 < self.low <= self.share <= self.high <= 1:
            raise RuleBroken("Recovery is a share between 0 and 1.", field="recovery")

    def said(self) -> str:
        """ "85 % (70–97 %)"."""
        return f"{self.share * 100:.0f} % ({self.low * 100:.0f}–{self.high * 100:.0f} %)"


@dataclass(frozen=True)
class WorkedCount:
    """A number, the lines that say how it came about, and what would make it better."""

    by: CountedBy
    number: HowMany
    lines: tuple[str, ...]
    advice: str = ""


def recovery_of(
    counts: Sequence[int], *, aliquot_ml: float, total_ml: float, known: int
) -> Recovery:
    """What a trial with a known number says: the number estimated over the number put in.

    Never above 1: a trial that finds more than were put in corrects nothing. Raises RuleBroken
    where none were found, as nothing can be divided by that.
    """
    if known <= 0:
        raise RuleBroken("Say how many were put in; at least one.", field="known_number")
    found = by_aliquots(counts, aliquot_ml=aliquot_ml, total_ml=total_ml).number
    if not found.best:
        raise RuleBroken("None of them were found: that is no recovery to reckon with.", "counts")
    share = min(1.0, found.best / known)
    low = min(share, max(found.least, 1) / known)
    return Recovery(share, low, min(1.0, max(share, (found.most or 0) / known)))


def worked_from_aliquots(
    counts: Sequence[int],
    *,
    aliquot_ml: float,
    total_ml: float,
    recovery: Recovery | None = None,
) -> WorkedCount:
    """All animals in the water from samples of it: see `by_aliquots` for the interval.

    With a `recovery` the number is divided by it, and its doubt is added to that of the count
    (both on the log scale, as two errors that know nothing of each other).
    """
    _check_samples(counts)
    plain = by_aliquots(counts, aliquot_ml=aliquot_ml, total_ml=total_ml)
    number, found = plain.number, ""
    if recovery is not None:
        divided = by_aliquots(
            counts, aliquot_ml=aliquot_ml, total_ml=total_ml, recovery=recovery.share
        )
        number = _with_doubt(divided.number, recovery, sum(counts))
        found = f" recovery={recovery.share:.4g},{recovery.low:.4g},{recovery.high:.4g}"
    raw = f"aliquots counts={_joined(counts)} ml={aliquot_ml:g} of_ml={total_ml:g}{found}"
    method = f"{len(counts)} samples of {aliquot_ml:g} mL from {_volume(total_ml)}"
    share = len(counts) * aliquot_ml / total_ml
    lines = [
        f"{_listed(counts)} in samples of {aliquot_ml:g} mL out of {_volume(total_ml)}: "
        f"{plain.mean.mean:.3g} a sample.",
        _mixing(plain.mean),
        _rests_on(plain.mean, "samples", sum(counts)),
        f"{share:.2%} of the water was counted".replace("%", " %")
        + (", so that much is no longer in doubt." if share > 0.01 else "."),
    ]
    if recovery is not None:
        lines.append(f"Divided by this room's own recovery, {recovery.said()}.")
    return _worked(CountedBy.ALIQUOTS, number, method, raw, lines, plain.advice)


def worked_from_squares(
    counts: Sequence[int], *, length_cm: float, width_cm: float, square_cm2: float
) -> WorkedCount:
    """All eggs of an oval patch, from the eggs in a few squares of it."""
    _check_samples(counts)
    patch = Patch(length_cm, width_cm)
    found: Estimate = by_squares(counts, patch=patch, square_cm2=square_cm2)
    raw = (
        f"squares counts={_joined(counts)} length={length_cm:g} width={width_cm:g} "
        f"square={square_cm2:g}"
    )
    method = f"{len(counts)} squares of {square_cm2:g} cm² on {patch.area_cm2:.1f} cm²"
    lines = [
        f"{_listed(counts)} eggs in squares of {square_cm2:g} cm²: {found.mean.mean:.1f} a square.",
        f"An oval of {length_cm:g} by {width_cm:g} cm is {patch.area_cm2:.1f} cm².",
        _rests_on(found.mean, "squares", sum(counts)),
    ]
    return _worked(CountedBy.SQUARES, found.number, method, raw, lines, found.advice)


def worked_from_weights(
    subsamples: Sequence[tuple[float, int]], *, total_g: float, loose: bool
) -> WorkedCount:
    """All loose eggs of a weight. Refused for eggs that are glued down."""
    _check_samples([count for _, count in subsamples] or [0])
    found = by_weighed_subsamples(subsamples, total_g=total_g, loose=loose)
    pairs = ",".join(f"{grams:g}/{eggs}" for grams, eggs in subsamples)
    grams, eggs = sum(pair[0] for pair in subsamples), sum(pair[1] for pair in subsamples)
    method = f"{len(subsamples)} weighed samples, {grams:g} g of {total_g:g} g"
    lines = [
        f"{eggs} eggs in {grams:g} g, {found.eggs_per_g:.1f} a gram, times {total_g:g} g.",
        f"The mean of the separate ratios would say {found.mean_of_ratios_says:,}: it leans on "
        "the small samples, so all are put together first.",
    ]
    raw = f"weighed pairs={pairs} total_g={total_g:g}"
    advice = "" if len(subsamples) >= 5 else "Weigh more samples to narrow it."
    return _worked(CountedBy.WEIGHED, found.number, method, raw, lines, advice)


def worked_from_photo(
    marks: int, seen: Seen, photo_id: int, typed: HowMany | None = None
) -> WorkedCount:
    """The marks set on a picture: counted where all are in it, at least so many where not.

    `typed` is a number counted on the picture without marks; it takes their place.
    """
    number = HowMany.counted(marks) if typed is None else typed
    firm = number.basis is Basis.COUNTED and number.best is not None
    if firm and seen is Seen.SOME_HIDDEN:
        number = HowMany.at_least(number.best or 0)
    elif firm and seen is Seen.UNSHARP:
        number = HowMany.about(number.best or 0)
    line = {
        Seen.ALL: "All of them are in the picture.",
        Seen.SOME_HIDDEN: "Some may be hidden or outside the picture: at least so many.",
        Seen.UNSHARP: "The picture is not sharp enough to be sure: about so many.",
    }[seen]
    method = f"{marks} mark{'' if marks == 1 else 's'} on a picture"
    raw = f"photo id={photo_id} marks={marks} seen={seen.value}"
    if typed is not None:
        method, raw = "counted on a picture, without marks", f"{raw} typed=yes"
    said = f"{method[:1].upper()}{method[1:]}."
    return _worked(CountedBy.PHOTO, number, method, raw, [said, line], "")


def worked_again(number: HowMany) -> WorkedCount | None:
    """How a number that was kept came about; None where it was only said."""
    again = worked_from_raw(number.raw) if isinstance(number.raw, str) else None
    return None if again is None else replace(again, number=number)


def worked_from_raw(raw: str) -> WorkedCount | None:
    """The count that one line of raw figures stands for; None where it is none of them."""
    kind, _, rest = raw.partition(" ")
    said = dict(part.split("=", 1) for part in rest.split() if "=" in part)
    try:
        return _AGAIN[kind](said)
    except (KeyError, ValueError, RuleBroken):
        return None  # figures of an older kind, or written by hand


def _aliquots_again(said: dict[str, str]) -> WorkedCount:
    share = [float(one) for one in said["recovery"].split(",")] if "recovery" in said else None
    return worked_from_aliquots(
        _whole(said["counts"]), aliquot_ml=float(said["ml"]), total_ml=float(said["of_ml"]),
        recovery=Recovery(*share) if share else None,
    )  # fmt: skip


def _squares_again(said: dict[str, str]) -> WorkedCount:
    return worked_from_squares(
        _whole(said["counts"]), length_cm=float(said["length"]), width_cm=float(said["width"]),
        square_cm2=float(said["square"]),
    )  # fmt: skip


def _weights_again(said: dict[str, str]) -> WorkedCount:
    return worked_from_weights(
        read_weighed(said["pairs"].replace(",", "\n")), total_g=float(said["total_g"]), loose=True
    )


def _photo_again(said: dict[str, str]) -> WorkedCount:
    typed = HowMany.unknown() if "typed" in said else None
    return worked_from_photo(int(said["marks"]), Seen(said["seen"]), int(said["id"]), typed)


_AGAIN: dict[str, Callable[[dict[str, str]], WorkedCount]] = {
    "aliquots": _aliquots_again,
    "squares": _squares_again,
    "weighed": _weights_again,
    "photo": _photo_again,
}


def photo_of(number: HowMany) -> int | None:
    """The picture a number was counted on, None where there is none."""
    found = re.match(r"photo id=(\d+)\b", number.raw) if isinstance(number.raw, str) else None
    return int(found[1]) if found else None


# --- a look ---------------------------------------------------------------------------------


class LookSaid(StrEnum):
    """What can be said of a number by looking."""

    ABOUT = "about so many"
    AT_LEAST = "at least so many"
    FEW = "a few"
    HALF = "about half"
    SAME = "same as before"
    UNKNOWN = "not known"

    @property
    def wants_number(self) -> bool:
        """Whether a figure goes with it."""
        return self in (LookSaid.ABOUT, LookSaid.AT_LEAST)


def looked(said: LookSaid, number: HowMany | None, before: HowMany | None) -> HowMany:
    """The number a look stands for. A bare figure is no count: it is about so many.

    "About half" and "same" are of what was last known (`before`) and no firmer than "about";
    where nothing was known, the words alone are kept. Raises RuleBroken where a figure is wanted.
    """
    if said.wants_number:
        if number is None or (number.best is None and not number.low):
            raise RuleBroken("Write how many: 80 or so, or at least how many.", "look_number")
        if said is LookSaid.AT_LEAST:
            return HowMany.at_least(number.best or number.least, number.written)
        firm = number.basis in (Basis.COUNTED, Basis.AT_LEAST)
        return HowMany.about(number.best or number.least, number.written) if firm else number
    known = None if before is None else before.best
    if said is LookSaid.HALF and known:
        return HowMany.about((known + 1) // 2, f"about half of {known}")
    if said is LookSaid.SAME and known is not None:
        return HowMany.about(known, f"same as before, {known}")
    return HowMany.unknown("" if said is LookSaid.UNKNOWN else said.value)


def number_told(number: HowMany) -> str:
    """A number as a line of what came tells it: with how it was counted, or a look's own words."""
    said = number.said()
    if number.basis is Basis.UNKNOWN and number.written and number.high is None:
        return f"“{number.written}”"
    if number.method and number.method != RANGE_AS_SAID:
        return f"{said}, {number.method}"
    of_before = number.written.startswith(("about half of", "same as before"))
    return f"{said} (“{number.written}”)" if of_before else said


# --- figures as they are typed ----------------------------------------------------------------


def read_samples(text: str, field: str = "counts") -> tuple[int, ...]:
    """Whole numbers with blanks, commas or lines between. Raises RuleBroken beside the field."""
    parts = re.split(r"[\s,;+]+", text.strip(" \t\r\n,;+"))
    if not all(part.isascii() and part.isdigit() and len(part) < 7 for part in parts):
        raise RuleBroken("Write each sample's number: 12, 9, 14.", field)
    return tuple(int(part) for part in parts)


_PAIR = re.compile(r"(\d+(?:[.,]\d+)?)\s*g?\s*[/:=\s]\s*(\d+)(?:\s*eggs)?(?=[\s,;]|$)")


def read_weighed(text: str, field: str = "weighed") -> tuple[tuple[float, int], ...]:
    """Weights with their eggs: "1.5 g 36", one a line, or "1.5/36, 1.6/35"."""
    left = re.sub(r"[\s,;]+", "", _PAIR.sub("", text))
    pairs = tuple((float(m[1].replace(",", ".")), int(m[2])) for m in _PAIR.finditer(text))
    if left or not pairs:
        raise RuleBroken("Write each weight with its eggs, one a line: 1.5 g 36.", field)
    return pairs


# --- words ------------------------------------------------------------------------------------


def _worked(
    by: CountedBy, number: HowMany, method: str, raw: str, lines: Sequence[str], advice: str
) -> WorkedCount:
    kept = replace(number, method=method, raw=raw)
    return WorkedCount(by, kept, tuple(line for line in lines if line), advice)


def _with_doubt(number: HowMany, recovery: Recovery, counted: int) -> HowMany:
    best, low, high = number.best or 0, number.least, number.most or 0
    if not best:
        return HowMany.estimated(0, 0, round(high * recovery.share / recovery.low))
    up = hypot(log(max(high, best) / best), log(recovery.share / recovery.low))
    least = 0.0
    if low:
        least = best * exp(-hypot(log(best / min(low, best)), log(recovery.high / recovery.share)))
    return HowMany.estimated(best, max(counted, round(least)), max(best, round(best * exp(up))))


def _mixing(mean: MeanCount) -> str:
    if mean.dispersion is None:
        return "One sample cannot show whether the water was mixed."
    index, p = mean.dispersion.index, mean.dispersion.p
    how = "more than chance makes them" if mean.dispersion.clumped else "no more than by chance"
    return (
        f"The samples differ {how}: {index:.2g} times the spread (variance over mean) of mixed "
        f"water, p {p:.2g}."
    )


def _rests_on(mean: MeanCount, what: str, counted: int) -> str:
    if mean.spread is None:
        return f"The range comes from the {counted} counted alone."
    if mean.rests_on.startswith("spread"):
        return f"The range comes from the spread between the {what}, wider than from {counted}."
    return f"The range comes from the {counted} counted, wider than the spread of the {what}."


def _check_samples(counts: Sequence[int]) -> None:
    if len(counts) > MOST_SAMPLES:
        raise RuleBroken(f"At most {MOST_SAMPLES} samples are kept with a count.", field="counts")


def _joined(counts: Sequence[int]) -> str:
    return ",".join(str(count) for count in counts)


def _listed(counts: Sequence[int]) -> str:
    return ", ".join(str(count) for count in counts)


def _whole(text: str) -> tuple[int, ...]:
    return tuple(int(one) for one in text.split(","))


def _volume(ml: float) -> str:
    return f"{ml / 1000:g} L" if ml >= 1000 else f"{ml:g} mL"
