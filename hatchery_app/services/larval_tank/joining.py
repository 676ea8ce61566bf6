"""What becomes of fish that go into a tank: a batch of their own, their clutch again, a mix."""

from collections.abc import Sequence
from dataclasses import dataclass

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.stock_book.mixed_batch import MIXED_LINES, Source, put_together
from hatchery_app.domain.stock_book.stock_book import Door, Stage
from hatchery_app.domain.when import Night, When, night_of
from hatchery_app.models.stock_book import Holding
from hatchery_app.services.recording import Book
from hatchery_app.services.records.room import room_now
from hatchery_app.services.species.library import species_said
from hatchery_app.services.stock_book import batch_origin, stock_book
from hatchery_app.services.stock_book.holding_facts import HoldingFacts, Stock, load_stock
from hatchery_app.services.tank import tank_receiving

OTHER_CLUTCH = "other_clutch"


@dataclass(frozen=True)
class Coming:
    """Fish about to go into a tank, before they are a batch there."""

    clutch_ids: tuple[int, ...]
    hatched: tuple[Night, Night] | None
    species_key: str
    protocol: str
    stage: Stage
    name: str = ""


def others_in(book: Book, tank_id: int, *, without: int | None = None) -> tuple[HoldingFacts, ...]:
    """The batches that live in a tank, but for one."""
    stock = load_stock(book.session, room_now(book.session), tank_ids=(tank_id,))
    return tuple(one for one in stock.living_in(tank_id) if one.id != without)


def holding_for(
    book: Book,
    tank_id: int,
    coming: Coming,
    when: When,
    *,
    note: str = "",
    without: int | None = None,
) -> int:
    """The batch these fish will be in: theirs again, a mixed one (asked), or a new one."""
    tank_receiving.check(book, tank_id, when)
    there = [
        one for one in others_in(book, tank_id, without=without) if one.stage is coming.stage
    ]
    same = [one for one in there if coming.clutch_ids and one.clutch_ids == coming.clutch_ids]
    if same:
        _take_in_nights(book, same[0].id, coming.hatched)
        return same[0].id
    mixed = coming
    if there:
        mixed = _mixed(book, there, coming)
    begun = stock_book.begin_holding(
        book, stage=coming.stage, tank_id=tank_id, species_key=mixed.species_key,
        clutch_ids=mixed.clutch_ids, hatched=mixed.hatched, protocol=mixed.protocol, when=when,
        name=coming.name, note=note,
    )  # fmt: skip
    for one in there:
        _move_all(book, one.id, begun.fact, when)
    return begun.fact


def _take_in_nights(book: Book, holding_id: int, hatched: tuple[Night, Night] | None) -> None:
    """A batch joined by another night's part of its clutch spans both nights from then on."""
    old = book.find(Holding, holding_id)
    spanned = _span([old.hatched, hatched])
    if spanned is None or spanned == old.hatched:
        return
    new = Holding(
        stage=old.stage, number=old.number, name=old.name, species_key=old.species_key,
        hatched_first_on=spanned[0].evening, hatched_last_on=spanned[1].evening,
        clutch_ids=old.clutch_ids, protocol=old.protocol,
    )  # fmt: skip
    book.correct(old, new, when=old.when, note=old.note)


def _span(nights: Sequence[tuple[Night, Night] | None]) -> tuple[Night, Night] | None:
    known = [pair for pair in nights if pair is not None]
    if not known:
        return None
    return min(first for first, _ in known), max(last for _, last in known)


def _mixed(book: Book, there: Sequence[HoldingFacts], coming: Coming) -> Coming:
    """What the fish there and those coming are together, once the keeper said so."""
    unlike = sorted({one.species_key for one in there} | {coming.species_key})
    if len(unlike) > 1 and book.answers.get("mixed_species") != "mix":
        raise Asked(
            f"These are of different species: {' and '.join(map(species_said, unlike))}. They "
            "cannot be told apart afterwards. Put them together?",
            "mixed_species",
            (("mix", "Yes, put them together"),),
            field="tank_1",
        )
    _ask_unlike_lines(book, there, coming)
    if book.answers.get(OTHER_CLUTCH) != "mix":
        named = " and ".join(one.name for one in there)
        raise Asked(
            f"{named} of another clutch is in that tank. Put together they are a mixed batch from "
            "then on, and no fish of it can be given to one pair.",
            OTHER_CLUTCH,
            (("mix", "Yes, a mixed batch"),),
            field="tank_1",
        )
    clutches = {one for holding in there for one in holding.clutch_ids} | set(coming.clutch_ids)
    return Coming(
        clutch_ids=tuple(sorted(clutches)),
        hatched=_span([*(one.hatched for one in there), coming.hatched]),
        species_key=there[0].species_key if len(unlike) > 1 else coming.species_key,
        protocol=coming.protocol,
        stage=coming.stage,
    )


