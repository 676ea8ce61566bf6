"""A tank's role and state: the words, which states can take larvae tonight, and what a row of
labels ("L1–L12, 40 L") means."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from enum import StrEnum

from hatchery_app.domain.errors import Asked, RuleBroken


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


ONE_LABEL, CAPITALS = "one_label", "capitals"
MOST_LABELS = 200  # one sitting enters a room, not a warehouse
_VOLUME_BEHIND = re.compile(
    r"[,;\s:=(]\s*(\d+(?:[.,]\d+)?\s*"
    r"(?:l|litres?|liters?|ltr|ml|m3|m³|(?:us|imp|imperial|uk)?\s*gal[a-z]*))"
    r"(?:\s+each)?\)?\s*(?=[,;\n]|$)",
    re.IGNORECASE,
)
_ODD_LABEL = re.compile(
    r"\d\s*(?:l|litres?|liters?|ltr|gal[a-z]*)(?:\s|$)|\d\s*(?:-|–|—|\.\.)\s*[^\W\d]*\d",
    re.IGNORECASE,
)
_RANGE = re.compile(r"(.*?)(\d+)\s*(?:-|–|—|\bto\b|\.\.)\s*(.*?)(\d+)", re.IGNORECASE)


def rows_of_tanks(text: str, answers: Mapping[str, str]) -> tuple[tuple[tuple[str, ...], str], ...]:
    """Labels and the volume behind them, row by row: "L1–L6 40 L, G1–G4 200 L" is two rows.

    The volume is "" where none was typed. Raises RuleBroken as `labels_in` does, and Asked under
    "one_label" (answer "one") where a label looks like more than one tank, or like a volume.
    """
    rows: list[tuple[tuple[str, ...], str]] = []
    at = 0
    for behind in _VOLUME_BEHIND.finditer(text):
        if text[at : behind.start()].strip(" ,;\n"):
            rows.append((labels_in(text[at : behind.start()]), behind[1].strip()))
            at = behind.end()
    if text[at:].strip(" ,;\n") or not rows:
        rows.append((labels_in(text[at:]), ""))
    labels = [label for named, _ in rows for label in named]
    _check_labels(labels, "labels")
    _ask_odd(labels, answers)
    return tuple(rows)


def _ask_odd(labels: Sequence[str], answers: Mapping[str, str]) -> None:
    odd = [label for label in labels if " " in label and _ODD_LABEL.search(label)]
    if odd and answers.get(ONE_LABEL) != "one":
        raise Asked(
            f"“{odd[0]}” would be one tank of that name. Is it? Rows are written like "
            "L1–L6 40 L, G1–G4 200 L.",
            ONE_LABEL,
            (("one", f"Yes, one tank called {odd[0]}"),),
            field="labels",
        )


def ask_of_capitals(
    labels: Iterable[str], standing: Iterable[str], answers: Mapping[str, str], field: str
) -> None:
    """Ask where labels differ in capitals only, from one another or from one that stands.

    Raises Asked under "capitals" (answer "another").
    """
    if answers.get(CAPITALS) == "another":
        return
    seen = {label.casefold(): label for label in standing}
    for label in labels:
        like = seen.setdefault(label.casefold(), label)
        if like != label:
            raise Asked(
                f"{label} and {like} differ in capitals only. Are they two tanks?",
                CAPITALS,
                (("another", f"Yes, {label} is another tank"),),
                field=field,
            )


def labels_in(text: str, field: str = "labels") -> tuple[str, ...]:
    """Every label of a row as keepers write it: "L1–L12", "A3-A7", "Q1, Q2", "Nook".

    A range keeps the zeros in front of its first number ("L01–L12"). Raises RuleBroken for a
    range that runs backwards or between two different names, and for a label given twice.
    """
    parts = [part.strip() for part in re.split(r"[,;\n]", text) if part.strip()]
    labels = [label for part in parts for label in _labels_of(part, field)]
    if not labels:
        raise RuleBroken("Say how the tank is labelled.", field=field)
    _check_labels(labels, field)
    return tuple(labels)


def _check_labels(labels: Sequence[str], field: str) -> None:
    if len(labels) > MOST_LABELS:
        raise RuleBroken(f"At most {MOST_LABELS} tanks at once, not {len(labels)}.", field=field)
    for label in labels:
        if len(label) > 40:
            raise RuleBroken(f"“{label}” is too long for a label: at most 40 signs.", field=field)
    twice = sorted({label for label in labels if labels.count(label) > 1})
    if twice:
        raise RuleBroken(f"{', '.join(twice)} was given twice.", field=field)


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
