"""A month of a small room: six pairs, three larval tanks, two vessels, and one crash.

The truth is simulated beside the records: cultures grow at 0.40 a day and give what the plan
takes of them; larvae eat by the plan's curve. Every morning is written down through the services.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.live_food.food_action import Do
from hatchery_app.domain.live_food.food_ahead import NOTHING
from hatchery_app.domain.live_food.food_outlook import Outlook
from hatchery_app.domain.live_food.vessel import RECOVERY
from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch
from hatchery_app.services.larval_tank.larval_day import larval_plans
from hatchery_app.services.live_food import live_food
from hatchery_app.services.live_food.live_food_ahead import FoodAhead, food_ahead
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts
from hatchery_app.services.today import today_facts, today_food
from tests.builders import (
    count_culture,
    make_batch,
    make_culture,
    make_hatch,
    make_pair,
    make_tank,
    set_set_point,
)

DAY_ONE = datetime(2026, 11, 1, 9, 0, tzinfo=UTC)
RATE, CEILING_PER_ML, LITRES = 0.40, 300.0, 6.0
LAID_ON = (1, 4, 7, 15, 17, 19)  # evenings, by day of the month
HATCHES_AFTER = 8
CRASH_ON, LAST_DAY = 5, 23
LARVAE = "425"


@dataclass
class Month:
    """The room, its records, and what really swims in its vessels."""

    session: Session
    room: RoomNow
    follows: bool
    vessels: dict[int, float] = field(default_factory=dict)
    labels: dict[str, int] = field(default_factory=dict)
    clutches: list[int] = field(default_factory=list)
    met: dict[int, float] = field(default_factory=dict)
    seen: dict[int, Outlook] = field(default_factory=dict)

    def at(self, day: float) -> datetime:
        return DAY_ONE + timedelta(days=day)

    def begin(self) -> None:
        for number in (1, 2, 3):
            self.labels[f"L{number}"] = make_tank(self.session, f"L{number}", litres=40)
        for number in (1, 2):
            label = f"R{number}"
            tank_id = make_culture(self.session, label, at=self.at(-12), litres=LITRES)
            self.labels[label], self.vessels[tank_id] = tank_id, CEILING_PER_ML * LITRES * 1000
        for number in range(len(LAID_ON)):
            home = make_tank(self.session, f"A{number}", role=TankRole.BROODSTOCK)
            set_set_point(self.session, home, "27", at=self.at(-30))
            pair_id = make_pair(self.session, f"Rusk {number}", f"Tansy {number}", tank_id=home)
            self.labels[f"pair {number}"] = pair_id

    def lay_and_hatch(self, day: int) -> None:
        for number, laid in enumerate(LAID_ON):
            evening = self.at(laid + 0.3)
            if laid == day - 1:
                self.clutches.append(
                    spawn.record_laying(
                        self.session, posting=Posting(now=evening),
                        pair_id=self.labels[f"pair {number}"], when=When.exactly(evening),
                    )
                )  # fmt: skip
            if laid + HATCHES_AFTER == day - 1 and number < 3:
                self._hatch(self.clutches[number], f"L{number + 1}", self.at(day - 0.5))

    def _hatch(self, clutch_id: int, label: str, at: datetime) -> None:
        hatch_id = make_hatch(self.session, hatched_at=at, clutch_id=clutch_id)
        make_batch(
            self.session, self.labels[label], number=LARVAE, hatched_at=at, hatch_id=hatch_id
        )
        clutch.end_clutch(
            self.session, posting=Posting(now=at), clutch_id=clutch_id,
            outcome=ClutchOutcome.HATCHED, when=When.exactly(at),
        )  # fmt: skip

    def morning(self, day: int) -> None:
        """Count what lives, look ahead, sieve what is taken, do what is said if it is followed."""
        now = self.at(day)
        self.lay_and_hatch(day)
        if day == CRASH_ON:
            lost = self.labels["R1"]
            self.vessels.pop(lost)
            live_food.record_crash(
                self.session, posting=Posting(now=now), tank_id=lost, when=When.exactly(now)
            )
        for tank_id, animals in self.vessels.items():
            count_culture(self.session, tank_id, round(animals / LITRES / 1000), at=now)
        self._look_at_prey(now)
        found = self.look(now).outlook("rotifers")
        self.seen[day] = found
        self.met[day] = found.likely[0].lacking
        self._sieve(found, now)
        if self.follows:
            self._follow(found, now + timedelta(hours=1))
        for tank_id, animals in self.vessels.items():
            most = CEILING_PER_ML * LITRES * 1000
            self.vessels[tank_id] = min(most, animals * math.exp(RATE))

    def look(self, now: datetime) -> FoodAhead:
        facts = today_facts.load_day(self.session, library(), room=self.room, now=now)
        return food_ahead(self.session, facts, today_food.food_today(facts))

    def _look_at_prey(self, now: datetime) -> None:
        """What yesterday's larvae left in each tank, by the curve."""
        for one in larval_plans(self.session, self.room, now):
            target = one.plan.rotifers.target if one.plan and one.plan.rotifers else None
            if not target or one.age.oldest == 0:
                continue
            eaten = 425 * 0.97**one.age.oldest * (150 + 75 * min(8, one.age.oldest))
            left = max(0.0, target - eaten / 40_000)
            counts.record_prey(
                self.session, posting=Posting(now=now), tank_id=one.holding.place.tank_id,
                food="rotifers", when=When.exactly(now), counts=[round(left * 10)], sample_ml=10,
            )  # fmt: skip

    def _sieve(self, found: Outlook, now: datetime) -> None:
        for given in found.likely[0].given:
            litres = given.taken / RECOVERY / max(1.0, given.per_ml) / 1000
            if given.taken >= NOTHING and litres <= LITRES:
                live_food.harvest_culture(
                    self.session, posting=Posting(now=now), tank_id=given.tank_id,
                    litres=litres, when=When.exactly(now),
                )  # fmt: skip
                self.vessels[given.tank_id] -= given.taken / RECOVERY

    def _follow(self, found: Outlook, now: datetime) -> None:
        for step in found.steps:
            if step.do is Do.START and step.tank_id > 0 and step.tank_id not in self.vessels:
                live_food.seed_culture(
                    self.session, posting=Posting(now=now), tank_id=step.tank_id,
                    from_tank_id=step.from_id, litres=step.seed_l, when=When.exactly(now),
                )  # fmt: skip
                seed = self.vessels[step.from_id] * step.seed_l / LITRES
                self.vessels[step.from_id] -= seed
                self.vessels[step.tank_id] = seed


