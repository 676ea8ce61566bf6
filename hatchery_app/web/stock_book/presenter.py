"""The stock book in words: the running balance beside each line, the unexplained as such."""

from dataclasses import dataclass

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book import Stage
from hatchery_app.domain.when import RoomTime, say_when
from hatchery_app.services.holding_facts import HoldingFacts
from hatchery_app.services.stock_book_page import After, Held, StockBookPage, StockLine
from hatchery_app.web.addresses import address_of


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
    after: tuple[str, ...]
    unexplained: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class StockPage:
    """The book: what is held, and fifty of its lines."""

    heading: str
    held: tuple[HeldLine, ...]
    lines: tuple[MoveLine, ...]
    number: int
    newer: str
    older: str


def show(book: StockBookPage, room_time: RoomTime) -> StockPage:
    """One page of the book."""
    return StockPage(
        heading="Stock book",
        held=tuple(_held(one, room_time) for one in book.held) if book.page == 1 else (),
        lines=tuple(_move(one, room_time) for one in book.lines),
        number=book.page,
        newer=address_of("stock_book.show", page=book.page - 1) if book.page > 1 else "",
        older=address_of("stock_book.show", page=book.page + 1) if book.has_older else "",
    )


def _held(one: Held, room_time: RoomTime) -> HeldLine:
    balance = one.balance
    parts = [f"{balance.start.said()} came in"]
    parts += [f"{balance.lost.said()} lost"] if not _none(balance.lost) else []
    parts += [f"{balance.left_alive.said()} left alive"] if not _none(balance.left_alive) else []
    gaps = "; ".join(
        f"{gap.number.said()} unexplained, {say_when(gap.when, room_time)}" for gap in balance.gaps
    )
    return HeldLine(
        one.holding.full_name, _address(one.holding), balance.now.said(), ", ".join(parts), gaps
    )


def _none(number: HowMany) -> bool:
    return number.best == 0


def _address(holding: HoldingFacts) -> str:
    if holding.stage is Stage.COHORT:
        return address_of("cohort.show", cohort_id=holding.id)
    return address_of("larval_tank.show", holding_id=holding.id)


def _move(line: StockLine, room_time: RoomTime) -> MoveLine:
    return MoveLine(
        say_when(line.when, room_time),
        _what(line),
        address_of("records.entry", fact_id=line.fact_id),
        tuple(_after(one) for one in line.after),
        tuple(
            f"{one.gap.number.said()} unexplained, {say_when(one.gap.when, room_time)}"
            for one in line.after
            if one.gap is not None
        ),
        line.note,
    )


def _what(line: StockLine) -> str:
    if not line.door:
        return f"counted {line.after[0].holding.full_name}: {line.number.said()}"
    way = ""
    if line.out_of is not None:
        way += f" from {line.out_of.full_name}"
    if line.into is not None:
        way += f" into {line.into.full_name}"
    reason = f" ({line.reason})" if line.reason else ""
    return f"{line.number.said()} {line.door}{way}{reason}"


def _after(one: After) -> str:
    raised = f", {one.raised} more than the book had" if one.raised else ""
    return f"{one.holding.name} then {one.number.said()}{raised}"
