"""How a batch fared, alone, with its clutch over all tanks, and with what was put together."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from hatchery_app.domain.stock_book.stock_book import Balance, Door, Movement, Stage
from hatchery_app.domain.stock_book.survival import NotComputable, Survival, survival
from hatchery_app.services.stock_book.batch_origin import ClutchOrigin
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, Stock


@dataclass(frozen=True)
class BatchLine:
    """A batch in one line: where it is, its book, how it fared."""

    holding_id: int
    name: str
    label: str
    stage: Stage
    balance: Balance
    survival: Survival | NotComputable


@dataclass(frozen=True)
class ClutchLine:
    """A clutch over all its batches that were not mixed. Those put into a mix left it alive."""

    clutch_id: int
    name: str
    pair_id: int | None
    pair: str
    batches: tuple[BatchLine, ...]
    balance: Balance
    survival: Survival | NotComputable


def survival_of(balance: Balance) -> Survival | NotComputable:
    """The share alive or that left alive, of all that came in; fish moved on are not dead."""
    return survival(balance.start, balance.now + balance.left_alive)


def batch_line(stock: Stock, held: HoldingFacts) -> BatchLine:
    """A batch of the stock in one line."""
    balance = stock.balance(held.id)
    label = held.place.label if held.places else ""
    return BatchLine(held.id, held.name, label, held.stage, balance, survival_of(balance))


def clutch_lines(
    stock: Stock, held: HoldingFacts, origins: Mapping[int, ClutchOrigin]
) -> tuple[ClutchLine, ...]:
    """The clutches a batch comes from, each over its own tanks."""
    lines = []
    for clutch_id in held.clutch_ids:
        origin = origins.get(clutch_id)
        own = [one for one in stock.holdings.values() if one.clutch_ids == (clutch_id,)]
        if origin is None or not own:
            continue
        balance = stock.book.together(one.id for one in own)
        lines.append(
            ClutchLine(
                clutch_id, origin.name, origin.pair_id, origin.pair,
                tuple(batch_line(stock, one) for one in own), balance, survival_of(balance),
            )
        )  # fmt: skip
    return tuple(lines)


def put_together_from(stock: Stock, held: HoldingFacts) -> tuple[BatchLine, ...]:
    """The batches a mixed one was put together from, each survival frozen at that moment."""
    if not held.is_mixed:
        return ()
    sources = _sources(stock.book.movements, held.id)
    return tuple(
        batch_line(stock, stock.holdings[one])
        for one in sources
        if one in stock.holdings and stock.holdings[one].clutch_ids != held.clutch_ids
    )


def _sources(movements: Iterable[Movement], holding_id: int) -> list[int]:
    return list(
        dict.fromkeys(
            move.out_of
            for move in movements
            if move.into == holding_id and move.door is Door.MOVED and move.out_of is not None
        )
    )


def parents_said(held: HoldingFacts, origins: Mapping[int, ClutchOrigin]) -> str:
    """ "Bay × Ditto", "Bay × Ditto or Rusk × Tansy" of a mixed batch, or "" where unknown."""
    named = [origins[one].pair for one in held.clutch_ids if one in origins]
    if not any(named):
        return ""
    return " or ".join(dict.fromkeys(pair or "parents unknown" for pair in named))
