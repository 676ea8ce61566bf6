"""Fish of a batch found to be of another clutch: all that follows is moved with it.

The entry is a fact of its own. Withdrawn, what followed goes back; the batches, movements and
kept fish it touches are corrected, so that what they said before stays readable.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, defer

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.stock_book.batch_descent import Flow, came_through, follows, gathered
from hatchery_app.domain.stock_book.stock_book import Door, Stage
from hatchery_app.domain.when import Night, When
from hatchery_app.models.broodstock import Fish
from hatchery_app.models.clutch import Clutch, Hatch, Laying
from hatchery_app.models.entry import Entry, known
from hatchery_app.models.stock_book import Holding, Moved, OtherClutch
from hatchery_app.services.broodstock import fish
from hatchery_app.services.clutch.clutch_facts import nights_of
from hatchery_app.services.cohort import cohort_leaving
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Book, said_anew, use_case
from hatchery_app.services.records.record_names import load_names
from hatchery_app.services.records.room import RoomNow, room_now
from hatchery_app.services.species.library import species_said
from hatchery_app.services.stock_book import batch_origin
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, load_stock

MOVES_ALONG, MOVE = "moves_along", "move"
FROM_OUTSIDE = (Door.HATCHED, Door.ARRIVED)
BEFORE_A_HATCHED_BATCH, BEFORE_AN_ARRIVED_ONE = timedelta(days=21), timedelta(days=200)


class MovesAlong(Asked):
    """The change is possible: `lines` say all that goes with it, before it is confirmed."""

    def __init__(self, lines: tuple[str, ...]) -> None:
        super().__init__(
            "All this changes with it. Is it so?", MOVES_ALONG,
            ((MOVE, "Yes, they are of that clutch"),),
        )  # fmt: skip
        self.lines = lines


@dataclass(frozen=True)
class HatchOffered:
    """A hatch that the fish may really be of."""

    hatch_id: int
    said: str


@dataclass(frozen=True)
class Said:
    """Of which clutch and hatch so many fish came in from outside."""

    clutch_id: int | None
    hatch_id: int | None


@dataclass
class Plan:
    """What would be corrected: the columns of each row that change, by the row."""

    rows: dict[int, tuple[Entry, dict[str, Any]]] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)

    def change(self, row: Entry, **columns: Any) -> bool:
        """Note what changes of a row. Returns whether anything does."""
        new = {name: value for name, value in columns.items() if getattr(row, name) != value}
        if new:
            old = self.rows.get(row.fact, (row, {}))[1]
            self.rows[row.fact] = (row, old | new)
        return bool(new)


@use_case
def record_other_clutch(
    book: Book, *, holding_id: int, hatch_id: int, when: When, note: str = ""
) -> int:
    """The fish that came into a batch from outside are of this hatch. Returns the entry.

    Raises MovesAlong with all that changes until it is confirmed; RuleBroken where they cannot
    be of it, and where the batch came out of another, which is the one to change.
    """
    batch = book.find(Holding, holding_id, larval_tank.NOT_HERE)
    hatch = book.find(Hatch, hatch_id, "Choose the hatch they are of.")
    flows = _all_flows(book.session)
    own = _own(flows, batch)
    _refuse_what_cannot_be(book, batch, own, hatch)
    said = {row.fact: Said(hatch.clutch_id, hatch.fact) for row in own}
    plan = _plan(book, batch, flows, said)
    if not plan.rows:
        raise RuleBroken("They are of that hatch already.", field="hatch_id")
    if book.answers.get(MOVES_ALONG) != MOVE:
        raise MovesAlong(tuple(plan.lines))
    row = OtherClutch(holding_id=holding_id, clutch_id=hatch.clutch_id, hatch_id=hatch_id)
    entered = book.enter(row, when=when, note=note)
    _carry_out(book, plan)
    return entered.fact


def apply_again(book: Book, row: OtherClutch) -> None:
    """What a restored entry says holds again. For use inside another use case."""
    batch = book.find(Holding, row.holding_id, larval_tank.NOT_HERE)
    hatch = book.find(Hatch, row.hatch_id, "That hatch does not stand in this room's records.")
    flows = _all_flows(book.session)
    own = _own(flows, batch)
    _refuse_what_cannot_be(book, batch, own, hatch)
    said = {one.fact: Said(hatch.clutch_id, hatch.fact) for one in own}
    _carry_out(book, _plan(book, batch, flows, said))


def take_back(book: Book, row: OtherClutch) -> None:
    """What followed a withdrawn entry goes back to what was said before it. As `apply_again`.

    Raises RuleBroken where the batch was moved to a further clutch since.
    """
    later = book.session.scalars(
        select(OtherClutch).where(
            known(), OtherClutch.holding_id == row.holding_id, OtherClutch.seq > row.seq
        )
    ).first()
    if later is not None:
        raise RuleBroken("It was found to be of a further clutch since. Withdraw that first.")
    batch = book.find(Holding, row.holding_id, larval_tank.NOT_HERE)
    flows = _all_flows(book.session)
    said = {}
    for moved in _own(flows, batch):
        was = _before_the_act(book.session, moved, row)
        if isinstance(was, Moved) and moved.hatch_id == row.hatch_id:
            said[moved.fact] = Said(was.clutch_id, was.hatch_id)
    before = _before_the_act(book.session, batch, row)
    plan = _plan(book, batch, flows, said, before if isinstance(before, Holding) else None)
    if isinstance(before, Holding):  # its nights may have been typed, not worked out
        plan.rows.pop(batch.fact, None)
        plan.change(
            batch, clutch_ids=before.clutch_ids, species_key=before.species_key,
            hatched_first_on=before.hatched_first_on, hatched_last_on=before.hatched_last_on,
            protocol=before.protocol,
        )  # fmt: skip
    _carry_out(book, plan)


def hatches_offered(session: Session, *, holding_id: int) -> tuple[HatchOffered, ...]:
    """The hatches that the fish of a batch may be of instead, the nearest first."""
    batch = session.scalars(
        select(Holding).where(known(), Holding.fact_id == holding_id)
    ).one_or_none()
    if batch is None:
        return ()
    own = _own(_all_flows(session), batch)
    if not own:
        return ()
    until = min(row.happened_latest for row in own)
    arrived = all(row.door is Door.ARRIVED for row in own)
    since = until - (BEFORE_AN_ARRIVED_ONE if arrived else BEFORE_A_HATCHED_BATCH)
    present = {row.hatch_id for row in own}
    rows = session.scalars(
        select(Hatch)
        .where(known(), Hatch.happened_earliest <= until, Hatch.happened_latest >= since)
        .order_by(Hatch.happened_latest.desc())
    ).all()
    origins = batch_origin.origins_of(session, {row.clutch_id for row in rows})
    return tuple(
        HatchOffered(row.fact, _offered(row, origins[row.clutch_id]))
        for row in rows
        if row.clutch_id in origins and row.fact not in present
    )


def came_as(session: Session, room: RoomNow, *, holding_id: int) -> tuple[HoldingFacts, ...]:
    """The batches as which its fish came in from outside, itself among them if some did: those
    are what a clutch is said of. Raises NotKnown. Six statements."""
    moves = _all_flows(session)
    flows = [Flow(row.into_id, row.out_of_id) for row in moves if row.into_id is not None]
    from_outside = {row.into_id for row in moves if row.door in FROM_OUTSIDE}
    through = came_through(flows, holding_id)
    stock = load_stock(session, room, holding_ids=through)
    stock.holding(holding_id)
    return tuple(
        stock.holdings[one] for one in through if one in from_outside and one in stock.holdings
    )


def _offered(row: Hatch, origin: batch_origin.ClutchOrigin) -> str:
    parts = (origin.name, origin.pair, row.nights.said(), row.how_many.said())
    return ", ".join(part for part in parts if part)


# --- what cannot be ---------------------------------------------------------------------------


def _refuse_what_cannot_be(
    book: Book, batch: Holding, own: Iterable[Moved], hatch: Hatch
) -> None:
    own = list(own)
    if not own:
        raise RuleBroken(
            "All its fish came out of another batch: change that one, and this follows.",
            field="hatch_id",
        )
    first = min(own, key=lambda row: row.happened_latest)
    if first.happened_latest < hatch.happened_earliest:
        raise RuleBroken("They were in the tank before that hatch was seen.", field="hatch_id")
    laying = _laying_of(book, hatch.clutch_id)
    if batch.stage is Stage.LARVAE:
        larval_tank.check_species_has_larvae(laying.species_key)
    parts = [
        larval_tank.Part(0, row.how_many)
        for row in own
        if row.door is Door.HATCHED and row.hatch_id != hatch.fact
    ]
    larval_tank.check_as_many_hatched(book, hatch, parts)


def _laying_of(book: Book, clutch_id: int) -> Laying:
    return book.find(Laying, book.find(Clutch, clutch_id).laying_id)


# --- what follows -----------------------------------------------------------------------------


def _all_flows(session: Session) -> list[Moved]:
    """Every movement of the room: a batch's fish may have gone through many tanks."""
    return list(session.scalars(select(Moved).where(known()).order_by(Moved.fact_id)))


