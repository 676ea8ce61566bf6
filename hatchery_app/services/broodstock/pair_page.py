"""One pair's page: the two fish, their tank, every clutch in a row, and when they may lay next."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.body_length import LengthSeen, length_at
from hatchery_app.domain.broodstock.pairing import PairLink
from hatchery_app.domain.broodstock.rota import Meal
from hatchery_app.domain.broodstock.sex_state import SexAt, sex_at
from hatchery_app.domain.broodstock.step_in import StepIn
from hatchery_app.domain.spawn.drift import DriftSeen, clutch_size_drift, gap_drift
from hatchery_app.domain.spawn.next_spawn import NextSpawn
from hatchery_app.domain.spawn.spawn_rhythm import CountedFrom, Gap, gap_days
from hatchery_app.domain.species.species import Figure, Species, WaterRange
from hatchery_app.domain.tank.water_reading import Quantity, beside_range
from hatchery_app.domain.when import night_of
from hatchery_app.services.broodstock.after_loss import if_mate_were_lost
from hatchery_app.services.broodstock.feeding_rota import rota_now
from hatchery_app.services.broodstock.pair_hatches import PairHatches, pair_hatches
from hatchery_app.services.broodstock.stock_record import Leaving, Place
from hatchery_app.services.broodstock.stock_view import StockView, load_view
from hatchery_app.services.clutch.brood_clutches import BroodClutch
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.species.library import library
from hatchery_app.services.tank.readings import last_measured

SHOWN_WATER: Mapping[str, Quantity] = {
    "temperature": Quantity.TEMPERATURE,
    "temperature_usual": Quantity.TEMPERATURE,
    "salinity": Quantity.SALINITY,
    "ph": Quantity.PH,
    "nitrite": Quantity.NITRITE,
    "nitrate": Quantity.NITRATE,
}
"""The ranges of a species that a tank's readings stand beside. Un-ionised ammonia is worked out
on the tank's own page."""


@dataclass(frozen=True)
class OfPair:
    """One of the two, as far as known, and who could step in for it."""

    fish_id: int
    label: str
    sex: SexAt
    species: str
    variety: str
    length: LengthSeen | None
    bars: tuple[str, ...]
    leaving: Leaving | None
    tank_label: str
    if_lost: StepIn | None


@dataclass(frozen=True)
class WaterLine:
    """A range of the species beside what was last read in the tank, None where nothing was.

    `stands` is "below", "above" or "within" the range; "" where nothing fresh was read.
    """

    quantity: str
    wanted: WaterRange
    value: float | None
    read_at: datetime | None
    stands: str = ""


@dataclass(frozen=True)
class ClutchLine:
    """One clutch in the pair's row, with the gap before it (None for the first)."""

    clutch: BroodClutch
    gap: Gap | None


@dataclass(frozen=True)
class FedOn:
    """What the rota gives this pair on one day of the room."""

    day: date
    meals: tuple[Meal, ...]


@dataclass(frozen=True)
class PairPage:
    """All that stands of a pair. `volume` is the species' usual tank, with its source."""

    pair_id: int
    name: str
    link: PairLink
    ended_id: int | None
    ended_by_loss_of: int | None
    earlier_clutches: int
    female: OfPair
    male: OfPair
    place: Place | None
    species: Species | None
    volume: Figure | None
    water: tuple[WaterLine, ...]
    clutches: tuple[ClutchLine, ...]
    next: NextSpawn
    hatches: PairHatches
    size_drift: DriftSeen
    gap_drift: DriftSeen
    has_rota: bool
    fed: tuple[FedOn, ...]
    now: datetime

    @property
    def is_over(self) -> bool:
        """Whether the pair has ended."""
        return self.link.until is not None and self.link.until.latest <= self.now


