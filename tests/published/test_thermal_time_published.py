"""Thermal time, shrinkage and hatch nights against published figures, one row a check.

Days, sums and nights are asked of what the forecast itself runs on: the clownfish file of the
library, the course of the water and the windows of the nights.
"""

import csv
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from math import sqrt
from pathlib import Path

import pytest

from hatchery_app.domain.clutch.hatch_chances import chances_of_windows
from hatchery_app.domain.clutch.hatch_window import hatch_windows
from hatchery_app.domain.clutch.learned_readiness import Readiness, ReadinessInterval
from hatchery_app.domain.clutch.thermal_time import (
    Basis,
    Stay,
    Stretch,
    TemperatureCourse,
    constants_of_rate,
    constants_of_two,
    days_by_q10,
    k_of_durations,
    q10,
)
from hatchery_app.domain.shrinkage import shrunk, shrunk_together
from hatchery_app.domain.species.species_file import load_library
from hatchery_app.domain.when import Lights, Night, RoomTime, When

TABLE = Path(__file__).with_name("thermal_time.csv")
with TABLE.open(encoding="utf-8", newline="") as lines:
    ROWS = list(csv.DictReader(lines))

STANDINGS = {"published", "worked out from published", "worked by hand", "common practice"}
LIBRARY = load_library([Path(__file__).parents[2] / "hatchery_app" / "species"])
CLOWNFISH = LIBRARY["amphiprion_ocellaris"].incubation
BATTING = (  # 18 averages after 45 at-bats, as printed
    *(0.400, 0.378, 0.356, 0.333, 0.311, 0.311, 0.289, 0.267, 0.244, 0.244),
    *(0.222, 0.222, 0.222, 0.222, 0.222, 0.200, 0.178, 0.156),
)
LIGHTS = Lights(time(8), time(20))
ROOM = RoomTime("Europe/Berlin")
LAID = ROOM.planned(date(2026, 11, 2), time(12))
Piece = tuple[float, float, float, float]  # from day, until day, from °C, until °C


def numbers(text: str) -> list[float]:
    return [float(part) for part in text.split(";")]


def two_at(text: str) -> float | None:
    *pairs, at_c = numbers(text)
    t0_c, k = constants_of_two(*pairs)
    return k / (at_c - t0_c)


def q10_at(text: str) -> float:
    days_1, at_1, days_2, at_2, other_c = numbers(text)
    return days_by_q10(days_1, at_1, q10(days_1, at_1, days_2, at_2), other_c)


def course_of(pieces: Sequence[Piece], t0_c: float) -> TemperatureCourse:
    """The water from the laying on, straight over each piece."""
    return TemperatureCourse(
        [
            Stretch(LAID + timedelta(begin), LAID + timedelta(end), from_c, until_c, Basis.READ)
            for begin, end, from_c, until_c in pieces
        ],
        t0_c,
    )


def summed(text: str) -> float:
    t0, series = text.split("|")
    points = [tuple(map(float, point.split(":"))) for point in series.split(";")]
    pieces = [(begin, end, from_c, to_c) for (begin, from_c), (end, to_c) in pairwise(points)]
    water = course_of(pieces, float(t0))
    return water.between(LAID, LAID + timedelta(points[-1][0]))


def sums_of_daily_means(text: str) -> list[float]:
    pieces = [(day, day + 1, mean, mean) for day, mean in enumerate(numbers(text))]
    water = course_of(pieces, CLOWNFISH.t0_c)
    return [water.between(LAID, LAID + timedelta(day + 1)) for day in range(len(pieces))]


def drawn(text: str):
    general, spread, single, own = text.split(";")
    return shrunk(float(general), float(spread), [float(x) for x in own.split()], float(single))


def chance_of(text: str) -> float:
    ends = [(27 - 12) * (night + 8.5 / 24) for night in range(12)]
    return chances_of_windows(Readiness(104.703, 4.460, 4.0), ends)[int(text)]


def nights_of_a_clutch():
    stay = Stay(LAID, None, (), 27.0, LIGHTS, "B1")
    return hatch_windows(When.exactly(LAID), [stay], ROOM, CLOWNFISH, None, 12)


