"""What things are called on a line of the day-book, looked up for a whole page at once."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import select, union_all
from sqlalchemy.orm import Session

from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.domain.today.schedule import TaskName
from hatchery_app.domain.when import RoomTime
from hatchery_app.models.brine_shrimp import CystLot, CystsStarted
from hatchery_app.models.broodstock import BroodGroup, Fish, FishPlaced, HealthBarred, Pair
from hatchery_app.models.clutch import Clutch, ClutchCheck, EggsMoved, Hatch, Laying
from hatchery_app.models.cohort import Held, SetAside
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.live_food import CultureFed
from hatchery_app.models.sale import Sale
from hatchery_app.models.shelf import ShelfItem
from hatchery_app.models.stock_book import Holding, HoldingPlaced, StockCount
from hatchery_app.models.tank import Tank
from hatchery_app.models.today import Chore, TaskAnswered
from hatchery_app.models.treatment import Treatment
from hatchery_app.services.records.record_references import facts_named_by, whole_entries

OF_NO_FACT = frozenset({"check_timers"})  # the figure in its name is a day
STEPS = 3  # a bar lifted names its bar, that its fish; a hatch its clutch, its laying, its pair


@dataclass(frozen=True)
class Names:
    """What facts are called, withdrawn ones too, and the room's clock for what is said."""

    rows: Mapping[int, Entry]
    clutch_of_laying: Mapping[int, Clutch]
    room_time: RoomTime
    stood: Mapping[int, Sequence[tuple[datetime, int]]] = field(default_factory=dict)

    def of_task(self, row: TaskAnswered) -> str:
        """What a line of work was for, and the tank that was in then: "Rusk and Tansy in A4"."""
        served = self.rows.get(_served(row) or 0)
        if served is None:
            return ""
        who = served.female_id if isinstance(served, Pair) else served.fact
        tanks = [tank for since, tank in self.stood.get(who, ()) if since <= row.happened_latest]
        return self.of_row(served) + (f" in {self.of(tanks[-1])}" if tanks else "")

    def of(self, fact_id: int | None) -> str:
        """The name of a fact as the keeper knows it."""
        row = self.rows.get(fact_id or 0)
        return "something unnamed" if row is None else self.of_row(row)

    def of_row(self, row: Entry) -> str:
        """What the thing an entry is about is called."""
        match row:
            case Tank():
                return row.label
            case Fish() | BroodGroup():
                return row.name
            case Pair():
                two = f"{self.of(row.female_id)} and {self.of(row.male_id)}"
                return f"{row.name} ({two})" if row.name else two
            case Clutch():
                return f"Clutch {row.number}" + (f", {row.part}" if row.part else "")
            case Laying():
                eggs = self.clutch_of_laying.get(row.fact)
                return self.of_row(eggs) if eggs is not None else "a laying"
            case Holding():
                word = {Stage.LARVAE: "Batch", Stage.COHORT: "Cohort"}.get(row.stage, "Holding")
                return row.name or f"{word} {row.number}"
            case HealthBarred():
                return self.of(row.fish_id)
            case Held() | SetAside() | Sale() | StockCount():
                return self.of(row.holding_id)
            case Hatch() | ClutchCheck():
                return self.of(row.clutch_id)
            case Chore():
                return row.what
            case ShelfItem():
                return row.name
            case CultureFed():
                return self.of(row.tank_id)
            case Treatment():
                return f"{row.what} in {row.system or self.of(row.tank_id)}"
            case CystLot():
                return self.of(row.shelf_id)
            case CystsStarted():
                return f"the {row.grams:g} g hatch of {self.of(row.lot_id)}"
        return row.kind.replace("_", " ")


def load_names(session: Session, rows: Iterable[Entry], room_time: RoomTime) -> Names:
    """The names of everything these entries speak of; the statements do not grow with them."""
    in_order = sorted(rows, key=lambda row: row.seq)
    found = {row.fact: row for row in in_order if row.kind != "withdrawal"}
    newest = list(found.values())
    tasks = [row for row in newest if isinstance(row, TaskAnswered)]
    served = {fact_id for row in tasks if (fact_id := _served(row)) is not None}
    for step in range(STEPS):
        wanted = {named for row in newest for named in facts_named_by(row)} - set(found)
        wanted |= served - set(found) if step == 0 else set()
        newest = _last_said(session, wanted)
        found |= {row.fact: row for row in newest}
    stood = _stood(session, [found[fact_id] for fact_id in served & set(found)])
    tanks = {tank for spells in stood.values() for _, tank in spells} - set(found)
    found |= {row.fact: row for row in _last_said(session, tanks)}
    return Names(found, _clutches(session, found.values()), room_time, stood)


def _served(row: TaskAnswered) -> int | None:
    """The fact that a line of work was for; None where it was for the room."""
    name = TaskName.parse(row.task)
    return None if name.kind in OF_NO_FACT else name.fact_id


def _stood(
    session: Session, served: Iterable[Entry]
) -> dict[int, list[tuple[datetime, int]]]:
    """Since when each fish, batch or clutch stood in which tank, the earliest first. One
    statement; none where no work is told of."""
    facts = {row.female_id if isinstance(row, Pair) else row.fact for row in served}
    if not facts:
        return {}
    ways = ((FishPlaced, FishPlaced.fish_id, FishPlaced.tank_id),
            (HoldingPlaced, HoldingPlaced.holding_id, HoldingPlaced.tank_id),
            (EggsMoved, EggsMoved.clutch_id, EggsMoved.tank_id))  # fmt: skip
    rows = session.execute(
        union_all(*(
            select(about.label("about"), model.happened_latest.label("since"), tank.label("tank"))
            .where(known(), about.in_(sorted(facts)))
            for model, about, tank in ways
        ))
    )  # fmt: skip
    stood: dict[int, list[tuple[datetime, int]]] = {}
    found: list[Any] = sorted(tuple(row) for row in rows)
    for about, since, tank in found:
        stood.setdefault(about, []).append((since, tank))
    return stood


def _last_said(session: Session, fact_ids: Iterable[int]) -> list[Entry]:
    """What was last said of each fact, whether it still stands or not."""
    wanted = sorted(fact_ids)
    if not wanted:
        return []
    rows = session.scalars(
        select(Entry)
        .options(whole_entries())
        .where(Entry.fact_id.in_(wanted), Entry.kind != "withdrawal")
        .order_by(Entry.seq)
    )
    return list({row.fact: row for row in rows}.values())


def _clutches(session: Session, rows: Iterable[Entry]) -> dict[int, Clutch]:
    layings = sorted(row.fact for row in rows if isinstance(row, Laying))
    if not layings:
        return {}
    found = session.scalars(
        select(Clutch).where(Clutch.laying_id.in_(layings)).order_by(Clutch.seq.desc())
    )
    return {row.laying_id: row for row in found}
