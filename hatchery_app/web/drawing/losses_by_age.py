"""Losses by age, a line a batch under each other, so that "every time near day 10" shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.web.drawing.canvas import (
    MIDDLE,
    NARROW,
    Numbers,
    Scale,
    at_widths,
    box,
    line,
    svg,
    text,
)
from hatchery_app.web.drawing.survival_band import age_marks

ROW = 24.0
TALLEST = 20.0
ALL_OF_A_LINE = 0.25  # the share lost in a day that fills a line; a loss of more fills it too
SHORTEST = 3.0
NARROWEST = 2.0
TOP, FOOT = 12.0, 26.0
NAME_WIDTH, RIGHT = 96.0, 12.0
MOST_LINES = 24


@dataclass(frozen=True)
class Loss:
    """A loss on one of these days, first and last included; `share` of those alive, 0 to 1."""

    from_dph: int
    until_dph: int
    share: float
    said: str


@dataclass(frozen=True)
class BatchLosses:
    """One batch's line: its name and the age it was followed to."""

    name: str
    until_dph: int
    losses: tuple[Loss, ...]


@dataclass(frozen=True)
class LossesByAge:
    """The batches, newest first. `bad` are spans of days (first, last) at which most lost fish."""

    name: str
    batches: tuple[BatchLosses, ...]
    bad: tuple[tuple[int, int], ...] = ()


def losses_by_age(chart: LossesByAge) -> Markup:
    """The drawing for a tablet and for a phone, of the newest batches; the table has all."""
    if not any(batch.losses for batch in chart.batches):
        return Markup('<p class="soft">{}: no loss recorded</p>').format(chart.name)
    return at_widths(lambda width: _drawn(chart, width), NARROW, MIDDLE)


def numbers(chart: LossesByAge) -> Numbers:
    """Every loss as a row."""
    rows = tuple(
        (batch.name, days_said(loss.from_dph, loss.until_dph), loss.said)
        for batch in chart.batches
        for loss in batch.losses
    )
    return Numbers(chart.name, ("batch", "dph", "lost"), rows)


def days_said(first: int, last: int) -> str:
    """ "10", or "7–14" for a loss between two looks."""
    return str(first) if first == last else f"{first}–{last}"


def _drawn(chart: LossesByAge, width: float) -> Markup:
    shown = chart.batches[:MOST_LINES]
    last = max(1, *(batch.until_dph for batch in shown))
    # A day is a stretch, not a point: the scale leaves room for the whole of the last one.
    across = Scale(0, last + 1, NAME_WIDTH, width - RIGHT)
    tall = ROW * len(shown) + 8
    height = TOP + tall - 8 + FOOT
    parts = [
        box(
            across(first),
            TOP - 6,
            across(until + 1) - across(first),
            ROW * len(shown) + 8,
            "d-band",
        )
        for first, until in chart.bad
        if until <= last
    ]
    for place, batch in enumerate(shown):
        foot = TOP + ROW * (place + 1) - 2
        parts.append(text(0, foot - 3, batch.name, "d-soft"))
        parts.append(line(across(0), foot, across(batch.until_dph + 1), foot, "d-lead"))
        parts += [_loss(loss, across, foot) for loss in _wide_first(batch.losses)]
    return svg(width, height, chart.name, [*parts, *age_marks(across, width, height - 6, last)])


def _wide_first(losses: Sequence[Loss]) -> list[Loss]:
    """Bands behind, days in front."""
    return sorted(losses, key=lambda loss: loss.from_dph - loss.until_dph)


def _loss(loss: Loss, across: Scale, foot: float) -> Markup:
    """A day's loss stands as a bar; one between two looks lies low and as long as the gap."""
    left, wide = across(loss.from_dph), across(loss.until_dph + 1) - across(loss.from_dph)
    days = loss.until_dph - loss.from_dph + 1
    # The height is the share lost a day, so that a long gap does not look like a bad day.
    tall = max(SHORTEST, TALLEST * min(1.0, loss.share / days / ALL_OF_A_LINE))
    look = "d-loss" if days == 1 else "d-loss-gap"
    return box(left, foot - tall, max(NARROWEST, wide - 1), tall, look)
