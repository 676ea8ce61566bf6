"""What the trade holds of rank, sex and look in clownfish: one row of the table, one test."""

import csv
from pathlib import Path

import pytest

from hatchery_app.domain.broodstock.body_length import rank_ladder_mm
from hatchery_app.domain.broodstock.broodstock import dorsal_spines_say
from hatchery_app.domain.broodstock.sex_state import Sex, may_become, roles_by_size
from hatchery_app.domain.species.species import SexSystem

TABLE = Path(__file__).with_name("broodstock.csv")
ROWS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))
MALE_FIRST = SexSystem.PROTANDROUS


def rank_and_number(given):
    rank, number = given.split(" of ")
    return int(rank), int(number)


def role_of_rank(given, lost=()):
    rank, number = rank_and_number(given)
    group = [fish for fish in range(1, number + 1) if fish not in lost]
    return roles_by_size(group, MALE_FIRST)[rank]


def holds(rule, given, expected):
    if rule == "may_become":
        return Sex(expected) in may_become(Sex(given), MALE_FIRST)
    if rule == "never_becomes":
        return Sex(expected) not in may_become(Sex(given), MALE_FIRST)
    if rule == "role_of_rank":
        return role_of_rank(given) is Sex(expected)
    if rule == "role_after_loss_of_largest":
        return role_of_rank(given, lost=(1,)) is Sex(expected)
    if rule == "dorsal_spines":
        return f"speaks for {expected}" in dorsal_spines_say(int(given))
    rank, largest = rank_and_number(given)
    return abs(rank_ladder_mm(largest, 4)[rank - 1] - float(expected)) <= 0.1


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['rule']} {r['given']} ({r['standing']})")
def test_broodstock_rule_holds(row):
    assert row["source"]
    assert row["standing"] in {"published", "common practice"}
    assert holds(row["rule"], row["given"], row["expected"])
