"""What is done with brine shrimp: a lot entered, cysts started, harvested, enriched, fed, over."""

from collections.abc import Sequence
from datetime import date, timedelta

from sqlalchemy import select

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.live_food.live_food import ML_PER_L
from hatchery_app.domain.live_food.shelf import Stock, StockKind
from hatchery_app.domain.live_food.shrimp_hatch import (
    EndedAs,
    Ripe,
    start_cautions,
    too_soon,
)
from hatchery_app.domain.live_food.slide_count import prey_per_ml
from hatchery_app.domain.when import When
from hatchery_app.models.brine_shrimp import (
    CystLot,
    CystsStarted,
    HatchOver,
    ShrimpEnriched,
    ShrimpFed,
    ShrimpHarvested,
)
from hatchery_app.models.entry import known
from hatchery_app.models.larval_tank import StageMark, StageSeen
from hatchery_app.models.shelf import ShelfItem
from hatchery_app.models.stock_book import Holding
from hatchery_app.services.live_food import live_food_shelf
from hatchery_app.services.recording import Book, use_case

NO_LOT = "That lot does not stand in this room's records."
NO_HATCH = "That hatch does not stand in this room's records."
COLDEST_C, WARMEST_C = 10.0, 45.0
LONGEST_ENRICHMENT_H = 96.0


