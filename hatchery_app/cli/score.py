"""hatchery score: how right the forecasts of a room have been, a line a hatch and the sum last."""

from collections.abc import Iterator

import click

from hatchery_app import clock
from hatchery_app.app import create_app
from hatchery_app.database import db
from hatchery_app.services.clutch import clutch_score
from hatchery_app.services.clutch.clutch_score import ClutchScored, Score
from hatchery_app.services.records.room import find_room
from hatchery_app.services.species.library import library
from hatchery_app.settings import Settings


def print_score(settings: Settings) -> None:
    """Work out every hatch's forecast of the evening before, and say what they were worth."""
    app = create_app(settings)
    with app.app_context():
        session = db.session()
        room = find_room(session)
        if room is None:
            raise click.ClickException("The room is not set up yet: there is nothing to score.")
        found = clutch_score.score(session, library(), room=room, now=clock.now(), newest=None)
        db.session.remove()
    for line in lines(found):
        click.echo(line)


def lines(found: Score) -> Iterator[str]:
    """A line a hatch, oldest first; then what was left out, the tenths and the sum."""
    for each in reversed(found.clutches):
        yield _hatch_line(each)
    for reason, number in found.skipped:
        yield f"not scored: {number}, {reason}"
    for tenth in found.tenths:
        few = "" if tenth.can_judge else "  (too few to judge)"
        yield (
            f"nights given {tenth.low * 100:.0f}–{tenth.high * 100:.0f} of 100: {tenth.nights}, "
            f"came {tenth.came}, said {tenth.mean_said * tenth.nights:.1f}{few}"
        )
    yield from _sum_lines(found)


def _hatch_line(each: ClutchScored) -> str:
    name = f"{each.name}, {each.whose}: hatched {each.came.said(each.laid_night)}"
    if each.scored is None:
        return f"{name}; not scored, {each.why_not}"
    first, last = each.scored.said.window
    window = f"night {first}" if first == last else f"night {first}–{last}"
    inside = "inside" if each.scored.is_inside else "outside"
    return f"{name}; said {window}, most likely {each.scored.said.likeliest}; {inside}"


def _sum_lines(found: Score) -> Iterator[str]:
    verdict = found.verdict
    if verdict is None:
        yield "0 hatches"
        return
    yield f"{verdict.hatches} hatches" if verdict.hatches != 1 else "1 hatch"
    yield (
        f"inside their windows: {verdict.inside} of {verdict.hatches} "
        f"({verdict.inside / verdict.hatches:.1%}); the windows stated "
        f"{verdict.stated_chance:.1%}"
    )
    not_sure = f", not sure {verdict.not_sure} (found late)" if verdict.not_sure else ""
    yield (
        f"likeliest night: early {verdict.early}, right {verdict.right}, late {verdict.late}"
        f"{not_sure}"
    )
    yield (
        f"log score {verdict.log_score:.3f}; the plain rule “night 8” (normal about it, spread "
        f"{verdict.plain_spread_nights:.1f} nights, that of these hatches) "
        f"{verdict.plain_log_score:.3f}; smaller is better"
    )
    if not verdict.can_judge:
        yield "too few to judge"
