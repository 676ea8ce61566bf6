"""Balances at a moment in words."""

from dataclasses import dataclass

from flask import g

from hatchery_app.domain.when import When, say_when
from hatchery_app.services.stock_book.stock_balances import BalanceLine, Per, StockBalances
from hatchery_app.web.addresses import address_of
from hatchery_app.web.stock_book.moment_forms import MomentAsked
from hatchery_app.web.stock_book.presenter import (
    HeldLine,
    holding_url,
    unexplained_said,
    where_all_went,
)


@dataclass(frozen=True)
class BalancePage:
    """What was held: the lines and their sum; `ways` are what else it is drawn up for."""

    heading: str
    lead: str
    lines: tuple[HeldLine, ...]
    together: HeldLine
    per: str
    ways: tuple[tuple[str, str, bool], ...]
    at: MomentAsked
    known: MomentAsked
    with_empty: bool


def listed(
    found: StockBalances, at: MomentAsked, known: MomentAsked, with_empty: bool
) -> BalancePage:
    """The page of balances."""
    room_time = g.room.room_time
    when = "now"
    if at.moment is not None:
        when = say_when(When.exactly(at.moment), room_time, year=True)
    as_known = ""
    if known.moment is not None:
        as_known = f", as known {say_when(When.exactly(known.moment), room_time, year=True)}"
    asked = {
        name: typed
        for name, typed in (
            ("at_on", at.day), ("at_time", at.time), ("known_on", known.day),
            ("known_time", known.time), ("empty", "1" if with_empty else ""),
        )
        if typed
    }  # fmt: skip
    return BalancePage(
        heading="Balances",
        lead=f"Held {when}{as_known}",
        lines=tuple(_line(line, found.per) for line in found.lines),
        together=HeldLine(
            "All together", "", found.together.now.said(), where_all_went(found.together),
            unexplained_said(found.together, room_time),
        ),
        per=found.per,
        ways=tuple(
            (str(per), address_of("stock_book.balances", per=per, **asked), per is found.per)
            for per in Per
        ),
        at=at,
        known=known,
        with_empty=with_empty,
    )  # fmt: skip


def _line(line: BalanceLine, per: Per) -> HeldLine:
    balance = line.balance
    parts = [where_all_went(balance)]
    if per is not Per.BATCH:
        names = [one.full_name for one in line.holdings]
        parts.append(", ".join(names[:6]) + (f" and {len(names) - 6} more" if names[6:] else ""))
    unexplained = unexplained_said(balance, g.room.room_time)
    return HeldLine(
        line.name, _url(line, per), balance.now.said(), " · ".join(parts), unexplained
    )


def _url(line: BalanceLine, per: Per) -> str:
    if per is Per.BATCH:
        return address_of("stock_book.batch", holding_id=line.holdings[0].id)
    if per is Per.SPECIES:
        return address_of("stock_book.survival", key=line.holdings[0].species_key)
    named = {
        Per.TANK: ("tank.show", "tank_id"),
        Per.CLUTCH: ("clutch.show", "clutch_id"),
        Per.PAIR: ("broodstock.pair", "pair_id"),
    }
    endpoint, word = named[per]
    if line.fact_id is None:
        return holding_url(line.holdings[0]) if len(line.holdings) == 1 else ""
    return address_of(endpoint, **{word: line.fact_id})
