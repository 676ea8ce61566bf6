"""The day's work: rounds, lasting names, answers, gaps, and the walk."""

from datetime import UTC, date, datetime, time

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.live_food import PreyDensity
from hatchery_app.domain.today.day_work import (
    ClutchDay,
    CohortDay,
    GreenwaterWanted,
    LarvalDay,
    MicrodietWanted,
    PreyWanted,
    TankWanted,
    clutch_tasks,
    cohort_tasks,
    larval_tasks,
    tank_tasks,
)
from hatchery_app.domain.today.schedule import (
    Done,
    Outcome,
    Quantity,
    Round,
    State,
    Task,
    TaskName,
    TaskState,
    Turn,
    day_sheets,
    left_over,
    let_go,
    one_off,
    repeating,
    round_starts,
    settle,
    turn_at,
)
from hatchery_app.domain.today.tanks_tonight import Standing, TankTonight, tanks_tonight
from hatchery_app.domain.when import Lights, RoomTime

ROOM = RoomTime("Europe/Berlin")
LIGHTS = Lights(time(8), time(20))
TUESDAY = date(2026, 11, 24)
WEDNESDAY = date(2026, 11, 25)
NOON = datetime(2026, 11, 24, 11, tzinfo=UTC)


def at(day: date, hour: int, minute: int = 0) -> datetime:
    return ROOM.planned(day, time(hour, minute))


def state_of(task: Task, now: Turn, *done: Done) -> State:
    return settle([task], done, now)[0].state


FEED = repeating("feed_pair", 3, Turn(TUESDAY, Round.MORNING), 10, "Feed flakes")
WATCH = one_off("hatch_watch", 7, Turn(TUESDAY, Round.TONIGHT), 10, "Watch for the hatch")


@pytest.mark.parametrize(
    ("day", "hour", "minute", "turn"),
    [
        (TUESDAY, 5, 59, "2026-11-23.night"),
        (TUESDAY, 6, 0, "2026-11-24.before-lights-on"),
        (TUESDAY, 8, 0, "2026-11-24.morning"),
        (TUESDAY, 12, 0, "2026-11-24.midday"),
        (TUESDAY, 17, 0, "2026-11-24.before-lights-off"),
        (TUESDAY, 20, 0, "2026-11-24.tonight"),
        (TUESDAY, 23, 0, "2026-11-24.night"),
        (WEDNESDAY, 0, 30, "2026-11-24.night"),
    ],
)
def test_the_round_it_is_follows_the_lights_and_half_past_midnight_is_still_last_night(
    day: date, hour: int, minute: int, turn: str
) -> None:
    assert str(turn_at(at(day, hour, minute), LIGHTS, ROOM)) == turn


def test_a_rack_lit_past_midnight_has_its_tonight_after_midnight_on_the_evening_before() -> None:
    late = Lights(time(12), time(1))
    assert turn_at(at(WEDNESDAY, 0, 30), late, ROOM) == Turn(TUESDAY, Round.BEFORE_LIGHTS_OFF)
    assert turn_at(at(WEDNESDAY, 1, 15), late, ROOM) == Turn(TUESDAY, Round.TONIGHT)
    assert turn_at(at(WEDNESDAY, 10), late, ROOM) == Turn(WEDNESDAY, Round.BEFORE_LIGHTS_ON)


@pytest.mark.parametrize("day", [date(2026, 3, 29), date(2026, 10, 25), TUESDAY])
def test_rounds_begin_in_the_order_of_the_clock_also_when_the_clocks_change(day: date) -> None:
    starts = round_starts(day, LIGHTS, ROOM)
    assert list(starts) == sorted(Round)
    assert list(starts.values()) == sorted(starts.values())
    assert max(starts.values()) < min(round_starts(day.replace(day=day.day + 1), LIGHTS, ROOM)
                                      .values())  # fmt: skip


def test_a_task_name_reads_back_as_it_was_written() -> None:
    written = "top_up_rotifers:31:2026-11-24.morning"
    assert str(TaskName.parse(written)) == written
    assert str(FEED.name) == "feed_pair:3:2026-11-24.morning"
    assert Turn.parse("2026-11-24.before-lights-off").round is Round.BEFORE_LIGHTS_OFF


@pytest.mark.parametrize("nonsense", ["", "feed", "feed:x:once", "Feed:3:once", "a:1:b:"])
def test_a_text_that_names_no_task_is_refused(nonsense: str) -> None:
    with pytest.raises(RuleBroken):
        TaskName.parse(nonsense)


