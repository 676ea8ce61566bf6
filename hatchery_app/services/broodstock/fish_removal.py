"""A fish entered twice is merged with its other entry; one entered by mistake is deleted.

A fish with descendants is never deleted, and a death or a sale is no deletion.
"""

from collections.abc import Sequence
from typing import Any, TypeVar

from sqlalchemy import or_, select

from hatchery_app.domain.broodstock.broodstock import check_may_be_deleted
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.models import broodstock as tables
from hatchery_app.models.clutch import Laying
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.parents import ParentColumns
from hatchery_app.services.broodstock.fish import NOT_OF_THIS_ROOM, check_descent
from hatchery_app.services.broodstock.stock_record import StockRecord, load_stock
from hatchery_app.services.clutch.brood_clutches import load_brood_clutches, of_parent
from hatchery_app.services.recording import Book, said_anew, use_case
from hatchery_app.services.records.record_references import hanging_on

Row = TypeVar("Row", bound=Entry)

ABOUT_ONE_FISH: tuple[type[Entry], ...] = (
    tables.SpeciesSeen,
    tables.SexSeen,
    tables.LengthMeasured,
    tables.FishPlaced,
    tables.FishLeft,
    tables.HealthBarred,
)
WITH_PARENTS: tuple[type[Entry], ...] = (Laying, tables.Fish)


@use_case
def delete_fish(book: Book, *, fish_id: int, note: str = "") -> int:
    """Take back a fish that was entered by mistake. Returns it, or what it was merged with.

    Refused for a fish with descendants or in a pair; where it may be a second entry of another
    fish, merging is offered (answer "merge_with").
    """
    fish = book.find(tables.Fish, fish_id, NOT_OF_THIS_ROOM)
    stock = load_stock(book.session)
    into = book.answers.get("merge_with", "")
    if into.isdigit() and int(into) != fish_id:
        return _merge(book, fish, int(into))
    descendants = _descendants(book, stock, fish_id)
    check_may_be_deleted(fish.name, descendants, _may_be_same(stock, fish_id))
    if any(fish_id in link.fish_ids for link in stock.links):
        raise RuleBroken(
            f"{fish.name} stands in a pair. Where it was entered twice, merge the two entries; a "
            "death or a sale is entered as such."
        )
    for row in sorted(hanging_on(book.session, [fish_id]).values(), key=lambda row: -row.seq):
        book.withdraw(row, note=note)
    book.withdraw(fish, note=note)
    return fish_id


def _descendants(book: Book, stock: StockRecord, fish_id: int) -> int:
    """Layings it is, or may be, a parent of, and fish that name it as a parent."""
    layings = {c.laying_id for c in of_parent(load_brood_clutches(book.session), fish_id)}
    young = [f for f in stock.fish.values() if fish_id in f.parents.candidates]
    return len(layings) or len(young)


def _may_be_same(stock: StockRecord, fish_id: int) -> Sequence[tuple[int, str]]:
    """The fish it may be a second entry of: of the same species, namesakes first."""
    fish = stock.fish_named(fish_id).fish
    others = [record.fish for other, record in stock.fish.items() if other != fish_id]
    others.sort(key=lambda f: (f.name.casefold() != fish.name.casefold(), f.name.casefold()))
    return [(f.fish_id, stock.labels[f.fish_id]) for f in others]


def _merge(book: Book, fish: tables.Fish, into_id: int) -> int:
    book.find(tables.Fish, into_id, NOT_OF_THIS_ROOM)
    old_id = fish.fact
    for kind in ABOUT_ONE_FISH:
        for row in _about(book, kind, old_id):
            _rewrite(book, row, fish_id=into_id)
    _merge_links(book, old_id, into_id)
    for kind in WITH_PARENTS:
        for row in _naming_as_parent(book, kind, old_id):
            _rewrite(book, row, **_parents_with(row, old_id, into_id))
    book.withdraw(fish, note=f"Merged with entry {into_id}.")
    check_descent(book)
    return into_id


def _merge_links(book: Book, old_id: int, into_id: int) -> None:
    for pair in _linked(book, tables.Pair, "female_id", "male_id", old_id):
        two = {r: into_id for r in ("female_id", "male_id") if getattr(pair, r) == old_id}
        if into_id in (pair.female_id, pair.male_id):
            raise RuleBroken("These two stand as a pair: they are not one fish.", field="into_id")
        _rewrite(book, pair, **two)
    for look in _linked(book, tables.SizeLooked, "fish_id", "other_id", old_id):
        if into_id in (look.fish_id, look.other_id):
            book.withdraw(look)  # a fish is not compared with itself
        else:
            which = "fish_id" if look.fish_id == old_id else "other_id"
            _rewrite(book, look, **{which: into_id})


def _linked(book: Book, kind: type[Row], one: str, other: str, fish_id: int) -> Sequence[Row]:
    either = or_(getattr(kind, one) == fish_id, getattr(kind, other) == fish_id)
    return book.session.scalars(select(kind).where(known(), either)).all()


def _about(book: Book, kind: type[Row], fish_id: int) -> Sequence[Row]:
    column: Any = kind.fish_id  # type: ignore[attr-defined]
    return book.session.scalars(select(kind).where(known(), column == fish_id)).all()


def _naming_as_parent(book: Book, kind: type[Entry], fish_id: int) -> Sequence[Entry]:
    columns: Any = kind
    named = or_(
        columns.female_ids.contains(str(fish_id)), columns.male_ids.contains(str(fish_id))
    )
    rows = book.session.scalars(select(kind).where(known(), named)).all()
    return [row for row in rows if fish_id in _parents(row).parents.candidates]


def _parents(row: Any) -> ParentColumns:
    found: ParentColumns = row
    return found


def _parents_with(row: Any, old_id: int, into_id: int) -> dict[str, str]:
    """The parent columns with one fish in the place of another; refused as both parents."""
    changed = {}
    for column in ("female_ids", "male_ids"):
        ids = [i for i in getattr(row, column).split(",") if i]
        kept = [str(into_id) if i == str(old_id) else i for i in ids]
        changed[column] = ",".join(dict.fromkeys(kept))
        known_as = column.replace("_ids", "_known_as")
        if len(ids) > 1 and changed[column] == str(into_id):
            changed[known_as] = "fish"
    return changed


def _rewrite(book: Book, row: Entry, **changes: Any) -> None:
    """The same entry with some columns changed, in the place of the old one."""
    book.correct(row, said_anew(row, **changes), when=row.when, note=row.note)
