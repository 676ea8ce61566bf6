"""Thermal time, shrinkage and hatch nights against published figures, one row a check."""

import csv
from datetime import date, datetime, time
from math import sqrt
from pathlib import Path

import pytest

from hatchery_app.domain.clutch.hatch_chances import chances_of_windows
from hatchery_app.domain.clutch.hatch_window import hatch_night
from hatchery_app.domain.clutch.learned_readiness import Readiness, ReadinessInterval
from hatchery_app.domain.clutch.thermal_time import (
    constants_of_rate,
    constants_of_two,
    days_by_q10,
    degree_days,
    k_of_durations,
    q10,
    steady_days,
    sums_of_daily_means,
)
from hatchery_app.domain.shrinkage import shrunk, shrunk_together
from hatchery_app.domain.when import Lights, Night, RoomTime

TABLE = Path(__file__).with_name("thermal_time.csv")
with TABLE.open(encoding="utf-8", newline="") as lines:
    ROWS = list(csv.DictReader(lines))

STANDINGS = {"published", "worked out from published", "worked by hand", "common practice"}
DEFAULT_K, DEFAULT_T0_C = 87.3, 16.0
BATTING = (  # 18 averages after 45 at-bats, as printed
    *(0.400, 0.378, 0.356, 0.333, 0.311, 0.311, 0.289, 0.267, 0.244, 0.244),
    *(0.222, 0.222, 0.222, 0.222, 0.222, 0.200, 0.178, 0.156),
)
LIGHTS = Lights(time(8), time(20))
ROOM = RoomTime("Europe/Berlin")


def numbers(text: str) -> list[float]:
    return [float(part) for part in text.split(";")]


def two_at(text: str) -> float | None:
    *pairs, at_c = numbers(text)
    t0_c, k = constants_of_two(*pairs)
    return steady_days(k, t0_c, at_c)


def q10_at(text: str) -> float:
    days_1, at_1, days_2, at_2, other_c = numbers(text)
    return days_by_q10(days_1, at_1, q10(days_1, at_1, days_2, at_2), other_c)


def summed(text: str) -> float:
    t0, series = text.split("|")
    points = [tuple(map(float, point.split(":"))) for point in series.split(";")]
    return degree_days([(day, at_c) for day, at_c in points], float(t0))


def drawn(text: str):
    general, spread, single, own = text.split(";")
    return shrunk(float(general), float(spread), [float(x) for x in own.split()], float(single))


def chance_of(text: str) -> float:
    ends = [(27 - 12) * (night + 8.5 / 24) for night in range(12)]
    return chances_of_windows(Readiness(104.703, 4.460, 4.0), ends)[int(text)]


def night_for(text: str) -> Night:
    moment = datetime.fromisoformat(text)
    ready_at = ROOM.planned(moment.date(), moment.time())
    return hatch_night(ready_at, LIGHTS, ROOM, hours=3)


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
    "steady days": lambda text: steady_days(DEFAULT_K, DEFAULT_T0_C, float(text)),
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
        sums = sums_of_daily_means(numbers(row["inputs"]), DEFAULT_T0_C)
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
        steady_days(DEFAULT_K, DEFAULT_T0_C, float(row["inputs"])) - float(row["expected"])
        for row in ROWS
        if row["check"] == "steady days"
    ]
    assert len(misses) == 12
    assert sqrt(sum(miss**2 for miss in misses) / 12) <= 0.85
    assert abs(sum(misses) / 12) <= 0.3


def test_eight_days_about_27_c_hatch_on_the_evening_of_day_eight() -> None:
    means = numbers(next(row["inputs"] for row in ROWS if row["check"] == "daily sums"))
    sums = sums_of_daily_means(means, DEFAULT_T0_C)
    assert next(day for day, total in enumerate(sums, start=1) if total >= DEFAULT_K) == 8