def test_repeating_work_is_due_then_overdue_then_lapses_when_its_next_turn_comes() -> None:
    assert state_of(FEED, Turn(TUESDAY, Round.MORNING)) is State.DUE
    assert state_of(FEED, Turn(TUESDAY, Round.MIDDAY)) is State.OVERDUE
    assert state_of(FEED, Turn(WEDNESDAY, Round.BEFORE_LIGHTS_ON)) is State.OVERDUE
    assert state_of(FEED, Turn(WEDNESDAY, Round.MORNING)) is State.LAPSED


def test_a_hatch_watch_stays_overdue_until_it_is_answered() -> None:
    next_week = Turn(date(2026, 12, 1), Round.MORNING)
    assert state_of(WATCH, next_week) is State.OVERDUE
    assert state_of(WATCH, next_week, Done(WATCH.name, Outcome.DONE, NOON)) is State.DONE


def test_work_put_off_stands_in_the_round_it_waits_for_and_is_due_again_there() -> None:
    until = Turn(TUESDAY, Round.BEFORE_LIGHTS_OFF)
    later = Done(FEED.name, Outcome.PUT_OFF, NOON, "no flakes left", put_off_until=until)
    waiting = settle([FEED], [later], Turn(TUESDAY, Round.MIDDAY))[0]
    assert (waiting.state, waiting.turn) == (State.PUT_OFF, until)
    assert state_of(FEED, until, later) is State.DUE
    assert state_of(FEED, Turn(TUESDAY, Round.TONIGHT), later) is State.OVERDUE


def test_of_two_answers_to_one_task_the_last_given_counts() -> None:
    skipped = Done(FEED.name, Outcome.SKIPPED, NOON, "they hide")
    differently = Done(FEED.name, Outcome.DIFFERENTLY, NOON, really="mysis instead")
    assert state_of(FEED, FEED.turn, skipped, differently) is State.DONE_DIFFERENTLY
    assert state_of(FEED, FEED.turn, differently, skipped) is State.SKIPPED


@pytest.mark.parametrize("outcome", [Outcome.DIFFERENTLY, Outcome.SKIPPED, Outcome.PUT_OFF])
def test_an_answer_that_leaves_out_what_matters_is_refused(outcome: Outcome) -> None:
    with pytest.raises(RuleBroken):
        Done(FEED.name, outcome, NOON)


def test_work_stands_by_round_and_within_it_by_the_walk() -> None:
    far = repeating("feed_pair", 4, Turn(TUESDAY, Round.MORNING), 11, "Feed flakes")
    off_walk = repeating("feed_pair", 5, Turn(TUESDAY, Round.MORNING), 99, "Feed flakes")
    salt = repeating("chore", 1, Turn(TUESDAY, Round.MORNING), None, "Mix salt")
    states = settle([salt, off_walk, far, FEED, WATCH], [], Turn(TUESDAY, Round.MORNING))
    sheets = day_sheets(states, {10: 0, 11: 1}, TUESDAY)
    assert [sheet.turn.round for sheet in sheets] == list(Round)
    by_round = {sheet.turn.round: [stop.place_id for stop in sheet.stops] for sheet in sheets}
    assert by_round[Round.MORNING] == [10, 11, 99, None]
    assert by_round[Round.TONIGHT] == [10]
    assert sheets[1].still_open == 4


def test_letting_yesterday_go_names_its_feeding_and_never_a_hatch_watch() -> None:
    states = settle([FEED, WATCH], [], Turn(WEDNESDAY, Round.BEFORE_LIGHTS_ON))
    assert let_go(states, WEDNESDAY) == (FEED.name,)
    assert [line.task.kind for stop in left_over(states, {}, WEDNESDAY) for line in stop.lines] == [
        "feed_pair", "hatch_watch",
    ]  # fmt: skip


def test_a_quantity_is_said_to_two_figures_with_its_band() -> None:
    assert Quantity(101.3, "mL", 79.8, 125.2).said() == "100 mL (80–130)"
    assert Quantity(0.375, "g").said() == "0.38 g"


# --- What a larval tank asks for ----------------------------------------------------------

