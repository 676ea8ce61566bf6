"""Two fish are put together, and their link ends. What other rooms need to know of a pair."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from hatchery_app.domain.broodstock.broodstock import species_at
from hatchery_app.domain.broodstock.pairing import (
    EndedBecause,
    LinkKind,
    PairLink,
    overlapping,
    settle_new_link,
)
from hatchery_app.domain.broodstock.sex_state import Sex, SexState, Standing, sex_at
from hatchery_app.domain.errors import Asked, NotKnown, RuleBroken
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import Fish, FishPlaced, Pair, PairEnded, SpeciesSeen
from hatchery_app.models.entry import known
from hatchery_app.services.broodstock.fish import NOT_OF_THIS_ROOM, add_placing, add_sex
from hatchery_app.services.broodstock.stock_record import StockRecord, load_stock
from hatchery_app.services.clutch.brood_clutches import load_brood_clutches
from hatchery_app.services.recording import Book, said_anew, use_case

NOT_A_PAIR = "That pair does not stand in this room's records."
STANDS_AGAIN = "stands_again"
AS_PAIRED = "entered as one of a pair"


@dataclass(frozen=True)
class PairFacts:
    """A pair as other rooms speak of it. `tank_id` is its female's tank, else its male's."""

    pair_id: int
    name: str
    female_id: int
    male_id: int
    tank_id: int | None
    species_key: str
    ended: EndedBecause | None


def pair_facts(
    session: Session, pair_ids: Iterable[int], now: datetime
) -> dict[int, PairFacts]:
    """These pairs by id: "Rusk and Tansy", their tank and species. Five statements."""
    ids = list(pair_ids)
    pairs = session.scalars(select(Pair).where(known(), Pair.fact_id.in_(ids))).all()
    ends = {
        row.pair_id: row
        for row in session.scalars(
            select(PairEnded).where(known(), PairEnded.pair_id.in_(ids))
        )
    }
    fish_ids = [f for row in pairs for f in (row.female_id, row.male_id)]
    fish = {
        row.fact: row
        for row in session.scalars(select(Fish).where(known(), Fish.fact_id.in_(fish_ids)))
    }
    seen = _species_seen(session, fish_ids)
    tanks = _tanks(session, fish_ids, now)
    return {row.fact: _facts(row, ends.get(row.fact), fish, seen, tanks, now) for row in pairs}


def pair_name(session: Session, *, pair_id: int, now: datetime) -> str:
    """What a pair is called: "Rusk and Tansy". Raises NotKnown."""
    found = pair_facts(session, [pair_id], now)
    if pair_id not in found:
        raise NotKnown("That pair does not stand in this room's records.")
    return found[pair_id].name


def _species_seen(session: Session, fish_ids: list[int]) -> dict[int, list[SpeciesSeen]]:
    found: dict[int, list[SpeciesSeen]] = {}
    for row in session.scalars(
        select(SpeciesSeen).where(known(), SpeciesSeen.fish_id.in_(fish_ids))
    ):
        found.setdefault(row.fish_id, []).append(row)
    return found


def _tanks(session: Session, fish_ids: list[int], now: datetime) -> dict[int, int]:
    """The tank each fish was last put into by that moment."""
    rows = session.scalars(
        select(FishPlaced)
        .where(
            known(), FishPlaced.fish_id.in_(fish_ids), FishPlaced.happened_earliest <= now
        )
        .order_by(FishPlaced.happened_latest, FishPlaced.seq)
    )
    return {row.fish_id: row.tank_id for row in rows}


def _facts(
    pair: Pair,
    ended: PairEnded | None,
    fish: Mapping[int, Fish],
    seen: Mapping[int, list[SpeciesSeen]],
    tanks: Mapping[int, int],
    now: datetime,
) -> PairFacts:
    two = [fish[f] for f in (pair.female_id, pair.male_id) if f in fish]
    held = [
        species_at((row.opinion, *(s.facts() for s in seen.get(row.fact, ()))), now)
        for row in two
    ]
    keys = [opinion.species_key for opinion in held if opinion and opinion.species_key]
    return PairFacts(
        pair_id=pair.fact,
        name=" and ".join(row.name for row in two),
        female_id=pair.female_id,
        male_id=pair.male_id,
        tank_id=tanks.get(pair.female_id, tanks.get(pair.male_id)),
        species_key=keys[0] if keys else "",
        ended=ended.because if ended is not None and ended.happened_latest <= now else None,
    )


@use_case
def enter_pair(
    book: Book,
    *,
    female_id: int,
    male_id: int,
    when: When,
    link: LinkKind = LinkKind.PAIR,
    name: str = "",
    tank_id: int | None = None,
    earlier_clutches: int = 0,
    note: str = "",
) -> int:
    """Two fish are together from then on. Asks where one of them stands in another pair."""
    return add_pair(
        book,
        Pair(
            name=name.strip(), female_id=female_id, male_id=male_id, link=link,
            earlier_clutches=earlier_clutches,
        ),
        when=when,
        tank_id=tank_id,
        note=note,
    ).fact  # fmt: skip


def add_pair(
    book: Book, pair: Pair, *, when: When, tank_id: int | None = None, note: str = ""
) -> Pair:
    """Write a link down, ending earlier ones where it is a move. For use inside a use case."""
    book.find(Fish, pair.female_id, NOT_OF_THIS_ROOM)
    book.find(Fish, pair.male_id, NOT_OF_THIS_ROOM)
    stock = load_stock(book.session)
    new = PairLink(0, pair.female_id, pair.male_id, since=when, kind=pair.link)
    _check_both_here(stock, new)
    settled = settle_new_link(new, stock.links, book.answers.get("overlapping_pairs"))
    pair.link = settled.link.kind
    book.enter(pair, when=when, note=note)
    for ended in settled.ended:
        because = ended.ended_because or EndedBecause.SWAPPED
        book.enter(PairEnded(pair_id=ended.pair_id, because=because), when=when)
    if tank_id is not None:
        for fish_id in (pair.female_id, pair.male_id):
            if stock.fish_named(fish_id).tank_at(when.latest) != tank_id:
                add_placing(book, fish_id, tank_id, when)
    if pair.link is LinkKind.PAIR:
        _say_what_the_two_are(book, stock, pair, when)
    return pair


def _check_both_here(stock: StockRecord, new: PairLink) -> None:
    for fish_id, field in ((new.female_id, "female_id"), (new.male_id, "male_id")):
        fish = stock.fish_named(fish_id).fish
        if fish.gone is not None and fish.gone.latest < new.since.earliest:
            raise RuleBroken(f"{fish.name} was no longer here then ({fish.gone_how}).", field)


def _say_what_the_two_are(book: Book, stock: StockRecord, pair: Pair, when: When) -> None:
    """A fish nobody has said the sex of is thought to be what its place in the pair says."""
    shown = {f for c in load_brood_clutches(book.session) for f in c.parents.candidates}
    for fish_id, sex in ((pair.female_id, Sex.FEMALE), (pair.male_id, Sex.MALE)):
        if sex is Sex.FEMALE and pair.earlier_clutches:
            continue  # her clutches before the records prove her
        held = sex_at(stock.fish_named(fish_id).fish.sexes, when.latest)
        if held.state is None and held.perhaps is None and fish_id not in shown:
            add_sex(book, fish_id, SexState(sex, Standing.THOUGHT, when, note=AS_PAIRED))


@use_case
def end_pair(
    book: Book, *, pair_id: int, because: EndedBecause, when: When, note: str = ""
) -> int:
    """The link ends; its clutches stay its own. A lost fish is entered as a loss instead."""
    book.find(Pair, pair_id, NOT_A_PAIR)
    record = load_stock(book.session).pair_named(pair_id)
    if record.link.until is not None:
        raise RuleBroken("This pair has ended already.", field="because")
    record.link.ended(when, because)
    book.enter(PairEnded(pair_id=pair_id, because=because), when=when, note=note)
    return pair_id


@use_case
def reopen_pair(book: Book, *, pair_id: int, note: str = "") -> int:
    """Take back the end of a pair that was entered by mistake; the pair stands again."""
    ended = book.session.scalars(
        select(PairEnded).where(known(), PairEnded.pair_id == pair_id)
    ).one_or_none()
    if ended is None:
        raise RuleBroken("This pair has not ended.")
    if ended.fish_left_id is not None:
        raise RuleBroken("This pair ended by a loss: take the loss back on the fish's page.")
    book.withdraw(ended, note=note)
    settle_standing_again(book, [pair_id])
    return pair_id


def settle_standing_again(book: Book, pair_ids: Iterable[int]) -> None:
    """Ask where a pair that stands again overlaps another that one of its fish is in since.

    For use inside another use case, once the end is taken back. Answers: "kept_with" says that
    these two were only kept together, "other_kept_with" that the others were.
    """
    stock = load_stock(book.session)
    for pair_id in pair_ids:
        if pair_id not in stock.pairs:
            continue
        link = stock.pairs[pair_id].link
        others = [one for one in stock.links if one.pair_id != pair_id]
        clash = overlapping(link, others)
        if not clash:
            continue
        answer = book.answers.get(STANDS_AGAIN)
        if answer not in ("kept_with", "other_kept_with"):
            named = " and ".join(stock.pair_words(one.pair_id) for one in clash)
            raise Asked(
                f"{stock.pair_words(pair_id)} would stand as a pair beside {named}. One fish is "
                "in one pair at a time: which of them were only kept together?",
                STANDS_AGAIN,
                (("kept_with", stock.pair_words(pair_id)), ("other_kept_with", named)),
            )
        company = [link] if answer == "kept_with" else clash
        for one in company:
            _keep_with(book, one.pair_id)


def _keep_with(book: Book, pair_id: int) -> None:
    old = book.find(Pair, pair_id, NOT_A_PAIR)
    new = said_anew(old, link=LinkKind.KEPT_WITH)
    book.correct(old, new, when=old.when, note=old.note)
