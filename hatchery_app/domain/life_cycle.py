"""The rooms of the program: first the life of a fish in its order, then what crosses it.

This is the table of contents. The navigation, the packages of pages and the developers' map
are checked against it, so a new room begins here.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Room:
    """One room: its word in the code and the address, its heading, what stands in it.

    `is_stage` is true where the room is a stretch of a fish's life, false where it crosses them.
    """

    word: str
    plural: str
    sentence: str
    is_stage: bool

    @property
    def label(self) -> str:
        """The word as a heading says it: "Larval tank"."""
        return self.word.replace("_", " ").capitalize()

    @property
    def address(self) -> str:
        """The first part of its pages' address: "/larval-tanks"."""
        return "/" + self.plural.replace("_", "-")


STAGES: tuple[Room, ...] = (
    Room(
        "broodstock", "broodstock",
        "The breeding fish: who they are, who is paired with whom, and who could step in.", True,
    ),
    Room(
        "spawn", "spawns",
        "A laying: when, by which pair, on what, and about how many eggs.", True,
    ),
    Room(
        "clutch", "clutches",
        "Eggs on their way to a hatch: what they look like, and which night it may be.", True,
    ),
    Room(
        "larval_tank", "larval_tanks",
        "Larvae in a tank, from their first night until the last of them has settled.", True,
    ),
    Room(
        "cohort", "cohorts",
        "Settled fish growing on: counts, lengths, grades, and how many are free to sell.", True,
    ),
    Room(
        "sale", "sales",
        "Fish promised and fish gone: holds, sales in parts, losses on arrival.", True,
    ),
)

CROSSING: tuple[Room, ...] = (
    Room(
        "today", "today",
        "The day's work in the order of the clock and of the walk through the room.", False,
    ),
    Room(
        "live_food", "live_food",
        "Rotifers, brine shrimp and algae: what the larvae will need, and what there will be.",
        False,
    ),
    Room(
        "tank", "tanks",
        "Every tank and its water: what stands in it, whether it is ready, what was measured.",
        False,
    ),
    Room(
        "species", "species",
        "What is known of each species, with a source beside every figure.", False,
    ),
    Room(
        "stock_book", "stock_book",
        "Every fish in and every fish out, and what is unexplained.", False,
    ),
    Room(
        "records", "records",
        "Who wrote what, what was corrected, and copies kept safe.", False,
    ),
)

ROOMS: tuple[Room, ...] = STAGES + CROSSING