def pair_page(session: Session, room: RoomNow, *, pair_id: int, now: datetime) -> PairPage:
    """One pair, standing or ended. Raises NotKnown."""
    view = load_view(session, now)
    record = view.stock.pair_named(pair_id)
    link, species = record.link, view.species_of(record.link)
    place = view.stock.place(view.stock.tank_of_pair(link, now))
    found = view.gaps(record)
    clutches = view.by_pair.get(pair_id, ())
    rota = rota_now(session, room, now)
    today = night_of(now, room.lights(now), room.room_time)
    days = () if rota is None else tuple(today.plus(n).evening for n in range(3))
    female, male = (_of_pair(view, link, f) for f in (link.female_id, link.male_id))
    return PairPage(
        pair_id=pair_id,
        name=view.stock.pair_words(pair_id),
        link=link,
        ended_id=record.ended_id,
        ended_by_loss_of=_lost(view, link, record.fish_left_id),
        earlier_clutches=record.earlier_clutches,
        female=female,
        male=male,
        place=place,
        species=species,
        volume=species.figure("pair.tank_volume") if species is not None else None,
        water=_water(session, species, place, now),
        clutches=_row(clutches, found),
        next=view.next_spawn(record),
        hatches=pair_hatches(
            session, room, library(), pair_id=pair_id, clutches=clutches, now=now
        ),
        size_drift=_size_drift(clutches, found),
        gap_drift=gap_drift(_like_gaps(found)),
        has_rota=rota is not None,
        fed=tuple(
            FedOn(day, rota.meals(pair_id, day))
            for day in days
            if rota is not None and day >= rota.from_on
        ),
        now=now,
    )


def _lost(view: StockView, link: PairLink, left_id: int | None) -> int | None:
    """The fish whose leaving ended the pair."""
    for fish_id in (link.female_id, link.male_id):
        record = view.stock.fish.get(fish_id)
        leaving = record.leaving if record is not None else None
        if leaving is not None and leaving.left_id == left_id:
            return fish_id
    return None


def _of_pair(view: StockView, link: PairLink, fish_id: int) -> OfPair:
    record = view.stock.fish_named(fish_id)
    stands = link.stands_at(view.now)
    return OfPair(
        fish_id=fish_id,
        label=view.stock.labels[fish_id],
        sex=sex_at(record.fish.sexes, view.now),
        species=view.species_words(fish_id),
        variety=record.fish.variety,
        length=length_at(record.fish.lengths, view.now),
        bars=view.breeding_bars(fish_id),
        leaving=record.leaving,
        tank_label=view.stock.place_words(fish_id, view.now),
        # Were this one lost, the other would be left: the ranking is beside that one.
        if_lost=if_mate_were_lost(view, link.mate_of(fish_id)) if stands else None,
    )


def _water(
    session: Session, species: Species | None, place: Place | None, now: datetime
) -> tuple[WaterLine, ...]:
    if species is None:
        return ()
    latest = last_measured(session, place.tank_id, now) if place is not None else {}
    lines, taken = [], set()
    for quantity, reading in SHOWN_WATER.items():
        wanted = species.water.of("broodstock", quantity)
        if wanted is None or reading in taken:
            continue
        taken.add(reading)
        name, last = quantity.removesuffix("_usual"), latest.get(reading)
        if last is None:
            lines.append(WaterLine(name, wanted, None, None))
            continue
        stands = beside_range(last.value, wanted) if last.is_fresh(now) else ""
        lines.append(WaterLine(name, wanted, last.value, last.at, stands))
    return tuple(lines)


def _row(clutches: tuple[BroodClutch, ...], found: tuple[Gap, ...]) -> tuple[ClutchLine, ...]:
    before = {gap.before_clutch_id: gap for gap in found}
    return tuple(ClutchLine(clutch, before.get(clutch.clutch_id)) for clutch in clutches)


def _size_drift(clutches: tuple[BroodClutch, ...], found: tuple[Gap, ...]) -> DriftSeen:
    """Drift in clutch size, the first clutches left out as for gaps."""
    counts = {gap.before_clutch_id for gap in found if gap.counts}
    sizes = [c.eggs.best for c in clutches if c.clutch_id in counts]
    return clutch_size_drift([n for n in sizes if n is not None])


def _like_gaps(found: tuple[Gap, ...]) -> list[float]:
    """The counted gaps of the kind there are more of; the two kinds are never mixed."""
    from_nest = gap_days(found, CountedFrom.NEST_EMPTY)
    all_counted = gap_days(found, CountedFrom.LAYING)
    return from_nest if 2 * len(from_nest) > len(all_counted) else all_counted

