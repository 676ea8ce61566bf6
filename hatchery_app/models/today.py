"""What the keeper did about a task, and the keeper's own chores. Tasks themselves are never
stored: they are worked out from the facts at every look."""

from datetime import date

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.models.entry import Entry


class TaskAnswered(Entry):
    """Done, done differently, put off or skipped. It hangs on the task's name, which survives
    every correction of what the task came from."""

    __tablename__ = "task_answered"
    __table_args__ = (Index("ix_task_answered_task", "task"),)

    task: Mapped[str] = mapped_column(String(120))
    outcome: Mapped[str] = mapped_column(String(24))
    until: Mapped[str] = mapped_column(String(40), default="")
    reason: Mapped[str] = mapped_column(String(200), default="")
    really_done: Mapped[str] = mapped_column(String(200), default="")


class Chore(Entry):
    """The keeper's own work, with a day and a round. Happened: from when on it stands."""

    __tablename__ = "chore"

    what: Mapped[str] = mapped_column(String(120))
    tank_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))
    round: Mapped[str] = mapped_column(String(24))
    every: Mapped[str] = mapped_column(String(80))
    first_on: Mapped[date]
    last_on: Mapped[date | None]
