"""The morning's work at the culture vessels: count, feed, sieve."""

from collections.abc import Iterable
from datetime import date

from hatchery_app.domain.live_food.live_food import ROTIFER_RATION_G_PER_MILLION, two_figures_said
from hatchery_app.domain.live_food.made_up import SMALLEST_ML, MadeUp
from hatchery_app.domain.live_food.supply import Sieve, animals_said
from hatchery_app.domain.live_food.vessel import Cultured, VesselNow
from hatchery_app.domain.today.schedule import Quantity, Round, Task, Turn, repeating

COUNT, FEED, SIEVE = "count_culture", "feed_culture", "sieve_culture"


def vessel_tasks(
    one: VesselNow, sieves: Iterable[Sieve], day: date, made: MadeUp | None = None
) -> tuple[Task, ...]:
    """What one vessel asks for this morning; a lost culture asks for nothing by itself.

    `made` is what all that is sieved is made up to, and where it goes; each sieve says its own
    share of it, so that nothing is poured twice.
    """
    vessel, turn = one.vessel, Turn(day, Round.MORNING)
    if not vessel.lives or vessel.food is Cultured.ALGAE:
        return ()
    tasks = [
        repeating(
            COUNT, vessel.tank_id, turn, vessel.tank_id, f"Count the {vessel.food}, eggs too",
            why=one.why_none or f"last {two_figures_said(one.per_ml)} per mL",
        )
    ]  # fmt: skip
    tasks += [
        repeating(
            SIEVE, vessel.tank_id, turn, vessel.tank_id, "Sieve, rinse, make up again",
            why=_where_to(sieve, made), quantity=Quantity(sieve.litres, "L"),
        )
        for sieve in sieves
        if sieve.tank_id == vessel.tank_id
    ]  # fmt: skip
    if one.crash is None and one.feed_ml is not None and one.standing is not None:
        tasks.append(
            repeating(
                FEED, vessel.tank_id, turn, vessel.tank_id, "Feed paste",
                why=f"{animals_said(one.standing.best)} × {ROTIFER_RATION_G_PER_MILLION:g} g dry"
                f" a million; paste of {100 * one.paste_dry_fraction:.0f} % dry",
                quantity=Quantity(one.feed_ml, "mL"),
            )
        )  # fmt: skip
    return tuple(tasks)


def _where_to(sieve: Sieve, made: MadeUp | None) -> str:
    """ "0.36 million at 300 per mL, in 240 mL: 100 mL into L3, 140 mL into L5"."""
    said = f"{animals_said(sieve.animals)} at {two_figures_said(sieve.per_ml)} per mL"
    if made is None:
        return said
    part = min(1.0, sieve.animals / (made.ml * made.per_ml))
    pours = [
        f"{two_figures_said(pour.ml * part)} mL into {pour.label}"
        for pour in made.pours
        if pour.ml
    ]
    if made.held_ml * part >= SMALLEST_ML:
        pours.append(f"{two_figures_said(made.held_ml * part)} mL held")
    where = f": {', '.join(pours)}" if pours else ""
    return f"{said}; made up to {two_figures_said(made.ml * part)} mL{where}"
