"""Who may write in the day-book, and how often somebody tried to."""

from datetime import datetime

from sqlalchemy import CheckConstraint, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.database import Base
from hatchery_app.models.columns import UtcDateTime


class Account(Base):
    """A person who keeps the room. Entries carry who made them; accounts are never deleted.

    `epoch` is part of every signed session: raising it signs that person out everywhere.
    """

    __tablename__ = "account"
    __table_args__ = (CheckConstraint("role in ('owner', 'keeper', 'helper')", name="role"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80), unique=True)
    password_hash: Mapped[str] = mapped_column(String(255))
    role: Mapped[str] = mapped_column(String(16))
    epoch: Mapped[int] = mapped_column(default=1)
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)


class LoginAttempt(Base):
    """One try at signing in. Kept in the database, so that a restart forgives nobody."""

    __tablename__ = "login_attempt"
    __table_args__ = (Index("ix_login_attempt_recent", "at", "name", "address"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80))
    address: Mapped[str] = mapped_column(String(64))
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    succeeded: Mapped[bool]
