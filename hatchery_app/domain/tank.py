"""A tank's role and state: the words, which states can take larvae tonight, and what a row of
labels ("L1–L12, 40 L") means."""

from __future__ import annotations

import re
from datetime import datetime
from enum import StrEnum

from hatchery_app.domain.errors import RuleBroken


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


def state_now(
    said: TankState | None,
    said_at: datetime | None,
    *,
    lived_in: bool,
    last_left_at: datetime | None,
) -> TankState:
    """How a tank stands, from what was last said of it and from who lives there.

    Where something lives it is in use; where the last has left since anybody said how it stands,
    it is empty and dirty; a tank nobody said anything of is dirty too, because empty is not
    ready. A bar stands until it is lifted, and a tank taken apart holds nothing to leave.
    """
    if said is TankState.BARRED:
        return said
    if lived_in:
        return TankState.IN_USE
    if said is None or said_at is None:
        return TankState.DIRTY
    if last_left_at is not None and last_left_at > said_at and said is not TankState.APART:
        return TankState.DIRTY
    return said


MOST_LABELS = 200  # one sitting enters a room, not a warehouse
_VOLUME_BEHIND = re.compile(
    r"[,;\s]\s*(\d+(?:[.,]\d+)?\s*(?:l|litres?|liters?|ltr|ml|m3|m³|(?:us|imp|imperial|uk)?\s*gal\w*))"
    r"\s*(?:each)?\s*$",
    re.IGNORECASE,
)
_RANGE = re.compile(r"(.*?)(\d+)\s*(?:-|–|—|\bto\b|\.\.)\s*(.*?)(\d+)", re.IGNORECASE)


def split_labels_and_volume(text: str) -> tuple[tuple[str, ...], str]:
    """Labels and the volume behind them: "L1–L12, 40 L" is twelve labels and "40 L".

    The volume is "" where none was typed. Raises RuleBroken as `labels_in` does.
    """
    behind = _VOLUME_BEHIND.search(text)
    if behind is None:
        return labels_in(text), ""
    return labels_in(text[: behind.start()]), behind[1].strip()


def labels_in(text: str, field: str = "labels") -> tuple[str, ...]:
    """Every label of a row as keepers write it: "L1–L12", "A3-A7", "Q1, Q2", "Nook".

    A range keeps the zeros in front of its first number ("L01–L12"). Raises RuleBroken for a
    range that runs backwards or between two different names, and for a label given twice.
    """
    parts = [part.strip() for part in re.split(r"[,;\n]", text) if part.strip()]
    labels = [label for part in parts for label in _labels_of(part, field)]
    if not labels:
        raise RuleBroken("Say how the tank is labelled.", field=field)
    if len(labels) > MOST_LABELS:
        raise RuleBroken(f"At most {MOST_LABELS} tanks at once, not {len(labels)}.", field=field)
    for label in labels:
        if len(label) > 40:
            raise RuleBroken(f"“{label}” is too long for a label: at most 40 signs.", field=field)
    twice = sorted({label for label in labels if labels.count(label) > 1})
    if twice:
        raise RuleBroken(f"{', '.join(twice)} was given twice.", field=field)
    return tuple(labels)


def _labels_of(part: str, field: str) -> list[str]:
    match = _RANGE.fullmatch(part)
    if match is None:
        return [part]
    name, first, other, last = match[1], match[2], match[3], match[4]
    if other and other != name:
        raise RuleBroken(
            f"“{part}” runs from one name to another: write {name}{first}–{name}{last}.",
            field=field,
        )
    if int(last) < int(first):
        raise RuleBroken(f"“{part}” runs backwards; write the smaller number first.", field=field)
    if int(last) - int(first) >= MOST_LABELS:
        raise RuleBroken(f"“{part}” is more than {MOST_LABELS} tanks.", field=field)
    digits = len(first) if first.startswith("0") else 0
    return [f"{name}{number:0{digits}d}" for number in range(int(first), int(last) + 1)]
