"""The one table every recorded fact stands in, and the receipt each post is given.

A fact is named by its first entry (`fact_id`). A correction is a new row with the same
`fact_id`; it sets `superseded_seq` on the old one, which stays readable. `seq` is handed out
by the database and is the only order of knowledge: clocks step back and posts arrive late.
"""

from datetime import datetime
from typing import Any

from sqlalchemy import CheckConstraint, ColumnElement, ForeignKey, Index, String, and_, or_
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.database import Base
from hatchery_app.domain.when import When
from hatchery_app.models.columns import UtcDateTime


class Receipt(Base):
    """What a post was answered with. The same key brings the same answer, never a second entry."""

    __tablename__ = "receipt"

    id: Mapped[int] = mapped_column(primary_key=True)
    key: Mapped[str] = mapped_column(String(64), unique=True)
    body_hash: Mapped[str] = mapped_column(String(64))
    answer: Mapped[int | None]
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)


class Entry(Base):
    """One line of the day-book: what happened when, who wrote it when, what it replaces.

    Each room's table adds its own columns and is joined by `seq`. References between facts
    hold the `fact_id` of the fact, so that they survive its correction.
    """

    __tablename__ = "entry"
    __mapper_args__: Any = {"polymorphic_on": "kind", "polymorphic_abstract": True}
    __table_args__: Any = (
        CheckConstraint("happened_earliest <= happened_latest", name="earliest_before_latest"),
        Index("ix_entry_kind_happened", "kind", "happened_latest"),
        {"sqlite_autoincrement": True},
    )

    seq: Mapped[int] = mapped_column(primary_key=True)
    # Set in the transaction that makes the row: a first entry is its own fact.
    fact_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))
    kind: Mapped[str] = mapped_column(String(32))
    happened_earliest: Mapped[datetime] = mapped_column(UtcDateTime)
    happened_latest: Mapped[datetime] = mapped_column(UtcDateTime)
    said: Mapped[str] = mapped_column(String(400), default="")
    from_memory: Mapped[bool] = mapped_column(default=False)
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)
    noted_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("account.id"), index=True)
    receipt_id: Mapped[int | None] = mapped_column(ForeignKey("receipt.id"), index=True)
    note: Mapped[str] = mapped_column(String(2000), default="")
    superseded_seq: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"), index=True)

    def __init_subclass__(cls, **kwargs: Any) -> None:
        """Join a room's table to its entries by `seq`; its name is the entries' kind.

        The join is spelled out because such tables hold other references to entries too.
        """
        if "__tablename__" in cls.__dict__:
            key = mapped_column(ForeignKey("entry.seq"), primary_key=True)
            cls.seq = key
            cls.__mapper_args__ = {
                "polymorphic_identity": cls.__tablename__,
                "inherit_condition": key == Entry.seq,
            }
        super().__init_subclass__(**kwargs)

    @property
    def when(self) -> When:
        return When(self.happened_earliest, self.happened_latest, self.said, self.from_memory)

    @property
    def fact(self) -> int:
        """The fact's name, once the entry stands in the book."""
        if self.fact_id is None:
            raise RuntimeError("The entry has no fact yet: it was never flushed.")
        return self.fact_id


# At most one entry of a fact is the current one; two corrections cannot both win.
Index(
    "uq_entry_current",
    Entry.fact_id,
    unique=True,
    sqlite_where=Entry.superseded_seq.is_(None),
    postgresql_where=Entry.superseded_seq.is_(None),
)


class Withdrawal(Entry):
    """The keeper took a fact back. It stands in the fact's place; the old entry stays readable."""

    __mapper_args__: Any = {"polymorphic_identity": "withdrawal"}


_CURRENT = Entry.superseded_seq.is_(None)  # made once: nearly every statement says it


def known(at_seq: int | None = None, of: type[Entry] = Entry) -> ColumnElement[bool]:
    """The entries that were current at `at_seq`, or now. No other code asks what was known.

    `of` is the alias they are selected by, where one statement holds two entries.
    """
    if at_seq is None:
        return _CURRENT if of is Entry else of.superseded_seq.is_(None)
    return and_(of.seq <= at_seq, or_(of.superseded_seq.is_(None), of.superseded_seq > at_seq))


def was_known(entry: Entry, at_seq: int) -> bool:
    """The same question of an entry already read: was it the current one at `at_seq`?"""
    replaced = entry.superseded_seq
    return entry.seq <= at_seq and (replaced is None or replaced > at_seq)
