"""Larvae into tanks, from tank to tank, apart and together; settled fish on to grow-out.

Every fish moves through the stock book. Parts of one clutch that meet again are that clutch;
fish of another clutch are asked about, and make a new, mixed batch with each survival frozen.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.stock_book import Door, Stage
from hatchery_app.domain.stock_book.stock_line import is_more_than_there
from hatchery_app.domain.when import Night, When
from hatchery_app.models.clutch import Clutch, Hatch, Laying
from hatchery_app.models.entry import known
from hatchery_app.models.stock_book import Holding, HoldingPlaced, Moved
from hatchery_app.services.clutch.clutch_facts import nights_of
from hatchery_app.services.larval_tank import joining
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import room_now
from hatchery_app.services.species import library
from hatchery_app.services.stock_book import batch_origin, stock_book
from hatchery_app.services.tank import tank_receiving

NOT_HERE = "That batch does not stand in this room's records."


@dataclass(frozen=True)
class Part:
    """So many fish for one tank, with what is to be noted of them. `number` None: all there are."""

    tank_id: int
    number: HowMany | None
    note: str = ""


@use_case
def put_larvae_in_tank(
    book: Book, *, hatch_id: int, parts: Sequence[Part], when: When, name: str = ""
) -> int:
    """Larvae of a hatch part go into one or more tanks. Returns the first batch.

    A part keeps its note (how it was handled). Into a tank with larvae of the same clutch they
    rejoin it; larvae of another clutch are asked about.
    """
    hatch = book.find(Hatch, hatch_id, "That hatch does not stand in this room's records.")
    clutch = book.find(Clutch, hatch.clutch_id)
    laying = book.find(Laying, clutch.laying_id)
    _check_parts(parts)
    if when.latest < hatch.happened_earliest:
        raise RuleBroken("Larvae cannot be in a tank before they were seen hatched.", field="at_on")
    check_species_has_larvae(laying.species_key)
    check_as_many_hatched(book, hatch, parts)
    nights = nights_of(book.session, room_now(book.session), [hatch])[hatch.fact]
    made = [
        _put(book, part, when, joining.Coming(
            clutch_ids=(clutch.fact,), hatched=(nights.first, nights.last),
            species_key=laying.species_key,
            protocol=batch_origin.protocol_now(laying.species_key), stage=Stage.LARVAE, name=name,
        ), clutch.fact, hatch_id)
        for part in parts
    ]  # fmt: skip
    return made[0]


def _put(
    book: Book, part: Part, when: When, coming: joining.Coming, clutch_id: int, hatch_id: int
) -> int:
    into = joining.holding_for(book, part.tank_id, coming, when, note=part.note)
    stock_book.enter_movement(
        book, out_of=None, into=into, number=part.number or HowMany.unknown(),
        door=Door.HATCHED, when=when, note=part.note, clutch_id=clutch_id, hatch_id=hatch_id,
    )  # fmt: skip
    return into


def _check_parts(parts: Sequence[Part]) -> None:
    if not parts:
        raise RuleBroken("Say into which tank they went.", field="tank_1")
    tanks = [part.tank_id for part in parts]
    if len(set(tanks)) < len(tanks):
        raise RuleBroken("The same tank is named twice; put its numbers together.", field="tank_2")
    if any(part.number is not None and part.number.best == 0 for part in parts):
        raise RuleBroken("None moved is nothing to enter.", field="number_1")


def check_species_has_larvae(species_key: str) -> None:
    """Refuse larvae of a species that is born as small fish. Raises RuleBroken."""
    species = library.species_or_none(species_key)
    if species is not None and species.brood_mode.is_carried:
        raise RuleBroken(
            f"{species.common_name} are born as small fish, without a larval stage: put them "
            "straight into a cohort.",
            field="tank_1",
        )


def check_as_many_hatched(book: Book, hatch: Hatch, parts: Sequence[Part]) -> None:
    """No more larvae of a hatch than it had: a counted hatch refuses, an "about" asks.

    `parts` are those to come, beside all that are in tanks of it already.
    """
    left = hatch.how_many
    if left.best is None and left.most is None:
        return
    earlier = book.session.scalars(
        select(Moved).where(known(), Moved.hatch_id == hatch.fact)
    ).all()
    wanted = HowMany.counted(0)
    for number in [row.how_many for row in earlier] + [part.number for part in parts]:
        wanted = wanted + (number or HowMany.unknown())
    if is_more_than_there(wanted, left):
        raise RuleBroken(
            f"{left.said()} hatched, and {wanted.said()} would then be in tanks. "
            "Correct the hatch, or the number.",
            field="number_1",
        )
    above = wanted.best is not None and left.best is not None and wanted.best > left.best
    if above and book.answers.get("more_than_hatched") != "so":
        raise Asked(
            f"{left.said()} hatched by the record, and {wanted.best} would then be in tanks. "
            "Were there more than thought?",
            "more_than_hatched",
            (("so", "Yes, so many are in tanks"),),
            field="number_1",
        )


@use_case
def move_batch(book: Book, *, holding_id: int, parts: Sequence[Part], when: When) -> int:
    """A batch, or parts of it, go to other tanks. Returns the batch in the first of them.

    All of it into a tank of its own stays the same batch; a part becomes a batch of its own with
    the same clutch. Moved whole from an unknown number, none are left behind.
    """
    old = book.find(Holding, holding_id, NOT_HERE)
    _check_parts(parts)
    whole = len(parts) == 1 and parts[0].number is None
    if whole and not joining.others_in(book, parts[0].tank_id, without=holding_id):
        return _move_whole(book, old, parts[0], when)
    made = [_move_part(book, old, part, when, old.stage) for part in parts]
    return made[0]


def _move_whole(book: Book, old: Holding, part: Part, when: When) -> int:
    here = stock_book.stock_of(book, (old.fact,))
    if here.is_empty(old.fact):
        raise RuleBroken("None are left in it by the book.", field="number_1")
    if here.holding(old.fact).place.tank_id == part.tank_id:
        raise RuleBroken("They are in that tank already.", field="tank_1")
    tank_receiving.check(book, part.tank_id, when)
    placed = HoldingPlaced(holding_id=old.fact, tank_id=part.tank_id)
    book.enter(placed, when=when, note=part.note)
    return old.fact


def _move_part(
    book: Book, old: Holding, part: Part, when: When, stage: Stage, name: str = ""
) -> int:
    """Some, or all that are left, of a batch into another tank, alone or with what is there."""
    here = stock_book.stock_of(book, (old.fact,))
    if stage is old.stage and here.holding(old.fact).place.tank_id == part.tank_id:
        raise RuleBroken("They are in that tank already.", field="tank_1")
    coming = joining.Coming(
        clutch_ids=old.clutches, hatched=old.hatched, species_key=old.species_key,
        protocol=old.protocol, stage=stage, name=name,
    )  # fmt: skip
    number = part.number or here.balance(old.fact).now
    into = joining.holding_for(
        book, part.tank_id, coming, when, note=part.note, without=old.fact
    )
    stock_book.enter_movement(
        book, out_of=old.fact, into=into, number=number, door=Door.MOVED, when=when,
        note=part.note, clutch_id=old.clutches[0] if len(old.clutches) == 1 else None,
    )  # fmt: skip
    if part.number is None:
        stock_book.none_left(book, old.fact, when)
    return into


@use_case
def move_settled(
    book: Book,
    *,
    holding_id: int,
    tank_id: int,
    number: HowMany | None,
    when: When,
    name: str = "",
    note: str = "",
) -> int:
    """Settled fish go to grow-out. Returns the cohort. Those still swimming stay larvae here.

    The cohort may begin in the larval tank itself, where the fish stay and only their stage
    changes. `number` None: all of them.
    """
    old = book.find(Holding, holding_id, NOT_HERE)
    if old.stage is not Stage.LARVAE:
        raise RuleBroken("These are in grow-out already.", field="tank_1")
    return _move_part(book, old, Part(tank_id, number, note), when, Stage.COHORT, name)


@use_case
def merge_batches(
    book: Book,
    *,
    holding_ids: Sequence[int],
    tank_id: int,
    when: When,
    name: str = "",
    note: str = "",
) -> int:
    """Batches are put together in one tank. Returns the batch they then are.

    Parts of one clutch are that clutch again; else a new, mixed batch begins, marked as such.
    Asked before different species or unlike lines.
    """
    return joining.put_together_in(
        book, tuple(holding_ids), tank_id, when, name=name, note=note
    )


@use_case
def move_in_batch(
    book: Book,
    *,
    tank_id: int,
    species_key: str,
    number: HowMany,
    when: When,
    stage: Stage = Stage.LARVAE,
    hatched: tuple[Night, Night] | None = None,
    name: str = "",
    note: str = "",
) -> int:
    """A batch that was there before the records began: no clutch is known. Returns the batch."""
    library.check_species(species_key)
    if room_now(book.session) and not species_key:
        raise RuleBroken("Say what species they are thought to be.", field="species_key")
    tank_receiving.check(book, tank_id, when)
    batch = stock_book.begin_holding(
        book, stage=stage, tank_id=tank_id, species_key=species_key, clutch_ids=(),
        hatched=hatched, protocol=batch_origin.protocol_now(species_key), when=when, name=name,
        note=note,
    )  # fmt: skip
    stock_book.enter_movement(
        book, out_of=None, into=batch.fact, number=number, door=Door.ARRIVED, when=when,
        reason="here when the records began",
    )  # fmt: skip
    return batch.fact