ROTIFERS = PreyWanted("rotifers", "rotifers", 10, PreyDensity(6.2, 5.0, 7.4, "counted"), 1500)
LARVAE = LarvalDay(
    31, 12, date(2026, 11, 20), 40, (ROTIFERS,),
    GreenwaterWanted(300_000, 50_000, 20e6), MicrodietWanted(100, 200, 5),
    change_percent=10, light_hours=16, settles_from_dph=8, settles_until_dph=16,
)  # fmt: skip


def task_named(tasks: tuple[Task, ...], kind: str, in_round: Round | None = None) -> Task:
    return next(t for t in tasks if t.kind == kind and in_round in (None, t.round))


def test_a_larval_tank_counts_first_then_tops_up_in_millilitres_of_concentrate() -> None:
    tasks = larval_tasks(LARVAE, TUESDAY)
    kinds = [task.kind for task in tasks if task.round is Round.MORNING]
    assert kinds.index("count_rotifers") < kinds.index("top_up_rotifers")
    top_up = task_named(tasks, "top_up_rotifers", Round.MORNING)
    assert top_up.quantity is not None
    assert top_up.quantity.said() == "100 mL (69–130)"
    assert str(top_up.name) == "top_up_rotifers:31:2026-11-24.morning"
    assert top_up.next_turn == Turn(TUESDAY, Round.BEFORE_LIGHTS_OFF)


def test_a_larval_day_has_its_litres_its_green_water_and_its_meals() -> None:
    tasks = larval_tasks(LARVAE, TUESDAY)
    assert task_named(tasks, "water_change").quantity == Quantity(4.0, "L")
    assert task_named(tasks, "greenwater").quantity.said() == "510 mL"  # type: ignore[union-attr]
    meals = [t.quantity.amount for t in tasks if t.kind == "microdiet" and t.quantity]
    assert meals == [2, 2, 1]


def test_the_hatch_night_asks_for_the_first_fill_and_nothing_by_day() -> None:
    tasks = larval_tasks(LARVAE, date(2026, 11, 20))
    assert [task.kind for task in tasks] == ["top_up_rotifers", "greenwater"]
    assert {task.round for task in tasks} == {Round.TONIGHT}


def test_settled_fish_are_looked_for_from_their_window_on_and_not_before() -> None:
    assert "settlement_look" not in {t.kind for t in larval_tasks(LARVAE, date(2026, 11, 27))}
    assert "settlement_look" in {t.kind for t in larval_tasks(LARVAE, date(2026, 11, 28))}


def test_thick_prey_is_not_fed_and_stock_thinner_than_the_tank_is_refused_on_the_line() -> None:
    thick = PreyWanted("rotifers", "rotifers", 10, PreyDensity(16, 12.5, 25, "a look: thick"))
    thin = GreenwaterWanted(300_000, 50_000, 200_000)
    tasks = larval_tasks(LarvalDay(31, 12, date(2026, 11, 20), 40, (thick,), thin), TUESDAY)
    top_up = task_named(tasks, "top_up_rotifers")
    assert (top_up.what, top_up.quantity) == ("No rotifers to add", None)
    assert "flush" in top_up.why
    green = task_named(tasks, "greenwater")
    assert green.quantity is None
    assert "thicker stock" in green.why


def test_a_tank_not_counted_yet_says_so_instead_of_guessing() -> None:
    unseen = LarvalDay(31, 12, date(2026, 11, 20), 40, (PreyWanted("rotifers", "rotifers", 10),))
    top_up = task_named(larval_tasks(unseen, TUESDAY), "top_up_rotifers")
    assert top_up.quantity is None
    assert top_up.why == "count first; a whole fill is 400,000"


# --- Eggs, tanks, growing fish ------------------------------------------------------------

CLUTCH = ClutchDay(
    7, 10, date(2026, 11, 18), date(2026, 11, 24), (date(2026, 11, 24), date(2026, 11, 26)),
    ((date(2026, 11, 24), "20:15–23:00"), (date(2026, 11, 25), "20:15–23:00")), 400_000,
)  # fmt: skip


def test_first_food_is_called_for_on_the_day_the_clutch_is_seen() -> None:
    tasks = clutch_tasks(CLUTCH, date(2026, 11, 18))
    held = task_named(tasks, "hold_first_fill")
    assert held.why == "first food needed from night 6–8; culture density unknown"
    assert held.due_on == date(2026, 11, 24)
    assert str(held.name) == "hold_first_fill:7:once"


