"""Who wants a food on a day ahead: those who suffer first where there is not enough come first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from hatchery_app.domain.live_food.food_demand import (
    BatchAhead,
    ClutchAhead,
    Courses,
    fills_held,
)

LIKELY = 0.5  # eggs as likely hatched by then as not count as larvae


@dataclass(frozen=True)
class Eater:
    """Larvae that want a food on a day, `dph` old then; None where a first fill is only held,
    for eggs that may hatch that night. `is_clutch`: eggs today, named by their pair."""

    label: str
    dph: int | None
    is_clutch: bool = False


def eaters_on(
    food: str,
    on: date,
    today: date,
    batches: Iterable[BatchAhead],
    clutches: Iterable[ClutchAhead],
) -> tuple[Eater, ...]:
    """Who wants a food on a day, the youngest first, first fills that are only held last: what
    hatches in the night eats from first light, when the next sieving can be there."""
    day, courses = (on - today).days, Courses()
    found = []
    for batch in batches:
        need = courses.on(batch.course, batch.dph + day).get(food)
        if need is not None and need.of(batch.larvae).likely > 0:
            found.append(Eater(batch.label, batch.dph + day))
    for clutch in clutches:
        before = clutch.chances[:day]
        if sum(before) >= LIKELY:
            dph = day - before.index(max(before))
            need = courses.on(clutch.course, dph).get(food)
            if need is not None and need.of(clutch.larvae).likely > 0:
                found.append(Eater(clutch.name, dph, is_clutch=True))
        elif clutch.food == food and clutch.fill and fills_held(clutch, today).is_held(on):
            found.append(Eater(clutch.name, None, is_clutch=True))
    return tuple(sorted(found, key=lambda one: (one.dph is None, one.dph or 0)))
