"""One fish's page: what it was held to be and when, where it sat, whose it is, what it made."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.broodstock import Fish, SpeciesOpinion
from hatchery_app.domain.broodstock.kinship import Kinship, inbreeding_of
from hatchery_app.domain.broodstock.pairing import PairLink, links_at, single_since
from hatchery_app.domain.broodstock.sex_state import SexAt, SexState, may_become, roles_said, sex_at
from hatchery_app.domain.spawn.parents import Parents
from hatchery_app.domain.spawn.spawn_rhythm import LayingOfFemale, across_mates
from hatchery_app.domain.species.species import SexSystem
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock.stock_record import FishRecord, Place
from hatchery_app.services.broodstock.stock_view import StockView, load_view
from hatchery_app.services.clutch.brood_clutches import BroodClutch, of_parent, spawns_of
from hatchery_app.services.species.library import library


@dataclass(frozen=True)
class LinkLine:
    """One link the fish stood in."""

    link: PairLink
    name: str
    mate_id: int
    mate: str


@dataclass(frozen=True)
class StayLine:
    """One tank it sat in from then on."""

    place: Place | None
    since: When


@dataclass(frozen=True)
class MadeLine:
    """One clutch it is, or may be, a parent of. `laying` is set where it laid it itself."""

    clutch: BroodClutch
    parents_said: str
    laying: LayingOfFemale | None


@dataclass(frozen=True)
class FishPage:
    """All that stands of one fish. `history` is its sex states, those shown by clutches too."""

    record: FishRecord
    label: str
    sex: SexAt
    history: tuple[SexState, ...]
    may_become: tuple[str, ...]
    species: str
    opinions: tuple[tuple[str, SpeciesOpinion], ...]
    parents_said: str
    inbreeding: Kinship
    roles: str
    place: Place | None
    stays: tuple[StayLine, ...]
    links: tuple[LinkLine, ...]
    standing: PairLink | None
    single_since: When | None
    made: tuple[MadeLine, ...]
    others: tuple[tuple[int, str], ...]
    now: datetime

    @property
    def fish(self) -> Fish:
        return self.record.fish


def fish_page(session: Session, *, fish_id: int, now: datetime) -> FishPage:
    """One fish, here or gone. Raises NotKnown."""
    view = load_view(session, now)
    record = view.stock.fish_named(fish_id)
    fish, names = record.fish, view.stock.labels
    sex = sex_at(fish.sexes, now)
    held = library().get(view.stock.species_key(fish_id, now))
    system = held.sex.system if held is not None else SexSystem.UNDETERMINED
    standing = [k for k in links_at(fish_id, view.stock.links, now) if k.is_pair]
    return FishPage(
        record=record,
        label=names[fish_id],
        sex=sex,
        history=_changes(fish.sexes),
        may_become=tuple(sorted(may_become(sex.sex, system))),
        species=view.species_words(fish_id),
        opinions=tuple((_species_name(o), o) for o in fish.opinions),
        parents_said=_parents_said(view, record),
        inbreeding=inbreeding_of(view.pedigree, fish_id),
        roles=roles_said(view.roles.get(fish_id, ())),
        place=view.stock.place(record.tank_at(now)),
        stays=tuple(
            StayLine(view.stock.place(s.tank_id), s.since) for s in reversed(record.stays)
        ),
        links=_links(view, fish_id),
        standing=standing[0] if standing else None,
        single_since=single_since(fish_id, view.stock.links, now),
        made=_made(view, fish_id),
        others=tuple((i, names[i]) for i in view.stock.fish if i != fish_id),
        now=now,
    )


def _changes(states: Iterable[SexState]) -> tuple[SexState, ...]:
    """The history without what a later clutch only showed again, oldest first."""
    kept: list[SexState] = []
    for state in sorted(states, key=lambda s: s.when.latest):
        last = kept[-1] if kept else None
        is_again = (
            last is not None
            and not state.note
            and (last.sex, last.standing, last.evidence)
            == (state.sex, state.standing, state.evidence)
        )
        if not is_again:
            kept.append(state)
    return tuple(kept)


def _species_name(opinion: SpeciesOpinion) -> str:
    found = library().get(opinion.species_key)
    return found.common_name if found is not None else opinion.species_key or "not known"


def _parents_said(view: StockView, record: FishRecord) -> str:
    """Its parents in words; of one kept from a clutch, that clutch's."""
    kept_from = [c for c in view.clutches if c.clutch_id == record.clutch_id]
    parents = kept_from[0].parents if kept_from else record.parents
    said = said_safely(view, parents)
    return f"{kept_from[0].name}: {said}" if kept_from else said


def said_safely(view: StockView, parents: Parents) -> str:
    """Parents in words, whatever was withdrawn since."""
    return parents.said(_Names(view.stock.labels))


class _Names(dict[int, str]):
    """Names that know an answer for a fish that was withdrawn since."""

    def __missing__(self, key: int) -> str:
        return "a fish withdrawn since"


def _links(view: StockView, fish_id: int) -> tuple[LinkLine, ...]:
    own = [k for k in view.stock.links if fish_id in k.fish_ids]
    own.sort(key=lambda k: k.since.earliest, reverse=True)
    return tuple(
        LinkLine(
            k, view.stock.pair_words(k.pair_id), k.mate_of(fish_id),
            view.stock.labels.get(k.mate_of(fish_id), "a fish withdrawn since"),
        )
        for k in own
    )  # fmt: skip


def _made(view: StockView, fish_id: int) -> tuple[MadeLine, ...]:
    """Its clutches, newest first; gaps of a female across two mates are marked."""
    made = of_parent(view.clutches, fish_id)
    laid = [c for c in made if c.parents.female.fish_ids == (fish_id,) and c.pair_id is not None]
    pair_ids = dict.fromkeys(c.pair_id for c in laid if c.pair_id is not None)
    spawns = [spawn for pair_id in pair_ids for spawn in spawns_of(laid, pair_id)]
    earlier = {pair_id: view.stock.pairs[pair_id].earlier_clutches for pair_id in pair_ids
               if pair_id in view.stock.pairs}  # fmt: skip
    by_clutch = {row.clutch_id: row for row in across_mates(spawns, earlier)}
    return tuple(
        MadeLine(c, said_safely(view, c.parents), by_clutch.get(c.clutch_id))
        for c in reversed(made)
    )
