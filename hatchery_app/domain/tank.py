"""A tank's role and state: the words, and which states can take larvae tonight."""

from enum import StrEnum


class TankRole(StrEnum):
    """What a tank is kept for."""

    BROODSTOCK = "broodstock"
    LARVAL = "larval"
    GROW_OUT = "grow-out"
    QUARANTINE = "quarantine"
    VESSEL = "hatching vessel"
    CULTURE = "live food"


class TankState(StrEnum):
    """How a tank stands. Empty is not ready: it is dirty until somebody cleaned it."""

    IN_USE = "in use"
    DIRTY = "empty and dirty"
    CLEANING = "cleaning"
    READY = "filled and matched"
    BARRED = "barred"
    APART = "taken apart"


STEPS_TO_READY: dict[TankState, str] = {
    TankState.READY: "",
    TankState.CLEANING: "rinse, fill, match",
    TankState.DIRTY: "scrub, rinse, fill, match",
    TankState.IN_USE: "move what lives there, then scrub, rinse, fill, match",
    TankState.APART: "put together, rinse, fill, match",
}
"""What still stands between a tank and larvae; a barred tank is not a target at all."""


def may_receive(state: TankState) -> bool:
    """Whether larvae can go in as it stands: filled and matched, or in use (asked about)."""
    return state in (TankState.READY, TankState.IN_USE)