def lived(session: Session, room: RoomNow, *, follows: bool) -> Month:
    month = Month(session, room, follows)
    month.begin()
    for day in range(LAST_DAY):
        month.morning(day)
    return month


def test_a_crash_is_seen_five_days_before_the_larvae_meet_it(
    session: Session, gannet_stair: RoomNow
) -> None:
    month = lived(session, gannet_stair, follows=False)
    first_met = next(day for day, lacking in month.met.items() if lacking >= NOTHING)
    warned = next(
        day for day, found in month.seen.items()
        if found.careful_lacking is not None and day >= CRASH_ON
    )  # fmt: skip
    assert warned == CRASH_ON
    assert first_met - warned >= 5
    said = month.seen[warned]
    assert said.careful_lacking.on <= month.at(first_met).date()  # never later than it is
    assert said.still_lacking is None  # and the step that is said would help
    start = next(step for step in said.steps if step.do is Do.START)
    assert (start.label, start.from_label) == ("R1", "R2")
    assert start.by < month.at(first_met).date()
    before = month.seen[CRASH_ON - 1]
    lost = next(one for one in before.lost if one.label == "R1")
    assert lost.rebuilt_days == pytest.approx(math.log(20) / RATE)  # said while it still stood


def test_what_is_said_to_do_if_it_is_done_removes_the_shortfall(
    session: Session, gannet_stair: RoomNow
) -> None:
    month = lived(session, gannet_stair, follows=True)
    assert {day: lacking for day, lacking in month.met.items() if lacking >= NOTHING} == {}
    assert month.labels["R1"] in month.vessels
