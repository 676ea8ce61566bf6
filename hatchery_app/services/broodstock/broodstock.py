"""The list of the broodstock: pairs in walking order, single fish, groups, and who is gone."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.broodstock import Fish
from hatchery_app.domain.broodstock.pairing import EndedBecause, links_at
from hatchery_app.domain.broodstock.sex_state import SexAt, sex_at
from hatchery_app.domain.broodstock.step_in import pairs_with_nobody
from hatchery_app.domain.spawn.next_spawn import NextSpawn
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock.stock_record import Place
from hatchery_app.services.broodstock.stock_view import StockView, load_view
from hatchery_app.services.clutch.brood_clutches import BroodClutch


@dataclass(frozen=True)
class PairRow:
    """One pair that stands: its last clutch, its next spawn, and whether it has a stand-in."""

    pair_id: int
    name: str
    place: Place | None
    species: str
    since: When
    last: BroodClutch | None
    clutches: int
    earlier_clutches: int
    next: NextSpawn
    has_nobody: bool


@dataclass(frozen=True)
class EndedRow:
    """A pair that ended, by its name and dates."""

    pair_id: int
    name: str
    since: When
    until: When
    because: EndedBecause | None
    has_open_clutch: bool


@dataclass(frozen=True)
class FishRow:
    """One fish, told apart from its namesakes."""

    fish_id: int
    label: str
    sex: SexAt
    species: str
    place: Place | None
    kept_with: str
    bars: tuple[str, ...]
    gone: When | None
    gone_how: str


@dataclass(frozen=True)
class GroupRow:
    """A group and how many of it are left."""

    group_id: int
    name: str
    number: int
    place: Place | None


@dataclass(frozen=True)
class BroodstockList:
    """The whole broodstock. `single` stand in no pair now; `gone` left by a door."""

    pairs: tuple[PairRow, ...]
    single: tuple[FishRow, ...]
    groups: tuple[GroupRow, ...]
    ended: tuple[EndedRow, ...]
    gone: tuple[FishRow, ...]
    now: datetime


def broodstock_list(session: Session, *, now: datetime) -> BroodstockList:
    """The broodstock in walking order. The number of statements does not depend on it."""
    view = load_view(session, now)
    pairs = _pairs(view)
    here = [r.fish for r in view.stock.fish.values() if r.fish.is_here_at(now)]
    gone = [r.fish for r in view.stock.fish.values() if not r.fish.is_here_at(now)]
    paired = {f for record in view.standing() for f in record.link.fish_ids}
    single = [fish_row(view, fish) for fish in here if fish.fish_id not in paired]
    return BroodstockList(
        pairs=pairs,
        single=tuple(sorted(single, key=lambda r: (walk(r.place), r.label.casefold()))),
        groups=_groups(view),
        ended=_ended(view),
        gone=tuple(fish_row(view, fish) for fish in reversed(gone)),
        now=now,
    )


def walk(place: Place | None) -> tuple[bool, int]:
    """The order of the walk; what has no tank comes last."""
    return place is None, place.walk_order if place is not None else 0


def _with_nobody(view: StockView) -> frozenset[int]:
    """The pairs for which no free fish could step in.

    Paired fish are left out from the start: they are never free, and there are many of them.
    """
    pairs = [record.link for record in view.standing()]
    paired = frozenset(fish_id for link in pairs for fish_id in link.fish_ids)
    answers = {
        link.pair_id: view.breeding.step_in_for(
            link.male_id, now=view.now, is_alone=False, leaving_out=paired
        )
        for link in pairs
    }
    return frozenset(pairs_with_nobody(answers))


def _pairs(view: StockView) -> tuple[PairRow, ...]:
    nobody = _with_nobody(view)
    rows = []
    for record in view.standing():
        link = record.link
        clutches = view.by_pair.get(link.pair_id, ())
        rows.append(
            PairRow(
                pair_id=link.pair_id,
                name=view.stock.pair_words(link.pair_id),
                place=view.stock.place(view.stock.tank_of_pair(link, view.now)),
                species=view.species_words(link.female_id),
                since=link.since,
                last=clutches[-1] if clutches else None,
                earlier_clutches=record.earlier_clutches,
                clutches=len(clutches),
                next=view.next_spawn(record),
                has_nobody=link.pair_id in nobody,
            )
        )
    return tuple(rows)


def _ended(view: StockView) -> tuple[EndedRow, ...]:
    rows = []
    for pair_id, record in view.stock.pairs.items():
        link = record.link
        if link.until is None or not link.is_pair or link.stands_at(view.now):
            continue
        is_open = any(c.is_open for c in view.by_pair.get(pair_id, ()))
        rows.append(
            EndedRow(
                pair_id, view.stock.pair_words(pair_id), link.since, link.until,
                link.ended_because, is_open,
            )
        )  # fmt: skip
    return tuple(sorted(rows, key=lambda r: (not r.has_open_clutch, -r.until.latest.timestamp())))


def _groups(view: StockView) -> tuple[GroupRow, ...]:
    rows = [
        GroupRow(
            ident, record.group.name, record.group.number_at(view.now),
            view.stock.place(record.tank_id),
        )
        for ident, record in view.stock.groups.items()
    ]  # fmt: skip
    return tuple(sorted((r for r in rows if r.number), key=lambda r: walk(r.place)))


def fish_row(view: StockView, fish: Fish) -> FishRow:
    """One fish as a line of a list."""
    record = view.stock.fish_named(fish.fish_id)
    company = [
        view.stock.labels[link.mate_of(fish.fish_id)]
        for link in links_at(fish.fish_id, view.stock.links, view.now)
        if not link.is_pair and link.mate_of(fish.fish_id) in view.stock.labels
    ]
    return FishRow(
        fish_id=fish.fish_id,
        label=view.stock.labels[fish.fish_id],
        sex=sex_at(fish.sexes, view.now),
        species=view.species_words(fish.fish_id),
        place=view.stock.place(record.tank_at(view.now)),
        kept_with=" and ".join(company),
        bars=view.breeding_bars(fish.fish_id),
        gone=fish.gone,
        gone_how=fish.gone_how,
    )
