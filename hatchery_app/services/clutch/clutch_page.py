"""What the pages about eggs show: one clutch, the clutches of the room, the pairs that may lay."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.pairing import LinkKind
from hatchery_app.domain.clutch.floating_eggs import HatchHours
from hatchery_app.domain.clutch.hatch_forecast import HatchForecast, Moved, known_by, what_moved
from hatchery_app.domain.clutch.hatch_window import night_of_laying
from hatchery_app.domain.clutch.learned_readiness import Learned
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.spawn.parents import Parents
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.when import Night, RoomTime, When, night_of
from hatchery_app.models.broodstock import BroodGroup, Fish, FishPlaced, Pair, PairEnded
from hatchery_app.models.clutch import Clutch, ClutchEnded, Laying
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Moved as Put
from hatchery_app.models.tank import Tank
from hatchery_app.services.clutch.clutch_brood import BroodNow, broods_now
from hatchery_app.services.clutch.clutch_facts import ClutchFacts, load_clutch, load_clutches
from hatchery_app.services.clutch.clutch_watch import Watched, check_list_of, watch
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book.holding_facts import named_holdings

A_WEEK = timedelta(days=7)
HARDLY_EARLIER = timedelta(hours=20)  # nothing is learned from what was said this morning
RECENT = 24  # finished clutches shown on the list; older ones stand on their pair's page


@dataclass(frozen=True)
class ClutchSeen:
    """One clutch as a page shows it: facts, forecast, and whose eggs they are in words.

    `whose` is the pair as the keeper calls it, else the parents as far as they are known.
    `brood` where a parent carries it, `hours` where its eggs float: neither has a forecast by
    the night.
    """

    clutch: ClutchFacts
    species: Species | None
    whose: str
    parents_said: str
    tended_by: str
    forecast: HatchForecast | None
    laid_night: Night
    tonight: Night
    brood: BroodNow | None = None
    hours: HatchHours | None = None

    @property
    def night_number(self) -> int:
        """Which night of this clutch tonight is."""
        return self.tonight.number(self.laid_night)


@dataclass(frozen=True)
class SaidBefore:
    """What was forecast of a clutch at an earlier moment, from what was known then."""

    as_of: datetime
    forecast: HatchForecast


@dataclass(frozen=True)
class MovedBy:
    """What one entry did to the nights."""

    fact_id: int
    moved: Moved


@dataclass(frozen=True)
class InTank:
    """So many of a hatch were put in a tank, by its label then; `holding_id` is the batch."""

    number: HowMany
    label: str
    holding_id: int


@dataclass(frozen=True)
class ClutchPage:
    """One clutch's page. `moved` says which entry moved the nights and by how much, `in_tanks`
    what of each hatch was put in tanks."""

    seen: ClutchSeen
    moved: tuple[MovedBy, ...]
    room_time: RoomTime
    now: datetime
    check_list: tuple[str, ...] = ()  # what to look at where it did not hatch when due
    before: SaidBefore | None = None
    in_tanks: Mapping[int, tuple[InTank, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class ClutchList:
    """The open clutches, next to hatch first, and the newest finished ones."""

    open: tuple[ClutchSeen, ...]
    finished: tuple[ClutchSeen, ...]
    now: datetime


@dataclass(frozen=True)
class PairChoice:
    """A pair that stands now and may lay: its words, and where it is on the walk."""

    pair_id: int
    name: str
    tank_id: int | None
    tank_label: str
    last_laid: When | None
    has_open_clutch: bool


def clutch_page(
    session: Session, library: Mapping[str, Species], *, room: RoomNow, clutch_id: int,
    now: datetime,
) -> ClutchPage:  # fmt: skip
    """One clutch. Raises NotKnown."""
    clutch = load_clutch(session, room, clutch_id)
    (watched,) = watch(session, room, library, [clutch], now=_as_of(clutch, now))
    (seen,) = see(session, room, library, [watched], now)
    species = library.get(clutch.species_key)
    moved = _moved(clutch, room, species, watched.learned, _as_of(clutch, now))
    looks = check_list_of(clutch, room, library, _as_of(clutch, now))
    before = _said_before(session, room, library, clutch, _as_of(clutch, now))
    placed = _in_tanks(session, [part.fact_id for part in clutch.hatches])
    return ClutchPage(seen, moved, room.room_time, now, looks, before, placed)


def _in_tanks(session: Session, hatch_ids: Sequence[int]) -> dict[int, tuple[InTank, ...]]:
    """What of each hatch went straight into tanks, in order. Four statements."""
    rows = session.scalars(
        select(Put)
        .where(known(), Put.hatch_id.in_(hatch_ids), Put.out_of_id.is_(None))
        .order_by(Put.happened_latest, Put.seq)
    ).all()
    held = named_holdings(session, [row.into_id for row in rows if row.into_id is not None])
    found: dict[int, list[InTank]] = defaultdict(list)
    for row in rows:
        into = held.get(row.into_id or 0)
        if into is None or row.hatch_id is None:
            continue
        stays = [one for one in into.places if one.since.earliest <= row.happened_latest]
        label = (stays or into.places)[-1].label
        found[row.hatch_id].append(InTank(row.how_many, label, into.id))
    return {hatch_id: tuple(parts) for hatch_id, parts in found.items()}


def _moved(
    clutch: ClutchFacts, room: RoomNow, species: Species | None, learned: Learned, now: datetime
) -> tuple[MovedBy, ...]:
    if species is None or species.incubation is None:
        return ()
    moved = what_moved(
        laid=clutch.laid, stays=clutch.stays, room_time=room.room_time,
        species=species.incubation, learned=learned, evidence=clutch.evidence, now=now,
    )  # fmt: skip
    known = set(known_by(clutch.evidence, now))
    entries = [fact_id for fact_id, evidence in clutch.told if evidence in known]
    return tuple(MovedBy(fact_id, each) for fact_id, each in zip(entries, moved, strict=False))


def _said_before(
    session: Session, room: RoomNow, library: Mapping[str, Species], clutch: ClutchFacts,
    now: datetime,
) -> SaidBefore | None:  # fmt: skip
    """The forecast of a week before, or the first there was; None where that is hardly a day."""
    entered = session.scalar(select(Entry.received_at).where(Entry.seq == clutch.id))
    if entered is None:
        return None
    then = max(now - A_WEEK, entered)
    if now - then < HARDLY_EARLIER:
        return None
    at_seq = session.scalar(select(func.max(Entry.seq)).where(Entry.received_at <= then))
    known_then = load_clutches(session, room, clutch_ids=[clutch.id], at_seq=at_seq)
    for watched in watch(session, room, library, known_then, now=then, at_seq=at_seq):
        if watched.forecast is not None and watched.forecast.unknown is None:
            return SaidBefore(then, watched.forecast)
    return None


def clutch_list(
    session: Session, library: Mapping[str, Species], *, room: RoomNow, now: datetime
) -> ClutchList:
    """The room's clutches, in a fixed number of statements."""
    standing = load_clutches(session, room, open_only=True)
    finished = load_clutches(session, room, clutch_ids=_newest_finished(session))
    watched = watch(session, room, library, standing, now=now)
    watched.sort(key=lambda each: _due(each, now))
    shown = see(session, room, library, watched, now)
    over = see(session, room, library, [_unwatched(clutch) for clutch in finished], now)
    return ClutchList(tuple(shown), tuple(reversed(over)), now)


