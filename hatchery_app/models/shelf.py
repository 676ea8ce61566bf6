"""What stands on the shelf: tins and bags as they came, and what was weighed or taken since."""

from datetime import date

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.domain.live_food.shelf import Change, HowGot, Stock, StockKind
from hatchery_app.models.columns import words
from hatchery_app.models.entry import Entry


class StockColumns:
    """An amount on the shelf in the item's unit, with how it was got."""

    amount: Mapped[float | None]
    amount_low: Mapped[float | None]
    amount_high: Mapped[float | None]
    how: Mapped[HowGot] = mapped_column(words(HowGot, "how_got"), default=HowGot.UNKNOWN)

    @property
    def stock(self) -> Stock:
        """The amount as a value."""
        return Stock(self.amount, self.amount_low, self.amount_high, self.how)


def stock_columns(stock: Stock) -> dict[str, float | HowGot | None]:
    """The column values that store an amount."""
    return {
        "amount": stock.best, "amount_low": stock.low, "amount_high": stock.high,
        "how": stock.how,
    }  # fmt: skip


class ShelfItem(StockColumns, Entry):
    """One tin, bag or bottle as it came."""

    __tablename__ = "shelf_item"
    __table_args__ = (
        CheckConstraint("amount is null or amount >= 0", name="amount_not_negative"),
        CheckConstraint(
            "dry_fraction is null or (dry_fraction > 0 and dry_fraction <= 1)", name="dry_share"
        ),
        CheckConstraint("particle_from_um is null or particle_from_um > 0", name="grain_above_0"),
    )

    stock_kind: Mapped[StockKind] = mapped_column(words(StockKind, "stock_kind"))
    name: Mapped[str] = mapped_column(String(80))
    unit: Mapped[str] = mapped_column(String(8))
    opened_on: Mapped[date | None]
    best_before_on: Mapped[date | None]
    delivery_days: Mapped[int | None]
    dry_fraction: Mapped[float | None]
    cells_per_ml: Mapped[float | None]
    particle_from_um: Mapped[float | None]
    particle_to_um: Mapped[float | None]


class ShelfChanged(StockColumns, Entry):
    """An item was weighed or looked at, something was taken of it, or more of it came."""

    __tablename__ = "shelf_changed"
    __table_args__ = (CheckConstraint("amount is null or amount >= 0", name="amount_not_negative"),)

    shelf_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    change: Mapped[Change] = mapped_column(words(Change, "shelf_change"))
    what_for: Mapped[str] = mapped_column(String(120), default="")


class CultureFoodTaken(Entry):
    """Which item of the shelf a feeding of a culture was taken from."""

    __tablename__ = "culture_food_taken"

    fed_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    shelf_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
