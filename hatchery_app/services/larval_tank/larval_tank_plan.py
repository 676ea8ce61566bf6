"""Re-planning a batch: what its own plan says, what today's species file says, and the change."""

import hashlib
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.larval_tank.plan_changes import PlanChange, what_changes
from hatchery_app.domain.stock_book.stock_book import Stage
from hatchery_app.models.stock_book import Holding
from hatchery_app.services.larval_tank import larval_day
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import batch_origin
from hatchery_app.services.stock_book.holding_facts import NOT_HERE, HoldingFacts, load_stock


@dataclass(frozen=True)
class Replan:
    """What re-planning a batch would change. `mark` names the file as it was when shown.

    `is_same`: the batch follows today's file already. `changes` may be empty even so: the file
    then differs in nothing that is still ahead of this batch.
    """

    holding: HoldingFacts
    is_same: bool
    mark: str
    changes: tuple[PlanChange, ...]


def replan_shown(session: Session, room: RoomNow, *, holding_id: int, now: datetime) -> Replan:
    """The change before it is made. Raises NotKnown."""
    stock = load_stock(session, room, holding_ids=(holding_id,))
    held = stock.holding(holding_id)
    if held.stage is not Stage.LARVAE:
        raise NotKnown(NOT_HERE)
    kept = larval_day.larval_plans(session, room, now, stock=stock)
    today = larval_day.larval_plans(session, room, now, stock=stock, by_todays_file=True)
    changes: tuple[PlanChange, ...] = ()
    if kept and today and kept[0].stages is not None and today[0].stages is not None:
        age = kept[0].age.oldest if kept[0].age is not None else 0
        changes = what_changes(kept[0].stages, today[0].stages, age, kept[0].mean_c)
    text = batch_origin.protocol_now(held.species_key)
    is_same = not kept or kept[0].follows_today
    return Replan(held, is_same, _mark(text), changes)


@use_case
def replan(book: Book, *, holding_id: int, mark: str) -> int:
    """The batch follows the species text as it stood when its changes were shown.

    `mark` is that of the showing. Returns the batch. Raises RuleBroken where the file changed
    since, or where there is nothing to change.
    """
    old = book.find(Holding, holding_id, NOT_HERE)
    text = batch_origin.protocol_now(old.species_key)
    if not old.protocol or old.protocol == text:
        raise RuleBroken("The batch follows today's species file already: nothing would change.")
    if mark != _mark(text):
        raise RuleBroken("Look at what changes first: the species file is another than shown.")
    new = Holding(
        stage=old.stage, number=old.number, name=old.name, species_key=old.species_key,
        hatched_first_on=old.hatched_first_on, hatched_last_on=old.hatched_last_on,
        clutch_ids=old.clutch_ids, protocol=text,
    )  # fmt: skip
    return book.correct(old, new, when=old.when, note=old.note).fact


def _mark(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]
