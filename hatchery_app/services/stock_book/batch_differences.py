"""What was different beside a batch's losses: its records of those days, and the others' at that
age. Siblings where there are any, else the room's other batches nearest in time."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise

from sqlalchemy import Integer, String, and_, column, func, select, values
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import Basis
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.stock_book.reared import reared
from hatchery_app.domain.stock_book.stock_book import Door, Movement
from hatchery_app.domain.stock_book.what_differed import Beside, Episode, Lived, beside, episodes
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.tank.treatment import Treatment
from hatchery_app.domain.tank.water_reading import Quantity
from hatchery_app.domain.when import Lights, Night, night_of, say_date
from hatchery_app.models.columns import UtcDateTime
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import PreySeen, StageMark, StageSeen
from hatchery_app.models.stock_book import Holding
from hatchery_app.models.tank import Reading, Readings, Tank, TankStateSeen
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.species import library
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, Stock, load_stock
from hatchery_app.services.tank.treatment import treatments_of

MOST_OTHERS = 12
LOOKED_AT = 30  # of the batches nearest in time; some were not there at that age
SAME_WATER = timedelta(days=1)  # so long a reading stands for the water of a move
APART = {Quantity.TEMPERATURE: (1.5, "°C"), Quantity.SALINITY: (2.0, "psu")}


@dataclass(frozen=True)
class LossBeside:
    """A loss of a batch with what differed, and whom it was compared with."""

    beside: Beside
    are_siblings: bool


def losses_beside(
    session: Session, room: RoomNow, stock: Stock, held: HoldingFacts, now: datetime
) -> tuple[LossBeside, ...]:
    """Each loss of a tenth or more of a batch with what differed. Twelve statements, or none where
    it has no such loss, its hatch night is not known, or a number of it is not."""
    if held.hatched is None or not held.places:
        return ()
    first = held.hatched[0]

    def dph_at(moment: datetime) -> int:
        # The rack is not loaded yet; the room's own lamps turn the day within hours of it.
        lights = room.lamps.over(moment, tank_id=held.places[0].tank_id)
        return night_of(moment, lights, room.room_time).number(first)

    told = reared(stock.book, (held.id,), dph_at)
    found = episodes(told) if told is not None else ()
    if not found:
        return ()
    near, are_siblings = _others(session, held)
    loaded = load_stock(session, room, holding_ids=near)
    nearest_first = {one: loaded.holdings[one] for one in near if one in loaded.holdings}
    others = replace(loaded, holdings=nearest_first)
    seen = _Seen.of(session, room, stock, others, held, found, now)
    return tuple(_beside(seen, one, are_siblings) for one in found)


def _others(session: Session, held: HoldingFacts) -> tuple[list[int], bool]:
    """The batches to compare with: siblings, else those of its species nearest in time."""
    listed = session.execute(
        select(Holding.fact_id, Holding.clutch_ids, Holding.species_key, Holding.hatched_first_on)
        .where(known(), Holding.stage == held.stage, Holding.fact_id != held.id,
               Holding.hatched_first_on.is_not(None))
    ).all()  # fmt: skip
    own = ",".join(str(one) for one in held.clutch_ids)
    siblings = [row.fact_id for row in listed if own and row.clutch_ids == own]
    if siblings:
        return siblings[:LOOKED_AT], True
    assert held.hatched is not None
    evening = held.hatched[0].evening
    near = sorted(
        listed,
        key=lambda row: (
            row.species_key != held.species_key, abs((row.hatched_first_on - evening).days),
        ),
    )  # fmt: skip
    return [row.fact_id for row in near[:LOOKED_AT]], False


def _beside(seen: "_Seen", episode: Episode, are_siblings: bool) -> LossBeside:
    there = [one for one in seen.others.holdings.values() if seen.was_there(one, episode)]
    species = library.species_or_none(seen.held.species_key)
    band = None
    if species is not None:
        stage = "larvae" if seen.held.stage.value == "larvae" else "grow-out"
        limits = species.water.of(stage, "temperature")
        if limits is not None and limits.low is not None and limits.high is not None:
            band = (limits.low, limits.high)
    lived = [seen.lived(seen.others, one, episode) for one in there[:MOST_OTHERS]]
    own = seen.lived(seen.stock, seen.held, episode)
    return LossBeside(beside(episode, own, lived, band), are_siblings)


@dataclass(frozen=True)
class _Asked:
    """A stretch of one quantity's readings in one tank."""

    tank_id: int
    quantity: Quantity
    since: datetime
    until: datetime