def _own(flows: Iterable[Moved], batch: Holding) -> list[Moved]:
    return [row for row in flows if row.into_id == batch.fact and row.door in FROM_OUTSIDE]


def _plan(
    book: Book,
    batch: Holding,
    moves: list[Moved],
    said: Mapping[int, Said],
    before: Holding | None = None,
) -> Plan:
    """All that changes where these movements came of other hatches, nothing written yet.

    `before` is what the batch said before, where no hatch of it is known to say it.
    """
    flows = [Flow(row.into_id, row.out_of_id) for row in moves if row.into_id is not None]
    affected = follows(flows, batch.fact)
    holdings = {
        row.fact: row
        for row in book.session.scalars(
            select(Holding).where(known()).options(defer(Holding.protocol))
        )
    }
    now_said = {
        row.fact: said.get(row.fact, Said(row.clutch_id, row.hatch_id))
        for row in moves
        if row.door in FROM_OUTSIDE
    }
    own = _own_things(book, moves, now_said, before)
    clutches, nights = _held(flows, affected, holdings, own)
    plan = Plan()
    for row in moves:
        if row.fact in said:
            plan.change(
                row, clutch_id=said[row.fact].clutch_id, hatch_id=said[row.fact].hatch_id
            )
    origins = batch_origin.origins_of(book.session, frozenset().union(*clutches.values()))
    for fact in affected:
        _plan_batch(plan, holdings[fact], clutches[fact], nights[fact], origins)
    _plan_moves(plan, moves, clutches)
    _plan_kept(book, plan, moves, holdings, clutches)
    _say(book, plan)
    return plan


