"""Today: what the keeper asks first, then the day's work by rounds and the walk."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.tank.treatment import KIND
from hatchery_app.domain.today.schedule import (
    Outcome,
    Round,
    RoundSheet,
    Stop,
    TaskName,
    TaskState,
    Turn,
    day_sheets,
    left_over,
    let_go,
    settle,
)
from hatchery_app.services.live_food.live_food_ahead import FoodAhead, food_ahead, food_work
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.tank.tank_walk import TankStanding
from hatchery_app.services.today.task_answer import answers_to
from hatchery_app.services.today.today_facts import DayFacts
from hatchery_app.services.today.today_food import FoodToday, food_today
from hatchery_app.services.today.today_nights import NightsToday, nights_today
from hatchery_app.services.today.today_tanks import TanksToday, tanks_today
from hatchery_app.services.today.today_tasks import answered_by_facts, tasks_of
from hatchery_app.services.today.tonight import Tonight


@dataclass(frozen=True)
class TodayPage:
    """The day. `sheets` are its six rounds; `overdue` what is open from before, in walking order;
    `to_let_go` the names that one tap lets go; `answer_ids` the answers that can be taken back."""

    facts: DayFacts
    turn: Turn
    sheets: tuple[RoundSheet, ...]
    overdue: tuple[Stop, ...]
    to_let_go: tuple[TaskName, ...]
    food: FoodToday
    ahead: FoodAhead
    tanks: TanksToday
    nights: NightsToday
    stops: Mapping[int, TankStanding]
    answer_ids: Mapping[TaskName, int]

    @property
    def room(self) -> RoomNow:
        """The room."""
        return self.facts.room

    @property
    def tonight(self) -> Tonight:
        """The clutches tonight."""
        return self.facts.tonight

    def sheet(self, named: Round) -> RoundSheet:
        """One round of the day."""
        return self.sheets[named.position]

    def line(self, task: str) -> TaskState:
        """One line of work by its name. Raises NotKnown for one that is no longer asked for."""
        everywhere = [stop for sheet in self.sheets for stop in sheet.stops] + [*self.overdue]
        for stop in everywhere:
            for line in stop.lines:
                if str(line.task.name) == task:
                    return line
        raise NotKnown("That line of work is not asked for any more.")


def today_page(session: Session, facts: DayFacts) -> TodayPage:
    """The day it is now, from facts that were loaded. One statement more, and those of food
    ahead."""
    day = facts.turn.day
    yesterday = facts.turn.plus(-1).day
    food = food_today(facts)
    ahead = food_ahead(session, facts, food)
    work = food_work(facts, food, ahead)
    tasks = {task.name: task for each in (yesterday, day) for task in tasks_of(facts, each, work)}
    stored = answers_to(session, [str(name) for name in tasks])
    answers = [*answered_by_facts(facts), *(each.done for each in stored)]
    states = settle(tasks.values(), answers, facts.turn)
    walk = {stop.tank_id: place for place, stop in enumerate(facts.walk.stops)}
    # A medicine that was missed is neither lost among what comes again nor let go with it.
    before = [state for state in states if not state.task.repeats or state.task.kind == KIND]
    again = [state for state in states if state.task.kind != KIND]
    tanks = tanks_today(facts)
    return TodayPage(
        facts=facts,
        turn=facts.turn,
        sheets=day_sheets(states, walk, day),
        overdue=left_over(before, walk, day),
        to_let_go=let_go(again, day),
        food=food,
        ahead=ahead,
        tanks=tanks,
        nights=nights_today(facts, tanks),
        stops={stop.tank_id: stop for stop in facts.walk.stops},
        answer_ids={each.done.name: each.fact_id for each in stored},
    )  # fmt: skip


def answer_words(state: TaskState) -> str:
    """What was answered, in a word or the keeper's own."""
    answer = state.answer
    if answer is None:
        return ""
    if answer.outcome is Outcome.DIFFERENTLY:
        return answer.really
    return answer.reason if answer.outcome is Outcome.SKIPPED else answer.really
