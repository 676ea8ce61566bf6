"""Words along a line: each finds a lane where it touches no other, or gives way."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

LETTER_WIDTH = 7.7  # of one letter at the 15 units the style sheet sets; a little generous
BOLD_WIDTH = 8.7
LANE_HEIGHT = 20.0


@dataclass(frozen=True)
class Label:
    """A word at a place along a line."""

    at: float
    text: str

    @property
    def width(self) -> float:
        return len(self.text) * LETTER_WIDTH


@dataclass(frozen=True)
class Placed:
    """A label that has found its lane: `left` is where its text begins, lane 0 is the nearest.

    `led` says whether a line may run down to it from its place.
    """

    label: Label
    left: float
    lane: int
    led: bool = False

    def covers(self, place: float) -> bool:
        """Whether a line drawn down at this place would go through the words."""
        return self.left - 3 < place < self.left + self.label.width + 3


def place_labels(labels: Sequence[Label], right_edge: float, gap: float = 12) -> list[Placed]:
    """Put each label in the first lane where neither its words nor its lead touch another's.

    A label stands with its start at its place, moved left at the right edge; a lead runs down to
    it from the line. Places are taken from the right, so that leads pass beside the words of
    later marks and not through them; a lead that at the edge still would is left out. The answer
    is in the order given.
    """
    placed: dict[int, Placed] = {}
    for place in sorted(range(len(labels)), key=lambda n: -labels[n].at):
        label = labels[place]
        left = max(0.0, min(label.at, right_edge - label.width))
        free = (lane for lane in range(len(labels)) if _fits(label, left, lane, placed, gap))
        placed[place] = Placed(label, left, next(free, len(labels)))
    found = placed.values()
    return [
        replace(one, led=one.lane > 0 and not _crossed(one, found))
        for one in (placed[place] for place in range(len(labels)))
    ]


def _crossed(one: Placed, others: Iterable[Placed]) -> bool:
    return any(other.lane < one.lane and other.covers(one.label.at) for other in others)


def _fits(label: Label, left: float, lane: int, placed: dict[int, Placed], gap: float) -> bool:
    one = Placed(label, left, lane)
    for other in placed.values():
        clear = left + label.width + gap <= other.left or (
            other.left + other.label.width + gap <= left
        )
        if other.lane == lane and not clear:
            return False
        if other.lane > lane and one.covers(other.label.at):
            return False
    return True


def lanes_used(placed: Iterable[Placed]) -> int:
    """How many lanes the labels take; 0 for none."""
    return max((one.lane + 1 for one in placed), default=0)


def place_in_lanes(
    labels: Sequence[Label], ranks: Sequence[int], right_edge: float, most_lanes: int
) -> list[Placed | None]:
    """Place labels in so many lanes, the highest rank first; one that finds no room is None."""
    kept: list[int] = []
    placed: list[Placed] = []
    for n in sorted(range(len(labels)), key=lambda n: -ranks[n]):
        tried = place_labels([labels[one] for one in [*kept, n]], right_edge)
        if lanes_used(tried) <= most_lanes:
            kept, placed = [*kept, n], tried
    found = dict(zip(kept, placed, strict=True))
    return [found.get(n) for n in range(len(labels))]