@dataclass
class OwnThings:
    """Of which clutches and nights the fish are that came into each batch from outside."""

    clutches: dict[int, frozenset[int]] = field(default_factory=dict)
    nights: dict[int, frozenset[Night]] = field(default_factory=dict)


def _own_things(
    book: Book, moves: Iterable[Moved], now_said: Mapping[int, Said], before: Holding | None
) -> OwnThings:
    hatch_ids = sorted({one.hatch_id for one in now_said.values() if one.hatch_id is not None})
    hatches = select(Hatch).where(known(), Hatch.fact_id.in_(hatch_ids))
    room = room_now(book.session)
    of_hatch = nights_of(book.session, room, book.session.scalars(hatches).all())
    own = OwnThings()
    for row in moves:
        one = now_said.get(row.fact)
        if one is None or row.into_id is None:
            continue
        if one.clutch_id is not None:
            held = own.clutches.get(row.into_id, frozenset())
            own.clutches[row.into_id] = held | {one.clutch_id}
        if one.hatch_id in of_hatch:
            nights = own.nights.get(row.into_id, frozenset())
            own.nights[row.into_id] = nights | {*of_hatch[one.hatch_id].each}
    if before is not None:
        own.clutches.setdefault(before.fact, frozenset(before.clutches))
        own.nights.setdefault(before.fact, frozenset(before.hatched or ()))
    return own


def _held(
    flows: list[Flow],
    affected: tuple[int, ...],
    holdings: Mapping[int, Holding],
    own: OwnThings,
) -> tuple[dict[int, frozenset[int]], dict[int, frozenset[Night]]]:
    """The clutches and hatch nights of every batch that follows."""
    standing = {fact: frozenset(row.clutches) for fact, row in holdings.items()}
    nights = {fact: frozenset(row.hatched or ()) for fact, row in holdings.items()}
    return (
        gathered(flows, affected, own.clutches, standing),
        gathered(flows, affected, own.nights, nights),
    )


def _plan_batch(
    plan: Plan,
    row: Holding,
    clutches: frozenset[int],
    nights: frozenset[Night],
    origins: Mapping[int, batch_origin.ClutchOrigin],
) -> None:
    changed: dict[str, Any] = {"clutch_ids": ",".join(str(one) for one in sorted(clutches))}
    if nights:
        changed["hatched_first_on"] = min(nights).evening
        changed["hatched_last_on"] = max(nights).evening
    species = {origins[one].species_key for one in clutches if one in origins}
    if len(species) == 1 and row.species_key not in species:
        changed["species_key"] = species.pop()
        changed["protocol"] = batch_origin.protocol_now(changed["species_key"])
    plan.change(row, **changed)


def _plan_moves(
    plan: Plan, moves: Iterable[Moved], clutches: Mapping[int, frozenset[int]]
) -> None:
    """Fish moved on name their clutch where it is one alone."""
    for row in moves:
        if row.out_of_id in clutches and row.door not in FROM_OUTSIDE and row.into_id is not None:
            held = clutches[row.out_of_id or 0]
            plan.change(row, clutch_id=next(iter(held)) if len(held) == 1 else None)


