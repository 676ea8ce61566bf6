"""Which nights the open clutches may hatch on: facts and the room's own record, asked together.

The domain computes; this half loads what a forecast may rest on and what the room has learned.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.hatch_forecast import (
    HatchForecast,
    earliest_possible_night,
    hatch_forecast,
    readiness_told,
)
from hatchery_app.domain.learned_readiness import Learned, ReadinessInterval
from hatchery_app.domain.species import Species
from hatchery_app.domain.when import Night, dark_window
from hatchery_app.models.clutch import Clutch, ClutchEnded, Laying
from hatchery_app.models.entry import known
from hatchery_app.services.clutch_facts import ClutchFacts, load_clutches
from hatchery_app.services.room import RoomNow

# Older clutches of a pair add nothing that its newest do not say; Today must not read ten years.
NEWEST_FINISHED = 60


@dataclass(frozen=True)
class Watched:
    """One clutch with its forecast; None for a species that is not forecast by the night."""

    clutch: ClutchFacts
    forecast: HatchForecast | None
    learned: Learned


def watch(
    session: Session,
    room: RoomNow,
    library: Mapping[str, Species],
    clutches: Sequence[ClutchFacts],
    *,
    now: datetime,
    at_seq: int | None = None,
) -> list[Watched]:
    """The forecast of each of these clutches, as known at `at_seq`, as of `now`."""
    record = load_record(session, room, library, {c.species_key for c in clutches}, now, at_seq)
    return [_watched(clutch, room, library, record, now) for clutch in clutches]


@dataclass(frozen=True)
class Told:
    """What one finished clutch taught."""

    clutch_id: int
    pair_id: int | None
    species_key: str
    interval: ReadinessInterval | None
    delay_minutes: float | None


def load_record(
    session: Session,
    room: RoomNow,
    library: Mapping[str, Species],
    species_keys: Iterable[str],
    now: datetime,
    at_seq: int | None = None,
) -> list[Told]:
    """What the room's newest finished clutches of these species taught, oldest first."""
    finished = session.scalars(
        select(Clutch.fact_id)
        .where(
            known(at_seq),
            Clutch.laying_id.in_(
                select(Laying.fact_id).where(
                    known(at_seq), Laying.species_key.in_(list(species_keys))
                )
            ),
            Clutch.fact_id.in_(select(ClutchEnded.clutch_id).where(known(at_seq))),
        )
        .order_by(Clutch.number.desc())
        .limit(NEWEST_FINISHED)
    ).all()
    clutches = load_clutches(
        session, room, clutch_ids=[i for i in finished if i is not None], at_seq=at_seq
    )
    return [_told(clutch, room, library, now) for clutch in clutches]


def learned_for(clutch: ClutchFacts, record: Sequence[Told]) -> Learned:
    """The room's record as it bears on one clutch: its pair's apart from the other pairs'."""
    own: list[ReadinessInterval] = []
    others: dict[int | None, list[ReadinessInterval]] = defaultdict(list)
    delays = []
    for told in record:
        if told.clutch_id == clutch.id or told.species_key != clutch.species_key:
            continue
        theirs = told.pair_id is not None and told.pair_id == clutch.pair_id
        if told.interval is not None:
            (own if theirs else others[told.pair_id]).append(told.interval)
        if theirs and told.delay_minutes is not None:
            delays.append(told.delay_minutes)
    return Learned(
        pair=tuple(own),
        room=tuple(tuple(intervals) for intervals in others.values()),
        delays_minutes=tuple(delays),
    )


def earliest_night(
    clutch: ClutchFacts, room: RoomNow, species: Species, learned: Learned, now: datetime
) -> Night | None:
    """The first night a hatch of this clutch is believed without asking."""
    if species.incubation is None:
        return None
    return earliest_possible_night(
        laid=clutch.laid,
        stays=clutch.stays,
        room_time=room.room_time,
        species=species.incubation,
        learned=learned,
        now=now,
    )


def _watched(
    clutch: ClutchFacts,
    room: RoomNow,
    library: Mapping[str, Species],
    record: Sequence[Told],
    now: datetime,
) -> Watched:
    learned = learned_for(clutch, record)
    species = library.get(clutch.species_key)
    if species is None or species.incubation is None:
        return Watched(clutch, None, learned)
    forecast = hatch_forecast(
        laid=clutch.laid,
        stays=clutch.stays,
        room_time=room.room_time,
        species=species.incubation,
        learned=learned,
        evidence=clutch.evidence,
        now=now,
    )
    return Watched(clutch, forecast, learned)


def _told(
    clutch: ClutchFacts, room: RoomNow, library: Mapping[str, Species], now: datetime
) -> Told:
    species = library.get(clutch.species_key)
    interval = None
    if species is not None and species.incubation is not None:
        interval = readiness_told(
            laid=clutch.laid,
            stays=clutch.stays,
            room_time=room.room_time,
            species=species.incubation,
            hatched=clutch.hatches[0].night if clutch.hatches else None,
            evidence=clutch.evidence,
            now=now,
        )
    return Told(
        clutch.id, clutch.pair_id, clutch.species_key, interval, _delay_minutes(clutch, room)
    )


def _delay_minutes(clutch: ClutchFacts, room: RoomNow) -> float | None:
    """From lights-off to the first larvae seen, where the hour is known."""
    for part in clutch.hatches:
        if part.found_by_day or not part.hour_known or not part.when.is_exact:
            continue
        dark_from, dark_until = dark_window(part.night, clutch.stays[-1].lights, room.room_time)
        if dark_from <= part.when.earliest < dark_until:
            return (part.when.earliest - dark_from).total_seconds() / 60
    return None
