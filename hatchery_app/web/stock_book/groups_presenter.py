"""Tanks in groups in words: how many did well of how many, and what may be concluded."""

from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.domain.stock_book.survival import say_percent
from hatchery_app.domain.stock_book.tanks_compared import (
    FEWEST_A_SIDE,
    Compared,
    GroupFared,
    TankFared,
)
from hatchery_app.services.stock_book.rearing_groups import By
from hatchery_app.services.stock_book.species_survival import TanksCompared
from hatchery_app.web.addresses import address_of
from hatchery_app.web.drawing import batches_compared
from hatchery_app.web.drawing.batches_compared import BatchesCompared, Fared, Group
from hatchery_app.web.drawing.canvas import Numbers

CALLED = {
    By.PAIR: "pair",
    By.RACK: "rack",
    By.SYSTEM: "system",
    By.FIRST_FOOD: "first food",
    By.SEASON: "season of the hatch",
    By.METHOD: "pulled or left",
}


@dataclass(frozen=True)
class GroupsPart:
    """The groups: ways to group, the form's values, the drawing, the table, the verdict."""

    ways: tuple[tuple[str, str, bool], ...]
    by: str
    action: str
    dph: str
    percent: str
    names: tuple[str, ...]
    one: str
    other: str
    lead: str
    drawing: Markup
    numbers: Numbers
    rows: tuple[tuple[str, str, str], ...]
    difference: str
    verdict: str
    none: str


def part(found: TanksCompared, key: str) -> GroupsPart:
    """The part of the page that compares groups of tanks."""
    chart = BatchesCompared(
        f"Tanks by {CALLED[found.by]}, share alive at {found.dph} dph",
        tuple(_group(group, found) for group in found.groups),
        at=found.line if found.groups else None,
    )
    compared = found.compared
    line = say_percent(found.line)
    whose = "the middle tank of them all" if found.line_is_rooms else "as you asked"
    return GroupsPart(
        ways=tuple(
            (word, address_of("stock_book.survival", key=key, by=by) + "#groups", by is found.by)
            for by, word in CALLED.items()
        ),
        by=found.by,
        action=address_of("stock_book.survival", key=key) + "#groups",
        dph=str(found.dph),
        percent="" if found.line_is_rooms else line,
        names=tuple(group.group for group in found.groups),
        one=compared.one.group if compared else "",
        other=compared.other.group if compared else "",
        lead=f"A tank did well when at least {line} % of its fish lived to {found.dph} dph "
        f"({whose}).",
        drawing=batches_compared.batches_compared(chart),
        numbers=batches_compared.numbers(chart),
        rows=tuple(_row(group) for group in found.groups),
        difference=_difference(compared) if compared else "",
        verdict=compared.verdict if compared else "",
        none="" if found.groups else f"No tank was followed to {found.dph} dph.",
    )


def _group(group: GroupFared, found: TanksCompared) -> Group:
    heading = f"{group.group}: {_tanks(len(group.tanks))}"
    return Group(heading, tuple(_fared(tank, found) for tank in group.tanks))


def _fared(tank: TankFared, found: TanksCompared) -> Fared:
    name = found.names.get(tank.key, "")
    low, high = say_percent(tank.low), say_percent(tank.high)
    said = f"{low} %" if low == high else f"{low}–{high} %"
    return Fared(name, tank.middle, tank.low, tank.high, said)


def _row(group: GroupFared) -> tuple[str, str, str]:
    middle = "" if group.middle is None else f"{say_percent(group.middle)} %"
    undecided = f", {group.undecided} cannot be said" if group.undecided else ""
    return group.group, f"{group.well} of {group.of}{undecided}", middle


def _difference(compared: Compared) -> str:
    """ "+20 points (−12 to +45)", in points of a hundred."""
    if compared.best is None or compared.difference is None:
        return ""
    low, high = compared.difference.low, compared.difference.high
    sides = f"“{compared.one.group}” less “{compared.other.group}”"
    if min(compared.one.of, compared.other.of) < FEWEST_A_SIDE:
        return ""
    band = f"{_points(low)} to {_points(high)}"
    return f"{sides}: {_points(compared.best)} points of a hundred ({band})"


def _points(share: float) -> str:
    return f"{100 * share:+.0f}".replace("-", "−")


def _tanks(number: int) -> str:
    return f"{number} tank{'s' if number != 1 else ''}"
