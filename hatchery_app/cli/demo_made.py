"""What the made-up hatchery consists of while it is being made: fish, tanks, clutches by name."""

from pathlib import Path

from sqlalchemy.orm import Session

from hatchery_app.cli.demo_rows import Row
from hatchery_app.services.recording import Posting


class Made:
    """What was made of the rows so far, by the names they use."""

    def __init__(self, session: Session, owner_id: int, seed: Path, folder: Path) -> None:
        self.session = session
        self.owner_id = owner_id
        self.seed = seed
        self.folder = folder
        self.tanks: dict[str, int] = {}
        self.fish: dict[str, int] = {}
        self.pairs: dict[str, int] = {}
        self.clutches: dict[str, int] = {}
        self.hatches: dict[str, int] = {}
        self.holdings: dict[str, int] = {}
        self.placed: dict[int, int] = {}
        self.treatments: dict[str, int] = {}
        self.shelf: dict[str, int] = {}
        self.lots: dict[str, int] = {}
        self.shrimp: dict[str, int] = {}

    def posting(self, row: Row) -> Posting:
        """The owner writes it down at its own past moment; the story knows its odd hatches."""
        answers = {
            "early_hatch": "so", "more_than_best": "raise", "count_above": "missed_earlier",
            "put_in": "not_it",  # a day on, some of them have died unseen
        }  # fmt: skip
        return Posting(now=row.entered_at, by_id=self.owner_id, answers=answers)

    def tank_of(self, holding_id: int) -> int:
        """The tank a batch of larvae was put into."""
        return self.placed[holding_id]
