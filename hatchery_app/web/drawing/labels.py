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
    """Place labels in so many lanes; where they crowd, the lowest rank gives way and is None."""

    def placed_of(some: Sequence[int]) -> list[Placed]:
        return place_labels([labels[n] for n in some], right_edge)

    kept = list(range(len(labels)))
    gone: list[int] = []
    while lanes_used(placed_of(kept)) > most_lanes:
        gone.append(kept.pop(_gives_way(placed_of(kept), [ranks[n] for n in kept])))
    # One that gave way early may fit again once its neighbours have gone too.
    for back in sorted(gone, key=lambda n: -ranks[n]):
        if lanes_used(placed_of([*kept, back])) <= most_lanes:
            kept.append(back)
    found = dict(zip(kept, placed_of(kept), strict=True))
    return [found.get(n) for n in range(len(labels))]


def _gives_way(placed: Sequence[Placed], ranks: Sequence[int]) -> int:
    """Of the deepest label and those that crowd it, the one of least rank."""
    deepest = max(placed, key=lambda one: one.lane)

    def crowds(one: Placed) -> bool:
        reach = max(one.label.width, deepest.label.width)
        return abs(one.label.at - deepest.label.at) <= reach

    crowd = [n for n, one in enumerate(placed) if crowds(one)]
    return min(crowd, key=lambda n: (ranks[n], -placed[n].lane))