@dataclass(frozen=True)
class _Seen:
    """Everything recorded of a batch and its others over the windows of its losses."""

    room: RoomNow
    stock: Stock
    others: Stock
    held: HoldingFacts
    now: datetime
    tanks: Mapping[int, Tank]
    states: Sequence[TankStateSeen]
    marks: Sequence[StageSeen]
    looks: Sequence[PreySeen]
    treatments: Mapping[int, tuple[Treatment, ...]]
    read: Mapping[_Asked, tuple[float, float]]

    @classmethod
    def of(
        cls, session: Session, room: RoomNow, stock: Stock, others: Stock, held: HoldingFacts,
        found: Sequence[Episode], now: datetime,
    ) -> "_Seen":  # fmt: skip
        """Load it all: eight statements."""
        everyone = [held, *others.holdings.values()]
        tank_ids = sorted({place.tank_id for one in everyone for place in one.places})
        tanks = {
            row.fact: row
            for row in session.scalars(select(Tank).where(known(), Tank.fact_id.in_(tank_ids)))
        }
        states = session.scalars(
            select(TankStateSeen)
            .where(known(), TankStateSeen.tank_id.in_(tank_ids))
            .order_by(TankStateSeen.happened_latest, TankStateSeen.seq)
        ).all()
        marks = session.scalars(
            select(StageSeen).where(
                known(), StageSeen.holding_id.in_([one.id for one in everyone])
            )
        ).all()
        treatments = treatments_of(session, tank_ids)
        bare = cls(room, stock, others, held, now, tanks, states, marks, (), treatments, {})
        spans = [bare.window(one, episode) for one in everyone for episode in found]
        looks = session.scalars(
            select(PreySeen).where(
                known(), PreySeen.tank_id.in_(tank_ids),
                PreySeen.happened_latest >= min(since for since, _ in spans),
                PreySeen.happened_latest <= max(until for _, until in spans),
            )
        ).all()  # fmt: skip
        asked = {
            one
            for held_one in everyone
            for episode in found
            for one in bare.asked(held_one, episode)
        }
        read = _read(session, asked)
        return replace(bare, looks=looks, read=read)

    # --- When and where -------------------------------------------------------------------

    def window(self, held: HoldingFacts, episode: Episode) -> tuple[datetime, datetime]:
        """The moments of the episode's days in a batch's own life."""
        first_dph, last_dph = episode.window
        hatched = held.hatched[0] if held.hatched is not None else Night(held.began.latest.date())
        lights = self._lights(held.places[0].tank_id if held.places else 0, held.began.latest)
        begins, ends = hatched.plus(first_dph).evening, hatched.plus(last_dph + 1).evening
        planned = self.room.room_time.planned
        return planned(begins, lights.on), planned(ends, lights.on)

    def _lights(self, tank_id: int, at: datetime) -> Lights:
        tank = self.tanks.get(tank_id)
        rack = tank.rack if tank is not None else ""
        return self.room.lamps.over(at, tank_id=tank_id, rack=rack)

    def was_there(self, held: HoldingFacts, episode: Episode) -> bool:
        """Whether a batch lived in this room at that age."""
        since, until = self.window(held, episode)
        ended = self.others.emptied_at(held.id)
        return (
            bool(held.places)
            and since <= self.now
            and held.began.earliest <= until
            and (ended is None or ended > since)
        )

    def _tank_at(self, held: HoldingFacts, at: datetime) -> int:
        begun = [place for place in held.places if place.since.earliest <= at]
        return (begun or held.places)[-1 if begun else 0].tank_id

    def _stays(
        self, held: HoldingFacts, since: datetime, until: datetime
    ) -> list[tuple[int, datetime, datetime]]:
        """The tanks a batch was in over a window, with the part of the window for each."""
        changes = [
            place.since.latest for place in held.places[1:] if since < place.since.latest < until
        ]
        bounds = [since, *changes, until]
        return [
            (self._tank_at(held, begin), begin, end)
            for begin, end in pairwise(bounds)
        ]

    # --- What was seen --------------------------------------------------------------------

    def asked(self, held: HoldingFacts, episode: Episode) -> Iterable[_Asked]:
        """The readings that a batch's line of the comparison rests on."""
        if not held.places:
            return
        since, until = self.window(held, episode)
        for tank_id, begin, end in self._stays(held, since, until):
            yield _Asked(tank_id, Quantity.TEMPERATURE, begin, end)
        for out_of, into, at in self._moves(held, since, until):
            for quantity in APART:
                for tank_id in (out_of, into):
                    yield _Asked(tank_id, quantity, at - SAME_WATER, at)

    def _moves(
        self, held: HoldingFacts, since: datetime, until: datetime
    ) -> list[tuple[int, int, datetime]]:
        """The moves of a whole batch from tank to tank within a window."""
        return [
            (before.tank_id, place.tank_id, place.since.latest)
            for before, place in pairwise(held.places)
            if since <= place.since.latest <= until
        ]

    def lived(self, stock: Stock, held: HoldingFacts, episode: Episode) -> Lived:
        """What was recorded of a batch over the episode's days."""
        since, until = self.window(held, episode)
        last = until - timedelta(seconds=1)
        lights = self._lights(self._tank_at(held, since), last)
        return Lived(
            held.full_name,
            temperature_c=self._temperatures(held, since, until),
            food_gap=self._food_gap(held, since, until),
            unmatched=self._unmatched(held, since, until),
            light_hours=_hours(lights),
            barred=self._barred(self._tank_at(held, last), since, last),
            treated=self._treated(held, since, last),
            moved=self._moved(stock, held, since, until),
            per_litre=self._crowding(stock, held, since),
        )

    def _temperatures(
        self, held: HoldingFacts, since: datetime, until: datetime
    ) -> tuple[float, float] | None:
        spans = [
            self.read[asked]
            for tank_id, begin, end in self._stays(held, since, until)
            if (asked := _Asked(tank_id, Quantity.TEMPERATURE, begin, end)) in self.read
        ]
        if not spans:
            return None
        return min(low for low, _ in spans), max(high for _, high in spans)

    def _food_gap(self, held: HoldingFacts, since: datetime, until: datetime) -> str | None:
        marks = [
            row for row in self.marks
            if row.holding_id == held.id and since <= row.happened_latest <= until
        ]  # fmt: skip
        tanks = {tank_id for tank_id, _, _ in self._stays(held, since, until)}
        looks = [
            row for row in self.looks
            if row.tank_id in tanks and since <= row.happened_latest <= until
        ]  # fmt: skip
        if any(row.mark is StageMark.FOOD_GAP for row in marks):
            return "a food gap was marked"
        empty = [row for row in looks if row.look == Look.NONE or row.per_ml == 0]
        if empty:
            return f"{empty[0].food}: none left at a look"
        return "" if looks or marks else None

    def _unmatched(self, held: HoldingFacts, since: datetime, until: datetime) -> str | None:
        """Whether the water it went into in these days was matched: by the tank's state as it
        went in, and by readings of both tanks on the day of a move."""
        began = held.places[0]
        went = [(began.tank_id, began.since.latest)] if since <= began.since.latest <= until else []
        moves = self._moves(held, since, until)
        went += [(into, at) for _, into, at in moves]
        if not went:
            return ""
        for out_of, into, at in moves:
            gap = self._water_apart(out_of, into, at)
            if gap:
                return gap
        unsaid = False
        for tank_id, at in went:
            state = self._state(tank_id, at)
            unsaid = unsaid or state is None
            if state in (TankState.DIRTY, TankState.CLEANING, TankState.APART):
                return f"went into {self._label(tank_id)}, last said to be {state}"
        return None if unsaid else ""

    def _water_apart(self, out_of: int, into: int, at: datetime) -> str:
        for quantity, (apart, unit) in APART.items():
            spans = [
                self.read.get(_Asked(tank_id, quantity, at - SAME_WATER, at))
                for tank_id in (out_of, into)
            ]
            before, after = (None if one is None else (one[0] + one[1]) / 2 for one in spans)
            if before is not None and after is not None and abs(before - after) >= apart:
                return f"from {before:.1f} into {after:.1f} {unit}"
        return ""

    def _state(self, tank_id: int, at: datetime) -> TankState | None:
        said = [
            row.state for row in self.states
            if row.tank_id == tank_id and row.happened_latest <= at
        ]  # fmt: skip
        return said[-1] if said else None

    def _barred(self, tank_id: int, since: datetime, until: datetime) -> str:
        for row in self.states:
            if row.tank_id != tank_id or row.state is not TankState.BARRED:
                continue
            if row.happened_latest <= until and (
                row.happened_latest >= since or self._state(tank_id, since) is TankState.BARRED
            ):
                return f"{self._label(tank_id)} was barred: {row.reason}"
        return ""

    def _treated(
        self, held: HoldingFacts, since: datetime, until: datetime
    ) -> tuple[tuple[str, str], ...]:
        """The treatments of its water while it was in it."""
        found = {
            one.treatment_id: (
                one.what, f"{one.said()} in {self._label(tank_id)}, {self._days(one)}",
            )
            for tank_id, begin, end in self._stays(held, since, until)
            for one in self.treatments.get(tank_id, ())
            if one.touches(max(begin, held.began.earliest), end)
        }
        return tuple(found.values())

    def _days(self, one: Treatment) -> str:
        first = self._day(one.began.latest)
        if one.ended is None:
            return f"from {first} on"
        last = self._day(one.ended.latest)
        return first if first == last else f"{first} to {last}"

    def _day(self, at: datetime) -> str:
        return say_date(self.room.room_time.local(at).date())

    def _label(self, tank_id: int) -> str:
        tank = self.tanks.get(tank_id)
        return tank.label if tank is not None else "a tank withdrawn since"

    def _moved(
        self, stock: Stock, held: HoldingFacts, since: datetime, until: datetime
    ) -> str:
        whole = self._moves(held, since, until)
        if whole:
            out_of, into, _at = whole[0]
            return f"moved from {self._label(out_of)} to {self._label(into)}"
        for row in stock.rows(held.id):
            entry = row.entry
            if not isinstance(entry, Movement) or entry.door is not Door.MOVED:
                continue
            if since <= entry.when.latest <= until:
                way = "were moved out" if entry.out_of == held.id else "were moved in"
                counted = entry.number.basis is Basis.COUNTED
                return f"{entry.number.best if counted else entry.number.said()} {way}"
        return ""

    def _crowding(self, stock: Stock, held: HoldingFacts, since: datetime) -> float | None:
        begun = max(since, held.began.latest)
        number = stock.balance(held.id, begun).now.best
        tank = self.tanks.get(self._tank_at(held, begun))
        if not number or tank is None:
            return None
        return number / tank.volume_l


