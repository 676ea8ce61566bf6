"""The page after a loss, and the same ranking before any: what is pending, who could step in."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.after_loss import AfterLoss, OpenClutch, after_loss
from hatchery_app.domain.broodstock.pairing import pairs_at, single_since
from hatchery_app.domain.broodstock.step_in import StepIn
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock.stock_record import Leaving, PairRecord
from hatchery_app.services.broodstock.stock_view import StockView, load_view
from hatchery_app.services.clutch.brood_clutches import BroodClutch


@dataclass(frozen=True)
class StepInPage:
    """Who could step in beside one fish, alone or still paired."""

    fish_id: int
    label: str
    mate: str
    alone_since: When | None
    answer: StepIn
    now: datetime


@dataclass(frozen=True)
class LossOfPair:
    """One pair that a leaving ended: what is pending, and who could step in beside the other."""

    pair_id: int
    pair_name: str
    survivor_label: str
    is_female_lost: bool
    after: AfterLoss
    open_clutches: tuple[BroodClutch, ...]
    step_in: StepIn | None


@dataclass(frozen=True)
class AfterLossPage:
    """A fish that left, and what its leaving left open."""

    fish_id: int
    label: str
    leaving: Leaving
    losses: tuple[LossOfPair, ...]
    now: datetime


def after_loss_page(session: Session, *, fish_id: int, now: datetime) -> AfterLossPage | None:
    """What stands after a fish left; None while it is here. Raises NotKnown."""
    view = load_view(session, now)
    record = view.stock.fish_named(fish_id)
    if record.leaving is None:
        return None
    left_id = record.leaving.left_id
    ended = [
        pair
        for pair in view.stock.pairs.values()
        if pair.fish_left_id == left_id and pair.link.is_pair
    ]
    return AfterLossPage(
        fish_id=fish_id,
        label=view.stock.labels[fish_id],
        leaving=record.leaving,
        losses=tuple(_loss(view, pair, fish_id) for pair in ended),
        now=now,
    )


def _loss(view: StockView, pair: PairRecord, lost_id: int) -> LossOfPair:
    link = pair.link
    survivor = view.stock.fish_named(link.mate_of(lost_id)).fish
    open_clutches = tuple(c for c in view.by_pair.get(link.pair_id, ()) if c.is_open)
    told = after_loss(
        link,
        lost_id,
        [_open(view, clutch, survivor.name, lost_id) for clutch in open_clutches],
        view.stock.links,
        survivor_name=survivor.name,
        now=view.now,
    )
    is_single = told.single_since is not None and survivor.is_here_at(view.now)
    return LossOfPair(
        pair_id=link.pair_id,
        pair_name=view.stock.pair_words(link.pair_id),
        survivor_label=view.stock.labels[survivor.fish_id],
        is_female_lost=lost_id == link.female_id,
        after=told,
        open_clutches=open_clutches,
        step_in=_beside(view, survivor.fish_id, told.single_since) if is_single else None,
    )


def _open(view: StockView, clutch: BroodClutch, survivor: str, lost_id: int) -> OpenClutch:
    """A clutch as the loss leaves it; eggs still in the nest are tended by the one left."""
    mother = clutch.parents.female.fish_ids
    return OpenClutch(
        clutch.clutch_id,
        clutch.pair_id or 0,
        mother[0] if len(mother) == 1 else None,
        clutch.laid,
        tended_by=survivor if clutch.pulled is None else "",
    )


def step_in_page(session: Session, *, fish_id: int, now: datetime) -> StepInPage:
    """Who could step in beside a fish: were its mate lost, or since it was. Raises NotKnown."""
    view = load_view(session, now)
    label = view.stock.labels[view.stock.fish_named(fish_id).fish.fish_id]
    pairs = pairs_at(fish_id, view.stock.links, now)
    mate = view.stock.labels.get(pairs[0].mate_of(fish_id), "") if pairs else ""
    since = single_since(fish_id, view.stock.links, now)
    answer = _beside(view, fish_id, since) if not pairs else if_mate_were_lost(view, fish_id)
    return StepInPage(fish_id, label, mate, since, answer, now)


def _beside(view: StockView, survivor_id: int, since: When | None) -> StepIn:
    return view.breeding.step_in_for(survivor_id, now=view.now, alone_since=since)


def if_mate_were_lost(view: StockView, fish_id: int) -> StepIn:
    """Who could step in beside one of a standing pair; neither of its two is a candidate."""
    mates = {
        link.mate_of(fish_id) for link in pairs_at(fish_id, view.stock.links, view.now)
    }
    return view.breeding.step_in_for(
        fish_id, now=view.now, is_alone=False, leaving_out=frozenset({*mates, fish_id})
    )

