"""How many: a number that carries how it was got, read from what keepers write.

Counted, estimated with its interval, about, at least, or unknown. The book moves whole
numbers (`best`); the bounds travel beside them and never pass below nothing. Zero is a number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken

MOST = 10_000_000  # more than any spawn a small hatchery keeps; beyond it a key was held down
RANGE_AS_SAID = "range as said"


class Basis(StrEnum):
    """How a number was got, from the firmest to none at all."""

    COUNTED = "counted"
    ESTIMATED = "estimated"
    ABOUT = "about"
    AT_LEAST = "at least"
    UNKNOWN = "unknown"


FIRMNESS = tuple(Basis)


@dataclass(frozen=True)
class HowMany:
    """A number of eggs, larvae or fish: best, low, high (None: not known) and its basis.

    `method` says how it was reached and `raw` its figures; `written` is what the keeper wrote.
    Counted: the three are equal. Estimated: all three stand. About: a best, bounds if known.
    At least: a low and no best. Unknown: no best, at most a high. Raises RuleBroken otherwise.
    """

    best: int | None
    low: int | None
    high: int | None
    basis: Basis
    method: str = ""
    raw: tuple[float, ...] | str = ()
    written: str = ""

    def __post_init__(self) -> None:
        # A page adds up thousands of these, so nothing is built here that is not needed.
        known = [number for number in (self.low, self.best, self.high) if number is not None]
        if known and min(known) < 0:
            raise RuleBroken("A number of fish cannot be below 0.", field="how_many")
        if known != sorted(known):
            raise RuleBroken("The range must hold the number: low, best, high.", field="how_many")
        if not self._is_whole():
            raise RuleBroken(
                f"These figures do not make a number that is {self.basis}.", field="how_many"
            )

    def _is_whole(self) -> bool:
        best, low, basis = self.best, self.low, self.basis
        if basis is Basis.COUNTED:
            return best is not None and low == best == self.high
        if basis is Basis.ESTIMATED:
            return best is not None and low is not None and self.high is not None
        if basis is Basis.ABOUT:
            return best is not None
        if basis is Basis.AT_LEAST:
            return best is None and low is not None and low > 0
        return best is None and not low

    @classmethod
    def counted(cls, number: int, written: str = "") -> HowMany:
        """Counted one by one."""
        return cls(number, number, number, Basis.COUNTED, written=written)

    @classmethod
    def estimated(
        cls,
        best: int,
        low: int,
        high: int,
        method: str = "",
        raw: tuple[float, ...] | str = (),
        written: str = "",
    ) -> HowMany:
        """From aliquots, squares, weights or a photo, with the interval it has."""
        return cls(best, low, high, Basis.ESTIMATED, method, raw, written)

    @classmethod
    def about(cls, number: int, written: str = "") -> HowMany:
        """By eye, with nothing said about how far off."""
        return cls(number, None, None, Basis.ABOUT, written=written)

    @classmethod
    def at_least(cls, number: int, written: str = "") -> HowMany:
        """So many were seen and there may be more; at least none is unknown."""
        if number == 0:
            return cls.unknown(written)
        return cls(None, number, None, Basis.AT_LEAST, written=written)

    @classmethod
    def unknown(cls, written: str = "", at_most: int | None = None) -> HowMany:
        """Not known, but for what cannot be exceeded if that is."""
        return cls(None, None, at_most, Basis.UNKNOWN, written=written)

    @property
    def is_known(self) -> bool:
        """Whether there is a number to reckon with."""
        return self.best is not None

    @property
    def least(self) -> int:
        """The fewest it can be, 0 where nothing is known."""
        return self.low or 0

    @property
    def most(self) -> int | None:
        """The most it can be, None where there is no limit known."""
        return self.high

    def said(self) -> str:
        """In words: "143 counted", "424 (310–538)", "about 200", "at least 300", "unknown"."""
        limit = "" if self.high is None else f", at most {self.high}"
        if self.basis is Basis.COUNTED:
            return f"{self.best} counted"
        if self.basis is Basis.ESTIMATED:
            bounds = f"{self.low}–{self.high}"
            return bounds if self.method == RANGE_AS_SAID else f"{self.best} ({bounds})"
        if self.basis is Basis.ABOUT:
            return f"about {self.best}"
        return (f"at least {self.low}" if self.basis is Basis.AT_LEAST else "unknown") + limit

    def __add__(self, other: HowMany) -> HowMany:
        """Both together, no firmer than the vaguer of the two."""
        best = None
        if self.best is not None and other.best is not None:
            best = self.best + other.best
        most = None
        if self.most is not None and other.most is not None:
            most = self.most + other.most
        return _outcome(self, other, best, self.least + other.least, most)

    def __sub__(self, taken: HowMany) -> HowMany:
        """What is left when some are taken; where even the fewest are too many, RuleBroken."""
        if self.most is not None and taken.least > self.most:
            raise RuleBroken(
                f"There are not so many to take: {self.said()}, and {taken.said()} to go.",
                field="how_many",
            )
        low = 0 if taken.most is None else max(0, self.least - taken.most)
        most = None if self.most is None else self.most - taken.least
        best = None
        if self.best is not None and taken.best is not None:
            best = max(self.best - taken.best, low)
            best = best if most is None else min(best, most)
        return _outcome(self, taken, best, low, most)


def _outcome(one: HowMany, other: HowMany, best: int | None, low: int, most: int | None) -> HowMany:
    """Bounds and best with the basis they deserve."""
    if best is None and low == most:
        return HowMany(low, low, low, Basis.ESTIMATED)
    if best is None:
        basis = Basis.AT_LEAST if low else Basis.UNKNOWN
        return HowMany(None, low or None, most, basis)
    basis = max(one.basis, other.basis, key=FIRMNESS.index)
    if basis is Basis.ABOUT:
        return HowMany(best, low or None, most, basis)
    return HowMany(best, low, most, basis)


_NUMBER = r"(\d{1,3}(?:[ ,.'’\u00a0\u202f]\d{3})+|\d+)"
_NOUN = (
    r"(?:\s*(?:eggs?|larvae?|fish|fry|young|juveniles?|individuals?|bodies|dead|alive|settled|"
    r"counted|\(counted\)|in all))*"
)
_ABOUT = (
    r"(?:~|≈|about|abt\.?|around|approx\.?|approximately|roughly|circa|ca\.?|c\.?|close to|"
    r"nearly|almost|maybe|perhaps|some|probably)"
)
_AT_LEAST = (
    r"(?:>=?|≥|more than|over|at least|above|min\.?|minimum|no fewer than|not less than|upwards of)"
)
_AT_MOST = (
    r"(?:<=?|≤|(?:unknown, )?at most|less than|fewer than|under|below|up to|max\.?|maximum|"
    r"no more than|not more than)"
)
_COUNTED = re.compile(rf"{_NUMBER}{_NOUN}")
_ABOUT_BEFORE = re.compile(rf"{_ABOUT}\s*{_NUMBER}{_NOUN}\s*\??")
_ABOUT_AFTER = re.compile(rf"{_NUMBER}{_NOUN}(?:\s*\?+|-?ish| or so| approx\.?| approximately)")
_LEAST_BEFORE = re.compile(rf"{_AT_LEAST}\s*{_NUMBER}{_NOUN}")
_LEAST_AFTER = re.compile(rf"{_NUMBER}\s*(?:\+|or more|and more|at least){_NOUN}")
_MOST_BEFORE = re.compile(rf"{_AT_MOST}\s*{_NUMBER}{_NOUN}")
_LEAST_AND_MOST = re.compile(rf"at least {_NUMBER}, at most {_NUMBER}{_NOUN}")
_RANGE = re.compile(
    rf"(?:between\s*)?{_ABOUT}?\s*{_NUMBER}\s*(?:-|–|—|to|and|or)\s*{_NUMBER}{_NOUN}"
)
_BEST_AND_RANGE = re.compile(rf"{_NUMBER}\s*\({_NUMBER}\s*(?:-|–|to)\s*{_NUMBER}\){_NOUN}")
_GIVE_OR_TAKE = re.compile(rf"{_NUMBER}\s*(?:±|\+/-|\+-|give or take)\s*{_NUMBER}{_NOUN}")
_NOT_WHOLE = re.compile(r"\d[.,]\d")
_POWER = re.compile(r"\d\s*e\s*[+-]?\d")
_BELOW_NOTHING = re.compile(r"(?:^|[\s(])[-−–]\s*\d")

_NONE = {"none", "no", "zero", "nil", "nothing", "0"}
_ONE_TO_TWELVE = "one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve"
_WORDS = {word: number for number, word in enumerate(re.split(r"\|", _ONE_TO_TWELVE), start=1)}
_VAGUE = re.compile(
    r"\?+|[-–]|(?:.*\b)?(?:unknown|few|several|many|most|all|some|half|third|quarter|lots|loads|"
    r"plenty|couple|handful|dozens?|hundreds?|thousands?|uncounted|unclear|rest|more|fewer|same|n/?a|"
    r"not counted|don['’]?t know|do not know|not known|no idea|not sure)(?:\b.*)?"
)


def parse(text: str, field: str = "how_many") -> HowMany:
    """Read what a keeper writes: "17", "about 200", ">300", "200-240", "a few", "unknown".

    A comma, point or blank before exactly three digits groups thousands, as fish are whole.
    Words without a number ("several thousand", "half") are unknown, with the words kept.
    Raises RuleBroken beside `field` for parts of a fish, less than none, and what is no number.
    """
    written = " ".join(text.split())
    plain = written.casefold()
    _refuse_odd_figures(written, plain, field)
    for pattern, make in _READINGS:
        match = pattern.fullmatch(plain)
        if match:
            return make([_whole(part, written, field) for part in match.groups()], written, field)
    return _read_words(plain, written, field)


def _refuse_odd_figures(written: str, plain: str, field: str) -> None:
    if any(sign.isnumeric() and not sign.isascii() for sign in written):
        raise RuleBroken(f"Please write “{written}” with the figures 0 to 9.", field)
    if _POWER.search(plain):
        raise RuleBroken(f"Please write “{written}” out in full, such as 1000.", field)
    if _BELOW_NOTHING.search(plain):
        raise RuleBroken(f"“{written}” is below 0; a number of fish begins at 0.", field)


def _whole(part: str, written: str, field: str) -> int:
    number = int(re.sub(r"\D", "", part)[:20])
    if number > MOST:
        raise RuleBroken(f"“{written}” is more than {MOST:,}: please check the figures.", field)
    return number


def _read_words(plain: str, written: str, field: str) -> HowMany:
    if plain in _NONE:
        return HowMany.counted(0, written)
    if plain in _WORDS:
        return HowMany.counted(_WORDS[plain], written)
    has_figures = any(sign.isdigit() for sign in plain)
    if not plain or (not has_figures and _VAGUE.fullmatch(plain)):
        return HowMany.unknown(written)
    if _NOT_WHOLE.search(plain):
        raise RuleBroken(f"Fish are counted whole: “{written}” has a part of one.", field)
    raise RuleBroken(
        f"“{written}” is not a number this room can read. Write 17, about 200, at least 50, "
        "200–240, a few, or unknown.",
        field,
    )


def _range(numbers: list[int], written: str, field: str) -> HowMany:
    low, high = numbers
    if low > high:
        raise RuleBroken(f"“{written}” runs from more to fewer; write the smaller first.", field)
    return HowMany.estimated((low + high) // 2, low, high, RANGE_AS_SAID, (low, high), written)


def _least_and_most(numbers: list[int], written: str, field: str) -> HowMany:
    low, high = numbers
    if low > high:
        raise RuleBroken(f"“{written}” asks for more than its own limit.", field)
    return HowMany(None, low, high, Basis.AT_LEAST, written=written)


def _best_and_range(numbers: list[int], written: str, field: str) -> HowMany:
    best, low, high = numbers
    if not low <= best <= high:
        raise RuleBroken(f"In “{written}” the range does not hold the number before it.", field)
    return HowMany.estimated(best, low, high, written=written)


_READINGS = (
    (_COUNTED, lambda n, written, field: HowMany.counted(n[0], written)),
    (_ABOUT_BEFORE, lambda n, written, field: HowMany.about(n[0], written)),
    (_ABOUT_AFTER, lambda n, written, field: HowMany.about(n[0], written)),
    (_LEAST_BEFORE, lambda n, written, field: HowMany.at_least(n[0], written)),
    (_LEAST_AFTER, lambda n, written, field: HowMany.at_least(n[0], written)),
    (_MOST_BEFORE, lambda n, written, field: HowMany.unknown(written, at_most=n[0])),
    (_LEAST_AND_MOST, _least_and_most),
    (_BEST_AND_RANGE, _best_and_range),
    (
        _GIVE_OR_TAKE,
        lambda n, written, field: HowMany.estimated(
            n[0], max(0, n[0] - n[1]), n[0] + n[1], "give or take", (n[0], n[1]), written
        ),
    ),
    (_RANGE, _range),
)