def test_each_night_worth_watching_has_its_own_watch() -> None:
    watches = [t for t in clutch_tasks(CLUTCH, TUESDAY) if t.kind == "hatch_watch"]
    assert [str(watch.name) for watch in watches] == [
        "hatch_watch:7:2026-11-24.tonight", "hatch_watch:7:2026-11-25.tonight",
    ]  # fmt: skip
    assert not any(watch.repeats for watch in watches)


def test_a_mouthbrooder_without_larvae_is_given_no_tank_and_no_rotifers() -> None:
    brood = ClutchDay(7, 10, date(2026, 11, 18), TUESDAY, has_larvae_stage=False)
    assert [t.kind for t in clutch_tasks(brood, TUESDAY)] == ["look_at_eggs"]


def test_a_hatch_forecast_before_the_laying_is_refused() -> None:
    with pytest.raises(RuleBroken, match="before they are laid"):
        ClutchDay(7, 10, TUESDAY, date(2026, 11, 20))


def test_a_tank_a_clutch_needs_is_emptied_cleaned_filled_and_matched_in_that_order() -> None:
    wanted = TankWanted(12, 7, TUESDAY, TUESDAY, to_empty=True, to_clean=True, to_fill=True)
    tasks = tank_tasks(wanted)
    assert [t.kind for t in tasks] == ["move_fish", "clean_tank", "fill_tank", "match_water"]
    assert [t.turn for t in tasks] == sorted(t.turn for t in tasks)
    assert str(tasks[0].name) == "move_fish:12:clutch-7"


def test_a_growing_cohort_is_fed_by_the_published_ration_and_counted_weekly() -> None:
    cohort = CohortDay(5, 20, date(2026, 11, 1), 120, 0.5, last_counted_on=date(2026, 11, 18))
    tasks = cohort_tasks(cohort, TUESDAY)
    fed = [t.quantity.amount for t in tasks if t.kind == "feed_cohort" and t.quantity]
    assert sum(fed) == pytest.approx(1.541, abs=0.001)
    assert task_named(tasks, "count_cohort").due_on == date(2026, 11, 25)


def test_no_ration_is_guessed_for_fish_outside_what_was_tried() -> None:
    tasks = cohort_tasks(CohortDay(5, 20, date(2026, 11, 1), 120, 0.05), TUESDAY)
    assert task_named(tasks, "feed_cohort").quantity is None
    assert "no published ration" in task_named(tasks, "feed_cohort").why


# --- C66: no free larval tank tonight -----------------------------------------------------

DIRTY, HOLDS = Standing.DIRTY, Standing.HOLDS_FISH
LARVAL = (
    TankTonight("L1", DIRTY), TankTonight("L2", HOLDS, True, ("G1", "G4")),
    TankTonight("L3", DIRTY), TankTonight("L4", HOLDS, True, ("G1", "G4", "G5")),
    TankTonight("L5", DIRTY),
)  # fmt: skip
GROW_OUT = (
    TankTonight("G1", Standing.BARRED, reason="white spots"),
    TankTonight("G4", HOLDS, True), TankTonight("G5", HOLDS, True),
)  # fmt: skip


def test_dirty_and_sick_tanks_are_not_counted_as_free() -> None:
    tonight = tanks_tonight(3, LARVAL, GROW_OUT, hours_left=3)
    assert tonight.said() == "3 due, 0 tanks ready, 2 could be: L2, L4"
    assert tonight.ready_if[0].steps == (
        "pack and ship from G4", "move the fish of L2 to G4", "siphon and match L2",
    )  # fmt: skip
    assert "move the fish of L4 to G5" in tonight.ready_if[1].steps
    assert tonight.barred == ("G1: white spots",)
    assert (tonight.short, tonight.short_after_all_steps) == (3, 1)
    assert tonight.not_tonight == ("L1", "L3", "L5")


def test_with_hours_to_clean_the_dirty_tanks_could_be_ready_too() -> None:
    tonight = tanks_tonight(3, LARVAL, GROW_OUT, hours_left=8)
    assert [way.label for way in tonight.ready_if] == ["L1", "L2", "L3", "L4", "L5"]
    assert tonight.short_after_all_steps == 0


def test_states_keep_the_order_the_tasks_came_in() -> None:
    states: list[TaskState] = settle([WATCH, FEED], [], FEED.turn)
    assert [state.task.kind for state in states] == ["hatch_watch", "feed_pair"]
