"""The only file that reads the clock. Everything else is handed its moment."""

from datetime import UTC, datetime, timedelta

_ahead = timedelta(0)


def now() -> datetime:
    """The present moment, aware, in UTC."""
    return datetime.now(UTC) + _ahead


def pretend(moment: datetime) -> None:
    """Let the clock stand at `moment` (aware) and run on from there.

    For the made-up hatchery only: a browser test opens Today at the hour it is about.
    """
    global _ahead
    _ahead = moment - datetime.now(UTC)
