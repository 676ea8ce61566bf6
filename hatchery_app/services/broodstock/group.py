"""Fish kept together without individual identity, and the pair that forms among them."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.broodstock import BroodGroup as GroupFacts
from hatchery_app.domain.broodstock.broodstock import LeftGroup, Origin
from hatchery_app.domain.broodstock.pairing import LinkKind, PairLink, pair_from_group
from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import BroodGroup, Fish, GroupLeft, Pair
from hatchery_app.models.tank import Tank
from hatchery_app.services.broodstock.fish import add_fish
from hatchery_app.services.broodstock.pair import add_pair
from hatchery_app.services.broodstock.stock_record import Place, load_stock
from hatchery_app.services.clutch.brood_clutches import BroodClutch, load_brood_clutches
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.species.library import check_species

NOT_A_GROUP = "That group does not stand in this room's records."
PAIR_FORMED = "pair formed"
WAYS_OUT = ("missing", "died", "sold", "put down", "given away", "moved")


@use_case
def enter_group(
    book: Book,
    *,
    name: str,
    number: int,
    tank_id: int,
    when: When,
    species_key: str = "",
    note: str = "",
) -> int:
    """So many fish sit together, none of them known singly."""
    book.find(Tank, tank_id, "That tank does not stand in this room's records.")
    check_species(species_key)
    if not name.strip():
        raise RuleBroken("The group needs a name, such as the six in B4.", field="name")
    GroupFacts(0, name, number, when)
    row = BroodGroup(name=name.strip(), number=number, species_key=species_key, tank_id=tank_id)
    return book.enter(row, when=when, note=note).fact


@use_case
def record_group_left(
    book: Book, *, group_id: int, number: int, how: str, when: When, note: str = ""
) -> int:
    """So many fish left the group by a named way."""
    book.find(BroodGroup, group_id, NOT_A_GROUP)
    if how not in WAYS_OUT:
        raise RuleBroken("Say how they left the group.", field="how")
    _take_out(book, group_id, LeftGroup(when, number, how), note)
    return group_id


def _take_out(book: Book, group_id: int, going: LeftGroup, note: str = "") -> None:
    group = load_stock(book.session).groups[group_id].group
    replace(group, left=(*group.left, going))  # refuses more than there were
    row = GroupLeft(group_id=group_id, number=going.number, how=going.how)
    book.enter(row, when=going.when, note=note)


@use_case
def form_pair_in_group(
    book: Book,
    *,
    group_id: int,
    female_name: str,
    male_name: str,
    when: When,
    origin: Origin = Origin.UNKNOWN,
    note: str = "",
) -> int:
    """A pair has formed by itself: its two fish get names and leave the group's number.

    Returns the pair.
    """
    row = book.find(BroodGroup, group_id, NOT_A_GROUP)
    group = load_stock(book.session).groups[group_id].group
    female, male = (
        add_fish(
            book,
            Fish(name=name.strip(), species_key=row.species_key, origin=origin, group_id=group_id),
            when=When(row.happened_earliest, row.happened_latest, row.said, row.from_memory),
            tank_id=row.tank_id,
        )
        for name in (female_name, male_name)
    )
    pair_from_group(
        group.number_at(when.latest),
        PairLink(0, female.fact, male.fact, when),
        (female.fact, male.fact),
    )
    _take_out(book, group_id, LeftGroup(when, 2, PAIR_FORMED, (female.fact, male.fact)))
    pair = Pair(female_id=female.fact, male_id=male.fact, link=LinkKind.PAIR)
    return add_pair(book, pair, when=when, note=note).fact


@dataclass(frozen=True)
class GroupPage:
    """A group: how many are left, how the others left, and eggs that some of it laid."""

    group_id: int
    name: str
    number_at_first: int
    number: int
    since: When
    species_key: str
    place: Place | None
    accounted: Mapping[str, int]
    clutches: tuple[tuple[BroodClutch, str], ...]
    now: datetime


def group_page(session: Session, *, group_id: int, now: datetime) -> GroupPage:
    """One group. Raises NotKnown."""
    stock = load_stock(session)
    record = stock.groups.get(group_id)
    if record is None:
        raise NotKnown(NOT_A_GROUP)
    names = dict(stock.labels)
    laid = [
        c
        for c in load_brood_clutches(session)
        if group_id in (c.parents.female.group_id, c.parents.male.group_id)
    ]
    return GroupPage(
        group_id=group_id,
        name=record.group.name,
        number_at_first=record.group.number,
        number=record.group.number_at(now),
        since=record.group.since,
        species_key=record.species_key,
        place=stock.place(record.tank_id),
        accounted=record.group.accounted_at(now),
        clutches=tuple((c, c.parents.said(names)) for c in reversed(laid)),
        now=now,
    )