def _plan_kept(
    book: Book,
    plan: Plan,
    moves: Iterable[Moved],
    holdings: Mapping[int, Holding],
    clutches: Mapping[int, frozenset[int]],
) -> None:
    """Breeders that were kept out of these batches follow, unless said otherwise of them since."""
    kept = [row for row in moves if row.door is Door.KEPT and row.out_of_id in clutches]
    if not kept:
        return
    breeders = book.session.scalars(select(Fish).where(known())).all()
    firsts = _first_entries(book.session, [*kept, *breeders])
    acts = {_act(firsts[row.fact]): row for row in kept}
    for one in breeders:
        moved = acts.get(_act(firsts[one.fact]))
        if moved is None or moved.out_of_id is None:
            continue
        source = holdings[moved.out_of_id]
        was = cohort_leaving.descent_of(book, source.clutches, source.hatched)
        if any(getattr(one, name) != value for name, value in was.items()):
            continue
        changed = plan.rows.get(source.fact, (source, {}))[1]
        first, last = (
            changed.get(name, getattr(source, name))
            for name in ("hatched_first_on", "hatched_last_on")
        )
        nights = (Night(first), Night(last or first)) if first else None
        new = cohort_leaving.descent_of(book, tuple(sorted(clutches[source.fact])), nights)
        if "species_key" in changed and one.species_key == source.species_key:
            new["species_key"] = changed["species_key"]
        plan.change(one, **new)


def _first_entries(session: Session, rows: Iterable[Entry]) -> dict[int, Entry]:
    facts = sorted({row.fact for row in rows})
    return {row.seq: row for row in session.scalars(select(Entry).where(Entry.seq.in_(facts)))}


def _act(row: Entry) -> tuple[Any, ...]:
    if row.receipt_id is not None:
        return (row.receipt_id,)
    return (row.received_at, row.by_id)


# --- in words ---------------------------------------------------------------------------------


def _say(book: Book, plan: Plan) -> None:
    named = [row for row, _ in plan.rows.values()]
    clutch_ids: set[int] = set()
    for row, new in plan.rows.values():
        if isinstance(row, Holding):
            clutch_ids |= {*row.clutches, *_ids(new.get("clutch_ids", ""))}
        elif isinstance(row, Moved | Fish):
            clutch_ids |= {one for one in (row.clutch_id, new.get("clutch_id")) if one}
    origins = batch_origin.origins_of(book.session, clutch_ids)
    names = load_names(book.session, named, room_now(book.session).room_time)
    for row, new in plan.rows.values():
        words = _line(row, new, origins)
        if words:
            plan.lines.append(f"{names.of_row(row)}: {words}")
    plan.lines.append("Survival, parents and papers of origin are worked out anew from it.")


def _line(
    row: Entry, new: Mapping[str, Any], origins: Mapping[int, batch_origin.ClutchOrigin]
) -> str:
    told: list[str] = []
    if isinstance(row, Holding) and "clutch_ids" in new:
        told.append(
            f"of {_or(_ids(new['clutch_ids']), origins)} instead of {_or(row.clutches, origins)}"
        )
    if isinstance(row, Holding) and ("hatched_first_on" in new or "hatched_last_on" in new):
        first = Night(new.get("hatched_first_on", row.hatched_first_on)).label
        last = Night(new.get("hatched_last_on", row.hatched_last_on)).label
        told.append(f"hatched {first}" + (f" to {last}" if last != first else ""))
    if "species_key" in new:
        told.append(f"held to be {species_said(new['species_key'])}, with its plan")
    if isinstance(row, Fish) and not told:
        told.append("its parents follow")
    return ", ".join(told)


def _ids(text: str | None) -> tuple[int, ...]:
    return tuple(int(one) for one in (text or "").split(",") if one)


def _or(
    clutch_ids: Iterable[int], origins: Mapping[int, batch_origin.ClutchOrigin]
) -> str:
    named = [
        f"{origins[one].name}" + (f" ({origins[one].pair})" if origins[one].pair else "")
        for one in clutch_ids
        if one in origins
    ]
    return " or ".join(named) or "no clutch known"


# --- carried out ------------------------------------------------------------------------------


def _carry_out(book: Book, plan: Plan) -> None:
    for row, new in plan.rows.values():
        book.correct(row, said_anew(row, **new), when=row.when, note=row.note)
    if any(isinstance(row, Fish) for row, _ in plan.rows.values()):
        fish.check_descent(book)


def _before_the_act(session: Session, row: Entry, act: Entry) -> Entry | None:
    """What a fact said before it was corrected in an act; None where it was not."""
    versions = session.scalars(
        select(type(row)).where(type(row).fact_id == row.fact).order_by(type(row).seq.desc())
    ).all()
    by_seq = {one.superseded_seq: one for one in versions}
    for one in versions:
        if _act(one) == _act(act) and one.seq in by_seq:
            return by_seq[one.seq]
    return None

