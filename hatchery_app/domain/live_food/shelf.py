"""The shelf: paste, cysts, salt, dry food. What is left, for how long, and by when to order.

What is left is what was last weighed, or came, less what was taken since. What was taken without
saying how much leaves the lower end unknown; a recount sets it right.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken

USE_LEARNED_OVER_DAYS = 14.0  # assumed: feeding changes with every hatch
LEAST_DAYS_OF_USE = 2.0  # assumed: one feeding is no rate
MOST = 1e7  # g or mL; beyond it a key was held down
ALGAE_G_PER_ML = 1.0  # a paste is taken as 1 g per mL; its dry fraction is a share of that


class StockKind(StrEnum):
    """What stands on the shelf."""

    PASTE = "algae paste"
    CYSTS = "brine-shrimp cysts"
    ENRICHMENT = "enrichment"
    DRY_FOOD = "dry food"
    SALT = "salt"


class HowGot(StrEnum):
    """How an amount on the shelf was got, from the firmest to none at all."""

    WEIGHED = "weighed"
    BY_LABEL = "by its label"
    ABOUT = "about"
    UNKNOWN = "unknown"


FIRMNESS = tuple(HowGot)
UNITS = ("g", "mL", "kg", "L")


@dataclass(frozen=True)
class Stock:
    """An amount in the item's unit with its ends (None: not known) and how it was got.

    `best` None: nobody knows how much. Raises RuleBroken below nothing or where ends cross.
    """

    best: float | None
    low: float | None
    high: float | None
    how: HowGot

    def __post_init__(self) -> None:
        known = [each for each in (self.low, self.best, self.high) if each is not None]
        if any(not 0 <= each <= MOST for each in known) or known != sorted(known):
            raise RuleBroken("What is left lies between nothing and what came.", field="amount")

    @classmethod
    def unknown(cls) -> Stock:
        """Nobody knows how much."""
        return cls(None, None, None, HowGot.UNKNOWN)

    def said(self, unit: str) -> str:
        """ "340 g", "about 340 g (300–380)", "at most 120 mL", "not known"."""
        if self.best is None:
            return "not known" if self.high is None else f"at most {_amount(self.high)} {unit}"
        words = f"{_amount(self.best)} {unit}"
        if self.how is not HowGot.WEIGHED:
            words = f"about {words}"
        if self.low is not None and self.high is not None and self.low < self.high:
            words += f" ({_amount(self.low)}–{_amount(self.high)})"
        return words


def _amount(amount: float) -> str:
    """Three figures at most, as a balance shows them."""
    if amount == 0:
        return "0"
    decimals = max(0, 2 - math.floor(math.log10(abs(amount))))
    return f"{round(amount, decimals):,.10g}"


_FIGURE = r"(\d{1,8}(?:[.,]\d{1,4})?)"
_PLAIN = re.compile(_FIGURE)
_ABOUT = re.compile(rf"(?:about|around|some|~|≈|ca\.?)\s*{_FIGURE}")
_RANGE = re.compile(rf"{_FIGURE}\s*(?:-|–|—|to)\s*{_FIGURE}")
_UNKNOWN = {"", "?", "unknown", "not known", "no idea"}
_NONE = {"none", "empty", "nothing", "finished"}


def parse_stock(text: str, how: HowGot = HowGot.WEIGHED, field: str = "amount") -> Stock:
    """What a keeper writes of a tin: "340", "about 300", "250–400", "empty", "?".

    A figure stands as `how` it was got. Raises RuleBroken beside the field for anything else.
    """
    plain = " ".join(text.split()).casefold()
    if plain in _UNKNOWN:
        return Stock.unknown()
    if plain in _NONE:
        return Stock(0.0, 0.0, 0.0, HowGot.WEIGHED)
    if match := _PLAIN.fullmatch(plain):
        amount = _read(match[1])
        if how in (HowGot.ABOUT, HowGot.UNKNOWN):
            return Stock(amount, None, None, HowGot.ABOUT)
        return Stock(amount, amount, amount, how)
    if match := _ABOUT.fullmatch(plain):
        return Stock(_read(match[1]), None, None, HowGot.ABOUT)
    if match := _RANGE.fullmatch(plain):
        low, high = _read(match[1]), _read(match[2])
        if low > high:
            raise RuleBroken(f"“{text.strip()}” runs from more to less.", field=field)
        return Stock((low + high) / 2, low, high, HowGot.ABOUT)
    raise RuleBroken(
        f"“{text.strip()}” is not an amount. Write 340, about 300, 250–400, empty, or ?.",
        field=field,
    )


def _read(figure: str) -> float:
    return float(figure.replace(",", "."))


class Change(StrEnum):
    """What was said of an item after it came."""

    COUNTED = "weighed or looked"
    USED = "used"
    CAME = "more came"


@dataclass(frozen=True)
class ShelfChange:
    """A recount, something taken or more that came. `what_for` says who ate it."""

    at: datetime
    change: Change
    stock: Stock
    what_for: str = ""


@dataclass(frozen=True)
class ShelfItem:
    """One tin, bag or bottle. `changes` in their order, feedings and hatches among them.

    `dry_fraction` and `cells_per_ml` are a paste's strength by its label, `particle_um` the
    smallest and largest grain of a dry food. `delivery_days` is from order to door.
    """

    id: int
    kind: StockKind
    name: str
    unit: str
    came_at: datetime
    came: Stock
    opened_on: date | None = None
    best_before_on: date | None = None
    delivery_days: int | None = None
    dry_fraction: float | None = None
    cells_per_ml: float | None = None
    particle_um: tuple[float, float] | None = None
    changes: tuple[ShelfChange, ...] = ()

    @property
    def left(self) -> Stock:
        """What is left: the last recount, with what came and less what was taken since."""
        stock = self.came
        for change in self.changes:
            if change.change is Change.COUNTED:
                stock = change.stock
            elif change.change is Change.CAME:
                stock = _sum(stock, change.stock)
            else:
                stock = _less(stock, change.stock)
        return stock

    @property
    def last_counted_at(self) -> datetime | None:
        """When it was last weighed or looked at; None since it came."""
        counted = [each.at for each in self.changes if each.change is Change.COUNTED]
        return counted[-1] if counted else None

    @property
    def is_finished(self) -> bool:
        """Whether nothing of it is left, as far as is known."""
        left = self.left
        return left.best is not None and left.best <= 0


def _sum(one: Stock, other: Stock) -> Stock:
    how = max(one.how, other.how, key=FIRMNESS.index)
    if one.best is None or other.best is None:
        return Stock.unknown()
    return Stock(
        one.best + other.best, _both(one.low, other.low), _both(one.high, other.high), how
    )


def _both(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one + other


def _less(stock: Stock, taken: Stock) -> Stock:
    if taken.best is None:  # taken without saying how much: it can only be less than it was
        return Stock(None, None, stock.high, HowGot.UNKNOWN)
    high = None if stock.high is None else max(0.0, stock.high - (taken.low or taken.best))
    if stock.best is None:
        return Stock(None, None, high, HowGot.UNKNOWN)
    low = None if stock.low is None else max(0.0, stock.low - (taken.high or taken.best))
    best = max(0.0, stock.best - taken.best)
    how = stock.how if taken.how is not HowGot.ABOUT else HowGot.ABOUT
    return Stock(best, low, high if high is None else max(high, best), how)


# --- Use, and when to order ---------------------------------------------------------------


@dataclass(frozen=True)
class Use:
    """How much goes a day and what that rests on; `per_day` None: not known, and why."""

    per_day: float | None
    rests_on: str


def use_by_record(item: ShelfItem, now: datetime) -> Use:
    """What went a day lately: by what was taken, or by two weighings where nothing was noted."""
    since = now - timedelta(days=USE_LEARNED_OVER_DAYS)
    taken = [one for one in item.changes if one.change is Change.USED and one.at >= since]
    amounts = [one.stock.best for one in taken if one.stock.best is not None]
    if amounts:
        days = (now - max(since, min(item.came_at, taken[0].at))) / timedelta(days=1)
        if days < LEAST_DAYS_OF_USE:
            return Use(None, "too short a record: two days are wanted")
        without = len(taken) - len(amounts)
        more = f", {without} more without an amount" if without else ""
        many = "1 entry" if len(amounts) == 1 else f"{len(amounts)} entries"
        return Use(sum(amounts) / days, f"{many} in {days:.0f} days{more}")
    return _use_between_weighings(item)


def _use_between_weighings(item: ShelfItem) -> Use:
    weighed = [(item.came_at, item.came)]
    weighed += [(one.at, one.stock) for one in item.changes if one.change is Change.COUNTED]
    known = [(at, stock.best) for at, stock in weighed if stock.best is not None]
    if any(one.change is Change.CAME for one in item.changes) or len(known) < 2:
        return Use(None, "nothing taken is written down, nor two weighings")
    (before, more), (after, fewer) = known[-2:]
    days = (after - before) / timedelta(days=1)
    if days < LEAST_DAYS_OF_USE or fewer > more:
        return Use(None, "two weighings over two days are wanted")
    return Use((more - fewer) / days, f"two weighings {days:.0f} days apart")


@dataclass(frozen=True)
class Outlook:
    """How long an item lasts. `lasts_until_on` is the earlier of used up and best before.

    `order_on` None: not known, and `why` says what is wanted. `by_record` and `by_plan` are what
    goes a day; the larger of the two is reckoned with.
    """

    left: Stock
    by_record: Use
    by_plan: float | None
    lasts_until_on: date | None
    order_on: date | None
    why: str
    is_past_best: bool

    def is_due(self, today: date) -> bool:
        """Whether it is time to order."""
        return self.order_on is not None and self.order_on <= today


def outlook(
    item: ShelfItem, *, now: datetime, today: date, planned_per_day: float | None = None
) -> Outlook:
    """By when an item is to be ordered, from what is left at its low end and what goes a day.

    `planned_per_day` is what the plan of the coming days asks of it, None where there is none.
    """
    by_record = use_by_record(item, now)
    rates = [rate for rate in (by_record.per_day, planned_per_day) if rate]
    left = _left_by_now(item, now, rates)
    ends = [item.best_before_on] if item.best_before_on is not None else []
    careful = left.low if left.low is not None else left.best
    if careful is not None and rates:
        ends.append(today + timedelta(days=min(3650, math.floor(careful / max(rates)))))
    elif left.best is not None and left.best <= 0:
        ends.append(today)
    lasts = min(ends) if ends else None
    order_on = None
    if lasts is not None and item.delivery_days is not None:
        order_on = lasts - timedelta(days=item.delivery_days)
    return Outlook(
        left, by_record, planned_per_day, lasts, order_on,
        _why(item, left, by_record, planned_per_day, lasts),
        item.best_before_on is not None and item.best_before_on < today,
    )  # fmt: skip


def _left_by_now(item: ShelfItem, now: datetime, rates: Sequence[float]) -> Stock:
    """What is left now. Where nobody writes down what is taken, it went on going since it was
    last looked at: by the recorded rate at best, by the larger of the rates at the careful end.
    """
    left, known_at = item.left, item.last_counted_at or item.came_at
    noted = any(one.change is Change.USED and one.at >= known_at for one in item.changes)
    days = (now - known_at) / timedelta(days=1)
    if noted or not rates or left.best is None or days < 1:
        return left
    low = left.low if left.low is not None else left.best
    best, low = left.best - rates[0] * days, low - max(rates) * days
    return Stock(max(0.0, best), max(0.0, low), left.high, HowGot.ABOUT)


def _why(
    item: ShelfItem, left: Stock, used: Use, planned: float | None, lasts: date | None
) -> str:
    if lasts is None and left.best is None:
        return "how much is left is not known: weigh it"
    if lasts is None and used.per_day is None and planned is None:
        return f"how much goes a day is not known: {used.rests_on}"
    if item.delivery_days is None:
        return "say how many days a delivery takes"
    return f"{item.delivery_days} days from order to door"


def paste_cells_per_ml(
    dry_fraction: float | None, pg_per_cell: float | None, label_cells_per_ml: float | None
) -> float | None:
    """How strong a paste is: by its label's cells, else dry fraction ÷ weight of a cell.

    1 g per mL × dry fraction ÷ pg per cell × 10¹². None where neither is known. The two bases do
    not agree between makers: ask which one the label gives.
    """
    if label_cells_per_ml is not None:
        return label_cells_per_ml
    if dry_fraction is None or not pg_per_cell:
        return None
    return ALGAE_G_PER_ML * dry_fraction / pg_per_cell * 1e12


def finished(items: Sequence[ShelfItem]) -> tuple[ShelfItem, ...]:
    """Those of which nothing is left."""
    return tuple(item for item in items if item.is_finished)
