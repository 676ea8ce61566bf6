"""Is a tank ready tonight, and what must move first: clutches due against larval tanks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

CLEANING_H = 4.0  # soaking, scrubbing, rinsing, filling, matching (common practice)
MOVING_H = 1.0  # settled fish out, the bottom siphoned, water matched (common practice)


class Standing(StrEnum):
    """How a tank stands, as far as a hatch tonight is concerned."""

    READY = "filled and matched"
    DIRTY = "dirty"
    HOLDS_FISH = "holds fish"
    BARRED = "barred"


@dataclass(frozen=True)
class TankTonight:
    """A tank by its label: how it stands, and for fish in it, where they could go.

    `outlets` are the labels of tanks its fish may move to; `fish_ready` whether they may move
    or ship. `reason` says why it is barred.
    """

    label: str
    standing: Standing
    fish_ready: bool = False
    outlets: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True)
class ReadyIf:
    """A larval tank that could be ready tonight: the steps in their order."""

    label: str
    steps: tuple[str, ...]
    hours: float


@dataclass(frozen=True)
class TanksTonight:
    """Clutches due against tanks ready, what could still become ready, and what may not be used."""

    due: int
    ready: tuple[str, ...]
    ready_if: tuple[ReadyIf, ...]
    not_tonight: tuple[str, ...]
    barred: tuple[str, ...]

    @property
    def short(self) -> int:
        """Clutches without a tank as things stand."""
        return max(0, self.due - len(self.ready))

    @property
    def short_after_all_steps(self) -> int:
        """Clutches left without a tank even if every step is done: leave them, or let them go."""
        return max(0, self.due - len(self.ready) - len(self.ready_if))

    def said(self) -> str:
        """In one line: "3 due, 0 tanks ready, 2 could be: L2, L4"."""
        could = ", ".join(tank.label for tank in self.ready_if)
        tanks = "tank" if len(self.ready) == 1 else "tanks"
        said = f"{self.due} due, {len(self.ready)} {tanks} ready, {len(self.ready_if)} could be"
        return f"{said}: {could}" if could else said


def tanks_tonight(
    due: int, larval: Sequence[TankTonight], grow_out: Sequence[TankTonight], hours_left: float
) -> TanksTonight:
    """What stands ready for tonight's clutches, and what could within the hours left.

    Dirty is not free: cleaning takes hours. A tank that holds settled fish needs an outlet that
    is neither barred nor full; a full one whose fish are ready must ship first, and each outlet
    is used once. The keeper decides; nothing is chosen here.
    """
    outlets = {tank.label: tank for tank in grow_out}
    used: set[str] = set()
    ready_if: list[ReadyIf] = []
    not_tonight: list[str] = []
    for tank in larval:
        if tank.standing in (Standing.READY, Standing.BARRED):
            continue
        outlet = _outlet(tank, outlets, used)
        way = _way(tank, outlet)
        if way is None or way.hours > hours_left:
            not_tonight.append(tank.label)
            continue
        if outlet is not None:
            used.add(outlet.label)
        ready_if.append(way)
    return TanksTonight(
        due,
        tuple(tank.label for tank in larval if tank.standing is Standing.READY),
        tuple(ready_if),
        tuple(not_tonight),
        tuple(
            f"{tank.label}: {tank.reason or 'barred'}"
            for tank in (*larval, *grow_out)
            if tank.standing is Standing.BARRED
        ),
    )


def _outlet(
    tank: TankTonight, grow_out: Mapping[str, TankTonight], used: set[str]
) -> TankTonight | None:
    """The first tank its fish may go to: not barred, not taken, not full of fish that stay."""
    if tank.standing is not Standing.HOLDS_FISH or not tank.fish_ready:
        return None
    for label in tank.outlets:
        outlet = grow_out.get(label)
        if outlet is None or label in used or outlet.standing is Standing.BARRED:
            continue
        if outlet.standing is not Standing.HOLDS_FISH or outlet.fish_ready:
            return outlet
    return None


def _way(tank: TankTonight, outlet: TankTonight | None) -> ReadyIf | None:
    """The steps that make a tank ready, and their hours; None where there is no way."""
    if tank.standing is Standing.DIRTY:
        cleaning = (f"clean and rinse {tank.label}", f"fill and match {tank.label}")
        return ReadyIf(tank.label, cleaning, CLEANING_H)
    if outlet is None:
        return None
    first: tuple[str, ...] = ()
    hours = MOVING_H
    if outlet.standing is Standing.HOLDS_FISH:
        first, hours = (f"pack and ship from {outlet.label}",), hours + MOVING_H
    elif outlet.standing is Standing.DIRTY:
        first, hours = (f"clean and fill {outlet.label}",), hours + CLEANING_H
    move = f"move the fish of {tank.label} to {outlet.label}"
    steps = (*first, move, f"siphon and match {tank.label}")
    return ReadyIf(tank.label, steps, hours)
