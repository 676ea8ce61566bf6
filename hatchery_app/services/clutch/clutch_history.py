"""Everything ever written about the clutches, replaced entries too, to be asked as of a moment.

Scoring asks what was known on hundreds of evenings; loading each anew would be hundreds of times
the statements. Here all versions are read once, and who asks says which `seq` was the last.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import accumulate, islice
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.clutch.failed_hatch import ClutchEnd
from hatchery_app.domain.clutch.thermal_time import Reading
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.tank.lamps import LampHours, Lamps
from hatchery_app.models.clutch import Clutch, ClutchCheck, ClutchEnded, EggsMoved, Hatch, Laying
from hatchery_app.models.entry import Entry, Withdrawal, was_known
from hatchery_app.models.room import LightHours
from hatchery_app.models.tank import Reading as ReadingRow
from hatchery_app.models.tank import Readings, SetPoint, Tank
from hatchery_app.services.clutch.clutch_facts import (
    READ_BEFORE,
    TEMPERATURE,
    ClutchFacts,
    Water,
    facts_of,
)
from hatchery_app.services.clutch.clutch_watch import (
    NEWEST_FINISHED,
    NEWEST_OF_A_PAIR,
    Told,
    told_by,
)
from hatchery_app.services.records.room import RoomNow

Row = TypeVar("Row", bound=Entry)
# Readings so long after its end still bear on the water of a clutch's last hours.
READ_AFTER = timedelta(days=5)


class ClutchHistory:
    """All versions of all clutches and of what their forecasts rest on. Twelve statements."""

    def __init__(self, session: Session, room: RoomNow, library: Mapping[str, Species]) -> None:
        self.room, self.library = room, library
        self.records = _whose_records(session, library)
        self._clutches = _by(session, Clutch, "fact_id")
        self._layings = _by(session, Laying, "fact_id")
        self._moves = _by(session, EggsMoved, "clutch_id")
        self._checks = _by(session, ClutchCheck, "clutch_id")
        self._hatches = _by(session, Hatch, "clutch_id")
        self._ended = _by(session, ClutchEnded, "clutch_id")
        self._tanks = _by(session, Tank, "fact_id")
        self._set_points = _by(session, SetPoint, "tank_id")
        self._lamps = list(session.scalars(select(LightHours).order_by(LightHours.seq)))
        acts = {act.seq: act for act in session.scalars(select(Readings))}
        self._readings: dict[int, list[tuple[datetime, float, Readings]]] = defaultdict(list)
        for tank_id, at, value, act_seq in session.execute(
            select(ReadingRow.tank_id, ReadingRow.at, ReadingRow.value, ReadingRow.readings_seq)
            .where(ReadingRow.quantity == TEMPERATURE)
            .order_by(ReadingRow.at, ReadingRow.id)
        ):
            self._readings[tank_id].append((at, value, acts[act_seq]))
        withdrawn = session.scalars(select(Withdrawal))
        self._arrivals = self._in_order_of_arrival(acts.values(), withdrawn)
        self._told: dict[tuple[int, int, datetime | None], Told | None] = {}
        self._changes: dict[int, list[int]] = {}

    def _in_order_of_arrival(
        self, *more: Iterable[Entry]
    ) -> tuple[list[datetime], list[int]]:
        """When each entry reached us, and the highest `seq` that had by then."""
        rows: list[Entry] = [*self._lamps, *(row for listed in more for row in listed)]
        groups = (self._clutches, self._layings, self._tanks, self._set_points, self._moves,
                  self._checks, self._hatches, self._ended)  # fmt: skip
        for group in groups:
            rows += [row for versions in group.values() for row in versions]
        rows.sort(key=lambda row: row.received_at)
        return [row.received_at for row in rows], list(accumulate((r.seq for r in rows), max))

    def seq_by(self, at: datetime) -> int:
        """The last entry that had been received by a moment; 0 before the first."""
        moments, newest = self._arrivals
        index = bisect_right(moments, at)
        return newest[index - 1] if index else 0

    def clutch_ids(self) -> list[int]:
        """Every clutch that ever stood, by number."""
        return sorted(self._clutches, key=lambda fact: (self._clutches[fact][-1].number, fact))

    def clutch(self, clutch_id: int, at_seq: int, until: datetime) -> ClutchFacts | None:
        """A clutch as known at `at_seq`, with the readings up to a moment; None if not yet."""
        row = _current(self._clutches.get(clutch_id, ()), at_seq)
        laying = None if row is None else _current(self._layings[row.laying_id], at_seq)
        if row is None or laying is None:
            return None
        moves = _in_time(self._moves.get(clutch_id, ()), at_seq)
        tank_ids = {laying.tank_id, *(move.tank_id for move in moves)}
        water = self._water(tank_ids, laying.happened_earliest - READ_BEFORE, until, at_seq)
        return facts_of(
            row, laying, self._room(at_seq), water, moves,
            _in_time(self._checks.get(clutch_id, ()), at_seq),
            _in_time(self._hatches.get(clutch_id, ()), at_seq),
            _in_time(self._ended.get(clutch_id, ()), at_seq),
        )  # fmt: skip

    def ends(self, pair_id: int, now: datetime) -> list[ClutchEnd]:
        """How every clutch of a pair ended, as known at a moment."""
        seq, found = self.seq_by(now), []
        for clutch_id in self.clutch_ids():
            clutch = self.clutch(clutch_id, seq, now)
            if clutch is None or clutch.pair_id != pair_id or clutch.ending is None:
                continue
            lit = any(check.kind is CheckKind.LAMP_ON for check in clutch.checks)
            found.append(ClutchEnd(clutch.ending.outcome, lit))
        return found

    def record(self, clutch: ClutchFacts, at_seq: int, now: datetime) -> list[Told]:
        """What the finished clutches known then had taught, as a page of that moment has it."""
        finished = []
        for clutch_id in reversed(self.clutch_ids()):
            row = _current(self._clutches[clutch_id], at_seq)
            laying = None if row is None else _current(self._layings[row.laying_id], at_seq)
            ended = self._ended.get(clutch_id, ())
            if row is None or laying is None or _current(ended, at_seq) is None:
                continue
            if laying.species_key == clutch.species_key:
                finished.append((row.number, clutch_id, laying.pair_id))
        finished.sort(reverse=True)
        own = [fact for _n, fact, pair in finished if pair is not None and pair == clutch.pair_id]
        wanted = {fact for _n, fact, _p in finished[:NEWEST_FINISHED]} | set(own[:NEWEST_OF_A_PAIR])
        told = [self._told_at(fact, at_seq, now) for _n, fact, _p in reversed(finished)
                if fact in wanted]  # fmt: skip
        return [each for each in told if each is not None]

    def _told_at(self, clutch_id: int, at_seq: int, now: datetime) -> Told | None:
        """What a finished clutch taught as known then; worked out once for each change to it.

        In its first days it also matters how long its water has gone unread.
        """
        if clutch_id not in self._changes:
            self._changes[clutch_id] = self._changes_of(clutch_id)
        settled = now >= self._over(clutch_id) + READ_AFTER
        key = (
            clutch_id, bisect_right(self._changes[clutch_id], at_seq), None if settled else now
        )  # fmt: skip
        if key not in self._told:
            clutch = self.clutch(clutch_id, at_seq, self._over(clutch_id) + READ_AFTER)
            self._told[key] = (
                None if clutch is None else told_by(clutch, self.room, self.library, now)
            )
        return self._told[key]

    def _changes_of(self, clutch_id: int) -> list[int]:
        """Every `seq` at which something that this clutch teaches by came or was replaced."""
        rows: list[Entry] = [*self._clutches[clutch_id], *self._lamps]
        for laying_id in {row.laying_id for row in self._clutches[clutch_id]}:
            rows += self._layings[laying_id]
        rows += self._said(clutch_id)
        since = min(r.happened_earliest for r in rows if isinstance(r, Laying)) - READ_BEFORE
        until = self._over(clutch_id) + READ_AFTER
        for tank_id in {r.tank_id for r in rows if isinstance(r, Laying | EggsMoved)}:
            rows += [*self._tanks.get(tank_id, ()), *self._set_points.get(tank_id, ())]
            rows += [act for _at, _value, act in self._between(tank_id, since, until)]
        seqs = {row.seq for row in rows} | {r.superseded_seq for r in rows if r.superseded_seq}
        return sorted(seq for seq in seqs if seq is not None)

    def _said(self, clutch_id: int) -> list[Entry]:
        """Every version of all that was entered about a clutch."""
        kinds = (self._moves, self._checks, self._hatches, self._ended)
        return [row for kind in kinds for row in kind.get(clutch_id, ())]

    def _over(self, clutch_id: int) -> datetime:
        """When the last that was ever said of it happened."""
        said = self._said(clutch_id)
        laid = [row for version in self._clutches[clutch_id]
                for row in self._layings[version.laying_id]]  # fmt: skip
        return max(row.happened_latest for row in (*said, *laid))

    def _between(
        self, tank_id: int, since: datetime, until: datetime, at_seq: int | None = None
    ) -> list[tuple[datetime, float, Readings]]:
        """The readings of a time and the first after it, to which the line is drawn."""
        listed = self._readings.get(tank_id, [])
        first = bisect_left(listed, since, key=lambda reading: reading[0])
        last = bisect_right(listed, until, key=lambda reading: reading[0])
        found = listed[first:last]
        if at_seq is None:
            return found + listed[last : last + 1]
        later = (each for each in listed[last:] if was_known(each[2], at_seq))
        known = [each for each in found if was_known(each[2], at_seq)]
        return known + list(islice(later, 1))

    def _water(
        self, tank_ids: Iterable[int], since: datetime, until: datetime, at_seq: int
    ) -> Water:
        ids = list(tank_ids)
        tanks = {tank_id: _current(self._tanks.get(tank_id, ()), at_seq) for tank_id in ids}
        return Water(
            tanks={tank_id: tank for tank_id, tank in tanks.items() if tank is not None},
            readings={
                tank_id: tuple(
                    Reading(at, value)
                    for at, value, _act in self._between(tank_id, since, until, at_seq)
                )
                for tank_id in ids
            },
            set_points={
                tank_id: tuple(
                    (row.happened_latest, row.temperature_c)
                    for row in _in_time(self._set_points.get(tank_id, ()), at_seq)
                )
                for tank_id in ids
            },
        )

    def _room(self, at_seq: int) -> RoomNow:
        """The room with its lamps as known then; before any was, those first entered."""
        known = [row for row in self._lamps if was_known(row, at_seq)] or self._lamps[:1]
        hours = tuple(
            LampHours(row.happened_latest, row.lights, row.tank_id, row.rack) for row in known
        )
        return replace(self.room, lamps=Lamps(hours))


def _whose_records(session: Session, library: Mapping[str, Species]) -> tuple[object, ...]:
    """What tells these records, and the species they are read by, from others. One statement."""
    first = session.execute(
        select(Entry.seq, Entry.received_at, Entry.kind).order_by(Entry.seq).limit(1)
    ).first()
    figures = tuple(sorted((key, repr(species.incubation)) for key, species in library.items()
                           if species.incubation is not None))  # fmt: skip
    return (str(session.get_bind()), *(first or ()), hash(figures))


def _by(
    session: Session, kind: type[Row], column: str
) -> Mapping[int, Sequence[Row]]:
    """Every version of every entry of a kind, by what it is about. One statement."""
    found: dict[int, list[Row]] = defaultdict(list)
    for row in session.scalars(select(kind).order_by(kind.seq)):
        found[getattr(row, column)].append(row)
    return dict(found)


def _current(versions: Sequence[Row], at_seq: int) -> Row | None:
    return next((row for row in reversed(versions) if was_known(row, at_seq)), None)


def _in_time(versions: Sequence[Row], at_seq: int) -> list[Row]:
    known = [row for row in versions if was_known(row, at_seq)]
    return sorted(known, key=lambda row: (row.happened_latest, row.seq))
