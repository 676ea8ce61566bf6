"""What the larvae eat now, summed over all tanks, and whether there is enough of it.

What stands ready is what the culture vessels bear by their own counts. Where no vessel is kept
for a food, that is not recorded, and is said: never "enough" from age alone.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from hatchery_app.domain.live_food.live_food import HeldFill, held_on, salinity_gap, top_up
from hatchery_app.domain.live_food.made_up import MADE_UP_PER_ML, MadeUp, Wanted, made_up
from hatchery_app.domain.live_food.supply import Supply, supply_of
from hatchery_app.domain.live_food.vessel import Cultured, sieved_since
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.services.today.today_tasks import clutch_day_of, usual_litres
from hatchery_app.services.today.tonight import NightWatch, first_fill


@dataclass(frozen=True)
class FoodNeed:
    """One live food today: animals to top up where it was looked, a whole fill where it was not.

    `low` and `high` bound it. `tanks` are those fed it; `not_looked` of them are planned with a
    whole fill. `held` is kept ready for clutches that may hatch. `ml` is of the stated stock.
    `supply` is None where no vessel is kept for the food; `gaps` warn of salinities far apart.
    `wanted` is what each tank is to be given.
    """

    food: str
    best: float
    low: float
    high: float
    tanks: tuple[str, ...]
    not_looked: tuple[str, ...]
    held: float
    stock_per_ml: float | None
    supply: Supply | None = None
    gaps: tuple[str, ...] = ()
    wanted: tuple[Wanted, ...] = ()

    @property
    def made_up(self) -> MadeUp | None:
        """What is sieved for it, made up about as thick as the stock is said to be, by tank."""
        if self.supply is None:
            return None
        got = sum(sieve.animals for sieve in self.supply.sieves) + self.supply.in_hand
        return made_up(got, self.wanted, self.stock_per_ml or MADE_UP_PER_ML)

    @property
    def ml(self) -> float | None:
        """All of it in mL of the stock, None where nobody said how thick that is."""
        if self.stock_per_ml is None:
            return None
        return (self.best + self.held) / self.stock_per_ml


@dataclass(frozen=True)
class FirstFood:
    """A clutch and the nights from which its first food is needed, as day numbers."""

    clutch_id: int
    name: str
    food: str
    animals: float | None
    nights: tuple[int, int]
    standing: str
    now: bool


@dataclass(frozen=True)
class FoodToday:
    """What is eaten today, and what the clutches will need first."""

    needs: tuple[FoodNeed, ...]
    first: tuple[FirstFood, ...]


@dataclass
class _Sum:
    best: float = 0.0
    low: float = 0.0
    high: float = 0.0
    held: float = 0.0
    stock_per_ml: float | None = None

    def __post_init__(self) -> None:
        self.tanks: list[str] = []
        self.wanted: list[Wanted] = []
        self.not_looked: list[str] = []


def food_today(facts: DayFacts) -> FoodToday:
    """The need of all batches and of the clutches that may hatch. Asks the records nothing."""
    sums: dict[str, _Sum] = defaultdict(_Sum)
    _add_larvae(facts, sums)
    first = tuple(
        found
        for watch in (*facts.tonight.watches, *facts.tonight.others)
        if (found := _first_food(facts, watch)) is not None
    )
    for food in {each.food for each in first}:
        fills = [
            HeldFill(each.clutch_id, facts.turn.day, None, each.animals)
            for each in first
            if each.food == food and each.now and each.animals
        ]
        if fills:
            sums[food].held = held_on(facts.turn.day, fills)
    return FoodToday(
        tuple(
            FoodNeed(
                food, each.best, each.low, each.high, tuple(each.tanks), tuple(each.not_looked),
                each.held, each.stock_per_ml, supply := _supply(facts, food, each),
                _gaps(facts, food, supply), tuple(each.wanted),
            )
            for food, each in sums.items()
        ),
        first,
    )  # fmt: skip


def _supply(facts: DayFacts, food: str, total: _Sum) -> Supply | None:
    if food not in {each.value for each in Cultured}:
        return None
    held = [*(one.vessel for one in facts.cultures.vessels), *facts.cultures.before]
    since = _poured_until(facts, food)
    in_hand = sum(sieved_since(vessel, since) for vessel in held if vessel.food == food)
    return supply_of(Cultured(food), total.best + total.held, facts.cultures.vessels, in_hand)


def _poured_until(facts: DayFacts, food: str) -> datetime:
    """What was sieved since then is still in hand: the last top-up, or this day's beginning."""
    began_at = facts.room.room_time.whole_days(facts.turn.day).earliest
    poured = [look.at for look in facts.prey_looked if look.food == food and look.topped_up]
    return max([began_at, *poured])


def _gaps(facts: DayFacts, food: str, supply: Supply | None) -> tuple[str, ...]:
    """Each vessel that is sieved, beside the tank it is fed to whose salinity is furthest off."""
    found = []
    salinity = facts.cultures.salinity_psu
    fed = [
        tank_id
        for plan in facts.larvae
        if any(prey.food.food.value == food for prey in plan.prey)
        and (tank_id := plan.holding.place.tank_id) in salinity
    ]
    for sieve in supply.sieves if supply is not None else ():
        own = salinity.get(sieve.tank_id)
        if own is None or not fed:
            continue
        furthest = max(fed, key=lambda tank_id: abs(salinity[tank_id] - own))
        words = salinity_gap(own, salinity[furthest])
        if words is not None:
            found.append(f"{sieve.label}: {words}")
    return tuple(found)


def _add_larvae(facts: DayFacts, sums: dict[str, _Sum]) -> None:
    for plan in facts.larvae:
        for prey in plan.prey:
            if prey.whole_fill is None or not prey.food.target:
                continue
            total = sums[prey.food.food.value]
            total.stock_per_ml = prey.concentrate_per_ml
            total.tanks.append(plan.holding.place.label)
            full = prey.add.animals if prey.add is not None else prey.whole_fill
            place = plan.holding.place
            total.wanted.append(Wanted(place.tank_id, place.label, full))
            if prey.seen is None:
                total.not_looked.append(plan.holding.place.label)
                total.best += prey.whole_fill
                total.high += prey.whole_fill
                continue
            add = prey.add or top_up(prey.food.target, prey.seen, plan.litres)
            total.best += add.animals
            total.low += add.low
            total.high += add.high


def _first_food(facts: DayFacts, watch: NightWatch) -> FirstFood | None:
    day = clutch_day_of(facts, watch)
    fill = first_fill(watch.seen.species, usual_litres(facts.walk))
    if fill is None or day.prepare_from_on is None:
        return None
    first, last = day.window_on or (day.prepare_from_on, day.prepare_from_on)
    return FirstFood(
        clutch_id=watch.clutch_id,
        name=watch.name,
        food=fill[0],
        animals=fill[1] or None,
        nights=((first - day.laid_on).days, (last - day.laid_on).days),
        standing=day.food_standing,
        now=watch.may_hatch,
    )
