"""The line of origin: fish sold back to the first stock, with dates, gaps shown as gaps.

A mixed batch is "one of" its clutches all the way back; no chain through it is made up.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.broodstock import Origin
from hatchery_app.domain.sale.sale import Born, generation_said
from hatchery_app.domain.spawn.parents import KnownAs, Parent, Parents
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock.stock_record import FishRecord, StockRecord
from hatchery_app.services.broodstock.stock_record import load_stock as load_breeders
from hatchery_app.services.clutch.brood_clutches import BroodClutch, load_brood_clutches
from hatchery_app.services.cohort import cohort_facts
from hatchery_app.services.records.room import room_now
from hatchery_app.services.sale import sale_page
from hatchery_app.services.sale.sale_page import SaleLine
from hatchery_app.services.species.library import species_or_none
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, Stock, load_stock


@dataclass(frozen=True)
class OriginStep:
    """One step back. `depth` is how far from the fish sold; `is_gap`: the records end here."""

    depth: int
    what: str
    said: str = ""
    dated: tuple[tuple[str, When], ...] = ()
    is_gap: bool = False


@dataclass(frozen=True)
class OriginPage:
    """A sale with its line of origin, and which generation the fish are where that is known."""

    sale: SaleLine
    species: str
    steps: tuple[OriginStep, ...]
    generation: str


def origin_page(session: Session, *, sale_id: int) -> OriginPage:
    """The line of a sale. Raises NotKnown. A fixed number of statements."""
    sale = sale_page.sale_page(session, sale_id=sale_id)
    before = _came_from(cohort_facts.moves_between(session), sale.holding_id)
    stock = load_stock(session, room_now(session), holding_ids={sale.holding_id, *before})
    held = stock.holding(sale.holding_id)
    clutches = {one.clutch_id: one for one in load_brood_clutches(session)}
    line = _Line(load_breeders(session), clutches)
    line.holdings(stock, held, before)
    line.batch(held)
    species = species_or_none(held.species_key)
    said = f"{species.scientific_name} ({species.common_name})" if species else "not recorded"
    return OriginPage(sale, said, tuple(line.steps), line.generation(held))


def _came_from(moves: cohort_facts.Moves, holding_id: int) -> list[int]:
    """The holdings its fish were in before, nearest first."""
    back: dict[int, list[int]] = {}
    for out_of, onward in moves.items():
        for into, _at in onward:
            back.setdefault(into, []).append(out_of)
    found: list[int] = []
    waiting = [holding_id]
    while waiting:
        for one in back.get(waiting.pop(0), ()):
            if one not in found and one != holding_id:
                found.append(one)
                waiting.append(one)
    return found


@dataclass
class _Line:
    """The steps, as they are walked back. Every clutch and fish is told once."""

    stock: StockRecord
    clutches: Mapping[int, BroodClutch]
    steps: list[OriginStep] = field(default_factory=list)
    told: set[int] = field(default_factory=set)

    def holdings(self, stock: Stock, held: HoldingFacts, before: list[int]) -> None:
        """The cohort itself and the batches it came from."""
        for holding_id in (held.id, *before):
            if holding_id not in stock.holdings:
                continue
            one = stock.holdings[holding_id]
            self.steps.append(
                OriginStep(0, one.full_name, self._hatched(one), (("here from", one.began),))
            )
            for move in stock.book.movements:
                if move.into == holding_id and move.door is Door.FOUND:
                    self.steps.append(
                        OriginStep(
                            0, f"{move.number.said()} found in {one.name}",
                            "where they came from is not recorded", (("found", move.when),), True,
                        )
                    )  # fmt: skip

    @staticmethod
    def _hatched(one: HoldingFacts) -> str:
        if one.hatched is None:
            return "hatch not recorded"
        first, last = one.hatched
        if first == last:
            return f"hatched the night of {first.said(year=True)}"
        return f"hatched between the nights of {first.said(year=True)} and {last.said(year=True)}"

    def batch(self, held: HoldingFacts) -> None:
        """The clutches of the cohort, one or several."""
        if not held.clutch_ids:
            self.steps.append(
                OriginStep(1, "Clutch not recorded", "they were here when the records began",
                           is_gap=True)
            )  # fmt: skip
        if held.is_mixed:
            self.steps.append(
                OriginStep(
                    1, f"One of {len(held.clutch_ids)} clutches",
                    "put together; which fish came of which is not recorded, and is not guessed",
                    is_gap=True,
                )
            )  # fmt: skip
        for clutch_id in held.clutch_ids:
            self.clutch(clutch_id, 1, "either " if held.is_mixed else "")

    def clutch(self, clutch_id: int, depth: int, which: str = "") -> None:
        """A clutch, and behind it its mother and its father."""
        clutch = self.clutches.get(clutch_id)
        if clutch is None:
            self.steps.append(OriginStep(depth, "Clutch withdrawn since", is_gap=True))
            return
        dated = (("laid", clutch.laid), *(("hatched", when) for when in clutch.hatched))
        part = f", {clutch.part}" if clutch.part else ""
        name = f"{which}clutch {clutch.number}{part}"
        again = clutch_id in self.told
        said = f"{self._parent_words('mother', clutch.parents.female)}; " + self._parent_words(
            "father", clutch.parents.male
        )
        self.steps.append(
            OriginStep(depth, name[0].upper() + name[1:], "see above" if again else said,
                       () if again else dated)
        )  # fmt: skip
        if not again:
            self.told.add(clutch_id)
            self.both(clutch.parents, depth + 1)

    def _parent_words(self, role: str, parent: Parent) -> str:
        labels = dict.fromkeys(parent.fish_ids, "a fish withdrawn since")
        labels |= self.stock.labels
        if parent.group_id is not None and parent.group_id not in labels:
            labels[parent.group_id] = "a group withdrawn since"
        return f"{role} {parent.said(labels)}"

    def both(self, parents: Parents, depth: int) -> None:
        """Mother and father."""
        self.parent("mother", parents.female, depth)
        self.parent("father", parents.male, depth)

    def parent(self, role: str, parent: Parent, depth: int) -> None:
        """One parent: a fish and what is behind it, or where the records end."""
        if not parent.fish_ids:
            first_stock = parent.known_as is KnownAs.WILD
            words = self._parent_words(role, parent)
            self.steps.append(
                OriginStep(depth, words[0].upper() + words[1:],
                           "first stock" if first_stock else "nothing before is recorded",
                           is_gap=not first_stock)
            )  # fmt: skip
        for fish_id in parent.fish_ids:
            record = self.stock.fish.get(fish_id)
            if record is None:
                self.steps.append(OriginStep(depth, "A fish withdrawn since", is_gap=True))
            elif fish_id in self.told:
                name = self.stock.labels[fish_id]
                self.steps.append(OriginStep(depth, f"{role.capitalize()} {name}", "see above"))
            else:
                self.told.add(fish_id)
                one_of = "One possible " if len(parent.fish_ids) > 1 else ""
                self.fish(f"{one_of}{role}".capitalize(), record, depth)

    def fish(self, role: str, record: FishRecord, depth: int) -> None:
        """A breeding fish and what is behind it."""
        fish = record.fish
        told = (("came", fish.arrived), ("hatched", fish.born))
        dated = tuple((word, when) for word, when in told if when is not None)
        name = f"{role} {self.stock.labels[fish.fish_id]}"
        said = "origin not known" if fish.origin is Origin.UNKNOWN else str(fish.origin)
        origin = f"{said}: {fish.origin_said}" if fish.origin_said else said
        behind = bool(record.parents.candidates)
        known = behind or record.clutch_id is not None
        wild = fish.origin is Origin.WILD
        ends = "" if known else "; first stock" if wild else "; what was before is not recorded"
        self.steps.append(
            OriginStep(depth, name, f"{origin}{ends}", dated, not known and not wild)
        )
        if record.clutch_id is not None:
            self.clutch(record.clutch_id, depth + 1)
        elif behind:
            self.both(record.parents, depth + 1)

    def generation(self, held: HoldingFacts) -> str:
        """Said of one clutch only; a mixed batch has no one answer."""
        if len(held.clutch_ids) != 1 or held.clutch_ids[0] not in self.clutches:
            return ""
        parents = self.clutches[held.clutch_ids[0]].parents
        return generation_said(self._born(parents.female), self._born(parents.male))

    def _born(self, parent: Parent) -> Born:
        if parent.known_as is KnownAs.WILD:
            return Born.WILD
        record = self.stock.fish.get(parent.fish_ids[0]) if len(parent.fish_ids) == 1 else None
        if record is None:
            return Born.UNKNOWN
        if record.clutch_id is not None:
            return Born.HERE
        return Born.WILD if record.fish.origin is Origin.WILD else Born.UNKNOWN