@use_case
def enter_lot(
    book: Book,
    *,
    name: str,
    when: When,
    came: Stock,
    unit: str = "g",
    grade: str = "",
    hatch_percent: float | None = None,
    nauplii_per_g: float | None = None,
    opened_on: date | None = None,
    best_before_on: date | None = None,
    delivery_days: int | None = None,
    note: str = "",
) -> int:
    """A lot of cysts with its tin on the shelf. Returns the lot.

    Percentage and yield are what its label or a test says; its own hatches then correct them.
    """
    if hatch_percent is not None and not 0 < hatch_percent <= 100:
        raise RuleBroken("Of a hundred cysts 1 to 100 hatch.", field="hatch_percent")
    if nauplii_per_g is not None and not 1_000 <= nauplii_per_g <= 500_000:
        raise RuleBroken(
            "A gram of cysts holds about 330,000: write its nauplii like 230000.",
            field="nauplii_per_g",
        )
    item = live_food_shelf.enter_item(
        book, kind=StockKind.CYSTS, name=name, unit=unit, came=came, when=when,
        opened_on=opened_on, best_before_on=best_before_on, delivery_days=delivery_days,
    )  # fmt: skip
    row = CystLot(
        shelf_id=item.fact, grade=grade.strip()[:60], hatch_percent=hatch_percent,
        nauplii_per_g=nauplii_per_g,
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


@use_case
def start_cysts(
    book: Book,
    *,
    lot_id: int,
    grams: float,
    litres: float,
    temperature_c: float,
    when: When,
    salinity_psu: float | None = None,
    vessel: str = "",
    note: str = "",
) -> int:
    """Cysts put into water. Returns the hatch. What speaks against it is asked about first."""
    if not lot_id:
        raise RuleBroken("Say of which lot; enter one first if there is none.", field="lot_id")
    book.find(CystLot, lot_id, NO_LOT)
    if grams <= 0:
        raise RuleBroken("Say how many grams of cysts.", field="grams")
    if litres <= 0:
        raise RuleBroken("Say in how many litres.", field="litres")
    if not COLDEST_C <= temperature_c <= WARMEST_C:
        raise RuleBroken("Hatching water stands between 10 and 45 °C.", field="temperature")
    if salinity_psu is not None and not 0 < salinity_psu <= 120:
        raise RuleBroken("Cysts hatch in salt water, above 0 and under 120 psu.", field="salinity")
    cautions = start_cautions(grams, litres, temperature_c, salinity_psu)
    if cautions and "cysts_so" not in book.answers:
        raise Asked(
            f"{' '.join(cautions)} Is that so?", question="cysts_so",
            answers=(("so", "It is so"),), field="grams",
        )  # fmt: skip
    row = CystsStarted(
        lot_id=lot_id, grams=grams, litres=litres, temperature_c=temperature_c,
        salinity_psu=salinity_psu, vessel=vessel.strip()[:40],
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


@use_case
def harvest_shrimp(
    book: Book,
    *,
    start_id: int,
    when: When,
    animals: float | None = None,
    counts: Sequence[int] = (),
    sample_ml: float = 1.0,
    dilution: float = 1.0,
    water_l: float | None = None,
    umbrellas: int | None = None,
    embryos: int | None = None,
    ripe: Ripe = Ripe.IN_TIME,
    rinsed: bool = True,
    note: str = "",
) -> int:
    """A hatch harvested, or what is in hand counted again. Returns the entry.

    How many: said, or samples counted × the litres they were taken from. Umbrellas and embryos
    are those of the same samples, and give the hatching percentage.
    """
    start = _begun(book, start_id, when)
    counted = ""
    if counts:
        density = prey_per_ml(counts, sample_ml=sample_ml, dilution=dilution)
        counted = f"{' '.join(str(one) for one in counts)} in {sample_ml:g} mL"
        counted += f", 1:{dilution:g}" if dilution > 1 else ""
        if animals is None and water_l is not None:
            animals = density.per_ml * water_l * ML_PER_L
            counted += f", of {water_l:g} L"
        elif animals is None:
            raise RuleBroken("Say of how many litres these samples are.", field="water_l")
    if (umbrellas is not None or embryos is not None) and not counts:
        raise RuleBroken("Count the nauplii of the same samples too.", field="counts")
    if ripe is Ripe.IN_TIME and not _is_harvested(book, start_id):
        _ask_if_too_soon(book, start, when)
    row = ShrimpHarvested(
        start_id=start_id, animals=animals, counted=counted[:200],
        nauplii=sum(counts) if counts else None,
        umbrellas=umbrellas if umbrellas is not None else (0 if embryos is not None else None),
        embryos=embryos, ripe=ripe, rinsed=rinsed,
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


@use_case
def enrich_shrimp(
    book: Book,
    *,
    start_id: int,
    when: When,
    hours: float,
    shelf_id: int | None = None,
    what: str = "",
    amount: float | None = None,
    litres: float | None = None,
    note: str = "",
) -> int:
    """Shrimp put into enrichment. From then on they are the other food. Returns the entry."""
    _begun(book, start_id, when)
    if not _is_harvested(book, start_id):
        raise RuleBroken("Harvest it first; enrichment begins with what was harvested.")
    if not 0 < hours <= LONGEST_ENRICHMENT_H:
        raise RuleBroken("Enrichment takes hours, 12 or 24 as a rule.", field="hours")
    if shelf_id is not None:
        what = what or book.find(ShelfItem, shelf_id, live_food_shelf.NOT_HERE).name
    row = ShrimpEnriched(
        start_id=start_id, shelf_id=shelf_id, what=what.strip()[:80], amount=amount, hours=hours,
        litres=litres,
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


@use_case
def feed_shrimp(
    book: Book,
    *,
    start_id: int,
    when: When,
    animals: float | None = None,
    into: str = "",
    holding_id: int | None = None,
    rinsed: bool = True,
    last_of_it: bool = False,
    note: str = "",
) -> int:
    """Shrimp fed out or moved, the last of them or not. Returns the entry.

    `holding_id`: the larvae they were fed to; their first brine shrimp is marked with it.
    """
    _begun(book, start_id, when)
    if holding_id is not None:
        _mark_first_shrimp(book, holding_id, when)
    row = ShrimpFed(start_id=start_id, animals=animals, into=into.strip()[:120], rinsed=rinsed)
    fact_id = book.enter(row, when=when, note=note).fact
    if last_of_it:
        book.enter(HatchOver(start_id=start_id, ended_as=EndedAs.USED_UP, reason=""), when=when)
    return fact_id


@use_case
def end_hatch(
    book: Book, *, start_id: int, ended_as: EndedAs, when: When, reason: str = "", note: str = ""
) -> int:
    """A hatch is over: used up, failed or poured away. Returns the entry."""
    _begun(book, start_id, when)
    row = HatchOver(start_id=start_id, ended_as=ended_as, reason=reason.strip()[:200])
    return book.enter(row, when=when, note=note).fact


def _mark_first_shrimp(book: Book, holding_id: int, when: When) -> None:
    """The first time a batch gets brine shrimp is a mark of its life; later ones are not."""
    book.find(Holding, holding_id, "That batch does not stand in this room's records.")
    marked = book.session.scalars(
        select(StageSeen.seq)
        .where(
            known(), StageSeen.holding_id == holding_id,
            StageSeen.mark == StageMark.FIRST_SHRIMP,
        )
        .limit(1)
    ).first()  # fmt: skip
    if marked is None:
        mark = StageSeen(holding_id=holding_id, mark=StageMark.FIRST_SHRIMP)
        book.enter(mark, when=when, note="with the feeding")


def _ask_if_too_soon(book: Book, start: CystsStarted, when: When) -> None:
    """A lot learns its hours from harvests in time: one minutes after the start is asked about."""
    hours = (when.latest - start.happened_earliest) / timedelta(hours=1)
    usual = too_soon(hours, start.temperature_c)
    if usual is not None and "so_soon" not in book.answers:
        raise Asked(
            f"That is {hours:.0f} h after the cysts were wetted; at {start.temperature_c:g} °C they"
            f" take about {usual:.0f} h. Were they in time?", question="so_soon",
            answers=(("so", "In time"),), field="ripe",
        )  # fmt: skip


def _is_harvested(book: Book, start_id: int) -> bool:
    harvested = select(ShrimpHarvested.seq).where(known(), ShrimpHarvested.start_id == start_id)
    return book.session.scalars(harvested.limit(1)).first() is not None


def _begun(book: Book, start_id: int, when: When) -> CystsStarted:
    start = book.find(CystsStarted, start_id, NO_HATCH)
    if when.latest < start.happened_earliest:
        raise RuleBroken("That is before the cysts were started.", field="at_on")
    over = book.session.scalars(
        select(HatchOver.seq).where(known(), HatchOver.start_id == start_id).limit(1)
    ).first()
    if over is not None:
        raise RuleBroken("This hatch is over. Take its end back first.")
    return start
