"""From the stays of a clutch to one temperature course: what was read, and what is assumed."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from hatchery_app.domain.clutch.thermal_time import (
    LONGEST_GAP,
    RECENT,
    Basis,
    Reading,
    Stay,
    Stretch,
)
from hatchery_app.domain.errors import NotKnown, RuleBroken


def stretches_of(
    stays: Sequence[Stay],
    from_at: datetime,
    until_at: datetime,
    now: datetime,
    usual_c: tuple[float, float] | None = None,
) -> tuple[Stretch, ...]:
    """The whole course between two instants, stay after stay, known as of `now`.

    `usual_c`: the range the water is usually in. Once it is back inside, what was read outside
    in the last three days says nothing of the days ahead, and is left out of their mean.

    Readings after `now` are not used. The first stay reaches back to `from_at`, each stay ends
    where the next begins, the last goes on to `until_at`. Raises RuleBroken without a stay,
    NotKnown where a tank has neither a reading nor a set point.
    """
    if not stays:
        raise RuleBroken("Say which tank the eggs are in.", field="tank")
    ordered = sorted(stays, key=lambda stay: stay.from_at)
    begins = [from_at, *(max(stay.from_at, from_at) for stay in ordered[1:])]
    ends = [*begins[1:], max(until_at, now)]  # whole stays first: what is held must not depend
    whole = [  # on how far ahead is asked
        stretch
        for stay, begin, end in zip(ordered, begins, ends, strict=True)
        if begin < end
        for stretch in _of_stay(stay, begin, end, now, usual_c)
    ]
    return tuple(
        stretch.clipped(stretch.from_at, min(stretch.until_at, until_at))
        for stretch in whole
        if stretch.from_at < until_at
    )


def stay_at(stays: Sequence[Stay], at: datetime) -> Stay:
    """The stay that holds at an instant: the last begun by then, else the first."""
    ordered = sorted(stays, key=lambda stay: stay.from_at)
    begun = [stay for stay in ordered if stay.from_at <= at]
    return begun[-1] if begun else ordered[0]


def _of_stay(
    stay: Stay, begin: datetime, end: datetime, now: datetime, usual_c: tuple[float, float] | None
) -> list[Stretch]:
    readings = _in_order(stay.readings, now)
    if not readings:
        held_c, basis = _without_recent(stay, readings)
        return [Stretch(begin, end, held_c, held_c, basis, stay.name)]
    stretches = _read(stay.name, readings, begin, end)
    if end <= readings[-1].at:
        return stretches
    return stretches + [
        Stretch(from_at, until_at, held_c, held_c, basis, stay.name)
        for from_at, until_at, (held_c, basis) in _after_last(
            stay, readings, begin, end, now, usual_c
        )
        if from_at < until_at
    ]


def _in_order(readings: Sequence[Reading], now: datetime) -> list[Reading]:
    """Readings known by now in time order, the last written of two at one instant."""
    by_moment = {reading.at: reading for reading in readings if reading.at <= now}
    return [by_moment[at] for at in sorted(by_moment)]


def _without_recent(stay: Stay, readings: list[Reading]) -> tuple[float, Basis]:
    """What stands for a tank not read for three days: its set point, its old readings, a guess."""
    if stay.set_point_c is not None:
        return stay.set_point_c, Basis.SET_POINT
    if readings:
        return _mean_to(readings, readings[-1].at), Basis.OLD_MEAN
    if stay.guess_c is not None:
        return stay.guess_c, Basis.GUESS
    raise NotKnown(f"{stay.name} has no temperature reading and no set point.")


def last_known_c(stay: Stay) -> float | None:
    """What the water of a stay was last known to be: three days' mean, set point or guess, °C."""
    readings = sorted(stay.readings, key=lambda reading: reading.at)
    if stay.until_at is not None:
        readings = [reading for reading in readings if reading.at <= stay.until_at]
    if readings:
        return _mean_to(readings, readings[-1].at)
    return stay.set_point_c if stay.set_point_c is not None else stay.guess_c


def _mean_to(readings: list[Reading], at: datetime) -> float:
    """The mean of the readings of the three days up to an instant."""
    recent = [r.temperature_c for r in readings if at - RECENT <= r.at <= at]
    return sum(recent) / len(recent)


