"""The stages of a batch in words: when each is to come, when it was seen, and why then."""

from dataclasses import dataclass

from hatchery_app.domain.larval_tank.stage_windows import StageWindow
from hatchery_app.domain.when import Night, RoomTime, When, say_when
from hatchery_app.services.larval_tank.larval_day import LarvalPlan
from hatchery_app.services.larval_tank.larval_tank_page import LarvalTankPage


@dataclass(frozen=True)
class StageLine:
    """A stage: when it is or was, in days of life, and why then."""

    name: str
    days: str
    dph: str
    why: str
    is_now: bool = False


def stage_lines(page: LarvalTankPage, room_time: RoomTime) -> tuple[StageLine, ...]:
    """Each stage with its days and what they rest on; once the batch ended, what was seen."""
    stages = page.plan.stages if page.plan is not None else None
    hatched = page.holding.hatched
    if stages is None or hatched is None:
        return _settled_only(page, room_time)
    age = page.age.oldest if page.age is not None else 0
    return tuple(_stage_line(each, hatched, age, page, room_time) for each in stages.windows)


def _stage_line(
    each: StageWindow, hatched: tuple[Night, Night], age: int, page: LarvalTankPage,
    room_time: RoomTime,
) -> StageLine:  # fmt: skip
    first, last = hatched
    begins = first.plus(each.from_dph)
    ends = None if each.to_dph is None else last.plus(each.to_dph)
    dph = f"{each.from_dph}" if each.from_dph == each.to_dph else f"{each.from_dph}–{each.to_dph}"
    if each.best_dph is not None and each.seen is None:
        dph += f" dph, about {each.best_dph:.0f}"
    else:
        dph += " dph"
    days = begins.said() if ends is None or ends == begins else f"{begins.said()} – {ends.said()}"
    seen_at = _seen_at(each, page)
    if seen_at is not None:
        return StageLine(each.name, f"seen {say_when(seen_at, room_time)}", dph, each.why)
    is_now = each.from_dph <= age and (each.to_dph is None or age <= each.to_dph)
    return StageLine(each.name, days, dph, each.why, is_now)


def _seen_at(each: StageWindow, page: LarvalTankPage) -> When | None:
    """When a stage of settlement was seen, by a mark or between two looks."""
    if each.seen is None or each.best_dph is None:
        return None
    marks = [line.when for line in page.entries if line.mark == each.name]
    looked = {
        "first settled": page.settled.first, "half settled": page.settled.half,
        "last settled": page.settled.last,
    }  # fmt: skip
    return marks[0] if marks else looked.get(each.name)


def _settled_only(page: LarvalTankPage, room_time: RoomTime) -> tuple[StageLine, ...]:
    seen = (page.settled.first, page.settled.half, page.settled.last)
    return tuple(
        StageLine(f"{word} settled", f"seen {say_when(when, room_time)}", "", "")
        for word, when in zip(("first", "half", "last"), seen, strict=True)
        if when is not None
    )


def fed_as(plan: LarvalPlan | None) -> str:
    """Why today's foods are those of another day than by age and warmth."""
    if plan is None or plan.stages is None or not plan.stages.moved:
        return ""
    return f"The feeding is read {plan.stages.moved}."
