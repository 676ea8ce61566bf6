"""Spawning intervals, shrinkage and cumulative sums against print: one row, one test."""

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import NormalDist

import pytest

from hatchery_app.domain.shrinkage import shrunk
from hatchery_app.domain.spawn.drift import cusum
from hatchery_app.domain.spawn.pooled_rhythm import rhythm_across_pairs
from hatchery_app.domain.spawn.spawn_rhythm import intervals_days, mean_interval_days

TABLE = Path(__file__).with_name("spawning.csv")
ROWS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))


def numbers(text):
    return [float(part) for part in text.split()]


def ends(text):
    return [datetime.fromisoformat(part).replace(tzinfo=UTC) for part in text.split()]


def interval(row):
    return mean_interval_days(*ends(row["values"]), int(row["given"]))


def window(mean, sd, at):
    return NormalDist(mean, sd).inv_cdf(0.025 if at == "low95" else 0.975)


def drawn(row):
    general, general_sd, single_sd = numbers(row["given"])
    blend = shrunk(general, general_sd, numbers(row["values"]), single_sd)
    if row["at"] in {"mean", "next_sd", "weight"}:
        return getattr(blend, row["at"])
    return window(blend.mean, blend.next_sd, row["at"])


def pooled(row):
    own = {i: numbers(part) for i, part in enumerate(row["values"].split("|"))}
    found = rhythm_across_pairs(own)
    if row["given"] == "":
        return {"within": found.within_variance, "between": found.between_variance,
                "mean": found.mean}[row["at"]]
    mean, weight, sd = found.of_pair[int(row["given"])]
    if row["at"] in {"post", "weight"}:
        return mean if row["at"] == "post" else weight
    return window(mean, sd, row["at"])


def sums(row, which):
    target, slack = numbers(row["given"])
    return cusum(numbers(row["values"]), target, slack)[which][int(row["at"]) - 1]


def lower_in_sd(row):
    target, sd, slack = numbers(row["given"])
    values = [x / sd for x in numbers(row["values"])]
    return cusum(values, target / sd, slack)[1][int(row["at"]) - 1]


def number_of_intervals(row):
    start = datetime(2024, 4, 19, tzinfo=UTC)
    return len(intervals_days([start + i * timedelta(days=13) for i in range(int(row["values"]))]))


WORKED = {
    "mean_interval": interval,
    "spawns_a_year": lambda row: 365.25 / interval(row),
    "number_of_intervals": number_of_intervals,
    "shrunk": drawn,
    "pooled": pooled,
    "cusum_upper": lambda row: sums(row, 0),
    "cusum_lower": lambda row: sums(row, 1),
    "cusum_lower_in_sd": lower_in_sd,
}


def name(row):
    return f"{row['source'][:28]} {row['quantity']} {row['given']} {row['at']}".strip()


@pytest.mark.parametrize("row", ROWS, ids=map(name, ROWS))
def test_spawning_is_as_printed(row):
    assert row["source"]
    assert row["standing"] in {"published", "worked by hand"}
    got = WORKED[row["quantity"]](row)
    assert got == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
