"""What each stage of a fish's life asks for on a day: larvae, eggs, tanks, growing fish.

Each function takes the facts of one batch, clutch or tank as plain values and gives dated
tasks. Nothing is asked for before its cause: no work for larvae before their hatch night, none
for eggs before they are laid, none for either once it has ended.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from hatchery_app.domain.cohort.growth import day_ration
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.live_food import (
    ML_PER_L,
    PreyDensity,
    concentrate_ml,
    greenwater_dose_ml,
    top_up,
    two_figures_said,
)
from hatchery_app.domain.today.schedule import Quantity, Round, Task, Turn, one_off, repeating

MEAL_ROUNDS = (Round.MORNING, Round.MIDDAY, Round.BEFORE_LIGHTS_OFF)


def _ended(ended_on: date | None, day: date) -> bool:
    return ended_on is not None and day > ended_on


# --- Larvae -------------------------------------------------------------------------------


@dataclass(frozen=True)
class PreyWanted:
    """One live food of a larval tank's day: its target, what was last seen, the concentrate.

    `key` is the food's word in task names ("rotifers"), `words` what the sheet says.
    """

    key: str
    words: str
    target_per_ml: float
    residual: PreyDensity | None = None
    concentrate_per_ml: float | None = None


@dataclass(frozen=True)
class GreenwaterWanted:
    """Algae cells per mL: what the tank should have, what it has (None: not looked), the stock."""

    target_per_ml: float
    residual_per_ml: float | None = None
    stock_per_ml: float | None = None


@dataclass(frozen=True)
class MicrodietWanted:
    """Dry food by particle size, in so many meals a day."""

    from_um: float
    to_um: float
    meals: int


@dataclass(frozen=True)
class LarvalDay:
    """A batch of larvae in its tank on a day, with what its plan asks for at that age.

    `hatched_on` is the evening of its hatch night. `settles_from_dph` and `settles_until_dph`
    bound the looks for settled fish; None where the window is unknown. `count_milestone` names
    a count that is due ("dph-10"), `count_due_on` its day.
    """

    batch_id: int
    place_id: int
    hatched_on: date
    volume_l: float
    prey: tuple[PreyWanted, ...] = ()
    greenwater: GreenwaterWanted | None = None
    microdiet: MicrodietWanted | None = None
    change_percent: float = 0.0
    light_hours: float | None = None
    settles_from_dph: float | None = None
    settles_until_dph: float | None = None
    count_due_on: date | None = None
    count_milestone: str = ""
    ended_on: date | None = None

    def __post_init__(self) -> None:
        if self.volume_l <= 0:
            raise RuleBroken("A larval tank holds more than 0 L.", field="volume_l")
        if not 0 <= self.change_percent <= 100:
            raise RuleBroken("A water change lies between 0 and 100 %.", field="change_percent")


def larval_tasks(larvae: LarvalDay, day: date) -> tuple[Task, ...]:
    """The work of a larval tank on a day, in the order of the clock; none before its hatch.

    On the hatch night itself: the first fill of prey and green water, for the first light.
    """
    dph = (day - larvae.hatched_on).days
    if dph < 0 or _ended(larvae.ended_on, day):
        return ()
    count = _count_due(larvae)
    if dph == 0:
        tonight = Turn(day, Round.TONIGHT)
        return (*_prey(larvae, tonight, None), *_greenwater(larvae, tonight), *count)
    morning, evening = Turn(day, Round.MORNING), Turn(day, Round.BEFORE_LIGHTS_OFF)
    return (
        *_morning_care(larvae, day),
        *_prey(larvae, morning, evening),
        *_greenwater(larvae, morning),
        *_microdiet(larvae, day),
        *_prey(larvae, evening, None),
        *_settlement_look(larvae, day, dph),
        *count,
    )


def _morning_care(larvae: LarvalDay, day: date) -> tuple[Task, ...]:
    batch, place = larvae.batch_id, larvae.place_id
    morning = Turn(day, Round.MORNING)
    early = Turn(day, Round.BEFORE_LIGHTS_ON)
    tasks = [
        repeating("look_for_dead", batch, early, place, "Look for dead larvae"),
        repeating(
            "lights_up", batch, morning, place, "Raise the light slowly",
            why=f"{larvae.light_hours:g} h of light" if larvae.light_hours else "",
        ),
        repeating("siphon", batch, morning, place, "Siphon the bottom, look for larvae in it"),
    ]  # fmt: skip
    if larvae.change_percent > 0:
        litres = larvae.volume_l * larvae.change_percent / 100
        tasks.append(
            repeating(
                "water_change", batch, morning, place, "Change water, matched before it goes in",
                why=f"{larvae.change_percent:g} % of {larvae.volume_l:g} L",
                quantity=Quantity(litres, "L"),
            )
        )  # fmt: skip
    return tuple(tasks)


def _prey(larvae: LarvalDay, turn: Turn, next_turn: Turn | None) -> tuple[Task, ...]:
    """Count, then top up, for each live food: a count comes first, on a full tank or an empty."""
    tasks: list[Task] = []
    for wanted in larvae.prey:
        first_fill = turn.day == larvae.hatched_on
        if not first_fill:
            tasks.append(
                repeating(
                    f"count_{wanted.key}", larvae.batch_id, turn, larvae.place_id,
                    f"Count {wanted.words}, or look", why=f"{wanted.target_per_ml:g} per mL wanted",
                    next_turn=next_turn or _next_count(turn),
                )
            )  # fmt: skip
        what, why, quantity = _top_up(wanted, larvae.volume_l)
        tasks.append(
            repeating(
                f"top_up_{wanted.key}", larvae.batch_id, turn, larvae.place_id, what,
                why=why, quantity=quantity, next_turn=next_turn or _next_count(turn),
            )
        )  # fmt: skip
    return tuple(tasks)


def _next_count(turn: Turn) -> Turn:
    return Turn(turn.day + timedelta(days=1), Round.MORNING)


def _top_up(wanted: PreyWanted, volume_l: float) -> tuple[str, str, Quantity | None]:
    full = wanted.target_per_ml * volume_l * ML_PER_L
    if wanted.residual is None:
        why = f"count first; a whole fill is {two_figures_said(full)}"
        return f"Top up {wanted.words}", why, None
    needed = top_up(wanted.target_per_ml, wanted.residual, volume_l)
    if needed.animals == 0:
        old = "; flush out the old first" if needed.flush_old else ""
        return f"No {wanted.words} to add", needed.why + old, None
    if wanted.concentrate_per_ml is None:
        amount = Quantity(needed.animals, wanted.words, needed.low, needed.high)
        return f"Top up {wanted.words}", needed.why, amount
    millilitres, low, high = (
        concentrate_ml(animals, wanted.concentrate_per_ml)
        for animals in (needed.animals, needed.low, needed.high)
    )
    why = (
        f"{needed.why}: {two_figures_said(needed.animals)} of a concentrate with"
        f" {two_figures_said(wanted.concentrate_per_ml)} per mL"
    )
    return f"Top up {wanted.words}", why, Quantity(millilitres, "mL", low, high)


def _greenwater(larvae: LarvalDay, turn: Turn) -> tuple[Task, ...]:
    green = larvae.greenwater
    if green is None:
        return ()
    quantity, why = None, f"{two_figures_said(green.target_per_ml)} cells per mL wanted"
    if green.residual_per_ml is None or green.stock_per_ml is None:
        why += "; look at the tank and count the stock first"
    else:
        try:
            dose = greenwater_dose_ml(
                larvae.volume_l, green.target_per_ml, green.residual_per_ml, green.stock_per_ml
            )
            quantity = Quantity(dose, "mL")
        except RuleBroken as refused:
            why = refused.sentence
    task = repeating(
        "greenwater", larvae.batch_id, turn, larvae.place_id, "Add green water",
        why=why, quantity=quantity, next_turn=_next_count(turn),
    )  # fmt: skip
    return (task,)


def _microdiet(larvae: LarvalDay, day: date) -> tuple[Task, ...]:
    food = larvae.microdiet
    if food is None:
        return ()
    shares = _spread(food.meals)
    return tuple(
        repeating(
            "microdiet", larvae.batch_id, Turn(day, meal_round), larvae.place_id,
            "Dust microdiet thinly",
            why=f"{food.from_um:g}–{food.to_um:g} µm, {food.meals} meals a day",
            quantity=Quantity(meals, "meals" if meals > 1 else "meal"),
        )
        for meal_round, meals in zip(MEAL_ROUNDS, shares, strict=True)
        if meals
    )  # fmt: skip


def _spread(meals: int) -> tuple[int, ...]:
    """So many meals over the three rounds of light, the earlier ones first."""
    each, more = divmod(meals, len(MEAL_ROUNDS))
    return tuple(each + (place < more) for place in range(len(MEAL_ROUNDS)))


def _settlement_look(larvae: LarvalDay, day: date, dph: int) -> tuple[Task, ...]:
    first, last = larvae.settles_from_dph, larvae.settles_until_dph
    if first is None or dph < first:
        return ()
    window = f"first fish from {first:g} dph" + (f", last by {last:g}" if last else "")
    turn = Turn(day, Round.BEFORE_LIGHTS_OFF)
    return (
        repeating(
            "settlement_look", larvae.batch_id, turn, larvae.place_id,
            "Look how many have settled and how many still swim", why=window,
        ),
    )  # fmt: skip


def _count_due(larvae: LarvalDay) -> tuple[Task, ...]:
    due_on = larvae.count_due_on
    if due_on is None or due_on < larvae.hatched_on:
        return ()
    turn = Turn(due_on, Round.MORNING)
    return (
        one_off(
            "count_larvae", larvae.batch_id, turn, larvae.place_id, "Count the larvae",
            milestone=larvae.count_milestone,
        ),
    )  # fmt: skip


# --- Eggs ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class ClutchDay:
    """A clutch with what its forecast says: all evenings; None where no figure can be given.

    `watch_nights` are the nights worth watching with the hour in words ("20:15–23:00").
    `first_fill` is the prey a first fill takes; `food_standing` says how the culture stands.
    """

    clutch_id: int
    place_id: int
    laid_on: date
    prepare_from_on: date | None = None
    window_on: tuple[date, date] | None = None
    watch_nights: tuple[tuple[date, str], ...] = ()
    first_fill: float | None = None
    food_words: str = "rotifers"
    food_standing: str = "culture density unknown"
    has_larvae_stage: bool = True
    ended_on: date | None = None

    def __post_init__(self) -> None:
        ahead = [self.prepare_from_on, *(self.window_on or ()), *(n for n, _ in self.watch_nights)]
        if any(evening is not None and evening < self.laid_on for evening in ahead):
            raise RuleBroken("Eggs cannot hatch before they are laid.", field="laid")


def clutch_tasks(clutch: ClutchDay, day: date) -> tuple[Task, ...]:
    """The work a clutch asks for on a day, with what it needs ready by its prepare-from night.

    The one-off lines (a tank, a first fill held, each hatch watch) stand from the laying on, so
    they can be seen coming; each stays until it is answered or the clutch has ended.
    """
    if day < clutch.laid_on or _ended(clutch.ended_on, day):
        return ()
    looks: tuple[Task, ...] = ()
    if day > clutch.laid_on:
        turn = Turn(day, Round.MORNING)
        looks = (
            repeating("look_at_eggs", clutch.clutch_id, turn, clutch.place_id, "Look at the eggs"),
        )
    return (*looks, *_make_ready(clutch), *_hatch_watches(clutch))


def _make_ready(clutch: ClutchDay) -> tuple[Task, ...]:
    if clutch.prepare_from_on is None or not clutch.has_larvae_stage:
        return ()
    turn = Turn(clutch.prepare_from_on, Round.BEFORE_LIGHTS_OFF)
    first, last = clutch.window_on or (clutch.prepare_from_on, clutch.prepare_from_on)
    nights = "–".join(
        str(number) for number in sorted({(n - clutch.laid_on).days for n in (first, last)})
    )
    needed = f"first food needed from night {nights}; {clutch.food_standing}"
    fill = Quantity(clutch.first_fill, clutch.food_words) if clutch.first_fill else None
    return (
        one_off(
            "prepare_tank", clutch.clutch_id, turn, clutch.place_id,
            "Have a larval tank filled and matched", why=f"may hatch from night {nights}",
            milestone="once",
        ),
        one_off(
            "hold_first_fill", clutch.clutch_id, turn, clutch.place_id,
            f"Hold a first fill of {clutch.food_words}", why=needed, quantity=fill,
            milestone="once",
        ),
    )  # fmt: skip


def _hatch_watches(clutch: ClutchDay) -> tuple[Task, ...]:
    return tuple(
        one_off(
            "hatch_watch", clutch.clutch_id, Turn(evening, Round.TONIGHT), clutch.place_id,
            "Watch for the hatch", why=hours,
        )
        for evening, hours in clutch.watch_nights
    )  # fmt: skip


# --- Tanks --------------------------------------------------------------------------------


@dataclass(frozen=True)
class TankWanted:
    """A tank a clutch is to go into, from the day that was decided, and what it still lacks."""

    tank_id: int
    clutch_id: int
    decided_on: date
    needed_on: date
    to_empty: bool = False
    to_clean: bool = False
    to_fill: bool = False

    def __post_init__(self) -> None:
        if self.needed_on < self.decided_on:
            raise RuleBroken("A tank is needed from the day it is decided on, at the earliest.")


def tank_tasks(wanted: TankWanted) -> tuple[Task, ...]:
    """The steps from the tank as it stands to filled and matched, on the day it is needed.

    Each is named by the clutch it is for, so a night that moves does not ask twice.
    """
    steps = (
        (wanted.to_empty, "move_fish", Round.MORNING, "Move the fish out"),
        (wanted.to_clean, "clean_tank", Round.MORNING, "Clean and rinse the tank"),
        (wanted.to_fill, "fill_tank", Round.MIDDAY, "Fill the tank"),
        (wanted.to_fill, "match_water", Round.BEFORE_LIGHTS_OFF, "Match temperature and salinity"),
    )
    milestone = f"clutch-{wanted.clutch_id}"
    return tuple(
        one_off(
            kind, wanted.tank_id, Turn(wanted.needed_on, in_round), wanted.tank_id, what,
            why="needed tonight for a hatch", milestone=milestone,
        )
        for is_wanted, kind, in_round, what in steps
        if is_wanted
    )  # fmt: skip


# --- Growing fish -------------------------------------------------------------------------


@dataclass(frozen=True)
class CohortDay:
    """A cohort growing on: since when, how many of what weight, when last counted and graded.

    `mean_weight_g` may be unknown; outside the published 0.2–3 g no ration is worked out.
    """

    cohort_id: int
    place_id: int
    began_on: date
    fish: int | None = None
    mean_weight_g: float | None = None
    last_counted_on: date | None = None
    last_graded_on: date | None = None
    count_every_days: int = 7
    grade_every_days: int | None = None
    ended_on: date | None = None

    def __post_init__(self) -> None:
        if self.count_every_days < 1 or (self.grade_every_days or 1) < 1:
            raise RuleBroken("Counting and grading come every day at the most often.")


def cohort_tasks(cohort: CohortDay, day: date) -> tuple[Task, ...]:
    """The work of a growing cohort on a day: feed in three rounds, count weekly, grade."""
    if day < cohort.began_on or _ended(cohort.ended_on, day):
        return ()
    each, why = _ration(cohort)
    feeding = tuple(
        repeating(
            "feed_cohort", cohort.cohort_id, Turn(day, meal_round), cohort.place_id,
            "Feed, and see that all eat", why=why, quantity=each,
        )
        for meal_round in MEAL_ROUNDS
    )  # fmt: skip
    return (*feeding, *_count_and_grade(cohort))


def _ration(cohort: CohortDay) -> tuple[Quantity | None, str]:
    if cohort.fish is None or cohort.mean_weight_g is None:
        return None, "no ration: count and weigh a sample first"
    ration = day_ration(cohort.mean_weight_g)
    if ration is None:
        return None, f"no published ration for fish of {two_figures_said(cohort.mean_weight_g)} g"
    grams = cohort.fish * ration.feed_mg / 1000
    why = (
        f"{cohort.fish} fish of {two_figures_said(cohort.mean_weight_g)} g,"
        f" {two_figures_said(ration.percent_of_weight)} % a day"
    )
    return Quantity(grams / len(MEAL_ROUNDS), "g"), why


def _count_and_grade(cohort: CohortDay) -> tuple[Task, ...]:
    since = cohort.last_counted_on or cohort.began_on
    due = Turn(since + timedelta(days=cohort.count_every_days), Round.MORNING)
    tasks = [one_off("count_cohort", cohort.cohort_id, due, cohort.place_id, "Count the fish")]
    if cohort.grade_every_days is not None:
        since = cohort.last_graded_on or cohort.began_on
        due = Turn(since + timedelta(days=cohort.grade_every_days), Round.MIDDAY)
        what = "Grade: take the largest out"
        tasks.append(one_off("grade_cohort", cohort.cohort_id, due, cohort.place_id, what))
    return tuple(tasks)