def night_for(text: str) -> Night:
    """The night given to eggs that are surely ready at a moment of the room's clock."""
    moment = datetime.fromisoformat(text)
    windows = nights_of_a_clutch()
    water = course_of([(0, 14, 27.0, 27.0)], CLOWNFISH.t0_c)
    ready_dd = water.between(LAID, ROOM.planned(moment.date(), moment.time()))
    ends = [water.between(LAID, window.watch_until) for window in windows]
    chances = chances_of_windows(Readiness(ready_dd, 1e-6, 4.0), ends)
    assert max(chances) == pytest.approx(1)
    return windows[chances.index(max(chances))].night


def together() -> tuple[float, tuple[float, ...]]:
    grand = sum(BATTING) / len(BATTING)
    return shrunk_together(BATTING, grand * (1 - grand) / 45)


def k_of_twelve(text: str) -> float:
    points = [
        (float(row["inputs"]), float(row["expected"]))
        for row in ROWS
        if row["check"] == "steady days"
    ]
    return k_of_durations(points, float(text))


def interval_chance(text: str) -> float:
    low, high, mean, spread = numbers(text)
    return ReadinessInterval(low, high).likelihood(mean, spread)


CHECKS = {
    "interval chance": interval_chance,
    "K of twelve durations": k_of_twelve,
    "steady days": lambda text: CLOWNFISH.days_at(float(text)),
    "two temperatures T0": lambda text: constants_of_two(*numbers(text))[0],
    "two temperatures K": lambda text: constants_of_two(*numbers(text))[1],
    "two temperatures at": two_at,
    "Q10": lambda text: q10(*numbers(text)),
    "Q10 at": q10_at,
    "rate line T0": lambda text: constants_of_rate(*numbers(text))[0],
    "rate line K": lambda text: constants_of_rate(*numbers(text))[1],
    "degree-days": summed,
    "shrunk mean": lambda text: drawn(text).mean,
    "shrunk sd": lambda text: drawn(text).sd,
    "shrunk next sd": lambda text: drawn(text).next_sd,
    "shrunk weight": lambda text: drawn(text).weight,
    "night chance": chance_of,
    "drawn together factor": lambda text: together()[0],
    "drawn together grand mean": lambda text: sum(BATTING) / len(BATTING),
    "drawn together value": lambda text: together()[1][int(text)],
}


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['check']}: {row['case']}" for row in ROWS])
def test_a_published_figure_comes_out(row: dict[str, str]) -> None:
    if row["check"] == "hatch night":
        assert night_for(row["inputs"]) == Night(date.fromisoformat(row["expected"]))
    elif row["check"] == "daily sums":
        sums = sums_of_daily_means(row["inputs"])
        assert sums == pytest.approx(numbers(row["expected"]), abs=float(row["tolerance"]))
    else:
        got = CHECKS[row["check"]](row["inputs"])
        assert got == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_every_row_names_its_source_and_its_standing() -> None:
    for row in ROWS:
        assert row["source"]
        assert row["standing"] in STANDINGS


def test_the_default_curve_meets_all_twelve_published_durations() -> None:
    misses = [
        CLOWNFISH.days_at(float(row["inputs"])) - float(row["expected"])
        for row in ROWS
        if row["check"] == "steady days"
    ]
    assert len(misses) == 12
    assert sqrt(sum(miss**2 for miss in misses) / 12) <= 0.85
    assert abs(sum(misses) / 12) <= 0.3


def test_eight_days_about_27_c_hatch_on_the_evening_of_day_eight() -> None:
    means = next(row["inputs"] for row in ROWS if row["check"] == "daily sums")
    sums = sums_of_daily_means(means)
    assert next(day for day, total in enumerate(sums, 1) if total >= CLOWNFISH.k_degree_days) == 8


# 34–70 min after sunset, Moyer & Bell 1976, to 3 h after dark, Dhaneesh et al.; common practice
def test_the_watch_is_from_a_quarter_past_dark_to_its_third_hour_on_every_night() -> None:
    hours = {
        (ROOM.local(window.watch_from).time(), ROOM.local(window.watch_until).time())
        for window in nights_of_a_clutch()
    }
    assert hours == {(time(20, 15), time(23))}