def _hours(lights: Lights) -> float:
    on, off = (part.hour + part.minute / 60 for part in (lights.on, lights.off))
    return round((off - on) % 24, 1)


def _read(session: Session, asked: Iterable[_Asked]) -> dict[_Asked, tuple[float, float]]:
    """The lowest and highest reading of each stretch. One statement."""
    listed = sorted(asked, key=lambda one: (one.tank_id, one.since, one.until, one.quantity))
    if not listed:
        return {}
    stretches = (
        values(
            column("place", Integer), column("tank_id", Integer), column("quantity", String),
            column("since", UtcDateTime), column("until", UtcDateTime), name="stretch",
        )
        .data(
            [
                (place, one.tank_id, one.quantity.value, one.since, one.until)
                for place, one in enumerate(listed)
            ]
        )
        .cte()
    )  # fmt: skip
    rows = session.execute(
        select(stretches.c.place, func.min(Reading.value), func.max(Reading.value))
        .join(Reading, and_(
            Reading.tank_id == stretches.c.tank_id, Reading.quantity == stretches.c.quantity,
            Reading.at >= stretches.c.since, Reading.at <= stretches.c.until,
        ))
        .join(Readings, Readings.seq == Reading.readings_seq)
        .where(known())
        .group_by(stretches.c.place)
    ).all()  # fmt: skip
    return {listed[place]: (low, high) for place, low, high in rows}
