"""What was held at a moment, by batch, tank, clutch, pair or species, as known now or once."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from sqlalchemy.orm import Session

from hatchery_app.domain.stock_book.stock_book import Balance
from hatchery_app.services.records.room import room_now
from hatchery_app.services.remembering import known_at
from hatchery_app.services.stock_book import batch_origin, batch_survival
from hatchery_app.services.stock_book.batch_origin import ClutchOrigin
from hatchery_app.services.stock_book.holding_facts import (
    HoldingFacts,
    Stock,
    load_stock,
    walking_order,
)
from hatchery_app.services.stock_book.species_survival import species_name

# No batch with fish goes so long without a count or a loss; what is older is not read.
LONGEST_SILENT = timedelta(days=3 * 366)


class Per(StrEnum):
    """What balances are drawn up for."""

    BATCH = "batch"
    TANK = "tank"
    CLUTCH = "clutch"
    PAIR = "pair"
    SPECIES = "species"


@dataclass(frozen=True)
class BalanceLine:
    """The fish of one batch, tank, clutch, pair or species together.

    `fact_id` names what the line is of, where it is one thing: None for a mixed batch's clutches.
    """

    name: str
    balance: Balance
    holdings: tuple[HoldingFacts, ...]
    fact_id: int | None = None


@dataclass(frozen=True)
class StockBalances:
    """The lines in walking order, and all of them together; `at` is the moment asked after."""

    per: Per
    at: datetime
    known: datetime | None
    lines: tuple[BalanceLine, ...]
    together: Balance


def stock_balances(
    session: Session, *, per: Per, at: datetime, known: datetime | None = None,
    with_empty: bool = False,
) -> StockBalances:  # fmt: skip
    """Balances at a moment, from what was known by another (None: now). Ten statements or eleven,
    however many batches there are."""
    room = room_now(session)
    at_seq = known_at(session, known) if known is not None else None
    stock = load_stock(session, room, written_since=at - LONGEST_SILENT, at_seq=at_seq)
    clutch_ids = {one for held in stock.holdings.values() for one in held.clutch_ids}
    origins = batch_origin.origins_of(session, clutch_ids)
    lines = _lines(stock, per, at, origins)
    shown = [line for line in lines if with_empty or line.balance.best != 0]
    everyone = [held.id for line in lines for held in line.holdings]
    return StockBalances(per, at, known, tuple(shown), stock.book.together(everyone, at))


def _lines(
    stock: Stock, per: Per, at: datetime, origins: Mapping[int, ClutchOrigin]
) -> list[BalanceLine]:
    grouped: dict[tuple[str, int | None], list[HoldingFacts]] = {}
    begun = [one for one in stock.holdings.values() if one.began.earliest <= at]
    for held in sorted(begun, key=walking_order):
        grouped.setdefault(_group(per, stock, held, at, origins), []).append(held)
    return [_line(stock, name, fact_id, group, at) for (name, fact_id), group in grouped.items()]


def _line(
    stock: Stock, name: str, fact_id: int | None, group: Iterable[HoldingFacts], at: datetime
) -> BalanceLine:
    held = tuple(group)
    balance = stock.book.together((one.id for one in held), at)
    return BalanceLine(name, balance, held, fact_id)


def _group(
    per: Per, stock: Stock, held: HoldingFacts, at: datetime, origins: Mapping[int, ClutchOrigin]
) -> tuple[str, int | None]:
    if per is Per.BATCH:
        return held.full_name, held.id
    if per is Per.TANK:
        return _tank_of(stock, held, at)
    if per is Per.CLUTCH:
        named = [origins[one].name for one in held.clutch_ids if one in origins]
        only = held.clutch_ids[0] if len(held.clutch_ids) == 1 else None
        return " or ".join(named) or "clutch not known", only
    if per is Per.PAIR:
        pairs = {origins[one].pair_id for one in held.clutch_ids if one in origins}
        only = next(iter(pairs)) if len(pairs) == 1 else None
        return batch_survival.parents_said(held, origins) or "parents not known", only
    return species_name(held.species_key) or "species not known", None


def _tank_of(stock: Stock, held: HoldingFacts, at: datetime) -> tuple[str, int | None]:
    """The tank a batch was in then; one that had left by then stands under the tank it left."""
    begun = [place for place in held.places if place.since.earliest <= at]
    if not begun:
        return "tank not known", None
    return begun[-1].label, begun[-1].tank_id
