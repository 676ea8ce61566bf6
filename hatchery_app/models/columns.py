"""Columns that more than one table needs: moments in UTC, words of a list, numbers with a basis."""

from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import CheckConstraint, DateTime, Dialect, Enum, Integer, String
from sqlalchemy.orm import Mapped, declared_attr, mapped_column
from sqlalchemy.types import TypeDecorator

from hatchery_app.domain.how_many import Basis, HowMany


class UtcDateTime(TypeDecorator[datetime]):
    """An instant. Refuses a naive one: SQLite would hand it back hours off, in silence."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"An instant needs its offset: {value!r}")
        value = value.astimezone(UTC)
        return value.replace(tzinfo=None) if dialect.name == "sqlite" else value

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        aware: datetime = value.replace(tzinfo=UTC) if value.tzinfo is None else value
        return aware.astimezone(UTC)


def words(of: type[StrEnum], name: str) -> Enum:
    """A column that holds one of the words of `of`, checked on both engines."""
    return Enum(
        of,
        native_enum=False,
        create_constraint=True,
        name=name,
        length=32,
        values_callable=lambda listed: [word.value for word in listed],
    )


class HowManyColumns:
    """A number with how it was got. `how_many` reads it, `of()` gives the columns to store."""

    number_best: Mapped[int | None] = mapped_column(Integer)
    number_low: Mapped[int | None] = mapped_column(Integer)
    number_high: Mapped[int | None] = mapped_column(Integer)
    number_basis: Mapped[str] = mapped_column(String(16), default=Basis.UNKNOWN.value)
    number_method: Mapped[str] = mapped_column(String(200), default="")
    number_raw: Mapped[str] = mapped_column(String(400), default="")
    number_written: Mapped[str] = mapped_column(String(120), default="")

    @declared_attr.directive
    @classmethod
    def __table_args__(cls) -> tuple[Any, ...]:
        return (
            CheckConstraint("number_best is null or number_best >= 0", name="number_not_negative"),
            CheckConstraint(
                "number_low is null or number_high is null or number_low <= number_high",
                name="number_low_to_high",
            ),
        )

    @property
    def how_many(self) -> HowMany:
        return HowMany(
            best=self.number_best,
            low=self.number_low,
            high=self.number_high,
            basis=Basis(self.number_basis),
            method=self.number_method,
            raw=self.number_raw,
            written=self.number_written,
        )


def number_columns(number: HowMany) -> dict[str, Any]:
    """The column values that store `number` in a table with HowManyColumns."""
    return {
        "number_best": number.best,
        "number_low": number.low,
        "number_high": number.high,
        "number_basis": number.basis.value,
        "number_method": number.method,
        "number_raw": str(number.raw) if number.raw else "",
        "number_written": number.written,
    }
