"""Into which group a batch falls, by what was recorded of it: pair, rack, food, season, method."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from hatchery_app.domain.stock_book.tanks_compared import NOT_RECORDED
from hatchery_app.models.clutch import Hatch
from hatchery_app.models.larval_tank import StageMark, StageSeen
from hatchery_app.models.tank import Tank
from hatchery_app.services.stock_book import batch_survival
from hatchery_app.services.stock_book.batch_origin import ClutchOrigin
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, Stock


class By(StrEnum):
    """What tanks are grouped by."""

    PAIR = "pair"
    RACK = "rack"
    SYSTEM = "system"
    FIRST_FOOD = "first-food"
    SEASON = "season"
    METHOD = "method"


SEASONS = ("December to February", "March to May", "June to August", "September to November")


@dataclass(frozen=True)
class Surroundings:
    """What stands around some batches: tanks and hatches by fact, and their marks."""

    tanks: Mapping[int, Tank]
    hatches: Mapping[int, Hatch]
    marks: tuple[StageSeen, ...]


def group_of(
    by: By,
    stock: Stock,
    held: HoldingFacts,
    origins: Mapping[int, ClutchOrigin],
    around: Surroundings,
) -> str:
    """The group a batch falls into; "not recorded" where nobody said."""
    tank = around.tanks.get(held.places[0].tank_id) if held.places else None
    if by is By.PAIR:
        return batch_survival.parents_said(held, origins) or NOT_RECORDED
    if by is By.RACK:
        return (f"rack {tank.rack}" if tank is not None and tank.rack else "") or NOT_RECORDED
    if by is By.SYSTEM:
        return (tank.system if tank is not None else "") or NOT_RECORDED
    if by is By.SEASON:
        return _season(held)
    return _first_food(held, around) if by is By.FIRST_FOOD else _method(stock, held, around)


def _season(held: HoldingFacts) -> str:
    if held.hatched is None:
        return NOT_RECORDED
    return SEASONS[held.hatched[0].evening.month % 12 // 3]


def _first_food(held: HoldingFacts, around: Surroundings) -> str:
    """Brine shrimp from the first meal on, or something smaller before them."""
    first = {
        mark: min(
            (row.when.latest for row in around.marks
             if row.holding_id == held.id and row.mark is mark),
            default=None,
        )
        for mark in (StageMark.FIRST_FOOD, StageMark.FIRST_SHRIMP)
    }  # fmt: skip
    food, shrimp = first[StageMark.FIRST_FOOD], first[StageMark.FIRST_SHRIMP]
    if food is None and shrimp is None:
        return NOT_RECORDED
    if shrimp is not None and (food is None or shrimp <= food):
        return "brine shrimp first"
    return "smaller food first"


def _method(stock: Stock, held: HoldingFacts, around: Surroundings) -> str:
    told = (stock.told.get(row.entry.seq) for row in stock.rows(held.id))
    hatches = (around.hatches.get(one.hatch_id or 0) for one in told if one is not None)
    methods = {hatch.method.value for hatch in hatches if hatch is not None}
    return " and ".join(sorted(methods)) or NOT_RECORDED