def see(
    session: Session,
    room: RoomNow,
    library: Mapping[str, Species],
    watched: Sequence[Watched],
    now: datetime,
) -> list[ClutchSeen]:
    """Give each clutch the names of its people. Three statements, more where one is carried."""
    clutches = [each.clutch for each in watched]
    pairs = pair_names(
        session, [pair for c in clutches for pair in (c.pair_id, c.place.tended_by_pair_id)]
    )
    names = fish_names(session, [c.parents for c in clutches])
    broods = broods_now(session, room, library, clutches, now=now)
    return [
        replace(_seen(each, room, library, names, pairs, now), brood=broods.get(each.clutch.id))
        for each in watched
    ]


def fish_names(session: Session, parents: Iterable[Parents]) -> dict[int, str]:
    """The names of all fish and groups that these parents name. Two statements."""
    ids: set[int] = set()
    for each in parents:
        ids |= set(each.candidates)
        ids |= {p.group_id for p in (each.female, each.male) if p.group_id is not None}
    fish = session.execute(
        select(Fish.fact_id, Fish.name).where(known(), Fish.fact_id.in_(ids))
    ).all()
    groups = session.execute(
        select(BroodGroup.fact_id, BroodGroup.name).where(known(), BroodGroup.fact_id.in_(ids))
    ).all()
    named: dict[int, str] = {fact: name for fact, name in fish if fact is not None}
    return named | {fact: f"the group {name}" for fact, name in groups if fact is not None}


def pair_names(session: Session, pair_ids: Iterable[int | None]) -> dict[int, str]:
    """Each pair's own name, else its two fish: "Rusk and Tansy". Two statements."""
    wanted = {pair_id for pair_id in pair_ids if pair_id is not None}
    pairs = session.scalars(select(Pair).where(known(), Pair.fact_id.in_(wanted))).all()
    fish_ids = {fish_id for pair in pairs for fish_id in (pair.female_id, pair.male_id)}
    names = {
        fact: name
        for fact, name in session.execute(
            select(Fish.fact_id, Fish.name).where(known(), Fish.fact_id.in_(fish_ids))
        )
        if fact is not None
    }
    return {pair.fact: _pair_name(pair, names) for pair in pairs}


