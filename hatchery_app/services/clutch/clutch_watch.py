"""Which nights the open clutches may hatch on: facts and the room's own record, asked together.

The domain computes; this half loads what a forecast may rest on and what the room has learned.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import ClutchOutcome, Incubated
from hatchery_app.domain.clutch.failed_hatch import check_list, failed_when_due
from hatchery_app.domain.clutch.floating_eggs import (
    HatchHours,
    hatch_hours,
    hours_told,
    ready_at_hatch,
)
from hatchery_app.domain.clutch.hatch_evidence import NoneBy
from hatchery_app.domain.clutch.hatch_forecast import (
    HatchForecast,
    earliest_possible_night,
    hatch_forecast,
    readiness_told,
)
from hatchery_app.domain.clutch.learned_readiness import (
    Learned,
    ReadinessInterval,
    is_believable,
)
from hatchery_app.domain.species.species import Incubation, Species
from hatchery_app.domain.when import Night, dark_window
from hatchery_app.models.clutch import (
    Clutch,
    ClutchCheck,
    ClutchEnded,
    EggsMoved,
    Hatch,
)
from hatchery_app.models.entry import Entry, known
from hatchery_app.services.clutch.clutch_facts import LAYING, ClutchFacts, load_clutches
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.remembering import has_written

# Older clutches of a pair add nothing that its newest do not say; Today must not read ten years.
NEWEST_FINISHED = 60
NEWEST_OF_A_PAIR = 30  # of each pair at hand, however long ago: a room's newest may all be others'


@dataclass(frozen=True)
class Watched:
    """One clutch with its forecast; None for a species that is not forecast by the night.

    `hours` where its eggs float and hatch at any hour.
    """

    clutch: ClutchFacts
    forecast: HatchForecast | None
    learned: Learned
    hours: HatchHours | None = None


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
    record = load_record(
        session, room, library, {c.species_key for c in clutches}, now, at_seq,
        pair_ids={c.pair_id for c in clutches if c.pair_id is not None},
    )  # fmt: skip
    return [watched(clutch, room, library, record, now) for clutch in clutches]


@dataclass(frozen=True)
class Told:
    """What one finished clutch taught."""

    clutch_id: int
    pair_id: int | None
    species_key: str
    interval: ReadinessInterval | None
    delay_minutes: float | None
    is_kept_out: bool = False  # doubted: no interval until the keeper confirms it


# What finished clutches taught changes only with an entry about eggs or water, not with the
# hundred taps of a day: worked out once a process for each newest such entry.
TEACHING = (
    "laying", "clutch", "eggs_moved", "clutch_check", "hatch", "clutch_ended", "readings",
    "set_point", "light_hours", "room_facts", "tank", "withdrawal",
)  # fmt: skip
MOST_REMEMBERED = 8
_remembered: dict[tuple[object, ...], list["Told"]] = {}

# Most entries say something of one clutch of hundreds: what the others taught stands, and of
# them nothing is read again. Whatever else is written (water, lamps, a correction) may bear on
# any of them.
OF_ONE_CLUTCH: tuple[type[Entry], ...] = (ClutchCheck, EggsMoved, Hatch, ClutchEnded)
OF_A_NEW_ONE = ("laying", "clutch")
SETTLED_AFTER = timedelta(days=2)  # its course runs a day past its last night; assumed till then
_kept: dict[tuple[object, ...], tuple[int, dict[int, "Told"]]] = {}


def forget() -> None:
    """Forget what was worked out: the records were put back, or emptied."""
    _remembered.clear()
    _kept.clear()


def load_record(
    session: Session,
    room: RoomNow,
    library: Mapping[str, Species],
    species_keys: Iterable[str],
    now: datetime,
    at_seq: int | None = None,
    pair_ids: Iterable[int] = (),
) -> list[Told]:
    """What the room's newest finished clutches of each of these species taught, oldest first.

    With them the newest of each pair named, however many others' came since. Remembered until
    something is written about eggs or water.
    """
    wanted, pairs = sorted(set(species_keys)), sorted(set(pair_ids))
    newest = session.scalar(select(func.max(Entry.seq)).where(Entry.kind.in_(TEACHING))) or 0
    of = (str(session.get_bind().engine.url), tuple(wanted),
          tuple(id(library.get(species)) for species in wanted))  # fmt: skip
    key = (*of, newest, at_seq, tuple(pairs))
    if key in _remembered:
        return _remembered[key]
    finished = _finished(session, wanted, at_seq, pairs)
    stands = _still_standing(session, of, newest) if at_seq is None else {}
    new = load_clutches(
        session, room, at_seq=at_seq, clutch_ids=[one for one in finished if one not in stands]
    )
    told = {clutch.id: told_by(clutch, room, library, now) for clutch in new}
    found = stands | told
    record = [found[one] for one in finished if one in found]
    if has_written(session):  # which may come to nothing, and its numbers be handed out again
        return record
    if at_seq is None:
        settled = {one.id: told[one.id] for one in new if _is_settled(one, now)}
        _kept[of] = (newest, stands | settled)
    while len(_remembered) >= MOST_REMEMBERED:
        _remembered.pop(next(iter(_remembered)), None)
    _remembered[key] = record
    return record


def _is_settled(clutch: ClutchFacts, now: datetime) -> bool:
    return clutch.ending is not None and now >= clutch.ending.when.latest + SETTLED_AFTER


def _still_standing(
    session: Session, of: tuple[object, ...], newest: int
) -> dict[int, Told]:
    """What was worked out before and nothing written since bears on."""
    since, told = _kept.get(of, (0, {}))
    if not told or newest < since:
        return {}
    written = session.execute(
        select(Entry.kind, Entry.fact_id == Entry.seq)
        .where(Entry.seq > since, Entry.kind.in_(TEACHING))
        .distinct()
    ).all()
    of_one = {kind.__tablename__: kind for kind in OF_ONE_CLUTCH}
    if not all(is_new and (kind in of_one or kind in OF_A_NEW_ONE) for kind, is_new in written):
        return {}
    told = dict(told)
    for kind in {of_one[name] for name, _is_new in written if name in of_one}:
        about = kind.clutch_id  # type: ignore[attr-defined]
        for clutch_id in session.scalars(select(about).where(kind.seq > since)):
            told.pop(clutch_id, None)
    return told


def _finished(
    session: Session,
    species_keys: Sequence[str],
    at_seq: int | None,
    pair_ids: Sequence[int],
) -> list[int]:
    """The newest finished clutches of these species, and of these pairs, oldest first."""
    newest_first = (Clutch.number.desc(), Clutch.fact_id.desc())
    ranked = (
        select(
            Clutch.fact_id.label("clutch_id"),
            LAYING.pair_id.label("pair_id"),
            LAYING.happened_earliest.label("laid_at"),
            Clutch.number.label("number"),
            func.row_number()
            .over(partition_by=LAYING.species_key, order_by=newest_first)
            .label("of_species"),
            func.row_number()
            .over(partition_by=(LAYING.species_key, LAYING.pair_id), order_by=newest_first)
            .label("of_pair"),
        )
        .join(LAYING, LAYING.fact_id == Clutch.laying_id)
        .where(
            known(at_seq, of=Clutch),
            known(at_seq, of=LAYING),
            LAYING.species_key.in_(species_keys),
            Clutch.fact_id.in_(select(ClutchEnded.clutch_id).where(known(at_seq))),
        )
        .subquery()
    )
    theirs = and_(
        ranked.c.pair_id.in_(pair_ids), ranked.c.of_pair <= NEWEST_OF_A_PAIR
    )
    return list(session.scalars(
        select(ranked.c.clutch_id)
        .where(or_(ranked.c.of_species <= NEWEST_FINISHED, theirs))
        .order_by(ranked.c.laid_at, ranked.c.number, ranked.c.clutch_id)
    ))  # fmt: skip


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


def watched(
    clutch: ClutchFacts,
    room: RoomNow,
    library: Mapping[str, Species],
    record: Sequence[Told],
    now: datetime,
) -> Watched:
    """One clutch's forecast as of `now`, by what the room's record says of it."""
    learned = learned_for(clutch, record)
    species = library.get(clutch.species_key)
    if species is None or species.incubation is None:
        return Watched(clutch, None, learned, _hours(clutch, room, species, learned, now))
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


def _hours(
    clutch: ClutchFacts, room: RoomNow, species: Species | None, learned: Learned, now: datetime
) -> HatchHours | None:
    if species is None or species.floating is None:
        return None
    return hatch_hours(
        laid=clutch.laid, stays=clutch.stays, room_time=room.room_time, eggs=species.floating,
        learned=learned, evidence=clutch.evidence, now=now,
    )  # fmt: skip


def told_by(
    clutch: ClutchFacts, room: RoomNow, library: Mapping[str, Species], now: datetime
) -> Told:
    """What one finished clutch taught; no interval where its incubation is doubted."""
    species = library.get(clutch.species_key)
    interval, doubted = None, False
    if species is not None and species.incubation is not None:
        interval = readiness_told(
            laid=clutch.laid,
            stays=clutch.stays,
            room_time=room.room_time,
            species=species.incubation,
            hatched=clutch.first_hatched,
            evidence=clutch.evidence,
            now=now,
        )
        if interval is not None and not _teaches(clutch, species.incubation, interval):
            interval, doubted = None, True
    elif species is not None and species.floating is not None and clutch.hatches:
        first = min(clutch.hatches, key=lambda part: part.when.latest)
        interval = hours_told(
            laid=clutch.laid, stays=clutch.stays, room_time=room.room_time,
            eggs=species.floating, hatched=first.when, evidence=clutch.evidence, now=now,
        )  # fmt: skip
        usual = ready_at_hatch(species.floating)
        if interval is not None and not _teaches(clutch, usual, interval):
            interval, doubted = None, True
    return Told(
        clutch.id, clutch.pair_id, clutch.species_key, interval, _delay_minutes(clutch, room),
        doubted,
    )


def _teaches(clutch: ClutchFacts, species: Incubation, interval: ReadinessInterval) -> bool:
    said = {part.incubated for part in clutch.hatches}
    if Incubated.CONFIRMED in said:
        return True
    return Incubated.DOUBTED not in said and is_believable(species, interval)


def _delay_minutes(clutch: ClutchFacts, room: RoomNow) -> float | None:
    """From lights-off to the first larvae seen, where the hour is known."""
    for part in clutch.hatches:
        if part.found_by_day or not part.hour_known or not part.when.is_exact:
            continue
        night, lights = part.nights.first, clutch.stays[-1].lights  # one seen then is sure
        dark_from, dark_until = dark_window(night, lights, room.room_time)
        if dark_from <= part.when.earliest < dark_until:
            return (part.when.earliest - dark_from).total_seconds() / 60
    return None


def check_list_of(
    clutch: ClutchFacts, room: RoomNow, library: Mapping[str, Species], now: datetime
) -> tuple[str, ...]:
    """What to look at where the nights it was due on passed in vain, or it is given up."""
    species = library.get(clutch.species_key)
    if clutch.hatches or species is None or species.incubation is None:
        return ()
    failed = clutch.ending is not None and clutch.ending.outcome is ClutchOutcome.DID_NOT_HATCH
    if failed:
        return check_list(clutch.evidence)
    if clutch.ending is not None:
        return ()
    watches = [seen for seen in clutch.evidence if isinstance(seen, NoneBy)]
    others = tuple(seen for seen in clutch.evidence if not isinstance(seen, NoneBy))
    unseen = hatch_forecast(
        laid=clutch.laid, stays=clutch.stays, room_time=room.room_time,
        species=species.incubation, evidence=others, now=now,
    )  # fmt: skip
    return check_list(clutch.evidence) if failed_when_due(unseen, watches) else ()
