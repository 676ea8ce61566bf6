"""Fish that leave a cohort: by any door, out of those set aside or not, or as a breeder by name."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import select

from hatchery_app.domain.broodstock.broodstock import Origin
from hatchery_app.domain.cohort.cohort import not_for_breeding
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.parents import KnownAs, Parent, Parents
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.when import Night, When
from hatchery_app.models.broodstock import Fish
from hatchery_app.models.clutch import Clutch, Laying
from hatchery_app.models.entry import known
from hatchery_app.models.parents import parent_columns
from hatchery_app.models.stock_book import Holding
from hatchery_app.services import telling
from hatchery_app.services.broodstock import fish
from hatchery_app.services.cohort import cohort_facts
from hatchery_app.services.cohort.cohort import alive_in, check_aside, end_aside, find_cohort
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.stock_book import stock_book

DOORS = (Door.DIED, Door.PUT_DOWN, Door.MISSING, Door.SAMPLED, Door.GIVEN_AWAY, Door.EATEN)


@use_case
def leave_cohort(
    book: Book,
    *,
    holding_id: int,
    door: Door,
    when: When,
    number: HowMany | None = None,
    reason: str = "",
    set_aside_id: int | None = None,
    note: str = "",
) -> int:
    """Fish left by a named door; `number` None means all. Returns the entry.

    `set_aside_id`: they were among those set aside, which are then fewer.
    """
    find_cohort(book, holding_id)
    if door not in DOORS:
        raise RuleBroken("Say by which door they left.", field="door")
    whole = number.best if number is not None else None
    if set_aside_id is not None:
        if whole is None:
            raise RuleBroken("Say how many of those set aside.", field="number")
        check_aside(book, holding_id, set_aside_id, whole)
    moved_id = stock_book.leave(
        book, holding_id=holding_id, door=door, when=when, number=number, reason=reason, note=note
    )
    told_before = book.answers.get(telling.TOLD_TWICE) == telling.SAME
    if set_aside_id is not None and whole is not None and not told_before:
        end_aside(book, holding_id, set_aside_id, whole, when, moved_id=moved_id)
    return moved_id


@use_case
def keep_as_breeders(
    book: Book,
    *,
    holding_id: int,
    names: Sequence[str],
    when: When,
    tank_id: int | None = None,
    set_aside_id: int | None = None,
    note: str = "",
) -> int:
    """Fish of a cohort become breeders with names of their own. Returns the first of them.

    They keep their clutch; out of a mixed batch their parents are "one of", and no guess is made.
    """
    row = find_cohort(book, holding_id)
    named = [name.strip() for name in names if name.strip()]
    if not named:
        raise RuleBroken("Give each fish that is kept a name.", field="names")
    _check_may_be_kept(book, holding_id, len(named), set_aside_id)
    moved_id = stock_book.leave(
        book, holding_id=holding_id, door=Door.KEPT, when=when,
        number=HowMany.counted(len(named)), reason=f"kept as {', '.join(named)}"[:200], note=note,
    )  # fmt: skip
    if set_aside_id is not None:
        end_aside(book, holding_id, set_aside_id, len(named), when, moved_id=moved_id)
    made = [_breeder(book, row, name, when, tank_id, note) for name in named]
    fish.check_descent(book)
    return made[0]


def _check_may_be_kept(
    book: Book, holding_id: int, number: int, set_aside_id: int | None
) -> None:
    promises = cohort_facts.load_promises(book.session, (holding_id,))
    barred = not_for_breeding(promises.set_apart(holding_id))
    if barred:
        raise RuleBroken(f"None of these may be bred from: {barred}.", field="names")
    if set_aside_id is not None:
        check_aside(book, holding_id, set_aside_id, number)
        return
    alive = alive_in(book, holding_id).now
    free = promises.free(holding_id, alive)
    left = None if alive.best is None else alive.best - free.held - free.kept
    if left is not None and number > left:
        raise RuleBroken(
            f"{number} cannot be taken out: of {alive.best} alive {free.held} are held and "
            f"{free.kept} kept already.",
            field="names",
        )


def _breeder(
    book: Book, row: Holding, name: str, when: When, tank_id: int | None, note: str
) -> int:
    kept = Fish(
        name=name, species_key=row.species_key, crossed_with="", variety="", origin_said="",
        group_id=None, **descent_of(book, row.clutches, row.hatched),
    )  # fmt: skip
    return fish.add_fish(book, kept, when=when, tank_id=tank_id, note=note).fact


def descent_of(
    book: Book, clutches: Sequence[int], nights: tuple[Night, Night] | None
) -> dict[str, Any]:
    """What a fish out of such a batch has of it, as columns: clutch, parents, when it hatched."""
    one_clutch = len(clutches) == 1
    return {
        "species_evidence": "bred here" if clutches else "as the cohort it came from",
        "origin": Origin.CAPTIVE if clutches else Origin.UNKNOWN,
        "born_earliest_on": nights[0].evening if nights else None,
        "born_latest_on": nights[1].evening if nights else None,
        "clutch_id": clutches[0] if one_clutch else None,
        **parent_columns(Parents.unknown() if one_clutch else _one_of(book, clutches)),
    }


def _one_of(book: Book, clutch_ids: Sequence[int]) -> Parents:
    """The parents of a fish of a mixed batch: one of the mothers, one of the fathers."""
    of_them = select(Clutch.laying_id).where(known(), Clutch.fact_id.in_(clutch_ids))
    layings = book.session.scalars(
        select(Laying).where(known(), Laying.fact_id.in_(of_them))
    ).all()
    return Parents(
        _candidates([row.parents.female for row in layings]),
        _candidates([row.parents.male for row in layings]),
    )


def _candidates(parents: Sequence[Parent]) -> Parent:
    named = {fish_id for parent in parents for fish_id in parent.fish_ids}
    all_named = all(one.known_as in (KnownAs.FISH, KnownAs.ONE_OF) for one in parents)
    if not named or not all_named:
        return Parent.unknown()
    return Parent.fish(*named) if len(named) == 1 else Parent.one_of(*sorted(named))
