"""Kinship, inbreeding and founders against printed pedigrees: one row of the table, one test."""

import csv
from pathlib import Path

import pytest

from hatchery_app.domain.broodstock.breeding_stock import (
    effective_size,
    effective_size_by_families,
    founder_equivalents,
    founder_shares,
    inbreeding_per_generation,
    stock_kinship,
)
from hatchery_app.domain.broodstock.kinship import (
    Birth,
    Pedigree,
    expected_inbreeding,
    inbreeding_of,
    kinship_of,
)

TABLE = Path(__file__).with_name("kinship.csv")
ROWS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))


def pedigree(text):
    """Reads "3=1x2 4=1x?": young = sire x dam."""
    births = []
    for part in text.split():
        young, parents = part.split("=")
        sire, dam = ((int(p),) if p != "?" else () for p in parents.split("x"))
        births.append(Birth(int(young), sire, dam))
    return Pedigree(tuple(births))


def ids(text):
    return [int(part) for part in text.split()]


def settled(kinship):
    assert kinship.low == kinship.high
    return kinship.low


def share(ped, living, fish_id):
    return next(s.low for s in founder_shares(ped, living) if s.fish_id == fish_id)


WORKED = {
    "relationship": lambda p, a, b: 2 * settled(kinship_of(p, int(a), int(b))),
    "kinship": lambda p, a, b: settled(kinship_of(p, int(a), int(b))),
    "inbreeding": lambda p, a, _: settled(inbreeding_of(p, int(a))),
    "expected_inbreeding": lambda p, a, b: settled(expected_inbreeding(p, int(a), int(b))),
    "mean_kinship": lambda p, a, b: settled(stock_kinship(p, ids(a)).of_fish[int(b)]),
    "stock_mean_kinship": lambda p, a, _: settled(stock_kinship(p, ids(a)).mean),
    "gene_diversity": lambda p, a, _: stock_kinship(p, ids(a)).gene_diversity[0],
    "one_over_twice_mean_kinship": lambda p, a, _: stock_kinship(
        p, ids(a)
    ).one_over_twice_mean_kinship[0],
    "founder_share": lambda p, a, b: share(p, ids(a), int(b)),
    "founder_equivalents": lambda p, a, _: founder_equivalents(
        [s.low for s in founder_shares(p, ids(a))]
    ),
    "effective_size": lambda _, a, b: effective_size(int(a), int(b)),
    "effective_size_by_families": lambda _, a, b: effective_size_by_families(
        int(a), *map(float, b.split())
    ),
    "inbreeding_per_generation": lambda _, a, __: inbreeding_per_generation(float(a)),
}


def name(row):
    return f"{row['source'][:28]} {row['quantity']} {row['of'][:24]} {row['with']}".strip()


@pytest.mark.parametrize("row", ROWS, ids=map(name, ROWS))
def test_kinship_is_as_printed(row):
    assert row["source"]
    assert row["standing"] in {"published", "from memory", "worked by hand"}
    got = WORKED[row["quantity"]](pedigree(row["pedigree"]), row["of"], row["with"])
    assert got == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
