"""The made-up hatchery's rows, in the order in which somebody wrote them down.

Each file of seed_demo holds one kind of fact. `day` is counted from the day of loading (0),
`time` is room time; with `until_day` it happened between the two; `entered` ("-40 21:10") is
when it was written down, where that was later.
"""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path

from hatchery_app.domain.when import RoomTime, When


@dataclass(frozen=True)
class Row:
    """One line of one file: what it says, when it happened, when it was written down."""

    file: str
    line: int
    said: dict[str, str]
    when: When
    entered_at: datetime

    def __getitem__(self, column: str) -> str:
        return self.said[column]


def read_rows(folder: Path, *, today: date, room_time: RoomTime, now: datetime) -> list[Row]:
    """Every row of the folder that was written down by `now`, in that order."""
    rows = [
        row
        for file in sorted(folder.glob("*.csv"))
        for row in _read(file, today, room_time)
        if row.entered_at <= now
    ]
    return sorted(rows, key=lambda row: (row.entered_at, row.file, row.line))


def _read(file: Path, today: date, room_time: RoomTime) -> Iterator[Row]:
    with file.open(encoding="utf-8", newline="") as opened:
        for line, said in enumerate(csv.DictReader(opened), start=2):
            began = _moment(today, said["day"], said["time"], room_time)
            ended = began
            if said.get("until_day"):
                ended = _moment(today, said["until_day"], said["until_time"], room_time)
            entered = ended
            if said.get("entered"):
                day, _, clock = said["entered"].partition(" ")
                entered = _moment(today, day, clock, room_time)
            when = When(began, ended, from_memory=entered - ended > timedelta(days=1))
            yield Row(file.stem, line, said, when, entered)


def _moment(today: date, day: str, clock: str, room_time: RoomTime) -> datetime:
    return room_time.planned(today + timedelta(days=int(day)), time.fromisoformat(clock))
