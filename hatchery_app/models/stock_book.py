"""The stock book: holdings of fish, what moved between them, and what was counted."""

from datetime import date

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.domain.stock_book.stock_book import Door, Rise, Stage
from hatchery_app.domain.when import Night
from hatchery_app.models.columns import HowManyColumns, words
from hatchery_app.models.entry import Entry


class Holding(Entry):
    """Fish of one batch in one tank: larvae, or a cohort growing on.

    `hatched_first_on` and `hatched_last_on` are evenings: a batch of two nights is 0-1 days
    apart. `protocol` is the species text it began with, kept until the keeper re-plans it.
    `clutch_ids` are the clutches its fish may come from, with commas: several in a mixed batch.
    They are settled when it begins; fish of another clutch make a new batch of all of them.
    """

    __tablename__ = "holding"

    stage: Mapped[Stage] = mapped_column(words(Stage, "stage"))
    number: Mapped[int]
    name: Mapped[str] = mapped_column(String(80), default="")
    species_key: Mapped[str] = mapped_column(String(80))
    hatched_first_on: Mapped[date | None]
    hatched_last_on: Mapped[date | None]
    clutch_ids: Mapped[str] = mapped_column(String(200), default="")
    protocol: Mapped[str] = mapped_column(String(60000), default="")

    @property
    def clutches(self) -> tuple[int, ...]:
        """The clutches its fish may come from, by fact."""
        return tuple(int(clutch_id) for clutch_id in self.clutch_ids.split(",") if clutch_id)

    @property
    def hatched(self) -> tuple[Night, Night] | None:
        """First and last hatch night; None where it is not known."""
        if self.hatched_first_on is None:
            return None
        last = self.hatched_last_on or self.hatched_first_on
        return Night(self.hatched_first_on), Night(last)


class HoldingPlaced(Entry):
    """The tank a holding was in from then on."""

    __tablename__ = "holding_placed"

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)


class Moved(HowManyColumns, Entry):
    """So many fish through a door. `clutch_id` is where those hatched came from."""

    __tablename__ = "moved"

    out_of_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"), index=True)
    into_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"), index=True)
    clutch_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"), index=True)
    hatch_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"), index=True)
    door: Mapped[Door] = mapped_column(words(Door, "door"))
    reason: Mapped[str] = mapped_column(String(200), default="")


class StockCount(HowManyColumns, Entry):
    """What a look or a count found in a holding, and, where given, how many had settled.

    `is_start`: nobody knew how many were put in, and the keeper says that it was this number.
    A settlement look says settled and swimming of the same batch; neither is a stage of all.
    """

    __tablename__ = "stock_count"

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    rise: Mapped[Rise] = mapped_column(words(Rise, "rise"))
    settled: Mapped[int | None]
    swimming: Mapped[int | None]
    is_start: Mapped[bool] = mapped_column(default=False)


class OtherClutch(Entry):
    """Fish of a batch turned out to be of another clutch; all that follows was moved with it.

    Withdrawn, what followed goes back. `hatch_id` is the part of that clutch they hatched with.
    """

    __tablename__ = "other_clutch"

    holding_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    clutch_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    hatch_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
