"""From which clutches the fish of a batch may come, followed through every move of fish."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

Thing = TypeVar("Thing", bound=Hashable)


@dataclass(frozen=True)
class Flow:
    """Fish that came into a batch: out of another one, or (`out_of` None) from outside."""

    into: int
    out_of: int | None


def follows(flows: Iterable[Flow], batch: int) -> tuple[int, ...]:
    """A batch, then every batch that fish of it came into, in the order they are reached."""
    ways: dict[int, list[int]] = {}
    for flow in flows:
        if flow.out_of is not None:
            ways.setdefault(flow.out_of, []).append(flow.into)
    reached = [batch]
    for one in reached:  # grows while it is walked; a batch is reached once
        reached += [into for into in dict.fromkeys(ways.get(one, ())) if into not in reached]
    return tuple(reached)


def came_through(flows: Iterable[Flow], batch: int) -> tuple[int, ...]:
    """A batch, then every batch that fish of it came out of, in the order they are reached."""
    back = (Flow(flow.out_of, flow.into) for flow in flows if flow.out_of is not None)
    return follows(back, batch)


def gathered(
    flows: Iterable[Flow],
    batches: Iterable[int],
    own: Mapping[int, frozenset[Thing]],
    standing: Mapping[int, frozenset[Thing]],
) -> dict[int, frozenset[Thing]]:
    """What each of these batches holds, of a thing that goes wherever fish go (clutches, nights).

    `own` is what came into it from outside, `standing` what a batch not among these has. Fish may
    go to and fro between two batches: then both hold what either does. A batch of which nothing
    is said, of its own or by where its fish come from, keeps what it has; an empty set says none.
    """
    affected = tuple(batches)
    ways = [flow for flow in flows if flow.into in affected and flow.out_of is not None]
    found = {one: own.get(one, frozenset()) for one in affected}
    said = set(own)
    for flow in ways:
        if flow.out_of not in found and flow.out_of is not None:
            found[flow.into] |= standing.get(flow.out_of, frozenset())
    while True:
        before, spoken = dict(found), set(said)
        for flow in ways:
            if flow.out_of in before:
                found[flow.into] |= found[flow.out_of]
                said |= {flow.into} if flow.out_of in said else set()
        if found == before and said == spoken:
            break
    return {
        one: held if held or one in said else standing.get(one, frozenset())
        for one, held in found.items()
    }
