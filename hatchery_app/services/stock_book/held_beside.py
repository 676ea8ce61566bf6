"""What a room holds beside its batches: eggs of open clutches, and the breeding fish.

They are told of on their own pages; the book names them, so that what is held is held whole.
"""

from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from hatchery_app.models.broodstock import BroodGroup, Fish, FishLeft, GroupLeft
from hatchery_app.models.clutch import Clutch, ClutchEnded, Laying
from hatchery_app.models.entry import known


@dataclass(frozen=True)
class HeldBeside:
    """Open clutches, the eggs laid in them as far as somebody said (`uncounted` layings said
    none), and breeding fish: single ones, and those of groups."""

    clutches: int
    eggs_laid: int
    uncounted: int
    fish: int
    in_groups: int


def held_beside(session: Session) -> HeldBeside:
    """Eggs and breeding fish as they are known now. Five statements."""
    ended, left = aliased(ClutchEnded, flat=True), aliased(FishLeft, flat=True)
    is_over = select(ended.seq).where(known(of=ended), ended.clutch_id == Clutch.fact_id)
    layings = session.scalars(select(Clutch.laying_id).where(known(), ~is_over.exists())).all()
    eggs = session.scalars(
        select(Laying.number_best).where(known(), Laying.fact_id.in_(set(layings)))
    ).all()
    has_left = select(left.seq).where(known(of=left), left.fish_id == Fish.fact_id)
    single = select(func.count()).select_from(Fish).where(known(), ~has_left.exists())
    grouped = select(func.coalesce(func.sum(BroodGroup.number), 0)).where(known())
    gone = select(func.coalesce(func.sum(GroupLeft.number), 0)).where(known())
    return HeldBeside(
        clutches=len(layings),
        eggs_laid=sum(number or 0 for number in eggs),
        uncounted=sum(number is None for number in eggs),
        fish=session.scalar(single) or 0,
        in_groups=(session.scalar(grouped) or 0) - (session.scalar(gone) or 0),
    )