def _after_last(
    stay: Stay,
    readings: list[Reading],
    begin: datetime,
    end: datetime,
    now: datetime,
    usual_c: tuple[float, float] | None,
) -> list[tuple[datetime, datetime, tuple[float, Basis]]]:
    """After the last reading: its mean held for three days at most, then what the tank is set to.

    Ahead of now the mean of the last three days is held to the end.
    """
    last_at = readings[-1].at
    begin = max(begin, last_at)
    turn = min(max(now, begin), end)
    stale = min(max(last_at + RECENT, begin), turn)
    held_c = _mean_to(readings, last_at)
    past = Basis.READ if turn - last_at <= LONGEST_GAP else Basis.GAP
    if last_at >= now - RECENT:
        ahead = _ahead(readings, now, usual_c)
    else:
        ahead = _without_recent(stay, readings)
    parts = [(begin, stale, (held_c, past)), (turn, end, ahead)]
    if stale < turn:
        parts.insert(1, (stale, turn, _without_recent(stay, readings)))
    return parts


def _ahead(
    readings: list[Reading], now: datetime, usual_c: tuple[float, float] | None
) -> tuple[float, Basis]:
    """The mean of the last three days, odd hours that are over left out."""
    mean_c = _mean_to(readings, now)
    if usual_c is None:
        return mean_c, Basis.AHEAD
    low, high = usual_c
    usual = [reading for reading in readings if low <= reading.temperature_c <= high]
    is_back = bool(usual) and usual[-1] is readings[-1]
    odd = any(now - RECENT <= r.at <= now and not low <= r.temperature_c <= high for r in readings)
    return (_mean_to(usual, now), Basis.MENDED) if is_back and odd else (mean_c, Basis.AHEAD)


def _read(place: str, readings: list[Reading], begin: datetime, end: datetime) -> list[Stretch]:
    """Straight lines between readings, cut to the stay; the first is held back to its begin."""
    first = readings[0]
    lead = [Reading(begin, first.temperature_c)] if begin < first.at else []
    stretches = []
    for before, after in pairwise([*lead, *readings]):
        if after.at <= begin or before.at >= end:
            continue
        basis = Basis.GAP if after.at - before.at > LONGEST_GAP else Basis.READ
        line = Stretch(before.at, after.at, before.temperature_c, after.temperature_c, basis, place)
        stretches.append(line.clipped(max(before.at, begin), min(after.at, end)))
    return stretches


def gaps(stretches: Sequence[Stretch], until_at: datetime) -> tuple[Stretch, ...]:
    """The stretches before an instant whose temperature nobody read, neighbours joined."""
    assumed = [
        stretch.clipped(stretch.from_at, min(stretch.until_at, until_at))
        for stretch in stretches
        if stretch.basis is not Basis.READ and stretch.from_at < until_at
    ]
    return _joined(assumed)


def hours_outside(
    stretches: Sequence[Stretch], low_c: float, high_c: float
) -> tuple[tuple[Stretch, ...], ...]:
    """Runs of time below `low_c` or above `high_c`, each as its stretches in order.

    A stretch that crosses a limit is cut exactly there.
    """
    runs: list[list[Stretch]] = []
    for stretch in stretches:
        for part in _cut(stretch, low_c, high_c):
            if low_c <= part.mean_c <= high_c:
                continue
            same_side = runs and (runs[-1][-1].mean_c < low_c) == (part.mean_c < low_c)
            if same_side and runs[-1][-1].until_at == part.from_at:
                runs[-1].append(part)
            else:
                runs.append([part])
    return tuple(tuple(run) for run in runs)


def _cut(stretch: Stretch, low_c: float, high_c: float) -> list[Stretch]:
    """The stretch cut where it crosses either limit."""
    lowest, highest = sorted((stretch.from_c, stretch.until_c))
    crossings = [
        stretch.from_at
        + (stretch.until_at - stretch.from_at)
        * ((limit - stretch.from_c) / (stretch.until_c - stretch.from_c))
        for limit in (low_c, high_c)
        if lowest < limit < highest
    ]
    moments = [stretch.from_at, *sorted(crossings), stretch.until_at]
    return [stretch.clipped(a, b) for a, b in pairwise(moments) if a < b]


def _joined(stretches: Sequence[Stretch]) -> tuple[Stretch, ...]:
    joined: list[Stretch] = []
    for stretch in stretches:
        last = joined[-1] if joined else None
        if last and last.until_at == stretch.from_at and last.basis is stretch.basis:
            joined[-1] = Stretch(
                last.from_at,
                stretch.until_at,
                last.from_c,
                stretch.until_c,
                last.basis,
                last.place,
            )
        else:
            joined.append(stretch)
    return tuple(joined)


def hours(stretches: Sequence[Stretch]) -> float:
    """Elapsed hours of some stretches together."""
    return sum((s.until_at - s.from_at) / timedelta(hours=1) for s in stretches)
