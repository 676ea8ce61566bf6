"""A breeding fish leaves by a named door. If it was one of a pair, the pair ends with it; its
eggs do not."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from sqlalchemy import select

from hatchery_app.domain.broodstock.after_loss import end_pair_by_loss
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.pairing import EndedBecause, PairLink, links_at, overlapping
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import When, say_when
from hatchery_app.models.broodstock import Fish, FishLeft, PairEnded
from hatchery_app.models.entry import known
from hatchery_app.services.broodstock.fish import NOT_OF_THIS_ROOM
from hatchery_app.services.broodstock.stock_record import StockRecord, load_stock
from hatchery_app.services.clutch.brood_clutches import load_brood_clutches, of_parent
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import room_now

NOT_A_LEAVING = "That leaving does not stand in this room's records."


@use_case
def record_leaving(
    book: Book,
    *,
    fish_id: int,
    door: WayOut,
    when: When,
    reason: str = "",
    note: str = "",
) -> int:
    """A fish died, went missing or went elsewhere. Ends every link it stood in then.

    Its open clutch stays open with its mother and its hatch watch. Returns the fish.
    """
    book.find(Fish, fish_id, NOT_OF_THIS_ROOM)
    stock = load_stock(book.session)
    fish = stock.fish_named(fish_id).fish
    if fish.gone is not None:
        raise RuleBroken(
            f"{fish.name} left already ({fish.gone_how}): correct that entry instead.",
            field="door",
        )
    _check_day(book, stock, fish_id, when)
    left = book.enter(
        FishLeft(fish_id=fish_id, door=door, reason=reason.strip()), when=when, note=note
    )
    for link in links_at(fish_id, stock.links, when.latest):
        _end(book, link, fish_id, left, when)
    return fish_id


def _end(book: Book, link: PairLink, fish_id: int, left: FishLeft, when: When) -> None:
    """The link ends with the fish; one that was thought to end later ended now already."""
    standing = replace(link, until=None, ended_because=None)
    because = end_pair_by_loss(standing, fish_id, when).ended_because if link.is_pair else None
    ended = PairEnded(
        pair_id=link.pair_id, because=because or EndedBecause.SEPARATED, fish_left_id=left.fact
    )
    thought = book.session.scalars(
        select(PairEnded).where(known(), PairEnded.pair_id == link.pair_id)
    ).one_or_none()
    if thought is None:
        book.enter(ended, when=when)
    elif thought.happened_earliest > when.latest:
        book.correct(thought, ended, when=when, note=thought.note)


def _check_day(book: Book, stock: StockRecord, fish_id: int, when: When) -> None:
    """Refuse a day before the fish came, or before something it did."""
    fish = stock.fish_named(fish_id).fish
    room_time = room_now(book.session).room_time
    if fish.arrived is not None and when.latest < fish.arrived.earliest:
        raise RuleBroken(
            f"{fish.name} came {say_when(fish.arrived, room_time, year=True)} and cannot have "
            "left before.",
            field="at_on",
        )
    laid = [
        c
        for c in of_parent(load_brood_clutches(book.session), fish_id)
        if (fish_id,) in (c.parents.female.fish_ids, c.parents.male.fish_ids)
        and c.laid.earliest > when.latest
    ]
    if laid:
        said = "; ".join(f"{c.name}, {say_when(c.laid, room_time)}" for c in laid)
        raise RuleBroken(
            f"{fish.name} has eggs laid after that ({said}): correct the day, or those clutches "
            "first.",
            field="at_on",
        )
    _check_links(stock, fish_id, when)


def _check_links(stock: StockRecord, fish_id: int, when: When) -> None:
    later = [
        link
        for link in stock.links
        if fish_id in link.fish_ids and link.since.earliest > when.latest
    ]
    if later:
        words = "; ".join(stock.pair_words(link.pair_id) for link in later)
        raise RuleBroken(
            f"It was put together with another fish after that ({words}): correct the day, or "
            "that pair first.",
            field="at_on",
        )


@use_case
def correct_leaving(
    book: Book,
    *,
    left_id: int,
    door: WayOut,
    when: When,
    reason: str = "",
    note: str = "",
) -> int:
    """Say better when or how a fish left; the ends of its pairs move along."""
    old = book.find(FishLeft, left_id, NOT_A_LEAVING)
    _check_day(book, load_stock(book.session), old.fish_id, when)
    new = FishLeft(fish_id=old.fish_id, door=door, reason=reason.strip())
    book.correct(old, new, when=when, note=note)
    for ended in _ends_by(book, left_id):
        moved = PairEnded(
            pair_id=ended.pair_id, because=ended.because, fish_left_id=ended.fish_left_id
        )
        book.correct(ended, moved, when=when)
    return old.fish_id


@use_case
def take_back_leaving(book: Book, *, left_id: int, note: str = "") -> int:
    """The fish never left: it is here again, and so is the pair that ended with it.

    Refused where one of its pairs cannot stand again, because a new one was made since.
    """
    left = book.find(FishLeft, left_id, NOT_A_LEAVING)
    ends = _ends_by(book, left_id)
    _check_pairs_can_stand(book, [ended.pair_id for ended in ends])
    book.withdraw(left, note=note)
    for ended in ends:
        book.withdraw(ended, note=note)
    return left.fish_id


def _ends_by(book: Book, left_id: int) -> Sequence[PairEnded]:
    ends = select(PairEnded).where(known(), PairEnded.fish_left_id == left_id)
    return book.session.scalars(ends).all()


def _check_pairs_can_stand(book: Book, pair_ids: Iterable[int]) -> None:
    stock = load_stock(book.session)
    for pair_id in pair_ids:
        old = stock.pair_named(pair_id).link
        again = PairLink(old.pair_id, old.female_id, old.male_id, old.since, kind=old.kind)
        newer = overlapping(again, stock.links)
        if newer:
            words = "; ".join(stock.pair_words(link.pair_id) for link in newer)
            raise RuleBroken(
                f"{stock.pair_words(pair_id)} cannot stand again: there is {words} since. End "
                "or withdraw that pair first."
            )

