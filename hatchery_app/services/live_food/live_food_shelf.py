"""What is said of the shelf: what came, what was weighed, what was taken without any feeding."""

from datetime import date

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.shelf import UNITS, Change, HowGot, Stock, StockKind
from hatchery_app.domain.when import When
from hatchery_app.models.shelf import ShelfChanged, ShelfItem, stock_columns
from hatchery_app.services.recording import Book, use_case

NOT_HERE = "That does not stand on this room's shelf."
LONGEST_DELIVERY_DAYS = 365


@use_case
def put_on_shelf(
    book: Book,
    *,
    kind: StockKind,
    name: str,
    unit: str,
    came: Stock,
    when: When,
    opened_on: date | None = None,
    best_before_on: date | None = None,
    delivery_days: int | None = None,
    dry_fraction: float | None = None,
    cells_per_ml: float | None = None,
    particle_um: tuple[float, float] | None = None,
    note: str = "",
) -> int:
    """A tin, bag or bottle came, or is entered as it stands. Returns the item."""
    return enter_item(
        book, kind=kind, name=name, unit=unit, came=came, when=when, opened_on=opened_on,
        best_before_on=best_before_on, delivery_days=delivery_days, dry_fraction=dry_fraction,
        cells_per_ml=cells_per_ml, particle_um=particle_um, note=note,
    ).fact  # fmt: skip


def enter_item(
    book: Book,
    *,
    kind: StockKind,
    name: str,
    unit: str,
    came: Stock,
    when: When,
    opened_on: date | None = None,
    best_before_on: date | None = None,
    delivery_days: int | None = None,
    dry_fraction: float | None = None,
    cells_per_ml: float | None = None,
    particle_um: tuple[float, float] | None = None,
    note: str = "",
) -> ShelfItem:
    """The same within another act: a lot of cysts comes with its tin."""
    if not name.strip():
        raise RuleBroken("Say what it is called.", field="name")
    if unit not in UNITS:
        raise RuleBroken("An amount is in g, mL, kg or L.", field="unit")
    if kind is StockKind.CYSTS and unit not in ("g", "kg"):
        raise RuleBroken("Cysts are weighed, in g or kg.", field="unit")
    if dry_fraction is not None and not 0 < dry_fraction <= 1:
        raise RuleBroken("The dry part of a paste lies between 0 and 100 %.", field="dry_percent")
    if delivery_days is not None and not 0 <= delivery_days <= LONGEST_DELIVERY_DAYS:
        raise RuleBroken("A delivery takes up to a year.", field="delivery_days")
    low, high = particle_um or (None, None)
    if low is not None and high is not None and not 0 < low <= high:
        raise RuleBroken("Write the smallest grain first: 150–250.", field="particles")
    row = ShelfItem(
        stock_kind=kind, name=name.strip()[:80], unit=unit, opened_on=opened_on,
        best_before_on=best_before_on, delivery_days=delivery_days, dry_fraction=dry_fraction,
        cells_per_ml=cells_per_ml, particle_from_um=low, particle_to_um=high,
        **stock_columns(came),
    )  # fmt: skip
    return book.enter(row, when=when, note=note)


@use_case
def change_stock(
    book: Book,
    *,
    shelf_id: int,
    change: Change,
    stock: Stock,
    when: When,
    what_for: str = "",
    note: str = "",
) -> int:
    """It was weighed, some was taken, or more came. A weighing sets everything right from then on.

    More taken than can be there is refused: a weighing before it says what was.
    """
    book.find(ShelfItem, shelf_id, NOT_HERE)
    if change is not Change.COUNTED and (stock.best is None or stock.best <= 0):
        raise RuleBroken("Say how much.", field="amount")
    row = ShelfChanged(
        shelf_id=shelf_id, change=change, what_for=what_for.strip()[:120], **stock_columns(stock)
    )
    return book.enter(row, when=when, note=note).fact


def settle_amount(row: ShelfItem | ShelfChanged) -> None:
    """Bring the ends of a corrected amount into line with it, and refuse what cannot be."""
    if row.amount is None:
        row.how, row.amount_low, row.amount_high = HowGot.UNKNOWN, None, None
    elif row.how in (HowGot.WEIGHED, HowGot.BY_LABEL):
        row.amount_low = row.amount_high = row.amount
    else:
        row.how = HowGot.ABOUT
        low, high = row.amount_low, row.amount_high
        if low is None or high is None or not low <= row.amount <= high or low == high:
            row.amount_low = row.amount_high = None
    row.stock  # noqa: B018  (an amount that cannot be is refused at its birth)