def _ask_unlike_lines(book: Book, there: Sequence[HoldingFacts], coming: Coming) -> None:
    """Unlike lines look alike once they are in one tank; their young are sold under one name."""
    clutches = {one for holding in there for one in holding.clutch_ids} | set(coming.clutch_ids)
    origins = batch_origin.origins_of(book.session, clutches)
    lines = sorted({one.line for one in origins.values()})
    if len(lines) > 1 and book.answers.get(MIXED_LINES) != "mix":
        named = " and ".join(line or "no line named" for line in lines)
        raise Asked(
            f"These are of different lines: {named}. They cannot be told apart afterwards. "
            "Put them together?",
            MIXED_LINES,
            (("mix", "Yes, put them together"),),
            field="tank_1",
        )


def _move_all(book: Book, out_of: int, into: int, when: When) -> None:
    number = stock_book.stock_of(book, (out_of,)).balance(out_of).now
    stock_book.enter_movement(
        book, out_of=out_of, into=into, number=number, door=Door.MOVED, when=when,
        reason="put together",
    )  # fmt: skip
    stock_book.none_left(book, out_of, when)


def put_together_in(
    book: Book,
    holding_ids: tuple[int, ...],
    tank_id: int,
    when: When,
    *,
    name: str = "",
    note: str = "",
) -> int:
    """Two or more batches as one in a tank. Asks before unlike species and lines are mixed."""
    stock = stock_book.stock_of(book, holding_ids)
    rows = [book.find(Holding, one) for one in holding_ids]
    if len({row.stage for row in rows}) > 1:
        raise RuleBroken("Larvae and settled fish are not put together.", field="batch")
    sources = _sources(book, stock, rows, when)
    mixed = put_together(sources, answers=book.answers)
    strangers = [
        one for one in others_in(book, tank_id) if one.id not in holding_ids
    ]
    if strangers:
        raise RuleBroken(
            f"{strangers[0].full_name} lives there too; name it among those put together.",
            field="tank_1",
        )
    tank_receiving.check(book, tank_id, when)
    into = _one_of_them(stock, holding_ids, tank_id) if mixed.is_one_clutch else None
    if into is not None:
        _take_in_nights(book, into, _span([row.hatched for row in rows]))
    else:
        into = stock_book.begin_holding(
            book, stage=rows[0].stage, tank_id=tank_id, species_key=rows[0].species_key,
            clutch_ids=[one for row in rows for one in row.clutches],
            hatched=_span([row.hatched for row in rows]), protocol=rows[0].protocol, when=when,
            name=name, note=note,
        ).fact  # fmt: skip
    for one in holding_ids:
        if one != into:
            _move_all(book, one, into, when)
    return into


def _one_of_them(stock: Stock, holding_ids: tuple[int, ...], tank_id: int) -> int | None:
    here = [one for one in holding_ids if stock.holding(one).place.tank_id == tank_id]
    return here[0] if here else None


def _sources(book: Book, stock: Stock, rows: Sequence[Holding], when: When) -> list[Source]:
    room = room_now(book.session)
    tonight = night_of(when.latest, room.lights(when.latest), room.room_time)
    clutches = {one for row in rows for one in row.clutches}
    origins = batch_origin.origins_of(book.session, clutches)
    made = []
    for row in rows:
        if stock.is_empty(row.fact):
            raise RuleBroken(f"{stock.holding(row.fact).name} is empty.", field="batch")
        balance = stock.balance(row.fact)
        named = [origins[one] for one in row.clutches if one in origins]
        first, last = row.hatched or (None, None)
        made.append(
            Source(
                batch=row.fact,
                name=stock.holding(row.fact).name,
                clutches=frozenset(row.clutches) or frozenset({-row.fact}),  # its own unknown one
                pairs=tuple(one.pair or one.name for one in named),
                species=species_said(row.species_key),
                line=" / ".join(sorted({one.line for one in named if one.line})),
                youngest_dph=tonight.number(last) if last is not None else 0,
                oldest_dph=tonight.number(first) if first is not None else 0,
                start=balance.start,
                now=balance.now,
                removed=balance.left_alive.best or 0,
            )
        )
    return made
