"""The order of life: what cannot have come before what. Asked before and after a correction, so
that only what the change brings is spoken of."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, and_, or_, select
from sqlalchemy.orm import Session, aliased

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
from hatchery_app.models.stock_book import Moved
from hatchery_app.models.treatment import Treatment, TreatmentEnded


@dataclass(frozen=True)
class Rule:
    """`later` cannot lie wholly before `earlier`. `link` says which two belong together; where
    they do so through a third entry, `through` is its kind."""

    earlier: type[Entry]
    later: type[Entry]
    link: Callable[..., ColumnElement[bool]]
    through: type[Entry] | None = None


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
    Rule(Fish, FishLeft, _of("fish_id")),
    Rule(HealthBarred, HealthBarLifted, _of("bar_id")),
    Rule(Pair, PairEnded, _of("pair_id")),
    Rule(Pair, Laying, _of("pair_id")),
    Rule(Laying, PairEnded, _same("pair_id")),
    Rule(Laying, FishLeft, _fish_of, Pair),
    *(Rule(Laying, one, _eggs_of, Clutch) for one in (EggsMoved, ClutchCheck, Hatch, ClutchEnded)),
    *(Rule(one, ClutchEnded, _same("clutch_id")) for one in (EggsMoved, ClutchCheck, Hatch)),
    Rule(Hatch, Moved, _of("hatch_id")),
    Rule(Held, HoldReleased, _of("held_id")),
    Rule(SetAside, SetAsideEnded, _of("set_aside_id")),
    Rule(Treatment, TreatmentEnded, _of("treatment_id")),
)

Clash = tuple[int, int]


def clashes(session: Session, kinds: Collection[type[Entry]]) -> frozenset[Clash]:
    """The pairs of facts (earlier, later) that stand the wrong way, by the rules of some kinds."""
    found: set[Clash] = set()
    for rule in RULES:
        if any(issubclass(kind, (rule.earlier, rule.later)) for kind in kinds):
            found |= _broken(session, rule)
    return frozenset(found)


def _broken(session: Session, rule: Rule) -> set[Clash]:
    earlier: Any = aliased(rule.earlier, flat=True)
    later: Any = aliased(rule.later, flat=True)
    between: tuple[Any, ...] = (aliased(rule.through, flat=True),) if rule.through else ()
    query = (
        select(earlier.fact_id, later.fact_id)
        .select_from(earlier, later, *between)  # named whole, or their two tables stand apart
        .where(
            *(known(of=one) for one in (earlier, later, *between)),
            rule.link(earlier, later, *between),
            later.happened_latest < earlier.happened_earliest,
        )
    )
    return {(first, second) for first, second in session.execute(query)}
