"""The order of life: what cannot have come before what. Asked of what a use case has written, and
before and after a correction, so that only what the change brings is spoken of."""

import functools
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, or_, select
from sqlalchemy.orm import Session, aliased

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.models.broodstock import (
    Fish,
    FishLeft,
    HealthBarLifted,
    HealthBarred,
    Pair,
    PairEnded,
)
from hatchery_app.models.clutch import Clutch, ClutchCheck, ClutchEnded, EggsMoved, Hatch, Laying
from hatchery_app.models.cohort import Held, HoldReleased, SetAside, SetAsideEnded
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Holding, Moved
from hatchery_app.models.treatment import Treatment, TreatmentEnded


@dataclass(frozen=True)
class Rule:
    """`later` cannot lie wholly before `earlier`, and `sentence` says so. `link` says which two
    belong together; where they do so through a third entry, `through` is its kind. `names_it`:
    the later names the earlier, so nothing that stands can belong to an earlier one just written.
    """

    earlier: type[Entry]
    later: type[Entry]
    link: Callable[..., ColumnElement[bool]]
    sentence: str
    through: type[Entry] | None = None
    names_it: bool = True


def _of(column: str) -> Callable[..., ColumnElement[bool]]:
    def together(earlier: Any, later: Any) -> ColumnElement[bool]:
        named: ColumnElement[bool] = getattr(later, column) == earlier.fact_id
        return named

    return together


def _same(column: str) -> Callable[..., ColumnElement[bool]]:
    def together(earlier: Any, later: Any) -> ColumnElement[bool]:
        same: ColumnElement[bool] = getattr(later, column) == getattr(earlier, column)
        return same

    return together


def _eggs_of(earlier: Any, later: Any, eggs: Any) -> ColumnElement[bool]:
    return and_(eggs.laying_id == earlier.fact_id, later.clutch_id == eggs.fact_id)


def _fish_of(earlier: Any, later: Any, pair: Any) -> ColumnElement[bool]:
    of_the_pair = or_(later.fish_id == pair.female_id, later.fish_id == pair.male_id)
    return and_(earlier.pair_id == pair.fact_id, of_the_pair)


RULES = (
    Rule(Fish, FishLeft, _of("fish_id"), "A fish cannot leave before it came."),
    Rule(HealthBarred, HealthBarLifted, _of("bar_id"), "A fish is barred before it is freed."),
    Rule(Pair, PairEnded, _of("pair_id"), "A pair cannot end before it was put together."),
    Rule(Pair, Laying, _of("pair_id"), "A pair cannot lay before it was put together."),
    Rule(
        Laying, PairEnded, _same("pair_id"), "A pair cannot lay after it was parted.",
        names_it=False,
    ),
    Rule(
        Laying, FishLeft, _fish_of, "A fish that was no longer here has no eggs.", Pair,
        names_it=False,
    ),
    *(
        Rule(Laying, one, _eggs_of, "Nothing can be so of eggs before they are laid.", Clutch)
        for one in (EggsMoved, ClutchCheck, Hatch, ClutchEnded)
    ),
    *(
        Rule(
            one, ClutchEnded, _same("clutch_id"), "Its eggs were still there after that.",
            names_it=False,
        )
        for one in (EggsMoved, ClutchCheck, Hatch)
    ),
    Rule(Hatch, Moved, _of("hatch_id"), "Larvae cannot be moved before they hatched."),
    Rule(Holding, Held, _of("holding_id"), "Fish cannot be held before they were a cohort."),
    Rule(Held, HoldReleased, _of("held_id"), "Fish are held before they are let go again."),
    Rule(
        SetAside, SetAsideEnded, _of("set_aside_id"), "Fish are set aside before they are freed."
    ),
    Rule(
        Treatment, TreatmentEnded, _of("treatment_id"), "A treatment cannot end before it began."
    ),
)  # fmt: skip

Clash = tuple[int, int]


def refuse_what_cannot_be(session: Session, written: Sequence[Entry]) -> None:
    """Raises RuleBroken where an entry just written lies the wrong way of one that stands.

    A statement for each rule that the entry can break: this is asked at every entry.
    """
    for row in written:
        for rule in RULES:
            if (isinstance(row, rule.later) and _lies_after(session, rule, row)) or (
                isinstance(row, rule.earlier) and not rule.names_it
                and _lies_before(session, rule, row)
            ):  # fmt: skip
                raise RuleBroken(f"{rule.sentence} Correct the day, or that entry first.", "at_on")


def _lies_after(session: Session, rule: Rule, later: Any) -> bool:
    """Whether an entry that must come before `later` lies wholly after it."""
    earlier = _one_of(rule.earlier)
    return _any(session, rule, earlier, earlier, later)


def _lies_before(session: Session, rule: Rule, earlier: Any) -> bool:
    """Whether an entry that must come after `earlier` lies wholly before it."""
    later = _one_of(rule.later)
    return _any(session, rule, later, earlier, later)


def _any(session: Session, rule: Rule, other: Any, earlier: Any, later: Any) -> bool:
    between = (_one_of(rule.through),) if rule.through else ()
    found = (
        select(other.fact_id)
        .select_from(other, *between)
        .where(
            *(known(of=one) for one in (other, *between)),
            rule.link(earlier, later, *between),
            other.happened_earliest > later.happened_latest
            if other is earlier
            else other.happened_latest < earlier.happened_earliest,
        )
        .limit(1)
    )
    return session.execute(found).first() is not None


@functools.cache
def _one_of(kind: type[Entry]) -> Any:
    return aliased(kind, flat=True)


def clashes(session: Session, kinds: Collection[type[Entry]]) -> frozenset[Clash]:
    """The pairs of facts (earlier, later) that stand the wrong way, by the rules of some kinds."""
    found: set[Clash] = set()
    for rule in RULES:
        if any(issubclass(kind, (rule.earlier, rule.later)) for kind in kinds):
            found |= _broken(session, rule)
    return frozenset(found)


def _broken(session: Session, rule: Rule) -> set[Clash]:
    return {(first, second) for first, second in session.execute(_those_broken(rule))}


@functools.cache
def _those_broken(rule: Rule) -> Select[int, int]:
    earlier, later = _one_of(rule.earlier), _one_of(rule.later)
    between = (_one_of(rule.through),) if rule.through else ()
    return (
        select(earlier.fact_id, later.fact_id)
        .select_from(earlier, later, *between)  # named whole, or their two tables stand apart
        .where(
            *(known(of=one) for one in (earlier, later, *between)),
            rule.link(earlier, later, *between),
            later.happened_latest < earlier.happened_earliest,
        )
    )
