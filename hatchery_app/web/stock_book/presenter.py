"""The stock book in words: the running balance beside each line, the unexplained as such."""

from dataclasses import dataclass
from functools import lru_cache

from hatchery_app.domain.how_many import Basis
from hatchery_app.domain.stock_book.stock_book import Balance, Stage
from hatchery_app.domain.stock_book.worked_count import number_told
from hatchery_app.domain.when import RoomTime, say_when
from hatchery_app.services.stock_book.held_beside import HeldBeside
from hatchery_app.services.stock_book.holding_facts import HoldingFacts
from hatchery_app.services.stock_book.stock_book_page import After, Held, StockBookPage, StockLine
from hatchery_app.web.addresses import address_of

MOST_GAPS = 4


@dataclass(frozen=True)
class HeldLine:
    """A batch or cohort that is not empty, with where all its fish went."""

    name: str
    url: str
    now: str
    why: str
    unexplained: str


@dataclass(frozen=True)
class MoveLine:
    """One line of the book. `url` is where it is corrected."""

    when: str
    what: str
    url: str
    after: str
    unexplained: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class StockPage:
    """The book: what is held, and fifty of its lines."""

    heading: str
    held: tuple[HeldLine, ...]
    beside: tuple[tuple[str, str, str], ...]
    lines: tuple[MoveLine, ...]
    number: int
    newer: str
    older: str


# The answer is the same object until something is written: so are its words.
@lru_cache(maxsize=16)
def show(book: StockBookPage, room_time: RoomTime) -> StockPage:
    """One page of the book."""
    return StockPage(
        heading="Stock book",
        held=tuple(_held(one, room_time) for one in book.held) if book.page == 1 else (),
        beside=_beside(book.beside) if book.beside else (),
        lines=tuple(move_line(one, room_time) for one in book.lines),
        number=book.page,
        newer=address_of("stock_book.show", page=book.page - 1) if book.page > 1 else "",
        older=address_of("stock_book.show", page=book.page + 1) if book.has_older else "",
    )


def _beside(held: HeldBeside) -> tuple[tuple[str, str, str], ...]:
    """Eggs and breeding fish, each with the page that tells of them: (what, how many, address)."""
    lines = []
    if held.clutches:
        eggs = f"{held.eggs_laid:,} eggs laid" if held.eggs_laid else "eggs not counted"
        if held.uncounted and held.eggs_laid:
            eggs += f", {held.uncounted} not counted"
        clutches = f"{held.clutches} clutch{'es' if held.clutches > 1 else ''}"
        lines.append(("Eggs", f"{clutches}: {eggs}", address_of("clutch.list")))
    if held.fish or held.in_groups:
        fish = f"{held.fish} fish by themselves or in pairs"
        grouped = f", {held.in_groups} in groups" if held.in_groups else ""
        lines.append(("Breeding fish", fish + grouped, address_of("broodstock.show")))
    return tuple(lines)


def _held(one: Held, room_time: RoomTime) -> HeldLine:
    return HeldLine(
        one.holding.full_name,
        address_of("stock_book.batch", holding_id=one.holding.id),
        one.balance.now.said(),
        where_all_went(one.balance),
        unexplained_said(one.balance, room_time),
    )


def where_all_went(balance: Balance) -> str:
    """ "200 counted came in, 12 counted lost, 60 counted left alive"."""
    parts = [f"{balance.start.said()} came in"]
    parts += [f"{balance.lost.said()} lost"] if balance.lost.best != 0 else []
    parts += [f"{balance.left_alive.said()} left alive"] if balance.left_alive.best != 0 else []
    return ", ".join(parts)


def unexplained_said(balance: Balance, room_time: RoomTime) -> str:
    """What counts found gone, each with the looks it lies between; "" for nothing."""
    gaps = balance.gaps[-MOST_GAPS:]
    said = "; ".join(
        f"{gap.number.said()} unexplained, {say_when(gap.when, room_time)}" for gap in gaps
    )
    if len(balance.gaps) > MOST_GAPS:
        return f"{balance.unexplained.said()} unexplained in all, the last of them: {said}"
    return said


def holding_url(holding: HoldingFacts) -> str:
    """The page of a batch or a cohort."""
    if holding.stage is Stage.COHORT:
        return address_of("cohort.show", cohort_id=holding.id)
    return address_of("larval_tank.show", holding_id=holding.id)


def move_line(line: StockLine, room_time: RoomTime, *, name_batch: bool = True) -> MoveLine:
    """One line of the book; in one batch's own book its balance need not be named."""
    return MoveLine(
        say_when(line.when, room_time),
        _what(line),
        address_of("records.entry", fact_id=line.fact_id),
        " · ".join(_after(one, name_batch) for one in line.after),
        tuple(
            f"{one.gap.number.said()} unexplained, {say_when(one.gap.when, room_time)}"
            for one in line.after
            if one.gap is not None
        ),
        line.note,
    )


def _what(line: StockLine) -> str:
    if not line.door:
        whose = line.after[0].holding.full_name
        if line.number.basis in (Basis.COUNTED, Basis.ESTIMATED):
            return f"counted {whose}: {line.number.said()}"
        return f"looked at {whose}: {number_told(line.number)}"  # a look is no count
    way = ""
    if line.out_of is not None:
        way += f" from {line.out_of.full_name}"
    if line.into is not None:
        way += f" into {line.into.full_name}"
    reason = f" ({line.reason})" if line.reason else ""
    return f"{line.number.said()} {line.door}{way}{reason}"


def _after(one: After, name_batch: bool) -> str:
    raised = f", {one.raised} more than the book had" if one.raised else ""
    whose = f"{one.holding.name} then" if name_batch else "then"
    return f"{whose} {one.number.said()}{raised}"