def pairs_that_may_lay(session: Session) -> tuple[PairChoice, ...]:
    """The pairs that stand now, in walking order. Six statements."""
    over = select(PairEnded.pair_id).where(known())
    pairs = session.scalars(
        select(Pair).where(known(), Pair.fact_id.not_in(over), Pair.link == LinkKind.PAIR)
    ).all()
    ids = [pair.fact for pair in pairs]
    names = pair_names(session, ids)
    places = _places(session, [fish for p in pairs for fish in (p.female_id, p.male_id)])
    tanks = {tank.fact: tank for tank in session.scalars(select(Tank).where(known()))}
    layings = session.scalars(
        select(Laying)
        .where(known(), Laying.pair_id.in_(ids))
        .order_by(Laying.happened_latest)
    ).all()
    standing = set(
        session.scalars(
            select(Clutch.laying_id).where(
                known(),
                Clutch.fact_id.not_in(select(ClutchEnded.clutch_id).where(known())),
            )
        )
    )
    choices = []
    for pair in pairs:
        own = [laying for laying in layings if laying.pair_id == pair.fact]
        tank_id = places.get(pair.female_id) or places.get(pair.male_id)
        tank = tanks.get(tank_id) if tank_id is not None else None
        choices.append(
            PairChoice(
                pair.fact, names[pair.fact], tank_id, tank.label if tank else "",
                own[-1].when if own else None,
                any(laying.fact in standing for laying in own),
            )
        )  # fmt: skip
    order = {tank_id: (tank.walk_order, tank.label) for tank_id, tank in tanks.items()}
    last = (1 << 30, "")
    return tuple(
        sorted(choices, key=lambda c: order.get(c.tank_id, last) if c.tank_id else last)
    )


def _pair_name(pair: Pair, names: Mapping[int, str]) -> str:
    female, male = (names.get(i, "a fish withdrawn since") for i in (pair.female_id, pair.male_id))
    return pair.name or f"{female} and {male}"


def _places(session: Session, fish_ids: Iterable[int]) -> dict[int, int]:
    rows = session.scalars(
        select(FishPlaced)
        .where(known(), FishPlaced.fish_id.in_(list(fish_ids)))
        .order_by(FishPlaced.happened_latest, FishPlaced.seq)
    )
    return {row.fish_id: row.tank_id for row in rows}


def _seen(
    each: Watched,
    room: RoomNow,
    library: Mapping[str, Species],
    names: Mapping[int, str],
    pairs: Mapping[int, str],
    now: datetime,
) -> ClutchSeen:
    clutch = each.clutch
    tended = clutch.place.tended_by_pair_id
    parents = clutch.parents.said(names)
    return ClutchSeen(
        clutch=clutch,
        species=library.get(clutch.species_key),
        whose=pairs.get(clutch.pair_id, parents) if clutch.pair_id is not None else parents,
        parents_said=parents,
        tended_by=pairs.get(tended, "") if tended not in (None, clutch.pair_id) and tended else "",
        forecast=each.forecast,
        hours=each.hours,
        laid_night=_night_0(each, library.get(clutch.species_key), room.room_time),
        tonight=night_of(now, clutch.stays[-1].lights, room.room_time),
    )


def _night_0(each: Watched, species: Species | None, room_time: RoomTime) -> Night:
    """The night from which a clutch's nights are numbered, here as in its forecast.

    A brood that is carried and eggs that float are counted in days and hours: theirs is the first
    night on which they may have begun.
    """
    laid, stays = each.clutch.laid, each.clutch.stays
    if species is not None and species.incubation is None:
        return night_of(laid.earliest, stays[0].lights, room_time)
    return night_of_laying(laid, stays, room_time)


def _unwatched(clutch: ClutchFacts) -> Watched:
    return Watched(clutch, None, Learned())


def _as_of(clutch: ClutchFacts, now: datetime) -> datetime:
    """A finished clutch is forecast as it stood when it ended."""
    return now if clutch.ending is None else min(now, clutch.ending.when.latest)


def _due(each: Watched, now: datetime) -> tuple[bool, float, int]:
    forecast = each.forecast
    if forecast is None or forecast.likeliest is None:
        return (True, 0.0, each.clutch.number)
    nights = forecast.likeliest.number(forecast.tonight)
    return (False, float(nights), each.clutch.number)


def _newest_finished(session: Session) -> list[int]:
    ids = session.scalars(
        select(Clutch.fact_id)
        .where(known(), Clutch.fact_id.in_(select(ClutchEnded.clutch_id).where(known())))
        .order_by(Clutch.number.desc())
        .limit(RECENT)
    )
    return [fact for fact in ids if fact is not None]
